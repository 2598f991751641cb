"""Taking orders and moving them from state to state."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from specdb.catalogue import Catalogue, Reader, Writer
from specdb.catalogue.order_rules import NEEDING_PARTS, STEPS, step_refused
from specdb.errors import ConflictError, UsageError
from specdb.orders.needs import HELD, USED
from specdb.records.rows import Reservation
from specdb.verbs.orders.checks import Orderable, Wanted
from specdb.verbs.orders.finishing import outside_words, refuse_unfinished, units_standing

__all__ = ["STEPS", "StateChange", "Taken", "Wanted", "add_order", "set_order_state", "state_word"]

_NUMBERED = re.compile(r"o-(\d{1,9})")
_FIRST_NUMBER = 1001


@dataclass(frozen=True, slots=True)
class Taken:
    """An order that was taken.

    Attributes
    ----------
    order_id : str
        Its key.
    lines : int
        How many lines it has.
    clubs : int
        How many clubs are to be built.
    """

    order_id: str
    lines: int
    clubs: int

    def to_json(self) -> dict[str, Any]:
        """The order as plain values."""
        return asdict(self)


def today() -> dt.date:
    """The day on the shop's own calendar."""
    return dt.date.today()  # noqa: DTZ011


def add_order(
    catalogue: Catalogue,
    order_id: str | None,
    lines: Sequence[Wanted],
    *,
    customer: str | None = None,
    wanted_on: dt.date | None = None,
    notes: str | None = None,
    by: str | None = None,
    why: str | None = None,
) -> Taken:
    """Take an order.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str or None
        Its key; the next number where None.
    lines : sequence of Wanted
        What is ordered.
    customer, notes : str or None
        Reference of the customer, and anything else.
    wanted_on : date or None
        Day it is wanted.
    by, why : str or None
        Who takes it and why, for the journal.

    Raises
    ------
    UsageError
        If there is no line, there is such an order already, or something cannot be ordered; the sentence says why.
    NotFoundError
        If a club or a set is not there.
    """
    if not lines:
        raise UsageError("an order needs a line: a club (--club) or a set (--set)")
    with catalogue.write(by=by, why=why, done="take order") as writer:
        if order_id is not None and writer.find("order", order_id) is not None:
            raise UsageError(f"there is an order '{order_id}' already")
        checks = Orderable(writer)
        for line in lines:
            checks.refuse(line)
        key = next_number(writer) if order_id is None else order_id
        values = {
            "id": key,
            "customer": customer,
            "state": "open",
            "wanted_on": wanted_on,
            "taken_on": today(),
            "taken_by": by,
            "notes": notes,
        }
        writer.put("order", values, mode="add")
        for number, line in enumerate(lines, start=1):
            row = {"order_id": key, "line": number, **asdict(line)}
            writer.put("order_line", row, mode="add")
        clubs = sum(line.quantity * len(checks.clubs_of(line)) for line in lines)
    return Taken(key, len(lines), clubs)


def next_number(reader: Reader) -> str:
    """The next number of an order that has none of its own: ``o-1043`` after ``o-1042``.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    """
    known = reader.arrow("order", ["id"])["id"].to_pylist()
    numbers = [int(found[1]) for found in map(_NUMBERED.fullmatch, known) if found]
    return f"o-{max(numbers, default=_FIRST_NUMBER - 1) + 1}"


@dataclass(frozen=True, slots=True)
class StateChange:
    """An order that went from one state to the next.

    Attributes
    ----------
    order_id, before, after : str
        The order and its states.
    released : tuple of Reservation
        Parts that are kept for it no longer, as it was cancelled.
    notes : tuple of str
        What should be known about it, in plain sentences.
    """

    order_id: str
    before: str
    after: str
    released: tuple[Reservation, ...] = ()
    notes: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The change as plain values."""
        released = [{"kind": r.kind, "item_id": r.item_id, "quantity": r.quantity} for r in self.released]
        return {**asdict(self), "released": released, "notes": list(self.notes)}


def state_word(text: str) -> str:
    """The state that is meant.

    Parameters
    ----------
    text : str
        As typed: ``at_bench``, ``at bench``, ``At-Bench``.

    Raises
    ------
    UsageError
        If there is no such state.
    """
    word = re.sub(r"[\s-]+", "_", text.strip().lower())
    if word not in STEPS:
        raise UsageError(f"'{text}' is no state of an order; there are: {', '.join(STEPS)}")
    return word


def set_order_state(
    catalogue: Catalogue, order_id: str, state: str, *, by: str | None = None, why: str | None = None
) -> StateChange:
    """Move an order to another state; a cancelled one gives its parts free in the same change.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.
    state : str
        The state, as typed.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    NotFoundError
        If there is no such order.
    UsageError
        If there is no such state.
    ConflictError
        If the order cannot go there from where it is, has parts held that were not built in, or is to be finished
        although a club of it was not measured.
    OutsideToleranceError
        If it is to be finished although a club of it is outside a tolerance, and no reason is given.
    """
    after = state_word(state)
    units = units_standing(catalogue, order_id) if after == "finished" else ()
    with catalogue.write(by=by, why=why, done=f"order {order_id} {after}") as writer:
        before = writer.get("order", order_id).state
        refused = step_refused(order_id, before, after)
        if refused:
            raise ConflictError(refused)
        if before != after:
            refuse_unfinished(order_id, units, why)
        mine: list[Reservation] = writer.of_orders("reservation", (), order_id)
        held = [r for r in mine if r.state == HELD]
        if before == after:
            return StateChange(order_id, before, after, notes=(f"it is {after.replace('_', ' ')} already",))
        if after == "cancelled":
            for r in held:
                writer.remove("reservation", r.id)
        writer.put("order", {"id": order_id, "state": after}, mode="update")
        notes = _notes(writer, order_id, after, [r for r in mine if r.state == USED])
        if outside := outside_words(units):
            notes = (*notes, f"outside tolerance, and finished all the same: {outside}")
    return StateChange(order_id, before, after, tuple(held) if after == "cancelled" else (), notes)


def _notes(writer: Writer, order_id: str, after: str, used: Sequence[Reservation]) -> tuple[str, ...]:
    pieces = sum(r.quantity for r in used)
    if after == "cancelled" and used:
        count = f"{pieces} parts of it were" if pieces > 1 else "1 part of it was"
        back = "what comes back to the shelf is booked with 'specdb stock return'"
        return (f"{count} built in already and stay booked as used; {back}",)
    if after == "finished":
        from specdb.verbs.orders.orders import one_order

        view = one_order(writer, order_id)
        missing = [u for u in view.units if not u.built]
        if missing:
            names = ", ".join(dict.fromkeys(u.key.club_id for u in missing))
            return (f"not every part of {names} was booked as used, so the stock may be too high by now",)
    return ()


__all__ += ["NEEDING_PARTS", "next_number", "today"]
