"""What a reading is said to be worth beforehand is what it turns out to be worth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from specdb.profiles.estimate import estimate, make_tasks
from specdb.profiles.evidence import make_case
from specdb.profiles.judge import open_part
from specdb.profiles.labels import LEVEL
from specdb.profiles.population import builtin
from specdb.profiles.solver import solve
from specdb.profiles.state import SIZE
from specdb.profiles.worth import worth_of
from tests.profiles.truth import FREE_LENGTHS_IN, deflection, frequencies, reading, true_shafts


@pytest.mark.parametrize("known", [0, 1])
def test_promise_and_outcome(known: int) -> None:
    truth = true_shafts(1, 81)[0]
    rows = frequencies([truth], np.random.default_rng(1), 0.003, FREE_LENGTHS_IN)[0]
    have = rows[2 : 2 + known]
    case = make_case(truth.shaft, have)
    before = estimate(case, builtin())
    planned = [rows[0], rows[-1], deflection(truth, 40.0, 20.0), reading(truth, "weight", 62.0)]
    impossible = reading(truth, "ei", 40.0, position_in=60.0)
    ranked = worth_of(case, before, [*planned, impossible], LEVEL)
    assert len(ranked) == len(planned)
    assert [w.after for w in ranked] == sorted(w.after for w in ranked)
    for promised in ranked:
        with_it = make_case(truth.shaft, [*have, promised.reading])
        # how unusual the shaft is taken to be stays as it was: what the reading will tell of that nobody knows
        (task,) = make_tasks([with_it], builtin())
        wider = task.covariance + (before.scale - 1.0) * open_part(task.covariance[None])[0]
        (after,) = solve([replace(task, covariance=wider)])
        outcome = float(np.sqrt(LEVEL @ after.covariance[:SIZE, :SIZE] @ LEVEL))
        assert promised.after == pytest.approx(outcome, rel=0.03)
        told = estimate(with_it, builtin())
        assert promised.after == pytest.approx(float(np.sqrt(LEVEL @ told.covariance[:SIZE, :SIZE] @ LEVEL)), rel=0.08)
        assert promised.before >= promised.after
    # a weight says least about stiffness once a leaflet gives one
    assert ranked[-1].reading.quantity == "weight"
    assert ranked[-1].part_left > 0.9 > ranked[0].part_left
