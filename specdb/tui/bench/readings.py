"""From what is typed at the bench to readings, and what the estimate says about each of them."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.errors import SpecdbError, indefinite
from specdb.mechanics.constants import IN
from specdb.records.rows import ShaftReading
from specdb.tui.bench.setup import Slot
from specdb.units import parse_quantity, unit_label
from specdb.verbs.catalogue.forms import form_of, read_value

if TYPE_CHECKING:
    from specdb.profiles.estimate import Evidence, ProfileEstimate
    from specdb.verbs.stiffness.bench import BenchShaft

_NUMBERED = re.compile(r"^(.*?)(\d{1,6})$")
_IN_MM = re.compile(r"^(.*\d)\s*mm$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Typed:
    """One entry as it was read.

    Attributes
    ----------
    slot : Slot
        The entry.
    value : float or None
        In the unit of the quantity; None where nothing stands there or it cannot be taken.
    error : str
        Why it cannot be taken; empty where it can.
    """

    slot: Slot
    value: float | None
    error: str = ""


def read_slot(slot: Slot, text: str) -> Typed:
    """Read one entry.

    Parameters
    ----------
    slot : Slot
        The entry.
    text : str
        What stands in it; a three-point reading may be a deflection in mm, where span and load are set up.
    """
    text = text.strip()
    if not text:
        return Typed(slot, None)
    in_mm = _IN_MM.match(text) if slot.quantity == "ei" else None
    if in_mm is not None:
        return _from_deflection(slot, in_mm[1])
    return _checked(slot, text)


def _checked(slot: Slot, text: str) -> Typed:
    form = form_of("shaft_reading")
    read = read_value(form, "value", text, {"quantity": slot.quantity})
    if read.error or read.value is None:
        return Typed(slot, None, read.error)
    low, high = form.table.value_ranges[slot.quantity]
    if not low <= read.value <= high:
        what = "an EI" if slot.quantity == "ei" else indefinite(slot.quantity)
        unit = unit_label(form.table.value_units[slot.quantity])
        return Typed(slot, None, f"{what} is from {low:g} to {high:g} {unit}")
    return Typed(slot, read.value)


def _from_deflection(slot: Slot, text: str) -> Typed:
    """EI of a three-point reading from its deflection: ``P·L³/(48·δ)``, Timoshenko & Gere, Mechanics of Materials."""
    span, load = slot.fields.get("span_in"), slot.fields.get("load_n")
    if span is None or load is None:
        return Typed(slot, None, "a deflection in mm needs the span and the load of the jig: e sets them up")
    try:
        bent = parse_quantity(text, "mm")
    except SpecdbError as error:
        return Typed(slot, None, str(error))
    if bent <= 0.0:
        return Typed(slot, None, "a deflection must be above 0 mm")
    value = load * (span * IN) ** 3 / (48.0 * bent * 1e-3)
    return _checked(slot, f"{value:.6g}")


def readings_of(typed: Sequence[Typed], shaft_id: str, piece: str, day: dt.date, by: str) -> list[ShaftReading]:
    """The readings that can be taken.

    Parameters
    ----------
    typed : sequence of Typed
        The entries.
    shaft_id, piece : str
        What was read.
    day : date
        When.
    by : str
        By whom; may be empty.
    """
    return [
        ShaftReading(
            id=t.slot.id,
            shaft_id=shaft_id,
            sample=piece,
            quantity=t.slot.quantity,
            value=t.value,
            taken_on=day,
            taken_by=by or None,
            **t.slot.fields,
        )
        for t in typed
        if t.value is not None
    ]


def next_piece(pieces: Sequence[str]) -> str:
    """A name for a piece that was not measured yet: readings of two pieces must not be mixed up.

    Parameters
    ----------
    pieces : sequence of str
        Names of those that were.
    """
    numbered = [m for name in pieces if (m := _NUMBERED.match(name))]
    if not numbered:
        return "piece 1"
    stem = numbered[-1][1]
    return f"{stem}{max(int(m[2]) for m in numbered if m[1] == stem) + 1}"


@dataclass(frozen=True, slots=True)
class Judged:
    """The profile with what is typed, and what it says of each entry.

    Attributes
    ----------
    estimate : ProfileEstimate
        The profile.
    refused : mapping of str to str
        Why an entry can be no reading of this shaft, by slot.
    evidence : mapping of str to Evidence
        Each entry beside the estimated shaft, by slot.
    """

    estimate: ProfileEstimate
    refused: Mapping[str, str]
    evidence: Mapping[str, Evidence]


def judge(bench: BenchShaft, readings: Sequence[ShaftReading]) -> Judged:
    """Estimate a shaft with readings that are not kept yet; for jobs.

    Parameters
    ----------
    bench : BenchShaft
        The shaft.
    readings : sequence of ShaftReading
        The readings; their ids are those of the slots.
    """
    from specdb.profiles.contradictions import Refused
    from specdb.profiles.evidence import make_case, reading_of

    estimate = bench.with_readings(readings)
    case = make_case(bench.shaft)
    by_name = {e.name: e for e in estimate.evidence}
    against = {r.name: r.reason for r in estimate.refused}
    refused: dict[str, str] = {}
    evidence: dict[str, Evidence] = {}
    for reading in readings:
        made = reading_of(reading, case)
        if isinstance(made, Refused):
            refused[reading.id] = made.reason
        elif made is not None and made.name in by_name:
            evidence[reading.id] = by_name[made.name]
        elif made is not None and made.name in against:
            refused[reading.id] = against[made.name]
    return Judged(estimate, refused, evidence)
