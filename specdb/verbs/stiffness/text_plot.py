"""Curves with bands and marks as lines of plain text, for a terminal of any width; pure, with no library.

A braille sign holds 2 × 4 dots, so that a cell shows a curve eight times as fine as a letter would. Where those
signs cannot be shown, letters stand in for them. Nothing depends on colour: a first curve is unbroken, the next ones
are dashed, the edges of a band are dotted, a mark is a letter.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))  # dots of a braille sign, row by row
_BRAILLE = 0x2800
_DASH = ((1, 0), (5, 4), (2, 2))  # dots drawn and left out along a first, second, third curve
_EDGE = (1, 2)
_LETTERS = "*+%"  # of the curves where there is no braille
_EDGE_LETTER = "."
_STEPS = (1.0, 2.0, 5.0, 10.0)
_LEAST_WIDTH, _LEAST_HEIGHT = 20, 4
_MOST = 1e100
_NOTHING = 1e-6  # of its size: a smaller span is no span
_ROWS_A_TICK, _LETTERS_A_TICK = 3, 9
_SNAPS = 4  # places between two numbers of the upright axis where it may begin or end


@dataclass(frozen=True, slots=True)
class TextCurve:
    """One curve.

    Attributes
    ----------
    x, y : sequence of float
        Points with straight lines between them, x rising; points that are no numbers are left out.
    low, high : sequence of float
        Edges of its band at the same x; empty for none.
    """

    x: Sequence[float]
    y: Sequence[float]
    low: Sequence[float] = ()
    high: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class TextMark:
    """A mark at a place.

    Attributes
    ----------
    x, y : float
        The place.
    sign : str
        The letter it is drawn with.
    """

    x: float
    y: float
    sign: str = "o"


def ticks(low: float, high: float, most: int) -> list[float]:
    """Round numbers within a range, in steps of 1, 2 or 5 times a power of ten.

    Parameters
    ----------
    low, high : float
        The range, ``low < high``.
    most : int
        At most this many and one, at least 2.
    """
    step = _step(high - low, most)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [n * step for n in range(first, last + 1)]


def _step(span: float, most: int) -> float:
    least = span / max(most, 2)
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * s for s in _STEPS if power * s >= least * (1.0 - 1e-9))


def draw(
    curves: Sequence[TextCurve],
    marks: Sequence[TextMark] = (),
    *,
    width: int,
    height: int,
    x_title: str,
    y_title: str,
    zones: Sequence[tuple[float, float, str]] = (),
    plain: bool = False,
) -> list[str]:
    """Draw curves over one another.

    Parameters
    ----------
    curves : sequence of TextCurve
        The first is drawn unbroken, the others dashed.
    marks : sequence of TextMark
        Drawn over the curves, in order.
    width : int
        Columns in all; at least 20 are taken.
    height : int
        Rows of the field; axes and titles take four more, zones one.
    x_title, y_title : str
        What the axes show, with the unit.
    zones : sequence of (float, float, str)
        Parts of the x axis with their names, from left to right, named above the field.
    plain : bool
        Whether only ASCII may be used.

    Returns
    -------
    list of str
        Lines without trailing space; empty where there is nothing to draw.
    """
    points = [p for c in curves for p in _points(c)] + [(m.x, m.y) for m in marks]
    points = [(x, y) for x, y in points if _is_number(x) and _is_number(y)]
    if not points:
        return []
    y_low, y_high = _widened(min(y for _, y in points), max(y for _, y in points))
    rows = max(height, _LEAST_HEIGHT)
    step = _step(y_high - y_low, rows // _ROWS_A_TICK)
    snap = step / _SNAPS
    y_low, y_high = snap * math.floor(y_low / snap + 1e-9), snap * math.ceil(y_high / snap - 1e-9)
    y_ticks = ticks(y_low, y_high, rows // _ROWS_A_TICK)
    labels = [_number(t, step) for t in y_ticks]
    margin = max(len(text) for text in labels) + 2
    ends = [e for low, high, _ in zones for e in (low, high)] or [x for x, _ in points]
    x_low, x_high = _widened(min(ends), max(ends))
    field = _Field(max(width, _LEAST_WIDTH) - margin, rows, (x_low, x_high), (y_low, y_high), plain=plain)
    for number, curve in enumerate(curves):
        field.draw(curve, number)
    for mark in marks:
        field.mark(mark)
    at_row = {field.row(t): text for t, text in zip(y_ticks, labels, strict=True)}
    lines = [y_title]
    if zones:
        lines.append(" " * margin + field.zones(zones))
    wall, tick = ("|", "+") if plain else ("│", "┤")
    for row, text in enumerate(field.lines()):
        label = at_row.get(row, "")
        lines.append(f"{label:>{margin - 2}} {tick if label else wall}{text}")
    lines.extend(_foot(field, margin, plain=plain))
    lines.append(" " * margin + x_title.center(field.width))
    return [line.rstrip() for line in lines]


def _points(curve: TextCurve) -> Iterator[tuple[float, float]]:
    for values in (curve.y, curve.low, curve.high):
        yield from zip(curve.x, values, strict=bool(values))


def _is_number(value: float) -> bool:
    return abs(value) < _MOST  # not so of NaN


def _widened(low: float, high: float) -> tuple[float, float]:
    least = max(abs(low), abs(high), _NOTHING) * _NOTHING
    if high - low > least:
        return low, high
    reach = max(abs(low) * 0.1, least)
    return low - reach, high + reach


def _number(value: float, step: float) -> str:
    if not 1e-6 < step < 1e6:
        return f"{value:.3g}"
    return f"{value + 0.0:.{max(0, -math.floor(math.log10(step) + 1e-9))}f}"


def _foot(field: _Field, margin: int, *, plain: bool) -> list[str]:
    """The x axis with its numbers."""
    low, high = field.x_range
    at = ticks(low, high, field.width // _LETTERS_A_TICK)
    corner, wall, tick = ("+", "-", "+") if plain else ("└", "─", "┬")
    axis, below = [wall] * field.width, [" "] * (margin + field.width)
    for value in at:
        column = field.column(value)
        axis[column] = tick
        text = _number(value, _step(high - low, field.width // _LETTERS_A_TICK))
        start = min(margin + column - (len(text) - 1) // 2, len(below) - len(text))
        below[start : start + len(text)] = text
    return [" " * (margin - 1) + corner + "".join(axis), "".join(below)]


class _Field:
    """Cells that are drawn in, dot by dot or letter by letter."""

    def __init__(
        self, width: int, height: int, x_range: tuple[float, float], y_range: tuple[float, float], *, plain: bool
    ) -> None:
        self.width, self.height, self.x_range, self.y_range = width, height, x_range, y_range
        self.across, self.down = (1, 1) if plain else (2, 4)
        self.plain = plain
        self._dots = [[0] * width for _ in range(height)]
        self._letters: dict[tuple[int, int], str] = {}

    def _dot_x(self, x: float) -> int:
        low, high = self.x_range
        return round((x - low) / (high - low) * (self.width * self.across - 1))

    def _dot_y(self, y: float) -> int:
        low, high = self.y_range
        return round((high - y) / (high - low) * (self.height * self.down - 1))

    def column(self, x: float) -> int:
        return self._dot_x(x) // self.across

    def row(self, y: float) -> int:
        return self._dot_y(y) // self.down

    def draw(self, curve: TextCurve, number: int) -> None:
        letter = _LETTERS[number % len(_LETTERS)]
        for edge in (curve.low, curve.high):
            if edge:
                self._line(curve.x, edge, _EDGE, _EDGE_LETTER)
        self._line(curve.x, curve.y, _DASH[number % len(_DASH)], letter)

    def _line(self, x: Sequence[float], y: Sequence[float], dash: tuple[int, int], letter: str) -> None:
        places = [(a, b) for a, b in zip(x, y, strict=True) if _is_number(a) and _is_number(b)]
        on, off = dash
        last: int | None = None
        # letters are never left out: a dash of them would leave too little
        for across, level in self._columns(places):
            down = self._dot_y(level)
            if self.plain or across % (on + off) < on:
                # a steep curve stays in one piece
                start = down if last is None or off else last + (down > last) - (down < last)
                for y_dot in range(min(start, down), max(start, down) + 1):
                    self._put(across, y_dot, letter)
            last = down

    def _columns(self, places: Sequence[tuple[float, float]]) -> Iterator[tuple[int, float]]:
        """Every column of dots that a line through the places crosses, with the level there."""
        low, high = self.x_range
        per = (high - low) / (self.width * self.across - 1)
        done = -1
        for (x0, y0), (x1, y1) in pairwise(places):
            for across in range(max(self._dot_x(x0), done + 1), self._dot_x(x1) + 1):
                part = (low + across * per - x0) / (x1 - x0) if x1 > x0 else 1.0
                yield across, y0 + min(max(part, 0.0), 1.0) * (y1 - y0)
                done = across

    def _put(self, across: int, down: int, letter: str) -> None:
        if not (0 <= across < self.width * self.across and 0 <= down < self.height * self.down):
            return
        column, row = across // self.across, down // self.down
        if self.plain:
            self._letters[row, column] = letter
        else:
            self._dots[row][column] |= _BITS[down % self.down][across % self.across]

    def mark(self, mark: TextMark) -> None:
        if _is_number(mark.x) and _is_number(mark.y):
            row, column = self.row(mark.y), self.column(mark.x)
            if 0 <= row < self.height and 0 <= column < self.width:
                self._letters[row, column] = mark.sign

    def zones(self, zones: Sequence[tuple[float, float, str]]) -> str:
        """Names over their parts of the field."""
        line = [" "] * self.width
        wall = "|" if self.plain else "│"
        for number, (low, high, name) in enumerate(zones):
            first, end = self.column(low), self.column(high) + 1
            if number:
                line[first] = wall
                first += 1
            room = max(end - first - 1, 0)
            text = (name if len(name) <= room else name.partition(" ")[0])[:room]
            start = first + (room - len(text)) // 2
            line[start : start + len(text)] = text
        return "".join(line)

    def lines(self) -> Iterator[str]:
        for row in range(self.height):
            cells = (
                self._letters.get((row, column)) or (chr(_BRAILLE + self._dots[row][column]) if dots else " ")
                for column, dots in enumerate(self._dots[row])
            )
            yield "".join(cells)
