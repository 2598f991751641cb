"""What the place Stand-ins says: the fitted club, each difference with its bar, the work, what was left out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from specdb.matching.result import IN_PART_SIGN
from specdb.tui.widgets.bars import bar, scale
from specdb.tui.widgets.numbers import chance, number, plural, short, signed
from specdb.tui.widgets.prose import Line, Piece, heading, sentence
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.fitup.report import Step
    from specdb.matching.doubt import Doubt
    from specdb.matching.result import FeatureDifference, Substitute
    from specdb.verbs.matching.substitutes import SearchOptions, SubstitutesAnswer

BAR_PARTS = {"inside": "good", "outside": "bad", "doubt": "strong", "blank": "plain"}
_NAME, _NUMBER, _DOUBT, _UNITS = 21, 7, 7, 5
_HEADS = ("fitted", "stand-in", "diff.")
_LEAST_BAR, _WIDEST_BAR = 11, 43
_SHORT_TITLES = {"shaft balance point": "balance point"}
_WITHOUT_YEAR_DAYS = 330
_FILTERED = "left out by the filter"


def _decimals() -> dict[str, int]:
    from specdb.matching.weighting import COMPARED

    return {f.key: f.decimals for f in COMPARED}


# ---- the fitted club


def club_name(answer: SubstitutesAnswer) -> str:
    """What to call the fitted club.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer.
    """
    record = answer.club.record
    if record is None:
        return "club made on the spot"
    changed = "" if _as_kept(answer) else " (changed)"
    said = ", ".join(w for w in (record.label, record.player) if w)
    return f"{record.id}{changed}" + (f": {said}" if said else "")


def _as_kept(answer: SubstitutesAnswer) -> bool:
    record, asked = answer.club.record, answer.club.request
    return record is not None and (asked.shaft, asked.head, asked.adapter, asked.length_in) == (
        record.shaft_id,
        record.head_id,
        record.adapter_id,
        record.playing_length_in,
    )


def reference_lines(answer: SubstitutesAnswer, width: int) -> list[Line]:
    """The fitted club in two lines: what it is and how its shaft is to be had; and its numbers.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer.
    width : int
        Columns there are.
    """
    from specdb.verbs.matching.waiting import how_to_be_had

    _, supply = how_to_be_had(answer.on_hand, answer.supply, answer.kept_for)
    name, shaft = club_name(answer), f"  {answer.club.shaft.id}: "
    names = (name, name.partition(":")[0])
    words = supply.split(", ")
    said = [(n, supply) for n in names] + [(names[-1], ", ".join((words[0], words[-1])))]
    name, supply = next((s for s in said if len(s[0]) + len(shaft) + len(s[1]) <= width), said[-1])
    first: Line = ((name, "head"), (shaft, "plain"), (supply, "strong"))
    values, sd = answer.report.reference, answer.report.reference["sd"]

    def of(key: str, decimals: int) -> str:
        return f"{number(values.get(key), decimals)} ± {number(sd.get(key), max(decimals, 1))}"

    parts = [
        f"{short(answer.club.request.length_in)} in",
        str(values["swingweight"]),
        f"{of('frequency_cpm', 1)} cpm",
        f"{of('torque_deg', 1)} deg",
        f"{number(values.get('total_weight_g'), 0)} g",
        f"tip trim {short(answer.club.request.tip_trim_in or 0.0)} in",
    ]
    return [cut_line(first, width), cut_line(((" · ".join(parts), "plain"),), width)]


def filter_line(options: SearchOptions, answer: SubstitutesAnswer | None, width: int) -> Line:
    """What is looked for, and how many were found and left out.

    Parameters
    ----------
    options : SearchOptions
        How it is looked for.
    answer : SubstitutesAnswer or None
        What came of it, once it is there.
    width : int
        Columns there are.
    """
    found, chosen = "looking …", ""
    if answer is not None:
        report = answer.report
        found = f"{len(report.results)} shown, {len(report.excluded):,} left out"
        if any(r.compared_in_part for r in report.results):
            found += f", {IN_PART_SIGN} compared on less"
        if answer.chosen:
            last, *before = answer.chosen
            chosen = f"chosen: {last}{', before it ' + ', '.join(before) if before else ''} · "
    only = filters_said(options)
    weighting = "own weights, not saved" if options.tolerances is not None else options.weighting or "default"
    return cut_line(
        (
            (chosen, "good"),
            (f"only {', '.join(only)}" if only else "all shafts", "strong" if only else "plain"),
            (f" · {found} · weighting {weighting}", "quiet"),
        ),
        width,
    )


def filters_said(options: SearchOptions) -> list[str]:
    """The filters in words.

    Parameters
    ----------
    options : SearchOptions
        How it is looked for.
    """
    said = []
    if options.in_stock:
        said.append("in stock")
    if options.max_price is not None:
        said.append(f"up to {short(options.max_price)} in price")
    if options.max_weight_g is not None:
        said.append(f"up to {short(options.max_weight_g)} g")
    if options.same_tip:
        said.append("the same tip")
    if options.no_reaming:
        said.append("without reaming")
    return said


def cut_line(line: Line, width: int) -> Line:
    """A line cut to the width, with a mark where something is cut off.

    Parameters
    ----------
    line : Line
        The line.
    width : int
        Columns there are.
    """
    left, pieces = width, []
    for text, part in line:
        if len(text) > left:
            if left > 0:
                pieces.append((text[: left - 1] + "…", part))
            break
        pieces.append((text, part))
        left -= len(text)
    return tuple(pieces)


# ---- one stand-in


def preparation_in_short(found: Substitute) -> str:
    """What must be done beside the tip trim, in a word or two.

    Parameters
    ----------
    found : Substitute
        The stand-in.
    """
    words = (str(step.operation).replace("_", " ") for step in found.preparation)
    return ", ".join(w for w in dict.fromkeys(words) if w != "tip trim") or "none"


def free_in_short(found: Substitute, today: dt.date | None = None) -> str:
    """How many are free; where none is, the day that more are expected.

    Parameters
    ----------
    found : Substitute
        The stand-in.
    today : date or None
        A day within eleven months of it is written without its year; every day in full where None.
    """
    if found.in_stock:
        return str(found.in_stock)
    if found.expected_on:
        day = dt.date.fromisoformat(found.expected_on)
        if today is None:
            return found.expected_on
        soon = abs((day - today).days) < _WITHOUT_YEAR_DAYS
        return f"{day.day} {day:%b}" if soon else f"{day:%b %Y}"
    return "?" if found.in_stock is None else "0"


def title_line(found: Substitute, width: int) -> Line:
    """The stand-in that is looked at, in one line.

    Parameters
    ----------
    found : Substitute
        The stand-in.
    width : int
        Columns there are.
    """
    inside = chance(found.within_tolerance_probability)
    backordered = ", backordered" if found.backordered and not found.in_stock else ""
    return cut_line(
        (
            (f"{found.rank}. {found.shaft_id}", "head"),
            (f"  score {found.score:.2f}  all inside tolerance: {inside} %  ", "plain"),
            (f"free: {free_in_short(found)}{backordered}", "plain"),
        ),
        width,
    )


def build_words(found: Substitute) -> str:
    """Lengths and weight of the stand-in's build, as a sentence.

    Parameters
    ----------
    found : Substitute
        The stand-in.
    """
    return (
        f"Tip trim {short(found.tip_trim_in)} in, butt trim {number(found.butt_trim_in, 2)} in, cut length "
        f"{number(found.cut_length_in, 2)} in, {number(found.insertion_in, 2)} in deep in the bore; "
        f"{number(found.head_add_g, 1)} g added at the head for {found.swingweight}."
    )


def difference_lines(found: Substitute, width: int, *, plain: bool = False) -> list[Line]:
    """The differences as a table, with a bar in units of tolerance and the doubt around it.

    Parameters
    ----------
    found : Substitute
        The stand-in.
    width : int
        Columns there are.
    plain : bool
        Use nothing but ASCII in the bars.
    """
    taken = _NAME + 3 * (_NUMBER + 1) + (_DOUBT + 1) + (_UNITS + 1) + 3
    room = min(max(width - taken, _LEAST_BAR), _WIDEST_BAR)
    room -= 1 - room % 2
    head = (
        "".ljust(_NAME)
        + "".join(f" {h:>{max(_NUMBER, len(h))}}" for h in _HEADS)
        + f" {'± doubt':>{_DOUBT}} {'units':>{_UNITS}}  "
    )
    lines: list[Line] = [((head, "quiet"), (scale(room), "quiet"))]
    decimals = _decimals()
    lines += [_difference(f, decimals[f.key], room, plain=plain) for f in found.features]
    return [tuple(line) for line in lines]


def _difference(feature: FeatureDifference, decimals: int, room: int, *, plain: bool) -> Line:
    title = f"{_SHORT_TITLES.get(feature.title, feature.title)} {feature.unit}"
    numbers = (
        f" {number(feature.reference, decimals):>{_NUMBER}} {number(feature.candidate, decimals):>{_NUMBER + 1}} "
        f"{signed(feature.difference, decimals):>{_NUMBER}} {'± ' + number(feature.sd, decimals or 1):>{_DOUBT}}"
    )
    off = abs(feature.units_off) > 1.0
    drawn = bar(feature.units_off, feature.units_sd, width=room, plain=plain)
    pieces: list[Piece] = [
        (title.ljust(_NAME)[:_NAME], "plain"),
        (numbers, "plain"),
        (f" {signed(feature.units_off, 1):>{_UNITS}}", "strong" if off else "plain"),
        ("  ", "plain"),
    ]
    pieces += [(text, BAR_PARTS.get(part, "quiet")) for text, part in drawn.pieces]
    return tuple(pieces)


def comparison_lines(found: Substitute, width: int, doubt: Doubt | None = None, *, plain: bool = False) -> list[Line]:
    """Everything about how a stand-in compares: in words, its differences, what is not among them.

    Parameters
    ----------
    found : Substitute
        The stand-in.
    width : int
        Columns there are.
    doubt : Doubt or None
        What its uncertainty is made of, once it is worked out.
    plain : bool
        Use nothing but ASCII in the bars.
    """
    lines = difference_lines(found, width, plain=plain)
    summary = begun(found.summary)
    lines += sentence(f"{summary}.", width, part="strong")
    lines += sentence(build_words(found), width)
    lines += not_compared_lines(found, width)
    parts = f"differences and doubt {number(found.play_score, 2)}, preparation {number(found.preparation_cost, 2)}"
    lines += sentence(
        f"Score {found.score:.2f}: {parts}; with no difference at all it would be {number(found.noise_floor, 2)}, "
        "from the doubt alone.",
        width,
        part="quiet",
    )
    if doubt is not None:
        lines += sentence(f"The doubt comes, by variance, from {doubt.sentence()}.", width, part="quiet")
        if doubt.settling is not None:
            lines += sentence(f"Most worth measuring: {doubt.settling.sentence(found.shaft_id)}.", width)
    lines += sentence(
        "Bars: one unit is one tolerance; the brackets are ±1. The round mark is inside, the diamond outside, an arrow "
        "off the scale; the thick line is one standard deviation to either side.",
        width,
        part="quiet",
    )
    return lines


def not_compared_lines(found: Substitute, width: int) -> list[Line]:
    """What was not compared, and why.

    Parameters
    ----------
    found : Substitute
        The stand-in.
    width : int
        Columns there are.
    """
    from specdb.matching.weighting import COMPARED

    titles = {f.key: f.title for f in COMPARED}
    shown = {f.key for f in found.features}
    lines: list[Line] = []
    if found.not_compared:
        missing = ", ".join(titles[k] for k in found.not_compared)
        lines += sentence(f"Not compared, for want of data: {missing}.", width, part="doubt")
    unweighted = [f.title for f in COMPARED if f.key not in shown and f.key not in found.not_compared]
    if unweighted:
        lines += sentence(f"Left out by the weighting: {', '.join(unweighted)}.", width, part="doubt")
    return lines


def work_lines(found: Substitute, width: int) -> list[Line]:
    """What the workshop does differently, in order, with every caution in full.

    Parameters
    ----------
    found : Substitute
        The stand-in.
    width : int
        Columns there are.
    """
    lines = sentence(build_words(found), width)
    lines += heading("Preparation, in order of work")
    if not found.preparation:
        lines += sentence("None: the tip goes in as it is.", width)
    for i, step in enumerate(found.preparation, start=1):
        before: Line = ((f"{i}. ", "key"),)
        lines += sentence(f"{step.weighed}{_part_on_shelf(step)}.", width, before=before)
    cautions = list(dict.fromkeys((*found.cautions, *(s.caution for s in found.preparation if s.caution))))
    lines += heading("Cautions")
    for text in cautions:
        lines += sentence(text, width, before=(("! ", "bad"),))
    if not cautions:
        lines += sentence("None beyond the usual care with epoxy, dust and heat.", width, part="quiet")
    if found.notes:
        lines += heading("To be known")
        for text in found.notes:
            lines += sentence(f"{begun(text)}.", width, before=(("- ", "key"),))
    lines += sentence(
        "An aid to a skilled person: makers' instructions, local codes and qualified practice come first.",
        width,
        part="quiet",
    )
    return lines


def _part_on_shelf(step: Step) -> str:
    if step.part_id is None or step.in_stock is None:
        return ""
    return " (on the shelf)" if step.in_stock else " (not on the shelf)"


# ---- what was left out


def left_out_lines(answer: SubstitutesAnswer, width: int) -> list[Line]:
    """How many shafts are not proposed, by reason.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer.
    width : int
        Columns there are.
    """
    lines: list[Line] = []
    counts: Sequence[tuple[str, int]] = answer.report.excluded.counts()
    most = max((len(f"{n:,}") for _, n in counts), default=1)
    for reason, count in counts:
        said = answer.filtered if reason == _FILTERED and answer.filtered else reason
        lines += sentence(said, width, before=((f"{count:>{most},}  ", "strong"),))
    beyond = _can_be_built(answer)
    if beyond > 0:
        lines += sentence(
            f"can be built too, but play less near than the {plural(len(answer.report.results), 'shaft')} shown",
            width,
            before=((f"{beyond:>{most},}  ", "strong"),),
        )
    return lines


def _can_be_built(answer: SubstitutesAnswer) -> int:
    excluded = answer.report.excluded
    return len(excluded.ids) - len(excluded) - len(answer.report.results)
