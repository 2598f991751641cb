"""Parts of an order: kept for it, given free again, built in, spoilt at the bench; each is one change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from specdb.catalogue import Catalogue, Reader, Writer
from specdb.catalogue.spoilt import spoilt_for
from specdb.errors import ConflictError, UsageError
from specdb.orders.availability import NeedState, OrderView
from specdb.orders.needs import HELD, NEEDING_PARTS, PIECES, USED, Need, UnitKey
from specdb.records.rows import Reservation
from specdb.verbs.orders.moves import book_use, hold, leave
from specdb.verbs.orders.orders import one_order

__all__ = [
    "PartsChange",
    "SeveralPartsError",
    "Which",
    "release_parts",
    "reserve_parts",
    "spoil_parts",
    "use_parts",
]


@dataclass(frozen=True, slots=True)
class Which:
    """Parts of an order that are meant; all where nothing is said.

    Attributes
    ----------
    parts : tuple of str
        Kinds (``shaft``), keys, or both (``shaft/hollin-reach-holm-60-s``).
    club_id : str or None
        Only of this club.
    line, unit : int or None
        Only of this line, and of this one of its quantity.
    """

    parts: tuple[str, ...] = ()
    club_id: str | None = None
    line: int | None = None
    unit: int | None = None

    def has_unit(self, key: UnitKey) -> bool:
        """Whether a club is meant.

        Parameters
        ----------
        key : UnitKey
            The club.
        """
        return self.club_id in (None, key.club_id) and self.line in (None, key.line) and self.unit in (None, key.unit)

    def has_part(self, kind: str, item_id: str) -> bool:
        """Whether a part is meant.

        Parameters
        ----------
        kind, item_id : str
            The part.
        """
        return not self.parts or any(word in (kind, item_id, f"{kind}/{item_id}") for word in self.parts)


@dataclass(frozen=True, slots=True)
class PartsChange:
    """What was done with parts of an order.

    Attributes
    ----------
    order_id : str
        The order.
    done : tuple of (UnitKey, Need)
        Parts it was done with.
    short : tuple of NeedState
        Parts that it could not be done with.
    said : tuple of str
        What should be known, in plain sentences.
    """

    order_id: str
    done: tuple[tuple[UnitKey, Need], ...]
    short: tuple[NeedState, ...] = ()
    said: tuple[str, ...] = ()

    @property
    def pieces(self) -> int:
        """Pieces it was done with."""
        return sum(need.quantity for _, need in self.done)

    def to_json(self) -> dict[str, Any]:
        """The change as plain values."""
        return {
            "order_id": self.order_id,
            "done": [_json(unit, need.kind, need.item_id, need.quantity) for unit, need in self.done],
            "short": [
                {**_json(s.unit, s.need.kind, s.need.item_id, s.open), "expected_on": s.expected_on} for s in self.short
            ],
            "said": list(self.said),
        }


class SeveralPartsError(UsageError):
    """A word means more than one part of an order; nothing was done.

    Attributes
    ----------
    rows : tuple of Reservation
        The parts that may be meant.
    """

    def __init__(self, order_id: str, rows: Sequence[Reservation]) -> None:
        several = "; ".join(part_words(r) for r in rows)
        super().__init__(
            f"{len(rows)} parts of order {order_id} may be meant: {several}. Say which one (--club, --line, --unit, or "
            "the id of the part), or that all of them are spoilt (--all)"
        )
        self.order_id = order_id
        self.rows = tuple(rows)

    def __reduce__(self) -> tuple[Any, ...]:
        """For pickling: with its fields."""
        return type(self), (self.order_id, self.rows)


def part_words(row: Reservation) -> str:
    """A part of an order with the club it is for and how it stands, in words.

    Parameters
    ----------
    row : Reservation
        The part.
    """
    stands = "built in" if row.state == USED else "kept"
    return f"{row.kind} {row.item_id} for {row.club_id} ({row.line}.{row.unit}), {stands}"


def _json(unit: UnitKey, kind: str, item: str, pieces: int) -> dict[str, Any]:
    return {
        "line": unit.line,
        "unit": unit.unit,
        "club_id": unit.club_id,
        "kind": kind,
        "item_id": item,
        "quantity": pieces,
    }


def _unit(r: Reservation) -> UnitKey:
    return UnitKey(r.order_id, r.line, r.unit, r.club_id)


def _active(writer: Reader, order_id: str) -> OrderView:
    view = one_order(writer, order_id)
    if view.order.state not in NEEDING_PARTS:
        raise ConflictError(f"order {order_id} is {view.order.state}, so no part is kept for it or built in")
    return view


def _refuse_unknown(which: Which, view: OrderView, mine: Sequence[Reservation]) -> None:
    """Raise for a name that is no part and no club of the order."""
    known = {(s.need.kind, s.need.item_id) for s in view.states} | {(r.kind, r.item_id) for r in mine}
    for word in which.parts:
        if word not in PIECES and not any(word in (item, f"{kind}/{item}") for kind, item in known):
            parts = ", ".join(sorted(f"{kind}/{item}" for kind, item in known))
            raise UsageError(f"order {view.order.id} has no part '{word}'; it has: {parts}")
    units = {u.key for u in view.units} | {_unit(r) for r in mine}
    if not any(which.has_unit(key) for key in units):
        clubs = ", ".join(dict.fromkeys(f"{k.club_id} (line {k.line}, {k.unit})" for k in sorted(units)))
        raise UsageError(f"order {view.order.id} has no such club; it has: {clubs or 'none'}")


def reserve_parts(
    catalogue: Catalogue,
    order_id: str,
    which: Which | None = None,
    *,
    whole: bool = False,
    by: str | None = None,
    why: str | None = None,
) -> PartsChange:
    """Keep parts on the shelf for an order: whatever is free, or all that is meant or nothing.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.
    which : Which or None
        Which of its parts; all where None.
    whole : bool
        Keep nothing where something is short.
    by, why : str or None
        Who and why, for the journal.

    Returns
    -------
    PartsChange
        What is kept now, and what is short.

    Raises
    ------
    NotFoundError
        If there is no such order.
    UsageError
        If it has no such part or club.
    ConflictError
        If it needs no parts any more.
    """
    meant = which or Which()
    with catalogue.write(by=by, why=why, done=f"reserve for {order_id}") as writer:
        view = _active(writer, order_id)
        _refuse_unknown(meant, view, ())
        open_ = [
            s
            for u in view.units
            if meant.has_unit(u.key)
            for s in u.states
            if s.open and s.booked and meant.has_part(s.need.kind, s.need.item_id)
        ]
        short = tuple(s for s in open_ if s.short)
        wishes = [(s.unit, Need(s.need.kind, s.need.item_id, s.available)) for s in open_ if s.available]
        if whole and short:
            wishes = []
        hold(writer, wishes, by=by)
    said = [*view.said, *view.problems]
    unbooked = sorted({s.need.kind for s in view.states if not s.booked})
    if unbooked:
        said.append(f"no stock is booked of any {' or '.join(unbooked)}, so none is kept")
    return PartsChange(order_id, tuple(wishes), short, tuple(said))


def _held_of(writer: Writer, order_id: str, which: Which, *, states: Sequence[str]) -> list[Reservation]:
    """Reservations of an order that are meant; raises where a name means none of its parts."""
    mine: list[Reservation] = writer.of_orders("reservation", (), order_id)
    _refuse_unknown(which, one_order(writer, order_id), mine)
    return [r for r in mine if r.state in states and which.has_unit(_unit(r)) and which.has_part(r.kind, r.item_id)]


def _done(order_id: str, rows: Sequence[Reservation], said: Sequence[str] = ()) -> PartsChange:
    return PartsChange(order_id, tuple((_unit(r), Need(r.kind, r.item_id, r.quantity)) for r in rows), (), tuple(said))


def release_parts(
    catalogue: Catalogue,
    order_id: str,
    which: Which | None = None,
    *,
    by: str | None = None,
    why: str | None = None,
) -> PartsChange:
    """Give parts that are kept for an order free again.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.
    which : Which or None
        Which of its parts; all where None.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    NotFoundError
        If there is no such order.
    UsageError
        If it has no such part or club.
    """
    with catalogue.write(by=by, why=why, done=f"release from {order_id}") as writer:
        rows = _held_of(writer, order_id, which or Which(), states=(HELD,))
        for r in rows:
            writer.remove("reservation", r.id)
    return _done(order_id, rows)


def use_parts(
    catalogue: Catalogue,
    order_id: str,
    which: Which | None = None,
    *,
    by: str | None = None,
    why: str | None = None,
) -> PartsChange:
    """Book parts that were kept for an order as built in: off the shelf and used, in one change.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.
    which : Which or None
        Which of its parts; all that are kept where None.
    by, why : str or None
        Who and why, for the journal.

    Returns
    -------
    PartsChange
        What was booked, and what the clubs that are meant need beside, which was not kept and so not booked.

    Raises
    ------
    NotFoundError
        If there is no such order.
    UsageError
        If it has no such part or club.
    ConflictError
        If it needs no parts any more, or fewer are on hand than are kept (count first).
    """
    meant = which or Which()
    with catalogue.write(by=by, why=why, done=f"build in for {order_id}") as writer:
        _active(writer, order_id)
        rows = _held_of(writer, order_id, meant, states=(HELD,))
        moved = book_use(writer, rows, by=by)
        view = one_order(writer, order_id)
    missing = tuple(
        s
        for u in view.units
        if meant.has_unit(u.key)
        for s in u.states
        if s.open and s.booked and meant.has_part(s.need.kind, s.need.item_id)
    )
    done = _done(order_id, rows)
    return PartsChange(order_id, done.done, missing, (*done.said, *moved))


def spoil_parts(
    catalogue: Catalogue,
    order_id: str,
    which: Which,
    *,
    every: bool = False,
    by: str | None = None,
    why: str | None = None,
) -> PartsChange:
    """Book parts of an order as spoilt at the bench; the order needs them anew.

    A part that was only kept leaves the shelf as damaged; one that was built in has left it already. What was measured
    on the club before no longer counts.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.
    which : Which
        Which of its parts; they must be named, and each word means one.
    every : bool
        Whether a word may mean more than one part, all of which are spoilt.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    NotFoundError
        If there is no such order.
    UsageError
        If it has no such part or club, or none is named.
    SeveralPartsError
        If a word means more than one of its parts, and not every one is meant.
    ConflictError
        If it needs no parts any more.
    """
    if not which.parts:
        raise UsageError("say which part was spoilt")
    with catalogue.write(by=by, why=why, done=spoilt_for(order_id)) as writer:
        _active(writer, order_id)
        rows = _held_of(writer, order_id, which, states=(HELD, USED))
        if not every:
            _refuse_several(order_id, which, rows)
        for r in rows:
            writer.remove("reservation", r.id)
        leave(writer, [r for r in rows if r.state == HELD], "damaged", by=by)
    return _done(order_id, rows)


def _refuse_several(order_id: str, which: Which, rows: Sequence[Reservation]) -> None:
    """Raise where a word means more than one part."""
    for word in which.parts:
        meant = [r for r in rows if Which((word,)).has_part(r.kind, r.item_id)]
        if len(meant) > 1:
            raise SeveralPartsError(order_id, sorted(meant, key=lambda r: (_unit(r), r.kind, r.item_id)))
