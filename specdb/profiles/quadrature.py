"""Gauss rules in the pieces between nodes, and running integrals over them.

EI is smooth within a piece and changes there by a small part of itself, so that four points are exact to about a
millionth. Arrays are (R readings, S pieces, 4 points); pieces of zero length contribute nothing.

References
----------
Gauss-Legendre quadrature: NIST Digital Library of Mathematical Functions, §3.5(v).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numpy.polynomial import legendre, polynomial

from specdb.profiles.state import NODE_T

FloatArray = npt.NDArray[np.float64]

WIDTH = 4
POINT, WEIGHT = legendre.leggauss(WIDTH)


def _running() -> FloatArray:
    """Integrals from -1 to each point of the polynomials that are one at a point and zero at the others."""
    out = np.empty((WIDTH, WIDTH))
    for k in range(WIDTH):
        others = np.delete(POINT, k)
        lagrange = polynomial.polyfromroots(others) / np.prod(POINT[k] - others)
        whole = polynomial.polyint(lagrange, lbnd=-1)
        out[k] = polynomial.polyval(POINT, whole)
    return out


_FROM_LOW = _running()
_FROM_HIGH = WEIGHT[:, None] - _FROM_LOW


def edges(low: FloatArray, high: FloatArray, raw_m: FloatArray, extra: FloatArray) -> FloatArray:
    """Ends of the pieces between two places, cut at the nodes and at further places.

    Parameters
    ----------
    low, high : ndarray, shape (R,)
        The places, m from the raw tip end.
    raw_m : ndarray, shape (R,)
        Raw lengths, m.
    extra : ndarray, shape (R, K)
        Further places to cut at, m.

    Returns
    -------
    ndarray, shape (R, S + 1)
        Not decreasing, m; pieces beyond the last have zero length.
    """
    inner = np.concatenate([raw_m[:, None] * NODE_T, extra], axis=1)
    lowest, highest = low[:, None], high[:, None]
    # what lies outside ends up as pieces of zero length at the high end
    inner = np.where((inner > lowest) & (inner < highest), inner, highest)
    edge = np.concatenate([lowest, np.sort(inner, axis=1), highest], axis=1)
    used = int((edge < highest).sum(axis=1).max(initial=1))
    return edge[:, : used + 1]


def points(edge: FloatArray, half: FloatArray) -> FloatArray:
    """Gauss points of the pieces.

    Parameters
    ----------
    edge : ndarray, shape (R, S + 1)
        Ends of the pieces, m.
    half : ndarray, shape (R, S)
        Their half-lengths, m.

    Returns
    -------
    ndarray, shape (R, S, 4)
        m.
    """
    result: FloatArray = (edge[:, :-1] + half)[:, :, None] + half[:, :, None] * POINT
    return result


def from_low(values: FloatArray, half: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Running integral from the low end.

    Parameters
    ----------
    values : ndarray, shape (R, S, 4)
        Integrand at the points.
    half : ndarray, shape (R, S)
        Half-lengths, m.

    Returns
    -------
    running : ndarray, shape (R, S, 4)
        Integral from the low end to each point.
    whole : ndarray, shape (R,)
        Integral over everything.
    """
    running = (values @ _FROM_LOW) * half[:, :, None]
    piece = (values @ WEIGHT) * half
    upto = np.cumsum(piece, axis=1)
    running += (upto - piece)[:, :, None]
    return running, upto[:, -1]


def from_high(values: FloatArray, half: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Running integral to the high end.

    Parameters
    ----------
    values : ndarray, shape (R, S, 4)
        Integrand at the points.
    half : ndarray, shape (R, S)
        Half-lengths, m.

    Returns
    -------
    running : ndarray, shape (R, S, 4)
        Integral from each point to the high end.
    whole : ndarray, shape (R,)
        Integral over everything.
    """
    running = (values @ _FROM_HIGH) * half[:, :, None]
    piece = (values @ WEIGHT) * half
    after = np.cumsum(piece[:, ::-1], axis=1)[:, ::-1]
    running += (after - piece)[:, :, None]
    return running, after[:, 0]
