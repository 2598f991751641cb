"""Weights while they are changed: what is refused, what a step is, what is kept."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.matching.weighting import COMPARED, Tolerances
from specdb.records.rows import Weighting
from specdb.schema import load_schema
from specdb.tui.standins.weights import UNIT, WEIGHT, Weights
from specdb.verbs.catalogue.values import parse_assignments
from specdb.verbs.matching.weightings import weighting_lines


@pytest.fixture
def weights() -> Weights:
    return Weights.of("default", weighting_lines(None, None))


def test_unchanged_is_the_default(weights: Weights) -> None:
    assert not weights.changed
    made, usual = weights.tolerances(), Tolerances.default()
    assert made.unit.tolist() == usual.unit.tolist()
    assert made.weight.tolist() == usual.weight.tolist()


def test_at_least_one_feature_must_count(weights: Weights) -> None:
    for row in range(len(COMPARED) - 1):
        assert weights.put(row, WEIGHT, 0.0) == ""
    assert weights.put(len(COMPARED) - 1, WEIGHT, 0.0) == "at least one feature must count"
    assert weights.values[-1][WEIGHT] == 1.0


@pytest.mark.parametrize(
    ("column", "value"), [(UNIT, 0.0), (UNIT, -1.0), (UNIT, 1000.5), (WEIGHT, -0.1), (WEIGHT, 101)]
)
def test_what_the_catalogue_would_not_keep_is_refused(weights: Weights, column: int, value: float) -> None:
    assert weights.put(0, column, value)
    assert not weights.changed


def test_steps(weights: Weights) -> None:
    assert weights.step(0, WEIGHT, 1) == ""
    assert weights.values[0][WEIGHT] == 1.25
    for _ in range(10):
        weights.step(0, WEIGHT, -1)
    assert weights.values[0][WEIGHT] == 0.0
    weights.step(0, UNIT, 1)
    assert weights.values[0][UNIT] == pytest.approx(2.75)  # a tenth of 2.5 cpm
    for _ in range(30):
        weights.step(0, UNIT, -1)
    assert weights.values[0][UNIT] == pytest.approx(0.25)  # never nought


@given(
    st.lists(st.tuples(st.floats(0.001, 1000), st.floats(0.001, 100)), min_size=len(COMPARED), max_size=len(COMPARED))
)
def test_what_is_kept_is_what_was_in_force(values: list[tuple[float, float]]) -> None:
    weights = Weights.of("default", weighting_lines(None, None))
    for row, (unit, weight) in enumerate(values):
        assert weights.put(row, UNIT, unit) == ""
        assert weights.put(row, WEIGHT, weight) == ""
    kept = parse_assignments(load_schema().table("weighting"), weights.words())
    read = Tolerances.from_record(Weighting(id="kept", **kept))
    assert read.unit.tolist() == pytest.approx(weights.tolerances().unit.tolist(), rel=1e-6)
    assert read.weight.tolist() == pytest.approx(weights.tolerances().weight.tolist(), rel=1e-6)
