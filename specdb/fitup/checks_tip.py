"""Checks of the tip in its hole: clearance, sleeve, insertion, bond, tip trim."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from specdb.fitup import geometry as geo
from specdb.fitup.hole import Hole, hole_of, sleeve_bore, sleeve_outside
from specdb.fitup.limits import FitLimits
from specdb.fitup.question import FitQuestion
from specdb.fitup.report import Check, CheckVerdict
from specdb.fitup.tips import GROWTH_ASSUMED, growth_assumed, missing_tip_fields, tip_arrays
from specdb.mechanics.bond import bond
from specdb.mechanics.constants import GRAM, IN

MPA = 1e6  # Pa


@dataclass(frozen=True, slots=True)
class Seat:
    """The tip of a question and the hole it is to go in, worked out once for all checks.

    Attributes
    ----------
    tip : TipArrays
        One tip.
    hole : Hole
        The bore of head or adapter.
    insertion_in : float or None
        How deep the tip sits, in.
    """

    tip: geo.TipArrays
    hole: Hole
    insertion_in: float | None


def seat_of(question: FitQuestion) -> Seat:
    """Tip, hole and insertion of a question.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    hole = hole_of(question.head, question.adapter, question.limits)
    tip = tip_arrays([question.shaft], question.readings)
    return Seat(tip, hole, hole.insertion_in(question.insertion_in))


def tip_diameter_in(question: FitQuestion, seat: Seat, x_in: float) -> float:
    """Outside diameter of the shaft ``x_in`` behind its new tip end, in; NaN where unknown.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`seat_of`.
    x_in : float
        Distance, in.
    """
    return float(geo.outside_diameter(seat.tip, question.tip_trim_in, x_in)[0])


def _gap_check(
    name: str,
    what: str,
    gap_of: tuple[geo.TipArrays, float, float, geo.Bore],
    limits: FitLimits,
    missing: tuple[str, ...],
) -> Check:
    """One clearance check, of a tip in a hole or of a sleeve in a bore."""
    tip, trim, insertion, bore = gap_of
    gap = geo.clearance(tip, trim, insertion, bore)
    code = int(geo.codes_of(gap, limits)[0])
    values = {
        "clearance_at_mouth_in": float(gap.at_mouth[0]),
        "clearance_at_bottom_in": float(gap.at_bottom[0]),
        "clearance_smallest_in": float(gap.smallest[0]),
        "clearance_largest_in": float(gap.largest[0]),
        "outside_dia_at_mouth_in": float(geo.outside_diameter(tip, trim, insertion)[0]),
        "outside_dia_at_bottom_in": float(geo.outside_diameter(tip, trim, 0.0)[0]),
        "bore_dia_at_mouth_in": float(bore.dia_at(0.0)),
        "bore_dia_at_bottom_in": float(bore.dia_at(insertion)),
        "insertion_in": insertion,
    }
    figures = {key: value for key, value in values.items() if math.isfinite(value)}
    figures["allowed_min_in"] = limits.clearance_min_in
    figures["allowed_max_in"] = limits.clearance_max_in
    allowed = f"allowed {limits.clearance_min_in:.4f} to {limits.clearance_max_in:.4f} in"
    both = (
        f"clearance {values['clearance_at_mouth_in']:.4f} in at the mouth and "
        f"{values['clearance_at_bottom_in']:.4f} in at the tip end ({allowed})"
    )
    if code == geo.NOT_KNOWN:
        return Check(
            name,
            CheckVerdict.UNKNOWN,
            f"{what}: cannot be told without {', '.join(missing)}",
            figures,
            missing,
        )
    if code == geo.FITS:
        return Check(name, CheckVerdict.FITS, f"{what}: {both}", figures)
    reason = _why_not(code, gap, gap_of, limits, figures)
    unknown = missing if math.isnan(values["clearance_smallest_in"]) else ()
    numbers = f"known in part only, {', '.join(missing)} missing" if unknown else both
    return Check(name, CheckVerdict.DOES_NOT_FIT, f"{what} {reason}; {numbers}", figures, unknown)


def _why_not(
    code: int,
    gap: geo.Clearance,
    gap_of: tuple[geo.TipArrays, float, float, geo.Bore],
    limits: FitLimits,
    figures: dict[str, float],
) -> str:
    """Where and by how much a tip does not fit; adds the figures."""
    x, along = geo.gap_profile(*gap_of)
    insertion = gap_of[2]
    if code == geo.TOO_TIGHT:
        by = limits.clearance_min_in - float(gap.known_smallest[0])
        figures["too_tight_by_in"] = by
        begins = _first_below(x, along, limits.clearance_min_in)
        figures["binds_from_tip_end_in"] = begins
        worst = float(x[np.nanargmin(along)])
        place = _place(worst, insertion)
        where = (
            "along the whole insertion"
            if begins <= geo.TOLERANCE_IN and np.nanmax(along) < limits.clearance_min_in
            else f"from {begins:.3f} in behind the tip end, {insertion - begins:.3f} in below the mouth"
        )
        return f"is too tight by {by:.4f} in {place}: it binds {where}"
    by = float(gap.known_largest[0]) - limits.clearance_max_in
    figures["too_loose_by_in"] = by
    worst = float(x[np.nanargmax(along)])
    place = _place(worst, insertion)
    return f"is too loose by {by:.4f} in {place}: the bond would be too thick, it needs a sleeve"


def _place(x_in: float, insertion_in: float) -> str:
    """Where ``x_in`` behind the tip end is, in words."""
    if x_in <= geo.TOLERANCE_IN:
        return "at the tip end"
    return "at the mouth" if x_in >= insertion_in - geo.TOLERANCE_IN else f"{x_in:.3f} in behind the tip end"


def _first_below(x: geo.FloatArray, gap: geo.FloatArray, threshold: float) -> float:
    """Where a broken line first falls under a threshold."""
    known = np.isfinite(gap)
    x, gap = x[known], gap[known]
    below = np.flatnonzero(gap < threshold - geo.TOLERANCE_IN)
    first = int(below[0])
    if first == 0:
        return float(x[0])
    fraction = (gap[first - 1] - threshold) / (gap[first - 1] - gap[first])
    return float(x[first - 1] + max(fraction, 0.0) * (x[first] - x[first - 1]))


def tip_in_bore(question: FitQuestion, seat: Seat) -> Check:
    """Whether the tip goes in its hole: the sleeve's where there is one, else the bore's.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`seat_of`.
    """
    limits, insertion, bore = question.gap_limits, seat.insertion_in, seat.hole.bore
    missing = list(seat.hole.missing_bore)
    if insertion is None:
        return Check(
            "tip_in_bore",
            CheckVerdict.UNKNOWN,
            f"the tip cannot be held against the bore without {', '.join(missing)}",
            missing=tuple(missing),
        )
    what = "tip in the bore"
    if question.sleeve is not None:
        what = f"tip in sleeve {question.sleeve.id}"
        bore = sleeve_bore(question.sleeve, insertion, question.limits)
        missing = [] if bore.form else ["sleeve.inner_form"]
    missing += missing_tip_fields(question.shaft)
    check = _gap_check("tip_in_bore", what, (seat.tip, question.tip_trim_in, insertion, bore), limits, tuple(missing))
    figures = dict(check.figures)
    detail = check.detail
    parallel = question.shaft.tip_parallel_in
    if question.shaft.tip_form == "parallel" and parallel is not None:
        left = max(parallel - question.tip_trim_in, 0.0)
        figures["parallel_left_in"] = left
        if left < insertion and seat.tip.readings is None:
            detail += f"; {left:.3f} in of parallel tip is left for an insertion of {insertion:.3f} in"
    if seat.tip.readings is not None:
        detail += "; by readings of outside diameter"
    if growth_assumed(question.shaft, question.tip_trim_in + insertion):
        detail += f"; {GROWTH_ASSUMED}"
    return Check(check.name, check.verdict, detail, figures, check.missing)


def sleeve_in_bore(question: FitQuestion, seat: Seat) -> Check | None:
    """Whether the sleeve goes in the bore and covers the insertion; None without a sleeve.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`seat_of`.
    """
    sleeve, insertion = question.sleeve, seat.insertion_in
    if sleeve is None:
        return None
    missing = list(seat.hole.missing_bore)
    missing += [f"sleeve.{n}" for n in ("outer_form", "length_in") if getattr(sleeve, n) is None]
    what = f"sleeve {sleeve.id}"
    if insertion is None:
        return Check(
            "sleeve_in_bore",
            CheckVerdict.UNKNOWN,
            f"{what}: {', '.join(missing)} unknown",
            missing=tuple(missing),
        )
    gap_of = (sleeve_outside(sleeve, question.limits), 0.0, insertion, seat.hole.bore)
    check = _gap_check("sleeve_in_bore", f"{what} in the bore", gap_of, question.gap_limits, tuple(missing))
    if check.verdict is CheckVerdict.DOES_NOT_FIT:
        return check
    if sleeve.length_in is None:
        return Check(
            check.name,
            CheckVerdict.UNKNOWN,
            f"{what}: its length is unknown, and it must cover the insertion",
            check.figures,
            tuple(missing),
        )
    figures = {**check.figures, "sleeve_length_in": sleeve.length_in}
    if sleeve.length_in < insertion - geo.TOLERANCE_IN:
        return Check(
            check.name,
            CheckVerdict.DOES_NOT_FIT,
            f"{what} is {sleeve.length_in:g} in long and would leave "
            f"{insertion - sleeve.length_in:.3f} in of the insertion unsleeved",
            figures,
        )
    return Check(check.name, check.verdict, check.detail, figures, check.missing)


def insertion_depth(question: FitQuestion, seat: Seat) -> Check:
    """Whether the tip sits deep enough, and no deeper than the bore is.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`seat_of`.
    """
    name, depth, insertion = "insertion_depth", seat.hole.depth_in, seat.insertion_in
    least = question.limits.insertion_min_in(question.head.club_type)
    figures = {"insertion_min_in": least}
    if insertion is not None:
        figures["insertion_in"] = insertion
    if depth is not None:
        figures["bore_depth_in"] = depth
    if insertion is not None and insertion < least - geo.TOLERANCE_IN:
        return Check(
            name,
            CheckVerdict.DOES_NOT_FIT,
            f"insertion {insertion:.3f} in is {least - insertion:.3f} in short of the least depth "
            f"{least:.2f} in for {question.head.club_type} heads (common practice, no source)",
            figures,
        )
    if insertion is None or depth is None:
        field = "adapter" if "adapter" in seat.hole.missing_bore else f"{seat.hole.owner}.bore_depth_in"
        return Check(name, CheckVerdict.UNKNOWN, f"insertion cannot be told without {field}", figures, (field,))
    if insertion > depth + geo.TOLERANCE_IN:
        return Check(
            name,
            CheckVerdict.DOES_NOT_FIT,
            f"insertion {insertion:.3f} in is {insertion - depth:.3f} in more than the bore is deep ({depth:.3f} in)",
            figures,
        )
    return Check(
        name,
        CheckVerdict.FITS,
        f"insertion {insertion:.3f} in of a bore {depth:.3f} in deep, at least {least:.2f} in "
        "(common practice, no source)",
        figures,
    )


def bond_margin(question: FitQuestion, seat: Seat) -> Check:
    """Bond strength against the pull of the head; without an adhesive, the strength it would have to have.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`seat_of`.
    """
    adhesive, insertion = question.adhesive, seat.insertion_in
    dia = tip_diameter_in(question, seat, 0.0)
    weights = {"head.weight_g": question.head.weight_g}
    if question.adapter is not None:
        weights["adapter.weight_g"] = question.adapter.weight_g
    missing = [name for name, value in weights.items() if value is None]
    missing += [] if insertion is not None else seat.hole.missing_bore
    missing += missing_tip_fields(question.shaft)[:2] if math.isnan(dia) else []
    if adhesive is not None and adhesive.shear_mpa is None:
        missing.append("adhesive.shear_mpa")
    if missing or insertion is None:
        if adhesive is None:
            return Check("bond", CheckVerdict.WARNING, "no adhesive named: the bond is not worked out")
        return Check(
            "bond",
            CheckVerdict.UNKNOWN,
            f"the bond cannot be worked out without {', '.join(missing)}",
            missing=tuple(missing),
        )
    hanging = sum(w for w in weights.values() if w is not None) + question.head_add_g
    return _bond_held(question, dia, insertion, hanging)


def _bond_held(question: FitQuestion, dia_in: float, insertion_in: float, hanging_g: float) -> Check:
    """The bond, once everything about it is known but perhaps the adhesive."""
    limits = question.limits
    strength = None if question.adhesive is None else question.adhesive.shear_mpa
    found = bond(
        dia_in * IN,
        insertion_in * IN,
        MPA if strength is None else strength * MPA,
        hanging_g * GRAM,
        speed_m_s=limits.head_speed_m_s,
        radius_m=limits.swing_radius_m,
        factor=limits.bond_strength_factor,
    )
    figures = {
        "bonded_area_in2": found.area_m2 / IN**2,
        "pull_n": found.demand_n,
        "head_speed_m_s": limits.head_speed_m_s,
        "swing_radius_m": limits.swing_radius_m,
        "strength_factor_1": limits.bond_strength_factor,
    }
    pull = f"pull of the head {found.demand_n:.0f} N at {limits.head_speed_m_s:g} m/s"
    if strength is None:
        needed = limits.bond_margin_min / found.margin  # reckoned above with 1 MPa
        figures["shear_needed_mpa"] = needed
        text = f"no adhesive named: it needs a lap-shear strength of at least {needed:.1f} MPa ({pull})"
        return Check("bond", CheckVerdict.WARNING, text, figures)
    figures |= {"capacity_n": found.capacity_n, "margin_1": found.margin, "margin_min_1": limits.bond_margin_min}
    good = found.margin >= limits.bond_margin_min
    return Check(
        "bond",
        CheckVerdict.FITS if good else CheckVerdict.DOES_NOT_FIT,
        f"bond {found.capacity_n:.0f} N, counting {limits.bond_strength_factor:.0%} of the lap-shear strength; {pull}: "
        f"margin {found.margin:.1f}, at least {limits.bond_margin_min:g}",
        figures,
    )


def tip_trim_limit(question: FitQuestion) -> Check:
    """Whether the tip trim is within what the maker allows.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    name, trim, most = "tip_trim_limit", question.tip_trim_in, question.shaft.max_tip_trim_in
    figures = {"tip_trim_in": trim}
    if most is not None:
        figures["max_tip_trim_in"] = most
    if trim <= geo.TOLERANCE_IN:
        return Check(name, CheckVerdict.FITS, "no tip trim", figures)
    if most is None:
        hint = "; taper tips are usually cut at the butt only" if question.shaft.tip_form == "taper" else ""
        return Check(
            name,
            CheckVerdict.UNKNOWN,
            f"tip trim {trim:g} in: how much the maker allows is unknown{hint}",
            figures,
            ("shaft.max_tip_trim_in",),
        )
    if trim > most + geo.TOLERANCE_IN:
        return Check(
            name,
            CheckVerdict.DOES_NOT_FIT,
            f"tip trim {trim:g} in is {trim - most:.3f} in more than the maker allows ({most:g} in)",
            figures,
        )
    return Check(name, CheckVerdict.FITS, f"tip trim {trim:g} in of at most {most:g} in", figures)
