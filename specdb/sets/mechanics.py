"""A fitted set in numbers: frequency against length, swingweight or MOI, weights, lofts and lies with their gaps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from specdb.matching.reference import Reference
from specdb.mechanics.constants import IN, SWINGWEIGHT_POINT_IN_OZ
from specdb.sets.angles import finished_angles
from specdb.sets.members import Progression, SetMember, in_order, progression, solve_members
from specdb.sets.slope import Line, line_through
from specdb.sets.spread import frequency_covariance

_FREQUENCY = 0


@dataclass(frozen=True, slots=True)
class ClubRow:
    """One club of a set.

    Attributes
    ----------
    club_id, label, number : str
        Which one; the number may be empty.
    step : int
        Clubs from the first one of the set.
    playing_length_in : float
        Playing length.
    values : dict
        The club in numbers, with the keys of ``mechanics``.
    frequency_cpm, frequency_sd_cpm, off_line_cpm : float
        Frequency, its standard deviation, and its distance from the line of the set (NaN without one).
    measured_cpm : float or None
        Frequency measured on the fitted club.
    swing_moment_in_oz, moi_kg_cm2, total_weight_g, shaft_weight_g, head_weight_g : float
        The club; the head with what is added at it.
    loft_deg, lie_deg : float or None
        Of the finished club.
    loft_gap_deg, lie_gap_deg : float or None
        From the club before, divided by the clubs between where numbers are left out.
    """

    club_id: str
    label: str
    number: str
    step: int
    playing_length_in: float
    values: dict[str, Any]
    frequency_cpm: float
    frequency_sd_cpm: float
    off_line_cpm: float
    measured_cpm: float | None
    swing_moment_in_oz: float
    moi_kg_cm2: float
    total_weight_g: float
    shaft_weight_g: float
    head_weight_g: float
    loft_deg: float | None
    lie_deg: float | None
    loft_gap_deg: float | None
    lie_gap_deg: float | None

    def to_json(self) -> dict[str, Any]:
        """Plain values; the whole club under ``mechanics``."""
        return {
            "club_id": self.club_id,
            "label": self.label,
            "number": self.number or None,
            "playing_length_in": self.playing_length_in,
            "frequency_cpm": round(self.frequency_cpm, 3),
            "frequency_sd_cpm": round(self.frequency_sd_cpm, 3),
            "off_line_cpm": round(self.off_line_cpm, 3),
            "measured_frequency_cpm": self.measured_cpm,
            "swingweight": self.values["swingweight"],
            "swing_moment_in_oz": round(self.swing_moment_in_oz, 3),
            "moi_butt_kg_cm2": round(self.moi_kg_cm2, 2),
            "total_weight_g": round(self.total_weight_g, 2),
            "shaft_weight_g": round(self.shaft_weight_g, 2),
            "head_weight_g": round(self.head_weight_g, 2),
            "loft_deg": self.loft_deg,
            "lie_deg": self.lie_deg,
            "loft_gap_deg": None if self.loft_gap_deg is None else round(self.loft_gap_deg, 3),
            "lie_gap_deg": None if self.lie_gap_deg is None else round(self.lie_gap_deg, 3),
            "mechanics": self.values,
        }


@dataclass(frozen=True, slots=True)
class SetNumbers:
    """A set in numbers.

    Attributes
    ----------
    set_id : str
        The set.
    clubs : tuple of ClubRow
        From the longest to the shortest.
    line : Line or None
        Frequency against length; None for clubs of one length.
    measured_line : Line or None
        The same through the measured frequencies, where every club has one.
    swing_points_a_club, moi_a_club_kg_cm2, head_a_club_g : float
        Progression of swingweight (points), MOI and head weight from club to club.
    swing_spread_points, moi_spread_kg_cm2 : float
        Largest less smallest.
    matched_by : str
        ``swingweight``, ``MOI`` or ``neither``.
    stands_out, notes : tuple of str
        What stands out; what else is to be known.
    """

    set_id: str
    clubs: tuple[ClubRow, ...]
    line: Line | None
    measured_line: Line | None
    swing_points_a_club: float
    moi_a_club_kg_cm2: float
    head_a_club_g: float
    swing_spread_points: float
    moi_spread_kg_cm2: float
    matched_by: str
    stands_out: tuple[str, ...]
    notes: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Plain values with stable keys."""
        return {
            "set_id": self.set_id,
            "clubs": [club.to_json() for club in self.clubs],
            "slope_cpm_per_half_in": None if self.line is None else round(self.line.slope, 4),
            "slope_sd_cpm_per_half_in": None if self.line is None else round(self.line.slope_sd, 4),
            "scatter_about_line_cpm": None if self.line is None else round(self.line.scatter, 3),
            "measured_slope_cpm_per_half_in": None
            if self.measured_line is None
            else round(self.measured_line.slope, 4),
            "swingweight_points_a_club": round(self.swing_points_a_club, 3),
            "swingweight_spread_points": round(self.swing_spread_points, 3),
            "moi_a_club_kg_cm2": round(self.moi_a_club_kg_cm2, 2),
            "moi_spread_kg_cm2": round(self.moi_spread_kg_cm2, 2),
            "head_weight_a_club_g": round(self.head_a_club_g, 3),
            "matched_by": self.matched_by,
            "stands_out": list(self.stands_out),
            "notes": list(self.notes),
        }


MATCHED_POINTS = 1.0  # swingweights so near count as one (build tolerance of trade: ± 1 point)
MATCHED_MOI_KG_CM2 = 20.0  # MOIs so near count as one: what 1.3 swingweight points come to on an iron


def set_numbers(set_id: str, members: Sequence[SetMember]) -> SetNumbers:
    """Work a set out.

    Parameters
    ----------
    set_id : str
        Name of the set.
    members : sequence of SetMember
        Its clubs, in any order.

    Raises
    ------
    UsageError
        If it has fewer than two clubs.
    BuildError
        If a club cannot be computed; the sentence names each and says why.
    """
    from specdb.sets.standing_out import stands_out

    ordered = in_order(members)
    solved = solve_members(set_id, ordered)
    counted = progression(ordered)
    line = set_line(ordered, solved)
    rows = _rows(ordered, solved, counted, line)
    steps = np.array(counted.steps, dtype=np.float64)
    points = np.array([r.swing_moment_in_oz for r in rows]) / SWINGWEIGHT_POINT_IN_OZ
    moi = np.array([r.moi_kg_cm2 for r in rows])
    spread, moi_spread = float(np.ptp(points)), float(np.ptp(moi))
    by_swing, by_moi = spread <= MATCHED_POINTS + 0.05, moi_spread <= MATCHED_MOI_KG_CM2
    found = SetNumbers(
        set_id=set_id,
        clubs=tuple(rows),
        line=line,
        measured_line=_measured_line(rows),
        swing_points_a_club=_a_club(steps, points),
        moi_a_club_kg_cm2=_a_club(steps, moi),
        head_a_club_g=_a_club(steps, np.array([r.head_weight_g for r in rows])),
        swing_spread_points=spread,
        moi_spread_kg_cm2=moi_spread,
        matched_by="swingweight" if by_swing else "MOI" if by_moi else "neither",
        stands_out=(),
        notes=tuple(dict.fromkeys([*([counted.said] if counted.said else []), *_left_out(counted), *_said(ordered)])),
    )
    return _with_words(found, stands_out(found))


def _with_words(found: SetNumbers, words: Sequence[str]) -> SetNumbers:
    from dataclasses import replace

    return replace(found, stands_out=tuple(words))


def set_line(members: Sequence[SetMember], solved: Sequence[Reference]) -> Line | None:
    """The line of frequency against length through computed clubs.

    Parameters
    ----------
    members : sequence of SetMember
        The clubs.
    solved : sequence of Reference
        The same, computed.
    """
    cpm = np.array([float(r.state.frequency_cpm[0]) for r in solved])
    sd = np.array([float(r.state.sd_total[0, _FREQUENCY]) for r in solved])
    covariance = frequency_covariance(
        [r.assembly.model for r in solved],
        [r.assembly.tip_trim_in * IN for r in solved],
        [r.assembly.build for r in solved],
        sd,
        [None if m.parts.model is not None else m.parts.shaft.id for m in members],
    )
    return line_through(np.array([m.parts.playing_length_in for m in members]), cpm, covariance)


def _measured_line(rows: Sequence[ClubRow]) -> Line | None:
    values = [r.measured_cpm for r in rows if r.measured_cpm is not None]
    if len(values) < len(rows):
        return None
    lengths = np.array([r.playing_length_in for r in rows])
    return line_through(lengths, np.array(values), np.eye(len(values)))


def _rows(
    members: Sequence[SetMember], solved: Sequence[Reference], counted: Progression, line: Line | None
) -> list[ClubRow]:
    rows: list[ClubRow] = []
    before: tuple[int, float | None, float | None] | None = None
    for i, (member, club) in enumerate(zip(members, solved, strict=True)):
        values, state = club.to_json(), club.state
        loft, lie = finished_angles(member)
        step = counted.steps[i]
        rows.append(
            ClubRow(
                club_id=member.club_id,
                label=member.label,
                number=member.number or "",
                step=step,
                playing_length_in=member.parts.playing_length_in,
                values={**values, "assumed": [*member.said, *values["assumed"]]},
                frequency_cpm=float(state.frequency_cpm[0]),
                frequency_sd_cpm=float(state.sd_total[0, _FREQUENCY]),
                off_line_cpm=float("nan") if line is None else float(line.off[i]),
                measured_cpm=member.measured_cpm,
                swing_moment_in_oz=float(state.swing_moment_in_oz[0]),
                moi_kg_cm2=float(state.moi_butt_kg_cm2[0]),
                total_weight_g=float(state.total_weight_g[0]),
                shaft_weight_g=float(state.shaft_weight_g[0]),
                head_weight_g=(member.parts.head.weight_g or 0.0) + float(state.head_add_g[0]),
                loft_deg=loft,
                lie_deg=lie,
                loft_gap_deg=None if before is None else _gap(before[1], loft, step - before[0]),
                lie_gap_deg=None if before is None else _gap(before[2], lie, step - before[0]),
            )
        )
        before = (step, loft, lie)
    return rows


def _gap(one: float | None, other: float | None, steps: int) -> float | None:
    return None if one is None or other is None else (other - one) / max(steps, 1)


def _a_club(steps: np.ndarray[Any, np.dtype[np.float64]], values: np.ndarray[Any, np.dtype[np.float64]]) -> float:
    """Slope of values against the count of clubs, by least squares."""
    centred = steps - steps.mean()
    return float(centred @ values / (centred @ centred))


def _left_out(counted: Progression) -> list[str]:
    from specdb.sets.numbers import name_of

    if counted.said:
        return []
    have = {p for p in counted.places if p is not None}
    missing = [name_of(p) for p in range(min(have), max(have)) if p not in have]
    if not missing:
        return []
    return [f"number {', '.join(missing)} not in the set: gaps are given for one club each"]


def _said(members: Sequence[SetMember]) -> list[str]:
    return [f"{m.club_id}: {text}" for m in members for text in m.said]
