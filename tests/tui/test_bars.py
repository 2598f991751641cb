"""Tolerance bars: each mark where its number says, nothing by colour alone, ASCII on request."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.tui.widgets.bars import LEAST_WIDTH, PARTS, PLAIN, PRETTY, bar, scale

UNITS = st.floats(-50, 50, allow_nan=False)


def test_mark_lies_where_the_scale_says() -> None:
    width = 25
    heading = scale(width)
    assert heading.split() == ["-2", "-1", "0", "1", "2"]  # the end has no room for a sign
    for unit in range(-2, 3):
        line = bar(float(unit), width=width).text
        mark = max(line.find(s) for s in (PRETTY.inside, PRETTY.outside))
        assert heading[mark] == str(abs(unit))


def test_inside_and_outside_have_marks_of_their_own() -> None:
    assert PRETTY.inside in bar(1.0).text
    assert PRETTY.outside in bar(1.01).text
    assert PRETTY.outside in bar(-1.01).text


def test_off_the_end_is_an_arrow_at_that_end() -> None:
    assert bar(-7.0).text[0] == PRETTY.below
    assert bar(7.0).text[-1] == PRETTY.above


def test_doubt_reaches_one_sd_to_either_side() -> None:
    line = bar(0.0, 2.0, width=25, reach=3.0).text
    drawn = [i for i, sign in enumerate(line) if sign == PRETTY.doubt]
    # a middle of 12 cells a side: 3 units are 12 cells, 2 are 8; the ends of the tolerance stay to be seen
    assert (min(drawn), max(drawn)) == (12 - 8, 12 + 8)
    assert line[12 - 4] == PRETTY.low_edge
    assert line[12 + 4] == PRETTY.high_edge


def test_unknown_difference_has_no_mark() -> None:
    line = bar(math.nan, 1.0).text
    assert not {PRETTY.inside, PRETTY.outside, PRETTY.doubt} & set(line)


def test_unknown_doubt_covers_the_whole_bar() -> None:
    line = bar(0.5, math.inf).text
    assert line[0] == PRETTY.doubt
    assert line[-1] == PRETTY.doubt


@given(UNITS, st.floats(0, 20), st.integers(LEAST_WIDTH, 60), st.floats(1.0, 6.0), st.booleans())
def test_every_bar_has_its_width_and_one_mark(
    units: float, doubt: float, width: int, reach: float, plain: bool
) -> None:
    drawn = bar(units, doubt, width=width, reach=reach, plain=plain)
    signs = PLAIN if plain else PRETTY
    assert len(drawn.text) == width
    assert all(part in PARTS for _, part in drawn.pieces)
    marks = [text for text, part in drawn.pieces if part in ("inside", "outside")]
    assert [len(m) for m in marks] == [1]
    assert (marks[0] in (signs.below, signs.above)) == (abs(units) > reach)
    if plain:
        assert drawn.text.isascii()


@given(UNITS, st.floats(0, 20))
def test_a_bar_turned_round_is_that_of_the_opposite(units: float, doubt: float) -> None:
    other = {"[": "]", "]": "[", "<": ">", ">": "<"}
    one = bar(units, doubt, plain=True).text
    back = bar(-units, doubt, plain=True).text
    assert "".join(other.get(s, s) for s in reversed(one)) == back


@pytest.mark.parametrize(("width", "reach"), [(LEAST_WIDTH - 1, 3.0), (25, 0.5)])
def test_a_bar_that_would_show_nothing_is_refused(width: int, reach: float) -> None:
    with pytest.raises(ValueError, match="a bar takes"):
        bar(0.0, width=width, reach=reach)


def test_scale_keeps_the_middle_and_its_width() -> None:
    for width in (LEAST_WIDTH, 15, 25, 31):
        line = scale(width)
        assert len(line) == width
        assert line[(width - 1) // 2] == "0"
