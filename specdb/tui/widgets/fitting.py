"""Columns of a list made to fit a width: names are cut in the middle, and a summary takes what is left."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from specdb.tui.widgets.columns import Column
from specdb.tui.widgets.text_rows import cut_in_the_middle

GAP, _MARGIN = 2, 3  # between the columns of a list, and around them with the scroll bar
_LEAST_SUMMARY = 24


def room_left(columns: Sequence[Column], width: int) -> int:
    """Cells that a list has left beside its columns; below zero where they do not fit.

    Parameters
    ----------
    columns : sequence of Column
        The columns.
    width : int
        Cells of the list with its scroll bar.
    """
    return width - _MARGIN - sum(c.width + GAP for c in columns) + GAP


def made_to_fit(
    columns: Sequence[Column],
    width: int,
    least: Sequence[tuple[str, int]],
    *,
    cut: Callable[[str, int], str] = cut_in_the_middle,
    names: Sequence[str] = (),
) -> list[Column]:
    """Columns of which some give way, one after the other, until all fit or none can give more.

    Parameters
    ----------
    columns : sequence of Column
        The columns.
    width : int
        Cells of the list with its scroll bar.
    least : sequence of tuples
        Columns that give way, in this order, each with the cells it keeps.
    cut : callable
        Cuts a name to so many cells.
    names : sequence of str
        Columns whose values are cut with it; those of others are cut at their end.
    """
    found = list(columns)
    for name, most in least:
        i = next(i for i, c in enumerate(found) if c.spec.name == name)
        over = -room_left(found, width)
        if over > 0:
            found[i] = replace(found[i], width=max(found[i].width - over, min(most, found[i].width)))
    return [_named(c, cut) if c.spec.name in names else c for c in found]


def _named(column: Column, cut: Callable[[str, int], str]) -> Column:
    return replace(column, write=lambda value: cut(column.write(value), column.width))


def with_summary(columns: Sequence[Column], summary: Column, width: int) -> list[Column]:
    """Columns with a summary after them, as wide as there is room; without it where there is too little.

    Parameters
    ----------
    columns : sequence of Column
        What comes before it.
    summary : Column
        The summary.
    width : int
        Cells of the list with its scroll bar.
    """
    room = room_left(columns, width) - GAP
    return [*columns, replace(summary, width=room)] if room >= _LEAST_SUMMARY else list(columns)
