"""Slope of a set: weighted least squares against other implementations, its uncertainty against random draws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from specdb.mechanics import defaults
from specdb.mechanics.assembly import assemble
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.sets.numbers import name_of, place_of
from specdb.sets.slope import coefficients, line_through
from specdb.sets.spread import frequency_covariance
from tests.support.random_sets import NUMBERS, member, set_shafts

LENGTHS = st.lists(st.floats(33.0, 46.0), min_size=3, max_size=9, unique=True).filter(lambda v: max(v) - min(v) > 1.0)


@settings(deadline=None, max_examples=60)
@given(LENGTHS, st.integers(0, 2**31))
def test_line_equals_that_of_other_libraries(lengths: list[float], seed: int) -> None:
    # numpy.polyfit with weights 1/sd and unscaled covariance; scipy.optimize.curve_fit with absolute sigma
    rng = np.random.default_rng(seed)
    length = np.array(lengths)
    cpm = 300.0 + 8.0 * (38.0 - length) + rng.normal(0, 3.0, len(length))
    sd = rng.uniform(0.5, 4.0, len(length))
    found = line_through(length, cpm, np.diag(sd**2))
    assert found is not None
    x = -length / 0.5
    slope, _ = np.polyfit(x, cpm, 1, w=1.0 / sd)
    _, fitted_cov = curve_fit(lambda v, a, b: a * v + b, x, cpm, p0=(slope, 300.0), sigma=sd, absolute_sigma=True)
    assert found.slope == pytest.approx(slope, rel=1e-6, abs=1e-8)
    assert found.slope_sd == pytest.approx(np.sqrt(fitted_cov[0, 0]), rel=1e-4)


@settings(deadline=None, max_examples=40)
@given(LENGTHS, st.floats(-8.0, 12.0), st.integers(0, 2**31))
def test_a_straight_set_gives_its_own_slope(lengths: list[float], slope: float, seed: int) -> None:
    length = np.array(lengths)
    cpm = 310.0 - slope * length / 0.5
    variance = np.random.default_rng(seed).uniform(0.3, 9.0, len(length))
    found = line_through(length, cpm, np.diag(variance))
    assert found is not None
    assert found.slope == pytest.approx(slope, abs=1e-7)
    assert found.scatter == pytest.approx(0.0, abs=1e-6)


def test_clubs_of_one_length_have_no_slope() -> None:
    assert line_through(np.full(5, 37.0), np.arange(5.0), np.eye(5)) is None
    assert coefficients(np.array([38.0]), np.array([1.0])) is None


def test_what_is_common_to_all_clubs_says_nothing_about_the_slope() -> None:
    length = np.array([38.5, 38.0, 37.5, 37.0, 36.5])
    cpm = np.array([292.0, 296.0, 300.5, 304.0, 308.0])
    alone = line_through(length, cpm, np.eye(5))
    common = line_through(length, cpm, np.eye(5) + 25.0)
    assert alone is not None
    assert common is not None
    assert common.slope_sd == pytest.approx(alone.slope_sd, rel=1e-9)


def test_uncertainty_of_the_slope_against_random_draws() -> None:
    """Shafts drawn anew: reading errors are one draw for all clubs of a set, pieces differ from club to club."""
    shafts, readings = set_shafts(40, seed=5)
    row = next(r for r in shafts.to_pylist() if r["club_type"] == "iron")
    own = readings.to_pylist()
    members = [member(n, row, own, 0.5 * n) for n in range(len(NUMBERS))]
    clubs = [assemble(m.parts) for m in members]
    models, builds = [c.model for c in clubs], [c.build for c in clubs]
    trims = np.array([c.tip_trim_in for c in clubs]) * IN
    state = installed(models, trims, builds)
    covariance = frequency_covariance(models, trims, builds, state.sd_shaft[:, 0], [row["id"]] * len(clubs))
    lengths = np.array([m.parts.playing_length_in for m in members])
    found = line_through(lengths, state.frequency_cpm, covariance)
    assert found is not None
    rng = np.random.default_rng(11)
    model = models[0]
    shared = model.log_ei_cov - defaults.EI_PIECE_REL**2
    root = np.linalg.cholesky(shared + 1e-12 * np.eye(len(shared)))
    slopes = []
    for _ in range(300):
        common = root @ rng.normal(size=len(shared))
        pieces = defaults.EI_PIECE_REL * rng.normal(size=len(clubs))
        drawn = [replace(model, ei_n_m2=model.ei_n_m2 * np.exp(common + p)) for p in pieces]
        cpm = installed(drawn, trims, builds, with_sd=False).frequency_cpm
        slopes.append(float(found.coefficient @ cpm))
    # 300 draws tell a standard deviation to about 4 %
    assert np.std(slopes) == pytest.approx(found.slope_sd, rel=0.15)


def test_covariance_is_one() -> None:
    shafts, readings = set_shafts(40, seed=6)
    irons = [r for r in shafts.to_pylist() if r["club_type"] == "iron"]
    own = readings.to_pylist()
    members = [member(n, irons[n % 2], own, 0.25 * n) for n in range(6)]
    clubs = [assemble(m.parts) for m in members]
    trims = np.array([c.tip_trim_in for c in clubs]) * IN
    state = installed([c.model for c in clubs], trims, [c.build for c in clubs])
    names = [m.parts.shaft.id for m in members]
    got = frequency_covariance(
        [c.model for c in clubs], trims, [c.build for c in clubs], state.sd_total[:, 0], [*names[:5], None]
    )
    assert np.allclose(got, got.T)
    assert np.linalg.eigvalsh(got).min() > -1e-9
    assert np.allclose(np.diagonal(got), state.sd_total[:, 0] ** 2)
    assert got[0, 1] == 0.0  # two shafts
    assert got[0, 2] > 0.0  # two pieces of one shaft
    assert (got[5, :5] == 0.0).all()  # a measured piece is like no other


@pytest.mark.parametrize(
    ("text", "place"),
    [
        *[("3", 3), (" 7 ", 7), ("5 iron", 5), ("4h", 4), ("PW", 10), ("p", 10), ("GW", 11), ("AW", 11), ("SW", 12)],
        *[("LW", 13), ("56", None), ("0", None), ("wedge", None), ("", None), (None, None)],
    ],
)
def test_places_of_club_numbers(text: str | None, place: int | None) -> None:
    # common practice, no source: the pitching wedge follows the 9-iron, then gap, sand and lob wedge
    assert place_of(text) == place


def test_places_have_names() -> None:
    assert [name_of(p) for p in (3, 9, 10, 11)] == ["3", "9", "PW", "AW"]
