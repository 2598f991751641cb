"""Pictures in text: what is drawn is read back from the cells and held against what was to be drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.verbs.stiffness.text_plot import TextCurve, TextMark, draw, ticks

# the Unicode Standard, chapter 21.1: dots 1 to 8 of a braille pattern are the bits of its code point above U+2800, dots
# 1, 2, 3, 7 the left column from above, 4, 5, 6, 8 the right one
DOT_OF_BIT = {0: (0, 0), 1: (0, 1), 2: (0, 2), 3: (1, 0), 4: (1, 1), 5: (1, 2), 6: (0, 3), 7: (1, 3)}
WIDTH, HEIGHT = 80, 18


def _field(lines: Sequence[str]) -> list[str]:
    """Rows of the field, without the axis at its left."""
    rows = []
    for line in lines:
        for wall in ("│", "┤"):
            head, found, cells = line.partition(wall)
            if found and not head.strip(" 0123456789.-"):
                rows.append(cells)
                break
    return rows


def _dots(lines: Sequence[str]) -> set[tuple[int, int]]:
    """Dots that were set, from the upper left corner of the field."""
    return {
        (2 * column + DOT_OF_BIT[bit][0], 4 * row + DOT_OF_BIT[bit][1])
        for row, cells in enumerate(_field(lines))
        for column, cell in enumerate(cells)
        if 0x2800 <= ord(cell) <= 0x28FF
        for bit in range(8)
        if (ord(cell) - 0x2800) >> bit & 1
    }


def _draw(curves: Sequence[TextCurve], marks: Sequence[TextMark] = (), *, plain: bool = False) -> list[str]:
    return draw(curves, marks, width=WIDTH, height=HEIGHT, x_title="in", y_title="N·m²", plain=plain)


def test_a_straight_line_comes_out_straight() -> None:
    dots = _dots(_draw([TextCurve([0.0, 46.0], [20.0, 60.0])]))
    across = sorted({x for x, _ in dots})
    assert across == list(range(across[-1] + 1))  # no gap
    slope, level = np.polyfit([x for x, _ in dots], [y for _, y in dots], 1)
    assert slope < 0.0  # rows count downwards
    assert max(abs(y - (level + slope * x)) for x, y in dots) <= 1.0  # one dot


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(5.0, 120.0), min_size=2, max_size=16))
def test_dots_lie_on_the_curve(y: list[float]) -> None:
    """The scale is found from the first and last tick of the axis itself, as a reader does."""
    y = [*y, 5.0, 120.0]  # so that the axis has several numbers
    x = np.linspace(0.0, 46.0, len(y)).tolist()
    lines = _draw([TextCurve(x, y)])
    rows = _field(lines)
    labels = [line.partition("┤")[0] for line in lines if "┤" in line]
    ticked = [n for n, line in enumerate([t for t in lines if "│" in t or "┤" in t]) if "┤" in line]
    per_row = (float(labels[0]) - float(labels[-1])) / (ticked[-1] - ticked[0])
    span = 2 * max(len(r) for r in rows)
    for across, down in _dots(lines):
        value = float(labels[0]) - (down / 4.0 - (ticked[0] + 0.5)) * per_row
        # somewhere within a dot to either side the curve has this value, but for a row of rounding
        near = np.interp(np.linspace(max(across - 2, 0), across + 2, 41) / (span - 1) * 46.0, x, y)
        assert near.min() - 1.1 * per_row <= value <= near.max() + 1.1 * per_row


@settings(max_examples=300, deadline=None)
@given(
    st.integers(1, 160),
    st.integers(1, 40),
    st.lists(st.floats(allow_nan=True, allow_infinity=True), min_size=1, max_size=9),
    st.booleans(),
)
def test_whatever_the_numbers_the_lines_fit(width: int, height: int, y: list[float], plain: bool) -> None:
    curve = TextCurve([float(i) for i in range(len(y))], y)
    lines = draw([curve], width=width, height=height, x_title="in", y_title="EI", plain=plain)
    if not any(abs(v) < 1e100 for v in y):
        assert lines == []
        return
    assert len(lines) == max(height, 4) + 4
    assert max(map(len, lines)) <= max(width, 20)
    assert not plain or all(line.isascii() for line in lines)


def test_plain_is_ascii_and_shows_the_same() -> None:
    x = np.linspace(0.0, 46.0, 50)
    curve = TextCurve(x.tolist(), (20.0 + x).tolist(), (18.0 + x).tolist(), (24.0 + x).tolist())
    lines = draw([curve], [TextMark(23.0, 50.0, "X")], width=60, height=14, x_title="in", y_title="EI", plain=True)
    assert all(line.isascii() for line in lines)
    cells = [line.partition("|")[2] or line.partition("+")[2] for line in lines[1:15]]
    stars = [(row, line.index("*")) for row, line in enumerate(cells) if "*" in line]
    assert stars == sorted(stars, key=lambda p: -p[1])  # higher up is further to the butt
    assert sum(line.count("X") for line in cells) == 1
    assert any("." in line for line in cells)


def test_edges_of_a_band_lie_outside_the_curve() -> None:
    x = np.linspace(0.0, 46.0, 50)
    bare = _draw([TextCurve(x.tolist(), (20.0 + x).tolist())], [TextMark(0.0, 10.0), TextMark(46.0, 76.0)])
    band = TextCurve(x.tolist(), (20.0 + x).tolist(), (10.0 + x).tolist(), (30.0 + x).tolist())
    drawn = _draw([band], [TextMark(0.0, 10.0), TextMark(46.0, 76.0)])
    edges = _dots(drawn) - _dots(bare)
    curve = dict(sorted(_dots(bare)))
    above = [p for p in edges if p[1] < curve.get(p[0], 0)]
    below = [p for p in edges if p[1] > curve.get(p[0], 0)]
    assert len(above) > 20
    assert len(below) > 20
    assert len(edges) < len(_dots(bare))  # dotted


def test_a_second_curve_is_broken() -> None:
    x = [0.0, 46.0]
    first = _dots(_draw([TextCurve(x, [20.0, 20.0]), TextCurve(x, [60.0, 60.0])]))
    levels = sorted({y for _, y in first})
    upper, lower = (len({a for a, y in first if y == level}) for level in (levels[0], levels[-1]))
    assert upper < 0.7 * lower


def test_a_later_mark_covers_an_earlier_one() -> None:
    lines = _draw([], [TextMark(1.0, 1.0, "o"), TextMark(1.0, 1.0, "X"), TextMark(2.0, 2.0, "o")])
    text = "".join(_field(lines))
    assert (text.count("X"), text.count("o")) == (1, 1)


def test_zones_are_named_in_order() -> None:
    zones = [(0.0, 10.0, "tip third"), (10.0, 20.0, "middle third"), (20.0, 30.0, "butt third")]
    curve = TextCurve([0.0, 30.0], [1.0, 2.0])
    wide = draw([curve], width=80, height=8, x_title="in", y_title="EI", zones=zones)[1]
    assert [part.strip() for part in wide.split("│")] == ["tip third", "middle third", "butt third"]
    narrow = draw([curve], width=40, height=8, x_title="in", y_title="EI", zones=zones)[1]
    assert [part.strip() for part in narrow.split("│")] == ["tip third", "middle", "butt third"]


@pytest.mark.parametrize(
    ("low", "high", "most", "expected"),
    [
        (0.0, 46.0, 5, [0.0, 10.0, 20.0, 30.0, 40.0]),
        (18.0, 71.0, 6, [20.0, 30.0, 40.0, 50.0, 60.0, 70.0]),
        (0.0, 1.0, 5, [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),
        (-3.0, 3.0, 3, [-2.0, 0.0, 2.0]),
    ],
)
def test_ticks_are_round_numbers(low: float, high: float, most: int, expected: list[float]) -> None:
    """Steps of 1, 2 or 5 times a power of ten (common practice, no source)."""
    assert ticks(low, high, most) == pytest.approx(expected)


def test_nothing_to_draw() -> None:
    assert _draw([]) == []
    assert _draw([TextCurve([0.0, 1.0], [math.nan, math.inf])]) == []
