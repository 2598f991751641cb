"""The place Sets in words and lists: the sets, the clubs of one, what deviates in it, its frequency against length."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.curves import Axis, Curve, Mark
from specdb.tui.widgets.numbers import number, plural, signed
from specdb.tui.widgets.prose import Line, heading, sentence
from specdb.units.writing import as_sentence

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.sets.mechanics import ClubRow, SetNumbers
    from specdb.verbs.sets.lists import FittedSet
    from specdb.verbs.sets.sets import SetMechanicsAnswer

ALONG = Axis(0.0, 0.0, "playing length, in")
UP = Axis(0.0, 0.0, "frequency, cpm")
MEASURED_SIGN = "×"


def listing(words: Sequence[str]) -> str:
    """Words with commas and a last ``and``.

    Parameters
    ----------
    words : sequence of str
        The words.
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


# ---- the list of sets


def sets_table(sets: Sequence[FittedSet], width: int) -> tuple[pa.Table, list[ColumnSpec]]:
    """Fitted sets, in the order given.

    Parameters
    ----------
    sets : sequence of FittedSet
        The sets.
    width : int
        Columns there are.
    """
    import pyarrow as pa

    columns = {
        "id": [s.set_id for s in sets],
        "clubs": [str(len(s.clubs)) for s in sets],
        "numbers": [" ".join(n or "?" for n in s.numbers) for s in sets],
        "supply": [s.supply for s in sets],
        "player": [s.player for s in sets],
        "chosen": [_chosen(s) for s in sets],
    }
    taken = sum(max([len(t) for t in columns[n]] + [7]) + 2 for n in ("id", "numbers")) + 5 + 2 + 2
    if any(columns["chosen"]):
        taken += 11
    room = width - taken - 3
    if any(len(t) > room for t in columns["supply"]):
        columns["supply"] = [t.replace("expected", "due") for t in columns["supply"]]
    supply = max(min(max((len(t) for t in columns["supply"]), default=0), room), 14)
    specs = [
        ColumnSpec("id", "set"),
        ColumnSpec("clubs", "clubs", right=True),
        ColumnSpec("numbers", "numbers"),
        ColumnSpec("supply", "shafts", width=supply),
        ColumnSpec("chosen", "stand-ins"),
        ColumnSpec("player", "player"),
    ]
    if not any(columns["chosen"]):
        del specs[4]
    return pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()}), specs


def _chosen(found: FittedSet) -> str:
    if not found.chosen:
        return ""
    return "chosen" if found.chosen == len(found.clubs) else f"{found.chosen} of {len(found.clubs)}"


def missing_words(numbers: Sequence[str], missing: Sequence[str], *, gaps: bool = True) -> str:
    """Which clubs are missing in a row, in a sentence; empty where none is.

    Parameters
    ----------
    numbers : sequence of str
        Numbers of the clubs, the longest first.
    missing : sequence of str
        Numbers that are left out.
    gaps : bool
        Whether to say what that means for the gaps of loft and lie.
    """
    if not missing:
        return ""
    known = [n for n in numbers if n]
    which = f"Number {missing[0]} is" if len(missing) == 1 else f"Numbers {listing(missing)} are"
    also = ": gaps are given for one club each" if gaps else ""
    return f"{which} missing between {known[0]} and {known[-1]}{also}."


# ---- the clubs of a set


def clubs_table(answer: SetMechanicsAnswer) -> tuple[pa.Table, list[ColumnSpec]]:
    """The clubs of a set in numbers, the longest first.

    Parameters
    ----------
    answer : SetMechanicsAnswer
        The set in numbers.
    """
    import pyarrow as pa

    clubs = answer.numbers.clubs
    by_moi = answer.numbers.matched_by == "MOI"
    columns = {
        "id": [c.club_id for c in clubs],
        "length": [number(c.playing_length_in, 2) for c in clubs],
        "cpm": [number(c.frequency_cpm, 1) for c in clubs],
        "sd": [number(c.frequency_sd_cpm, 1) for c in clubs],
        "off": [signed(c.off_line_cpm, 1) if math.isfinite(c.off_line_cpm) else "-" for c in clubs],
        "measured": [number(c.measured_cpm, 0) for c in clubs],
        "swing": [str(c.values["swingweight"]) for c in clubs],
        "moi": [number(c.moi_kg_cm2, 0) for c in clubs],
        "total": [number(c.total_weight_g, 0) for c in clubs],
        "shaft": [number(c.shaft_weight_g, 1) for c in clubs],
        "head": [number(c.head_weight_g, 1) for c in clubs],
        "loft": [_angle(c.loft_deg) for c in clubs],
        "loft_gap": [_gap(c.loft_gap_deg) for c in clubs],
        "lie": [_angle(c.lie_deg) for c in clubs],
        "lie_gap": [_gap(c.lie_gap_deg) for c in clubs],
        "tip": [number(c.values["tip_trim_in"], 3).rstrip("0").rstrip(".") for c in clubs],
        "butt": [number(c.values["butt_trim_in"], 2) for c in clubs],
        "cut": [number(c.values["cut_length_in"], 2) for c in clubs],
    }
    swing, moi = ColumnSpec("swing", "swing", right=True), ColumnSpec("moi", "MOI", "kg·cm²", right=True)
    specs = [
        ColumnSpec("id", "club"),
        ColumnSpec("length", "length", "in", right=True),
        ColumnSpec("cpm", "freq.", "cpm", right=True),
        ColumnSpec("off", "off line", "cpm", right=True),
        moi if by_moi else swing,
        ColumnSpec("total", "total", "g", right=True),
        ColumnSpec("loft", "loft", "°", right=True),
        ColumnSpec("loft_gap", "gap", "°", right=True),
        ColumnSpec("lie", "lie", "°", right=True),
        ColumnSpec("lie_gap", "gap", "°", right=True),
        swing if by_moi else moi,
        ColumnSpec("tip", "tip trim", "in", right=True),
        ColumnSpec("butt", "butt trim", "in", right=True),
        ColumnSpec("cut", "cut length", "in", right=True),
        ColumnSpec("head", "head", "g", right=True),
        ColumnSpec("shaft", "shaft", "g", right=True),
        ColumnSpec("sd", "freq. ±", "cpm", right=True),
        ColumnSpec("measured", "freq. measured", "cpm", right=True),
    ]
    if all(c.measured_cpm is None for c in clubs):
        del specs[-1]
    return pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()}), specs


def _angle(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}".removesuffix(".0")


def _gap(value: float | None) -> str:
    return "-" if value is None else signed(value, 1)


def plain_clubs(found: FittedSet) -> tuple[pa.Table, list[ColumnSpec]]:
    """The clubs of a set that cannot be worked out.

    Parameters
    ----------
    found : FittedSet
        The set.
    """
    import pyarrow as pa

    table = pa.table({"id": list(found.clubs), "number": list(found.numbers)})
    return table, [ColumnSpec("id", "club"), ColumnSpec("number", "number")]


# ---- a set in words


def slope_lines(found: SetNumbers, width: int) -> list[Line]:
    """The slope, and what the set is matched by, in two sentences.

    Parameters
    ----------
    found : SetNumbers
        The set in numbers.
    width : int
        Columns there are.
    """
    lines: list[Line] = []
    if found.line is None:
        lines += sentence("All clubs have one length: there is no slope of frequency against length.", width)
    else:
        measured = found.measured_line
        said = "" if measured is None else f" (as measured {number(measured.slope, 1)})"
        lines += sentence(
            f" cpm a half inch{said}; the clubs scatter {number(found.line.scatter, 1)} cpm about the line.",
            width,
            before=(
                ("Frequency rises ", "plain"),
                (f"{number(found.line.slope, 1)} ± {number(found.line.slope_sd, 1)}", "strong"),
            ),
            hanging=0,
        )
    matched = "neither swingweight nor MOI" if found.matched_by == "neither" else found.matched_by
    lines += sentence(
        f"Matched by {matched}: swingweight {signed(found.swing_points_a_club, 1)} points a club (spread "
        f"{number(found.swing_spread_points, 1)}), MOI {signed(found.moi_a_club_kg_cm2, 0)} kg·cm² (spread "
        f"{number(found.moi_spread_kg_cm2, 0)}), head weight {signed(found.head_a_club_g, 1)} g.",
        width,
    )
    return lines


def set_lines(answer: SetMechanicsAnswer, missing: str, width: int) -> list[Line]:
    """What there is to say of a set: slope, progression, what deviates, notes, what was assumed.

    Parameters
    ----------
    answer : SetMechanicsAnswer
        The set in numbers.
    missing : str
        Which clubs are missing in the row; empty where none is.
    width : int
        Columns there are.
    """
    found = answer.numbers
    lines = slope_lines(found, width)
    lines += heading("What deviates")
    for text in found.stands_out:
        lines += sentence(_full(text), width, before=(("! ", "doubt"),))
    if not found.stands_out:
        lines += sentence("Nothing: the set runs as sets usually do.", width)
    # the row of numbers is told in a sentence of its own
    notes = [t for t in (*answer.named.notes, *found.notes) if not (missing and t.startswith("number "))]
    if missing:
        notes.insert(0, missing)
    for title, texts in (("To be known", notes), ("Assumed", _assumed(found.clubs))):
        if texts:
            lines += heading(title)
            for text in texts:
                lines += sentence(_full(text), width, before=(("- ", "key"),), part="plain")
    return lines


def _full(text: str) -> str:
    return as_sentence(text)


def _assumed(clubs: Iterable[ClubRow]) -> list[str]:
    """What was assumed, each once, with the clubs it holds for where it does not hold for all."""
    every = list(clubs)
    where: dict[str, list[str]] = {}
    for club in every:
        for text in club.values["assumed"]:
            where.setdefault(text, []).append(club.club_id)
    return [text if len(own) == len(every) else f"{', '.join(own)}: {text}" for text, own in where.items()]


# ---- its picture


def sign_of(number_of_club: str) -> str:
    """One sign for a club on a picture: its number, or the first letter of it.

    Parameters
    ----------
    number_of_club : str
        Number of its head; may be empty.
    """
    return (number_of_club.strip() or "○")[0].upper()


def frequency_picture(found: SetNumbers) -> tuple[list[Curve], list[Mark]]:
    """Frequency against length: the clubs by their numbers, the line of the set, measured frequencies.

    Parameters
    ----------
    found : SetNumbers
        The set in numbers.
    """
    clubs = sorted(found.clubs, key=lambda c: c.playing_length_in)
    x, sd = [c.playing_length_in for c in clubs], [c.frequency_sd_cpm for c in clubs]
    label, y = "computed", [c.frequency_cpm for c in clubs]
    if found.line is not None:
        label = f"line, {number(found.line.slope, 1)} cpm a half inch"
        y = [c.frequency_cpm - c.off_line_cpm for c in clubs]
    low, high = ([at + sign * by for at, by in zip(y, sd, strict=True)] for sign in (-1, 1))
    curves = [Curve(label, x, y, low, high)]
    marks = [Mark(c.playing_length_in, c.measured_cpm, MEASURED_SIGN) for c in clubs if c.measured_cpm is not None]
    marks += [Mark(c.playing_length_in, c.frequency_cpm, sign_of(c.number)) for c in clubs]
    return curves, marks


def picture_axis(found: SetNumbers) -> Axis:
    """The axis of frequency, with what its marks mean.

    Parameters
    ----------
    found : SetNumbers
        The set in numbers.
    """
    measured = any(c.measured_cpm is not None for c in found.clubs)
    also = f"; {MEASURED_SIGN} measured" if measured else ""
    return Axis(0.0, 0.0, f"frequency, cpm{also}; dots ± 1 sd")


def title_words(found: FittedSet, width: int) -> Line:
    """A set in one line.

    Parameters
    ----------
    found : FittedSet
        The set.
    width : int
        Columns there are.
    """
    whose = f" of {found.player}" if found.player else ""
    numbers = " ".join(n or "?" for n in found.numbers)
    supply = f"  shafts {found.supply}"
    for said in (f"  {plural(len(found.clubs), 'club')}{whose}: {numbers}", f"  {numbers}", ""):
        if len(found.set_id) + len(said) + len(supply) <= width:
            break
    return ((found.set_id, "head"), (said, "plain"), (supply, "strong"))
