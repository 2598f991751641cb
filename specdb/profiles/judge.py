"""Whether a shaft is an unusual one or one of its readings is wrong, and how much either is to count.

What is taken of shafts beforehand is learned from others; another maker's may be more unlike them than those are among
themselves. So the covariance of stiffness and torsion, at given mass, lengths and diameters, has a scale that is itself
uncertain: log-normal about what the shafts of the catalogue show, told by how far the readings of the shaft lie from
what was expected. And each reading may, with a small probability, be wrong altogether: mistyped, misread, of another
shaft. Both explain readings that do not fit, so both are weighed together: readings that hang together but lie far
from the usual speak for an unusual shaft, one that the others contradict for an error.

With innovation ``d``, its covariance ``S = g A + B`` (scale ``g``; ``B`` from noise, pieces, mass and lengths) and a
reading ``i`` whose variance grows by ``c``, the evidence follows from ``q = S⁻¹ d`` and ``Q = S⁻¹`` alone: the square
falls by ``c q_i²/(1 + c Q_ii)``, the determinant grows by ``1 + c Q_ii``.

References
----------
A wrong reading as a normal of larger variance: Box & Tiao, *A Bayesian approach to some outlier problems*, Biometrika
55 (1968) 119. Scale of a prior from the data: Gelman et al., *Bayesian Data Analysis*, 3rd ed., sections 5.4 and 17.2.
Rank-one change of inverse and determinant: Golub & Van Loan, *Matrix Computations*, section 2.1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.profiles.state import BALANCE, BUTT_DIA, KAPPA, LENGTH, MASS, SIZE, TIP_DIA

FloatArray = npt.NDArray[np.float64]

# stated judgements (common practice, no source)
WRONG = 0.01  # of bench readings and table rows are wrong altogether
GROSS = 0.3  # one sd of a wrong reading, of its logarithm
SCALE_SPREAD = 0.6  # one sd of ln scale from shaft to shaft
USUAL_SPREAD = 0.5  # the same of what is common to the shafts of a catalogue
SUSPECT = 0.3  # probability of one wrong reading from which two are thought of
LEAST_USUAL = 0.0  # that shafts are more alike than those that taught is not believed: readings do not see all

LN_SCALES: FloatArray = np.linspace(np.log(0.4), np.log(10.0), 14)
_OPEN = np.arange(KAPPA + 1)  # stiffness and torsion
_GIVEN = np.array([BALANCE, MASS, LENGTH, TIP_DIA, BUTT_DIA])


@dataclass(frozen=True, slots=True)
class Verdict:
    """Of B shafts with R readings each.

    Attributes
    ----------
    scale : ndarray, shape (B,)
        Expected scale of the covariance of stiffness and torsion.
    wrong : ndarray, shape (B, R)
        Probability that a reading is wrong altogether.
    evidence : ndarray, shape (B, G)
        Log evidence of each of ``LN_SCALES``, but for a constant.
    """

    scale: FloatArray
    wrong: FloatArray
    evidence: FloatArray


def open_part(covariance: FloatArray) -> FloatArray:
    """What is left of the covariance of states once mass, lengths and diameters are given.

    Parameters
    ----------
    covariance : ndarray, shape (B, SIZE, SIZE)
        Prior covariances.

    Returns
    -------
    ndarray, shape (B, SIZE, SIZE)
        Zero but for stiffness and torsion.
    """
    shared = covariance[:, _OPEN[:, None], _GIVEN]
    given = covariance[:, _GIVEN[:, None], _GIVEN]
    left = covariance[:, : KAPPA + 1, : KAPPA + 1] - shared @ np.linalg.solve(given, shared.transpose(0, 2, 1))
    out = np.zeros((len(covariance), SIZE, SIZE))
    out[:, : KAPPA + 1, : KAPPA + 1] = 0.5 * (left + left.transpose(0, 2, 1))
    return out


def judge(
    innovation: FloatArray, fixed: FloatArray, scaled: FloatArray, more: FloatArray, usual: FloatArray
) -> Verdict:
    """Weigh an unusual shaft against a wrong reading.

    Parameters
    ----------
    innovation : ndarray, shape (B, R)
        Readings less what was expected of them.
    fixed, scaled : ndarray, shape (B, R, R)
        Covariance of that: what the scale does not change, and what it multiplies.
    more : ndarray, shape (B, R)
        By how much the variance of a reading grows where it is wrong; 0 where it cannot be told.
    usual : ndarray, shape (B,)
        Expected ln scale.

    Returns
    -------
    Verdict
    """
    root = np.linalg.cholesky(fixed)
    half = np.linalg.solve(root, scaled)
    size, turn = np.linalg.eigh(np.linalg.solve(root, half.transpose(0, 2, 1)))
    back = np.linalg.solve(root.transpose(0, 2, 1), turn)
    seen = (back.transpose(0, 2, 1) @ innovation[:, :, None])[:, None, :, 0]
    shrink = 1.0 / (1.0 + np.exp(LN_SCALES)[None, :, None] * np.maximum(size, 0.0)[:, None, :])  # (B, G, R)
    right = 0.5 * (np.log(shrink) - seen**2 * shrink).sum(axis=2)
    turned = back.transpose(0, 2, 1)
    precision, pull = shrink @ turned**2, (seen * shrink) @ turned  # of each reading given the others
    grown = 1.0 + more[:, None, :] * precision
    gain = 0.5 * (more[:, None, :] * pull**2 / grown - np.log(grown))
    odds = np.where(more > 0.0, np.log(WRONG / (1.0 - WRONG)), -np.inf)
    each = np.concatenate([np.zeros((*right.shape, 1)), gain + odds[:, None, :]], axis=2) + right[:, :, None]
    evidence = _log_sum(each)
    wrong = _weighed(each[:, :, 1:], evidence, usual)
    odd = np.flatnonzero(wrong.max(axis=1, initial=0.0) > SUSPECT)
    if odd.size:  # two that are wrong hide each other, or make one between them look wrong
        two = _pairs(shrink[odd], turned[odd], pull[odd], more[odd]) + right[odd][:, :, None, None]
        flat = two.reshape(odd.size, LN_SCALES.size, -1)
        evidence[odd] = np.logaddexp(evidence[odd], _log_sum(flat))
        pair = _weighed(flat, evidence[odd], usual[odd]).reshape(odd.size, *two.shape[2:])
        wrong[odd] = _weighed(each[odd][:, :, 1:], evidence[odd], usual[odd]) + pair.sum(axis=1) + pair.sum(axis=2)
    return Verdict(_share(evidence, usual) @ np.exp(LN_SCALES), wrong, evidence)


def _share(evidence: FloatArray, usual: FloatArray) -> FloatArray:
    """Probability of each scale, shape (B, G)."""
    weigh = evidence - 0.5 * ((LN_SCALES - usual[:, None]) / SCALE_SPREAD) ** 2
    result: FloatArray = np.exp(weigh - _log_sum(weigh)[:, None])
    return result


def _weighed(each: FloatArray, evidence: FloatArray, usual: FloatArray) -> FloatArray:
    """Probability of hypotheses whose log evidence at each scale is given, shape (B, H)."""
    share = _share(evidence, usual)
    return np.asarray(np.einsum("bg,bgh->bh", share, np.exp(each - evidence[:, :, None])))


def _pairs(shrink: FloatArray, turned: FloatArray, pull: FloatArray, more: FloatArray) -> FloatArray:
    """Gain in log evidence where readings i < j are wrong, odds included, shape (B, G, R, R)."""
    precision = np.einsum("bgk,bki,bkj->bgij", shrink, turned, turned, optimize=True)
    can = more > 0.0
    own = np.einsum("bgii->bgi", precision) + 1.0 / np.where(can, more, 1.0)[:, None, :]
    first, second, across = own[..., :, None], own[..., None, :], precision
    one, other = pull[..., :, None], pull[..., None, :]
    size = np.maximum(first * second - across**2, np.finfo(np.float64).tiny)
    with np.errstate(divide="ignore", invalid="ignore"):
        square = (second * one**2 - 2.0 * across * one * other + first * other**2) / size
        spread = np.log(size * (more[:, None, :, None] * more[:, None, None, :]))
        gain = 0.5 * (square - spread) + 2.0 * np.log(WRONG / (1.0 - WRONG))
    both = np.triu(np.ones(precision.shape[2:], dtype=bool), 1) & can[:, :, None] & can[:, None, :]
    return np.where(both[:, None], gain, -np.inf)


def common_scale(evidence: FloatArray) -> float:
    """Expected ln scale of the shafts of one kind, from those of them that have readings.

    Parameters
    ----------
    evidence : ndarray, shape (B, G)
        As of :class:`Verdict`.

    Returns
    -------
    float
        0 where nothing is known of any; not below ``LEAST_USUAL``.
    """
    if not len(evidence):
        return 0.0
    about = -0.5 * ((LN_SCALES[:, None] - LN_SCALES[None, :]) / SCALE_SPREAD) ** 2  # (common, own)
    about -= _log_sum(about)[:, None]
    each = _log_sum(evidence[:, None, :] + about)
    weigh = each.sum(axis=0) - 0.5 * (LN_SCALES / USUAL_SPREAD) ** 2
    return max(float(np.exp(weigh - _log_sum(weigh[None])) @ LN_SCALES), LEAST_USUAL)


def _log_sum(values: FloatArray) -> FloatArray:
    """Logarithm of the sum of exponentials over the last axis."""
    top = values.max(axis=-1)
    base = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        result: FloatArray = base + np.log(np.exp(values - base[..., None]).sum(axis=-1))
    return result
