"""What the command and the Python package offer: the catalogue joined with the computing layers.

Each verb is a thin function that returns a small typed record with ``to_json()``. Nothing is imported until it is
used, as DuckDB, Arrow and SciPy cost up to a second.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from specdb.verbs.building.as_built import Finished, built_answer
    from specdb.verbs.building.build_sheet import SheetRequest, club_sheet, order_sheets, set_sheet
    from specdb.verbs.building.built_bias import bias
    from specdb.verbs.building.finished_clubs import Measured, RawReadings, keep_built
    from specdb.verbs.catalogue.changing import add_row, decide, move_stock, retire, set_fields, set_supply
    from specdb.verbs.catalogue.demonstration import demo
    from specdb.verbs.catalogue.details import details_of
    from specdb.verbs.catalogue.holdings import shelf
    from specdb.verbs.catalogue.journal import history, undo
    from specdb.verbs.catalogue.looking import list_rows
    from specdb.verbs.catalogue.opening import create, open  # noqa: A004 (read as ``specdb.open``)
    from specdb.verbs.clubs.clubs import ClubRequest
    from specdb.verbs.clubs.fitup import fitup_of
    from specdb.verbs.clubs.mechanics import mechanics_of
    from specdb.verbs.matching.heads import HeadOptions, heads_of
    from specdb.verbs.matching.substitutes import SearchOptions, substitutes_of
    from specdb.verbs.orders.allocation import AllocationOptions, plan_orders, reserve_plan
    from specdb.verbs.orders.changes import add_order, set_order_state
    from specdb.verbs.orders.checks import Wanted
    from specdb.verbs.orders.flat_list import import_orders
    from specdb.verbs.orders.orders import order_of, orders_of, parts_of
    from specdb.verbs.orders.parts import Which, release_parts, reserve_parts, spoil_parts, use_parts
    from specdb.verbs.reports.built import errors_report, stand_in_report
    from specdb.verbs.reports.html import report_page
    from specdb.verbs.reports.reorder import reorder_report
    from specdb.verbs.reports.reports import open_report, shortage_report
    from specdb.verbs.sets.decisions import choose_model, reject_model
    from specdb.verbs.sets.lists import assign_set, fitted_sets
    from specdb.verbs.sets.sets import set_mechanics_of
    from specdb.verbs.sets.substitutes import set_substitutes_of

VERBS = {
    "AllocationOptions": "orders.allocation",
    "ClubRequest": "clubs.clubs",
    "Finished": "building.as_built",
    "HeadOptions": "matching.heads",
    "Measured": "building.finished_clubs",
    "RawReadings": "building.finished_clubs",
    "SearchOptions": "matching.substitutes",
    "SheetRequest": "building.build_sheet",
    "Wanted": "orders.checks",
    "Which": "orders.parts",
    "add_order": "orders.changes",
    "add_row": "catalogue.changing",
    "assign_set": "sets.lists",
    "bias": "building.built_bias",
    "built_answer": "building.as_built",
    "choose_model": "sets.decisions",
    "club_sheet": "building.build_sheet",
    "create": "catalogue.opening",
    "decide": "catalogue.changing",
    "demo": "catalogue.demonstration",
    "details_of": "catalogue.details",
    "errors_report": "reports.built",
    "fitted_sets": "sets.lists",
    "fitup_of": "clubs.fitup",
    "heads_of": "matching.heads",
    "history": "catalogue.journal",
    "import_orders": "orders.flat_list",
    "keep_built": "building.finished_clubs",
    "list_rows": "catalogue.looking",
    "mechanics_of": "clubs.mechanics",
    "move_stock": "catalogue.changing",
    "open": "catalogue.opening",
    "open_report": "reports.reports",
    "order_of": "orders.orders",
    "order_sheets": "building.build_sheet",
    "orders_of": "orders.orders",
    "parts_of": "orders.orders",
    "plan_orders": "orders.allocation",
    "reject_model": "sets.decisions",
    "release_parts": "orders.parts",
    "reorder_report": "reports.reorder",
    "report_page": "reports.html",
    "reserve_parts": "orders.parts",
    "reserve_plan": "orders.allocation",
    "retire": "catalogue.changing",
    "set_fields": "catalogue.changing",
    "set_mechanics_of": "sets.sets",
    "set_order_state": "orders.changes",
    "set_sheet": "building.build_sheet",
    "set_substitutes_of": "sets.substitutes",
    "set_supply": "catalogue.changing",
    "shelf": "catalogue.holdings",
    "shortage_report": "reports.reports",
    "spoil_parts": "orders.parts",
    "stand_in_report": "reports.built",
    "substitutes_of": "matching.substitutes",
    "undo": "catalogue.journal",
    "use_parts": "orders.parts",
}

__all__ = [
    "AllocationOptions",
    "ClubRequest",
    "Finished",
    "HeadOptions",
    "Measured",
    "RawReadings",
    "SearchOptions",
    "SheetRequest",
    "Wanted",
    "Which",
    "add_order",
    "add_row",
    "assign_set",
    "bias",
    "built_answer",
    "choose_model",
    "club_sheet",
    "create",
    "decide",
    "demo",
    "details_of",
    "errors_report",
    "fitted_sets",
    "fitup_of",
    "heads_of",
    "history",
    "import_orders",
    "keep_built",
    "list_rows",
    "mechanics_of",
    "move_stock",
    "open",
    "open_report",
    "order_of",
    "order_sheets",
    "orders_of",
    "parts_of",
    "plan_orders",
    "reject_model",
    "release_parts",
    "reorder_report",
    "report_page",
    "reserve_parts",
    "reserve_plan",
    "retire",
    "set_fields",
    "set_mechanics_of",
    "set_order_state",
    "set_sheet",
    "set_substitutes_of",
    "set_supply",
    "shelf",
    "shortage_report",
    "spoil_parts",
    "stand_in_report",
    "substitutes_of",
    "undo",
    "use_parts",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401 (any of the verbs)
    module = VERBS.get(name)
    if module is None:
        raise AttributeError(f"module 'specdb.verbs' has no attribute '{name}'")
    return getattr(import_module(f"specdb.verbs.{module}"), name)
