"""Measurement models against the exact bench models, their derivatives against differences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.mechanics.bench import deflection_reading, frequency_reading, three_point_ei
from specdb.mechanics.constants import CPM_PER_HZ, IN
from specdb.mechanics.profile import ShaftModel
from specdb.profiles.readings import Kind, Models, Reading
from specdb.profiles.state import BALANCE, EI, KAPPA, MASS, NODE_T, SIZE

RAW = 46.0 * IN
seeds = st.integers(min_value=0, max_value=10_000)


def state_of(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    state = np.zeros(SIZE)
    state[EI] = np.log(22.0 + 46.0 * NODE_T) + rng.normal(0.0, 0.08, NODE_T.size)
    state[KAPPA], state[BALANCE], state[MASS] = np.log(0.45), rng.normal(0.02, 0.01), np.log(rng.uniform(0.045, 0.12))
    return state


def model_of(state: np.ndarray) -> ShaftModel:
    return ShaftModel(
        raw_length_m=RAW,
        station_m=NODE_T * RAW,
        ei_n_m2=np.exp(state[EI]),
        log_ei_cov=np.zeros((NODE_T.size, NODE_T.size)),
        mass_kg=float(np.exp(state[MASS])),
        mass_sd_kg=0.0,
        balance_from_tip_m=float((0.5 + state[BALANCE]) * RAW),
        balance_sd_m=0.0,
        twist_rad_per_nm=None,
        twist_sd=0.0,
        twist_from_m=0.0,
        twist_to_m=RAW,
    )


def readings(free_in: float, tip_kg: float) -> list[Reading]:
    functional = np.zeros(SIZE)
    functional[MASS] = 1.0
    return [
        Reading("f", Kind.FREQUENCY, 4.0, 0.02, high_m=free_in * IN, load=tip_kg),
        Reading("d", Kind.DEFLECTION, 0.05, 0.001, low_m=2.0 * IN, high_m=free_in * IN, load=20.0),
        Reading("b", Kind.BEND, 40.0, 0.5, low_m=11.0 * IN, high_m=23.0 * IN),
        Reading("p", Kind.POINT, 40.0, 0.5, low_m=17.3 * IN, high_m=17.3 * IN),
        Reading("t", Kind.TWIST, 0.05, 0.001, low_m=1.0 * IN, high_m=45.0 * IN),
        Reading("w", Kind.LINEAR, -2.8, 0.01, functional=functional),
    ]


@settings(max_examples=25, deadline=None)
@given(seeds, st.floats(10.0, 45.0), st.floats(0.0, 0.3))
def test_against_the_exact_bench(seed: int, free_in: float, tip_kg: float) -> None:
    state = state_of(seed)
    model = model_of(state)
    rows = readings(free_in, tip_kg)
    value, _ = Models.of(rows, np.full(len(rows), RAW)).evaluate(np.tile(state, (len(rows), 1)))
    exact = frequency_reading([model], free_in * IN, tip_kg)[0] / CPM_PER_HZ
    assert np.exp(value[0]) == pytest.approx(exact, rel=1e-6)
    exact = deflection_reading([model], free_in * IN, 20.0, 2.0 * IN)[0]
    assert np.exp(value[1]) == pytest.approx(exact, rel=2e-6)
    assert np.exp(value[2]) == pytest.approx(three_point_ei([model], 17.0 * IN, 12.0 * IN)[0], rel=2e-6)
    assert np.exp(value[3]) == pytest.approx(model.ei(17.3 * IN), rel=1e-12)
    place = np.linspace(1.0 * IN, 45.0 * IN, 20001)
    twist = np.trapezoid(1.0 / (0.45 * model.ei(place)), place)
    assert np.exp(value[4]) == pytest.approx(twist, rel=2e-6)


@settings(max_examples=10, deadline=None)
@given(seeds, st.floats(10.0, 45.0), st.floats(0.02, 0.3))
def test_derivatives_against_differences(seed: int, free_in: float, tip_kg: float) -> None:
    state = state_of(seed)
    rows = readings(free_in, tip_kg)
    models = Models.of(rows, np.full(len(rows), RAW))
    _, jacobian = models.evaluate(np.tile(state, (len(rows), 1)))
    step = 1e-5
    for k in range(SIZE):
        ahead, behind = state.copy(), state.copy()
        ahead[k] += step
        behind[k] -= step
        up, _ = models.evaluate(np.tile(ahead, (len(rows), 1)))
        down, _ = models.evaluate(np.tile(behind, (len(rows), 1)))
        assert jacobian[:, k] == pytest.approx((up - down) / (2.0 * step), abs=2e-5)


def test_frequency_of_a_uniform_cantilever() -> None:
    """βL = 1.875104069: Blevins, *Formulas for Natural Frequency and Mode Shape*, 1979, Table 8-1 [P+]."""
    state = np.zeros(SIZE)
    state[EI], state[MASS] = np.log(40.0), np.log(0.060)
    row = [Reading("f", Kind.FREQUENCY, 1.0, 0.01, high_m=RAW, load=0.0)]
    value, _ = Models.of(row, np.array([RAW])).evaluate(state[None, :])
    hertz = 1.875104069**2 / (2.0 * np.pi) * np.sqrt(40.0 / (0.060 / RAW * RAW**4))
    assert np.exp(value[0]) == pytest.approx(hertz, rel=1e-7)
