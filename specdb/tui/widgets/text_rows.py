"""Small tables as lines of text, for pages that scroll and for files: what has no room is left out from the right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from specdb.tui.widgets.prose import Line, Piece

_GAP = 2
_LEAST_NAME = 8


@dataclass(frozen=True, slots=True)
class TextColumn:
    """A column of a small table.

    Attributes
    ----------
    title, unit : str
        What stands above it, on two lines.
    cells : sequence of str
        Its values, row by row.
    right : bool
        Whether values stand to the right.
    optional : bool
        Whether it may be left out where there is no room.
    strong : sequence of bool
        Which values stand out; empty for none.
    """

    title: str
    unit: str
    cells: Sequence[str]
    right: bool = True
    optional: bool = False
    strong: Sequence[bool] = ()

    @property
    def width(self) -> int:
        """Cells it takes."""
        return max(len(self.title), len(self.unit), max((len(c) for c in self.cells), default=0))

    def put(self, text: str) -> str:
        """A text as wide as the column."""
        return text.rjust(self.width) if self.right else text.ljust(self.width)


def _taken(columns: Sequence[TextColumn]) -> int:
    return sum(c.width + _GAP for c in columns) - _GAP


def text_rows(columns: Sequence[TextColumn], width: int) -> list[Line]:
    """A small table as lines, two of heading first.

    Parameters
    ----------
    columns : sequence of TextColumn
        The columns.
    width : int
        Columns of the screen there are.
    """
    shown = list(columns)
    while _taken(shown) > width and any(c.optional for c in shown):
        shown.remove([c for c in shown if c.optional][-1])
    over = _taken(shown) - width
    if over > 0 and shown:
        # the first column names the rows: long names give way, from the middle
        room = max(shown[0].width - over, _LEAST_NAME)
        shown[0] = replace(shown[0], cells=[cut_in_the_middle(c, room) for c in shown[0].cells])
    lines: list[Line] = []
    for part in ("title", "unit"):
        texts = [str(getattr(c, part)) for c in shown]
        if any(texts):
            said = (" " * _GAP).join(c.put(t) for c, t in zip(shown, texts, strict=True))
            lines.append(((said.rstrip(), "quiet"),))
    for row in range(max((len(c.cells) for c in columns), default=0)):
        pieces: list[Piece] = []
        for i, column in enumerate(shown):
            strong = bool(column.strong) and column.strong[row]
            pieces.append((column.put(column.cells[row]), "strong" if strong or i == 0 else "plain"))
            pieces.append((" " * _GAP, "plain"))
        lines.append(tuple(pieces[:-1]))
    return lines


def cut_in_the_middle(text: str, width: int) -> str:
    """A name cut to a width so that its begin and its end, which tell variants apart, are both seen.

    Parameters
    ----------
    text : str
        The name.
    width : int
        Cells.
    """
    if len(text) <= width:
        return text
    end = (width - 1) // 2
    return f"{text[: width - 1 - end]}…{text[len(text) - end :]}"
