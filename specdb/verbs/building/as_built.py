"""Finished clubs: what was measured, held against what was fitted."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import FieldError
from specdb.orders.as_built import BuiltUnit, Judged, Judgement, judge_corrected, newest, still_wanted
from specdb.orders.tolerances import TOLERANCES
from specdb.records.rows import AsBuilt, Club
from specdb.schema import load_schema
from specdb.units import parse_quantity, unit_label
from specdb.units.writing import as_sentence
from specdb.verbs.building.expected_build import Expectation, expectation
from specdb.verbs.building.since_spoilt import Counted, counted, spoilt_by_unit, spoilt_words
from specdb.verbs.stiffness.corrections import calibrations_of, corrected_on_club
from specdb.verbs.stiffness.finished import kept_in

if TYPE_CHECKING:
    from specdb.profiles.calibration import Calibrations

_GRAMS_OR_GRAINS = re.compile(r"(.*\d)\s*grs?\.?", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """Which club came off the bench.

    Attributes
    ----------
    club : str
        Key of the fitted club it was built to.
    order : str or None
        Key of the order.
    line, unit : int or None
        Line of the order, and which of its quantity.
    shaft : str or None
        The shaft that went in; the chosen stand-in, else the fitted one where None.
    tip_trim_in : float or None
        Its tip trim, in.
    piece : str or None
        Which piece of it, as in its readings.
    instrument : str or None
        What was measured with.
    clamp_in : float or None
        Clamped length of butt for the frequency, in; 5 in where None.
    """

    club: str
    order: str | None = None
    line: int | None = None
    unit: int | None = None
    shaft: str | None = None
    tip_trim_in: float | None = None
    piece: str | None = None
    instrument: str | None = None
    clamp_in: float | None = None

    @property
    def built_unit(self) -> BuiltUnit:
        """Which club it is, whatever is in it."""
        return BuiltUnit(self.club, self.order, self.line, self.unit)


@dataclass(frozen=True, slots=True)
class BuiltAnswer:
    """A finished club, judged.

    Attributes
    ----------
    finished : Finished
        Which.
    shaft : str
        The shaft that went in.
    judged : tuple of Judged
        Every quantity that is measured or waived.
    wanted : tuple of str
        Quantities still to be measured or waived.
    rows : mapping of str to AsBuilt
        What is kept, by quantity: the latest of each.
    used : tuple of str
        Parts that were booked as built in with it, in words.
    said : tuple of str
        What should be known about the parts, in plain sentences.
    change_no : int or None
        Number of the change that kept it, where it has just been kept.
    expected : Expectation or None
        What it should come out at.
    spoilt : str
        That a part of it was spoilt after it was measured, so that it must be measured again; empty where none was, or
        it was measured again.
    fitted_shaft : str or None
        The shaft of the fitted club.
    """

    finished: Finished
    shaft: str
    judged: tuple[Judged, ...]
    wanted: tuple[str, ...]
    rows: Mapping[str, AsBuilt] = field(default_factory=dict)
    used: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    change_no: int | None = None
    expected: Expectation | None = None
    spoilt: str = ""
    fitted_shaft: str | None = None

    @property
    def done(self) -> bool:
        """Whether every measurement that is needed is in, or waived with a reason."""
        return not self.wanted

    @property
    def as_fitted(self) -> bool:
        """Whether it is done and nothing lies outside tolerance and doubt."""
        return self.done and all(j.judgement != Judgement.OUTSIDE for j in self.judged)

    @property
    def standing(self) -> str:
        """How it stands, in a plain sentence without its point: what is wanted, or that it is done, and by what."""
        if self.wanted:
            names = ", ".join(TOLERANCES[q].title for q in self.wanted)
            return f"not done: still to be measured, or waived with a reason: {names}"
        waived = [TOLERANCES[j.quantity].title for j in self.judged if j.judgement == Judgement.WAIVED]
        but = f"; not measured: {', '.join(waived)}" if waived else ""
        but += f"; shaft {self.shaft} stands in for the fitted {self.fitted_shaft}" if self.stands_in else ""
        if not self.as_fitted:
            return f"all is in, and something is outside its tolerance{but}"
        if all(j.judgement == Judgement.WAIVED for j in self.judged):
            return f"done, though nothing of it was measured{but}"
        if but:
            return f"done: what was measured is within tolerance or doubt{but}"
        return "done: it is the club that was fitted, within tolerance or doubt"

    @property
    def measure_again(self) -> str:
        """That it must be measured again, and why, in sentences; empty where it must not."""
        return f"{as_sentence(self.spoilt)} What was measured before no longer counts." if self.spoilt else ""

    @property
    def stands_in(self) -> bool:
        """Whether another shaft than the fitted one is in it."""
        return self.fitted_shaft not in (None, self.shaft)

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "club": self.finished.club,
            "order": self.finished.order,
            "line": self.finished.line,
            "unit": self.finished.unit,
            "shaft": self.shaft,
            "done": self.done,
            "as_fitted": self.as_fitted,
            "standing": self.standing,
            "still_wanted": list(self.wanted),
            "parts_built_in": list(self.used),
            "said": list(self.said),
            "spoilt": self.spoilt,
            "values": [
                {
                    "quantity": j.quantity,
                    "unit": TOLERANCES[j.quantity].unit,
                    "value": j.value,
                    "corrected": j.corrected,
                    "target": j.aim.target,
                    "target_sd": j.aim.sd,
                    "off": j.off,
                    "judgement": str(j.judgement),
                    "said": j.said,
                    "advice": j.advice,
                }
                for j in self.judged
            ],
        }


def parse_built(quantity: str, text: str) -> float:
    """Read a measured value as people write it; a swingweight as ``D2.5`` or ``D2 1/2``.

    Parameters
    ----------
    quantity : str
        One of ``TOLERANCES``.
    text : str
        As typed.

    Raises
    ------
    FieldError
        If it is no such value, or not a plausible one: its range is named, and what was understood.
    """
    from specdb.errors import SpecdbError
    from specdb.mechanics import swingweight

    table = load_schema().table("as_built")
    unit = table.value_units[quantity]
    low, high = table.value_ranges[quantity]
    try:
        if quantity == "swingweight" and text.strip()[:1].isalpha():
            value = swingweight.to_moment_in_oz(text.strip())
        elif unit == "g" and (weight := _GRAMS_OR_GRAINS.fullmatch(text.strip())):
            value = _grams(weight[1], text, low, high)
        else:
            value = parse_quantity(text, unit)
    except FieldError:
        raise
    except SpecdbError as error:
        said = f"{TOLERANCES[quantity].title}: {error}"
        raise FieldError(said, kind="as_built", field=quantity, value=text) from error
    if quantity == "swingweight" and 0.0 <= value < low:
        said = f"swingweight: '{text.strip()}' lacks its letter: write it such as D2.5"
        raise FieldError(said, kind="as_built", field=quantity, value=text)
    if not low <= value <= high:
        allowed = f"{low:g} to {high:g} {unit_label(unit)}"
        raise FieldError(
            f"{TOLERANCES[quantity].title}: '{text.strip()}' is {value:.4g} {unit_label(unit)}; {allowed} is possible: "
            "is the unit right?",
            kind="as_built",
            field=quantity,
            value=text,
            allowed=allowed,
        )
    return value


def _grams(number: str, text: str, low: float, high: float) -> float:
    """A weight in ``gr``, which is the gram to some and the grain to others: that of the two which is possible.

    Raises
    ------
    UnitError
        If both are, or neither.
    """
    found = [v for name in ("g", "grains") if low <= (v := parse_quantity(f"{number} {name}", "g")) <= high]
    return found[0] if len(found) == 1 else parse_quantity(text, "g")


def built_answer(catalogue: Catalogue, finished: Finished) -> BuiltAnswer:
    """A finished club as the catalogue has it, judged anew.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    finished : Finished
        Which club.
    """
    with catalogue.read() as reader:
        return answer_of(reader, finished)


def answer_of(reader: Reader, finished: Finished) -> BuiltAnswer:
    """A finished club as an open catalogue has it, judged anew.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    finished : Finished
        Which club; piece and clamp are those of the kept rows where it names none.
    """
    kept = rows_of(reader, finished)
    rows = _latest(reader, kept)
    whole = as_kept(finished, rows)
    expected = expectation(reader, whole)
    calibrations = calibrations_of(reader) if any(r.instrument for r in rows.values()) else None
    judged = []
    for quantity in TOLERANCES:
        row = rows.get(quantity)
        if row is None:
            continue
        aim = expected.aims[quantity]
        if row.value is None:
            judged.append(Judged(quantity, None, aim, Judgement.WAIVED, f"not measured: {row.waived}"))
        else:
            true = true_value(calibrations, quantity, row.value, row.instrument, row.taken_on)
            judged.append(judge_corrected(quantity, row.value, true, aim, expected.facts, sure=True))  # was asked
    # what nothing is known to hold against need not be measured
    nothing = {q: "no target" for q, aim in expected.aims.items() if aim.target is None}
    wanted = still_wanted(
        {q: r.value for q, r in rows.items()}, {**nothing, **{q: r.waived or "" for q, r in rows.items()}}
    )
    spoilt = spoilt_words(kept.spoilt) if wanted else ""
    club: Club = reader.get("club", finished.club)
    return BuiltAnswer(
        whole, expected.named.shaft.id, tuple(judged), tuple(wanted), rows, expected=expected, spoilt=spoilt,
        fitted_shaft=club.shaft_id,
    )  # fmt: skip


def as_kept(finished: Finished, rows: Mapping[str, AsBuilt]) -> Finished:
    """A club with the piece and the clamp of what is kept of it, where it names none.

    Parameters
    ----------
    finished : Finished
        Which club.
    rows : mapping of str to AsBuilt
        What is kept of it.
    """
    piece = next((r.shaft_sample for r in rows.values() if r.shaft_sample), None)
    clamp = rows["frequency"].clamp_in if "frequency" in rows else None
    return replace(finished, piece=finished.piece or piece, clamp_in=finished.clamp_in or clamp)


def true_value(
    calibrations: Calibrations | None, quantity: str, value: float, instrument: str | None, day: dt.date | None
) -> tuple[float, float] | None:
    """A value measured on a club, corrected for its instrument.

    Parameters
    ----------
    calibrations : Calibrations or None
        Of the shop's instruments.
    quantity : str
        One of ``TOLERANCES``.
    value : float
        As measured, in its unit.
    instrument : str or None
        What it was measured with.
    day : date or None
        When.

    Returns
    -------
    tuple of float or None
        Corrected value, and the standard deviation of the correction; None where nothing is to be corrected.
    """
    found = corrected_on_club(calibrations, quantity, value, instrument, day)
    return None if found is None else (found.value, found.common_sd)


def latest_rows(reader: Reader, finished: Finished) -> dict[str, AsBuilt]:
    """What is kept of a club and still counts, the latest by quantity.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    finished : Finished
        Which club.
    """
    return _latest(reader, rows_of(reader, finished))


def _latest(reader: Reader, kept: Counted) -> dict[str, AsBuilt]:
    return newest(kept.rows, lambda row: row.quantity, lambda row: kept_in(reader, row))


def rows_of(reader: Reader, finished: Finished) -> Counted:
    """All that is kept of a club: what counts, and what no longer does as a part was spoilt since.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    finished : Finished
        Which club.
    """
    rows: list[AsBuilt] = reader.rows("as_built", where=f"club_id = '{finished.club}'")
    mine = [r for r in rows if finished.built_unit.has(r)]
    spoilt = spoilt_by_unit(reader, finished.order) if finished.order is not None and mine else {}
    return counted(reader, mine, spoilt)
