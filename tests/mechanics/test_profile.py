"""Shaft models: what they refuse, their mass line, shafts side by side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.errors import MechanicsError
from specdb.mechanics.profile import ShaftBatch
from tests.support.shafts import uniform_shaft, wood_shaft


@given(fraction=st.floats(0.3334, 0.6666), mass=st.floats(0.03, 0.14), length=st.floats(0.8, 1.3))
def test_mass_line_has_the_weight_and_balance_point(fraction: float, mass: float, length: float) -> None:
    shaft = replace(
        uniform_shaft(),
        raw_length_m=length,
        mass_kg=mass,
        balance_from_tip_m=fraction * length,
        twist_rad_per_nm=None,
    )
    a, c = shaft.mass_line
    assert a > 0
    assert a + c * length > 0
    place, weight = np.polynomial.legendre.leggauss(3)
    s = 0.5 * length * (1.0 + place)
    line = a + c * s
    assert 0.5 * length * (weight @ line) == pytest.approx(mass, rel=1e-12)
    assert 0.5 * length * (weight @ (line * s)) == pytest.approx(mass * fraction * length, rel=1e-12)


@pytest.mark.parametrize("fraction", [0.2, 1.0 / 3.0, 2.0 / 3.0, 0.9, float("nan")])
def test_a_balance_point_that_needs_negative_mass_is_refused(fraction: float) -> None:
    shaft = uniform_shaft()
    with pytest.raises(MechanicsError, match="middle third"):
        replace(shaft, balance_from_tip_m=fraction * shaft.raw_length_m)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"raw_length_m": 0.0}, "raw_length_m"),
        ({"raw_length_m": float("inf")}, "raw_length_m"),
        ({"mass_kg": -0.06}, "mass_kg"),
        ({"mass_sd_kg": -1e-3}, "mass_sd_kg"),
        ({"twist_sd": float("nan")}, "twist_sd"),
        ({"ei_n_m2": np.array([0.0])}, "EI must be positive"),
        ({"ei_n_m2": np.array([float("nan")])}, "EI must be positive"),
        ({"station_m": np.array([float("inf")])}, "stations"),
        ({"log_ei_cov": np.array([[-1.0]])}, "negative variance"),
        ({"station_m": np.array([0.1, 0.2])}, "shapes"),
        ({"station_m": np.empty(0), "ei_n_m2": np.empty(0), "log_ei_cov": np.empty((0, 0))}, "station"),
        ({"twist_rad_per_nm": 0.0}, "rated twist"),
        ({"twist_to_m": 2.0}, "gauge span"),
        ({"twist_from_m": -0.1}, "gauge span"),
    ],
)
def test_numbers_that_describe_no_shaft_are_refused(changes: dict[str, object], said: str) -> None:
    with pytest.raises(MechanicsError, match=said):
        replace(uniform_shaft(), **changes)  # type: ignore[arg-type]


def test_stations_out_of_order_and_lopsided_covariances_are_refused() -> None:
    shaft = wood_shaft(np.random.default_rng(1), stations=4)
    with pytest.raises(MechanicsError, match="strictly increasing"):
        replace(shaft, station_m=shaft.station_m[::-1].copy())
    lopsided = shaft.log_ei_cov.copy()
    lopsided[0, 1] *= 1.5
    with pytest.raises(MechanicsError, match="symmetric"):
        replace(shaft, log_ei_cov=lopsided)


def test_an_unknown_torque_needs_no_gauge_span() -> None:
    shaft = replace(uniform_shaft(), twist_rad_per_nm=None, twist_from_m=0.0, twist_to_m=0.0)
    assert np.isnan(ShaftBatch.of([shaft]).twist[0])


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), counts=st.lists(st.integers(1, 20), min_size=1, max_size=5))
def test_side_by_side_reads_as_one_by_one(seed: int, counts: list[int]) -> None:
    rng = np.random.default_rng(seed)
    shafts = [wood_shaft(rng, stations=n) for n in counts]
    batch = ShaftBatch.of(shafts)
    place = rng.uniform(-0.1, 1.4, (len(shafts), 30))
    together = batch.ei_at(place)
    a, c = batch.mass_line
    for i, shaft in enumerate(shafts):
        assert together[i] == pytest.approx(shaft.ei(place[i]), rel=1e-13)
        assert (a[i], c[i]) == pytest.approx(shaft.mass_line, rel=1e-13)
