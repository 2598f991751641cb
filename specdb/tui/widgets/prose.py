"""Lines of text with the part each piece plays, wrapped with hanging indents; styles are put to the parts last."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import TypeAlias

from textual.content import Content

Piece: TypeAlias = tuple[str, str]
Line: TypeAlias = tuple[Piece, ...]

# every part that stands out is bold, or said in words besides
STYLES = {
    "plain": "",
    "strong": "bold",
    "quiet": "$text-muted",
    "head": "bold $text-accent",
    "key": "bold $text-accent",
    "good": "bold $text-success",
    "doubt": "bold $text-warning",
    "bad": "bold $text-error",
    "tip": "$text-accent",
    "sleeve": "$text-warning",
    "wall": "$text-muted",
    "ferrule": "$text-muted",
    "axis": "$text-muted",
    "note": "$text-muted",
    "clash": "bold $text-error",
}


def content(lines: Iterable[Iterable[Piece]]) -> Content:
    """Lines as Textual shows them.

    Parameters
    ----------
    lines : iterable of iterable of (str, str)
        Text and part, line by line.
    """
    found: list[tuple[str, str]] = []
    for i, line in enumerate(lines):
        if i:
            found.append(("\n", ""))
        found += [(text, STYLES.get(part, "")) for text, part in line]
    return Content.assemble(*found)


def sentence(
    text: str, width: int, *, before: Sequence[Piece] = (), part: str = "plain", hanging: int = -1
) -> list[Line]:
    """A sentence, wrapped.

    Parameters
    ----------
    text : str
        The sentence.
    width : int
        Columns there are.
    before : sequence of (str, str)
        What stands before it on its first line.
    part : str
        The part it plays.
    hanging : int
        Indent of its other lines; that of the first where negative.
    """
    taken = sum(len(piece) for piece, _ in before)
    indent = taken if hanging < 0 else hanging
    room = max(width, indent + 16, taken + 16)
    wrapped = textwrap.wrap(
        text, room, initial_indent=" " * taken, subsequent_indent=" " * indent, break_on_hyphens=False
    ) or [" " * taken]
    first: Line = (*before, (wrapped[0][taken:], part))
    return [first, *(((line, part),) for line in wrapped[1:])]


def heading(text: str) -> list[Line]:
    """A heading with an empty line above it.

    Parameters
    ----------
    text : str
        The heading.
    """
    return [(("", "plain"),), ((text, "head"),)]
