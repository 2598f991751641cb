"""Analytic derivatives and linearised uncertainty against finite differences and Monte Carlo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from specdb.mechanics.build import Build, BuildBatch
from specdb.mechanics.club import FEATURES, OUTPUTS, installed
from specdb.mechanics.constants import IN
from specdb.mechanics.profile import ShaftBatch, ShaftModel
from specdb.mechanics.sensitivity import INPUTS, Jacobian, jacobian
from specdb.mechanics.solution import solve
from tests.support.shafts import D2_KG_M, driver_build, wood_shaft

FloatArray = npt.NDArray[np.float64]

TRIM = 0.7 * IN
BUILDS = {
    "nothing restored": driver_build(),
    "restored": driver_build(target_moment_kg_m=D2_KG_M + 0.004),
    "stopped by the limit": driver_build(target_moment_kg_m=D2_KG_M + 0.004, max_add_kg=0.001),
    "over the target": driver_build(target_moment_kg_m=D2_KG_M - 0.012),
}


def outputs(model: ShaftModel, build: Build) -> FloatArray:
    club = installed([model], TRIM, build, with_sd=False)
    other = [
        club.tip_compliance_mm_per_n,
        club.head_add_g,
        club.head_excess_g,
        club.swing_moment_in_oz,
    ]
    return np.concatenate([club.features[0], [column[0] for column in other]])


def derivatives(model: ShaftModel, build: Build) -> Jacobian:
    solution = solve(ShaftBatch.of([model]), np.array([TRIM]), BuildBatch.of(build, 1))
    return jacobian(solution, outputs(model, build)[None, :])


def centred(at: Callable[[float], FloatArray], step: float) -> FloatArray:
    """Central difference of fourth order."""
    return (8.0 * (at(step) - at(-step)) - (at(2.0 * step) - at(-2.0 * step))) / (12.0 * step)


def with_shaft_input(model: ShaftModel, name: str, by: float) -> ShaftModel:
    if name == "mass":
        return replace(model, mass_kg=model.mass_kg + by)
    if name == "balance":
        assert model.balance_from_tip_m is not None
        return replace(model, balance_from_tip_m=model.balance_from_tip_m + by)
    assert model.twist_rad_per_nm is not None
    return replace(model, twist_rad_per_nm=model.twist_rad_per_nm + by)


FIELD = {
    "head": "head_kg",
    "mouth": "mouth_kg",
    "grip": "grip_kg",
    "length": "cut_length_m",
    "head_cg": "head_cg_m",
    "grip_balance": "grip_balance_m",
}


@pytest.mark.parametrize("name", BUILDS)
def test_derivatives_by_stiffness(name: str) -> None:
    build, model = BUILDS[name], wood_shaft(np.random.default_rng(5), stations=11)
    found = derivatives(model, build).log_ei[0]
    for j in range(11):

        def at(by: float, j: int = j) -> FloatArray:
            ei = model.ei_n_m2.copy()
            ei[j] *= np.exp(by)
            return outputs(replace(model, ei_n_m2=ei), build)

        scale = np.maximum(np.abs(outputs(model, build)), 1e-3)
        assert found[:, j] / scale == pytest.approx(centred(at, 2e-3) / scale, abs=2e-9)


@pytest.mark.parametrize("name", BUILDS)
@pytest.mark.parametrize("parameter", INPUTS)
def test_derivatives_by_masses_and_lengths(name: str, parameter: str) -> None:
    build, model = BUILDS[name], wood_shaft(np.random.default_rng(6))
    found = derivatives(model, build).inputs[0, :, INPUTS.index(parameter)]
    if parameter in FIELD:
        field = FIELD[parameter]
        value = getattr(build, field)

        def at(by: float) -> FloatArray:
            return outputs(model, replace(build, **{field: value + by}))
    else:

        def at(by: float) -> FloatArray:
            return outputs(with_shaft_input(model, parameter, by), build)

    step = {"twist": 1e-4, "balance": 1e-3}.get(parameter, 2e-5)
    expected = centred(at, step)
    scale = np.abs(expected).max()
    assert scale > 0.0, "an input that changes nothing would not be one"
    for row, output in enumerate(OUTPUTS):
        assert found[row] == pytest.approx(expected[row], rel=2e-6, abs=1e-9 * scale), output


def test_kick_point_derivative_holds_next_to_a_station() -> None:
    # the kick point inside a segment, and the sensitivities split where it lies
    build = driver_build()
    for seed in range(6):
        model = wood_shaft(np.random.default_rng(seed), stations=40, ripple=0.02)
        found = derivatives(model, build).log_ei[0, OUTPUTS.index("kick_point_pct")]
        # all of the shaft stiffer by one factor leaves the kick point where it is
        assert found.sum() == pytest.approx(0.0, abs=1e-9)
        assert np.abs(found).max() > 0.05


def test_scaling_all_stiffness() -> None:
    # exact: frequency goes with the root of the stiffness, zones with it, torque and kick point not at all
    found = derivatives(wood_shaft(np.random.default_rng(2)), driver_build()).log_ei[0].sum(axis=1)
    value = outputs(wood_shaft(np.random.default_rng(2)), driver_build())
    expected = dict.fromkeys(OUTPUTS, 0.0)
    expected |= {"frequency_cpm": 0.5, "tip_ei": 1.0, "mid_ei": 1.0, "butt_ei": 1.0}
    expected["tip_compliance_mm_per_n"] = -1.0
    for i, name in enumerate(OUTPUTS):
        assert found[i] == pytest.approx(expected[name] * value[i], rel=1e-9, abs=1e-9), name


def sample(model: ShaftModel, build: Build, count: int, *, all_inputs: bool) -> FloatArray:
    """Features of shafts and builds drawn from their uncertainty."""
    rng = np.random.default_rng(11)
    log_ei = rng.multivariate_normal(np.zeros(model.station_m.size), model.log_ei_cov, count)
    assert model.balance_from_tip_m is not None
    assert model.twist_rad_per_nm is not None
    normal = rng.standard_normal((count, 9))
    models, builds = [], []
    for i in range(count):
        z = normal[i]
        models.append(
            replace(
                model,
                ei_n_m2=model.ei_n_m2 * np.exp(log_ei[i]),
                mass_kg=model.mass_kg + model.mass_sd_kg * z[0],
                balance_from_tip_m=model.balance_from_tip_m + model.balance_sd_m * z[1],
                twist_rad_per_nm=model.twist_rad_per_nm + model.twist_sd * z[2],
            )
        )
        builds.append(
            replace(
                build,
                head_kg=build.head_kg + build.head_kg_sd * z[3],
                mouth_kg=build.mouth_kg + build.mouth_kg_sd * z[4],
                grip_kg=build.grip_kg + build.grip_kg_sd * z[5],
                cut_length_m=build.cut_length_m + build.cut_length_sd_m * z[6],
                head_cg_m=build.head_cg_m + build.head_cg_sd_m * z[7],
                grip_balance_m=build.grip_balance_m + build.grip_balance_sd_m * z[8],
            )
        )
    chosen = builds if all_inputs else build
    return installed(models, TRIM, chosen, with_sd=False).features


@pytest.mark.parametrize("name", ["nothing restored", "restored"])
@pytest.mark.parametrize("all_inputs", [False, True], ids=["shaft", "shaft and build"])
def test_standard_deviations_against_monte_carlo(name: str, all_inputs: bool) -> None:
    model = wood_shaft(np.random.default_rng(8))
    build = BUILDS[name]
    club = installed([model], TRIM, build)
    drawn = sample(model, build, 1500, all_inputs=all_inputs)
    expected = (club.sd_total if all_inputs else club.sd_shaft)[0]
    # 1500 draws leave 1.8 % of sampling noise on a standard deviation
    assert drawn.std(axis=0, ddof=1) == pytest.approx(expected, rel=0.10)
    if not all_inputs:
        sd = club.sd_shaft[0]
        correlation = club.cov_shaft[0] / np.outer(sd, sd)
        assert np.corrcoef(drawn.T) == pytest.approx(correlation, abs=0.10)


def test_restoring_couples_masses_to_frequency() -> None:
    # a heavier shaft takes less weight at the head, so its frequency falls less: the coupling must be in the figure
    model = replace(wood_shaft(np.random.default_rng(8)), mass_sd_kg=0.004)
    column = FEATURES.index("total_weight_g")
    free = installed([model], TRIM, BUILDS["nothing restored"]).sd_shaft[0, column]
    tied = installed([model], TRIM, BUILDS["restored"]).sd_shaft[0, column]
    assert tied < 0.9 * free
