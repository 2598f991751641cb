"""The catalogue: one DuckDB file with every kind of part, readings, stock, clubs and the journal of changes."""

from specdb.catalogue.store import Catalogue, Reader, Writer

__all__ = ["Catalogue", "Reader", "Writer"]
