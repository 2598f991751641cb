"""Torsion, swing moments and units against figures from outside the project.

Marks: [P] published, seen in a stored copy; [R] recomputed by two methods; [CP] common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from specdb.mechanics import swingweight
from specdb.mechanics.club import installed
from specdb.mechanics.constants import (
    FT_LB,
    FULCRUM_IN,
    IN,
    IN_OZ,
    KGF_MM2,
    LB,
    LBF,
    LBF_IN2,
    OZ,
    SWINGWEIGHT_D0_IN_OZ,
    SWINGWEIGHT_POINT_IN_OZ,
)
from specdb.mechanics.sections import tube_ei
from specdb.mechanics.torsion import mean_gj, torque_to_twist
from tests.support.shafts import driver_build, uniform_shaft


# NIST SP 811, appendix B (from memory), and the two traps between imperial, gravitational metric and SI stiffness [R]
@pytest.mark.parametrize(
    ("factor", "published"),
    [
        pytest.param(FT_LB, 1.3558179483, id="ft lb"),
        pytest.param(LBF, 4.4482216152605, id="lbf"),
        pytest.param(LB, 0.45359237, id="lb"),
        pytest.param(16.0 * OZ, 0.45359237, id="16 oz"),
        pytest.param(1e6 * KGF_MM2, 9.80665, id="1e6 kgf mm2"),
        pytest.param(LBF_IN2, 0.0028698146573, id="lbf in2"),
    ],
)
def test_unit_factors(factor: float, published: float) -> None:
    assert factor == pytest.approx(published, rel=5e-11)


# [R] mean GJ over 40 in for a twist of so many degrees per ft lb, N m^2
@pytest.mark.parametrize(("degrees", "gj"), [(2, 39.5), (3, 26.3), (4, 19.7), (5, 15.8), (7, 11.3)])
def test_mean_torsional_stiffness(degrees: float, gj: float) -> None:
    assert mean_gj(degrees, 40.0) == pytest.approx(gj, abs=0.051)


def test_installed_torque_is_the_rating_over_its_gauge_span() -> None:
    # [P] US patent 5,971,865: butt clamped, 1 ft lb at the tip, degrees. A club whose free span is the gauge span of
    # the rating has the rated torque, and on a uniform shaft torque goes with the free length
    build = replace(driver_build(), insertion_m=1.0 * IN, clamp_m=5.0 * IN, cut_length_m=43.0 * IN)
    rating = torque_to_twist(4.0)
    shaft = replace(uniform_shaft(), twist_rad_per_nm=rating, twist_from_m=1.0 * IN, twist_to_m=38.0 * IN)
    assert installed([shaft], 0.0, build).torque_deg[0] == pytest.approx(4.0, rel=1e-12)
    longer = replace(shaft, twist_to_m=41.0 * IN)
    assert installed([longer], 0.0, build).torque_deg[0] == pytest.approx(4.0 * 37.0 / 40.0, rel=1e-12)


def test_installed_torque_of_a_varying_shaft_in_closed_form() -> None:
    # exact: EI = e0 + e1 s, GJ = k EI: the twist of a span goes with ln of the ratio of EI at its ends (integral of
    # 1/(e0 + e1 s))
    place = np.array([0.0, 46.0 * IN])
    shaft = replace(uniform_shaft(), station_m=place, ei_n_m2=np.array([20.0, 66.0]), log_ei_cov=np.zeros((2, 2)))
    build = replace(driver_build(), insertion_m=1.0 * IN, clamp_m=5.0 * IN, cut_length_m=43.0 * IN)

    def logarithm(low_in: float, high_in: float) -> float:
        return float(np.log((20.0 + high_in) / (20.0 + low_in)))

    expected = 3.5 * logarithm(3.0, 40.0) / logarithm(1.0, 45.0)
    assert installed([shaft], 2.0 * IN, build).torque_deg[0] == pytest.approx(expected, rel=1e-12)


def test_swingweight_scale() -> None:
    # [CP] D0 = 213.5 in oz about a fulcrum 14 in from the butt end, 1.75 in oz a point, ten points a letter
    assert (FULCRUM_IN, SWINGWEIGHT_D0_IN_OZ, SWINGWEIGHT_POINT_IN_OZ) == (14.0, 213.5, 1.75)
    assert swingweight.to_moment_in_oz("D0") == 213.5
    assert swingweight.to_moment_in_oz("C9") == 211.75
    assert swingweight.to_moment_in_oz("E0") == 231.0


def test_swingweight_worked_example() -> None:
    # [R] a club of 349.8 g that balances 824 mm from the butt end: 227.54 in oz, D8.0
    moment = 0.3498 * (0.824 - 14.0 * IN) / IN_OZ
    assert moment == pytest.approx(227.54, abs=0.005)
    assert swingweight.from_moment_in_oz(moment) == "D8.0"


def test_thin_steel_tube() -> None:
    # [R] 12.0 x 0.6 mm, E = 206 GPa: EI = 72.1098 N m^2
    assert tube_ei(0.012, 0.0006, 206e9) == pytest.approx(72.1098, abs=5e-5)
