"""Frequency against length: the straight line of a set by weighted least squares, with its uncertainty.

The weights are 1/variance of each club's frequency. The slope is then a fixed sum of the frequencies, so that its
uncertainty follows from their whole covariance: what is not known about one shaft shows alike in every club built
with it and says little about the slope, while the scatter from piece to piece shows in each club on its own
(Gauss–Markov; Aitken, Proc. R. Soc. Edinb. 55 (1936) 42, for weights that are not the covariance's own).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

HALF_INCH = 0.5
LEAST_SPREAD_IN = 0.05  # of the lengths; clubs of one length have no slope


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line through the frequencies of a set.

    Attributes
    ----------
    slope : float
        cpm per half inch; positive where shorter clubs are stiffer.
    slope_sd : float
        Its standard deviation, from those of the frequencies.
    scatter : float
        Root mean square distance of the clubs from the line, cpm.
    off : ndarray, shape (clubs,)
        Each club less the line, cpm.
    coefficient : ndarray, shape (clubs,)
        The slope is the sum of these times the frequencies.
    """

    slope: float
    slope_sd: float
    scatter: float
    off: FloatArray
    coefficient: FloatArray


def coefficients(length_in: FloatArray, variance: FloatArray) -> FloatArray | None:
    """What each club's value counts in the slope, per half inch shorter; None for clubs of one length.

    Parameters
    ----------
    length_in : ndarray, shape (clubs,)
        Playing lengths, in.
    variance : ndarray, shape (clubs,)
        Variances of the values; where all are zero the clubs count alike.
    """
    if len(length_in) < 2 or float(np.ptp(length_in)) < LEAST_SPREAD_IN:
        return None
    x = -length_in / HALF_INCH
    known = variance > 0
    weight = 1.0 / variance if known.all() else np.ones(len(length_in))
    centred = x - float(weight @ x) / float(weight.sum())
    return np.asarray(weight * centred / float(weight @ centred**2))


def line_through(length_in: FloatArray, value: FloatArray, covariance: FloatArray) -> Line | None:
    """The weighted line through values against length.

    Parameters
    ----------
    length_in : ndarray, shape (clubs,)
        Playing lengths, in.
    value : ndarray, shape (clubs,)
        Frequencies, cpm.
    covariance : ndarray, shape (clubs, clubs)
        Their covariance, cpm².

    Returns
    -------
    Line or None
        None for fewer than two clubs or clubs of one length.
    """
    variance = np.diagonal(covariance)
    c = coefficients(length_in, variance)
    if c is None:
        return None
    weight = 1.0 / variance if (variance > 0).all() else np.ones(len(value))
    x = -length_in / HALF_INCH
    slope = float(c @ value)
    level = float(weight @ (value - slope * x)) / float(weight.sum())
    off = value - level - slope * x
    return Line(
        slope=slope,
        slope_sd=float(np.sqrt(max(float(c @ covariance @ c), 0.0))),
        scatter=float(np.sqrt(np.mean(off**2))),
        off=off,
        coefficient=c,
    )
