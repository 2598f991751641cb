"""Readings of the bench on raw shafts, and the bond."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from specdb.errors import MechanicsError
from specdb.mechanics.beam import fundamental_frequency
from specdb.mechanics.bench import deflection_reading, frequency_reading, three_point_ei
from specdb.mechanics.bond import STRENGTH_FACTOR, bond
from specdb.mechanics.constants import IN, G
from specdb.mechanics.profile import ShaftModel
from tests.support.shafts import uniform_shaft, wood_shaft


def gold_shaft() -> ShaftModel:
    """The varying gold beam as a raw shaft that ends at its clamp."""
    length, mass = 0.95, (0.045 + 0.075) / 2.0 * 0.95
    first = 0.045 * length**2 / 2.0 + 0.030 * length**2 / 3.0
    return replace(
        uniform_shaft(),
        raw_length_m=length,
        station_m=np.array([0.0, length]),
        ei_n_m2=np.array([20.0, 70.0]),
        log_ei_cov=np.zeros((2, 2)),
        mass_kg=mass,
        balance_from_tip_m=first / mass,
        twist_rad_per_nm=None,
    )


def test_gold_values_read_on_the_bench() -> None:
    # [R] 289.990253 cpm with 0.200 kg at the tip, 0.0505221983803 m under 9.80665 N: series solution at 25 digits,
    # Rayleigh-Ritz, a boundary-value solver and two finite-element libraries
    assert frequency_reading([gold_shaft()], 0.95, 0.2)[0] == pytest.approx(60.0 * 4.8331708826, rel=2e-11)
    assert deflection_reading([gold_shaft()], 0.95, G)[0] == pytest.approx(0.0505221983803, rel=2e-12)


def test_a_uniform_shaft_reads_its_own_stiffness() -> None:
    # EI = P L^3/(48 delta) is exact for a uniform beam: Timoshenko & Gere, Mechanics of Materials
    shaft = uniform_shaft(ei=37.5)
    assert three_point_ei([shaft] * 3, np.array([8.0, 20.0, 38.0]) * IN, 12.0 * IN) == pytest.approx(37.5, rel=1e-12)


def test_a_varying_shaft_reads_an_average_over_the_span() -> None:
    shaft = wood_shaft(np.random.default_rng(2), ripple=0.15)
    middle, span = 20.0 * IN, 12.0 * IN

    def strain(x: float) -> float:
        arm = 0.5 * (0.5 * span - abs(x - middle))
        return arm**2 / float(shaft.ei(x))

    inside = [float(s) for s in shaft.station_m if abs(s - middle) < 0.5 * span]
    compliance, _ = quad(strain, middle - 0.5 * span, middle + 0.5 * span, points=[middle, *inside], epsrel=1e-12)
    reading = three_point_ei([shaft], middle, span)[0]
    assert reading == pytest.approx(span**3 / (48.0 * compliance), rel=1e-10)
    assert reading != pytest.approx(float(shaft.ei(middle)), rel=1e-3)
    # a short span comes near the value at the station
    assert three_point_ei([shaft], middle, 0.1 * IN)[0] == pytest.approx(float(shaft.ei(middle)), rel=1e-3)


def test_readings_of_many_shafts_at_once() -> None:
    rng = np.random.default_rng(9)
    shafts = [wood_shaft(rng, stations=n) for n in (3, 12, 20)]
    free, tip = np.array([38.0, 39.0, 40.0]) * IN, np.array([0.0, 0.1, 0.2])
    together = frequency_reading(shafts, free, tip)
    for i, shaft in enumerate(shafts):
        inside = shaft.station_m[shaft.station_m < free[i]]
        edge = np.concatenate([[0.0], inside, [free[i]]])
        a, c = shaft.mass_line
        alone = fundamental_frequency(edge, shaft.ei(edge), a + c * edge, tip_kg=float(tip[i]))
        assert together[i] == pytest.approx(60.0 * alone, rel=1e-10)


def test_a_load_inside_the_span_deflects_as_its_own_cantilever() -> None:
    shaft = uniform_shaft(ei=30.0)
    found = deflection_reading([shaft], 40.0 * IN, 20.0, 4.0 * IN)[0]
    assert found == pytest.approx(20.0 * (36.0 * IN) ** 3 / 90.0, rel=1e-12)


def test_impossible_benches_are_refused() -> None:
    shaft = uniform_shaft()
    with pytest.raises(MechanicsError, match="free length"):
        frequency_reading([shaft], 50.0 * IN, 0.2)
    with pytest.raises(MechanicsError, match="tip mass"):
        frequency_reading([shaft], 40.0 * IN, -0.2)
    with pytest.raises(MechanicsError, match="load"):
        deflection_reading([shaft], 40.0 * IN, 10.0, 41.0 * IN)
    with pytest.raises(MechanicsError, match="support"):
        three_point_ei([shaft], 3.0 * IN, 12.0 * IN)
    with pytest.raises(MechanicsError, match="one for all"):
        frequency_reading([shaft], np.array([1.0, 1.0]), 0.2)
    with pytest.raises(MechanicsError, match="finite"):
        frequency_reading([shaft], float("nan"), 0.2)


def test_bond_of_a_driver() -> None:
    # worked by hand: pi * 8.5 mm * 32 mm = 854.5 mm2, 20 MPa lap shear; 0.205 kg at 50 m/s on 1 m pulls 512.5 N
    found = bond(0.0085, 0.032, 20e6, 0.205, speed_m_s=50.0, radius_m=1.0)
    assert found.area_m2 == pytest.approx(854.5e-6, rel=1e-4)
    assert found.capacity_n == pytest.approx(854.5 * 20.0 * STRENGTH_FACTOR, rel=1e-4)
    assert found.demand_n == pytest.approx(512.5, rel=1e-12)
    assert found.margin == pytest.approx(found.capacity_n / 512.5)


@pytest.mark.parametrize("field", ["diameter_m", "length_m", "shear_pa", "head_kg", "speed_m_s", "radius_m", "factor"])
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan])
def test_impossible_bonds_are_refused(field: str, value: float) -> None:
    good = {"diameter_m": 0.0085, "length_m": 0.03, "shear_pa": 2e7, "head_kg": 0.2}
    with pytest.raises(MechanicsError, match="positive"):
        bond(**{**good, field: value})


def test_more_than_the_whole_strength_is_refused() -> None:
    with pytest.raises(MechanicsError, match="over 1"):
        bond(0.0085, 0.03, 2e7, 0.2, factor=1.2)
