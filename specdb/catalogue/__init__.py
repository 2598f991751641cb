"""The catalogue: one DuckDB file with every kind of part, readings, stock, clubs and the journal of changes."""

from specdb.catalogue.reader import Reader
from specdb.catalogue.store import Catalogue
from specdb.catalogue.writer import Writer

__all__ = ["Catalogue", "Reader", "Writer"]
