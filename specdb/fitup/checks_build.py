"""Checks of the shaft up from the mouth: raw length, ferrule, grip."""

from __future__ import annotations

import math
from itertools import pairwise

from specdb.errors import BuildError
from specdb.fitup.checks_tip import Seat, tip_diameter_in
from specdb.fitup.geometry import MAX_READING_GAP_IN, TOLERANCE_IN
from specdb.fitup.question import FitQuestion
from specdb.fitup.report import Check, CheckVerdict
from specdb.fitup.tips import diameter_readings, missing_tip_fields
from specdb.mechanics.cut import Bored, Cut, cut
from specdb.records.rows import Ferrule

CAP_MAX_IN = 1.0  # the thickest grip cap that the catalogue takes


def _cut_of(question: FitQuestion, seat: Seat) -> Cut | None:
    """Lengths of the build; None where a measurement is missing or no length is asked for."""
    hole = seat.hole
    if hole.depth_in is None or hole.to_ground_in is None or question.playing_length_in is None:
        return None
    return cut(
        Bored(hole.depth_in, hole.to_ground_in),
        question.playing_length_in,
        question.insertion_in,
        question.grip,
    )


def raw_length(question: FitQuestion, seat: Seat) -> Check | None:
    """Whether the raw shaft is long enough; None where no playing length is asked for.

    A grip cap of unknown thickness is taken as nothing, which asks most of the shaft; only where that alone
    could decide is the answer unknown.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`specdb.fitup.checks_tip.seat_of`.
    """
    name, shaft = "raw_length", question.shaft
    if question.playing_length_in is None:
        return None
    depth = [m for m in seat.hole.missing_bore if m.endswith("bore_depth_in")]
    missing = [*depth, *(m for m in seat.hole.missing_ground)]
    if shaft.raw_length_in is None:
        missing.append("shaft.raw_length_in")
    try:
        lengths = _cut_of(question, seat)
    except BuildError as error:
        return Check(name, CheckVerdict.DOES_NOT_FIT, str(error))
    if lengths is None or shaft.raw_length_in is None:
        missing = list(dict.fromkeys(missing))
        return Check(
            name,
            CheckVerdict.UNKNOWN,
            f"the cut length cannot be told without {', '.join(missing)}",
            missing=tuple(missing),
        )
    butt_trim = lengths.butt_trim_in(shaft.raw_length_in, question.tip_trim_in)
    figures = {
        "cut_length_in": lengths.cut_length_in,
        "raw_length_in": shaft.raw_length_in,
        "tip_trim_in": question.tip_trim_in,
        "butt_trim_in": butt_trim,
        "bore_to_ground_in": seat.hole.to_ground_in or 0.0,
        "grip_cap_in": lengths.grip_cap_in,
    }
    said = f"cut length {lengths.cut_length_in:.3f} in of a raw {shaft.raw_length_in:g} in"
    if question.tip_trim_in:
        said += f", tip trim {question.tip_trim_in:g} in"
    cap_unknown = question.grip is not None and question.grip.cap_in is None
    if cap_unknown:
        said += "; thickness of the grip cap unknown, 0 in taken (asks most of the shaft)"
    elif question.grip is None:
        said += "; no grip named, its cap taken as 0 in"
    if butt_trim >= -TOLERANCE_IN:
        return Check(name, CheckVerdict.FITS, f"{said}; {max(butt_trim, 0.0):.3f} in off the butt", figures)
    short = -butt_trim
    figures["short_by_in"] = short
    if cap_unknown and short <= CAP_MAX_IN:
        return Check(
            name,
            CheckVerdict.UNKNOWN,
            f"{said}; short by {short:.3f} in unless the grip cap makes up for it",
            figures,
            ("grip.cap_in",),
        )
    return Check(name, CheckVerdict.DOES_NOT_FIT, f"{said}: the shaft is short by {short:.3f} in", figures)


def ferrule(question: FitQuestion, seat: Seat) -> Check | None:
    """Ferrule against shaft and hosel; None without a ferrule.

    The hole is held against the shaft where it leaves the bore. The outside is compared with the hosel of a
    glued head only; a small step there is dressed flush, and a warning at most.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`specdb.fitup.checks_tip.seat_of`.
    """
    part, limits = question.ferrule, question.limits
    if part is None:
        return None
    dia = math.nan if seat.insertion_in is None else tip_diameter_in(question, seat, seat.insertion_in)
    missing = [] if seat.insertion_in is not None else list(seat.hole.missing_bore)
    if math.isnan(dia):
        missing += missing_tip_fields(question.shaft)
        return Check(
            "ferrule",
            CheckVerdict.UNKNOWN,
            f"the shaft's diameter at the ferrule is unknown: {', '.join(missing)}",
            {"ferrule_inner_dia_in": part.inner_dia_in},
            tuple(missing),
        )
    play = part.inner_dia_in - dia
    figures = {
        "ferrule_inner_dia_in": part.inner_dia_in,
        "shaft_dia_at_mouth_in": dia,
        "ferrule_play_in": play,
    }
    said = f"ferrule {part.id}, hole {part.inner_dia_in:.3f} in on a shaft of {dia:.4f} in at the mouth"
    if play < -limits.ferrule_press_in - TOLERANCE_IN:
        return Check("ferrule", CheckVerdict.DOES_NOT_FIT, f"{said}: {-play:.4f} in too small to press on", figures)
    if play > limits.ferrule_gap_in + TOLERANCE_IN:
        return Check(
            "ferrule",
            CheckVerdict.DOES_NOT_FIT,
            f"{said}: {play:.4f} in too large, it would be loose",
            figures,
        )
    if question.adapter is not None:
        return Check("ferrule", CheckVerdict.FITS, f"{said}; not compared with the adapter's outside", figures)
    return _ferrule_outside(question, part, said, figures)


def _ferrule_outside(question: FitQuestion, part: Ferrule, said: str, figures: dict[str, float]) -> Check:
    """Ferrule against the hosel of a glued head, once its hole is known to fit."""
    hosel, limit = question.head.hosel_outer_dia_in, question.limits.ferrule_step_in
    if part.outer_dia_in is None or hosel is None:
        named = {"ferrule.outer_dia_in": part.outer_dia_in, "head.hosel_outer_dia_in": hosel}
        missing = tuple(field for field, value in named.items() if value is None)
        text = f"{said}; against the hosel it cannot be told without {', '.join(missing)}"
        return Check("ferrule", CheckVerdict.UNKNOWN, text, figures, missing)
    step = part.outer_dia_in - hosel
    figures |= {"ferrule_over_hosel_in": step, "hosel_outer_dia_in": hosel}
    if step < -limit:
        text = f"{said}; {-step:.3f} in smaller than the hosel: a step shows"
        return Check("ferrule", CheckVerdict.WARNING, text, figures)
    flush = "flush with the hosel" if step <= limit else f"{step:.3f} in over the hosel, to be dressed flush"
    return Check("ferrule", CheckVerdict.FITS, f"{said}; {flush}", figures)


def _butt_at(question: FitQuestion, butt_trim_in: float) -> tuple[float, str, list[str]]:
    """Outside diameter at the butt cut (NaN unknown), how it is known, and what is missing."""
    shaft = question.shaft
    if butt_trim_in <= TOLERANCE_IN and shaft.butt_dia_in is not None:
        return shaft.butt_dia_in, "at the uncut butt", []
    place = (shaft.raw_length_in or math.nan) - max(butt_trim_in, 0.0)
    p, v = diameter_readings(question.readings, shaft.id)
    for (p0, p1), (v0, v1) in zip(pairwise(p), pairwise(v), strict=True):
        if p0 <= place <= p1 and p1 - p0 <= MAX_READING_GAP_IN:
            return v0 + (v1 - v0) * (place - p0) / (p1 - p0), "by readings of outside diameter", []
    named = {
        "shaft.butt_dia_in": shaft.butt_dia_in,
        "shaft.raw_length_in": shaft.raw_length_in,
        "shaft.tip_dia_in": shaft.tip_dia_in,
    }
    missing = [field for field, value in named.items() if value is None]
    if shaft.butt_dia_in is None or shaft.raw_length_in is None or shaft.tip_dia_in is None:
        return math.nan, "", missing
    begin = 0.0 if shaft.tip_form == "taper" else shaft.tip_parallel_in or 0.0
    slope = (shaft.butt_dia_in - shaft.tip_dia_in) / (shaft.raw_length_in - begin)
    estimate = shaft.butt_dia_in - slope * butt_trim_in
    how = (
        "an estimate by a straight line from tip to butt; up to "
        f"{shaft.butt_dia_in:.3f} in if the butt section is parallel"
    )
    return estimate, how, []


def grip_core(question: FitQuestion, seat: Seat) -> Check | None:
    """How much over or under size the grip comes out; None without a grip. Advice only.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`specdb.fitup.checks_tip.seat_of`.
    """
    grip, name = question.grip, "grip_core"
    if grip is None:
        return None
    lengths = None
    try:
        lengths = _cut_of(question, seat)
    except BuildError as error:
        return Check(name, CheckVerdict.WARNING, f"not worked out: {error}")
    missing: list[str] = []
    butt_trim, at = 0.0, ""
    if question.playing_length_in is None:
        at = "; no playing length named, the uncut butt taken"
    elif lengths is None or question.shaft.raw_length_in is None:
        missing = [
            m for m in (*seat.hole.missing_bore, *seat.hole.missing_ground) if not m.endswith(("dia_in", "form"))
        ]
        missing += [] if question.shaft.raw_length_in is not None else ["shaft.raw_length_in"]
    else:
        butt_trim = lengths.butt_trim_in(question.shaft.raw_length_in, question.tip_trim_in)
    dia, how, lacking = _butt_at(question, butt_trim)
    missing += lacking
    missing += [] if grip.core_dia_in is not None else ["grip.core_dia_in"]
    if missing or grip.core_dia_in is None:
        missing = list(dict.fromkeys(missing))
        return Check(
            name,
            CheckVerdict.UNKNOWN,
            f"the size of the grip cannot be told without {', '.join(missing)}",
            missing=tuple(missing),
        )
    over = dia - grip.core_dia_in
    figures = {"butt_dia_at_cut_in": dia, "grip_core_dia_in": grip.core_dia_in, "over_size_in": over}
    size = "to size" if abs(over) < 5e-4 else f"{abs(over):.3f} in {'over' if over > 0 else 'under'} size"
    return Check(
        name,
        CheckVerdict.FITS if abs(over) <= question.limits.grip_size_in + TOLERANCE_IN else CheckVerdict.WARNING,
        f"grip core {grip.core_dia_in:.3f} in on {dia:.4f} in at the cut ({how}{at}): the grip comes out {size}",
        figures,
    )
