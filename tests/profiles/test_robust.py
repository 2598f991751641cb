"""Odd but possible data: the estimator settles, alone and among others, to the same answer."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.profiles.estimate import estimate, estimate_many
from specdb.profiles.evidence import make_case
from specdb.profiles.population import builtin
from specdb.profiles.state import NODES
from specdb.records.rows import Shaft, ShaftReading
from tests.profiles.figures import cases_of
from tests.profiles.truth import bendings, frequencies, true_shafts

POPULATION = builtin()

shafts = st.builds(
    Shaft,
    id=st.just("odd"),
    club_type=st.sampled_from(["wood", "hybrid", "iron", "wedge", "putter"]),
    material=st.sampled_from([None, "graphite", "steel", "composite"]),
    raw_length_in=st.floats(33.0, 48.0),
    weight_g=st.none() | st.floats(35.0, 140.0),
    torque_deg=st.none() | st.floats(1.0, 8.0),
    balance_from_tip_in=st.none() | st.floats(15.0, 24.0),
    kick_label=st.none() | st.sampled_from(["low", "mid", "high"]),
    tip_ei_n_m2=st.none() | st.floats(10.0, 60.0),
    butt_ei_n_m2=st.none() | st.floats(30.0, 120.0),
)
odd_readings = st.lists(
    st.one_of(
        st.builds(
            ShaftReading,
            id=st.just("r"),
            shaft_id=st.just("odd"),
            sample=st.sampled_from(["A", "B", "published"]),
            quantity=st.just("ei"),
            value=st.floats(5.0, 200.0),
            position_in=st.floats(0.0, 48.0),
            span_in=st.none() | st.floats(2.0, 20.0),
        ),
        st.builds(
            ShaftReading,
            id=st.just("r"),
            shaft_id=st.just("odd"),
            sample=st.sampled_from(["A", "B"]),
            quantity=st.just("frequency"),
            value=st.floats(100.0, 900.0),
            free_length_in=st.floats(8.0, 45.0),
            tip_mass_g=st.floats(0.0, 300.0),
        ),
    ),
    max_size=8,
)


@settings(max_examples=60, deadline=None)
@given(shafts, odd_readings)
def test_settles_on_odd_data(shaft: Shaft, readings: list[ShaftReading]) -> None:
    found = estimate(make_case(shaft, readings), POPULATION)
    assert found.ei.shape == (NODES,)
    assert np.isfinite(found.ei).all()
    assert (found.ei > 0.0).all()
    assert np.linalg.eigvalsh(found.covariance).min() > 0.0
    model = found.model()  # checks itself
    assert (np.diag(model.log_ei_cov) > np.diag(found.log_ei_cov)).all()


def test_alone_and_among_others() -> None:
    truths = true_shafts(12, 91) + true_shafts(12, 92, "steps")
    rng = np.random.default_rng(1)
    every = [
        ([], f[-1:], f, b)[i % 4]
        for i, (f, b) in enumerate(zip(frequencies(truths, rng), bendings(truths, rng), strict=True))
    ]
    cases = cases_of(truths, every)
    together = estimate_many(cases, POPULATION)
    for case, found in zip(cases, together, strict=True):
        alone = estimate(case, POPULATION)
        assert alone.shaft_id == found.shaft_id
        assert found.ei == pytest.approx(alone.ei, rel=1e-4)
        assert np.diag(found.covariance) == pytest.approx(np.diag(alone.covariance), rel=1e-3)


def test_nothing_to_do() -> None:
    assert estimate_many([], POPULATION) == []
