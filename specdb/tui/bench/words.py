"""What the place Bench says: the shaft, what its profile is known to be now and before, and what is off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from specdb.mechanics.constants import DEG, FT_LB, GRAM, IN
from specdb.tui.standins.words import cut_line
from specdb.tui.widgets.curves import Curve, Mark, Stroke
from specdb.tui.widgets.numbers import number, plural, signed
from specdb.tui.widgets.prose import Line, sentence
from specdb.verbs.stiffness.outlier_words import counted, counts_less, is_word
from specdb.verbs.stiffness.profiles import thirds_of

if TYPE_CHECKING:
    from specdb.profiles.estimate import Evidence, ProfileEstimate
    from specdb.verbs.stiffness.bench import BenchShaft

_POINTS = 61
_ROOMY = 100
_DEG_AT_FT_LB = FT_LB / DEG
_THIRDS = (("tip", "tip"), ("mid", "middle"), ("butt", "butt"))


def shaft_lines(bench: BenchShaft, piece: str, by: str, width: int) -> list[Line]:
    """The shaft on the bench, the piece and who reads.

    Parameters
    ----------
    bench : BenchShaft
        The shaft.
    piece : str
        The piece that is read.
    by : str
        Who reads.
    width : int
        Columns there are.
    """
    shaft = bench.shaft
    name = " ".join(w for w in (shaft.maker, shaft.model, shaft.flex) if w) if width >= _ROOMY else ""
    pieces = bench.pieces
    read = f"{plural(len(bench.stored), 'reading')} kept" + (
        f" of {plural(len(pieces), 'piece')}: {', '.join(pieces)}" if pieces else ""
    )
    second: Line = (
        ("reading ", "quiet"),
        (piece, "strong"),
        ("" if piece in pieces else " (new)", "quiet"),
        ("   by ", "quiet"),
        (by or "nobody named", "strong"),
    )
    return [
        cut_line(
            ((shaft.id, "head"), (f"  {name}, " if name else "  ", "plain"),
             (f"{shaft.raw_length_in:g} in raw  ", "plain"), (read, "quiet")),
            width,
        ),
        cut_line(second, width),
    ]  # fmt: skip


def known_lines(now: ProfileEstimate, before: ProfileEstimate, width: int) -> list[Line]:
    """The profile in numbers, each with its doubt, now and without what is typed.

    Parameters
    ----------
    now, before : ProfileEstimate
        With and without what is typed.
    width : int
        Columns there are.
    """
    new, old = thirds_of(now), thirds_of(before)
    stiffness = [
        f"{title} {number(new[key].ei_n_m2, 1)} ± {number(new[key].sd_n_m2, 1)} ({number(old[key].sd_n_m2, 1)})"
        for key, title in _THIRDS
    ]
    other = [
        f"weight {number(now.mass_kg / GRAM, 1)} ± {number(now.mass_sd_kg / GRAM, 1)} g",
        f"balance {number(now.balance_m / IN, 2)} ± {number(now.balance_sd_m / IN, 2)} in",
        f"torque {number(now.twist_rad_per_nm * _DEG_AT_FT_LB, 2)} ± {number(now.twist_sd * _DEG_AT_FT_LB, 2)} deg",
    ]
    return [
        cut_line((("EI N·m²: ", "quiet"), ("  ".join(stiffness), "strong")), width),
        cut_line((("  ".join(other), "plain"), (" (before)", "quiet")), width),
    ]


def off_lines(estimate: ProfileEstimate, width: int) -> list[Line]:
    """Every outlier by name, and the question.

    Parameters
    ----------
    estimate : ProfileEstimate
        The profile.
    width : int
        Columns there are.
    """
    found = sorted(estimate.outliers, key=lambda e: -abs(e.off))
    lines = [line for e in found for line in sentence(outlier_words(e), width, before=(("! ", "bad"),))]
    if found:
        whole = any(not counts_less(e) for e in found)
        asked = "Are figure, place and set-up right, and is it of this shaft?" + (" It counts all the same." * whole)
        lines += sentence(asked, width, part="quiet")
    return lines


def outlier_words(e: Evidence) -> str:
    """One outlier in a sentence.

    Parameters
    ----------
    e : Evidence
        The reading beside the estimated shaft.
    """
    side = "above" if e.off > 0.0 else "below"
    if is_word(e):
        return f"{e.name}: {abs(e.off):.1f} sd from what all else leads to."
    return (
        f"{e.name}, reads {e.value:.4g} {e.unit}, profile {e.model:.4g}: {abs(e.off):.1f} sd {side} what all else "
        f"leads to{f'; it counts {counted(e)}' if counts_less(e) else ''}."
    )


def entry_words(e: Evidence) -> str:
    """One reading beside the estimated shaft, in short.

    Parameters
    ----------
    e : Evidence
        The reading.
    """
    if is_word(e):
        return f"{e.name}: {signed(e.off, 1)} sd"
    return f"{e.name}: reads {e.value:.4g}, profile {e.model:.4g} {e.unit}, {signed(e.off, 1)} sd"


def profile_curves(now: ProfileEstimate, before: ProfileEstimate) -> tuple[list[Curve], list[Mark]]:
    """The profile with its band, with and without what is typed, and readings of EI at their places.

    Parameters
    ----------
    now, before : ProfileEstimate
        With and without what is typed.
    """
    import numpy as np

    place = np.linspace(0.0, now.raw_m, _POINTS)
    inches = (place / IN).tolist()
    curves = []
    for label, found, stroke in (("now", now, Stroke.SOLID), ("before", before, Stroke.DOTTED)):
        ei, log_sd = found.band(place)
        low, high = ei * np.exp(-log_sd), ei * np.exp(log_sd)
        curves.append(Curve(label, inches, ei.tolist(), low.tolist(), high.tolist(), stroke))
    marks = [Mark(e.place_m / IN, e.value, "X" if e.outlier else "o") for e in now.evidence if e.place_m is not None]
    return curves, marks
