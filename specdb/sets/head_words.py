"""A head that stands in, in words: what is different, what is done about it, what to mind."""

from __future__ import annotations

from collections.abc import Sequence

from specdb.fitup.cautions import BENDING
from specdb.records.rows import Head
from specdb.sets.head_club import Built
from specdb.sets.head_question import SWING, WEIGHT, HeadQuestion
from specdb.sets.head_result import HeadDifference
from specdb.sets.head_setting import Setup

_LEAST_UNITS = 0.25
_WAYS = {
    "loft_deg": ("weaker", "stronger"),
    "lie_deg": ("more upright", "flatter"),
    "face_angle_deg": ("more closed", "more open"),
    "weight_g": ("heavier", "lighter"),
    "offset_in": ("more offset", "less offset"),
    "volume_cc": ("larger", "smaller"),
    "frequency_cpm": ("stiffer", "softer"),
    "swingweight_points": ("heavier to swing", "lighter to swing"),
}
_BENT = {"loft": ("weaker", "stronger"), "lie": ("upright", "flat")}


def title_of(head: Head) -> str:
    """Maker, model, number and loft of a head.

    Parameters
    ----------
    head : Head
        The head.
    """
    words = [head.maker, head.model, head.number]
    loft = None if head.loft_deg is None else f"{head.loft_deg:g}°"
    return " ".join(w for w in (*words, loft) if w) or head.id


def difference_words(difference: HeadDifference) -> str:
    """One difference in words, such as ``loft 1.0° weaker``.

    Parameters
    ----------
    difference : HeadDifference
        The difference.
    """
    amount = f"{abs(difference.difference):.{difference.decimals}f}"
    unit = difference.unit if difference.unit == "°" else f" {difference.unit}"
    way = _WAYS[difference.key][0 if difference.difference > 0 else 1]
    if difference.key == "offset_in":
        return f"{amount}{unit} {way}"
    subject = "" if difference.key in ("frequency_cpm", SWING.key) else f"{difference.title} "
    return f"{subject}{amount}{unit} {way}"


def summary_of(
    differences: Sequence[HeadDifference], setup: Setup, add_g: float, excess_g: float, fitted_add_g: float
) -> str:
    """What is left different, and what is done.

    Parameters
    ----------
    differences : sequence of HeadDifference
        What is left.
    setup : Setup
        Adapter, setting and bending.
    add_g, excess_g : float
        Weight to add; how much too heavy it is, g.
    fitted_add_g : float
        Weight that the fitted head takes, g.
    """
    marked = sorted((d for d in differences if abs(d.units_off) >= _LEAST_UNITS), key=lambda d: -abs(d.units_off))
    said = [difference_words(d) for d in marked] or ["nothing to remark on is left different"]
    todo = [f"bend {name} {abs(by):.1f}° {_BENT[name][0 if by > 0 else 1]}" for name, by in setup.bends.items()]
    if add_g > 0.05:
        fitted = f" (the fitted head: {fitted_add_g:.1f} g)" if fitted_add_g > 0.05 else ""
        todo.append(f"add {add_g:.1f} g at the head{fitted}")
    if excess_g > 0.05:
        todo.append(f"{excess_g:.1f} g too heavy at the head: no weight comes off it")
    return ", ".join(said) + (f"; {', '.join(todo)}" if todo else "")


def cautions_of(setup: Setup, built: Built, asked: HeadQuestion) -> tuple[str, ...]:
    """What to mind.

    Parameters
    ----------
    setup : Setup
        Adapter, setting and bending.
    built : Built
        The club with it.
    asked : HeadQuestion
        What was asked.
    """
    texts: list[str] = []
    if setup.bends:
        texts.append(BENDING)
        if "loft" in setup.bends and asked.head.club_type in ("iron", "wedge"):
            texts.append(
                f"Bending loft by {abs(setup.bends['loft']):.1f}° changes the bounce by about as much, and the offset "
                "(common practice, no source): check both on the head."
            )
    if built.report is not None:
        texts += [t for t in built.report.cautions if t not in texts]
    if built.club is not None:
        texts += built.club.values["cautions"]
    return tuple(dict.fromkeys(texts))


def notes_of(asked: HeadQuestion, head: Head, built: Built) -> tuple[str, ...]:
    """What else is to be known.

    Parameters
    ----------
    asked : HeadQuestion
        What was asked.
    head : Head
        The stand-in.
    built : Built
        The club with it.
    """
    own = asked.head
    notes: list[str] = []
    if head.number != own.number:
        notes.append(f"it is number {head.number or 'unknown'}, wanted is number {own.number or 'unknown'}")
    if (head.connection or None) != (own.connection or None):
        kinds = [f"has a '{h.connection}' connection" if h.connection else "is glued" for h in (head, own)]
        notes.append(f"it {kinds[0]}, the wanted head {kinds[1]}")
    if head.material and own.material and head.material != own.material:
        notes.append(f"{head.material}, the wanted head is {own.material}")
    if (head.maker, head.model) != (own.maker, own.model) and asked.head.club_type in ("iron", "wedge"):
        notes.append("another model: it looks different from the rest of a set")
    if built.club is not None:
        notes += [t for t in built.club.values["assumed"] if t not in built.club.fitted["assumed"]]
    elif head.weight_g is None:
        notes.append(f"{WEIGHT.title} unknown: weigh it")
    return tuple(dict.fromkeys(notes))
