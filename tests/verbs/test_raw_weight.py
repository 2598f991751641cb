"""The raw shaft on the scale."""

from __future__ import annotations

import pytest

from specdb.verbs.building.raw_weight import RawWeight, next_piece


@pytest.mark.parametrize(
    ("weighed", "said", "fits"),
    [
        (65.0, "piece 2 weighs 65.0 g raw, as expected", True),
        (66.9, "piece 2 weighs 66.9 g raw, 1.9 g more than expected", True),
        (62.0, "piece 2 weighs 62.0 g raw, 3.0 g less than expected: tell the fitter before it is cut", False),
    ],
)
def test_a_raw_shaft_is_held_against_twice_its_doubt(weighed: float, said: str, fits: bool) -> None:
    assert RawWeight.of(65.0, 1.0).words(weighed, "2") == (said, fits)


def test_the_next_piece_has_a_name_that_is_free() -> None:
    assert next_piece([]) == "piece 1"
    assert next_piece(["piece 1", "P2", "3", "left over"]) == "piece 4"
