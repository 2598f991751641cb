"""Choosing what a list is sorted by, with the keys or by a click on a heading."""

from __future__ import annotations

from collections.abc import Sequence

from specdb.schema import Table
from specdb.tui.dialogs.chooser import Chooser
from specdb.tui.widgets.columns import ColumnSpec

Sort = tuple[str, bool]


def sort_chooser(table: Table, names: Sequence[str], now: Sort) -> Chooser:
    """The fields a list may be sorted by.

    Parameters
    ----------
    table : Table
        The kind.
    names : sequence of str
        The fields, in the order they are offered.
    now : tuple of str and bool
        What it is sorted by, and whether that falls.
    """
    return sort_of([(name, table.field(name).title) for name in names], now)


def sort_of(titles: Sequence[tuple[str, str]], now: Sort) -> Chooser:
    """What a list may be sorted by.

    Parameters
    ----------
    titles : sequence of (str, str)
        Names and titles, in the order they are offered.
    now : tuple of str and bool
        What it is sorted by, and whether that falls.
    """
    sign = "▼ falling" if now[1] else "▲ rising"
    rows = [(name, title, sign if name == now[0] else "") for name, title in titles]
    return Chooser("Sort by", [ColumnSpec("title", "", width=30), ColumnSpec("now", "", width=12)], rows, chosen=now[0])


def sorted_anew(name: str, now: Sort) -> Sort:
    """Sort by a field; by the same one again the other way round.

    Parameters
    ----------
    name : str
        The field.
    now : tuple of str and bool
        What the list is sorted by, and whether that falls.
    """
    return name, not now[1] if name == now[0] else False
