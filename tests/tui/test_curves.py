"""Curves in a terminal: none erases another, bands and marks lie where they belong, no colour is needed."""

import math
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.tui.widgets.curves import MARK, SEVERAL, Axis, Curve, Mark, Picture, Stroke, draw, nice_step
from specdb.tui.widgets.curves_view import without_braille

X = [float(i) for i in range(41)]
BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


def line(a: float, b: float, label: str = "a", stroke: Stroke = Stroke.SOLID, half: float = 0.0) -> Curve:
    y = [a + b * x for x in X]
    if half == 0.0:
        return Curve(label, X, y, stroke=stroke)
    return Curve(label, X, y, [v - half for v in y], [v + half for v in y], stroke)


def field(picture: Picture) -> list[str]:
    """The rows between the axes, without what stands left of the axis."""
    rows = picture.text.split("\n")[1:-3]
    start = next(max(r.find("│"), r.find("┤")) for r in rows)
    return [r.ljust(start + 1)[start + 1 :] for r in rows]


def dots(picture: Picture) -> set[tuple[int, int]]:
    found = set()
    for row, text in enumerate(field(picture)):
        for column, sign in enumerate(text):
            bits = ord(sign) - 0x2800
            if 0 <= bits < 256:
                found |= {(2 * column + i, 4 * row + j) for j in range(4) for i in range(2) if bits & BITS[j][i]}
    return found


def boxed(
    *curves: Curve, marks: Sequence[Mark] = (), width: int = 60, height: int = 20, plain: bool = False
) -> Picture:
    """Drawn from 0 to 40 across and 0 to 100 up."""
    box = (Axis(0.0, 40.0), Axis(0.0, 100.0))
    return draw(curves, marks, width=width, height=height, x=box[0], y=box[1], plain=plain)


def test_no_curve_erases_another() -> None:
    one, two = line(10.0, 2.0), line(90.0, -2.0)
    both = boxed(one, two)
    for alone in (one, two):
        assert dots(boxed(alone)) <= dots(both)
    assert any(part == SEVERAL for row in both.rows for _, part in row)


@given(st.floats(0, 100), st.floats(0, 100), st.floats(0, 100), st.floats(0, 100))
def test_dots_of_two_curves_are_the_dots_of_each(a: float, b: float, c: float, d: float) -> None:
    one, two = line(a, (b - a) / 40.0, ""), line(c, (d - c) / 40.0, "")
    both = boxed(one, two, width=40, height=14)
    alone = [dots(boxed(curve, width=40, height=14)) for curve in (one, two)]
    assert dots(both) == alone[0] | alone[1]


def test_a_solid_curve_has_no_gap_and_a_dashed_one_has() -> None:
    solid = {x for x, _ in dots(boxed(line(10.0, 2.0)))}
    dashed = {x for x, _ in dots(boxed(line(10.0, 2.0, stroke=Stroke.DASHED)))}
    assert solid == set(range(min(solid), max(solid) + 1))
    assert dashed < solid


def test_a_band_is_drawn_about_its_curve_and_widens_with_it() -> None:
    bare = len(dots(boxed(line(50.0, 0.0))))
    narrow = dots(boxed(line(50.0, 0.0, half=5.0)))
    wide = dots(boxed(line(50.0, 0.0, half=20.0)))
    assert bare < len(narrow) < len(wide)
    high, low = max(y for _, y in wide), min(y for _, y in wide)
    rows = 16 * 4
    assert low == pytest.approx((100 - 70) / 100 * (rows - 1), abs=1)
    assert high == pytest.approx((100 - 30) / 100 * (rows - 1), abs=1)


@given(st.floats(1, 39), st.floats(5, 95), st.floats(-2, 2))
def test_a_mark_on_a_curve_is_drawn_on_its_line(at: float, start: float, slope: float) -> None:
    end = start + 40.0 * slope
    if not 0 <= end <= 100:
        return
    curve = line(start, slope)
    picture = boxed(curve, marks=[Mark(at, start + slope * at, "o")], width=50, height=18)
    row, column = next((r, t.index("o")) for r, t in enumerate(field(picture)) if "o" in t)
    alone = dots(boxed(curve, width=50, height=18))
    assert any(2 * column - 1 <= x <= 2 * column + 2 and 4 * row - 1 <= y <= 4 * row + 4 for x, y in alone)


def test_a_mark_plays_its_own_part() -> None:
    picture = boxed(line(10.0, 1.0), marks=[Mark(20.0, 80.0, "@")])
    assert ("@", MARK) in [piece for row in picture.rows for piece in row]


def test_curves_are_named_on_the_picture_and_in_the_key() -> None:
    picture = boxed(line(20.0, 1.5, "fitted"), line(10.0, 1.0, "stand-in"), width=70, height=20)
    rows = picture.text.split("\n")
    for label in ("fitted", "stand-in"):
        assert any(label in r for r in rows[1:-3])
        assert label in rows[-1]
    # the upper curve's label lies above it, so it stands higher
    named = {label: next(i for i, r in enumerate(rows[:-1]) if label in r) for label in ("fitted", "stand-in")}
    assert named["fitted"] < named["stand-in"]


@given(st.integers(12, 120), st.integers(7, 40), st.booleans())
def test_every_row_fills_the_width(width: int, height: int, plain: bool) -> None:
    picture = draw([line(10.0, 2.0, half=8.0), line(80.0, -1.0)], width=width, height=height, plain=plain)
    assert len(picture.rows) == height
    assert {sum(len(text) for text, _ in row) for row in picture.rows} == {width}
    if plain:
        assert picture.text.isascii()


def test_plain_shows_crossings_and_both_curves() -> None:
    text = boxed(line(10.0, 2.0), line(90.0, -2.0), plain=True).text
    assert {"*", "o", "#"} <= set(text)


def test_gaps_in_the_data_are_left_out() -> None:
    holed = Curve("a", [0.0, 10.0, 20.0], [10.0, math.nan, 30.0])
    assert dots(boxed(holed, width=40, height=12))


def test_nothing_to_draw_is_said() -> None:
    with pytest.raises(ValueError, match="no curve"):
        draw([], width=40, height=12)


@pytest.mark.parametrize(("span", "most", "step"), [(40, 5, 10), (1.7, 4, 0.5), (93, 5, 20), (0, 3, 1)])
def test_steps_are_round(span: float, most: int, step: float) -> None:
    assert nice_step(span, most) == pytest.approx(step)


@pytest.mark.parametrize(("term", "plain"), [("linux", True), ("xterm-256color", False), ("tmux-256color", False)])
def test_a_console_without_braille_signs_gets_letters(term: str, plain: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", term)
    assert without_braille() == plain
