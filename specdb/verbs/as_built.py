"""Finished clubs: what was measured, held against what was fitted, and what the shop learns from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import FieldError, UsageError
from specdb.orders.as_built import Aim, Bias, ClubFacts, Judged, Judgement, bias_of, judge, still_wanted
from specdb.orders.tolerances import TOLERANCES
from specdb.records.rows import AsBuilt, Club
from specdb.schema import load_schema
from specdb.units import parse_quantity, unit_label

if TYPE_CHECKING:
    from specdb.verbs.clubs import NamedClub

_RAW = {"raw_weight": "weight", "raw_frequency": "frequency"}


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
    """

    finished: Finished
    shaft: str
    judged: tuple[Judged, ...]
    wanted: tuple[str, ...]

    @property
    def done(self) -> bool:
        """Whether every measurement that is needed is in, or waived with a reason."""
        return not self.wanted

    @property
    def as_fitted(self) -> bool:
        """Whether it is done and nothing lies outside tolerance and doubt."""
        return self.done and all(j.judgement != Judgement.OUTSIDE for j in self.judged)

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "club": self.finished.club,
            "order": self.finished.order,
            "shaft": self.shaft,
            "done": self.done,
            "as_fitted": self.as_fitted,
            "still_wanted": list(self.wanted),
            "values": [
                {
                    "quantity": j.quantity,
                    "unit": TOLERANCES[j.quantity].unit,
                    "value": j.value,
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


@dataclass(frozen=True, slots=True)
class _Expectation:
    named: NamedClub
    aims: Mapping[str, Aim]
    facts: ClubFacts


def parse_built(quantity: str, text: str) -> float:
    """Read a measured value as people write it; a swingweight as ``D2.5``.

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
        else:
            value = parse_quantity(text, unit)
    except FieldError:
        raise
    except SpecdbError as error:
        raise FieldError(f"{quantity}: {error}", kind="as_built", field=quantity, value=text) from error
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


def built(
    catalogue: Catalogue,
    finished: Finished,
    values: Mapping[str, float],
    *,
    waived: Mapping[str, str] | None = None,
    raw: Mapping[str, float] | None = None,
    free_length_in: float | None = None,
    tip_mass_g: float | None = None,
    by: str | None = None,
    notes: str | None = None,
) -> BuiltAnswer:
    """Keep what was measured on a finished club, and judge it.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    finished : Finished
        Which club.
    values : mapping of str to float
        Measured values by quantity, in stored units.
    waived : mapping of str to str, optional
        Reasons by quantity that is not measured.
    raw : mapping of str to float, optional
        ``raw_weight`` (g) and ``raw_frequency`` (cpm) of the piece before it was cut: they become readings of it.
    free_length_in, tip_mass_g : float, optional
        Of the raw frequency.
    by, notes : str, optional
        Who, and anything else.

    Raises
    ------
    UsageError
        If nothing is given, a reason is empty, or a raw reading lacks its piece or its conditions.
    NotFoundError
        If the catalogue lacks the club, the order or a part.
    BuildError, MissingDataError
        If the club cannot be worked out.
    """
    reasons = dict(waived or {})
    rows = dict(raw or {})
    _check_given(finished, values, reasons, rows, free_length_in, tip_mass_g)
    today = dt.date.today()  # noqa: DTZ011 (the shop's own day)
    with catalogue.read() as reader:
        expected = _expectation(reader, finished)
        if finished.order is not None:
            reader.get("order", finished.order)
    shaft = expected.named.shaft.id
    common: dict[str, Any] = {
        "order_id": finished.order,
        "line": finished.line,
        "unit": finished.unit,
        "club_id": finished.club,
        "shaft_id": shaft,
        "shaft_sample": finished.piece,
        "instrument": finished.instrument,
        "taken_on": today,
        "taken_by": by,
        "notes": notes,
    }
    with catalogue.write(by=by, done=f"built {finished.club}") as writer:
        for quantity in TOLERANCES:
            if quantity not in values and quantity not in reasons:
                continue
            aim = expected.aims[quantity]
            known = {"expected": aim.target, "expected_sd": aim.sd or None} if aim.target is not None else {}
            clamp = {"clamp_in": finished.clamp_in or 5.0} if quantity == "frequency" else {}
            row = {
                "quantity": quantity,
                "value": values.get(quantity),
                "waived": reasons.get(quantity),
                **known,
                **clamp,
            }
            writer.put("as_built", {**common, **row}, mode="upsert")
        for name, value in rows.items():
            more = {"free_length_in": free_length_in, "tip_mass_g": tip_mass_g} if name == "raw_frequency" else {}
            reading = {"shaft_id": shaft, "sample": finished.piece, "quantity": _RAW[name], "value": value, **more}
            told = {"instrument": finished.instrument, "taken_on": today, "taken_by": by}
            writer.put("shaft_reading", {**reading, **told}, mode="upsert")
    return built_answer(catalogue, finished)


def _check_given(
    finished: Finished,
    values: Mapping[str, float],
    reasons: Mapping[str, str],
    raw: Mapping[str, float],
    free_length_in: float | None,
    tip_mass_g: float | None,
) -> None:
    unknown = [q for q in (*values, *reasons) if q not in TOLERANCES]
    if unknown:
        raise UsageError(f"'{unknown[0]}' is not measured on a club; there are: {', '.join(TOLERANCES)}")
    both = [q for q in values if q in reasons]
    if both:
        raise UsageError(f"{TOLERANCES[both[0]].title} is given and waived at once")
    empty = [q for q, why in reasons.items() if not why.strip()]
    if empty:
        raise UsageError(f"say why {TOLERANCES[empty[0]].title} is not measured")
    if not values and not reasons and not raw:
        raise UsageError("give at least one measured value, or a reason why one is not measured")
    if raw and not finished.piece:
        raise UsageError("readings of the raw shaft need the name of the piece (--piece)")
    if "raw_frequency" in raw and (free_length_in is None or tip_mass_g is None):
        raise UsageError("the frequency of the raw shaft needs its free length and tip mass")


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
        expected = _expectation(reader, finished)
        rows = _rows(reader, finished)
    latest: dict[str, AsBuilt] = {}
    for row in sorted(rows, key=lambda r: (r.taken_on or dt.date.min, r.id)):
        latest[row.quantity] = row
    judged = []
    for quantity in TOLERANCES:
        row_of = latest.get(quantity)
        if row_of is None:
            continue
        aim = expected.aims[quantity]
        if row_of.value is None:
            judged.append(Judged(quantity, None, aim, Judgement.WAIVED, f"not measured: {row_of.waived}"))
        else:
            judged.append(judge(quantity, row_of.value, aim, expected.facts))
    # what nothing is known to hold against need not be measured
    nothing = {q: "no target" for q, aim in expected.aims.items() if aim.target is None}
    wanted = still_wanted(
        {q: r.value for q, r in latest.items()}, {**nothing, **{q: r.waived or "" for q, r in latest.items()}}
    )
    return BuiltAnswer(finished, expected.named.shaft.id, tuple(judged), tuple(wanted))


def expected_of(catalogue: Catalogue, finished: Finished) -> tuple[Mapping[str, Aim], ClubFacts]:
    """What each quantity of a club should come out at, and what advice needs to know about it.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    finished : Finished
        Which club.
    """
    with catalogue.read() as reader:
        found = _expectation(reader, finished)
    return found.aims, found.facts


def _rows(reader: Reader, finished: Finished) -> list[AsBuilt]:
    rows: list[AsBuilt] = reader.rows("as_built", where=f"club_id = '{finished.club}'")
    same = [r for r in rows if r.order_id == finished.order]
    if finished.line is not None:
        same = [r for r in same if r.line == finished.line]
    return [r for r in same if r.unit == finished.unit] if finished.unit is not None else same


def _expectation(reader: Reader, finished: Finished) -> _Expectation:
    from specdb.mechanics import swingweight
    from specdb.mechanics.assembly import assemble
    from specdb.mechanics.constants import IN
    from specdb.verbs.build_sheet import SheetRequest, build_of
    from specdb.verbs.mechanics import club_values

    record: Club = reader.get("club", finished.club)
    request = SheetRequest(
        finished.club, finished.shaft, finished.tip_trim_in, finished.order, finished.line, finished.unit
    )
    named = build_of(reader, request, piece=finished.piece, clamp_in=finished.clamp_in)
    numbers = club_values(named)
    sd = numbers["sd"]
    build = assemble(named.parts()).build
    head = named.head
    moment = (
        numbers["swing_moment_in_oz"] if record.swingweight is None else swingweight.to_moment_in_oz(record.swingweight)
    )
    aims = {
        "length": Aim(record.playing_length_in),
        "weight": Aim(numbers["total_weight_g"], sd["total_weight_g"] or 0.0),
        "swingweight": Aim(moment),
        "frequency": Aim(numbers["frequency_cpm"], sd["frequency_cpm"] or 0.0),
        "loft": Aim(record.loft_deg if record.loft_deg is not None else head.loft_deg),
        "lie": Aim(record.lie_deg if record.lie_deg is not None else head.lie_deg),
        "grip_size": Aim(None),
        "head_weight": Aim(
            None if head.weight_g is None else head.weight_g + numbers["head_add_g"], sd["head_add_g"] or 0.0
        ),
    }
    arm = (build.grip_cap_m + build.cut_length_m - build.insertion_m + build.head_cg_m) / IN
    return _Expectation(named, aims, ClubFacts(arm, numbers["head_add_g"], head.max_bend_deg))


@dataclass(frozen=True, slots=True)
class BiasAnswer:
    """What the shop's clubs come out at against what was predicted.

    Attributes
    ----------
    all : tuple of Bias
        By quantity.
    by_instrument : tuple of Bias
        By quantity and instrument, where one is named.
    by_month : tuple of (str, Bias)
        By month and quantity.
    """

    all: tuple[Bias, ...]
    by_instrument: tuple[Bias, ...]
    by_month: tuple[tuple[str, Bias], ...] = field(default=())

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "all": [_bias_json(b) for b in self.all],
            "by_instrument": [_bias_json(b) for b in self.by_instrument],
            "by_month": [{"month": month, **_bias_json(b)} for month, b in self.by_month],
        }


def bias(catalogue: Catalogue) -> BiasAnswer:
    """How predictions compare with what was built, over all finished clubs.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    with catalogue.read() as reader:
        rows: list[AsBuilt] = reader.rows("as_built", order_by=("taken_on", "id"))
    known = [r for r in rows if r.value is not None and r.expected is not None]

    def sums(some: Sequence[AsBuilt], instrument: str = "") -> list[Bias]:
        found = []
        for quantity in TOLERANCES:
            own = [r for r in some if r.quantity == quantity]
            if own:
                off = [float(r.value or 0.0) - float(r.expected or 0.0) for r in own]
                found.append(bias_of(quantity, instrument, off, [r.expected_sd or 0.0 for r in own]))
        return found

    instruments = sorted({r.instrument for r in known if r.instrument})
    months = sorted({f"{r.taken_on:%Y-%m}" for r in known if r.taken_on})
    return BiasAnswer(
        all=tuple(sums(known)),
        by_instrument=tuple(b for i in instruments for b in sums([r for r in known if r.instrument == i], i)),
        by_month=tuple(
            (m, b) for m in months for b in sums([r for r in known if r.taken_on and f"{r.taken_on:%Y-%m}" == m])
        ),
    )


def _bias_json(found: Bias) -> dict[str, Any]:
    def plain(value: float) -> float | None:
        return value if value == value else None  # noqa: PLR0124 (NaN)

    return {
        "quantity": found.quantity,
        "unit": TOLERANCES[found.quantity].unit,
        "instrument": found.instrument or None,
        "clubs": found.count,
        "mean": found.mean,
        "mean_sd": plain(found.mean_sd),
        "spread": plain(found.spread),
        "ratio_to_stated_doubt": plain(found.ratio),
        "found": found.found,
    }
