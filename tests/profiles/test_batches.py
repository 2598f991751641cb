"""A delivery that plays softer is found, and one that does not is not found too often.

Simulated deliveries: pieces scatter about their shaft as the trade expects of one model (about 1.5 % of EI, common
practice, no source); the figures come from the exact bench model, not from the estimator.
"""

from __future__ import annotations

import numpy as np
import pytest

from specdb.mechanics.bench import frequency_reading
from specdb.mechanics.constants import IN
from specdb.profiles.batches import BatchDifference, batch_difference
from specdb.profiles.evidence import make_case
from specdb.profiles.population import Population
from specdb.records.rows import ShaftReading
from tests.profiles.figures import taught_by
from tests.profiles.truth import as_piece, reading, true_shafts

BEFORE, DELIVERED = ("p1", "p2", "p3"), ("p4", "p5", "p6", "p7")
SCATTER = 0.015
CPM_SD = 1.0
FREE_IN = 41.0


@pytest.fixture(scope="module")
def population() -> Population:
    return taught_by(["smooth"], 40, 30)


def deliveries(count: int, softer: float, seed: int, population: Population) -> list[BatchDifference]:
    """One butt frequency on each of seven pieces of each shaft, the last four a delivery that may be softer."""
    rng = np.random.default_rng(seed)
    found = []
    names = (*BEFORE, *DELIVERED)
    for truth in true_shafts(count, seed):
        level = rng.normal(0.0, SCATTER, len(names)) + np.log1p(-softer) * np.isin(names, DELIVERED)
        models = [as_piece(truth, float(x)).model for x in level]
        value = frequency_reading(models, FREE_IN * IN, 0.205) + rng.normal(0.0, CPM_SD, len(names))
        more = {"free_length_in": FREE_IN, "tip_mass_g": 205.0, "sd": CPM_SD}
        rows: list[ShaftReading] = [
            reading(truth, "frequency", float(v), sample=name, **more) for name, v in zip(names, value, strict=True)
        ]
        found.append(batch_difference(make_case(truth.shaft, rows), DELIVERED, population))
    return found


def test_a_softer_delivery_is_found(population: Population) -> None:
    found = deliveries(80, 0.05, 31, population)
    assert np.mean([d.chance < 0.05 and d.stiffer < 0.0 for d in found]) > 0.9
    shift = np.array([d.stiffer for d in found])
    assert np.mean(shift) == pytest.approx(np.log(0.95), abs=0.005)


def test_no_difference_is_not_found_too_often(population: Population) -> None:
    found = deliveries(400, 0.0, 32, population)
    chance = np.array([d.chance for d in found])
    # one in twenty and one in a hundred are meant; with three sd of 400 trials
    assert np.mean(chance < 0.05) <= 0.083
    assert np.mean(chance < 0.01) <= 0.025
    assert np.std([d.off for d in found]) == pytest.approx(1.0, abs=0.15)
