"""The description of every table, read from ``data_schema/``; there is no second list of fields."""

from specdb.schema.model import Field, Reference, Schema, Table, load_schema

__all__ = ["Field", "Reference", "Schema", "Table", "load_schema"]
