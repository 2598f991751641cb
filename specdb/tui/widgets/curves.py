"""Several curves with their bands over one another, drawn in cells of a terminal; pure, without a widget.

A braille sign holds 2 by 4 dots, and a cell in which several curves run holds the dots of all of them: no curve
erases another. Curves are told apart by their stroke (unbroken, dashed, dotted) and by their label on the picture,
so that nothing depends on colour; bands are dots spread over their area in a pattern of each curve's own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import groupby, pairwise

_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))  # of the dots of a braille sign, row by row
_BRAILLE = 0x2800
_ACROSS, _DOWN = 2, 4  # dots of a cell
SEVERAL = "several"  # the part that a cell with more than one curve plays
AXIS, LABEL, MARK, BAND, BLANK = "axis", "label", "mark", "band", "blank"


class Stroke(StrEnum):
    """How a curve is drawn."""

    SOLID = "solid"
    DASHED = "dashed"
    DOTTED = "dotted"


# dots drawn and left out along the way
_PATTERN = {Stroke.SOLID: (1, 0), Stroke.DASHED: (5, 4), Stroke.DOTTED: (1, 2)}
# a band dot lies where (dot across + shift) is a multiple of ``step`` and the same down
_BAND_STEP = (4, 4)


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve.

    Attributes
    ----------
    label : str
        What it is, for the picture and the key below it.
    x, y : sequence of float
        Its points, x rising; straight lines between them.
    low, high : sequence of float
        Edges of its band at the same x; empty for none.
    stroke : Stroke
        How it is drawn.
    """

    label: str
    x: Sequence[float]
    y: Sequence[float]
    low: Sequence[float] = ()
    high: Sequence[float] = ()
    stroke: Stroke = Stroke.SOLID


@dataclass(frozen=True, slots=True)
class Mark:
    """A single reading on the picture.

    Attributes
    ----------
    x, y : float
        Its place.
    sign : str
        One cell.
    """

    x: float
    y: float
    sign: str = "○"


@dataclass(frozen=True, slots=True)
class Axis:
    """What an axis shows.

    Attributes
    ----------
    low, high : float
        Its ends.
    title : str
        What it is, with its unit.
    """

    low: float
    high: float
    title: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn picture.

    Attributes
    ----------
    rows : tuple of tuple of (str, str)
        Row by row, text and the part it plays: ``blank``, ``axis``, ``label``, ``mark``, ``several``, or ``curve0``,
        ``band0`` and so on.
    """

    rows: tuple[tuple[tuple[str, str], ...], ...]

    @property
    def text(self) -> str:
        """The picture as plain text."""
        return "\n".join("".join(text for text, _ in row).rstrip() for row in self.rows)


@dataclass(slots=True)
class _Canvas:
    """Dots of each curve and of each band, and signs over them.

    Attributes
    ----------
    width, height : int
        Cells.
    x, y : Axis
        What lies where.
    """

    width: int
    height: int
    x: Axis
    y: Axis
    dots: list[dict[tuple[int, int], int]] = field(default_factory=list)
    bands: list[dict[tuple[int, int], int]] = field(default_factory=list)
    signs: dict[tuple[int, int], tuple[str, str]] = field(default_factory=dict)

    def across(self, x: float) -> float:
        """Dot column of a place."""
        return (x - self.x.low) / (self.x.high - self.x.low) * (self.width * _ACROSS - 1)

    def down(self, y: float) -> float:
        """Dot row of a place, from the top."""
        return (self.y.high - y) / (self.y.high - self.y.low) * (self.height * _DOWN - 1)

    def set(self, into: dict[tuple[int, int], int], column: int, row: int) -> None:
        """Put a dot where it is on the picture."""
        if 0 <= column < self.width * _ACROSS and 0 <= row < self.height * _DOWN:
            cell = (column // _ACROSS, row // _DOWN)
            into[cell] = into.get(cell, 0) | _BITS[row % _DOWN][column % _ACROSS]

    def cell(self, column: int, row: int, *, plain: bool) -> tuple[str, str]:
        """Sign of a cell, and the part it plays."""
        if (column, row) in self.signs:
            return self.signs[column, row]
        place = (column, row)
        curves = [k for k, dots in enumerate(self.dots) if place in dots]
        bands = [k for k, dots in enumerate(self.bands) if place in dots]
        if not curves and not bands:
            return " ", BLANK
        if curves:
            part = f"curve{curves[0]}" if len(curves) == 1 else SEVERAL
        else:
            part = f"{BAND}{bands[0]}" if len(bands) == 1 else BAND
        if plain:
            return _plain_sign(curves, bands), part
        bits = 0
        for dots in (*self.dots, *self.bands):
            bits |= dots.get(place, 0)
        return chr(_BRAILLE | bits), part


_PLAIN_CURVES = "*o+x"
_PLAIN_BANDS = ".:,'"


def _plain_sign(curves: list[int], bands: list[int]) -> str:
    if len(curves) > 1:
        return "#"
    if curves:
        return _PLAIN_CURVES[curves[0] % len(_PLAIN_CURVES)]
    return _PLAIN_BANDS[bands[0] % len(_PLAIN_BANDS)] if len(bands) == 1 else ";"


def nice_step(span: float, most: int) -> float:
    """A round step (1, 2 or 5 times a power of ten) that divides a span into at most so many.

    Parameters
    ----------
    span : float
        The span, in any unit.
    most : int
        How many steps at most.
    """
    if span <= 0 or most < 1:
        return 1.0
    rough = span / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * k for k in (1.0, 2.0, 5.0, 10.0) if power * k >= rough * (1.0 - 1e-9))


def frame(curves: Sequence[Curve], marks: Sequence[Mark] = ()) -> tuple[Axis, Axis]:
    """Axes that show all curves, their bands and the marks.

    Parameters
    ----------
    curves : sequence of Curve
        The curves.
    marks : sequence of Mark
        The marks.

    Raises
    ------
    ValueError
        If there is nothing to show.
    """
    xs = [x for c in curves for x in c.x] + [m.x for m in marks]
    ys = [y for c in curves for y in (*c.y, *c.low, *c.high)] + [m.y for m in marks]
    xs, ys = [x for x in xs if math.isfinite(x)], [y for y in ys if math.isfinite(y)]
    if not xs or not ys:
        raise ValueError("there is no curve to draw")
    return Axis(*_opened(min(xs), max(xs))), Axis(*_opened(min(ys), max(ys)))


def _opened(low: float, high: float) -> tuple[float, float]:
    if high > low:
        return low, high
    room = max(abs(low) * 0.1, 0.5)
    return low - room, high + room


def draw(
    curves: Sequence[Curve],
    marks: Sequence[Mark] = (),
    *,
    width: int,
    height: int,
    x: Axis | None = None,
    y: Axis | None = None,
    plain: bool = False,
) -> Picture:
    """Draw curves over one another, with axes.

    Parameters
    ----------
    curves : sequence of Curve
        The curves; the first is drawn in the first style, and so on.
    marks : sequence of Mark
        Readings, each at its place.
    width, height : int
        Cells of the whole picture, axes and key included.
    x, y : Axis or None
        What the axes show; worked out from the curves where None or where its ends are equal.
    plain : bool
        Use nothing but ASCII.

    Raises
    ------
    ValueError
        If there is nothing to draw.
    """
    across, up = frame(curves, marks)
    x = _axis(across, x)
    y = _axis(up, y)
    ticks = _ticks(y, max(2, (height - _AROUND) // 2))
    gutter = max((len(_number(t)) for t in ticks), default=1) + 1
    canvas = _Canvas(max(width - gutter - 1, 8), max(height - _AROUND, 2), x, y)
    for k, curve in enumerate(curves):
        canvas.bands.append({})
        canvas.dots.append({})
        if curve.low and curve.high:
            _draw_band(canvas, canvas.bands[k], curve, k)
        _draw_line(canvas, canvas.dots[k], curve.x, curve.y, _PATTERN[curve.stroke])
    for mark in marks:
        at = (round(canvas.across(mark.x)) // _ACROSS, round(canvas.down(mark.y)) // _DOWN)
        if 0 <= at[0] < canvas.width and 0 <= at[1] < canvas.height:
            canvas.signs[at] = (mark.sign, MARK)
    for k, curve in enumerate(curves):
        _put_label(canvas, curves, k, curve.label)
    return _assemble(canvas, curves, ticks, gutter, width, plain=plain)


_AROUND = 4  # rows around the field: title of the y axis, x axis, its numbers, key
_TELLING = 0.15  # cells by which a label must lie nearer to its own curve than to any other


def _axis(found: Axis, given: Axis | None) -> Axis:
    if given is None:
        return found
    return Axis(found.low, found.high, given.title) if given.high <= given.low else given


def _ticks(axis: Axis, most: int) -> list[float]:
    step = nice_step(axis.high - axis.low, most)
    first = math.ceil(axis.low / step - 1e-9)
    last = math.floor(axis.high / step + 1e-9)
    return [k * step for k in range(first, last + 1)]


def _number(value: float) -> str:
    return f"{value:g}"


def _draw_line(
    canvas: _Canvas,
    into: dict[tuple[int, int], int],
    xs: Sequence[float],
    ys: Sequence[float],
    pattern: tuple[int, int],
) -> None:
    places = [(canvas.across(x), canvas.down(y)) for x, y in zip(xs, ys, strict=True) if _both_finite(x, y)]
    if len(places) == 1:
        canvas.set(into, round(places[0][0]), round(places[0][1]))
    on, off = pattern
    walked = 0
    before: tuple[int, int] | None = None
    for column, row in _walk(places):
        if (column, row) == before:
            continue
        before = (column, row)
        if walked % (on + off) < on:
            canvas.set(into, column, row)
        walked += 1


def _both_finite(x: float, y: float) -> bool:
    return math.isfinite(x) and math.isfinite(y)


def _walk(places: Sequence[tuple[float, float]]) -> Iterable[tuple[int, int]]:
    """Every dot on the way along the straight lines between places."""
    for (x0, y0), (x1, y1) in pairwise(places):
        count = max(1, math.ceil(max(abs(x1 - x0), abs(y1 - y0))))
        for i in range(count + 1):
            part = i / count
            yield round(x0 + part * (x1 - x0)), round(y0 + part * (y1 - y0))


def _draw_band(canvas: _Canvas, into: dict[tuple[int, int], int], curve: Curve, order: int) -> None:
    """Spread dots over the band: every fourth dot of every other row, each curve's shifted against the others'."""
    step_x, step_y = _BAND_STEP
    shift = 2 * order
    for column in range(canvas.width * _ACROSS):
        if (column + shift) % step_x:
            continue
        x = canvas.x.low + column / (canvas.width * _ACROSS - 1) * (canvas.x.high - canvas.x.low)
        if not curve.x[0] <= x <= curve.x[-1]:
            continue
        top, bottom = (round(canvas.down(_between(curve.x, edge, x))) for edge in (curve.high, curve.low))
        for row in range(max(top, 0), min(bottom, canvas.height * _DOWN - 1) + 1):
            # the edges are always drawn, so that a narrow band is seen too
            if row in (top, bottom) or (row + shift) % step_y == 0:
                canvas.set(into, column, row)


def _between(xs: Sequence[float], ys: Sequence[float], x: float) -> float:
    """Straight line between points."""
    for (x0, y0), (x1, y1) in pairwise(zip(xs, ys, strict=True)):
        if x0 <= x <= x1:
            return y0 if x1 == x0 else y0 + (x - x0) / (x1 - x0) * (y1 - y0)
    return ys[0] if x < xs[0] else ys[-1]


def _put_label(canvas: _Canvas, curves: Sequence[Curve], order: int, label: str) -> None:
    """Write a curve's label beside it, where no curve runs and none of the others is nearer; nowhere if crowded."""
    if not label or len(curves) < 2:
        return
    for column in range(canvas.width - len(label) - 1, canvas.width // 3, -1):
        x = canvas.x.low + (column + 0.5 * len(label)) * _ACROSS / (canvas.width * _ACROSS) * (
            canvas.x.high - canvas.x.low
        )
        rows = [canvas.down(_between(c.x, c.y, x)) / _DOWN for c in curves if c.x]
        own = rows[order]
        others = [r for i, r in enumerate(rows) if i != order]
        upper = all(own < r for r in others)
        for away in (1, 2) if upper else (-1, -2):
            row = math.floor(own) - away
            far = min(abs(r - (row + 0.5)) for r in others)
            free = all(_free(canvas, column + i, row) for i in range(-1, len(label) + 1))
            if 0 <= row < canvas.height and free and far > abs(own - (row + 0.5)) + _TELLING:
                for i, sign in enumerate(label):
                    canvas.signs[column + i, row] = (sign, f"{LABEL}{order}")
                return


def _free(canvas: _Canvas, column: int, row: int) -> bool:
    place = (column, row)
    return place not in canvas.signs and not any(place in dots for dots in canvas.dots)


def _assemble(
    canvas: _Canvas, curves: Sequence[Curve], ticks: list[float], gutter: int, width: int, *, plain: bool
) -> Picture:
    bar, corner, rule, notch = ("|", "+", "-", "+") if plain else ("│", "└", "─", "┴")
    tick = "+" if plain else "┤"
    at_row = {round(canvas.down(t)) // _DOWN: _number(t) for t in ticks}
    rows: list[tuple[tuple[str, str], ...]] = [((canvas.y.title.ljust(width)[:width], AXIS),)]
    for row in range(canvas.height):
        said = at_row.get(row, "")
        cells = [canvas.cell(column, row, plain=plain) for column in range(canvas.width)]
        rows.append(_row([(said.rjust(gutter - 1) + " " + (tick if said else bar), AXIS), *cells], width))
    numbers = [" "] * canvas.width
    line = [rule] * canvas.width
    for value in _ticks(canvas.x, max(2, canvas.width // 8)):
        column = min(round(canvas.across(value)) // _ACROSS, canvas.width - 1)
        line[column] = notch
        text = _number(value)
        first = max(0, min(column - len(text) // 2, canvas.width - len(text)))
        if not "".join(numbers[max(0, first - 1) : first + len(text) + 1]).strip():
            numbers[first : first + len(text)] = text
    title = canvas.x.title
    rows.extend(
        (
            _row([(" " * gutter + corner + "".join(line), AXIS)], width),
            _row([(" " * (gutter + 1) + "".join(numbers), AXIS)], width),
            _row(_key(curves, title, gutter, width, plain=plain), width),
        )
    )
    return Picture(tuple(rows))


def sample(stroke: Stroke, index: int, *, plain: bool = False) -> str:
    """A short piece of a stroke for the key.

    Parameters
    ----------
    stroke : Stroke
        The stroke.
    index : int
        Place of the curve, which decides its sign in ASCII.
    plain : bool
        Use nothing but ASCII.
    """
    if plain:
        return _PLAIN_CURVES[index % len(_PLAIN_CURVES)] * 3
    return {Stroke.SOLID: "⠤⠤⠤⠤", Stroke.DASHED: "⠤⠤⠀⠤", Stroke.DOTTED: "⠄⠄⠄⠄"}[stroke]


def _key(curves: Sequence[Curve], title: str, gutter: int, width: int, *, plain: bool) -> list[tuple[str, str]]:
    pieces = [(" " * (gutter + 1), BLANK)]
    for k, curve in enumerate(curves):
        pieces += [
            (sample(curve.stroke, k, plain=plain), f"curve{k}"),
            (f" {curve.label}   ", LABEL),
        ]
    used = sum(len(text) for text, _ in pieces)
    if title and used + len(title) <= width:
        pieces.append((title.rjust(width - used), AXIS))
    return pieces


def _row(pieces: Iterable[tuple[str, str]], width: int) -> tuple[tuple[str, str], ...]:
    """Pieces of one part together, cut or filled to the width."""
    cells = [(sign, part) for text, part in pieces for sign in text][:width]
    cells += [(" ", BLANK)] * (width - len(cells))
    return tuple(("".join(sign for sign, _ in run), part) for part, run in groupby(cells, key=lambda cell: cell[1]))
