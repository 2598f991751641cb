"""Estimates as columns give the mechanics the same shafts as the estimates themselves."""

from __future__ import annotations

import numpy as np
import pytest

from specdb.profiles.columns import EstimateColumns
from specdb.profiles.estimate import estimate_many
from specdb.profiles.evidence import make_case
from specdb.profiles.population import builtin
from specdb.profiles.state import SIZE
from tests.profiles.truth import FREE_LENGTHS_IN, frequencies, true_shafts


def test_profiles_from_columns_equal_those_of_the_estimates() -> None:
    truths = true_shafts(12, 5)
    rows = frequencies(truths, np.random.default_rng(3), 0.005, FREE_LENGTHS_IN)
    cases = [make_case(t.shaft, r if i % 2 else []) for i, (t, r) in enumerate(zip(truths, rows, strict=True))]
    estimates = estimate_many(cases, builtin())
    columns = EstimateColumns.of(estimates)
    profiles = columns.profiles()
    for i, found in enumerate(estimates):
        model = found.model()
        assert profiles.ei_n_m2[i] == pytest.approx(model.ei_n_m2, rel=1e-6)
        assert np.abs(profiles.covariance(i) - model.log_ei_cov).max() < 1e-6 * model.log_ei_cov.max() + 1e-9
        assert profiles.mass_kg[i] == pytest.approx(found.mass_kg, rel=1e-6)
        assert profiles.mass_sd_kg[i] == pytest.approx(found.mass_sd_kg, rel=1e-3)
        assert np.abs(columns.covariance_of(i) - found.covariance[:SIZE, :SIZE]).max() < 1e-6
    assert profiles.place_of([estimates[3].shaft_id, "nobody"]).tolist() == [3, -1]


def test_least_variance_of_a_mean_is_not_beaten_by_random_weights() -> None:
    truths = true_shafts(4, 6)
    profiles = EstimateColumns.of(estimate_many([make_case(t.shaft) for t in truths], builtin())).profiles()
    floor = profiles.least_mean_variance()
    rng = np.random.default_rng(1)
    for i in range(len(profiles)):
        weights = rng.dirichlet(np.ones(profiles.node_t.size), 500)
        variance = np.einsum("wj,jk,wk->w", weights, profiles.covariance(i), weights)
        assert variance.min() >= floor[i] - 1e-9
        assert floor[i] > 0


def test_no_estimates_are_columns_too() -> None:
    empty = EstimateColumns.of([])
    assert len(empty) == 0
    assert len(empty.profiles()) == 0
