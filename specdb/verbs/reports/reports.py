"""Reports on open orders: what is open, and what is short and holds which of them up."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from specdb.catalogue import Catalogue
from specdb.orders.availability import NeedState, OrderView, views
from specdb.orders.needs import PIECES, Part
from specdb.verbs.orders.changes import today as shop_day
from specdb.verbs.orders.orders import orders_of, read_book
from specdb.verbs.reports.types import Report, ReportColumn

__all__ = ["OpenLine", "ShortageLine", "open_report", "shortage_report"]


@dataclass(frozen=True, slots=True)
class OpenLine:
    """An open order.

    Attributes
    ----------
    order_id, customer, state : str
        The order.
    wanted_on, expected_on : date or None
        Day it is wanted, and day the last missing part is expected.
    days_left, late_days : int or None
        Days until it is wanted, and by how many the last part comes too late.
    clubs, parts, used, kept, on_shelf, short : int
        Clubs, and pieces: in all, built in, kept, on the shelf in turn, and missing.
    ready : bool
        Whether all of it can be built today, in turn.
    problems : tuple of str
        What stands against building it.
    """

    order_id: str
    customer: str | None
    state: str
    wanted_on: dt.date | None
    days_left: int | None
    clubs: int
    parts: int
    used: int
    kept: int
    on_shelf: int
    short: int
    ready: bool
    expected_on: dt.date | None
    late_days: int | None
    problems: tuple[str, ...]


def open_report(catalogue: Catalogue, *, day: dt.date | None = None) -> Report:
    """Orders that are not finished, the one wanted first at the top.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    day : date or None
        The day it is of; today where None.
    """
    on = day or shop_day()
    lines = tuple(_open_line(view, on) for view in orders_of(catalogue))
    ready, late = sum(line.ready for line in lines), sum((line.late_days or 0) > 0 for line in lines)
    overdue = sum((line.days_left or 0) < 0 for line in lines)
    said = [
        "On the shelf, short and expected are told in turn: what orders wanted earlier need is taken to be theirs.",
        f"{len(lines)} open: {ready} can be built today, {late} wait for a part that comes late, {overdue} overdue.",
    ]
    columns = (
        ReportColumn("order_id", "order", keep=True),
        ReportColumn("state", "state", keep=True),
        ReportColumn("wanted_on", "wanted", keep=True),
        ReportColumn("days_left", "days left", number=True),
        ReportColumn("clubs", "clubs", number=True, keep=True),
        ReportColumn("parts", "parts", number=True),
        ReportColumn("used", "used", number=True),
        ReportColumn("kept", "kept", number=True),
        ReportColumn("on_shelf", "on the shelf", number=True),
        ReportColumn("short", "short", number=True, keep=True),
        ReportColumn("ready", "ready"),
        ReportColumn("expected_on", "expected"),
        ReportColumn("late_days", "days late", number=True),
        ReportColumn("customer", "customer", wraps=True),
        ReportColumn("problems", "problems", wraps=True),
    )
    return Report("open", "Open orders", on, columns, lines, tuple(said), "No order is open.")


def _open_line(view: OrderView, on: dt.date) -> OpenLine:
    order, states, expected = view.order, view.states, view.expected_on
    late = None if expected is None or order.wanted_on is None else max((expected - order.wanted_on).days, 0)
    return OpenLine(
        order_id=order.id,
        customer=order.customer,
        state=order.state,
        wanted_on=order.wanted_on,
        days_left=None if order.wanted_on is None else (order.wanted_on - on).days,
        clubs=len(view.units),
        parts=sum(s.need.quantity for s in states),
        used=sum(s.used for s in states),
        kept=sum(s.reserved for s in states),
        on_shelf=sum(s.in_turn for s in states),
        short=sum(s.waiting for s in states),
        ready=view.buildable_now and not view.problems,
        expected_on=expected,
        late_days=late,
        problems=view.problems,
    )


@dataclass(frozen=True, slots=True)
class ShortageLine:
    """A part that open orders wait for.

    Attributes
    ----------
    kind, item_id : str
        The part.
    short : int
        Pieces that the shelf does not give.
    on_hand, held, ordered : int
        Pieces there are, of them kept for orders, and on order.
    first_on, covered_on : date or None
        When the first of them are expected, and when all that are short; None where nobody knows.
    retired : bool
        Whether it is no longer offered.
    orders : tuple of str
        Orders that it holds up, with the day they are wanted.
    clubs : tuple of str
        Clubs that it goes into.
    """

    kind: str
    item_id: str
    short: int
    on_hand: int
    held: int
    ordered: int
    first_on: dt.date | None
    covered_on: dt.date | None
    retired: bool
    orders: tuple[str, ...]
    clubs: tuple[str, ...]


def shortage_report(catalogue: Catalogue, *, day: dt.date | None = None) -> Report:
    """Parts that open orders wait for, with the orders each holds up; the one that holds up most first.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    day : date or None
        The day it is of; today where None.
    """
    on = day or shop_day()
    with catalogue.read() as reader:
        book = read_book(reader)
        found = views(book)
        beyond = reader.beyond_stock()
    waiting: dict[Part, list[tuple[OrderView, NeedState]]] = {}
    for view in found:
        for state in view.states:
            if state.waiting:
                waiting.setdefault(state.need.part, []).append((view, state))
    lines = []
    for (kind, item), some in waiting.items():
        part, arrivals = (kind, item), book.shelf.arrivals.get((kind, item), ())
        days = [state.expected_on for _, state in some]
        known = [d for d in days if d is not None]
        orders = {view.order.id: view.order.wanted_on for view, _ in some}
        lines.append(
            ShortageLine(
                kind=kind,
                item_id=item,
                short=sum(state.waiting for _, state in some),
                on_hand=book.shelf.on_hand.get(part, 0),
                held=book.shelf.held.get(part, 0),
                ordered=sum(a.pieces for a in arrivals),
                first_on=next((a.day for a in arrivals if a.day is not None), None),
                covered_on=max(known) if len(known) == len(days) else None,
                retired=part in book.shelf.retired,
                orders=tuple(f"{key} ({wanted.isoformat()})" if wanted else key for key, wanted in orders.items()),
                clubs=tuple(dict.fromkeys(state.unit.club_id for _, state in some)),
            )
        )
    lines.sort(key=lambda line: (-len(line.orders), -line.short, PIECES.index(line.kind), line.item_id))
    held_up = {view.order.id for some in waiting.values() for view, _ in some}
    parts = "1 part holds" if len(lines) == 1 else f"{len(lines)} parts hold"
    said = [f"{parts} {len(held_up)} order{'s' if len(held_up) != 1 else ''} up."]
    said += [f"Mind: {b.message}." for b in beyond]
    overdue = [f"{line.kind} {line.item_id}" for line in lines if line.first_on is not None and line.first_on < on]
    if overdue:
        said.append(f"Should have come by now: {', '.join(overdue)}; ask the supplier ('specdb supply set').")
    columns = (
        ReportColumn("kind", "part", keep=True),
        ReportColumn("item_id", "id", keep=True),
        ReportColumn("short", "short", number=True, keep=True),
        ReportColumn("on_hand", "on hand", number=True),
        ReportColumn("held", "kept", number=True),
        ReportColumn("ordered", "on order", number=True),
        ReportColumn("first_on", "first expected"),
        ReportColumn("covered_on", "all expected"),
        ReportColumn("orders", "holds up", wraps=True, keep=True),
        ReportColumn("retired", "retired"),
        ReportColumn("clubs", "for", wraps=True),
    )
    text = "No open order waits for a part."
    return Report("shortages", "Shortages by part", on, columns, tuple(lines), tuple(said) if lines else (), text)
