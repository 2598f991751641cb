"""Plain-text tables that fit the terminal: columns are wrapped first, then left out, and that is said."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from specdb.cli import output

_GAP = 2
_NARROW = 8
_UNIT = 3  # letters of a unit at the end of a field's name
_LONG_WORD = 20  # longer ones may be broken


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Attributes
    ----------
    title : str
        Heading.
    right : bool
        Numbers stand to the right.
    wraps : bool
        Whether a cell may be broken over lines; keys and numbers may not.
    keep : bool
        Whether the column is shown even where there is no room.
    """

    title: str
    right: bool = False
    wraps: bool = False
    keep: bool = False


def lay_out(columns: Sequence[Column], rows: Sequence[Sequence[str]], width: int) -> tuple[list[str], list[str]]:
    """Lay a table out.

    Parameters
    ----------
    columns : sequence of Column
        Columns.
    rows : sequence of sequences of str
        Cells, one line each.
    width : int
        Columns of the terminal.

    Returns
    -------
    lines : list of str
        Heading, rule and rows.
    left_out : list of str
        Titles of the columns there was no room for.
    """
    shown = list(range(len(columns)))
    left_out: list[str] = []
    while True:
        widths = _widths([columns[i] for i in shown], [[row[i] for i in shown] for row in rows], width)
        loose = [i for i in shown if not columns[i].keep]
        if widths is not None or not loose:
            break
        shown.remove(loose[-1])
        left_out.insert(0, columns[loose[-1]].title)
    if widths is None:  # nothing more can go: whole cells matter more than the width
        widths = [
            max(_longest_part(columns[i].title), _NARROW if columns[i].wraps else _widest(rows, i)) for i in shown
        ]
    kept = [columns[i] for i in shown]
    lines = [output.heading(text) for text in _row(kept, [c.title for c in kept], widths, title=True)]
    lines.append((" " * _GAP).join("-" * w for w in widths))
    for row in rows:
        lines.extend(_row(kept, [row[i] for i in shown], widths))
    return lines, left_out


def _widths(columns: Sequence[Column], rows: Sequence[Sequence[str]], width: int) -> list[int] | None:
    """Width of each column, or None where they do not fit."""
    body = [_widest(rows, i) for i in range(len(columns))]
    natural = [max(body[i], output.text_width(c.title)) for i, c in enumerate(columns)]
    room = width - _GAP * (len(columns) - 1)
    # headings may break at their underscores, wrapping cells at their spaces
    least = [
        min(natural[i], max(_NARROW, _longest_part(c.title), min(_longest_word(rows, i), _LONG_WORD)))
        if c.wraps
        else max(body[i], _longest_part(c.title))
        for i, c in enumerate(columns)
    ]
    if sum(least) > room:
        return None
    widths = list(natural)
    while sum(widths) > room:
        i = max((i for i in range(len(widths)) if widths[i] > least[i]), key=lambda k: widths[k])
        widths[i] -= 1
    return widths


def _widest(rows: Sequence[Sequence[str]], i: int) -> int:
    return max((output.text_width(row[i]) for row in rows), default=0)


def _longest_word(rows: Sequence[Sequence[str]], i: int) -> int:
    return max((output.text_width(word) for row in rows for word in row[i].split()), default=0)


def _longest_part(title: str) -> int:
    return max(output.text_width(part) for part in _parts(title))


def _parts(title: str) -> list[str]:
    parts = title.replace("_", "_ ").split() or [""]
    if "_" in title and len(parts) > 1 and len(parts[-1]) <= _UNIT:  # a unit stays with its name
        parts[-2:] = ["".join(parts[-2:])]
    return parts


def _row(columns: Sequence[Column], cells: Sequence[str], widths: Sequence[int], *, title: bool = False) -> list[str]:
    stacks = [
        _break_title(cell, w) if title else (_break_cell(cell, w) if c.wraps else [cell])
        for c, cell, w in zip(columns, cells, widths, strict=True)
    ]
    height = max(len(stack) for stack in stacks)
    lines = []
    for n in range(height):
        parts = [
            _pad(stack[n] if n < len(stack) else "", w, right=c.right)
            for c, stack, w in zip(columns, stacks, widths, strict=True)
        ]
        lines.append((" " * _GAP).join(parts).rstrip())
    return lines


def _pad(text: str, width: int, *, right: bool) -> str:
    space = " " * max(0, width - output.text_width(text))
    return space + text if right else text + space


def _break_cell(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width) or [""]


def _break_title(title: str, width: int) -> list[str]:
    lines = [""]
    for part in _parts(title):
        joint = "" if not lines[-1] or lines[-1].endswith("_") else " "
        if output.text_width(lines[-1] + joint + part) <= width or not lines[-1]:
            lines[-1] += joint + part
        else:
            lines.append(part)
    return lines


def show(columns: Sequence[Column], rows: Sequence[Sequence[str]], *, wide: bool = False, more: str = "") -> None:
    """Write a table to standard output; what was left out is said on standard error.

    Parameters
    ----------
    columns : sequence of Column
        Columns.
    rows : sequence of sequences of str
        Cells.
    wide : bool
        Show every column, however wide.
    more : str
        How to see the columns that were left out.
    """
    lines, left_out = lay_out(columns, rows, 10**6 if wide else output.width())
    for text in lines:
        output.line(text)
    if left_out:
        output.note(f"No room for: {', '.join(left_out)}.{' ' + more if more else ''}")
