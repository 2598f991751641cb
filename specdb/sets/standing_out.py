"""What stands out in a set, in words.

Every threshold is common practice without a source unless said otherwise: about 4 cpm a half inch, 7 g of head and half
a degree of lie a club, four degrees of loft between irons, and the build tolerances of the trade (± 2 cpm,
± 1 point, ± 0.5°).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from specdb.sets.mechanics import ClubRow, SetNumbers

USUAL_SLOPE = 4.0  # cpm per half inch
BAND = 0.35  # of a rule of thumb
OFF_LINE_CPM = 2.0
SWING_POINTS = 1.0
LOFT_GAP_OFF_DEG = 1.0
LIE_GAP_OFF_DEG = 0.5


def stands_out(found: SetNumbers) -> list[str]:
    """Sentences about what stands out; empty where nothing does.

    Parameters
    ----------
    found : SetNumbers
        The set in numbers.
    """
    said: list[str] = []
    said += _slope(found)
    said += _off_the_line(found)
    said += _swingweights(found.clubs)
    said += _measured(found.clubs)
    said += _weights(found.clubs)
    said += _gaps(found.clubs)
    said += [f"{c.club_id}: {text}" for c in found.clubs for text in c.values["cautions"]]
    return said


def _slope(found: SetNumbers) -> Iterator[str]:
    line = found.line
    if line is None:
        yield "all clubs have one length: frequency has no slope against length"
        return
    low, high = USUAL_SLOPE * (1 - BAND), USUAL_SLOPE * (1 + BAND)
    if low <= line.slope <= high:
        return
    way = "flatter" if line.slope < low else "steeper"
    doubt = ""
    if min(abs(line.slope - low), abs(line.slope - high)) < line.slope_sd:
        doubt = ", though within its doubt of it"
    yield (
        f"frequency rises {line.slope:.1f} ± {line.slope_sd:.1f} cpm a half inch: {way} than the usual "
        f"{low:.1f} to {high:.1f}{doubt}"
    )


def _off_the_line(found: SetNumbers) -> Iterator[str]:
    if found.line is None:
        return
    for club in found.clubs:
        off = club.off_line_cpm
        if abs(off) > OFF_LINE_CPM:
            doubt = "; within its doubt" if abs(off) < club.frequency_sd_cpm else ""
            yield f"{club.club_id} lies {abs(off):.1f} cpm {'above' if off > 0 else 'below'} the line of the set{doubt}"


def _swingweights(clubs: Sequence[ClubRow]) -> Iterator[str]:
    """Clubs whose swingweight lies off those next to them."""
    from specdb.mechanics.constants import SWINGWEIGHT_POINT_IN_OZ

    points = [c.swing_moment_in_oz / SWINGWEIGHT_POINT_IN_OZ for c in clubs]
    for i, club in enumerate(clubs):
        near = [points[j] for j in (i - 1, i + 1) if 0 <= j < len(clubs)]
        off = [points[i] - p for p in near]
        one_way = all(o > 0 for o in off) or all(o < 0 for o in off)
        if len(near) == 2 and one_way and min(abs(o) for o in off) > SWING_POINTS:
            amount = min(abs(o) for o in off)
            yield (
                f"{club.club_id} swings {amount:.1f} points {'heavier' if off[0] > 0 else 'lighter'} than "
                "the clubs next to it"
            )


def _measured(clubs: Sequence[ClubRow]) -> Iterator[str]:
    for club in clubs:
        if club.measured_cpm is None:
            continue
        off = club.measured_cpm - club.frequency_cpm
        if abs(off) > max(2.0 * club.frequency_sd_cpm, OFF_LINE_CPM):
            yield (
                f"{club.club_id} measured {abs(off):.1f} cpm {'stiffer' if off > 0 else 'softer'} than computed "
                f"(± {club.frequency_sd_cpm:.1f}): look at the clamp, the shaft's readings or the build"
            )


def _weights(clubs: Sequence[ClubRow]) -> Iterator[str]:
    for one, other in pairwise(clubs):
        if other.head_weight_g < one.head_weight_g - 2.0:
            yield (
                f"the head of {other.club_id} is {one.head_weight_g - other.head_weight_g:.1f} g lighter than that of "
                f"the longer {one.club_id}"
            )
        if other.playing_length_in > one.playing_length_in - 1e-6 and other.step > one.step:
            yield f"{other.club_id} is as long as {one.club_id}"


def _gaps(clubs: Sequence[ClubRow]) -> Iterator[str]:
    lofts = [c.loft_gap_deg for c in clubs if c.loft_gap_deg is not None]
    usual = median(lofts) if lofts else 0.0
    for one, other in pairwise(clubs):
        gap = other.loft_gap_deg
        if gap is not None and (gap <= 0 or (len(lofts) > 2 and abs(gap - usual) > LOFT_GAP_OFF_DEG)):
            yield (
                f"loft {one.club_id} to {other.club_id}: {gap:+.1f}° a club"
                + ("" if len(lofts) < 3 else f", the others {usual:+.1f}°")
            )
        lie = other.lie_gap_deg
        if lie is not None and (lie < 0 or abs(lie - 0.5) > LIE_GAP_OFF_DEG):
            yield f"lie {one.club_id} to {other.club_id}: {lie:+.2f}° a club, usual is about +0.5°"
