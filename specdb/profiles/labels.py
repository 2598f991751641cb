"""What words say: weak evidence, learned from the shafts whose profiles are known.

The kick word is taken as a noisy ordering of the *contrast* of a profile, butt third less tip third of ln EI: a low
kick point goes with a soft tip. The flex letter is used only within one maker and model: from letter to letter the
*level* of ln EI rises by a step. A word gives a distribution of the functional given the word; what enters the
estimate is that distribution divided by the prior's, so that the prior is not counted twice.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.profiles.readings import Kind, Reading
from specdb.profiles.state import EI, NODE_T, SIZE

FloatArray = npt.NDArray[np.float64]

KICK_SCORE = {"low": 1.0, "mid-low": 0.5, "mid": 0.0, "mid-high": -0.5, "high": -1.0}
_LETTERS = {
    "L": 0.0,
    "A": 1.0,
    "M": 1.0,
    "R": 2.0,
    "SR": 2.5,
    "R+": 2.5,
    "S": 3.0,
    "S+": 3.5,
    "TS": 3.5,
    "X": 4.0,
    "TX": 4.5,
}
_NUMBER = re.compile(r"^\d+(\.\d+)?$")


def _row(weights: FloatArray) -> FloatArray:
    row = np.zeros(SIZE)
    row[EI] = weights
    return row


LEVEL: FloatArray = _row(np.full(NODE_T.size, 1.0 / NODE_T.size))
_TIP, _BUTT = NODE_T < 1.0 / 3.0, NODE_T > 2.0 / 3.0
CONTRAST: FloatArray = _row(_BUTT / _BUTT.sum() - _TIP / _TIP.sum())


@dataclass(frozen=True, slots=True)
class LabelRule:
    """What words are worth.

    Attributes
    ----------
    kick_slope, kick_sd : float
        Contrast less the mean of its group: per score of the kick word, and its scatter about that.
    flex_step, flex_sd : float
        Rise of the level of ln EI a flex letter, and scatter within a family about that.
    kick_seen, flex_seen : int
        Shafts, and pairs of shafts, that these were learned from.
    """

    kick_slope: float
    kick_sd: float
    flex_step: float
    flex_sd: float
    kick_seen: int = 0
    flex_seen: int = 0


# ten cpm a flex step of about 250 is four percent of frequency, eight of stiffness (common practice, no source)
_FLEX_STEP, _FLEX_SD, _FLEX_WEIGHT = 0.075, 0.08, 20.0
_KICK_CORRELATION, _KICK_WEIGHT = 0.30, 30.0


def builtin_rule(contrast_sd: float) -> LabelRule:
    """What words are worth before anything is learned.

    Parameters
    ----------
    contrast_sd : float
        Standard deviation of the contrast within a group.
    """
    return LabelRule(
        # scores scatter by about 0.6
        kick_slope=_KICK_CORRELATION * contrast_sd / 0.6,
        kick_sd=contrast_sd * math.sqrt(1.0 - _KICK_CORRELATION**2),
        flex_step=_FLEX_STEP,
        flex_sd=_FLEX_SD,
    )


def flex_rank(label: str | None) -> float | None:
    """Place of a flex label among the letters that the trade uses in order, or None.

    Parameters
    ----------
    label : str or None
        The maker's own label. A bare number ranks by itself (``5.5``, ``6.0``), one a step.
    """
    if label is None:
        return None
    text = label.strip().upper().replace("-FLEX", "").replace(" FLEX", "")
    if text in _LETTERS:
        return _LETTERS[text]
    return 100.0 + 2.0 * float(text) if _NUMBER.match(text) and float(text) < 20.0 else None


def learn_rule(start: LabelRule, kick: tuple[FloatArray, FloatArray], flex: tuple[FloatArray, FloatArray]) -> LabelRule:
    """Shrunk regressions.

    Parameters
    ----------
    start : LabelRule
        What to shrink to.
    kick : tuple of ndarray, shape (n,)
        Score of the word and contrast less the group's mean.
    flex : tuple of ndarray, shape (m,)
        For pairs within a family: difference of rank and of level.
    """
    slope, kick_sd = _shrunk(kick[0], kick[1], start.kick_slope, start.kick_sd, _KICK_WEIGHT)
    # a difference of two has twice the variance of one
    step, pair_sd = _shrunk(flex[0], flex[1], start.flex_step, start.flex_sd * math.sqrt(2.0), _FLEX_WEIGHT)
    return LabelRule(slope, kick_sd, step, pair_sd / math.sqrt(2.0), kick[0].size, flex[0].size)


def _shrunk(x: FloatArray, y: FloatArray, slope: float, sd: float, weight: float) -> tuple[float, float]:
    usual = 0.36  # mean square of x that the built-in figure stands for
    new = (float(x @ y) + weight * usual * slope) / (float(x @ x) + weight * usual)
    variance = (float(((y - new * x) ** 2).sum()) + weight * sd**2) / (x.size + weight)
    return new, math.sqrt(variance)


def as_reading(
    name: str, functional: FloatArray, told: tuple[float, float], mean: FloatArray, covariance: FloatArray
) -> Reading | None:
    """A distribution of a functional as evidence beside the prior.

    Parameters
    ----------
    name : str
        What to call it.
    functional : ndarray, shape (SIZE,)
        Of the state.
    told : tuple of float
        Mean of the functional less the prior's, and standard deviation, given the word.
    mean, covariance : ndarray, shape (SIZE,), (SIZE, SIZE)
        Prior of the state.

    Returns
    -------
    Reading or None
        None where the word says no more than the prior.
    """
    before = float(functional @ covariance @ functional)
    precision = 1.0 / told[1] ** 2 - 1.0 / before
    if precision <= 1e-3 / before:
        return None
    value = float(functional @ mean) + told[0] / told[1] ** 2 / precision
    return Reading(name, Kind.LINEAR, value, 1.0 / math.sqrt(precision), functional=functional, unit="ln EI")
