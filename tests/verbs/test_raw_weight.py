"""The raw shaft on the scale."""

from __future__ import annotations

from pathlib import Path

import pytest

import specdb
from specdb.verbs.building.as_built import Finished
from specdb.verbs.building.finished_clubs import Measured, RawReadings, keep_built
from specdb.verbs.building.raw_weight import RawWeight, expected_raw, next_piece, weighed_raw
from tests.support.copies import demo_copy


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


def test_a_piece_is_not_held_against_its_own_weight(tmp_path: Path) -> None:
    demo_copy(tmp_path / "demo.duckdb")
    shop = specdb.open(tmp_path / "demo.duckdb")
    piece = Finished(club="wexcombe-7-iron", order="o-1045", line=1, unit=1, piece="piece 9")
    shaft = specdb.built_answer(shop, Finished(club=piece.club)).shaft
    with shop.read() as reader:
        before = expected_raw(reader, shaft, "piece 9")
    keep_built(shop, piece, Measured(raw=RawReadings(weight_g=95.0)))
    with shop.read() as reader:
        assert weighed_raw(reader, shaft, "piece 9") == 95.0
        assert expected_raw(reader, shaft, "piece 9") == before
        other = expected_raw(reader, shaft, "piece 8")
    assert before is not None
    assert other is not None
    assert other[0] > before[0] + 1.0  # of another piece more is expected now
