"""Lengths written as they were typed, and as they are cut; the inch is 25.4 mm exactly (agreement of 1959)."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.errors import UnitError
from specdb.units import parse_quantity
from specdb.units.lengths import cut_length, depth_at_most, difference_words, length_as_typed, length_in_both

SPANS = st.floats(0.0, 60.0, allow_nan=False)


def _inches(text: str) -> float:
    """The inches of a text, read with the fractions of the standard library."""
    found = re.match(r"(?:(\d+) )?(?:(\d+/\d+) )?in", text)
    assert found is not None, text
    return float(Fraction(found[1] or 0) + Fraction(found[2] or 0))


@given(st.integers(0, 60), st.integers(0, 63))
def test_what_a_tape_shows_comes_back_exactly_and_in_its_coarsest_parts(whole: int, top: int) -> None:
    value = whole + Fraction(top, 64)
    text = length_as_typed(float(value))
    assert _inches(text) == value
    assert (str(value.denominator) in text) or value.denominator == 1  # 1/16 is not written as 2/32


@given(st.integers(0, 15240))
def test_millimetres_come_back_as_typed(tenths: int) -> None:
    value = parse_quantity(f"{tenths / 10} mm", "in")
    text = length_as_typed(value)
    assert parse_quantity(text, "in") == pytest.approx(value, abs=1e-6)
    if (value * 64) % 1.0 > 1e-4 and (value * 64) % 1.0 < 1.0 - 1e-4:
        assert text == f"{tenths / 10:g} mm"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("45 1/4", "45 1/4 in (1149 mm)"),
        ("45 1/32", "45 1/32 in (1143.8 mm)"),
        ("45 1/64", "45 1/64 in (1143.4 mm)"),
        ("1150 mm", "1150 mm (45 9/32 in)"),
        ("115 cm", "1150 mm (45 9/32 in)"),
        ("45.3", "45.3 in (1150.6 mm)"),
        ("45.25", "45 1/4 in (1149 mm)"),
    ],
)
def test_a_length_is_shown_as_it_was_typed_with_the_other_unit(typed: str, said: str) -> None:
    assert length_in_both(parse_quantity(typed, "in")) == said


@given(SPANS)
def test_a_cut_is_right_to_half_a_thirty_second_and_half_a_millimetre(value: float) -> None:
    text = cut_length(value)
    assert abs(_inches(text) - value) <= 1.0 / 64.0 + 1e-9
    mm = float(text.partition("(")[2].removesuffix(" mm)"))
    assert abs(mm - value * 25.4) <= (0.05 if value < 1.0 else 0.5) + 1e-9


@given(SPANS)
def test_a_depth_is_never_rounded_up(value: float) -> None:
    text = depth_at_most(value)
    mm = float(text.partition("(")[2].removesuffix(" mm)"))
    assert -1e-6 <= value - _inches(text) <= 1.0 / 32.0 + 1e-6
    assert -1e-4 <= value * 25.4 - mm <= 0.1 + 1e-4


def test_a_difference_is_told_from_the_exact_value() -> None:
    assert difference_words(1150 / 25.4 - 45.25) == "1/32 in (0.7 mm)"  # 0.65 mm
    assert difference_words(-1.0 / 64.0) == "1/64 in (0.4 mm)"
    assert difference_words(0.01) == "0.3 mm"  # less than 1/64 in: no fraction tells it
    assert difference_words(0.25) == "1/4 in (6.4 mm)"


@pytest.mark.parametrize("write", [length_as_typed, length_in_both, cut_length, depth_at_most, difference_words])
def test_what_is_not_known_is_not_written_as_a_length(write: object) -> None:
    for value in (math.nan, math.inf):
        with pytest.raises(UnitError):
            write(value)  # type: ignore[operator]
