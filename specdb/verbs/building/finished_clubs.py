"""Keeping what was measured on a finished club: values, reasons, readings of the raw piece, and the parts it took.

All of it is one change. Once every measurement is in or waived, the parts that were kept for the club on the shelf are
booked as built in with it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from specdb.catalogue import Catalogue, Reader, Writer
from specdb.errors import ConflictError, UsageError
from specdb.orders.as_built import Judged, Judgement, judge_corrected
from specdb.orders.needs import HELD, NEEDING_PARTS, UnitKey
from specdb.orders.tolerances import TOLERANCES
from specdb.records.rows import AsBuilt, Reservation
from specdb.schema import load_schema
from specdb.verbs.building.as_built import (
    BuiltAnswer,
    Finished,
    answer_of,
    as_kept,
    built_answer,
    latest_rows,
    rows_of,
    true_value,
)
from specdb.verbs.building.expected_build import Expectation, expectation
from specdb.verbs.building.sheet_code import UnitMeant
from specdb.verbs.building.since_spoilt import spoilt_words
from specdb.verbs.building.which_unit import unit_meant
from specdb.verbs.orders.moves import book_use
from specdb.verbs.orders.orders import order_alone
from specdb.verbs.orders.working import begin_work
from specdb.verbs.stiffness.corrections import calibrations_of

_NOTES = load_schema().table("as_built").field("notes").max_length
Seen = tuple[float | None, str | None]
"""What is kept of a quantity: its value, or why it was waived."""


class MeasuredMeanwhileError(ConflictError):
    """Somebody else measured the club meanwhile, with another result; nothing was changed.

    Attributes
    ----------
    rows : tuple of AsBuilt
        What is kept by now.
    """

    def __init__(self, rows: Sequence[AsBuilt]) -> None:
        names = ", ".join(TOLERANCES[r.quantity].title for r in rows)
        super().__init__(f"somebody else has kept another result meanwhile: {names}")
        self.rows = tuple(rows)


class InQuestionError(UsageError):
    """Values are further off than work on the club can cause; nothing was changed.

    Attributes
    ----------
    judged : tuple of Judged
        Each of them, with the question whether it was measured so.
    """

    def __init__(self, judged: Sequence[Judged]) -> None:
        questions = " ".join(f"{TOLERANCES[j.quantity].title}: {j.said}" for j in judged)
        super().__init__(f"{questions} Nothing is kept; if it was measured so, say that you are sure (--sure)")
        self.judged = tuple(judged)

    def __reduce__(self) -> tuple[Any, ...]:
        """For pickling: with its fields."""
        return type(self), (self.judged,)


@dataclass(frozen=True, slots=True, kw_only=True)
class RawReadings:
    """What was read on the piece before it was cut.

    Attributes
    ----------
    weight_g, frequency_cpm : float or None
        Readings.
    free_length_in, tip_mass_g : float or None
        Conditions of the frequency.
    weighed_with, timed_with : str or None
        Instruments.
    """

    weight_g: float | None = None
    frequency_cpm: float | None = None
    free_length_in: float | None = None
    tip_mass_g: float | None = None
    weighed_with: str | None = None
    timed_with: str | None = None

    @property
    def given(self) -> bool:
        """Whether anything was read."""
        return self.weight_g is not None or self.frequency_cpm is not None

    def rows(self) -> list[dict[str, Any]]:
        """The readings, without what they are of."""
        found: list[dict[str, Any]] = []
        if self.weight_g is not None:
            found.append({"quantity": "weight", "value": self.weight_g, "instrument": self.weighed_with})
        if self.frequency_cpm is not None:
            conditions = {"free_length_in": self.free_length_in, "tip_mass_g": self.tip_mass_g}
            found.append(
                {"quantity": "frequency", "value": self.frequency_cpm, "instrument": self.timed_with, **conditions}
            )
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What is to be kept of a finished club.

    Attributes
    ----------
    values : mapping of str to float
        Measured values by quantity, in stored units.
    waived : mapping of str to str
        Reasons by quantity that is not measured.
    raw : RawReadings
        Of the piece before it was cut.
    instruments : mapping of str to str
        What each quantity was measured with, where that is not the instrument of the whole club.
    """

    values: Mapping[str, float] = field(default_factory=dict)
    waived: Mapping[str, str] = field(default_factory=dict)
    raw: RawReadings = field(default_factory=RawReadings)
    instruments: Mapping[str, str] = field(default_factory=dict)


def keep_built(
    catalogue: Catalogue,
    finished: Finished,
    measured: Measured,
    *,
    seen: Mapping[str, Seen] | None = None,
    use_parts: bool = True,
    sure: bool = False,
    by: str | None = None,
    notes: str | None = None,
) -> BuiltAnswer:
    """Keep what was measured on a finished club, and judge it.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    finished : Finished
        Which club; of an order without a unit, the first such club that is not measured yet.
    measured : Measured
        What is to be kept.
    seen : mapping of str to Seen, optional
        What whoever measured saw as kept before, by quantity; not looked at where None.
    use_parts : bool
        Whether the parts kept for the club are booked as built in once it is done.
    sure : bool
        Whether somebody has said that values were measured so that are further off than work on the club can cause.
    by, notes : str, optional
        Who, and anything else.

    Raises
    ------
    UsageError
        If nothing is given, a reason is empty, a raw reading lacks its piece or its conditions, or the order does not
        ask for the club.
    NotFoundError
        If the catalogue lacks the club, the order or a part.
    BuildError, MissingDataError
        If the club cannot be worked out.
    InQuestionError
        If a value is further off than work on the club can cause, and nobody is sure of it.
    MeasuredMeanwhileError
        If somebody else kept another result since.
    ConflictError
        If fewer parts are on hand than are kept for orders.
    """
    _check_given(finished, measured)
    today = dt.date.today()  # noqa: DTZ011 (the shop's own day)
    with catalogue.write(by=by, done=f"built {finished.club}") as writer:
        if finished.order is not None:
            unit, _ = unit_meant(writer, UnitMeant(finished.club, finished.order, finished.line, finished.unit))
            finished = replace(finished, line=unit.line, unit=unit.unit)
        now = latest_rows(writer, finished)
        if seen is not None:
            _refuse_unseen(measured, now, seen)
        finished = as_kept(finished, now)
        expected = expectation(writer, finished)
        if not sure:
            _refuse_unsure(writer, finished, measured, expected, today)
        shaft = expected.named.shaft.id
        common: dict[str, Any] = {
            "order_id": finished.order,
            "line": finished.line,
            "unit": finished.unit,
            "club_id": finished.club,
            "shaft_id": shaft,
            "shaft_sample": finished.piece,
            "taken_on": today,
            "taken_by": by,
            "notes": _notes(writer, finished, notes),
        }
        for quantity in TOLERANCES:
            if quantity not in measured.values and quantity not in measured.waived:
                continue
            aim = expected.aims[quantity]
            row: dict[str, Any] = {
                "quantity": quantity,
                "value": measured.values.get(quantity),
                "waived": measured.waived.get(quantity),
                "instrument": measured.instruments.get(quantity, finished.instrument),
            }
            row |= {} if aim.target is None else {"expected": aim.target, "expected_sd": aim.sd or None}
            # with what it was built to: only so does it tell of the shaft
            row |= {"clamp_in": expected.clamp_in, **expected.built} if quantity == "frequency" else {}
            writer.put("as_built", {**common, **row}, mode="upsert")
        for reading in measured.raw.rows():
            told = {"instrument": finished.instrument, "taken_on": today, "taken_by": by}
            told |= {name: value for name, value in reading.items() if value is not None}
            writer.put("shaft_reading", {"shaft_id": shaft, "sample": finished.piece, **told}, mode="upsert")
        moved = () if finished.order is None else begin_work(writer, (finished.order,))
        answer = answer_of(writer, finished)
        used, said = _built_in(writer, finished, by) if answer.done and use_parts else ((), ())
        change_no = writer.change_no
    # judged again: new readings of the piece are corrected and estimated with
    last = built_answer(catalogue, finished) if measured.raw.given else answer
    return replace(last, used=used, said=(*said, *moved), change_no=change_no)


def _notes(reader: Reader, finished: Finished, notes: str | None) -> str | None:
    """What is noted with the values; also why they were taken again, so that the same value of a day is a new one."""
    spoilt = rows_of(reader, finished).spoilt
    again = f"measured again as {spoilt_words(spoilt)}, change {spoilt[0].change_no}" if spoilt else ""
    return "; ".join(text for text in (notes, again) if text)[:_NOTES] or None


def _refuse_unseen(measured: Measured, now: Mapping[str, AsBuilt], seen: Mapping[str, Seen]) -> None:
    """Raise where what is kept by now is neither what was seen nor what is to be kept."""
    other = []
    for quantity in (*measured.values, *measured.waived):
        row = now.get(quantity)
        if row is None or seen.get(quantity) == (row.value, row.waived):
            continue
        if (row.value, row.waived) != (measured.values.get(quantity), measured.waived.get(quantity)):
            other.append(row)
    if other:
        raise MeasuredMeanwhileError(other)


def _refuse_unsure(
    reader: Reader, finished: Finished, measured: Measured, expected: Expectation, today: dt.date
) -> None:
    """Raise where a value is further off than work on the club can cause."""
    asked = []
    calibrations = calibrations_of(reader)
    for quantity, value in measured.values.items():
        instrument = measured.instruments.get(quantity, finished.instrument)
        true = true_value(calibrations, quantity, value, instrument, today)
        judged = judge_corrected(quantity, value, true, expected.aims[quantity], expected.facts)
        asked += [judged] if judged.judgement == Judgement.IN_QUESTION else []
    if asked:
        raise InQuestionError(asked)


def _built_in(writer: Writer, finished: Finished, by: str | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Book the parts kept for the club as built in; which, and what is to be known of the others."""
    if finished.order is None or finished.line is None or finished.unit is None:
        return (), ()
    if writer.get("order", finished.order).state not in NEEDING_PARTS:
        return (), ()
    key = UnitKey(finished.order, finished.line, finished.unit, finished.club)
    mine: list[Reservation] = writer.of_orders("reservation", (), finished.order)
    rows = [r for r in mine if r.state == HELD and (r.line, r.unit, r.club_id) == (key.line, key.unit, key.club_id)]
    book_use(writer, rows, by=by)
    unit = next(u for u in order_alone(writer, finished.order).units if u.key == key)
    missing = [f"{s.need.kind} {s.need.item_id}" for s in unit.states if s.open and s.booked]
    names = ", ".join(missing)
    told = f"not kept for it, so not booked off the shelf: {names}; keep them for the order, then book them as built in"
    said = (told,) if missing else ()
    return tuple(f"{r.kind} {r.item_id}" for r in rows), said


def _check_given(finished: Finished, measured: Measured) -> None:
    values, reasons, raw = measured.values, measured.waived, measured.raw
    unknown = [q for q in (*values, *reasons) if q not in TOLERANCES]
    if unknown:
        raise UsageError(f"'{unknown[0]}' is not measured on a club; there are: {', '.join(TOLERANCES)}")
    both = [q for q in values if q in reasons]
    if both:
        raise UsageError(f"{TOLERANCES[both[0]].title} is given and waived at once")
    empty = [q for q, why in reasons.items() if not why.strip()]
    if empty:
        raise UsageError(f"say why {TOLERANCES[empty[0]].title} is not measured")
    if not values and not reasons and not raw.given:
        raise UsageError("give at least one measured value, or a reason why one is not measured")
    if raw.given and not finished.piece:
        raise UsageError("readings of the raw shaft need the name of the piece (--piece)")
    if raw.frequency_cpm is not None and (raw.free_length_in is None or raw.tip_mass_g is None):
        raise UsageError("the frequency of the raw shaft needs its free length and tip mass")
