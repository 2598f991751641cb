"""Shaft and head specification database with a matching engine.

The verbs of the command are here too, loaded when they are used::

    import specdb

    shop = specdb.open("shop.duckdb")
    answer = specdb.substitutes_of(shop, specdb.ClubRequest(club="fitted-driver"))
    print(answer.report.results[0].summary)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from specdb.verbs import (
        AllocationOptions,
        ClubRequest,
        Finished,
        HeadOptions,
        Measured,
        RawReadings,
        SearchOptions,
        SheetRequest,
        Wanted,
        Which,
        add_order,
        add_row,
        assign_set,
        bias,
        built_answer,
        choose_model,
        club_sheet,
        create,
        decide,
        demo,
        details_of,
        errors_report,
        fitted_sets,
        fitup_of,
        heads_of,
        history,
        import_orders,
        keep_built,
        list_rows,
        mechanics_of,
        move_stock,
        open,  # noqa: A004 (read as ``specdb.open``)
        open_report,
        order_of,
        order_sheets,
        orders_of,
        parts_of,
        plan_orders,
        reject_model,
        release_parts,
        reorder_report,
        report_page,
        reserve_parts,
        reserve_plan,
        retire,
        set_fields,
        set_mechanics_of,
        set_order_state,
        set_sheet,
        set_substitutes_of,
        set_supply,
        shelf,
        shortage_report,
        spoil_parts,
        stand_in_report,
        substitutes_of,
        undo,
        use_parts,
    )

__version__ = "0.1.0"

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
    "__version__",
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
    if name not in __all__:
        raise AttributeError(f"module 'specdb' has no attribute '{name}'")
    from specdb import verbs

    return getattr(verbs, name)
