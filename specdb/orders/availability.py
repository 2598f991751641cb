"""Parts of open orders: what is used already, kept, free on the shelf, short, and on which day the rest is expected.

Two questions are kept apart. *Alone*: what could be kept for this order now, as long as nobody else is served first
(`available`). *In turn*: what is left of the shelf and of the arrivals once the orders wanted earlier have had theirs
(`in_turn`, `expected_on`). Orders stand in the order of the day they are wanted, then of the day they were taken.

Where more is kept than there is, a piece that is kept and not there is open again (`gone`), and what arrives goes to
those pieces first.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from specdb.orders.choosing import Decisions, choose_shaft, decisions_of
from specdb.orders.needs import HELD, NEEDING_PARTS, USED, Need, Part, Swap, UnitKey, members_of, needs_of, units_of
from specdb.orders.shelf import Shelf
from specdb.records.rows import Choice, Club, Order, OrderLine, Reservation

_LAST = dt.date.max


@dataclass(frozen=True, slots=True)
class NeedState:
    """One part that one club of an order needs, and how it stands.

    Attributes
    ----------
    unit : UnitKey
        The club.
    need : Need
        Part and pieces.
    used, reserved : int
        Pieces built in, and pieces kept for it that are on the shelf.
    available : int
        Pieces more that are free on the shelf for this order now.
    short : int
        Pieces that are neither.
    in_turn : int
        Of the pieces neither used nor reserved, those on the shelf once the orders wanted earlier have had theirs.
    ahead : int
        Pieces of the part that orders wanted earlier still need.
    expected_on : date or None
        Day on which the last of the pieces that the shelf does not give in turn is expected; None where none is
        needed or nobody knows.
    booked : bool
        Whether the shop books stock of this kind; where not, nothing is called short.
    gone : int
        Pieces kept for it that are not there; these are open, and short.
    """

    unit: UnitKey
    need: Need
    used: int
    reserved: int
    available: int
    short: int
    in_turn: int
    ahead: int
    expected_on: dt.date | None
    booked: bool = True
    gone: int = 0

    @property
    def open(self) -> int:
        """Pieces neither used nor kept on the shelf."""
        return max(self.need.quantity - self.used - self.reserved, 0)

    @property
    def waiting(self) -> int:
        """Pieces that the shelf does not give in turn."""
        return self.open - self.in_turn


@dataclass(frozen=True, slots=True)
class UnitView:
    """One club of an order.

    Attributes
    ----------
    key : UnitKey
        Which.
    club : Club
        The fitted club it is built to.
    stand_in : str or None
        Shaft that goes in instead of the fitted one.
    states : tuple of NeedState
        Its parts.
    said : tuple of str
        What must be known about it, in plain sentences.
    against : tuple of str
        What stands against building it with the stand-in that was chosen, in plain sentences.
    """

    key: UnitKey
    club: Club
    stand_in: str | None
    states: tuple[NeedState, ...]
    said: tuple[str, ...] = ()
    against: tuple[str, ...] = ()

    @property
    def needs(self) -> tuple[Need, ...]:
        """Parts it is built from."""
        return tuple(s.need for s in self.states)

    @property
    def built(self) -> bool:
        """Whether every piece of it was booked as used."""
        return all(s.used >= s.need.quantity for s in self.states if s.booked)


@dataclass(frozen=True, slots=True)
class OrderView:
    """An order with the clubs it asks for and their parts.

    Attributes
    ----------
    order : Order
        The order.
    lines : tuple of OrderLine
        Its lines.
    units : tuple of UnitView
        Its clubs.
    problems : tuple of str
        What stands against building it, in plain sentences.
    """

    order: Order
    lines: tuple[OrderLine, ...]
    units: tuple[UnitView, ...]
    problems: tuple[str, ...] = ()

    @property
    def states(self) -> tuple[NeedState, ...]:
        """All parts of all clubs."""
        return tuple(s for u in self.units for s in u.states)

    @property
    def said(self) -> tuple[str, ...]:
        """What must be known about its clubs."""
        return tuple(dict.fromkeys(text for u in self.units for text in u.said))

    @property
    def active(self) -> bool:
        """Whether it still needs parts."""
        return self.order.state in NEEDING_PARTS

    @property
    def buildable_now(self) -> bool:
        """Whether every part is used, kept or free on the shelf in turn."""
        return bool(self.units) and not any(s.waiting for s in self.states)

    @property
    def expected_on(self) -> dt.date | None:
        """Day on which the last missing part is expected; None where none is missing or a day is not known."""
        days = [s.expected_on for s in self.states if s.waiting]
        known = [d for d in days if d is not None]
        return max(known) if known and len(known) == len(days) else None


@dataclass(frozen=True, slots=True)
class Book:
    """All that is known of orders and parts, read once.

    Attributes
    ----------
    orders : tuple of Order
        Orders.
    lines : tuple of OrderLine
        Their lines.
    clubs : mapping of str to Club
        Fitted clubs by key: those of the lines and of the sets.
    choices : tuple of Choice
        Decisions about stand-ins.
    reservations : tuple of Reservation
        Parts kept for and used in clubs of the orders.
    shelf : Shelf
        The stock.
    swap_of : callable or None
        What a stand-in takes beside, from the fitted club and the key of the stand-in.
    """

    orders: tuple[Order, ...]
    lines: tuple[OrderLine, ...]
    clubs: Mapping[str, Club]
    choices: tuple[Choice, ...] = ()
    reservations: tuple[Reservation, ...] = ()
    shelf: Shelf = field(default_factory=Shelf)
    swap_of: Callable[[Club, str], Swap] | None = None

    def against(self, club: Club, stand_in: str) -> str:
        """Why a club cannot be built with a stand-in; empty where nothing is known against it.

        Parameters
        ----------
        club : Club
            The fitted club.
        stand_in : str
            The shaft.
        """
        return "" if self.swap_of is None else self.swap_of(club, stand_in).against

    @property
    def sets(self) -> dict[str, tuple[Club, ...]]:
        """Clubs by set."""
        return members_of(self.clubs.values())

    @property
    def decisions(self) -> dict[str, Decisions]:
        """Decisions by club."""
        return decisions_of(self.choices)


def turn(order: Order) -> tuple[dt.date, dt.date, str]:
    """Sort key of an order: wanted first, then taken first.

    Parameters
    ----------
    order : Order
        The order.
    """
    return order.wanted_on or _LAST, order.taken_on or _LAST, order.id


def kept_by_unit(reservations: Iterable[Reservation]) -> dict[UnitKey, list[Reservation]]:
    """Parts kept for and used in every club.

    Parameters
    ----------
    reservations : iterable of Reservation
        Of any orders.
    """
    found: dict[UnitKey, list[Reservation]] = {}
    for r in reservations:
        found.setdefault(UnitKey(r.order_id, r.line, r.unit, r.club_id), []).append(r)
    return found


def views(book: Book) -> tuple[OrderView, ...]:
    """Every order of a book with its parts, in turn.

    Parameters
    ----------
    book : Book
        Orders, clubs, stock. Only orders that still need parts take any from the shelf.
    """
    from specdb.orders.problems import problems_of  # which looks at the clubs made here

    sets, decided = book.sets, book.decisions
    kept = kept_by_unit(book.reservations)
    lines: dict[str, list[OrderLine]] = {}
    for line in book.lines:
        lines.setdefault(line.order_id, []).append(line)
    queue = _Queue(book.shelf)
    found = []
    for order in sorted(book.orders, key=turn):
        mine = sorted(lines.get(order.id, ()), key=lambda one: one.line)
        keys = [key for line in mine for key in units_of(line, book.clubs, sets)]
        units = _units(order, keys, book, decided, kept)
        if order.state in NEEDING_PARTS:
            units = queue.serve(units)
        found.append(OrderView(order, tuple(mine), units, problems_of(order, mine, units, book, sets, kept)))
    return tuple(found)


def _units(
    order: Order,
    keys: Sequence[UnitKey],
    book: Book,
    decided: Mapping[str, Decisions],
    kept: Mapping[UnitKey, Sequence[Reservation]],
) -> tuple[UnitView, ...]:
    """The clubs of one order as if it were alone."""
    left: dict[Part, int] = {}
    active = order.state in NEEDING_PARTS
    found = []
    for key in keys:
        club, mine = book.clubs[key.club_id], kept.get(key, ())
        shaft = choose_shaft(
            club,
            decided.get(club.id, Decisions()),
            book.shelf,
            used=[r.item_id for r in mine if r.kind == "shaft" and r.state == USED],
            kept=[
                r.item_id
                for r in mine
                if r.kind == "shaft" and r.state == HELD and r.quantity > book.shelf.gone((r.kind, r.item_id), key)
            ],
            left=left,
            wanted_on=order.wanted_on,
            cannot=partial(book.against, club),
        )
        swap = book.swap_of(club, shaft.shaft_id) if shaft.stand_in and book.swap_of is not None else None
        needs = needs_of(club, shaft.shaft_id if shaft.stand_in else None, swap)
        states = tuple(_state(key, need, mine, book.shelf, left, active=active) for need in needs)
        said = tuple(text for text in (shaft.said, "" if swap is None else swap.said) if text)
        stand_in = shaft.shaft_id if shaft.stand_in else None
        told, against = ((*said, *_to_know(club, states, book.shelf)), shaft.against) if active else ((), ())
        found.append(UnitView(key, club, stand_in, states, told, against))
    return tuple(found)


def _to_know(club: Club, states: Sequence[NeedState], shelf: Shelf) -> Iterator[str]:
    """What is easily overlooked: a part that comes for the last time, a club without a grip."""
    for part in (s.need.part for s in states if s.short):
        if part in shelf.retired and shelf.arrivals.get(part):
            yield f"{club.id}: {part[0]} {part[1]} is retired and none is free; it comes only as far as it is on order"
    if club.grip_id is None:
        yield f"{club.id} names no grip, so none is counted among its parts"


def _state(
    unit: UnitKey,
    need: Need,
    mine: Sequence[Reservation],
    shelf: Shelf,
    left: dict[Part, int],
    *,
    active: bool,
) -> NeedState:
    used = sum(r.quantity for r in mine if (r.kind, r.item_id, r.state) == (*need.part, USED))
    kept = sum(r.quantity for r in mine if (r.kind, r.item_id, r.state) == (*need.part, HELD))
    gone = min(shelf.gone(need.part, unit), kept)
    held = kept - gone
    missing = max(need.quantity - used - held, 0) if active else 0
    booked = need.kind in shelf.kept
    if not booked:
        return NeedState(unit, need, used, held, missing, 0, missing, 0, None, booked=False)
    free = max(left.get(need.part, shelf.free(need.part)), 0)
    available = min(missing, free)
    left[need.part] = free - available
    return NeedState(unit, need, used, held, available, missing - available, 0, 0, None, gone=gone)


class _Queue:
    """Hands the free pieces and the arrivals out, order after order."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._left: dict[Part, int] = {}
        self._coming: dict[Part, list[tuple[int, dt.date | None]]] = {}
        self._asked: dict[Part, int] = {}
        self._claims: dict[tuple[Part, UnitKey], dt.date | None] = {}
        for part, keepings in shelf.keepings.items():
            self._arrive(part, max(-shelf.on_hand.get(part, 0), 0))  # what a count says is owed to the shelf
            for k in keepings:
                if k.gone:
                    self._claims[part, k.unit] = self._arrive(part, k.gone)

    def serve(self, units: Sequence[UnitView]) -> tuple[UnitView, ...]:
        """The clubs of one order with their turn filled in."""
        before: dict[Part, int] = {}
        served = []
        for unit in units:
            states = tuple(self._one(state, before) for state in unit.states)
            served.append(replace(unit, states=states))
        return tuple(served)

    def _one(self, state: NeedState, before: dict[Part, int]) -> NeedState:
        part, wanted = state.need.part, state.open
        if not state.booked:
            return state
        ahead = before.setdefault(part, self._asked.get(part, 0))
        self._asked[part] = self._asked.get(part, 0) + wanted
        free = self._left.setdefault(part, max(self._shelf.free(part), 0))
        taken = min(wanted - state.gone, free)
        self._left[part] = free - taken
        more = wanted - state.gone - taken
        days = [self._arrive(part, more)] if more else []
        days += [self._claims.get((part, state.unit))] if state.gone else []
        known = [day for day in days if day is not None]
        day = max(known) if known and len(known) == len(days) else None
        return replace(state, in_turn=taken, ahead=ahead, expected_on=day)

    def _arrive(self, part: Part, wanted: int) -> dt.date | None:
        """Take pieces from what is on its way; the day of the last one, None where it is not known."""
        coming = self._coming.setdefault(part, [(a.pieces, a.day) for a in self._shelf.arrivals.get(part, ())])
        day: dt.date | None = None
        while wanted > 0:
            if not coming:
                return None
            pieces, day = coming[0]
            taken = min(pieces, wanted)
            wanted -= taken
            if pieces > taken:
                coming[0] = (pieces - taken, day)
            else:
                coming.pop(0)
        return day
