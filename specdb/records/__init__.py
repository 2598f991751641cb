"""Typed records, one class a table, made from ``data_schema/`` by ``python -m specdb.records.generate``."""
