"""Large print: numbers drawn in blocks, to be read from an arm's length; once or twice the size."""

from __future__ import annotations

_GLYPHS = {
    "0": "█▀█ █ █ ▀▀▀",
    "1": "▀█   █  ▀▀▀",
    "2": "▀▀█ █▀▀ ▀▀▀",
    "3": "▀▀█ ▀▀█ ▀▀▀",
    "4": "█ █ ▀▀█   ▀",
    "5": "█▀▀ ▀▀█ ▀▀▀",
    "6": "█▀▀ █▀█ ▀▀▀",
    "7": "▀▀█   █   ▀",
    "8": "█▀█ █▀█ ▀▀▀",
    "9": "█▀█ ▀▀█ ▀▀▀",
    "A": "█▀█ █▀█ ▀ ▀",
    "B": "█▀▄ █▀▄ ▀▀ ",
    "C": "█▀▀ █   ▀▀▀",
    "D": "█▀▄ █ █ ▀▀ ",
    "E": "█▀▀ █▀  ▀▀▀",
    "F": "█▀▀ █▀  ▀  ",
    "G": "█▀▀ █ █ ▀▀▀",
    "/": "  █ ▄▀  ▀  ",
    "-": "    ▀▀▀    ",
    "+": " ▄  ▀█▀    ",
}
_NARROW = {".": " | |▀", ",": " |▄|▀", "°": "▄▄|▀▀|  ", " ": " | | ", "±": " ▄ |▀█▀|▀▀▀"}
_LINES = 3


def large(text: str, *, twice: bool = False) -> list[str]:
    """A short text in large print.

    Parameters
    ----------
    text : str
        Digits, the letters A to G, and the signs of numbers; anything else stands small on the lowest line.
    twice : bool
        Whether it is drawn at twice the size.

    Returns
    -------
    list of str
        Three lines, or five, of equal length.
    """
    lines = [""] * _LINES
    for i, sign in enumerate(text):
        drawn = _drawn(sign.upper())
        gap = " " if i + 1 < len(text) else ""
        for row in range(_LINES):
            lines[row] += (drawn[row] if drawn else (sign if row == _LINES - 1 else " ")) + gap
    if not twice:
        return lines
    # the lowest half of a glyph is empty
    return [wide for line in lines for wide in _doubled(line)][:-1]


def _drawn(sign: str) -> list[str] | None:
    if sign in _NARROW:
        return _NARROW[sign].split("|")
    glyph = _GLYPHS.get(sign)
    return None if glyph is None else [glyph[4 * row : 4 * row + 3] for row in range(_LINES)]


def _doubled(line: str) -> tuple[str, str]:
    """A line of half blocks at twice the size."""
    upper, lower = "", ""
    for sign in line:
        if sign in "█▀▄ ":
            upper += ("█" if sign in "█▀" else " ") * 2
            lower += ("█" if sign in "█▄" else " ") * 2
        else:
            upper, lower = upper + sign + " ", lower + "  "
    return upper, lower
