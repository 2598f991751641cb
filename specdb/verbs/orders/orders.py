"""Orders with the parts of their clubs: what is used, kept, on the shelf, short, and when the rest is expected."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.orders.availability import Book, NeedState, OrderView, UnitView, views
from specdb.orders.keepings import keepings_of
from specdb.orders.needs import NEEDING_PARTS, PIECES, Part, Swap, UnitKey
from specdb.orders.shelf import Arrival, Shelf
from specdb.records.rows import Club

if TYPE_CHECKING:
    from specdb.fitup.question import Shelf as FitShelf

__all__ = [
    "NeedState",
    "OrderView",
    "PartLine",
    "UnitKey",
    "UnitView",
    "one_order",
    "open_orders",
    "order_json",
    "order_of",
    "orders_of",
    "part_lines",
    "parts_of",
    "read_book",
    "shelf_for_orders",
]


def shelf_for_orders(reader: Reader) -> Shelf:
    """Stock of every kind that is counted by the piece, what of it is held, and what is on its way.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    """
    on_hand: dict[Part, int] = {}
    kept: set[str] = set()
    retired: set[Part] = set()
    for kind in PIECES:
        found = reader.stock(kind)
        on_hand.update({(kind, item): pieces for item, pieces in found.items()})
        if found:
            kept.add(kind)
        retired.update((kind, item) for item in reader.retired(kind))
    arrivals: dict[Part, list[Arrival]] = {}
    for line in reader.rows("supply"):
        if line.ordered:
            arrivals.setdefault((line.kind, line.item_id), []).append(Arrival(line.ordered, line.expected_on))
    for some in arrivals.values():
        some.sort(key=lambda a: a.day or dt.date.max)
    shelf = Shelf(
        on_hand=on_hand,
        held=reader.held(),
        arrivals={part: tuple(some) for part, some in arrivals.items()},
        kept=frozenset(kept),
        retired=frozenset(retired),
    )
    if not shelf.beyond:
        return shelf
    rows, orders = reader.of_orders("reservation"), reader.of_orders("order")
    return replace(shelf, keepings=keepings_of(rows, orders, on_hand, shelf.beyond))


def read_book(
    reader: Reader, states: Sequence[str] | None = NEEDING_PARTS, also: str | Sequence[str] | None = None
) -> Book:
    """Everything about the orders in some states, and the stock.

    Parameters
    ----------
    reader : Reader
        The catalogue; it must stay open while the book is looked at.
    states : sequence of str or None
        The states; all where None.
    also : str or sequence of str or None
        An order, or some, wanted whatever the state.
    """
    return Book(
        orders=tuple(reader.of_orders("order", states, also)),
        lines=tuple(reader.of_orders("order_line", states, also)),
        clubs={club.id: club for club in reader.clubs_of_orders(states, also)},
        choices=tuple(reader.rows("choice")),
        reservations=tuple(reader.of_orders("reservation", states, also)),
        shelf=shelf_for_orders(reader),
        swap_of=_Swaps(reader).of,
    )


class _Swaps:
    """What a stand-in takes beside, worked out by the fit-up plan where its tip is another one; each only once."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self._known: dict[tuple[str, str], Swap] = {}
        self._shafts: dict[str, tuple[float | None, str | None, float | None, float | None]] = {}
        self._trims: dict[tuple[str, str], float | None] | None = None
        self._shelf: FitShelf | None = None

    def of(self, club: Club, stand_in: str) -> Swap:
        """The swap for a club and its stand-in."""
        key = (club.id, stand_in)
        if key not in self._known:
            self._known[key] = self._found(club, stand_in)
        return self._known[key]

    def _found(self, club: Club, stand_in: str) -> Swap:
        if self._trims is None:  # all at once, as the shafts
            self._trims = {(c.club_id, c.shaft_id): c.tip_trim_in for c in self._reader.rows("choice")}
        trim = self._trims.get((club.id, stand_in))
        (dia, form, raw, _), (own_dia, own_form, own_raw, most) = (self._shaft(s) for s in (club.shaft_id, stand_in))
        if None in (dia, form) or (dia, form) != (own_dia, own_form):
            return self._planned(club, stand_in, trim)
        # the same tip goes in the same way: only its length and the maker's limit are left to be looked at
        beyond = trim is not None and most is not None and trim > most
        known = raw is not None and own_raw is not None
        shorter = known and (own_raw or 0.0) - (trim or 0.0) < (raw or 0.0) - (club.tip_trim_in or 0.0)
        return Swap(against=self._planned(club, stand_in, trim).against) if beyond or shorter else Swap()

    def _shaft(self, shaft: str) -> tuple[float | None, str | None, float | None, float | None]:
        if not self._shafts:  # all at once: one by one costs a millisecond each
            names = ("id", "tip_dia_in", "tip_form", "raw_length_in", "max_tip_trim_in")
            columns = self._reader.arrow("shaft", names)
            ids, *more = (columns.column(n).to_pylist() for n in names)
            self._shafts = dict(zip(ids, zip(*more, strict=True), strict=True))
        return self._shafts[shaft]

    def _planned(self, club: Club, stand_in: str, trim: float | None) -> Swap:
        from specdb.fitup.report import Operation, Verdict
        from specdb.verbs.clubs.fitup import shelf_of
        from specdb.verbs.clubs.stand_in_fit import stand_in_fit

        kinds = {
            Operation.SLEEVE: "sleeve",
            Operation.LEAVE_OUT_SLEEVE: "sleeve",
            Operation.OTHER_ADAPTER: "adapter",
            Operation.OTHER_FERRULE: "ferrule",
        }
        if self._shelf is None:
            self._shelf = shelf_of(self._reader)
        fit = stand_in_fit(self._reader, club.id, stand_in, trim, self._shelf)
        report = fit.report
        parts: dict[str, str | None] = {} if club.sleeve_id is None else {"sleeve": None}
        parts.update({kinds[step.operation]: step.part_id for step in report.preparation if step.operation in kinds})
        if report.verdict in (Verdict.FITS, Verdict.FITS_WITH_PREPARATION):
            return Swap(parts)
        ask = f"specdb fitup --club {club.id} --shaft {stand_in}"
        if fit.against:
            against = f"{club.id}: the chosen stand-in {stand_in} cannot be built: {fit.why_not}"
            return Swap(parts, against=f"{against}; turn it down or choose another")
        look = "does not go in" if report.verdict is Verdict.DOES_NOT_FIT else "cannot be told to go in"
        return Swap(parts, f"{club.id}: the tip of the stand-in {stand_in} {look}; see '{ask}'")


def open_orders(reader: Reader) -> list[OrderView]:
    """Orders that still need parts, with their clubs and parts; wanted first, taken first.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    """
    return list(views(read_book(reader)))


def orders_of(catalogue: Catalogue, states: Sequence[str] | None = NEEDING_PARTS) -> list[OrderView]:
    """Orders in some states with their clubs and parts.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    states : sequence of str or None
        The states; all where None. Those that still need parts take their turn among all of these.
    """
    with catalogue.read() as reader:
        # whoever needs parts has its turn among all that do
        wanted = None if states is None else tuple(dict.fromkeys((*states, *NEEDING_PARTS)))
        return [view for view in views(read_book(reader, wanted)) if states is None or view.order.state in states]


def one_order(reader: Reader, order_id: str) -> OrderView:
    """One order with its clubs and parts, in its turn among all open ones.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    order_id : str
        The order.

    Raises
    ------
    NotFoundError
        If there is no such order; near matches are named.
    """
    return _view_of(reader, order_id, NEEDING_PARTS)


def _view_of(reader: Reader, order_id: str, among: Sequence[str]) -> OrderView:
    """One order, in its turn among all that are in some states."""
    reader.get("order", order_id)
    return next(v for v in views(read_book(reader, among, order_id)) if v.order.id == order_id)


def order_alone(reader: Reader, order_id: str) -> OrderView:
    """One order with its clubs and parts, as if no other order wanted any.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    order_id : str
        The order.

    Raises
    ------
    NotFoundError
        If there is no such order; near matches are named.
    """
    return _view_of(reader, order_id, ())


def order_of(catalogue: Catalogue, order_id: str) -> OrderView:
    """One order with its clubs and parts.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.

    Raises
    ------
    NotFoundError
        If there is no such order; near matches are named.
    """
    with catalogue.read() as reader:
        return one_order(reader, order_id)


def parts_of(catalogue: Catalogue, order_id: str) -> tuple[OrderView, list[PartLine]]:
    """One order, and its parts, each once.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.

    Raises
    ------
    NotFoundError
        If there is no such order; near matches are named.
    """
    with catalogue.read() as reader:
        view, shelf = one_order(reader, order_id), shelf_for_orders(reader)
    return view, part_lines(view, shelf.on_hand, shelf.held)


@dataclass(frozen=True, slots=True)
class PartLine:
    """One part of an order, over all its clubs.

    Attributes
    ----------
    kind, item_id : str
        The part.
    needed, used, reserved, available, short : int
        Pieces: in all, built in, kept and there, free on the shelf for it, and neither.
    on_hand, free : int
        Pieces on hand at all, and of them kept for nobody.
    ahead : int
        Pieces that orders wanted earlier still need.
    expected_on : date or None
        Day on which the last missing piece is expected, in turn.
    clubs : tuple of str
        The clubs it goes into.
    booked : bool
        Whether the shop books stock of this kind.
    gone : int
        Pieces kept for the order that are not there; these are short.
    """

    kind: str
    item_id: str
    needed: int
    used: int
    reserved: int
    available: int
    short: int
    on_hand: int
    free: int
    ahead: int
    expected_on: dt.date | None
    clubs: tuple[str, ...]
    booked: bool = True
    gone: int = 0

    def to_json(self) -> dict[str, Any]:
        """The line as plain values."""
        return asdict(self)


def part_lines(view: OrderView, on_hand: Mapping[Part, int], held: Mapping[Part, int]) -> list[PartLine]:
    """The parts of an order, each once.

    Parameters
    ----------
    view : OrderView
        The order.
    on_hand, held : mapping of Part to int
        Pieces on hand, and held for orders.
    """
    by_part: dict[Part, list[NeedState]] = {}
    for state in view.states:
        by_part.setdefault(state.need.part, []).append(state)
    found = []
    for part, some in sorted(by_part.items(), key=lambda pair: (PIECES.index(pair[0][0]), pair[0][1])):
        days = [s.expected_on for s in some if s.waiting]
        known = [d for d in days if d is not None]
        found.append(
            PartLine(
                kind=part[0],
                item_id=part[1],
                needed=sum(s.need.quantity for s in some),
                used=sum(s.used for s in some),
                reserved=sum(s.reserved for s in some),
                available=sum(s.available for s in some),
                short=sum(s.short for s in some),
                on_hand=on_hand.get(part, 0),
                free=on_hand.get(part, 0) - held.get(part, 0),
                ahead=max(s.ahead for s in some),
                expected_on=max(known) if known and len(known) == len(days) else None,
                clubs=tuple(dict.fromkeys(s.unit.club_id for s in some)),
                booked=some[0].booked,
                gone=sum(s.gone for s in some),
            )
        )
    return found


def order_json(view: OrderView) -> dict[str, Any]:
    """An order as plain values.

    Parameters
    ----------
    view : OrderView
        The order.
    """
    return {
        **asdict(view.order),
        "lines": [{n: v for n, v in asdict(line).items() if n != "order_id"} for line in view.lines],
        "buildable_now": view.buildable_now and not view.problems if view.active else None,
        "expected_on": view.expected_on,
        "problems": list(view.problems),
        "said": list(view.said),
        "units": [_unit_json(unit) for unit in view.units],
    }


def _unit_json(unit: UnitView) -> dict[str, Any]:
    return {
        "line": unit.key.line,
        "unit": unit.key.unit,
        "club_id": unit.key.club_id,
        "stand_in": unit.stand_in,
        "built": unit.built,
        "adhesive_id": unit.club.adhesive_id,
        "parts": [
            {
                "kind": s.need.kind,
                "item_id": s.need.item_id,
                "quantity": s.need.quantity,
                "used": s.used,
                "reserved": s.reserved,
                "kept_but_gone": s.gone,
                "available": s.available,
                "short": s.short,
                "in_turn": s.in_turn,
                "ahead": s.ahead,
                "expected_on": s.expected_on,
            }
            for s in unit.states
        ],
    }
