"""What maker and model say of a shaft, against conditioning of the joint normal of all shafts at once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from specdb.profiles.likeness import Likeness, learn_likeness
from specdb.profiles.prior import builtin_covariance
from specdb.profiles.state import SIZE

MAKERS = ("a", "a", "a", "a", "b", "b", "c")
MODELS = ("a1", "a1", "a2", "a2", "b1", "b1", "c1")
SHAFTS = tuple(f"s{i}" for i in range(len(MAKERS)))


def taught(seed: int = 1) -> Likeness:
    rng = np.random.default_rng(seed)
    covariance = builtin_covariance()[0]
    away = rng.multivariate_normal(np.zeros(SIZE), covariance, len(MAKERS))
    start = Likeness.builtin(covariance)
    return replace(start, shaft_id=np.array(SHAFTS), maker=np.array(MAKERS), model=np.array(MODELS), away=away)


def conditioned(likeness: Likeness, maker: str, model: str, shaft_id: str) -> tuple[np.ndarray, np.ndarray]:
    """The same by one large joint normal."""
    rows = [i for i in range(len(MAKERS)) if SHAFTS[i] != shaft_id]
    who = [(MAKERS[i], MODELS[i]) for i in rows] + [(maker, model)]
    same_maker = np.array([[a[0] == b[0] for b in who] for a in who], dtype=float)
    same_model = np.array([[a == b for b in who] for a in who], dtype=float)
    joint = (
        np.kron(same_maker, likeness.maker_cov)
        + np.kron(same_model, likeness.model_cov)
        + np.kron(np.eye(len(who)), likeness.shaft_cov)
    )
    known = slice(0, SIZE * len(rows))
    new = slice(SIZE * len(rows), None)
    gain = np.linalg.solve(joint[known, known], joint[known, new]).T
    return gain @ likeness.away[rows].ravel(), joint[new, new] - gain @ joint[known, new]


@pytest.mark.parametrize(
    ("maker", "model", "shaft_id"),
    [("a", "a1", "new"), ("a", "a9", "new"), ("a", "a1", "s1"), ("b", "b1", "s4"), ("b", "b2", "new")],
)
def test_known_makers_and_models(maker: str, model: str, shaft_id: str) -> None:
    likeness = taught()
    mean, covariance = likeness.of(maker, model, shaft_id)
    wanted_mean, wanted_covariance = conditioned(likeness, maker, model, shaft_id)
    assert mean == pytest.approx(wanted_mean, abs=1e-9)
    assert covariance == pytest.approx(wanted_covariance, abs=1e-9)


def test_what_a_shaft_taught_itself_says_nothing_of_it() -> None:
    likeness = taught()
    other = replace(likeness, away=likeness.away + 10.0 * (likeness.shaft_id == "s6")[:, None])
    # the only one of its maker is as good as of nobody known
    assert np.array_equal(likeness.of("c", "c1", "s6")[1], likeness.of("unknown", "", "new")[1])
    assert np.array_equal(likeness.of("c", "c1", "s6")[0], other.of("c", "c1", "s6")[0])


def test_the_better_known_the_narrower() -> None:
    likeness = taught()
    level = [float(np.trace(likeness.of(*who)[1])) for who in (("", "", "x"), ("a", "a9", "x"), ("a", "a1", "x"))]
    assert level[0] > level[1] > level[2]


def test_effects_are_learned_from_many() -> None:
    """Truth drawn with other parts of makers, models and shafts than the built-in ones is found again."""
    rng = np.random.default_rng(3)
    base = builtin_covariance()[0]
    maker, model, shaft_id, away = [], [], [], []
    for m in range(40):
        of_maker = rng.multivariate_normal(np.zeros(SIZE), 0.3 * base)
        for f in range(10):
            of_model = of_maker + rng.multivariate_normal(np.zeros(SIZE), 0.6 * base)
            for s in range(3):
                maker.append(f"m{m}")
                model.append(f"m{m} {f}")
                shaft_id.append(f"{m} {f} {s}")
                away.append(of_model + rng.multivariate_normal(np.zeros(SIZE), 0.05 * base))
    found = learn_likeness(base, (maker, model, shaft_id), np.array(away), np.zeros((len(away), SIZE, SIZE)), 12.0)
    parts = [float(np.trace(c) / np.trace(base)) for c in (found.maker_cov, found.model_cov, found.shaft_cov)]
    assert parts == pytest.approx([0.3, 0.6, 0.05], abs=0.06)


def test_kept_and_read_back() -> None:
    likeness = taught()
    again = Likeness.from_arrays(likeness.to_arrays())
    for name in ("a", "b"):
        assert np.array_equal(again.of(name, f"{name}1", "x")[1], likeness.of(name, f"{name}1", "x")[1])
