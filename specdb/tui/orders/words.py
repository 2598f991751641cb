"""What the place Orders says of one order: what it waits for, its clubs and parts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from specdb.tui.widgets.days import short_day, too_late, wanted_words
from specdb.tui.widgets.prose import Line, heading, sentence
from specdb.units.writing import as_sentence, begun

if TYPE_CHECKING:
    from specdb.orders.availability import NeedState, OrderView, UnitView
    from specdb.verbs.orders.waits import Wait

_KIND, _MARK = 9, 2


def order_lines(view: OrderView, waits: Sequence[Wait], today: dt.date, width: int) -> list[Line]:
    """Everything about one order.

    Parameters
    ----------
    view : OrderView
        The order.
    waits : sequence of Wait
        What it waits for.
    today : date
        The day it is now.
    width : int
        Columns there are.
    """
    order = view.order
    state = order.state.replace("_", " ")
    lines: list[Line] = [((f"{order.id}  ", "head"), (", ".join(t for t in (order.customer, state) if t), "strong"))]
    wanted = wanted_words(order.wanted_on, today, open_=view.active)
    late = view.active and order.wanted_on is not None and order.wanted_on < today
    said = "no day is wanted" if order.wanted_on is None else f"wanted {wanted}"
    clubs = "1 club" if len(view.units) == 1 else f"{len(view.units)} clubs"
    stands = f"; {counts(view)}" if view.active and view.states else ""
    lines += sentence(f"{begun(said)}; {clubs}{stands}.", width, part="bad" if late else "plain")
    if order.notes:
        lines += sentence(order.notes, width, before=(("Note: ", "quiet"),), hanging=2)
    for text in (*view.problems, *view.said):
        lines += sentence(as_sentence(text), width, before=(("! ", "bad"),), part="strong")
    if waits:
        lines += heading("What it waits for")
        for wait in waits:
            lines += wait_lines(wait, order.wanted_on, today, width)
    for unit in view.units:
        lines += _unit_lines(unit, today, width)
    return lines


def counts(view: OrderView) -> str:
    """How many parts of an order stand how: ``8 parts: 6 on the shelf, 2 short``.

    Parameters
    ----------
    view : OrderView
        The order.
    """
    booked = [s for s in view.states if s.booked]
    found = {
        "built in": sum(s.used for s in booked),
        "kept": sum(s.reserved for s in booked),
        "on the shelf": sum(s.in_turn for s in booked),
        "short": sum(s.waiting for s in booked),
    }
    total = sum(s.need.quantity for s in booked)
    words = [f"{n} {word}" for word, n in found.items() if n]
    if len(words) == 1 and next(n for n in found.values() if n) == total:
        return f"{total} parts, all {words[0].partition(' ')[2]}"
    return f"{total} parts: {', '.join(words)}"


def wait_lines(wait: Wait, wanted: dt.date | None, today: dt.date, width: int) -> list[Line]:
    """A part that is short: for which clubs, when it comes, who has it or wants it sooner.

    Parameters
    ----------
    wait : Wait
        The part.
    wanted : date or None
        Day the order is wanted.
    today : date
        The day it is now.
    width : int
        Columns there are.
    """
    clubs = ", ".join(wait.clubs)
    lines = sentence(
        f"{wait.kind} {wait.item_id} for {clubs}", width, before=((f"{wait.short} short  ", "bad"),), hanging=4
    )
    return lines + sentence("; ".join(wait_words(wait, wanted, today)) + ".", width, before=(("    ", "plain"),))


def wait_words(wait: Wait, wanted: dt.date | None, today: dt.date) -> list[str]:
    """When a short part comes, and who has it, in words.

    Parameters
    ----------
    wait : Wait
        The part.
    wanted : date or None
        Day the order is wanted.
    today : date
        The day it is now.
    """
    words = ["kept for this order, but not there"] if wait.gone else []
    for day, pieces in wait.expected:
        if day is None:
            words.append(f"{pieces} on order, no day known")
        elif day < today:
            words.append(f"{pieces} should have come on {short_day(day, today)}")
        else:
            words.append(f"{pieces} expected {short_day(day, today)}")
    if not wait.expected:
        words.append("no longer offered, none on order" if wait.retired else "none on order")
    late = too_late(wait.comes_on, wanted) if wait.comes_on is not None else ""
    if late:
        words.append(f"for this order {late}")
    if wait.kept_for:
        words.append(f"kept for {counted_orders(wait.kept_for)}")
    if wait.sooner:
        words.append(f"wanted sooner by {counted_orders(wait.sooner)}")
    return words


def counted_orders(some: Sequence[tuple[str, int]], most: int = 6) -> str:
    """Orders with their pieces: ``o-1040, o-1041 (2)``.

    Parameters
    ----------
    some : sequence of (str, int)
        Orders and pieces.
    most : int
        How many are named.
    """
    named = [order if n == 1 else f"{order} ({n})" for order, n in some[:most]]
    more = len(some) - most
    return ", ".join(named) + (f" and {more} more" if more > 0 else "")


def _unit_lines(unit: UnitView, today: dt.date, width: int) -> list[Line]:
    number = f", no {unit.key.unit}" if unit.key.unit > 1 else ""
    title = f"{unit.club.id} (line {unit.key.line}{number})"
    lines: list[Line] = [
        (("", "plain"),),
        ((title, "head"), (f"  {unit.club.label or ''}"[: width - len(title)], "quiet")),
    ]
    room = max((len(s.need.item_id) for s in unit.states), default=0)
    room = min(room, max(width - _KIND - _MARK - 22, 20))
    for state in unit.states:
        words, part = part_words(state, today)
        item = state.need.item_id
        mark = "! " if state.waiting else "  "
        if state.need.kind == "shaft" and unit.stand_in:
            words += f"; stands in for {unit.club.shaft_id}"
        named = f"{state.need.kind:<{_KIND}}{item:<{room}}"
        lines += sentence(
            words, width, before=((mark, part), (f"{named}  ", "plain")), part=part, hanging=_MARK + _KIND
        )
    return lines


def part_words(state: NeedState, today: dt.date) -> tuple[str, str]:
    """How one part of one club stands, in words, and the part they play.

    Parameters
    ----------
    state : NeedState
        The part.
    today : date
        The day it is now.
    """
    if not state.booked:
        return "not counted here", "quiet"
    if state.waiting:
        short = "kept but not there" if state.gone else "short"
        if state.expected_on is None:
            return f"{short}, no day known", "bad"
        day = short_day(state.expected_on, today)
        return (f"{short}, was due {day}" if state.expected_on < today else f"{short}, expected {day}"), "bad"
    if state.used >= state.need.quantity:
        return "built in", "good"
    if state.reserved:
        return "kept", "good"
    return ("on the shelf", "plain") if state.in_turn else ("not needed any more", "quiet")
