"""Mean and covariance of the most probable population, and how well held-out profiles are foretold by it.

References
----------
Normal-inverse-Wishart prior: Gelman et al., *Bayesian Data Analysis*, 3rd ed., section 3.6.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
import numpy.typing as npt

from specdb.profiles.state import COVARIATES, EI, GROUPS, NODE_T

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

COVARIANCE_WEIGHTS = (12.0, 25.0, 50.0, 100.0)
_FOLDS = 5
_MEAN_WEIGHT = 4.0  # shafts that the built-in mean counts for


class Start(Protocol):
    """What to shrink to."""

    @property
    def mean(self) -> FloatArray:
        """By group, shape (groups, SIZE)."""

    @property
    def covariance(self) -> FloatArray:
        """For graphite and steel, shape (2, SIZE, SIZE)."""


def maximum(
    start: Start, group: IntArray, state: FloatArray, doubt: FloatArray, weight: float
) -> tuple[FloatArray, FloatArray]:
    """Most probable mean and covariance.

    Parameters
    ----------
    start : Start
        What to shrink to.
    group : ndarray of int, shape (T,)
        Rows of ``state.GROUPS``.
    state, doubt : ndarray, shape (T, SIZE), (T, SIZE, SIZE)
        States of the shafts that teach, and their covariances.
    weight : float
        Shafts that the built-in covariance counts for.

    Returns
    -------
    mean : ndarray, shape (groups, SIZE)
    covariance : ndarray, shape (2, SIZE, SIZE)
    """
    mean = start.mean.copy()
    for g in np.unique(group):
        own = state[group == g]
        mean[g] = (own.sum(axis=0) + _MEAN_WEIGHT * start.mean[g]) / (len(own) + _MEAN_WEIGHT)
    # kinds of which nobody teaches move with those of their material
    for material in (0, 1):
        known = [g for g in np.unique(group) if g % 2 == material]
        shift = np.zeros(NODE_T.size)
        if known:
            shift = np.mean([mean[g, EI] - start.mean[g, EI] for g in known], axis=0) * 0.5
        for g in range(material, len(GROUPS), 2):
            if g not in known:
                mean[g, EI] += shift
    covariance = np.empty_like(start.covariance)
    for material in (0, 1):
        rows = group % 2 == material
        away = state[rows] - mean[group[rows]]
        total = away.T @ away + doubt[rows].sum(axis=0) + weight * start.covariance[material]
        covariance[material] = total / (rows.sum() + weight)
    return mean, covariance


def _predict(
    mean: FloatArray, covariance: FloatArray, group: IntArray, state: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Stiffness, ln EI, given the covariates: mean of each shaft, and covariance by material."""
    guess = np.empty((len(state), NODE_T.size))
    left = np.empty((2, NODE_T.size, NODE_T.size))
    for material in (0, 1):
        known = covariance[material][np.ix_(COVARIATES, COVARIATES)]
        gain = np.linalg.solve(known, covariance[material][COVARIATES][:, EI]).T
        left[material] = covariance[material][EI, EI] - gain @ covariance[material][COVARIATES][:, EI]
        rows = group % 2 == material
        centre = mean[group[rows]]
        guess[rows] = centre[:, EI] + (state[rows][:, COVARIATES] - centre[:, COVARIATES]) @ gain.T
    return guess, left


def held_out(
    start: Start, group: IntArray, state: FloatArray, doubt: FloatArray, weight: float
) -> tuple[float, FloatArray]:
    """Mean log score of held-out profiles, and their RMS error in each third.

    Parameters
    ----------
    start, group, state, doubt, weight
        As for :func:`maximum`.
    """
    from sklearn.model_selection import KFold

    if len(state) < 2 * _FOLDS:
        return 0.0, np.full(3, np.nan)
    score, square = 0.0, np.zeros(3)
    third = np.minimum((NODE_T * 3.0).astype(int), 2)
    for taught, held in KFold(_FOLDS, shuffle=True, random_state=0).split(state):
        mean, covariance = maximum(start, group[taught], state[taught], doubt[taught], weight)
        guess, left = _predict(mean, covariance, group[held], state[held])
        away = state[held][:, EI] - guess
        spread = left[group[held] % 2] + doubt[held][:, EI, EI]
        solved = np.linalg.solve(spread, away[:, :, None])[:, :, 0]
        score -= 0.5 * float((away * solved).sum() + np.linalg.slogdet(spread)[1].sum())
        square += np.array([(away[:, third == k] ** 2).mean(axis=1).sum() for k in range(3)])
    return score / len(state), np.sqrt(square / len(state))


def best_weight(start: Start, group: IntArray, state: FloatArray, doubt: FloatArray) -> float:
    """The weight under which held-out profiles are foretold best.

    Parameters
    ----------
    start, group, state, doubt
        As for :func:`maximum`.
    """
    if len(state) < 2 * _FOLDS:
        return COVARIANCE_WEIGHTS[1]
    return max(COVARIANCE_WEIGHTS, key=lambda w: held_out(start, group, state, doubt, w)[0])
