"""What a report shows: its lines as a list, one line in full, the sentences that go with it."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from specdb.tui.widgets.columns import ColumnSpec, plain
from specdb.tui.widgets.prose import Line, heading, sentence
from specdb.tui.widgets.words import day as day_words

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.verbs.reports.types import Report, ReportColumn

_WIDEST = 32
_LEAST = 8
_WIDE = 100
_LABEL = 20
SAID = 4
"""Sentences above a report; the others stand under its line."""


def report_table(report: Report, width: int) -> tuple[pa.Table, list[ColumnSpec]]:
    """The lines of a report as a list: what must be seen first, columns that say nothing left out.

    Parameters
    ----------
    report : Report
        The report.
    width : int
        Columns of the list.
    """
    import pyarrow as pa

    from specdb.tui.widgets.columns import measured

    texts = [[cell(c, getattr(line, c.name)) for c in report.columns] for line in report.lines]
    rows = {"number": [str(n) for n in range(len(report.lines))]}
    rows.update({c.name: [row[i] for row in texts] for i, c in enumerate(report.columns)})
    table = pa.table({name: pa.array(values, pa.string()) for name, values in rows.items()})
    filled = [c for c in report.columns if c.keep or any(rows[c.name])]
    specs = (
        [_spec(c) for c in sorted(filled, key=lambda c: not c.keep)] if width < _WIDE else [_spec(c) for c in filled]
    )
    # what is left of the line goes to the first column that is cut
    columns = measured(table, specs)
    taken = sum(c.width + 2 for c in columns) + 3  # a scroll bar too
    if taken > width:
        specs = _last_cut(specs, [c.width for c in columns], width - 3)
    if taken < width:
        specs = [
            ColumnSpec(
                s.name, s.title, right=s.right, width=min(_longest(rows[s.name], s.title), c.width + width - taken)
            )
            if not s.right and _longest(rows[s.name], s.title) > c.width
            else s
            for s, c in zip(specs, columns, strict=True)
        ]
    return table, specs


def _last_cut(specs: list[ColumnSpec], widths: list[int], room: int) -> list[ColumnSpec]:
    """The first column that does not fit, cut to what is left of the line, if that says anything."""
    for i, (spec, width) in enumerate(zip(specs, widths, strict=True)):
        if width + 2 > room:
            if not spec.right and room - 2 >= _LEAST:
                return [*specs[:i], ColumnSpec(spec.name, spec.title, width=room - 2), *specs[i + 1 :]]
            break
        room -= width + 2
    return specs


def _longest(texts: list[str], title: str) -> int:
    return max((len(t) for t in [*texts, title]), default=0)


def _spec(column: ReportColumn) -> ColumnSpec:
    return ColumnSpec(column.name, column.title, right=column.number)


def cell(column: ReportColumn, value: Any) -> str:  # noqa: ANN401 (a value of a line)
    """A value in one line, as the report wants it.

    Parameters
    ----------
    column : ReportColumn
        The column.
    value : object
        The value.
    """
    from specdb.verbs.reports.types import shown

    if isinstance(value, tuple):
        return plain(", ".join(str(v) for v in value))
    return plain(shown(column, value))


def line_lines(report: Report, line: object, width: int) -> list[Line]:
    """One line of a report in full.

    Parameters
    ----------
    report : Report
        The report.
    line : Line
        The line.
    width : int
        Columns there are.
    """
    lines: list[Line] = []
    columns = list(report.columns)
    if width < _WIDE:  # what stands in the list already comes after what has no room there
        columns = [*columns[:2], *sorted(columns[2:], key=lambda c: c.keep)]
    for column in columns:
        value = getattr(line, column.name)
        text = day_words(value) if isinstance(value, dt.date) else cell(column, value)
        if text:
            lines += sentence(text, width, before=((f"{column.title:<{_LABEL}}  ", "quiet"),))
    if below := (*report.said[SAID:], *report.further):
        lines += heading("To read it")
        for text in below:
            lines += sentence(text, width, part="quiet")
    return lines


def said_lines(report: Report, today: dt.date, width: int) -> list[Line]:
    """What a report is of, and what must be known to read it.

    Parameters
    ----------
    report : Report
        The report.
    today : date
        The day it is now.
    width : int
        Columns there are.
    """
    of = "today" if report.day == today else f"on {day_words(report.day)}"
    lines: list[Line] = [((f"{report.title}, {of}", "head"),)]
    for text in report.said[:SAID]:
        lines += sentence(text, width, part="quiet")
    return lines
