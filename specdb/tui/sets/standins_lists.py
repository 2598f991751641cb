"""The stand-ins of a set as lists: models, nearest first, and models left out."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from specdb.matching.result import IN_PART_SIGN
from specdb.tui.standins.lists import CHOSEN_SIGN, GAP
from specdb.tui.widgets.columns import Column, ColumnSpec, measured
from specdb.tui.widgets.numbers import chance, number, short
from specdb.tui.widgets.text_rows import cut_in_the_middle

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.sets.result import SetStandIn
    from specdb.verbs.sets.substitutes import SetAnswer

_WAYS = {"one shaft for all": "one for all", "by club number": "by number"}
_MARGIN, _LEAST_NAME, _LEAST_SUMMARY = 3, 30, 24
_WITHOUT_YEAR_DAYS = 330
_RANK = 3  # signs of the rank before the name


def key_of(found: SetStandIn) -> str:
    """What a model in its way is told by in the list.

    Parameters
    ----------
    found : SetStandIn
        The model.
    """
    return f"{found.shaft_ids[0]} {found.way}"


def models_table(answer: SetAnswer, width: int, today: dt.date) -> tuple[pa.Table, list[Column]]:
    """Models that can supply the set, nearest first.

    Parameters
    ----------
    answer : SetAnswer
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
        "id": [key_of(r) for r in results],
        "model": [f"{r.rank:>2}{CHOSEN_SIGN if answer.is_chosen(r) else ' '}{r.model}" for r in results],
        "score": [f"{IN_PART_SIGN if r.compared_in_part else ''}{r.score:.2f}" for r in results],
        "way": [_WAYS.get(r.way, r.way) for r in results],
        "first": [short(r.first_trim_in) for r in results],
        "step": [short(r.trim_step_in) for r in results],
        "slope": [number(r.slope, 1) for r in results],
        "sets": [sets_on_hand(r, today) for r in results],
        "price": [_price(r, currency) for r in results],
        "inside": [chance(r.within_tolerance_probability) for r in results],
        "summary": [r.summary for r in results],
    }
    specs = [
        ColumnSpec("model", "model"),
        ColumnSpec("score", "score", right=True),
        ColumnSpec("way", "way"),
        ColumnSpec("sets", "sets free", right=True),
        ColumnSpec("first", "first trim", "in", right=True),
        ColumnSpec("step", "step", "in", right=True),
        ColumnSpec("slope", "slope", "cpm/½ in", right=True),
        ColumnSpec("price", "price", currency or "", right=True),
        ColumnSpec("inside", "all in", "%", right=True),
        ColumnSpec("summary", "in words"),
    ]
    table = pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()})
    return table, _fitting(measured(table, specs), width)


def _fitting(columns: list[Column], width: int) -> list[Column]:
    """Columns made to fit: the summary gives way first, then the names."""
    *needed, summary = columns
    name = max((columns[0].width, _LEAST_NAME))
    spare = width - _MARGIN - sum(c.width + GAP for c in needed) + GAP
    if spare < 0:
        name = max(name + spare, _LEAST_NAME)
        needed[0] = replace(needed[0], width=name)
    needed[0] = replace(needed[0], write=lambda text: text[:_RANK] + model_in_short(text[_RANK:], name - _RANK))
    room = spare - GAP
    return [*needed, replace(summary, width=room)] if room >= _LEAST_SUMMARY else needed


def model_in_short(title: str, width: int) -> str:
    """Maker, model and flex; without the first words of the maker where there is no room.

    Parameters
    ----------
    title : str
        Maker, model and flex.
    width : int
        Cells.
    """
    words = title.split()
    while len(" ".join(words)) > width and len(words) > 1:
        words = ["…" + words[1].removeprefix("…"), *words[2:]]
    text = " ".join(words)
    return text if len(text) <= width else cut_in_the_middle(text, width)


def sets_on_hand(found: SetStandIn, today: dt.date) -> str:
    """How many whole sets the free pieces make, or the day that what is lacking is expected.

    Parameters
    ----------
    found : SetStandIn
        The model.
    today : date
        A day within eleven months of it is written without its year.
    """
    count = found.sets_on_hand
    if count:
        return str(count)
    days = [p.expected_on for p in found.pieces if p.on_hand is not None and p.on_hand < p.needed]
    known = [dt.date.fromisoformat(d) for d in days if d is not None]
    if days and len(known) == len(days):
        day = max(known)
        return f"{day.day} {day:%b}" if abs((day - today).days) < _WITHOUT_YEAR_DAYS else f"{day:%b %Y}"
    return "?" if count is None else "0"


def _price(found: SetStandIn, currency: str | None) -> str:
    if found.price is None:
        return ""
    text = f"{found.price:.2f}".removesuffix(".00")
    return text if currency else f"{text} {found.currency or ''}".strip()


def left_out_models(answer: SetAnswer) -> pa.Table:
    """Every model that is not proposed, with the reason in a sentence; for jobs.

    Parameters
    ----------
    answer : SetAnswer
        The answer.
    """
    import pyarrow as pa

    rows = answer.report.excluded.to_json()
    return pa.table({name: pa.array([r[name] for r in rows], pa.string()) for name in ("shaft_id", "model", "reason")})


def left_out_specs(width: int) -> list[ColumnSpec]:
    """Columns of what was left out.

    Parameters
    ----------
    width : int
        Columns there are.
    """
    name = min(34, width // 3)
    return [
        ColumnSpec("model", "model", width=name, write=lambda text: model_in_short(text, name)),
        ColumnSpec("reason", "why it is not proposed", width=max(width - name - 5, 40)),
    ]
