"""Whether the club that comes off the bench is the club that was fitted, and what to do where it is not.

A value within its tolerance of the target is as wanted. One outside may still be no fault of the work: what was
expected is itself known to a standard deviation only, and within two of those the difference is said to be within
doubt. Beyond both, something is to be done, and how much is worked out from the club.

References
----------
Swingweight is the moment about a fulcrum 14 in from the butt; one point is 1.75 in·oz (common practice, no source), so
a gram at a distance ``d`` in from the fulcrum is worth ``d/28.3495`` in·oz.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple, TypeVar

from specdb.orders.measured_words import value_words
from specdb.orders.tolerances import SWINGWEIGHT_POINT_IN_OZ, TOLERANCES, Tolerance
from specdb.records.rows import AsBuilt
from specdb.units.lengths import cut_length, difference_words

_Of = TypeVar("_Of", bound=Hashable)

OZ_G = 28.349523125
FULCRUM_IN = 14.0
DOUBT_SDS = 2.0
_GRIP_POINTS_PER_G = -0.2  # 5 g of grip are about a point (common practice, no source)
# less than what is written shows nothing
_NOTHING = {"in": 0.0005, "g": 0.05, "cpm": 0.05, "deg": 0.05, "in_oz": 0.05 * SWINGWEIGHT_POINT_IN_OZ}
_WORKED_OUT = ("weight", "frequency", "head_weight")  # as against ordered
_BUTT_EXTENSION = "a butt extension is a repair-grade measure, to be agreed with the customer"


class BuiltUnit(NamedTuple):
    """One finished club: the fitted club it was built to, and which of an order; None: without, or any of it."""

    club: str
    order: str | None = None
    line: int | None = None
    unit: int | None = None

    def has(self, row: AsBuilt) -> bool:
        """Whether a value was measured on it.

        Parameters
        ----------
        row : AsBuilt
            The value.
        """
        same = (row.club_id, row.order_id) == (self.club, self.order)
        return same and self.line in (None, row.line) and self.unit in (None, row.unit)


def unit_of(row: AsBuilt) -> BuiltUnit:
    """The club that a value was measured on.

    Parameters
    ----------
    row : AsBuilt
        The value.
    """
    return BuiltUnit(row.club_id, row.order_id, row.line, row.unit)


def newest(
    rows: Iterable[AsBuilt], what: Callable[[AsBuilt], _Of], kept_in: Callable[[AsBuilt], int]
) -> dict[_Of, AsBuilt]:
    """The newest value of each thing, so that what was measured twice counts once.

    Parameters
    ----------
    rows : iterable of AsBuilt
        Values.
    what : callable
        What a value is of.
    kept_in : callable
        The change in which a value was kept; asked only for two of one day, of which the one kept last counts.
    """
    found: dict[_Of, AsBuilt] = {}
    for row in sorted(rows, key=lambda r: r.taken_on or dt.date.min):
        before = found.get(what(row))
        if before is None or before.taken_on != row.taken_on or kept_in(row) > kept_in(before):
            found[what(row)] = row
    return found


class Judgement(StrEnum):
    """What a measured value is."""

    AS_WANTED = "as_wanted"
    WITHIN_DOUBT = "within_doubt"
    OUTSIDE = "outside"
    IN_QUESTION = "in_question"
    WAIVED = "waived"
    NO_TARGET = "no_target"
    NOT_MEASURED = "not_measured"


@dataclass(frozen=True, slots=True)
class ClubFacts:
    """What advice needs to know about a club.

    Attributes
    ----------
    head_arm_in : float
        From the butt to the centre of gravity of the head, in.
    head_add_g : float
        Weight that was to be added at the head, g.
    max_bend_deg : float or None
        How far the head may be bent.
    """

    head_arm_in: float
    head_add_g: float
    max_bend_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Aim:
    """What a quantity should be.

    Attributes
    ----------
    target : float or None
        As fitted, or as expected of the build; None where nobody knows.
    sd : float
        How well the target is known, one standard deviation.
    """

    target: float | None
    sd: float = 0.0


@dataclass(frozen=True, slots=True)
class Judged:
    """One measured value, judged.

    Attributes
    ----------
    quantity : str
        What was measured.
    value : float or None
        As measured.
    aim : Aim
        What it should be.
    judgement : Judgement
        In one word.
    said : str
        How far off, in words.
    advice : str
        What to do; empty where nothing is.
    corrected : float or None
        The value corrected for its instrument, which is what was judged; None where nothing was to be corrected.
    """

    quantity: str
    value: float | None
    aim: Aim
    judgement: Judgement
    said: str
    advice: str = ""
    corrected: float | None = None

    @property
    def off(self) -> float | None:
        """Value, corrected where it is, less target."""
        value = self.value if self.corrected is None else self.corrected
        return None if value is None or self.aim.target is None else value - self.aim.target


def judge_corrected(
    quantity: str, value: float, true: tuple[float, float] | None, aim: Aim, facts: ClubFacts, *, sure: bool = False
) -> Judged:
    """Judge one measured value by what it is after the correction of its instrument.

    Parameters
    ----------
    quantity : str
        One of ``TOLERANCES``.
    value : float
        As measured, in its unit.
    true : tuple of float or None
        Corrected value, and the standard deviation of the correction; None where nothing is to be corrected.
    aim : Aim
        What it should be.
    facts : ClubFacts
        Of the club.
    sure : bool
        Whether somebody has said that it was measured so.
    """
    if true is None:
        return judge(quantity, value, aim, facts, sure=sure)
    corrected, sd = true
    found = judge(quantity, corrected, replace(aim, sd=math.hypot(aim.sd, sd)), facts, sure=sure)
    return replace(found, value=value, corrected=corrected)


def judge(quantity: str, value: float, aim: Aim, facts: ClubFacts, *, sure: bool = False) -> Judged:
    """Judge one measured value.

    Parameters
    ----------
    quantity : str
        One of ``TOLERANCES``.
    value : float
        As measured, in its unit.
    aim : Aim
        What it should be.
    facts : ClubFacts
        Of the club.
    sure : bool
        Whether somebody has said that it was measured so, however far off it is.
    """
    tolerance = TOLERANCES[quantity]
    if aim.target is None:
        return Judged(quantity, value, aim, Judgement.NO_TARGET, "nothing is known to hold it against")
    off = value - aim.target
    # a value read to the last mark of a scale is not outside for its rounding
    inside = abs(off) <= tolerance.within * (1.0 + 1e-9) + 1e-9
    words = off_words(quantity, off)
    if not sure and abs(off) > tolerance.doubted + DOUBT_SDS * aim.sd:
        return Judged(quantity, value, aim, Judgement.IN_QUESTION, question_words(quantity, value, off))
    if inside:
        return Judged(quantity, value, aim, Judgement.AS_WANTED, words)
    if aim.sd > 0.0 and abs(off) <= tolerance.within + DOUBT_SDS * aim.sd:
        told = f"{words}: within doubt, as it was expected to ± {_plain(aim.sd, tolerance)} only"
        return Judged(quantity, value, aim, Judgement.WITHIN_DOUBT, told, _doubt_advice(quantity, off))
    return Judged(quantity, value, aim, Judgement.OUTSIDE, words, advice(quantity, off, facts))


def question_words(quantity: str, value: float, off: float) -> str:
    """The question whether a value was measured so.

    Parameters
    ----------
    quantity : str
        What was measured.
    value, off : float
        The value, and the value less its target, in its unit.
    """
    amount, unit = abs(off), TOLERANCES[quantity].unit
    if unit == "in":
        size = difference_words(amount).partition(" (")[0]
    elif unit == "in_oz":
        size = f"{amount / SWINGWEIGHT_POINT_IN_OZ:.1f} points"
    else:
        size = f"{amount:.1f}{'°' if unit == 'deg' else f' {unit}'}"
    aim = "expected" if quantity in _WORKED_OUT else "ordered"
    return f"{value_words(quantity, value)} is {size} {'more' if off > 0 else 'less'} than {aim}: measured again?"


def off_words(quantity: str, off: float) -> str:
    """How far off a value is, in the words of the trade.

    Parameters
    ----------
    quantity : str
        What was measured.
    off : float
        Value less target, in its unit.
    """
    amount, up = abs(off), off > 0
    if amount < _NOTHING.get(TOLERANCES[quantity].unit, 0.0):
        return "just as wanted"
    if quantity == "length":
        return f"{difference_words(amount)} {'long' if up else 'short'}"
    if quantity == "swingweight":
        points = amount / SWINGWEIGHT_POINT_IN_OZ
        return f"{points:.1f} points {'heavy' if up else 'light'}"
    if quantity == "frequency":
        return f"{amount:.1f} cpm {'stiff' if up else 'soft'}"
    if quantity in ("weight", "head_weight"):
        return f"{amount:.1f} g {'heavy' if up else 'light'}"
    if quantity == "loft":
        return f"{amount:.1f}° {'weak' if up else 'strong'}"
    if quantity == "lie":
        return f"{amount:.1f}° {'upright' if up else 'flat'}"
    return f"{amount:.3f} in {'over' if up else 'under'}"


def advice(quantity: str, off: float, facts: ClubFacts) -> str:
    """What to do about a value that is off.

    Parameters
    ----------
    quantity : str
        What was measured.
    off : float
        Value less target, in its unit.
    facts : ClubFacts
        Of the club.
    """
    up, amount = off > 0, abs(off)
    if quantity == "swingweight":
        return _swingweight_advice(off, facts)
    if quantity == "length":
        if up:
            return f"cut {cut_length(amount)} off the butt under the grip, and measure the swingweight again"
        return f"it cannot be cut longer: {_BUTT_EXTENSION}; else build it again"
    if quantity == "frequency":
        return (
            "check the clamp, that no grip is on, and the weight at the head, and measure again; the tip can no longer "
            "be cut: tell the fitter, and measure the next piece before it is glued"
        )
    if quantity == "weight":
        return "weigh what was added and the grip with its tape; tell the fitter"
    if quantity == "head_weight":
        return f"{'take off' if up else 'add'} {amount:.1f} g before it is glued"
    if quantity in ("loft", "lie"):
        return _bend_advice(quantity, off, facts)
    return f"{'less' if up else 'more'} tape under the grip"


def _swingweight_advice(off: float, facts: ClubFacts) -> str:
    arm = facts.head_arm_in - FULCRUM_IN
    grams = abs(off) * OZ_G / arm
    if off < 0:
        return f"add {grams:.1f} g at the head"
    taken = min(grams, facts.head_add_g)
    parts = []
    if taken >= 0.05:
        parts.append(f"take {taken:.1f} g off the head")
    left = (grams - taken) * arm / OZ_G / SWINGWEIGHT_POINT_IN_OZ
    if left >= 0.1:
        butt = left / abs(_GRIP_POINTS_PER_G)
        parts.append(f"{'the rest is' if parts else 'it is'} {left:.1f} points: about {butt:.0f} g more at the butt")
    return ", ".join(parts) or "nothing that could be weighed"


def _bend_advice(quantity: str, off: float, facts: ClubFacts) -> str:
    limit = facts.max_bend_deg
    way = ("stronger" if off > 0 else "weaker") if quantity == "loft" else ("flatter" if off > 0 else "more upright")
    told = f"{abs(off):.1f}° {way}"
    if limit is None:
        return f"bend it {told} only if the head's maker allows it: the limit is unknown"
    if abs(off) > limit:
        return f"it would have to be bent {told}, and the head allows {limit:g}°: tell the fitter"
    return f"bend it {told}, in a proper fixture and within the head's {limit:g}°"


def _doubt_advice(quantity: str, off: float) -> str:
    if quantity == "frequency":
        return "it plays as measured; let the fitter decide, and keep the reading: it tells about the next piece"
    return "" if abs(off) == 0 else "let the fitter decide"


def _plain(sd: float, tolerance: Tolerance) -> str:
    if tolerance.quantity == "swingweight":
        return f"{sd / SWINGWEIGHT_POINT_IN_OZ:.1f} points"
    unit = {"deg": "°", "in": " in", "g": " g", "cpm": " cpm"}[tolerance.unit]
    return f"{sd:.2g}{unit}" if tolerance.unit == "in" else f"{sd:.1f}{unit}"


def still_wanted(
    measured: Mapping[str, float | None], waived: Mapping[str, str], asked: Sequence[str] = ()
) -> list[str]:
    """Quantities without which a club is not done.

    Parameters
    ----------
    measured : mapping of str to float or None
        Values by quantity.
    waived : mapping of str to str
        Reasons by quantity, for those that are not measured.
    asked : sequence of str
        Quantities wanted beyond those that always are.
    """
    wanted = [q for q, t in TOLERANCES.items() if t.required or q in asked]
    return [q for q in wanted if measured.get(q) is None and not waived.get(q, "").strip()]


@dataclass(frozen=True, slots=True)
class Bias:
    """How predictions compare with what was built.

    Attributes
    ----------
    quantity : str
        What was measured.
    instrument : str
        With what; empty for all together.
    count : int
        Clubs.
    mean : float
        Measured less expected, mean.
    mean_sd : float
        Standard deviation of that mean.
    spread : float
        Standard deviation of single differences; NaN for one.
    ratio : float
        Root mean square of difference over its expected standard deviation: 1 where the stated doubt is right.
    """

    quantity: str
    instrument: str
    count: int
    mean: float
    mean_sd: float
    spread: float
    ratio: float

    @property
    def found(self) -> bool:
        """Whether the mean is further from nothing than chance explains (two standard deviations, three clubs)."""
        return self.count >= 3 and abs(self.mean) > 2.0 * self.mean_sd


def bias_of(quantity: str, instrument: str, differences: Sequence[float], expected_sd: Sequence[float]) -> Bias:
    """Sum differences up.

    Parameters
    ----------
    quantity, instrument : str
        Of what, with what.
    differences : sequence of float
        Measured less expected, one a club; at least one.
    expected_sd : sequence of float
        What each was expected to; 0 where unknown.
    """
    count = len(differences)
    mean = sum(differences) / count
    spread = (sum((d - mean) ** 2 for d in differences) / (count - 1)) ** 0.5 if count > 1 else float("nan")
    known = [(d, s) for d, s in zip(differences, expected_sd, strict=True) if s > 0.0]
    ratio = (sum((d / s) ** 2 for d, s in known) / len(known)) ** 0.5 if known else float("nan")
    single = spread if count > 1 else (expected_sd[0] or float("nan"))
    return Bias(quantity, instrument, count, mean, single / count**0.5, spread, ratio)
