"""Trim chart and comparison of a model for a set as plain text."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING

from specdb.tui.sets.standins_words import (
    differences_lines,
    fitted_lines,
    model_line,
    model_lines,
    models_line,
    set_work_lines,
    slopes_picture,
)
from specdb.tui.sets.words import ALONG
from specdb.tui.widgets.curves import Axis, draw
from specdb.tui.widgets.prose import Line

if TYPE_CHECKING:
    from specdb.matching.doubt import Doubt
    from specdb.sets.result import SetStandIn
    from specdb.tui.sets.asked import RankedModels

WIDTH = 78
_PICTURE_HEIGHT = 20


def model_text(ranked: RankedModels, found: SetStandIn, doubt: Doubt | None, day: dt.date) -> str:
    """One model for a set as plain text: the fitted set, trim chart, frequency, work and cautions, differences.

    Parameters
    ----------
    ranked : RankedModels
        What was found.
    found : SetStandIn
        The model.
    doubt : Doubt or None
        What its uncertainty is made of, where it was worked out.
    day : date
        Day that stands on it.
    """
    parts: list[list[Line]] = [
        [(("TRIM CHART AND COMPARISON OF A SET", "head"),), ((f"made on {day.isoformat()}", "plain"),)],
        [*fitted_lines(ranked.answer, WIDTH), models_line(ranked.options, ranked.answer, WIDTH)],
        [model_line(found, WIDTH)],
        model_lines(found, WIDTH, doubt),
    ]
    curves, marks = slopes_picture(found, ranked.lengths)
    up = Axis(0.0, 0.0, "frequency, cpm; numbers: the fitted clubs")
    picture = draw(curves, marks, width=WIDTH, height=_PICTURE_HEIGHT, x=ALONG, y=up, plain=True).text
    rest = [set_work_lines(found, WIDTH), differences_lines(found, WIDTH, plain=True)]
    return "\n\n".join([*(_plain(p) for p in parts), picture, *(_plain(p) for p in rest)]) + "\n"


def _plain(lines: Iterable[Line]) -> str:
    return "\n".join("".join(text for text, _ in line).rstrip() for line in lines)
