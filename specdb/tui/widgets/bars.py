"""A difference as a bar of plain text: where it lies, in units of tolerance, with the doubt around it.

Nothing here needs colour: inside and outside tolerance have different marks, and the tolerance itself is drawn.
A bar is a row of pieces, each with the part it plays, so that whoever shows it may add style to the parts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby

REACH = 3.0  # units of tolerance from the middle to either end
WIDTH = 25
LEAST_WIDTH = 7
PARTS = ("blank", "tolerance", "edge", "zero", "doubt", "inside", "outside")


@dataclass(frozen=True, slots=True)
class Signs:
    """What a bar is drawn with, one cell each.

    Attributes
    ----------
    tolerance, low_edge, high_edge : str
        Ground of the tolerance, and its two ends.
    zero : str
        Where there is no difference.
    doubt : str
        Up to one standard deviation to either side.
    inside, outside : str
        The difference, where it lies inside or outside tolerance.
    below, above : str
        The difference, where it lies off the end of the bar.
    """

    tolerance: str
    low_edge: str
    high_edge: str
    zero: str
    doubt: str
    inside: str
    outside: str
    below: str
    above: str


PRETTY = Signs("·", "[", "]", "│", "━", "●", "◆", "◀", "▶")
PLAIN = Signs(".", "[", "]", "|", "=", "o", "X", "<", ">")


@dataclass(frozen=True, slots=True)
class Bar:
    """A drawn bar.

    Attributes
    ----------
    pieces : tuple of (str, str)
        Text, and the part it plays (one of ``PARTS``), from left to right.
    """

    pieces: tuple[tuple[str, str], ...]

    @property
    def text(self) -> str:
        """The bar as plain text."""
        return "".join(text for text, _ in self.pieces)


def bar(units_off: float, doubt: float = 0.0, *, width: int = WIDTH, reach: float = REACH, plain: bool = False) -> Bar:
    """Draw one difference.

    Parameters
    ----------
    units_off : float
        The difference in units of tolerance, signed; NaN leaves the bar without a mark.
    doubt : float
        Its standard deviation in units of tolerance.
    width : int
        Cells; an even number leaves the last one blank, so that there is a middle.
    reach : float
        Units of tolerance from the middle to either end; what lies further is an arrow at that end.
    plain : bool
        Use nothing but ASCII.

    Raises
    ------
    ValueError
        If the bar is too narrow, or does not reach over the tolerance.
    """
    half = _half(width, reach)
    signs = PLAIN if plain else PRETTY
    cells = [(" ", "blank")] * (2 * half + 1)
    low, high = _cell(-1.0, half, reach), _cell(1.0, half, reach)
    cells[low : high + 1] = [(signs.tolerance, "tolerance")] * (high - low + 1)
    cells[low], cells[high] = (signs.low_edge, "edge"), (signs.high_edge, "edge")
    cells[half] = (signs.zero, "zero")
    if not math.isnan(units_off):
        spread = doubt if math.isfinite(doubt) else 2.0 * reach + abs(units_off)
        first, last = (_cell(units_off + s, half, reach) for s in (-spread, spread))
        mark = _cell(units_off, half, reach)
        for i in range(first, last + 1):
            # the ends of the tolerance stay to be seen through the doubt
            if i not in (low, high):
                cells[i] = (signs.doubt, "doubt")
        cells[mark] = _mark(units_off, reach, signs)
    cells += [(" ", "blank")] * (width - len(cells))
    return Bar(
        tuple(("".join(sign for sign, _ in run), part) for part, run in groupby(cells, key=lambda cell: cell[1]))
    )


def scale(width: int = WIDTH, reach: float = REACH) -> str:
    """The heading of a column of bars: whole units of tolerance, where they lie.

    Parameters
    ----------
    width : int
        Cells, as of the bars.
    reach : float
        As of the bars.

    Raises
    ------
    ValueError
        As :func:`bar`.
    """
    half = _half(width, reach)
    line = [" "] * width
    line[half] = "0"
    for unit in range(1, int(reach) + 1):
        left, right = _cell(-float(unit), half, reach) - 1, _cell(float(unit), half, reach)
        # the digit stands over its place, the sign to the left of it
        if left >= 0 and not "".join(line[left : left + 3] + line[right - 1 : right + 1]).strip():
            line[left : left + 2] = "-", str(unit)[-1]
            line[right] = str(unit)[-1]
    return "".join(line)


def _half(width: int, reach: float) -> int:
    if width < LEAST_WIDTH or reach < 1.0:
        raise ValueError(f"a bar takes {LEAST_WIDTH} cells and one unit of tolerance or more, not {width}, {reach:g}")
    return (width - 1) // 2


def _cell(units: float, half: int, reach: float) -> int:
    """Cell of a place, kept on the bar."""
    return half + max(-half, min(half, round(max(-9.9, min(9.9, units / reach)) * half)))


def _mark(units_off: float, reach: float, signs: Signs) -> tuple[str, str]:
    if units_off < -reach:
        return signs.below, "outside"
    if units_off > reach:
        return signs.above, "outside"
    return (signs.inside, "inside") if abs(units_off) <= 1.0 else (signs.outside, "outside")
