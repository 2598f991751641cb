"""Fitted sets: their mechanics as a whole, models that can supply all their shafts, and heads that can stand in."""

from specdb.sets.head_search import find_heads
from specdb.sets.mechanics import set_numbers
from specdb.sets.members import SetMember
from specdb.sets.search import find_set_substitutes

__all__ = ["SetMember", "find_heads", "find_set_substitutes", "set_numbers"]
