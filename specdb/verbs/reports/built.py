"""Reports on finished clubs: stand-ins used and how they measured, and predicted against built."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from specdb.catalogue import Catalogue
from specdb.orders.choosing import CHOSEN, latest_first
from specdb.orders.needs import USED
from specdb.orders.tolerances import SWINGWEIGHT_POINT_IN_OZ, TOLERANCES
from specdb.records.rows import AsBuilt, Choice, Club, Reservation
from specdb.units import unit_label
from specdb.verbs.building.built_bias import bias_over, corrected_values, once_each
from specdb.verbs.orders.changes import today as shop_day
from specdb.verbs.reports.types import Report, ReportColumn
from specdb.verbs.stiffness.finished import newest_of_clubs

__all__ = ["ErrorLine", "ErrorPoint", "StandInLine", "errors_report", "stand_in_report"]


_NOT_USED = "not used yet"


@dataclass(frozen=True, slots=True)
class StandInLine:
    """A stand-in that was chosen for a club, where it went, and how that club measured.

    Attributes
    ----------
    club_id, fitted, stand_in : str
        The club, the shaft it was fitted with, and the stand-in.
    tip_trim_in, score : float or None
        As chosen.
    chosen_by, why : str or None
        Who and why.
    chosen_on : date or None
        When.
    where : str
        ``built in o-1040``, ``kept for o-1043``, ``not used yet``, or ``replaced by sedge on 2031-05-02`` where another
        one was chosen later and the club was built with it.
    frequency_cpm, off_expected_cpm, off_fitted_cpm : float or None
        Measured frequency as it was read; corrected for its meter, less what was expected of it, and less the
        frequency of the fitted club.
    off_swingweight : float or None
        Measured swingweight less expected, points.
    off_weight_g, off_length_in : float or None
        Measured less expected.
    """

    club_id: str
    fitted: str
    stand_in: str
    tip_trim_in: float | None
    score: float | None
    chosen_by: str | None
    chosen_on: dt.date | None
    why: str | None
    where: str
    frequency_cpm: float | None
    off_expected_cpm: float | None
    off_fitted_cpm: float | None
    off_swingweight: float | None
    off_weight_g: float | None
    off_length_in: float | None


def stand_in_report(catalogue: Catalogue, *, day: dt.date | None = None) -> Report:
    """Stand-ins that were chosen, where they went, and how the clubs measured; the latest decision first.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    day : date or None
        The day it is of; today where None.
    """
    with catalogue.read() as reader:
        chosen: list[Choice] = [c for c in reader.rows("choice") if c.decision == CHOSEN]
        clubs: dict[str, Club] = {c.id: c for c in reader.rows("club")}
        kept: list[Reservation] = [r for r in reader.rows("reservation") if r.kind == "shaft"]
        built = list(newest_of_clubs(reader, reader.rows("as_built", order_by=("taken_on", "id"))).values())
        corrected = corrected_values(reader, built)
    lines: list[StandInLine] = []
    for choice in latest_first(chosen):
        mine = _stand_in_lines(choice, clubs[choice.club_id], kept, built, corrected)
        if mine[0].where == _NOT_USED:
            mine = [replace(line, where=_replaced(choice, chosen, kept, built)) for line in mine]
        lines += mine
    measured = [line.off_expected_cpm for line in lines if line.off_expected_cpm is not None]
    said = [
        "Off expected: measured less what was worked out for the club with the stand-in.",
        "Off fitted: measured less the frequency of the fitted club.",
        "Measured is corrected for its instrument, but as it was read in the column cpm.",
    ]
    if measured:
        mean = sum(measured) / len(measured)
        said.append(f"{len(measured)} measured: {mean:+.1f} cpm off what was expected, on average.")
    columns = (
        ReportColumn("club_id", "club", keep=True),
        ReportColumn("stand_in", "stand-in", keep=True),
        ReportColumn("where", "where", wraps=True, keep=True),
        ReportColumn("frequency_cpm", "cpm", number=True, decimals=0),
        ReportColumn("off_expected_cpm", "off expected, cpm", number=True, decimals=1, signed=True, keep=True),
        ReportColumn("off_fitted_cpm", "off fitted, cpm", number=True, decimals=1, signed=True),
        ReportColumn("off_swingweight", "swingweight off, points", number=True, decimals=1, signed=True),
        ReportColumn("off_weight_g", "weight off, g", number=True, decimals=1, signed=True),
        ReportColumn("off_length_in", "length off, in", number=True, decimals=3, signed=True),
        ReportColumn("score", "score", number=True, decimals=2),
        ReportColumn("tip_trim_in", "tip trim, in", number=True, decimals=3),
        ReportColumn("fitted", "fitted with"),
        ReportColumn("chosen_on", "chosen on"),
        ReportColumn("chosen_by", "by"),
        ReportColumn("why", "why", wraps=True),
    )
    text = "No stand-in was chosen yet."
    return Report(
        "stand-ins",
        "Stand-ins used, and how they measured",
        day or shop_day(),
        columns,
        tuple(lines),
        tuple(said),
        text,
    )


def _replaced(choice: Choice, chosen: Sequence[Choice], kept: Sequence[Reservation], built: Sequence[AsBuilt]) -> str:
    """Where a stand-in that was never used stands: it waits, or another one was chosen later and built in."""
    own = latest_first(c for c in chosen if c.club_id == choice.club_id)
    later = own[: own.index(choice)]
    used = {r.item_id for r in kept if r.club_id == choice.club_id and r.state == USED}
    used |= {b.shaft_id for b in built if b.club_id == choice.club_id and b.shaft_id}
    other = next((c for c in reversed(later) if c.shaft_id in used and c.shaft_id != choice.shaft_id), None)
    if other is None:
        return _NOT_USED
    return f"replaced by {other.shaft_id}" + (f" on {other.on.isoformat()}" if other.on else "")


def _stand_in_lines(
    choice: Choice,
    club: Club,
    kept: Sequence[Reservation],
    built: Sequence[AsBuilt],
    corrected: Callable[[AsBuilt], float],
) -> list[StandInLine]:
    """One line a club that it went into or is kept for; one in all where there is none."""
    mine = [r for r in kept if (r.club_id, r.item_id) == (club.id, choice.shaft_id)]
    rows = [b for b in built if (b.club_id, b.shaft_id) == (club.id, choice.shaft_id)]
    places = {
        (r.order_id, r.line, r.unit): f"{'built in' if r.state == USED else 'kept for'} {r.order_id}" for r in mine
    }
    for b in rows:
        if not any(key[0] == b.order_id and b.unit in (None, key[2]) for key in places):
            where = f"built in {b.order_id}" if b.order_id else "built without an order"
            places[b.order_id or "", b.line or 0, b.unit or 0] = where
    found = []
    for (order, line, unit), where in (places or {("", 0, 0): _NOT_USED}).items():
        own = [b for b in rows if (b.order_id or "") == order and b.line in (None, line) and b.unit in (None, unit)]
        off = {
            b.quantity: round(corrected(b) - b.expected, 6)
            for b in own
            if b.value is not None and b.expected is not None
        }
        read = next((b for b in reversed(own) if b.quantity == "frequency"), None)
        cpm = None if read is None else read.value
        fitted = club.frequency_cpm
        found.append(
            StandInLine(
                club_id=club.id,
                fitted=club.shaft_id,
                stand_in=choice.shaft_id,
                tip_trim_in=choice.tip_trim_in,
                score=choice.score,
                chosen_by=choice.by,
                chosen_on=choice.on,
                why=choice.why,
                where=where,
                frequency_cpm=cpm,
                off_expected_cpm=off.get("frequency"),
                off_fitted_cpm=None
                if read is None or cpm is None or fitted is None
                else round(corrected(read) - fitted, 6),
                off_swingweight=off["swingweight"] / SWINGWEIGHT_POINT_IN_OZ if "swingweight" in off else None,
                off_weight_g=off.get("weight"),
                off_length_in=off.get("length"),
            )
        )
    return found


@dataclass(frozen=True, slots=True)
class ErrorLine:
    """How predictions of one quantity compare with what was built.

    Attributes
    ----------
    quantity, unit : str
        What was measured, and in what.
    instrument : str
        With what; ``all`` for all together.
    clubs : int
        Values.
    bias, bias_sd : float
        Measured, corrected for its instrument, less expected: mean, and the standard deviation of that mean.
    spread : float or None
        Standard deviation of single differences.
    tolerance : float
        Build tolerance of the quantity.
    ratio : float or None
        Differences over their stated doubt, root mean square; about 1 where the doubt is stated right.
    found : bool
        Whether the bias is more than chance explains.
    first_on, last_on : date or None
        From when to when.
    """

    quantity: str
    unit: str
    instrument: str
    clubs: int
    bias: float
    bias_sd: float | None
    spread: float | None
    tolerance: float
    ratio: float | None
    found: bool
    first_on: dt.date | None
    last_on: dt.date | None


@dataclass(frozen=True, slots=True)
class ErrorPoint:
    """One measured value beside what was expected; what it is off is that of the corrected value."""

    quantity: str
    instrument: str
    taken_on: dt.date | None
    order_id: str | None
    club_id: str
    value: float
    corrected: float
    expected: float
    off: float
    in_tolerances: float


def errors_report(catalogue: Catalogue, *, day: dt.date | None = None) -> Report:
    """Predicted against built: bias and spread by quantity and instrument; the same figures as ``bias`` has.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    day : date or None
        The day it is of; today where None.
    """
    with catalogue.read() as reader:
        rows: list[AsBuilt] = reader.rows("as_built", order_by=("taken_on", "id"))
        known, read_with = once_each(reader, rows)
        corrected = corrected_values(reader, rows)
    lines = []
    for quantity in TOLERANCES:
        own, each = ([r for r in some if r.quantity == quantity] for some in (known, read_with))
        names = sorted({r.instrument for r in each if r.instrument})
        groups = [("all", own)] + [(n, [r for r in each if r.instrument == n]) for n in names if len(names) > 1]
        lines += [_error_line(quantity, name, some, corrected) for name, some in groups if some]
    found = [line for line in lines if line.found]
    said = [
        f"{line.quantity}, {line.instrument}: {line.bias:+.2g} {line.unit} on average, more than chance explains."
        for line in found
    ]
    said.append("Bias: measured, corrected for its instrument, less expected; the mean.")
    further = (
        "± sd: one standard deviation of that mean; a club measured twice counts once.",
        "Spread: one standard deviation of single clubs.",
        "Ratio: differences over their stated doubt; about 1 where the doubt is stated right.",
    )
    columns = (
        ReportColumn("quantity", "quantity", keep=True),
        ReportColumn("instrument", "instrument", keep=True, wraps=True),
        ReportColumn("clubs", "clubs", number=True, keep=True),
        ReportColumn("bias", "bias", number=True, decimals=3, signed=True, keep=True),
        ReportColumn("bias_sd", "± sd", number=True, decimals=3),
        ReportColumn("spread", "spread", number=True, decimals=3, keep=True),
        ReportColumn("unit", "unit", keep=True),
        ReportColumn("tolerance", "tolerance", number=True, decimals=3),
        ReportColumn("ratio", "ratio", number=True, decimals=2),
        ReportColumn("found", "not chance"),
        ReportColumn("first_on", "from"),
        ReportColumn("last_on", "to"),
    )
    points = tuple(
        ErrorPoint(
            r.quantity,
            r.instrument or "not said",
            r.taken_on,
            r.order_id,
            r.club_id,
            float(r.value or 0.0),
            round(corrected(r), 6),
            float(r.expected or 0.0),
            round(corrected(r) - float(r.expected or 0.0), 6),
            round((corrected(r) - float(r.expected or 0.0)) / TOLERANCES[r.quantity].within, 6),
        )
        for r in known
    )
    return Report(
        "errors",
        "Predicted against built",
        day or shop_day(),
        columns,
        tuple(lines),
        tuple(said) if lines else (),
        "No finished club was measured against what was expected of it.",
        {"readings": points},
        further if lines else (),
    )


def _error_line(
    quantity: str, instrument: str, rows: Sequence[AsBuilt], corrected: Callable[[AsBuilt], float]
) -> ErrorLine:
    found = bias_over(quantity, instrument, rows, corrected)
    days = [r.taken_on for r in rows if r.taken_on]
    return ErrorLine(
        quantity=TOLERANCES[quantity].title,
        unit=unit_label(TOLERANCES[quantity].unit),
        instrument=instrument,
        clubs=found.count,
        bias=round(found.mean, 6),
        bias_sd=_number(found.mean_sd),
        spread=_number(found.spread),
        tolerance=TOLERANCES[quantity].within,
        ratio=_number(found.ratio),
        found=found.found,
        first_on=min(days, default=None),
        last_on=max(days, default=None),
    )


def _number(value: float) -> float | None:
    return round(value, 6) if value == value else None  # noqa: PLR0124 (NaN)
