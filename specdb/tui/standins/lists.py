"""The lists of the place Stand-ins as Arrow tables with their columns: fitted clubs, stand-ins, what was left out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from specdb.matching.result import IN_PART_SIGN
from specdb.tui.standins.words import free_in_short, preparation_in_short
from specdb.tui.widgets.columns import Column, ColumnSpec, measured
from specdb.tui.widgets.numbers import chance, short
from specdb.tui.widgets.text_rows import cut_in_the_middle

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.matching.result import Substitute
    from specdb.verbs.matching.substitutes import SubstitutesAnswer
    from specdb.verbs.matching.waiting import FittedClub

CHOSEN_SIGN = "*"
GAP, _MARGIN = 2, 3  # between the columns of a list, and around them with the scroll bar
_LEAST_PREPARATION, _LEAST_NAME, _LEAST_SUMMARY = 9, 20, 24
_REASON_NARROW = 46


def clubs_table(clubs: Sequence[FittedClub]) -> tuple[pa.Table, list[ColumnSpec]]:
    """Fitted clubs, in the order given.

    Parameters
    ----------
    clubs : sequence of FittedClub
        The clubs.
    """
    import pyarrow as pa

    columns = {
        "id": [c.key for c in clubs],
        "supply": [c.supply for c in clubs],
        "shaft": [c.shaft_id for c in clubs],
        "whose": [", ".join(w for w in (c.label, c.player) if w) for c in clubs],
        "chosen": [", ".join(c.chosen) for c in clubs],
    }
    supply = max((len(text) for text in columns["supply"]), default=0)
    specs = [
        ColumnSpec("id", "fitted club"),
        ColumnSpec("supply", "its shaft is", width=max(supply, 12)),
        ColumnSpec("whose", "what and whose"),
        ColumnSpec("chosen", "stand-in chosen"),
        ColumnSpec("shaft", "fitted shaft"),
    ]
    if not any(columns["chosen"]):
        del specs[3]
    return pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()}), specs


def ranked_table(answer: SubstitutesAnswer, width: int, today: dt.date) -> tuple[pa.Table, list[Column]]:
    """Stand-ins, nearest first.

    Parameters
    ----------
    answer : SubstitutesAnswer
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
        "id": [r.shaft_id for r in results],
        "shaft": [_named(r, r.shaft_id in answer.chosen) for r in results],
        # one that is compared on less stands behind those that are compared on more, whatever its score
        "score": [f"{IN_PART_SIGN if r.compared_in_part else ''}{r.score:.2f}" for r in results],
        "trim": [short(r.tip_trim_in) for r in results],
        "inside": [chance(r.within_tolerance_probability) for r in results],
        "stock": [free_in_short(r, today) for r in results],
        "price": [_price(r, currency) for r in results],
        "prep": [preparation_in_short(r) for r in results],
        "summary": [r.summary for r in results],
    }
    specs = [
        ColumnSpec("shaft", "shaft"),
        ColumnSpec("score", "score", right=True),
        ColumnSpec("trim", "trim", "in", right=True),
        ColumnSpec("prep", "to do"),
        ColumnSpec("stock", "free"),
        ColumnSpec("price", "price", currency or "", right=True),
        ColumnSpec("inside", "all in", "%", right=True),
        ColumnSpec("summary", "in words"),
    ]
    table = pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()})
    return table, _fitting(measured(table, specs), width)


def _fitting(columns: list[Column], width: int) -> list[Column]:
    """Columns made to fit: the summary gives way first, then the preparation, then the names."""
    *needed, summary = columns

    def spare() -> int:
        return width - _MARGIN - sum(c.width + GAP for c in needed) + GAP

    for i, least in ((3, _LEAST_PREPARATION), (0, _LEAST_NAME)):
        if spare() < 0:
            needed[i] = replace(needed[i], width=max(needed[i].width + spare(), least))
    name = needed[0].width
    needed[0] = replace(needed[0], write=lambda text: cut_in_the_middle(text, name))
    room = spare() - GAP
    return [*needed, replace(summary, width=room)] if room >= _LEAST_SUMMARY else needed


def _named(found: Substitute, chosen: bool) -> str:
    return f"{found.rank:>2}{CHOSEN_SIGN if chosen else ' '}{found.shaft_id}"


def _price(found: Substitute, currency: str | None) -> str:
    if found.price is None:
        return ""
    text = f"{found.price:.2f}".removesuffix(".00")
    return text if currency else f"{text} {found.currency or ''}".strip()


def left_out_table(answer: SubstitutesAnswer) -> pa.Table:
    """Every shaft that is not proposed, with the reason in a sentence, by reason.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer.
    """
    import numpy as np
    import pyarrow as pa

    left = answer.report.excluded
    rows = np.flatnonzero(left.code)
    rows = rows[np.argsort(left.code[rows], kind="stable")].tolist()
    return pa.table(
        {
            "id": pa.array([left.ids[r] for r in rows], pa.string()),
            "reason": pa.array([left.sentence(r) for r in rows], pa.string()),
        }
    )


def left_out_columns(width: int) -> list[ColumnSpec]:
    """Columns of what was left out.

    Parameters
    ----------
    width : int
        Columns of the screen.
    """
    name = min(30, width // 3)
    return [
        ColumnSpec("id", "shaft", width=name, write=lambda text: cut_in_the_middle(text, name)),
        ColumnSpec("reason", "why it is not proposed", width=max(width - name - 4, _REASON_NARROW)),
    ]
