"""Swingweights as people write them, and back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.errors import MechanicsError
from specdb.mechanics import swingweight


@pytest.mark.parametrize(
    ("text", "points"),
    [("D2.5", 2.5), ("d2", 2.0), (" C9 ", -1.0), ("D 0", 0.0), ("E1", 11.0), ("D2,5", 2.5), ("B7.25", -12.75)],
)
def test_parse(text: str, points: float) -> None:
    assert swingweight.parse(text) == points


@pytest.mark.parametrize(
    "text", ["", "D", "2", "H1", "D2.5x", "DD2", "D--1", "D1e1", "D99999", "nan", "D2.5 g", "D.5", "٣", "D٣"]
)
def test_nonsense_is_refused(text: str) -> None:
    with pytest.raises(MechanicsError, match="is no swingweight"):
        swingweight.parse(text)


def test_more_than_ten_points_name_what_is_meant() -> None:
    with pytest.raises(MechanicsError, match=r"is E2\.5 meant"):
        swingweight.parse("D12.5")
    with pytest.raises(MechanicsError, match=r"is C8\.0 meant"):
        swingweight.parse("D-2")


@pytest.mark.parametrize(
    ("moment", "text"),
    [
        (213.5, "D0.0"),
        (213.5 + 1.75 * 9.94, "D9.9"),
        (213.5 + 1.75 * 9.96, "E0.0"),
        (213.5 - 0.05 * 1.75 - 1e-9, "C9.9"),
        (213.5 - 33.0 * 1.75, "A-3.0"),
        (213.5 + 42.5 * 1.75, "G12.5"),
    ],
)
def test_format(moment: float, text: str) -> None:
    assert swingweight.from_moment_in_oz(moment) == text


@given(st.integers(min_value=-450, max_value=600))
def test_every_tenth_survives_writing_and_reading(tenths: int) -> None:
    moment = swingweight.points_to_moment_in_oz(tenths / 10.0)
    text = swingweight.from_moment_in_oz(moment)
    assert swingweight.parse(text) == pytest.approx(tenths / 10.0, abs=1e-9)
    assert swingweight.moment_to_points(swingweight.to_moment_in_oz(text)) == pytest.approx(tenths / 10.0, abs=1e-9)


@pytest.mark.parametrize("moment", [math.nan, math.inf, -math.inf])
def test_no_number_has_no_swingweight(moment: float) -> None:
    with pytest.raises(MechanicsError):
        swingweight.from_moment_in_oz(moment)
