"""What the command and the Python package offer: the catalogue joined with the computing layers.

Each verb is a thin function that returns a small typed record with ``to_json()``. Nothing is imported until it is
used, as DuckDB, Arrow and SciPy cost up to a second.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from specdb.verbs.changing import add_row, decide, move_stock, retire, set_fields, set_supply
    from specdb.verbs.clubs import ClubRequest
    from specdb.verbs.demonstration import demo
    from specdb.verbs.details import details_of
    from specdb.verbs.fitup import fitup_of
    from specdb.verbs.holdings import shelf
    from specdb.verbs.journal import history, undo
    from specdb.verbs.looking import list_rows
    from specdb.verbs.mechanics import mechanics_of
    from specdb.verbs.opening import create, open  # noqa: A004 (read as ``specdb.open``)
    from specdb.verbs.substitutes import SearchOptions, substitutes_of

VERBS = {
    "ClubRequest": "clubs",
    "SearchOptions": "substitutes",
    "add_row": "changing",
    "create": "opening",
    "decide": "changing",
    "demo": "demonstration",
    "details_of": "details",
    "fitup_of": "fitup",
    "history": "journal",
    "list_rows": "looking",
    "mechanics_of": "mechanics",
    "move_stock": "changing",
    "open": "opening",
    "retire": "changing",
    "set_fields": "changing",
    "set_supply": "changing",
    "shelf": "holdings",
    "substitutes_of": "substitutes",
    "undo": "journal",
}

__all__ = [
    "ClubRequest",
    "SearchOptions",
    "add_row",
    "create",
    "decide",
    "demo",
    "details_of",
    "fitup_of",
    "history",
    "list_rows",
    "mechanics_of",
    "move_stock",
    "open",
    "retire",
    "set_fields",
    "set_supply",
    "shelf",
    "substitutes_of",
    "undo",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401 (any of the verbs)
    module = VERBS.get(name)
    if module is None:
        raise AttributeError(f"module 'specdb.verbs' has no attribute '{name}'")
    return getattr(import_module(f"specdb.verbs.{module}"), name)
