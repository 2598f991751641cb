"""The two measured bounds that the engine rests on, with room: screening margin and reach of a trim step."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import multivariate_t

from specdb.matching import build_index
from specdb.matching.exclude import Gate
from specdb.matching.reference import solve_reference
from specdb.matching.refine import STEP_UNITS, ExactStage, step_reach
from specdb.matching.score import DEGREES_OF_FREEDOM, score, within_probability
from specdb.matching.screen import MARGIN, screen
from specdb.matching.substitutes import trim_grid
from specdb.matching.ways import ways_of
from specdb.matching.weighting import Tolerances
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.mechanics.shaft_table import Knowledge
from tests.matching.conftest import Shop
from tests.support.partial import partly_known
from tests.support.random_catalogue import random_shafts


@pytest.mark.parametrize(("seed", "partly"), [(21, False), (22, False), (23, True), (24, True)])
def test_bound_lies_below_the_exact_score_with_half_the_margin_to_spare(seed: int, partly: bool) -> None:
    if partly:
        shafts, readings, estimates = partly_known(400, seed)
        index = build_index(shafts, readings, estimates)
        assert (index.table.knowledge == Knowledge.ESTIMATED).sum() > 200
    else:
        shafts, readings = random_shafts(400, seed=seed)
        index = build_index(shafts, readings)
    shop = Shop(shafts, readings)
    question = shop.ask("invented-000051")
    reference = solve_reference(question.club)
    gate = Gate.before_search(index, question)
    trims = trim_grid(index, question, gate.open)
    ways = ways_of(index, question, reference, trims)
    target = reference.target(question.tolerances)
    screened = screen(index, ways, trims, target, gate.open)
    stage = ExactStage(index, ways.ways, target)
    chosen, rows = np.nonzero(np.isfinite(screened.bound))
    assert len(rows) > 1000
    stage.solve(rows.tolist(), trims[chosen].tolist(), screened.way[chosen, rows].tolist())
    room = [
        stage.solved[int(r), float(trims[t])].total - float(screened.bound[t, r])
        for t, r in zip(chosen, rows, strict=True)
    ]
    assert min(room) > MARGIN / 2.0


FREQUENCY_ALONE = np.array([1.0, *[0.0] * 9])


@pytest.mark.parametrize(
    "tolerances",
    [
        Tolerances.default(),
        Tolerances("frequency alone, 1 cpm", Tolerances.default().unit / 2.5, FREQUENCY_ALONE),
        Tolerances("half the usual", Tolerances.default().unit / 2.0, np.array([3.0, 2.0, *[1.0] * 8])),
    ],
    ids=lambda t: t.name,
)
@pytest.mark.parametrize("partly", [False, True])
def test_half_steps_stay_within_the_reach_of_the_parallelogram_bound(partly: bool, tolerances: Tolerances) -> None:
    shafts, readings, estimates = partly_known(300, 8)
    if not partly:
        shafts, readings = random_shafts(300, seed=8)
    shop = Shop(shafts, readings)
    index = build_index(shafts, readings, estimates if partly else None)
    question = shop.ask("invented-000051")
    reference = solve_reference(question.club)
    gate = Gate.before_search(index, question)
    target = reference.target(tolerances)
    reach = step_reach(target)
    ways = ways_of(index, question, reference, np.array([0.0]))
    rows = np.flatnonzero(gate.open & (index.table.raw_length_m > 45.5 * IN))[:150]
    models = [index.table.model(int(r)) for r in rows]
    build = ways.ways[0].build
    scores, places = {}, {}
    for trim in (0.0, 0.125, 0.25, 1.5, 1.625, 1.75):
        state = installed(models, np.full(len(rows), trim * IN), build)
        difference = state.features - target.value
        u = np.sqrt(state.sd_shaft**2 + target.sd**2)
        scores[trim] = score(difference, u, target.unit, target.weight)
        places[trim] = difference / target.unit
    for low in (0.0, 1.5):
        moved = np.abs(places[low + 0.25] - places[low])
        usual = Tolerances.default().absolute(target.value)
        assert (moved.max(axis=0) * target.unit < 0.8 * STEP_UNITS * usual).all()
        step = np.sqrt((target.weight * moved**2).sum(axis=1) / target.weight.sum())
        assert step.max() < 0.8 * reach
        lower = (scores[low] ** 2 + scores[low + 0.25] ** 2) / 2.0 - reach**2 / 4.0
        assert (scores[low + 0.125] ** 2 >= lower).all()


def student_within(t: float) -> float:
    """P(|T| ≤ t) for four degrees of freedom: Abramowitz and Stegun 26.7.4, A(t|4) = sin θ (1 + cos² θ / 2), where
    tan θ = t / √4 (from memory)."""
    angle = math.atan(t / 2.0)
    return math.sin(angle) * (1.0 + math.cos(angle) ** 2 / 2.0)


def test_probability_of_one_feature_is_that_of_the_student_distribution() -> None:
    assert DEGREES_OF_FREEDOM == 4.0  # the handbook's formula is for four
    one = np.array([1.0])
    # a Student variable of four degrees has variance 4 / (4 - 2) = 2: one stated sd is √2 of its units
    for sd in (0.4, 1.0, 2.0):
        expected = student_within(math.sqrt(2.0) / sd)
        assert within_probability(np.array([0.0]), np.array([[sd**2]]), one, one) == pytest.approx(expected, abs=0.015)
    shifted = (student_within(0.5 * math.sqrt(2.0)) + student_within(1.5 * math.sqrt(2.0))) / 2.0
    assert within_probability(np.array([0.5]), np.array([[1.0]]), one, one) == pytest.approx(shifted, abs=0.015)
    assert within_probability(np.array([0.2]), np.array([[0.0]]), one, one) == 1.0
    assert within_probability(np.array([1.2]), np.array([[0.0]]), one, one) == 0.0


def test_probability_of_several_features_is_that_of_a_reference_library() -> None:
    """scipy.stats.multivariate_t integrates the density by itself (Genz and Bretz)."""
    covariance = np.array([[0.5, 0.2, -0.1], [0.2, 0.8, 0.3], [-0.1, 0.3, 0.4]])
    shape = covariance * (DEGREES_OF_FREEDOM - 2.0) / DEGREES_OF_FREEDOM
    for mean in ([0.0, 0.0, 0.0], [0.4, -0.3, 0.2], [0.9, 0.9, 0.0]):
        reference = multivariate_t.cdf(
            np.ones(3), loc=mean, shape=shape, df=DEGREES_OF_FREEDOM, lower_limit=-np.ones(3), random_state=1
        )
        mine = within_probability(np.array(mean), covariance, np.ones(3), np.ones(3))
        assert mine == pytest.approx(float(reference), abs=0.02)


def test_correlated_features_fall_together() -> None:
    mean, unit, weight = np.zeros(2), np.ones(2), np.ones(2)
    uncorrelated = within_probability(mean, np.eye(2), unit, weight)
    together = within_probability(mean, np.ones((2, 2)), unit, weight)
    alone = student_within(math.sqrt(2.0))
    assert together == pytest.approx(alone, abs=0.015)
    # one width for both: even uncorrelated features are inside together more often than independent ones
    assert alone**2 < uncorrelated < alone
