"""The state of an order follows the work: at the bench with the first club, and what stands against finishing it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from specdb.catalogue import Catalogue, Writer
from specdb.errors import ConflictError, MechanicsError
from specdb.orders.needs import USED, UnitKey

__all__ = [
    "FinishLook",
    "OutsideToleranceError",
    "begin_work",
    "look_at_finishing",
    "put_on_bench",
    "take_off_bench",
]

_OPEN, _AT_BENCH = "open", "at_bench"


def begin_work(writer: Writer, order_ids: Iterable[str]) -> tuple[str, ...]:
    """Move orders that are open to the bench, within the change that begins the work on them.

    Parameters
    ----------
    writer : Writer
        The change.
    order_ids : iterable of str
        Orders of which something was built or measured.

    Returns
    -------
    tuple of str
        What was moved, in plain sentences.
    """
    moved = []
    for order_id in sorted(set(order_ids)):
        if writer.get("order", order_id).state == _OPEN:
            writer.put("order", {"id": order_id, "state": _AT_BENCH}, mode="update")
            moved.append(f"order {order_id} is at the bench now")
    return tuple(moved)


def put_on_bench(catalogue: Catalogue, order_id: str, club: str, *, by: str | None = None) -> str:
    """Move an open order to the bench, as the first step of a club of it was ticked off; a change of its own.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id, club : str
        The order, and its club.
    by : str or None
        Who, for the journal.

    Returns
    -------
    str
        What was done, in a plain sentence; empty where the order is not open.
    """
    with catalogue.read() as reader:
        found = reader.find("order", order_id)
        if found is None or found.state != _OPEN:
            return ""
    with catalogue.write(by=by, done=_ticked(club)) as writer:
        return "".join(begin_work(writer, (order_id,)))


def take_off_bench(catalogue: Catalogue, order_id: str, club: str, *, by: str | None = None) -> str:
    """Take :func:`put_on_bench` back, as the only tick of the club was taken back and nothing else was done since.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id, club : str
        The order, and its club.
    by : str or None
        Who, for the journal.

    Returns
    -------
    str
        What was done, in a plain sentence; empty where it was moved otherwise, or parts of it are built in or measured.
    """
    with catalogue.write(by=by, done="undo") as writer:
        newest = next(iter(writer.history("order", order_id, limit=1)), None)
        if newest is None or newest.done != _ticked(club) or newest.undoes is not None:
            return ""
        used = any(r.state == USED for r in writer.of_orders("reservation", (), order_id))
        if used or writer.of_orders("as_built", (), order_id):
            return ""
        writer.undo(newest.change_no)
    return f"order {order_id} is open again"


def _ticked(club: str) -> str:
    return f"first step of {club}"


@dataclass(frozen=True, slots=True)
class ClubFound:
    """A club of an order and what was found on it.

    Attributes
    ----------
    key : UnitKey
        The club.
    found : tuple of str
        What: ``swingweight 2.1 points heavy``.
    """

    key: UnitKey
    found: tuple[str, ...]

    @property
    def words(self) -> str:
        """The club and what was found, in words."""
        number = f" no {self.key.unit}" if self.key.unit > 1 else ""
        return f"{self.key.club_id}{number} ({', '.join(self.found)})"


@dataclass(frozen=True, slots=True)
class FinishLook:
    """What stands against finishing an order.

    Attributes
    ----------
    order_id, state : str
        The order, and where it is.
    clubs : int
        How many clubs it has.
    unmeasured : tuple of ClubFound
        Clubs of which a measurement is neither in nor waived.
    outside : tuple of ClubFound
        Clubs that came out outside a tolerance.
    not_booked : tuple of str
        Clubs of which not every part was booked as built in.
    """

    order_id: str
    state: str
    clubs: int
    unmeasured: tuple[ClubFound, ...] = ()
    outside: tuple[ClubFound, ...] = ()
    not_booked: tuple[str, ...] = ()

    @property
    def offered(self) -> bool:
        """Whether it may be offered as finished: it is at the bench, and every club of it is measured."""
        return self.state == _AT_BENCH and self.clubs > 0 and not self.unmeasured

    @property
    def outside_words(self) -> str:
        """Which clubs lie outside a tolerance, as a sentence without its point; empty where none does."""
        return f"outside tolerance: {'; '.join(one.words for one in self.outside)}" if self.outside else ""

    @property
    def unmeasured_words(self) -> str:
        """Which clubs are not measured; empty where all are."""
        if not self.unmeasured:
            return ""
        return f"still to be measured, or waived with a reason: {'; '.join(one.words for one in self.unmeasured)}"

    @property
    def booked_words(self) -> str:
        """Of which clubs not every part was booked; empty where all were."""
        if not self.not_booked:
            return ""
        names = ", ".join(dict.fromkeys(self.not_booked))
        return f"not every part of {names} was booked as built in, so the stock may be too high by now"

    @property
    def offer(self) -> str:
        """What is to be said when it may be finished."""
        every = "its club is" if self.clubs == 1 else f"all {self.clubs} clubs are"
        more = "; ".join(text for text in (self.outside_words, self.booked_words) if text)
        return f"order {self.order_id}: {every} built and measured" + (f"; {more}" if more else "")

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "order": self.order_id,
            "offered": self.offered,
            "unmeasured": [_json(one) for one in self.unmeasured],
            "outside": [_json(one) for one in self.outside],
            "not_booked": list(self.not_booked),
        }


def _json(one: ClubFound) -> dict[str, Any]:
    return {"club": one.key.club_id, "line": one.key.line, "unit": one.key.unit, "found": list(one.found)}


class OutsideToleranceError(ConflictError):
    """An order is to be finished although a club of it is outside a tolerance, and nobody says why; nothing was done.

    Attributes
    ----------
    look : FinishLook
        What stands against it.
    """

    def __init__(self, look: FinishLook) -> None:
        super().__init__(
            f"order {look.order_id} is not finished; {look.outside_words}: give a reason to finish it all the same "
            f"('specdb order state {look.order_id} finished --why TEXT'), or work on it and measure it again"
        )
        self.look = look


def look_at_finishing(catalogue: Catalogue, order_id: str) -> FinishLook:
    """What stands against finishing an order: every club is judged anew by what is kept of it.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.

    Raises
    ------
    NotFoundError
        If there is no such order.
    """
    from specdb.orders.as_built import Judgement
    from specdb.orders.tolerances import TOLERANCES
    from specdb.verbs.building.as_built import Finished, answer_of
    from specdb.verbs.orders.orders import one_order

    unmeasured, outside = [], []
    with catalogue.read() as reader:
        view = one_order(reader, order_id)
        for unit in view.units:
            key = unit.key
            finished = Finished(club=key.club_id, order=order_id, line=key.line, unit=key.unit, shaft=unit.stand_in)
            try:
                answer = answer_of(reader, finished)
            except MechanicsError:
                continue  # what it should measure cannot be worked out, so nothing can be asked for
            if answer.wanted:
                names = ", ".join(TOLERANCES[w].title for w in answer.wanted)
                unmeasured.append(ClubFound(key, (f"{answer.spoilt}: {names}" if answer.spoilt else names,)))
            off = [j for j in answer.judged if j.judgement == Judgement.OUTSIDE]
            if off:
                outside.append(ClubFound(key, tuple(f"{TOLERANCES[j.quantity].title} {j.said}" for j in off)))
    missing = tuple(u.key.club_id for u in view.units if not u.built)
    return FinishLook(order_id, view.order.state, len(view.units), tuple(unmeasured), tuple(outside), missing)
