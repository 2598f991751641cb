"""What the place Orders says: an order with its clubs and parts, the plan of all orders."""

from __future__ import annotations

from typing import TYPE_CHECKING

from specdb.tui.columns import ColumnSpec
from specdb.tui.prose import Line, heading, sentence

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.orders.availability import NeedState, OrderView
    from specdb.verbs.allocation import AllocationAnswer

_BREADTH = 34


def orders_table(views: list[OrderView]) -> tuple[pa.Table, list[ColumnSpec]]:
    """Orders as rows: wanted first.

    Parameters
    ----------
    views : list of OrderView
        The orders.
    """
    import pyarrow as pa

    columns = {
        "id": [v.order.id for v in views],
        "customer": [v.order.customer or "" for v in views],
        "wanted": ["" if v.order.wanted_on is None else v.order.wanted_on.isoformat() for v in views],
        "state": [v.order.state.replace("_", " ") for v in views],
        "clubs": [str(len(v.units)) for v in views],
        "stand": [standing(v) for v in views],
    }
    specs = [
        ColumnSpec("id", "order"),
        ColumnSpec("wanted", "wanted on"),
        ColumnSpec("state", "state"),
        ColumnSpec("clubs", "clubs", right=True),
        ColumnSpec("stand", "parts"),
        ColumnSpec("customer", "for", width=_BREADTH),
    ]
    return pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()}), specs


def standing(view: OrderView) -> str:
    """How the parts of an order stand, in a few words.

    Parameters
    ----------
    view : OrderView
        The order.
    """
    if not view.active:
        return "-"
    if view.problems:
        return "see what is wrong"
    if not view.states:
        return "no parts"
    if all(s.open == 0 for s in view.states):
        return "all kept"
    if view.buildable_now:
        return "all there"
    if view.expected_on is not None:
        return f"all by {view.expected_on.isoformat()}"
    return f"{sum(s.waiting for s in view.states)} short"


def order_lines(view: OrderView, width: int) -> list[Line]:
    """Everything about one order.

    Parameters
    ----------
    view : OrderView
        The order.
    width : int
        Columns there are.
    """
    order = view.order
    named = ", ".join(t for t in (order.customer, order.state.replace("_", " ")) if t)
    lines: list[Line] = [((f"{order.id}  ", "head"), (named, "strong"))]
    if order.wanted_on is not None:
        lines += sentence(f"wanted on {order.wanted_on.isoformat()}; parts: {standing(view)}", width)
    for text in (*view.problems, *view.said):
        lines += sentence(text, width, before=(("! ", "bad"),), part="strong")
    for unit in view.units:
        with_it = f" with {unit.stand_in} for {unit.club.shaft_id}" if unit.stand_in else f" with {unit.club.shaft_id}"
        lines += heading(f"{unit.club.id}, line {unit.key.line}, no {unit.key.unit}")
        lines += sentence(f"{unit.club.label or unit.club.id}{with_it}", width, part="quiet")
        for state in unit.states:
            lines += sentence(f"{state.need.kind} {state.need.item_id}: {_part_words(state)}", width, hanging=2)
    return lines


def _part_words(state: NeedState) -> str:
    if not state.booked:
        return "no stock is booked of this kind"
    words = []
    if state.used:
        words.append("built in")
    if state.reserved:
        words.append("kept")
    if state.in_turn:
        words.append("on the shelf")
    if state.waiting:
        day = f", expected {state.expected_on.isoformat()}" if state.expected_on else ", no day known"
        ahead = f" ({state.ahead} wanted by earlier orders)" if state.ahead else ""
        words.append(f"SHORT {state.waiting}{day}{ahead}")
    return ", ".join(words) or "not needed any more"


def plan_lines(answer: AllocationAnswer, width: int) -> list[Line]:
    """The plan of all open orders.

    Parameters
    ----------
    answer : AllocationAnswer
        The plan.
    width : int
        Columns there are.
    """
    plan = answer.plan
    lines: list[Line] = [((f"{plan.built} of {len(plan.orders)} open orders can be built in full", "strong"),)]
    for planned in plan.orders:
        if planned.day is None:
            lines += sentence(f"{planned.order_id}: {'; '.join(planned.reasons)}", width, before=(("short  ", "bad"),))
            continue
        when = "today" if planned.day == answer.today else planned.day.isoformat()
        named = [(u.model or u.option.shaft_id, u.option.standing) for u in planned.units]
        own = dict.fromkeys((name, standing) for name, standing in named if standing != "fitted")
        with_it = (
            ", ".join(n + (" (to approve)" if standing == "proposed" else "") for n, standing in own) or "as fitted"
        )
        late = f", {planned.days_late} days late" if planned.days_late else ""
        waits = f"; {'; '.join(planned.reasons)}" if planned.reasons else ""
        lines += sentence(f"{planned.order_id}: {with_it}{late}{waits}", width, before=((f"{when}  ", "good"),))
    proof = "proved best" if plan.proved else f"within {100.0 * plan.gap:.1f} % of the best"
    lines += sentence(
        f"The plan is {proof}; a person approves each stand-in: c on a club in Stand-ins.", width, part="quiet"
    )
    for text in answer.not_compared:
        lines += sentence(f"Not compared: {text}", width, part="quiet")
    return lines
