"""The stand-ins of a set in words: the fitted set, the trim chart, differences club by club, the work."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from specdb.matching.result import IN_PART_SIGN
from specdb.tui.sets.standins_lists import model_in_short
from specdb.tui.sets.words import sign_of
from specdb.tui.standins.words import cut_line, difference_lines, filters_said, not_compared_lines
from specdb.tui.widgets.curves import Curve, Mark, Stroke
from specdb.tui.widgets.numbers import chance, number, plural, short, signed
from specdb.tui.widgets.prose import Line, heading, sentence
from specdb.tui.widgets.text_rows import TextColumn, text_rows
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.fitup.report import Step
    from specdb.matching.doubt import Doubt
    from specdb.matching.result import FeatureDifference
    from specdb.sets.result import SetStandIn
    from specdb.verbs.matching.substitutes import SearchOptions
    from specdb.verbs.sets.substitutes import SetAnswer

_FILTERED = "left out by the filter"
_CHOSEN = 28  # cells for the name of what is chosen, above the list
_SHORT = {
    "frequency_cpm": ("freq.", "cpm"),
    "tip_ei_n_m2": ("tip", "N·m²"),
    "mid_ei_n_m2": ("middle", "N·m²"),
    "butt_ei_n_m2": ("butt", "N·m²"),
    "torque_deg": ("torque", "deg"),
    "shaft_weight_g": ("shaft", "g"),
    "shaft_balance_from_butt_in": ("balance", "in"),
    "kick_point_pct": ("kick", "%"),
    "total_weight_g": ("total", "g"),
    "moi_butt_kg_cm2": ("MOI", "kg·cm²"),
}


# ---- the fitted set


def fitted_lines(answer: SetAnswer, width: int) -> list[Line]:
    """The fitted set in two lines: how its shafts are to be had, and its numbers from first to last club.

    Parameters
    ----------
    answer : SetAnswer
        The answer.
    width : int
        Columns there are.
    """
    report = answer.report
    name, before = f"{report.set_id}: {plural(len(report.members), 'club')}", "  fitted shafts: "
    said = _to_be_had(answer)
    if len(name) + len(before) + len(said) > width:
        said = _to_be_had(answer, by_shaft=False)
    if len(name) + len(before) + len(said) > width:
        name, before = report.set_id, "  shafts: "
    first: Line = ((name, "head"), (before, "plain"), (said, "strong"))
    values = [r.to_json() for r in report.references]

    def from_to(texts: Sequence[str], unit: str = "") -> str:
        one, last = texts[0], texts[-1]
        return f"{one}{unit}" if one == last else f"{one} to {last}{unit}"

    parts = [
        from_to([short(m.parts.playing_length_in) for m in report.members], " in"),
        from_to([str(v["swingweight"]) for v in values]),
        from_to([number(v["frequency_cpm"], 1) for v in values], " cpm"),
    ]
    if math.isfinite(report.fitted_slope):
        parts.append(f"{number(report.fitted_slope, 1)} cpm a half inch")
    return [cut_line(first, width), cut_line(((" · ".join(parts), "plain"),), width)]


def _to_be_had(answer: SetAnswer, *, by_shaft: bool = True) -> str:
    needed = Counter(m.parts.shaft.id for m in answer.report.members)
    said, short_of, days, backordered = [], 0, set[str](), False
    for shaft, pieces in needed.items():
        have, state = answer.pieces.get(shaft, 0), answer.supply.get(shaft)
        if have >= pieces:
            continue
        short_of += pieces - max(have, 0)
        words = [f"{shaft} {max(have, 0)} of {pieces} free"]
        if state is not None and state.backordered:
            words.append("backordered")
            backordered = True
        if state is not None and state.expected_on:
            words.append(f"expected {state.expected_on.isoformat()}")
            days.add(state.expected_on.isoformat())
        said.append(", ".join(words))
    if by_shaft or not said:
        return "; ".join(said) if said else "all free"
    every = sum(needed.values())
    words = [f"{every - short_of} of {every} free", *(["backordered"] if backordered else [])]
    return ", ".join([*words, f"expected {max(days)}"] if days else words)


def models_line(options: SearchOptions, answer: SetAnswer, width: int) -> Line:
    """What is looked for, and how many were found and left out.

    Parameters
    ----------
    options : SearchOptions
        How it is looked for.
    answer : SetAnswer
        What came of it.
    width : int
        Columns there are.
    """
    only = filters_said(options)
    report = answer.report
    chosen = next((model_in_short(r.model, _CHOSEN) for r in report.results if answer.is_chosen(r)), "")
    less = f", {IN_PART_SIGN} compared on less" if any(r.compared_in_part for r in report.results) else ""
    found = f"{len(report.results)} shown{less}, {len(report.excluded):,} left out"
    return cut_line(
        (
            (f"chosen: {chosen} · " if chosen else "", "good"),
            (f"only {', '.join(only)}" if only else "all models", "strong" if only else "plain"),
            (
                f" · {found} · weighting {report.weighting}",
                "quiet",
            ),
        ),
        width,
    )


# ---- one model


def model_line(found: SetStandIn, width: int) -> Line:
    """The model that is looked at, in one line.

    Parameters
    ----------
    found : SetStandIn
        The model.
    width : int
        Columns there are.
    """
    name, score = f"{found.rank}. {found.model}, {found.way}", f"  score {found.score:.2f}"
    inside = f"  least sure club inside tolerance: {chance(found.within_tolerance_probability)} %"
    if len(name) + len(score) + len(inside) > width:
        inside = ""
    return cut_line(((name, "head"), (f"{score}{inside}", "plain")), width)


def trim_words(found: SetStandIn) -> str:
    """First trim and step in a sentence.

    Parameters
    ----------
    found : SetStandIn
        The model.
    """
    if found.way == "one shaft for all":
        if found.trim_step_in == 0.0:
            return f"One shaft for all clubs, {short(found.first_trim_in)} in off each tip."
        return (
            f"One shaft for all clubs: {short(found.first_trim_in)} in off the tip of the first, "
            f"{short(found.trim_step_in)} in more for each further number."
        )
    stepped = {"soft-stepped": ", each club with the shaft of the longer one", "hard-stepped": ", each club with the "
               "shaft of the shorter one"}.get(found.way, "")  # fmt: skip
    trim = "tips as they come" if found.first_trim_in == 0.0 else f"{short(found.first_trim_in)} in off each tip"
    return f"Shafts by club number{stepped}; {trim}."


def chart_lines(found: SetStandIn, width: int) -> list[Line]:
    """The trim chart.

    Parameters
    ----------
    found : SetStandIn
        The model.
    width : int
        Columns there are.
    """
    clubs = found.clubs
    own = [c.substitute for c in clubs]
    outside = [abs(_frequency_units(s.features)) > 1.0 for s in own]
    columns = [
        TextColumn("club", "", [c.club_id for c in clubs], right=False),
        TextColumn("tip trim", "in", [short(s.tip_trim_in) for s in own]),
        TextColumn("cut", "in", [number(s.cut_length_in, 2) for s in own]),
        TextColumn("butt", "in", [number(s.butt_trim_in, 2) for s in own]),
        TextColumn("fitted", "cpm", [number(c.fitted_cpm, 1) for c in clubs]),
        TextColumn("freq.", "cpm", [number(c.cpm, 1) for c in clubs]),
        TextColumn(
            "off ",
            "cpm ",
            [f"{signed(c.cpm - c.fitted_cpm, 1)}{'!' if out else ' '}" for c, out in zip(clubs, outside, strict=True)],
            strong=outside,
        ),
        TextColumn("±", "cpm", [number(c.cpm_sd, 1) for c in clubs]),
        TextColumn("score", "", [number(s.score, 2) for s in own]),
        TextColumn("head", "g", [number(c.head_weight_g, 1) for c in clubs], optional=True),
        TextColumn("swing", "", [s.swingweight for s in own], optional=True),
        TextColumn("fitted trim", "in", [short(c.fitted_trim_in) for c in clubs], optional=True),
        TextColumn("shaft", "", [s.shaft_id for s in own], right=False, optional=True),
    ]
    if len(set(found.shaft_ids)) == 1:
        del columns[-1]
    return text_rows(columns, width)


def _frequency_units(features: Sequence[FeatureDifference]) -> float:
    return next((f.units_off for f in features if f.key == "frequency_cpm"), 0.0)


def model_lines(found: SetStandIn, width: int, doubt: Doubt | None = None) -> list[Line]:
    """Trim chart, what it plays like, what its score is made of, its pieces.

    Parameters
    ----------
    found : SetStandIn
        The model.
    width : int
        Columns there are.
    doubt : Doubt or None
        What the uncertainty of its least known club is made of, once it is worked out.
    """
    lines = chart_lines(found, width)
    lines += sentence(trim_words(found), width)
    lines += sentence(f"{begun(found.summary)}.", width, part="strong")
    slope = ""
    if math.isfinite(found.slope):
        slope = (
            f" ({number(found.slope, 1)} ± {number(found.slope_sd, 1)} against {number(found.fitted_slope, 1)} cpm a "
            "half inch)"
        )
    lines += sentence(
        f"Score {found.score:.2f}: clubs together {number(found.clubs_score, 2)}, slope "
        f"{number(found.slope_term, 2)}{slope}; with no difference at all it would be "
        f"{number(found.noise_floor, 2)}, from the doubt alone.",
        width,
        part="quiet",
    )
    if found.other_ways:
        others = ", ".join(f"{way} {number(score, 2)}" for way, score in found.other_ways)
        lines += sentence(f"The same model otherwise: {others}.", width, part="quiet")
    if doubt is not None:
        least = found.least_known_club
        lines += sentence(
            f"Least known is {least.club_id}; that comes, by variance, from {doubt.sentence()}.", width, part="quiet"
        )
        if doubt.settling is not None:
            lines += sentence(f"Most worth measuring: {doubt.settling.sentence(least.substitute.shaft_id)}.", width)
    lines += heading("Pieces")
    for text in (f"{one.shaft_id}: {one.words}" for one in found.pieces):
        lines += sentence(f"{text}.", width, before=(("- ", "key"),))
    return lines


def matrix_lines(found: SetStandIn, width: int) -> list[Line]:
    """Differences of every club in every feature; those beyond one tolerance are marked.

    Parameters
    ----------
    found : SetStandIn
        The model.
    width : int
        Columns there are.
    """
    from specdb.matching.weighting import COMPARED

    columns = [TextColumn("club", "", [c.club_id for c in found.clubs], right=False)]
    for feature in COMPARED:
        own = [next((f for f in c.substitute.features if f.key == feature.key), None) for c in found.clubs]
        if not any(own):
            continue
        outside = [f is not None and abs(f.units_off) > 1.0 for f in own]
        cells = [
            "-" if f is None else f"{signed(f.difference, feature.decimals)}{'!' if out else ' '}"
            for f, out in zip(own, outside, strict=True)
        ]
        title, unit = _SHORT.get(feature.key, (feature.title, feature.unit))
        columns.append(TextColumn(f"{title} ", f"{unit} ", cells, strong=outside))
    lines = text_rows(columns, width)
    if sum(c.width + 2 for c in columns) - 2 > width:
        half = (len(columns) + 1) // 2
        lines = [*text_rows(columns[: half + 1], width), *text_rows([columns[0], *columns[half + 1 :]], width)]
    marked = any(any(c.strong) for c in columns)
    said = "Stand-in less fitted, club by club." + (" ! beyond one tolerance." if marked else " All inside tolerance.")
    return [*lines, *sentence(said, width, part="quiet")]


def differences_lines(found: SetStandIn, width: int, *, plain: bool = False) -> list[Line]:
    """The differences of all clubs, then each club with its bars.

    Parameters
    ----------
    found : SetStandIn
        The model.
    width : int
        Columns there are.
    plain : bool
        Use nothing but ASCII in the bars.
    """
    lines = matrix_lines(found, width)
    for club in found.clubs:
        own = club.substitute
        lines += heading(f"{club.club_id}: {own.shaft_id}, tip trim {short(own.tip_trim_in)} in, score {own.score:.2f}")
        lines += difference_lines(own, width, plain=plain)
        lines += not_compared_lines(own, width)
    return lines


def slopes_picture(found: SetStandIn, lengths: dict[str, float]) -> tuple[list[Curve], list[Mark]]:
    """Frequency against length of the fitted set and of the set with the stand-in.

    Parameters
    ----------
    found : SetStandIn
        The model.
    lengths : dict of str to float
        Playing length by club, in.
    """
    clubs = sorted(found.clubs, key=lambda c: lengths[c.club_id])
    x = [lengths[c.club_id] for c in clubs]
    fitted, own = [c.fitted_cpm for c in clubs], [c.cpm for c in clubs]
    said = ("", "")
    if math.isfinite(found.slope):
        said = (f", {number(found.fitted_slope, 1)}", f", {number(found.slope, 1)} cpm a half inch")
    low = [y - c.cpm_sd for y, c in zip(own, clubs, strict=True)]
    high = [y + c.cpm_sd for y, c in zip(own, clubs, strict=True)]
    curves = [
        Curve(f"fitted{said[0]}", x, fitted),
        Curve(f"stand-in{said[1]}", x, own, low, high, Stroke.DASHED),
    ]
    return curves, [Mark(at, c.fitted_cpm, sign_of(c.number)) for at, c in zip(x, clubs, strict=True)]


def set_work_lines(found: SetStandIn, width: int) -> list[Line]:
    """What the workshop does, in order, with every caution in full.

    Parameters
    ----------
    found : SetStandIn
        The model.
    width : int
        Columns there are.
    """
    lines: list[Line] = [(("Preparation beside the tip trim, in order of work", "head"),)]
    any_step = False
    for clubs, steps in _groups(found):
        if not steps:
            continue
        any_step = True
        lines += sentence(f"{'Every club' if len(clubs) == len(found.clubs) else ', '.join(clubs)}:", width)
        for i, step in enumerate(steps, start=1):
            lines += sentence(f"{step.weighed}.", width, before=((f"  {i}. ", "key"),))
    if not any_step:
        lines += sentence("None: every tip goes in as it is, but for what is cut off it.", width)
    lines += heading("Cautions")
    for text in found.cautions:
        lines += sentence(text, width, before=(("! ", "bad"),))
    if not found.cautions:
        lines += sentence("None beyond the usual care with epoxy, dust and heat.", width, part="quiet")
    if found.notes:
        lines += heading("To be known")
        for text in found.notes:
            lines += sentence(f"{text}.", width, before=(("- ", "key"),))
    lines += sentence(
        "An aid to a skilled person: makers' instructions, local codes and qualified practice come first.",
        width,
        part="quiet",
    )
    return lines


def _groups(found: SetStandIn) -> list[tuple[list[str], list[Step]]]:
    """Clubs whose preparation is the same, with it."""
    groups: dict[tuple[str, ...], tuple[list[str], list[Step]]] = {}
    for club in found.clubs:
        steps = [s for s in club.substitute.preparation if str(s.operation) != "tip_trim"]
        key = tuple(s.detail for s in steps)
        groups.setdefault(key, ([], steps))[0].append(club.club_id)
    return list(groups.values())


# ---- what was left out


def left_out_counts(answer: SetAnswer, width: int) -> list[Line]:
    """How many models are not proposed, by reason.

    Parameters
    ----------
    answer : SetAnswer
        The answer.
    width : int
        Columns there are.
    """
    counts = answer.report.excluded.counts()
    most = max((len(f"{n:,}") for _, n in counts), default=1)
    lines: list[Line] = []
    for reason, count in counts:
        said = answer.filtered if reason == _FILTERED and answer.filtered else reason
        lines += sentence(said, width, before=((f"{count:>{most},}  ", "strong"),))
    return lines
