"""What the place Build says when something was kept, and of the bias of the shop."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING

from specdb.orders.as_built import Bias, Judgement
from specdb.orders.measured_words import value_words
from specdb.orders.tolerances import SWINGWEIGHT_POINT_IN_OZ, TOLERANCES
from specdb.tui.building.judge import MARKS, PARTS
from specdb.tui.building.steps import Standing
from specdb.tui.widgets.numbers import number, signed
from specdb.tui.widgets.prose import Line, heading, sentence
from specdb.tui.widgets.words import day
from specdb.units.writing import as_sentence
from specdb.verbs.building.bench_units import NEEDED
from specdb.verbs.building.raw_weight import RawWeight

if TYPE_CHECKING:
    from specdb.tui.building.judge import OnBench
    from specdb.verbs.building.as_built import BuiltAnswer
    from specdb.verbs.building.bench_units import BenchUnit
    from specdb.verbs.building.built_bias import BiasAnswer

ENOUGH = 3
"""Clubs from which on a bias is spoken of."""

_UNITS = {"deg": "°", "in": " in", "g": " g", "cpm": " cpm", "in_oz": " points"}


def bias_words(found: Bias) -> str:
    """How clubs come out against what was predicted, in one sentence.

    Parameters
    ----------
    found : Bias
        The bias.
    """
    tolerance = TOLERANCES[found.quantity]
    per = SWINGWEIGHT_POINT_IN_OZ if tolerance.unit == "in_oz" else 1.0
    decimals, unit = (3 if tolerance.unit == "in" else 1), _UNITS[tolerance.unit]
    using = f" with {found.instrument}" if found.instrument else ""
    sd = f" ± {number(found.mean_sd / per, decimals)}" if found.mean_sd == found.mean_sd else ""
    clubs = f"{found.count} club{'s' if found.count > 1 else ''}"
    text = f"{tolerance.title}{using}: {signed(found.mean / per, decimals)}{sd}{unit} over {clubs}"
    if found.count < ENOUGH:
        return f"{text}, too few to tell"
    return f"{text}, more than chance explains" if found.found else f"{text}, no more than chance explains"


def bias_lines(answer: BiasAnswer, width: int) -> list[Line]:
    """All that is known of the bias: by quantity, by instrument, by month.

    Parameters
    ----------
    answer : BiasAnswer
        The bias.
    width : int
        Columns.
    """
    if not answer.all:
        return sentence("No finished club has been measured yet.", width)
    lines = sentence(
        "Measured, corrected for its instrument, less predicted: the mean and how well it is known.",
        width,
        part="quiet",
    )
    for title, some in (("All clubs", answer.all), ("By instrument", answer.by_instrument)):
        if some:
            lines += heading(title)
            for found in some:
                lines += sentence(bias_words(found), width, part="strong" if found.found else "plain", hanging=2)
    if answer.by_month:
        lines += heading("By month")
        for month, found in answer.by_month:
            lines += sentence(f"{month}  {bias_words(found)}", width, hanging=9)
    return lines


def kept_lines(
    answer: BuiltAnswer, kept: Collection[str], bias: BiasAnswer, following: BenchUnit | None, width: int
) -> list[Line]:
    """What was kept, how it is judged, what is still wanted, the parts, and the shop's own bias.

    Parameters
    ----------
    answer : BuiltAnswer
        The club as it is kept now.
    kept : collection of str
        Quantities that were kept just now.
    bias : BiasAnswer
        Of all clubs.
    following : BenchUnit or None
        The club to build next.
    width : int
        Columns.
    """
    lines: list[Line] = []
    for j in answer.judged:
        if j.quantity not in kept:
            continue
        title = f"{MARKS.get(j.judgement, '·')} {TOLERANCES[j.quantity].title:<16}"
        value = "" if j.value is None else f"{value_words(j.quantity, j.value)}: "
        word = str(j.judgement).replace("_", " ")
        word = "" if j.judgement == Judgement.WAIVED or word in j.said else f"{word}, "
        part = PARTS.get(j.judgement, "plain")
        lines += sentence(f"{value}{word}{j.said}", width, before=((title, part),), part=part)
        if j.advice:
            advice = as_sentence(j.advice)
            lines += sentence(advice, width, before=((" " * len(title), "plain"),), part="strong")
    lines += [(), *_standing(answer, width)]
    if answer.used:
        lines += sentence(f"Booked as built in: {', '.join(answer.used)}.", width)
    for text in answer.said:
        lines += sentence(as_sentence(text), width, part="strong")
    lines += heading("Clubs of this shop, measured less predicted")
    lines += _own_bias(bias, kept, {r.instrument for r in answer.rows.values() if r.instrument}, width)
    lines.append(())
    if answer.change_no is not None:
        lines += sentence(f"All of it is change {answer.change_no}; ctrl+z takes it back.", width, part="quiet")
    if following is not None:
        lines += sentence(_next_words(following, answer.finished.order), width, part="strong")
    return lines


def _next_words(unit: BenchUnit, order: str | None) -> str:
    of = unit.meant
    if of.order is None:
        return f"Next of this set: {of.club}. Enter puts it on the bench."
    number = f"{of.club} ({of.order} {of.line}.{of.unit}"
    parts = f", parts {unit.parts}" if unit.parts else ""
    if of.order == order:
        return f"Next of this order: {number}{parts}). Enter puts it on the bench."
    wanted = f", wanted {day(unit.wanted_on)}" if unit.wanted_on else ""
    for_whom = f", for {unit.customer}" if unit.customer else ""
    return f"This order has no other club to measure. Next: {number}{for_whom}{wanted}{parts}). Enter goes there."


def _standing(answer: BuiltAnswer, width: int) -> list[Line]:
    part = "doubt" if answer.wanted else "good" if answer.as_fitted else "bad"
    begin, colon, more = answer.standing.partition(":")
    return sentence(f"{begin.upper()}{colon}{more}.", width, part=part)


def _own_bias(bias: BiasAnswer, kept: Collection[str], instruments: Collection[str], width: int) -> list[Line]:
    own = [b for b in bias.all if b.quantity in kept and b.count >= ENOUGH]
    own += [b for b in bias.by_instrument if b.quantity in kept and b.instrument in instruments and b.count >= ENOUGH]
    if not own:
        return sentence(f"Told from {ENOUGH} measured clubs on.", width, part="quiet")
    return [
        line for b in own for line in sentence(bias_words(b), width, part="strong" if b.found else "plain", hanging=2)
    ]


def standing_of(bench: OnBench) -> Standing:
    """What is known of a club beyond the ticks of its steps.

    Parameters
    ----------
    bench : OnBench
        The club.
    """
    sheet, weighed = bench.sheet, bench.raw_weight_g
    if weighed is None:
        return Standing(bench.answer.done)
    expected = RawWeight(sheet.raw_weight_g, sheet.raw_within_g)
    return Standing(bench.answer.done, *expected.words(weighed, bench.answer.finished.piece or ""))


def head_line(bench: OnBench, typed: Mapping[str, str], width: int) -> Line:
    """Which club is on the bench, and how its measurements stand.

    Parameters
    ----------
    bench : OnBench
        The club.
    typed : mapping of str to str
        What is typed and not kept yet.
    width : int
        Columns.
    """
    sheet = bench.sheet
    wanted = bench.answer.wanted
    if not wanted:
        right, part = ("✓ done", "good") if bench.answer.as_fitted else ("! all in, something off", "bad")
    elif len(wanted) == NEEDED and not typed:
        right, part = "not measured", "quiet"
    else:
        right, part = f"{NEEDED - len(wanted)} of {NEEDED} kept", "strong"
    if typed:
        right, part = f"{len(typed)} typed, not kept; {right}", "doubt"
    of = bench.meant
    order = f"  {of.order} {of.line}.{of.unit}" if of.order else ""
    left = f"{sheet.club_id}{order}"
    room = max(width - len(left) - len(right) - 4, 0)
    title = sheet.title if len(sheet.title) <= room else f"{sheet.title[: max(room - 1, 0)]}…" if room > 3 else ""
    gap = max(width - len(left) - 2 - len(title) - len(right), 1)
    return ((left, "head"), ("  ", "plain"), (title, "quiet"), (" " * gap, "plain"), (right, part))
