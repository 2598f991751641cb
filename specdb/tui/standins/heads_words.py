"""The nearest heads in words and lists: what is wanted, each head with what it takes, what was left out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from specdb.tui.fitup.words import VERDICTS
from specdb.tui.standins.lists import GAP
from specdb.tui.standins.words import BAR_PARTS, cut_line
from specdb.tui.widgets.bars import bar, scale
from specdb.tui.widgets.columns import Column, ColumnSpec, measured
from specdb.tui.widgets.numbers import number, signed
from specdb.tui.widgets.prose import Line, Piece, heading, sentence
from specdb.tui.widgets.text_rows import cut_in_the_middle
from specdb.units.writing import begun

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.sets.head_result import HeadDifference, HeadStandIn
    from specdb.verbs.matching.heads import HeadOptions, HeadsAnswer

_MARGIN, _LEAST_NAME, _LEAST_SUMMARY = 3, 28, 24
_NAME, _NUMBER = 22, 8
_LEAST_BAR, _WIDEST_BAR = 11, 43
_WITHOUT_YEAR_DAYS = 330
_UNIT_SIGNS = {"loft_deg": "°", "lie_deg": "°", "face_angle_deg": "°", "weight_g": " g", "offset_in": " in",
               "volume_cc": " cc"}  # fmt: skip
_DECIMALS = {"offset_in": 3, "volume_cc": 0}
_TITLES = {"loft_deg": "loft", "lie_deg": "lie", "face_angle_deg": "face angle", "weight_g": "weight",
           "offset_in": "offset", "volume_cc": "volume", "frequency_cpm": "frequency",
           "swingweight_points": "swingweight"}  # fmt: skip


# ---- what is wanted


def wanted_lines(answer: HeadsAnswer, width: int) -> list[Line]:
    """The wanted head in two lines: which it is and how it is to be had; what it measures.

    Parameters
    ----------
    answer : HeadsAnswer
        The answer.
    width : int
        Columns there are.
    """
    from specdb.verbs.matching.waiting import how_to_be_had

    report = answer.report
    _, supply = how_to_be_had(answer.on_hand, answer.supply, answer.kept_for)
    of = f" of {report.club_id}" if report.club_id else ""
    title = f", {report.title}"
    if len(report.head_id) + len(of) + len(title) + 2 + len(supply) > width:
        title = ""
    first: Line = ((report.head_id, "head"), (f"{of}{title}: ", "plain"), (supply, "strong"))
    said = [f"{_TITLES.get(key, key)} {value:g}{_UNIT_SIGNS.get(key, '')}" for key, value in _known(report.wanted)]
    return [cut_line(first, width), cut_line(((f"Wanted: {' · '.join(said)}", "plain"),), width)]


def _known(wanted: object) -> Iterable[tuple[str, float]]:
    if isinstance(wanted, dict):
        for key, value in wanted.items():
            if value is not None and key in _UNIT_SIGNS:
                yield key, round(value, _DECIMALS.get(key, 1))


def heads_line(options: HeadOptions, answer: HeadsAnswer, width: int) -> Line:
    """What is looked for, and how many were found and left out.

    Parameters
    ----------
    options : HeadOptions
        How it is looked for.
    answer : HeadsAnswer
        What came of it.
    width : int
        Columns there are.
    """
    only = ["in stock"] if options.in_stock else []
    if options.max_head_add_g is not None:
        only.append(f"with up to {options.max_head_add_g:g} g added")
    report = answer.report
    less = f", {len(report.less_near)} more less near" if report.less_near else ""
    for_club = "" if report.club_id else " · for no club: l or k names one, so that its shaft counts too"
    return cut_line(
        (
            (f"only {', '.join(only)}" if only else "all heads", "strong" if only else "plain"),
            (f" · {len(report.results)} shown{less}, {len(report.excluded)} left out{for_club}", "quiet"),
        ),
        width,
    )


# ---- the list


def heads_table(answer: HeadsAnswer, width: int, today: dt.date) -> tuple[pa.Table, list[Column]]:
    """Heads that can stand in, nearest first.

    Parameters
    ----------
    answer : HeadsAnswer
        The answer.
    width : int
        Columns there are.
    today : date
        Day from which expected days are told.
    """
    import pyarrow as pa

    results = answer.report.results
    currencies = {r.currency for r in results if r.price is not None}
    currency = currencies.pop() if len(currencies) == 1 else None
    columns = {
        "id": [r.head_id for r in results],
        "head": [f"{r.rank:>2} {r.head_id}" for r in results],
        "score": [f"{r.score:.2f}" for r in results],
        "loft": [_bend(r, "loft") for r in results],
        "lie": [_bend(r, "lie") for r in results],
        "add": [number(r.head_add_g if r.head_excess_g < 0.05 else -r.head_excess_g, 1) for r in results],
        "fit": [fit_in_short(r) for r in results],
        "stock": [_free(r, today) for r in results],
        "adapter": [", ".join(w for w in (r.adapter_id, r.setting) if w) for r in results],
        "price": [_price(r, currency) for r in results],
        "summary": [r.summary for r in results],
    }
    specs = [
        ColumnSpec("head", "head"),
        ColumnSpec("score", "score", right=True),
        ColumnSpec("loft", "bend loft", "°", right=True),
        ColumnSpec("lie", "bend lie", "°", right=True),
        ColumnSpec("add", "add", "g", right=True),
        ColumnSpec("fit", "its shaft"),
        ColumnSpec("stock", "free"),
        ColumnSpec("price", "price", currency or "", right=True),
        ColumnSpec("adapter", "adapter, setting"),
        ColumnSpec("summary", "in words"),
    ]
    for name in ("adapter", "fit"):
        if not any(columns[name]):
            specs = [s for s in specs if s.name != name]
    table = pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()})
    return table, _fitting(measured(table, specs), width)


def _fitting(columns: list[Column], width: int) -> list[Column]:
    """Columns made to fit: the summary gives way first, then the names."""
    *needed, summary = columns
    spare = width - _MARGIN - sum(c.width + GAP for c in needed) + GAP
    name = needed[0].width
    if spare < 0:
        name = max(name + spare, min(_LEAST_NAME, name))
        needed[0] = replace(needed[0], width=name)
    needed[0] = replace(needed[0], write=lambda text: cut_in_the_middle(text, name))
    room = spare - GAP
    return [*needed, replace(summary, width=room)] if room >= _LEAST_SUMMARY else needed


def _bend(found: HeadStandIn, name: str) -> str:
    return signed(found.bends[name], 1) if name in found.bends else ""


def fit_in_short(found: HeadStandIn) -> str:
    """How the fitted shaft goes in, in a word or two; empty where no club was named.

    Parameters
    ----------
    found : HeadStandIn
        The head.
    """
    if found.club is None:
        return ""
    words = dict.fromkeys(str(step.operation).replace("_", " ") for step in found.club.preparation)
    return ", ".join(words) if words else "fits"


def _free(found: HeadStandIn, today: dt.date) -> str:
    if found.in_stock:
        return str(found.in_stock)
    if found.expected_on:
        day = dt.date.fromisoformat(found.expected_on)
        return f"{day.day} {day:%b}" if abs((day - today).days) < _WITHOUT_YEAR_DAYS else f"{day:%b %Y}"
    return "?" if found.in_stock is None else "0"


def _price(found: HeadStandIn, currency: str | None) -> str:
    if found.price is None:
        return ""
    text = f"{found.price:.2f}".removesuffix(".00")
    return text if currency else f"{text} {found.currency or ''}".strip()


# ---- one head


def head_line(found: HeadStandIn, width: int) -> Line:
    """The head that is looked at, in one line.

    Parameters
    ----------
    found : HeadStandIn
        The head.
    width : int
        Columns there are.
    """
    pieces: list[Piece] = [(f"{found.rank}. {found.head_id}", "head"), (f"  score {found.score:.2f}", "plain")]
    if found.club is not None:
        word, part = VERDICTS[found.club.verdict]
        pieces += [("  fitted shaft in it: ", "plain"), (word, part)]
    return cut_line(tuple(pieces), width)


def head_lines(found: HeadStandIn, width: int, *, plain: bool = False) -> list[Line]:
    """What is different with a head, what it takes, what the club becomes.

    Parameters
    ----------
    found : HeadStandIn
        The head.
    width : int
        Columns there are.
    plain : bool
        Use nothing but ASCII in the bars.
    """
    room = min(max(width - _NAME - 4 * (_NUMBER + 1) - 2, _LEAST_BAR), _WIDEST_BAR)
    room -= 1 - room % 2
    head = "".ljust(_NAME) + "".join(f" {t:>{_NUMBER}}" for t in ("wanted", "finished", "diff.", "steps"))
    lines: list[Line] = [((f"{head}  ", "quiet"), (scale(room), "quiet"))]
    lines += [_difference(found, d, room, plain=plain) for d in found.differences]
    lines += sentence(f"{begun(found.summary)}.", width, part="strong")
    if found.not_compared:
        missing = ", ".join(_TITLES.get(key, key) for key in found.not_compared)
        lines += sentence(f"Not compared, for want of data: {missing}.", width, part="doubt")
    for text in found.refused:
        lines += sentence(f"Not bent: {text}.", width, part="doubt")
    if found.club is not None:
        values, fitted = found.club.values, found.club.fitted
        lines += sentence(
            f"The club becomes {number(values['frequency_cpm'], 1)} cpm (fitted {number(fitted['frequency_cpm'], 1)}), "
            f"{values['swingweight']} ({fitted['swingweight']}), {number(values['total_weight_g'], 0)} g "
            f"({number(fitted['total_weight_g'], 0)}), its shaft cut to {number(values['cut_length_in'], 2)} in "
            f"({number(fitted['cut_length_in'], 2)}), at the same playing length.",
            width,
        )
    lines += sentence(
        "One step is what a player or fitter would remark on: a degree of loft or lie, 4 g, 0.05 in of offset.",
        width,
        part="quiet",
    )
    return lines


def _difference(head: HeadStandIn, found: HeadDifference, room: int, *, plain: bool) -> Line:
    both = [number(v, found.decimals) for v in (found.reference, found.candidate)]
    if found.key == "swingweight_points" and head.club is not None:
        both = [str(v["swingweight"]) for v in (head.club.fitted, head.club.values)]
    numbers = f" {both[0]:>{_NUMBER}} {both[1]:>{_NUMBER}} {signed(found.difference, found.decimals):>{_NUMBER}}"
    off = abs(found.units_off) > 1.0
    drawn = bar(found.units_off, width=room, plain=plain)
    pieces: list[Piece] = [
        (f"{found.title} {found.unit}".ljust(_NAME)[:_NAME], "plain"),
        (numbers, "plain"),
        (f" {signed(found.units_off, 1):>{_NUMBER}}", "strong" if off else "plain"),
        ("  ", "plain"),
    ]
    pieces += [(text, BAR_PARTS.get(part, "quiet")) for text, part in drawn.pieces]
    return tuple(pieces)


def head_work_lines(found: HeadStandIn, width: int) -> list[Line]:
    """What the workshop does with a head, in order, with every caution in full.

    Parameters
    ----------
    found : HeadStandIn
        The head.
    width : int
        Columns there are.
    """
    lines: list[Line] = [(("At the head", "head"),)]
    for name, by in found.bends.items():
        way = {"loft": ("weaker", "stronger"), "lie": ("more upright", "flatter")}[name][0 if by > 0 else 1]
        lines += sentence(f"bend {name} by {abs(by):.1f}° {way}.", width, before=(("- ", "key"),))
    if found.head_excess_g >= 0.05:
        lines += sentence(f"{found.head_excess_g:.1f} g too heavy: no weight comes off it.", width,
                          before=(("! ", "doubt"),))  # fmt: skip
    elif found.head_add_g >= 0.05:
        lines += sentence(f"add {found.head_add_g:.1f} g.", width, before=(("- ", "key"),))
    if found.adapter_id:
        setting = f", setting {found.setting}" if found.setting else ""
        lines += sentence(f"adapter {found.adapter_id}{setting}.", width, before=(("- ", "key"),))
    if len(lines) == 1:
        lines += sentence("Nothing: neither bending nor weight.", width)
    if found.club is not None:
        word, part = VERDICTS[found.club.verdict]
        lines += [(("", "plain"),), (("The fitted shaft in it: ", "head"), (word, part))]
        for i, step in enumerate(found.club.preparation, start=1):
            lines += sentence(f"{step.weighed}.", width, before=((f"{i}. ", "key"),))
    for title, texts, before in (("Cautions", found.cautions, ("! ", "bad")), ("To be known", found.notes,
                                                                              ("- ", "key"))):  # fmt: skip
        if texts:
            lines += heading(title)
            for text in texts:
                said = begun(text)
                lines += sentence(said if said.endswith(".") else f"{said}.", width, before=(before,))
    return lines


# ---- what was left out


def left_out_heads(answer: HeadsAnswer) -> pa.Table:
    """Heads that are not proposed, with the reason.

    Parameters
    ----------
    answer : HeadsAnswer
        The answer.
    """
    import pyarrow as pa

    report = answer.report
    rows = [(o.head_id, o.sentence) for o in sorted(report.excluded, key=lambda o: (o.short, o.head_id))]
    rows = [*((h, "can stand in, but is less near than those shown") for h in report.less_near), *rows]
    return pa.table({"id": pa.array([r[0] for r in rows], pa.string()),
                     "reason": pa.array([r[1] for r in rows], pa.string())})  # fmt: skip


def left_out_head_counts(answer: HeadsAnswer, width: int) -> list[Line]:
    """How many heads are not proposed, by reason.

    Parameters
    ----------
    answer : HeadsAnswer
        The answer.
    width : int
        Columns there are.
    """
    counts = answer.report.counts()
    most = max((len(f"{n:,}") for _, n in counts), default=1)
    lines: list[Line] = []
    for reason, count in counts:
        lines += sentence(reason, width, before=((f"{count:>{most},}  ", "strong"),))
    return lines


def heads_text(answer: HeadsAnswer, options: HeadOptions, found: HeadStandIn, day: dt.date) -> str:
    """One head against the wanted one as plain text.

    Parameters
    ----------
    answer : HeadsAnswer
        The answer.
    options : HeadOptions
        How it was looked for.
    found : HeadStandIn
        The head.
    day : date
        Day that stands on it.
    """
    width = 78
    parts: list[list[Line]] = [
        [(("STAND-IN FOR A HEAD", "head"),), ((f"made on {day.isoformat()}", "plain"),)],
        [*wanted_lines(answer, width), heads_line(options, answer, width)],
        [head_line(found, width)],
        head_lines(found, width, plain=True),
        head_work_lines(found, width),
    ]
    texts = ("\n".join("".join(t for t, _ in line).rstrip() for line in lines) for lines in parts)
    return "\n\n".join(texts) + "\n"
