"""What orders wait for: each short part with the orders that have it or want it sooner, and what is on its way."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from specdb.catalogue import Catalogue
from specdb.orders.availability import NeedState, OrderView, views
from specdb.orders.needs import HELD, NEEDING_PARTS, PIECES, Part
from specdb.orders.shelf import Shelf
from specdb.records.rows import Reservation
from specdb.verbs.orders.orders import read_book

__all__ = ["OrdersSeen", "Wait", "orders_seen", "waits_of"]


@dataclass(frozen=True, slots=True)
class Wait:
    """A part that an order waits for.

    Attributes
    ----------
    kind, item_id : str
        The part.
    short : int
        Pieces that the shelf does not give the order in turn.
    clubs : tuple of str
        The clubs they go into.
    on_hand : int
        Pieces on the shelf, those kept for orders among them.
    kept_for, sooner : tuple of (str, int)
        Other orders that pieces are kept for, and orders wanted sooner that still need some.
    expected : tuple of (date or None, int)
        Pieces on order, with the day they are expected.
    comes_on : date or None
        Day on which the last piece for this order is expected, in turn; None where nobody knows.
    retired : bool
        Whether it is no longer offered.
    gone : int
        Pieces of those short that are kept for the order and not there.
    """

    kind: str
    item_id: str
    short: int
    clubs: tuple[str, ...]
    on_hand: int
    kept_for: tuple[tuple[str, int], ...]
    sooner: tuple[tuple[str, int], ...]
    expected: tuple[tuple[dt.date | None, int], ...]
    comes_on: dt.date | None
    retired: bool
    gone: int = 0


@dataclass(frozen=True, slots=True)
class OrdersSeen:
    """Orders in some states, and what those of them that need parts wait for.

    Attributes
    ----------
    views : tuple of OrderView
        The orders in turn.
    waits : mapping of str to tuple of Wait
        By order; one that waits for nothing is not named.
    """

    views: tuple[OrderView, ...]
    waits: Mapping[str, tuple[Wait, ...]]


def orders_seen(
    catalogue: Catalogue, states: Sequence[str] | None = NEEDING_PARTS, also: Sequence[str] = ()
) -> OrdersSeen:
    """Orders in some states with their parts, and what they wait for.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    states : sequence of str or None
        The states; all where None. Those that need parts take their turn among all of these.
    also : sequence of str
        Orders that are listed too, whatever their state; one that is not there any more is left out.
    """
    with catalogue.read() as reader:
        wanted = None if states is None else tuple(dict.fromkeys((*states, *NEEDING_PARTS)))
        book = read_book(reader, wanted, also)
        found = views(book)
    waits = waits_of(found, book.shelf, book.reservations)
    shown = tuple(v for v in found if states is None or v.order.state in states or v.order.id in also)
    return OrdersSeen(shown, {v.order.id: waits[v.order.id] for v in shown if v.order.id in waits})


def waits_of(
    found: Sequence[OrderView], shelf: Shelf, reservations: Iterable[Reservation]
) -> dict[str, tuple[Wait, ...]]:
    """What each order waits for.

    Parameters
    ----------
    found : sequence of OrderView
        Every order that needs parts, in turn.
    shelf : Shelf
        The stock.
    reservations : iterable of Reservation
        Parts kept for orders.
    """
    kept: dict[Part, Counter[str]] = {}
    for r in reservations:
        if r.state == HELD:
            kept.setdefault((r.kind, r.item_id), Counter())[r.order_id] += r.quantity
    asked: dict[Part, Counter[str]] = {}  # by those who had their turn
    waits = {}
    for view in found:
        if not view.active:
            continue
        short: dict[Part, list[NeedState]] = {}
        for state in view.states:
            if state.waiting:
                short.setdefault(state.need.part, []).append(state)
        if short:
            ordered = sorted(short.items(), key=lambda pair: (PIECES.index(pair[0][0]), pair[0][1]))
            waits[view.order.id] = tuple(
                _wait(view.order.id, part, some, shelf, kept.get(part, {}), asked.get(part, {}))
                for part, some in ordered
            )
        for state in view.states:
            if state.open > state.gone and state.booked:
                asked.setdefault(state.need.part, Counter())[view.order.id] += state.open - state.gone
    return waits


def _wait(
    order_id: str,
    part: Part,
    some: Sequence[NeedState],
    shelf: Shelf,
    kept: Mapping[str, int],
    sooner: Mapping[str, int],
) -> Wait:
    days = [s.expected_on for s in some]
    known = [d for d in days if d is not None]
    return Wait(
        kind=part[0],
        item_id=part[1],
        short=sum(s.waiting for s in some),
        clubs=tuple(dict.fromkeys(s.unit.club_id for s in some)),
        on_hand=max(shelf.on_hand.get(part, 0), 0),
        kept_for=tuple((order, n) for order, n in sorted(kept.items()) if order != order_id),
        sooner=tuple(sooner.items()),
        expected=tuple((a.day, a.pieces) for a in shelf.arrivals.get(part, ()) if a.pieces > 0),
        comes_on=max(known) if len(known) == len(days) else None,
        retired=part in shelf.retired,
        gone=sum(s.gone for s in some),
    )
