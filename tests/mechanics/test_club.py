"""Installed clubs: batch equals one by one, monotone as physics is, honest about what is missing, fast."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from specdb.errors import BuildError, MechanicsError
from specdb.mechanics.beam import fundamental_frequency, kick_point, static_deflection
from specdb.mechanics.build import Build
from specdb.mechanics.club import FEATURES, Installed, installed
from specdb.mechanics.constants import IN
from specdb.mechanics.profile import ShaftModel
from tests.support.shafts import D2_KG_M, driver_build, uniform_shaft, wood_shaft


def rising_shaft(tip: float, butt: float, power: float) -> ShaftModel:
    """A shaft whose stiffness rises everywhere from tip to butt."""
    place = np.linspace(0.0, 46.0, 24) * IN
    ei = tip + (butt - tip) * (place / (46.0 * IN)) ** power
    return replace(uniform_shaft(), station_m=place, ei_n_m2=ei, log_ei_cov=np.zeros((24, 24)))


def cpm(model: ShaftModel, build: Build, trim_in: float = 0.0) -> float:
    return float(installed([model], trim_in * IN, build, with_sd=False).frequency_cpm[0])


def test_one_club_as_a_beam_by_itself() -> None:
    # nothing of the shaft in the bore: the beam function knows only point masses there
    model, build, trim = wood_shaft(np.random.default_rng(12)), driver_build(insertion_m=0.0), 0.9 * IN
    club = installed([model], trim, build)
    mouth = trim + build.insertion_m
    free = build.cut_length_m - build.insertion_m - build.clamp_m
    place = model.station_m - mouth
    edge = np.concatenate([[0.0], place[(place > 0.0) & (place < free)], [free]])
    ei, (a, c) = model.ei(edge + mouth), model.mass_line
    alone = fundamental_frequency(
        edge, ei, a + c * (edge + mouth), tip_kg=build.mouth_kg, head_kg=build.head_kg, link_m=build.head_cg_m
    )
    assert club.frequency_cpm[0] == pytest.approx(60.0 * alone, rel=1e-11)
    assert club.tip_compliance_mm_per_n[0] == pytest.approx(1e3 * static_deflection(edge, ei, 1.0).tip_m, rel=1e-12)
    assert club.kick_point_pct[0] == pytest.approx(kick_point(edge, ei), abs=1e-9)


def test_zones_by_quadrature() -> None:
    model, build, trim = wood_shaft(np.random.default_rng(13), stations=9), driver_build(), 0.4 * IN
    club = installed([model], trim, build)
    low = trim + build.insertion_m
    third = (build.cut_length_m - build.insertion_m) / 3.0
    for k, found in enumerate((club.tip_ei_n_m2, club.mid_ei_n_m2, club.butt_ei_n_m2)):
        start, stop = low + k * third, low + (k + 1) * third
        inside = [float(s) for s in model.station_m if start < s < stop]
        flexibility, _ = quad(lambda s: 1.0 / float(model.ei(s)), start, stop, points=inside, epsrel=1e-12)
        assert found[0] == pytest.approx(third / flexibility, rel=1e-10)


def same(one: Installed, many: Installed, row: int) -> None:
    for field in fields(one):
        left, right = getattr(one, field.name), getattr(many, field.name)
        if field.name == "other_sd":
            for name in left:
                assert right[name][row] == pytest.approx(left[name][0], rel=1e-9, abs=1e-12), name
        else:
            assert right[row] == pytest.approx(left[0], rel=1e-9, abs=1e-9, nan_ok=True), field.name


def test_a_batch_is_as_one_by_one() -> None:
    rng = np.random.default_rng(14)
    models = [wood_shaft(rng, stations=n, with_torque=n != 7) for n in (1, 2, 7, 16, 30)]
    models.append(uniform_shaft())
    trims = rng.uniform(0.0, 1.5, 6) * IN
    builds = [
        driver_build(cut_length_m=float(rng.uniform(38.0, 44.0)) * IN, target_moment_kg_m=D2_KG_M) for _ in models
    ]
    together = installed(models, trims, builds)
    for i in range(6):
        same(installed([models[i]], trims[i], builds[i]), together, i)


def test_one_build_for_all_is_the_same_as_one_for_each() -> None:
    models = [wood_shaft(np.random.default_rng(s)) for s in range(3)]
    build = driver_build(target_moment_kg_m=D2_KG_M)
    one, many = installed(models, 0.0, build), installed(models, np.zeros(3), [build] * 3)
    assert (one.features == many.features).all()
    assert (one.sd_total == many.sd_total).all()


def test_no_clubs() -> None:
    empty = installed([], np.empty(0), driver_build())
    assert empty.features.shape == (0, len(FEATURES))
    assert empty.sd_total.shape == (0, len(FEATURES))
    assert empty.cov_shaft.shape == (0, len(FEATURES), len(FEATURES))


def test_unknown_torque_is_empty_and_spoils_nothing_else() -> None:
    known = wood_shaft(np.random.default_rng(15))
    club = installed([known, replace(known, twist_rad_per_nm=None)], 0.0, driver_build())
    column = FEATURES.index("torque_deg")
    assert np.isnan(club.torque_deg).tolist() == [False, True]
    others = np.delete(np.arange(len(FEATURES)), column)
    for table in (club.features, club.sd_shaft, club.sd_total):
        assert np.isnan(table[1, column])
        assert table[1, others] == pytest.approx(table[0, others], rel=1e-12)
    assert np.isfinite(club.cov_shaft[1][np.ix_(others, others)]).all()


def test_without_uncertainty_the_figures_are_the_same() -> None:
    model = wood_shaft(np.random.default_rng(16))
    plain, full = (installed([model], 0.0, driver_build(), with_sd=flag) for flag in (False, True))
    assert (plain.features == full.features).all()
    assert np.isnan(plain.sd_total).all()
    assert (full.sd_total[0] >= full.sd_shaft[0]).all()


def test_extrapolated_part_of_the_exposed_length() -> None:
    build = driver_build()
    low, high = build.insertion_m, build.cut_length_m
    exposed = high - low
    inner = replace(
        uniform_shaft(),
        station_m=np.array([low + 0.1 * exposed, high - 0.25 * exposed]),
        ei_n_m2=np.array([25.0, 60.0]),
        log_ei_cov=np.zeros((2, 2)),
    )
    outer = replace(inner, station_m=np.array([0.0, 46.0 * IN]))
    found = installed([inner, outer, uniform_shaft()], 0.0, build).extrapolated
    assert found == pytest.approx([0.35, 0.0, 1.0], abs=1e-12)


def test_a_shaft_that_is_too_short_is_refused_with_the_figure() -> None:
    build = driver_build(cut_length_m=44.5 * IN)
    with pytest.raises(BuildError, match=r"too short by 0\.500 in"):
        installed([uniform_shaft()], 2.0 * IN, build)
    exact = installed([uniform_shaft()], 1.5 * IN, build)
    assert exact.butt_trim_m[0] == pytest.approx(0.0, abs=1e-12)
    assert exact.exposed_length_m[0] == pytest.approx(43.25 * IN)


def test_builds_that_cannot_be_are_refused() -> None:
    with pytest.raises(BuildError, match="no free shaft is left"):
        driver_build(cut_length_m=6.0 * IN)
    with pytest.raises(BuildError, match="fulcrum"):
        driver_build(cut_length_m=12.0 * IN, target_moment_kg_m=0.1)
    with pytest.raises(MechanicsError, match="head_kg"):
        driver_build(head_kg=-0.1)
    with pytest.raises(MechanicsError, match="head_cg_m"):
        driver_build(head_cg_m=float("nan"))
    with pytest.raises(MechanicsError, match="trims"):
        installed([uniform_shaft()], -0.01, driver_build())
    with pytest.raises(MechanicsError, match="one for each"):
        installed([uniform_shaft()], np.zeros(2), driver_build())
    with pytest.raises(MechanicsError, match="2 builds"):
        installed([uniform_shaft()], 0.0, [driver_build()] * 2)


@settings(max_examples=60, deadline=None)
@given(
    tip=st.floats(12.0, 40.0),
    rise=st.floats(0.0, 70.0),
    power=st.floats(0.5, 2.5),
    trim=st.floats(0.0, 2.0),
    more=st.floats(0.01, 1.0),
)
def test_more_tip_trim_never_softens_a_shaft_that_stiffens_to_the_butt(
    tip: float, rise: float, power: float, trim: float, more: float
) -> None:
    model = rising_shaft(tip, tip + rise, power)
    # mass uniform, so that stiffness alone changes; equal length and head
    before = installed([model], trim * IN, driver_build(), with_sd=False)
    after = installed([model], (trim + more) * IN, driver_build(), with_sd=False)
    rounding = 1.0 + 1e-12
    assert after.frequency_cpm[0] * rounding >= before.frequency_cpm[0]
    assert after.tip_compliance_mm_per_n[0] <= before.tip_compliance_mm_per_n[0] * rounding
    for zone in ("tip_ei_n_m2", "mid_ei_n_m2", "butt_ei_n_m2"):
        assert getattr(after, zone)[0] * rounding >= getattr(before, zone)[0]
    assert after.torque_deg[0] <= before.torque_deg[0] * rounding


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), length=st.floats(30.0, 42.5), shorter=st.floats(0.01, 5.0))
def test_shorter_is_stiffer(seed: int, length: float, shorter: float) -> None:
    model = wood_shaft(np.random.default_rng(seed))
    long = cpm(model, driver_build(cut_length_m=length * IN))
    short = cpm(model, driver_build(cut_length_m=(length - shorter) * IN))
    assert short > long


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), head=st.floats(0.0, 0.4), more=st.floats(1e-5, 0.1), part=st.integers(0, 2))
def test_heavier_is_slower(seed: int, head: float, more: float, part: int) -> None:
    model = wood_shaft(np.random.default_rng(seed))
    light = driver_build(head_kg=head)
    heavy = [
        replace(light, head_kg=head + more),
        replace(light, mouth_kg=light.mouth_kg + more),
        replace(light, head_kg=0.2 + head, head_cg_m=light.head_cg_m + more),
    ][part]
    reference = light if part < 2 else replace(light, head_kg=0.2 + head)
    assert cpm(model, heavy) < cpm(model, reference)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), station=st.integers(0, 15), factor=st.floats(1.001, 2.0))
def test_stiffer_anywhere_is_never_slower(seed: int, station: int, factor: float) -> None:
    model = wood_shaft(np.random.default_rng(seed))
    ei = model.ei_n_m2.copy()
    ei[station] *= factor
    stiffer = replace(model, ei_n_m2=ei)
    assert cpm(stiffer, driver_build()) * (1.0 + 1e-12) >= cpm(model, driver_build())


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), place=st.floats(3.0, 40.0))
def test_a_station_on_the_line_changes_nothing(seed: int, place: float) -> None:
    model = wood_shaft(np.random.default_rng(seed), stations=6)
    at = int(np.searchsorted(model.station_m, place * IN))
    assume(at not in (0, 6) and np.abs(model.station_m - place * IN).min() > 1e-9)
    more = replace(
        model,
        station_m=np.insert(model.station_m, at, place * IN),
        ei_n_m2=np.insert(model.ei_n_m2, at, model.ei(place * IN)),
        log_ei_cov=np.zeros((7, 7)),
    )
    plain, finer = (installed([m], 0.3 * IN, driver_build(), with_sd=False).features for m in (model, more))
    assert finer == pytest.approx(plain, rel=1e-10)


def test_steep_shafts_keep_their_digits() -> None:
    # stiffness by a factor of 40 between two stations: more stations on the same line must not change the answer
    steep = replace(
        uniform_shaft(),
        station_m=np.array([0.0, 46.0 * IN]),
        ei_n_m2=np.array([3.0, 120.0]),
        log_ei_cov=np.zeros((2, 2)),
    )
    place = np.linspace(0.0, 46.0 * IN, 200)
    fine = replace(steep, station_m=place, ei_n_m2=steep.ei(place), log_ei_cov=np.zeros((200, 200)))
    club = installed([steep, fine], 0.0, driver_build())
    assert club.features[0] == pytest.approx(club.features[1], rel=1e-10)


def test_stations_a_hundredth_of_a_millimetre_apart_do_no_harm() -> None:
    model = wood_shaft(np.random.default_rng(21), stations=6)
    place = np.sort(np.append(model.station_m, model.station_m[2] + 1e-5))
    close = replace(model, station_m=place, ei_n_m2=model.ei(place), log_ei_cov=np.zeros((7, 7)))
    club = installed([model, close], 0.0, driver_build(), with_sd=False)
    assert club.features[0] == pytest.approx(club.features[1], rel=1e-11)
