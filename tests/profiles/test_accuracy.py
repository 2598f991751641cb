"""How near estimates come to simulated truth, whether their bands hold, and how fast they are.

The bounds are what the estimator was asked to reach, not published values. Truth comes from ``truth``, which shares
neither parametrisation nor beam discretisation with the estimator. But the estimator's built-in figures were tuned
while looking at shafts of these very generators, other seeds included: what holds here is no independent validation
on real shafts.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from specdb.mechanics.build import Build
from specdb.mechanics.club import installed
from specdb.profiles.estimate import estimate_many
from specdb.profiles.population import Population, builtin
from specdb.profiles.readings import Models, observed
from specdb.profiles.solver import Task, solve
from specdb.profiles.state import EI, SIZE
from tests.profiles.figures import Figures, cases_of, club, measure, taught_by
from tests.profiles.truth import FREE_LENGTHS_IN, bendings, catalogue_woods, frequencies, true_shafts

SHAFTS = 150
PERCENT = 0.01


@pytest.fixture(scope="module")
def own() -> Population:
    """Learned from other shafts of the makers that are tested."""
    return taught_by(("plies", "steps"), 150, 101)


@pytest.fixture(scope="module")
def foreign() -> Population:
    """Learned from other makers, who lay up and draw their shafts otherwise."""
    return taught_by(("smooth", "coarse steps"), 150, 201)


@pytest.mark.parametrize("kind", ["plies", "steps"])
def test_seven_free_lengths(own: Population, kind: str) -> None:
    truths = true_shafts(SHAFTS, 11, kind)
    found = measure(truths, frequencies(truths, np.random.default_rng(1), 0.005), own)
    assert (found.rms <= np.array([5.0, 3.0, 5.0]) * PERCENT).all(), found.rms


@pytest.mark.parametrize("kind", ["plies", "steps"])
def test_one_butt_frequency_torque_and_weight(own: Population, kind: str) -> None:
    truths = true_shafts(SHAFTS, 12, kind)
    one = frequencies(truths, np.random.default_rng(2), 0.005, FREE_LENGTHS_IN[-1:])
    found = measure(truths, one, own)
    assert (found.rms <= np.array([14.0, 8.0, 9.0]) * PERCENT).all(), found.rms
    assert found.frequency_rms <= 1.5 * PERCENT


@pytest.mark.parametrize("kind", ["plies", "steps"])
def test_eight_bending_stations(own: Population, kind: str) -> None:
    truths = true_shafts(SHAFTS, 13, kind)
    found = measure(truths, bendings(truths, np.random.default_rng(3), 0.02, 8), own)
    assert (found.rms <= np.array([5.0, 3.0, 4.0]) * PERCENT).all(), found.rms


def test_partial_knowledge_is_better_than_the_leaflet_alone(foreign: Population) -> None:
    truths = true_shafts(60, 14)
    rng = np.random.default_rng(4)
    leaflet = measure(truths, [[] for _ in truths], foreign)
    one = measure(truths, frequencies(truths, rng, 0.005, FREE_LENGTHS_IN[-1:]), foreign)
    seven = measure(truths, frequencies(truths, rng, 0.005), foreign)
    assert one.frequency_rms < 0.5 * leaflet.frequency_rms
    assert (seven.rms < leaflet.rms).all()


def mixed(population: Population, seed: int) -> Figures:
    """500 shafts of three makers in four states of knowledge: leaflet, one frequency, seven, bending."""
    parts = []
    makers = (true_shafts(167, seed, "plies"), true_shafts(167, seed, "steps"), catalogue_woods(166, seed))
    for truths in makers:
        rng = np.random.default_rng(seed)
        seven, bent = frequencies(truths, rng, 0.005), bendings(truths, rng, 0.02)
        known = [([], seven[i][-1:], seven[i], bent[i])[i % 4] for i in range(len(truths))]
        parts.append(measure(truths, known, population))
    return Figures(
        *(np.concatenate([getattr(p, name) for p in parts]) for name in ("ei_error", "ei_off")),
        *(np.concatenate([getattr(p, name) for p in parts]) for name in ("frequency_error", "frequency_off")),
    )


@pytest.mark.slow
def test_bands_hold_for_a_population_never_seen(foreign: Population) -> None:
    """One maker of each material is known here, and those tested are others: the bands must not be too narrow.

    They are too wide rather: over seeds 15 and 1015 the tip holds 0.974 to 0.978, the middle 0.966 to 0.971, the butt
    0.986, frequency 0.946 to 0.962 where 0.90 would be right. From one maker nobody can tell how unlike makers are, and
    shafts of other generators (``test_reliability``) differ from them by more than these do.
    """
    found = mixed(foreign, 15)
    assert (found.held >= 0.85).all(), found.held
    assert (found.held <= 0.99).all(), found.held
    assert 0.85 <= found.frequency_held <= 0.98


def test_bands_of_nothing_learned_are_honest() -> None:
    """Rather too wide for these shafts, which are milder than others: more than 0.98 is held."""
    truths = true_shafts(150, 16)
    found = measure(truths, [[] for _ in truths], builtin())
    assert (found.held >= 0.85).all(), found.held
    assert found.frequency_held >= 0.85


# --- linearisation against Monte Carlo ---------------------------------------------------------------------


def test_linearised_frequency_sd_against_monte_carlo(own: Population) -> None:
    truths = true_shafts(3, 17)
    one = frequencies(truths, np.random.default_rng(5), 0.005, FREE_LENGTHS_IN[-1:])
    rng = np.random.default_rng(6)
    for truth, found in zip(truths, estimate_many(cases_of(truths, [one[0], [], one[2]]), own), strict=True):
        model = found.model()
        build: Build = club(truth)
        told = installed([model], 0.0, build)
        draws = 1500
        log_ei = rng.multivariate_normal(np.log(model.ei_n_m2), model.log_ei_cov, draws)
        mass = rng.normal(model.mass_kg, model.mass_sd_kg, draws)
        balance = rng.normal(model.balance_from_tip_m or 0.0, model.balance_sd_m, draws)
        drawn = [
            replace(model, ei_n_m2=np.exp(log_ei[i]), mass_kg=float(mass[i]), balance_from_tip_m=float(balance[i]))
            for i in range(draws)
        ]
        spread = installed(drawn, 0.0, build, with_sd=False).features[:, :4].std(axis=0)
        assert told.sd_shaft[0, :4] == pytest.approx(spread, rel=0.10)


def test_laplace_covariance_against_repeated_measurement() -> None:
    """Truth drawn from the prior itself: then errors must scatter by what the covariance says, in every direction."""
    population = builtin()
    truth = true_shafts(1, 18)[0]
    seven = frequencies([truth], np.random.default_rng(7), 0.005)
    case = cases_of([truth], seven)[0]
    # of one piece without scatter, so that the state is all there is
    readings = [replace(r, piece=None) for r in case.readings]
    mean, covariance = population.mean[case.group], population.covariance[0]
    rng = np.random.default_rng(8)
    draws = 600
    states = rng.multivariate_normal(mean, covariance, draws)
    models = Models.of(readings, np.full(len(readings), case.raw_m))
    _, sd = observed(readings)
    tasks = []
    for state in states:
        value = models.evaluate(np.tile(state, (len(readings), 1)))[0] + rng.normal(0.0, sd)
        made = [
            replace(r, value=float(v))
            if r.functional is not None
            else replace(r, value=float(np.exp(v)), sd=float(s * np.exp(v)))
            for r, v, s in zip(readings, value, sd, strict=True)
        ]
        tasks.append(Task(case.raw_m, made, mean, covariance, ()))
    solved = solve(tasks)
    for row in (np.eye(SIZE)[0], np.eye(SIZE)[4], np.eye(SIZE)[15], np.where(np.arange(SIZE) < EI.stop, 1 / 16, 0.0)):
        off = [
            float(row @ (s.state - t)) / float(np.sqrt(row @ s.covariance @ row))
            for s, t in zip(solved, states, strict=True)
        ]
        assert float(np.std(off)) == pytest.approx(1.0, rel=0.10)
