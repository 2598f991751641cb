"""Score of a difference, its noise floor, and the probability that everything stays inside tolerance.

``score = sqrt(Σ w·(Δ² + u²)/unit² / Σ w)`` over the features that both clubs have. Near a perfect match the score
is not normal, so no band is put on it: the features are linearised, and what the score would be at Δ = 0 is its
noise floor.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import gammaincinv

FloatArray = npt.NDArray[np.float64]

DEGREES_OF_FREEDOM = 4.0
"""Of the Student distribution that the differences of the features have around what is expected.

A stated judgement. The stated standard deviations are right on the whole, but shafts keep to their makers' limits
unevenly and what is known of them rests on few readings: most differences come nearer than a normal distribution has
them, and a few lie far off. With simulated makers that the estimates never saw, the probabilities of a normal
distribution promise too little; three to five degrees of freedom bring promise and outcome together
(``tests/profiles/RELIABILITY.md``).
"""

_DRAWS = 2_000  # and as many mirrored ones; standard error below one percent


def score(difference: FloatArray, sd: FloatArray, unit: FloatArray, weight: FloatArray) -> FloatArray:
    """Score of variants against a reference.

    Parameters
    ----------
    difference, sd : ndarray, shape (..., features)
        Differences and their standard deviations; NaN where a feature is not compared.
    unit, weight : ndarray, shape (features,)
        One unit of each feature, and the weights.

    Returns
    -------
    ndarray, shape (...)
        Scores; infinite where nothing is compared.
    """
    known = np.isfinite(difference)
    total = np.where(known, weight, 0.0).sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        squares = np.where(known, weight * (difference**2 + sd**2) / unit**2, 0.0).sum(axis=-1)
        result: FloatArray = np.where(total > 0, np.sqrt(squares / total), np.inf)
    return result


@lru_cache(maxsize=4)
def _draws(dimensions: int) -> FloatArray:
    """Draws of a Student vector with independent directions, each of variance one, a column each.

    They count with their mirror images.
    """
    generator = np.random.Generator(np.random.PCG64(20_260_101))
    normal = generator.standard_normal((_DRAWS, dimensions))
    # one in each of as many equally likely parts, in any order: far draws are as frequent as they should be
    # quantiles of chi-squared by the incomplete gamma function (scipy.stats takes a second to load)
    spread = 2.0 * gammaincinv(DEGREES_OF_FREEDOM / 2.0, (generator.permutation(_DRAWS) + 0.5) / _DRAWS)
    draws: FloatArray = np.ascontiguousarray((normal * np.sqrt((DEGREES_OF_FREEDOM - 2.0) / spread)[:, None]).T)
    return draws


def within_probability(difference: FloatArray, covariance: FloatArray, unit: FloatArray, weight: FloatArray) -> float:
    """Probability that every compared feature differs by at most one unit.

    Parameters
    ----------
    difference : ndarray, shape (features,)
        Differences; NaN where not compared.
    covariance : ndarray, shape (features, features)
        Covariance of the differences.
    unit, weight : ndarray, shape (features,)
        One unit of each feature; features of weight 0 do not count.

    Notes
    -----
    The features are linear in what is not known, which follows a multivariate Student distribution: a normal one
    whose width is itself not known well, with the stated covariance (Gelman et al., 'Bayesian Data Analysis', 3rd
    edition, chapter 17, from memory). The probability is the mean over a fixed set of 4,000 draws, so that the same
    question has the same answer.
    """
    use = np.isfinite(difference) & (weight > 0)
    if not use.any():
        return float("nan")
    mean = difference[use] / unit[use]
    scaled = covariance[np.ix_(use, use)] / np.outer(unit[use], unit[use])
    values, vectors = np.linalg.eigh((scaled + scaled.T) / 2.0)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    off = root @ _draws(len(mean))
    sides = (np.abs(mean[:, None] + way * off).max(axis=0) <= 1.0 for way in (1.0, -1.0))
    return float(np.mean([side.mean() for side in sides]))
