"""What the command and the Python package offer: the catalogue joined with the computing layers.

Each verb is a thin function that returns a small typed record with ``to_json()``. Nothing is imported until it is
used, as DuckDB, Arrow and SciPy cost up to a second.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from specdb.verbs.allocation import AllocationOptions, plan_orders, reserve_plan
    from specdb.verbs.as_built import Finished, built_answer
    from specdb.verbs.build_sheet import SheetRequest, club_sheet, order_sheets, set_sheet
    from specdb.verbs.built_bias import bias
    from specdb.verbs.changing import add_row, decide, move_stock, retire, set_fields, set_supply
    from specdb.verbs.clubs import ClubRequest
    from specdb.verbs.demonstration import demo
    from specdb.verbs.details import details_of
    from specdb.verbs.finished_clubs import Measured, RawReadings, keep_built
    from specdb.verbs.fitup import fitup_of
    from specdb.verbs.heads import HeadOptions, heads_of
    from specdb.verbs.holdings import shelf
    from specdb.verbs.journal import history, undo
    from specdb.verbs.looking import list_rows
    from specdb.verbs.mechanics import mechanics_of
    from specdb.verbs.opening import create, open  # noqa: A004 (read as ``specdb.open``)
    from specdb.verbs.order_changes import add_order, set_order_state
    from specdb.verbs.order_checks import Wanted
    from specdb.verbs.order_list import import_orders
    from specdb.verbs.order_parts import Which, release_parts, reserve_parts, spoil_parts, use_parts
    from specdb.verbs.orders import order_of, orders_of, parts_of
    from specdb.verbs.reorder import reorder_report
    from specdb.verbs.report_html import report_page
    from specdb.verbs.reports import open_report, shortage_report
    from specdb.verbs.reports_built import errors_report, stand_in_report
    from specdb.verbs.set_decisions import choose_model, reject_model
    from specdb.verbs.set_lists import assign_set, fitted_sets
    from specdb.verbs.set_substitutes import set_substitutes_of
    from specdb.verbs.sets import set_mechanics_of
    from specdb.verbs.substitutes import SearchOptions, substitutes_of

VERBS = {
    "AllocationOptions": "allocation",
    "ClubRequest": "clubs",
    "Finished": "as_built",
    "HeadOptions": "heads",
    "Measured": "finished_clubs",
    "RawReadings": "finished_clubs",
    "SearchOptions": "substitutes",
    "SheetRequest": "build_sheet",
    "Wanted": "order_checks",
    "Which": "order_parts",
    "add_order": "order_changes",
    "add_row": "changing",
    "assign_set": "set_lists",
    "bias": "built_bias",
    "built_answer": "as_built",
    "choose_model": "set_decisions",
    "club_sheet": "build_sheet",
    "create": "opening",
    "decide": "changing",
    "demo": "demonstration",
    "details_of": "details",
    "errors_report": "reports_built",
    "fitted_sets": "set_lists",
    "fitup_of": "fitup",
    "heads_of": "heads",
    "history": "journal",
    "import_orders": "order_list",
    "keep_built": "finished_clubs",
    "list_rows": "looking",
    "mechanics_of": "mechanics",
    "move_stock": "changing",
    "open": "opening",
    "open_report": "reports",
    "order_of": "orders",
    "order_sheets": "build_sheet",
    "orders_of": "orders",
    "parts_of": "orders",
    "plan_orders": "allocation",
    "reject_model": "set_decisions",
    "release_parts": "order_parts",
    "reorder_report": "reorder",
    "report_page": "report_html",
    "reserve_parts": "order_parts",
    "reserve_plan": "allocation",
    "retire": "changing",
    "set_fields": "changing",
    "set_mechanics_of": "sets",
    "set_order_state": "order_changes",
    "set_sheet": "build_sheet",
    "set_substitutes_of": "set_substitutes",
    "set_supply": "changing",
    "shelf": "holdings",
    "shortage_report": "reports",
    "spoil_parts": "order_parts",
    "stand_in_report": "reports_built",
    "substitutes_of": "substitutes",
    "undo": "journal",
    "use_parts": "order_parts",
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
