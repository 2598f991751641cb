"""Rules of thumb of the trade as bands on plausible clubs.

All [CP], common practice without a source, unless marked; a rule without a range is held to 35 % of its figure. Shafts
are invented: stiffness rising by a power of the distance from the tip, in the range 15-30 N m^2 at the tip and 50-90 at
the butt for woods, 25-40 and 60-100 for irons (from memory, consistent with US patents 6,652,389 and 8,414,417).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from specdb.mechanics.build import Build
from specdb.mechanics.club import Installed, installed
from specdb.mechanics.constants import FT_LB, IN, SWINGWEIGHT_POINT_IN_OZ
from specdb.mechanics.profile import ShaftModel

WOOD = [(20.0, 75.0, 1.2), (20.0, 80.0, 1.5), (22.0, 82.0, 1.4), (24.0, 88.0, 1.5)]
IRON = [(26.0, 85.0, 1.2), (28.0, 90.0, 1.5), (30.0, 92.0, 1.4)]


def shaft(tip: float, butt: float, power: float, *, raw_in: float, mass_kg: float) -> ShaftModel:
    place = np.linspace(1.0, raw_in - 1.0, 15) * IN
    ei = tip + (butt - tip) * (place / (raw_in * IN)) ** power
    return ShaftModel(
        raw_length_m=raw_in * IN,
        station_m=place,
        ei_n_m2=ei,
        log_ei_cov=np.zeros((15, 15)),
        mass_kg=mass_kg,
        mass_sd_kg=0.0,
        balance_from_tip_m=0.52 * raw_in * IN,
        balance_sd_m=0.0,
        twist_rad_per_nm=float(np.radians(3.5) / FT_LB),
        twist_sd=0.0,
        twist_from_m=1.0 * IN,
        twist_to_m=(raw_in - 1.0) * IN,
    )


def club(length_in: float, head_kg: float, cg_in: float, ground_in: float = 1.25) -> Build:
    return Build(
        cut_length_m=(length_in - ground_in - 0.1) * IN,
        insertion_m=1.25 * IN,
        clamp_m=5.0 * IN,
        head_kg=head_kg,
        head_cg_m=cg_in * IN,
        mouth_kg=0.002,
        grip_kg=0.050,
        grip_balance_m=4.2 * IN,
        grip_cap_m=0.1 * IN,
    )


DRIVER = club(45.0, 0.200, 1.5)
SIX_IRON = club(37.5, 0.265, 2.0, 1.0)


def each(shapes: list[tuple[float, float, float]], build: Build, trim_in: float = 0.0) -> Installed:
    wood = build.head_cg_m < 1.9 * IN
    raw, mass = (46.5, 0.065) if wood else (41.0, 0.115)
    return installed([shaft(*s, raw_in=raw, mass_kg=mass) for s in shapes], trim_in * IN, build)


def points(state: Installed) -> npt.NDArray[np.float64]:
    return np.asarray(state.swing_moment_in_oz / SWINGWEIGHT_POINT_IN_OZ)


@pytest.mark.parametrize(("shapes", "build", "low", "high"), [(WOOD, DRIVER, 230, 280), (IRON, SIX_IRON, 270, 340)])
def test_frequencies_of_plausible_clubs(
    shapes: list[tuple[float, float, float]], build: Build, low: float, high: float
) -> None:
    cpm = each(shapes, build).frequency_cpm
    assert (cpm > low).all()
    assert (cpm < high).all()


@pytest.mark.parametrize(("shapes", "build"), [(WOOD, DRIVER), (IRON, SIX_IRON)])
def test_an_inch_of_tip_trim_at_equal_length(shapes: list[tuple[float, float, float]], build: Build) -> None:
    # +3 to +7 cpm; gentle profiles (butt about three times the tip, straight) lie a little below, at 2.4 to 3
    gain = each(shapes, build, 1.0).frequency_cpm - each(shapes, build).frequency_cpm
    assert (gain >= 3.0).all()
    assert (gain <= 7.0).all()


@pytest.mark.parametrize(("shapes", "build"), [(WOOD, DRIVER), (IRON, SIX_IRON)])
def test_four_grams_at_the_head(shapes: list[tuple[float, float, float]], build: Build) -> None:
    # -2 to -3 cpm
    heavier = replace(build, head_kg=build.head_kg + 0.004)
    loss = each(shapes, heavier).frequency_cpm - each(shapes, build).frequency_cpm
    assert (loss <= -2.0).all()
    assert (loss >= -3.0).all()


@pytest.mark.parametrize(("length_in", "expected"), [(45.0, 1.25), (38.0, 0.97), (35.5, 0.87)])
def test_two_grams_at_the_head_by_arithmetic(length_in: float, expected: float) -> None:
    # [R] moment arithmetic with the head at the club's length: 1.25 points on a 45 in driver, 0.97 on a 38 in iron,
    # 0.87 on a 35.5 in wedge
    build = club(length_in, 0.250, 0.0)
    at_end = replace(build, head_cg_m=length_in * IN - (build.grip_cap_m + build.cut_length_m - build.insertion_m))
    heavier = replace(at_end, head_kg=0.252)
    raw = shaft(20.0, 70.0, 1.0, raw_in=46.5, mass_kg=0.065)
    gain = points(installed([raw], 0.0, heavier)) - points(installed([raw], 0.0, at_end))
    assert gain[0] == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("shapes", "build"), [(WOOD, DRIVER), (IRON, SIX_IRON)])
def test_two_grams_at_the_head_are_a_point(shapes: list[tuple[float, float, float]], build: Build) -> None:
    # about 1 point, within 35 %
    heavier = replace(build, head_kg=build.head_kg + 0.002)
    assert points(each(shapes, heavier)) - points(each(shapes, build)) == pytest.approx(1.0, rel=0.35)


@pytest.mark.parametrize(("shapes", "build"), [(WOOD, DRIVER), (IRON, SIX_IRON)])
def test_half_an_inch_of_length(shapes: list[tuple[float, float, float]], build: Build) -> None:
    # 0.5 in of length is about 3 points (2.4 to 3.3)
    longer = replace(build, cut_length_m=build.cut_length_m + 0.5 * IN)
    gain = points(each(shapes, longer)) - points(each(shapes, build))
    assert (gain >= 2.4).all()
    assert (gain <= 3.3).all()


def test_five_grams_of_grip() -> None:
    # about -1 point, within 35 %
    heavier = replace(DRIVER, grip_kg=0.055)
    assert points(each(WOOD, heavier)) - points(each(WOOD, DRIVER)) == pytest.approx(-1.0, rel=0.35)


def test_frequency_slope_of_a_set() -> None:
    # about 4 cpm a half inch in a set whose heads get heavier (7 g a club) and whose tips are trimmed half an inch more
    # [P] half an inch more tip trim a club: a published chart for parallel iron shafts, raw 41 in
    raw = shaft(27.0, 86.0, 1.3, raw_in=41.0, mass_kg=0.115)
    step = np.arange(6)
    builds = [club(38.5 - 0.5 * i, 0.251 + 0.007 * i, 2.0, 1.0) for i in step]
    cpm = installed([raw] * 6, 0.5 * step * IN, builds).frequency_cpm
    assert np.diff(cpm) == pytest.approx(4.0, rel=0.35)
