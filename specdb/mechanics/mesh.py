"""Segments with Gauss nodes, and running integrals over them, many beams at once.

A beam is cut into segments at every place where its data have a corner, so that inside a segment everything
is smooth and a Gauss-Legendre rule with its spectral integration matrix is exact to rounding. Arrays are (B
beams, S segments, N nodes); a beam with fewer segments has segments of zero length at its far end, which
contribute nothing. No stiffness matrix is formed, so that segments of any shortness do no harm.

References
----------
Integral of Legendre polynomials, ``∫ P_k = (P_{k+1} - P_{k-1})/(2k + 1)``: NIST Digital Library of
Mathematical Functions, §18.9(iii).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.polynomial import legendre

from specdb.mechanics.profile import ShaftBatch, picked

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

NODES = 10
# Within a segment EI changes at most by this factor; then the pole of 1/EI lies so far off that 10 nodes
# suffice.
_MAX_RATIO = 1.8


def _rule(count: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Nodes, weights and the matrix of integrals from -1 to each node."""
    x, w = legendre.leggauss(count)
    value = legendre.legvander(x, count)
    integral = np.empty((count, count))
    integral[:, 0] = 1.0 + x
    for k in range(1, count):
        integral[:, k] = (value[:, k + 1] - value[:, k - 1]) / (2 * k + 1)
    coefficients = value[:, :count].T * w * (np.arange(count)[:, None] + 0.5)
    return x, w, integral @ coefficients


GAUSS_X, GAUSS_W, _FROM_LOW = _rule(NODES)
_FROM_HIGH = GAUSS_W - _FROM_LOW
_LOW_T = np.ascontiguousarray(_FROM_LOW.T)
_HIGH_T = np.ascontiguousarray(_FROM_HIGH.T)


def nodes_of(edge: FloatArray) -> FloatArray:
    """Gauss nodes of segments.

    Parameters
    ----------
    edge : ndarray, shape (B, S + 1)
        Ends of the segments, not decreasing, m.

    Returns
    -------
    ndarray, shape (B, S, N)
        Nodes, m.
    """
    half = 0.5 * np.diff(edge, axis=1)
    return (edge[:, :-1] + half)[:, :, None] + half[:, :, None] * GAUSS_X


def totals(values: FloatArray, half: FloatArray) -> FloatArray:
    """Integral over each segment.

    Parameters
    ----------
    values : ndarray, shape (B, S, N)
        Integrand at the nodes.
    half : ndarray, shape (B, S)
        Half-lengths of the segments, m.

    Returns
    -------
    ndarray, shape (B, S)
    """
    result: FloatArray = (values @ GAUSS_W) * half
    return result


def from_low(values: FloatArray, half: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Running integral from the low end of the beam.

    Parameters
    ----------
    values : ndarray, shape (B, S, N)
        Integrand at the nodes.
    half : ndarray, shape (B, S)
        Half-lengths of the segments, m.

    Returns
    -------
    running : ndarray, shape (B, S, N)
        Integral from the low end to each node.
    whole : ndarray, shape (B,)
        Integral over the beam.
    """
    running = (values @ _LOW_T) * half[:, :, None]
    whole = totals(values, half)
    upto = np.cumsum(whole, axis=1)
    running += (upto - whole)[:, :, None]
    return running, upto[:, -1]


def from_high(values: FloatArray, half: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Running integral to the high end of the beam.

    Parameters
    ----------
    values : ndarray, shape (B, S, N)
        Integrand at the nodes.
    half : ndarray, shape (B, S)
        Half-lengths of the segments, m.

    Returns
    -------
    running : ndarray, shape (B, S, N)
        Integral from each node to the high end.
    whole : ndarray, shape (B,)
        Integral over the beam.
    """
    running = (values @ _HIGH_T) * half[:, :, None]
    whole = totals(values, half)
    after = np.cumsum(whole[:, ::-1], axis=1)[:, ::-1]
    running += (after - whole)[:, :, None]
    return running, after[:, 0]


@dataclass(frozen=True, slots=True)
class ShaftMesh:
    """Segments of B raw shafts, cut at their stations and at given places.

    Attributes
    ----------
    edge : ndarray, shape (B, S + 1)
        Ends of the segments, m from the raw tip end.
    half : ndarray, shape (B, S)
        Half-lengths, m.
    node : ndarray, shape (B, S, N)
        Gauss nodes, m from the raw tip end.
    below : ndarray of int, shape (B, S)
        Station below each segment; EI is a straight line from it to the next (or constant).
    part : ndarray, shape (B, S, N)
        How far each node is on the way from that station to the next, 0 to 1.
    ei : ndarray, shape (B, S, N)
        EI at the nodes, N·m².
    """

    edge: FloatArray
    half: FloatArray
    node: FloatArray
    below: IntArray
    part: FloatArray
    ei: FloatArray

    def within(self, low: FloatArray, high: FloatArray) -> BoolArray:
        """Which segments lie between two places; both must be among the places that the mesh is cut at.

        Parameters
        ----------
        low, high : ndarray, shape (B,)
            Places, m from the raw tip end.

        Returns
        -------
        ndarray of bool, shape (B, S)
        """
        middle = 0.5 * (self.edge[:, 1:] + self.edge[:, :-1])
        inside: BoolArray = (middle > low[:, None]) & (middle < high[:, None])
        return inside


def mesh_shafts(batch: ShaftBatch, low: FloatArray, high: FloatArray, places: FloatArray) -> ShaftMesh:
    """Cut shafts into segments.

    Parameters
    ----------
    batch : ShaftBatch
        The shafts, B of them.
    low, high : ndarray, shape (B,)
        The span to cut up, m from the raw tip end.
    places : ndarray, shape (B, K)
        Places to cut at besides the stations, m from the raw tip end.

    Returns
    -------
    ShaftMesh
    """
    lowest, highest = low[:, None], high[:, None]
    points = np.concatenate([batch.station_m, _steep(batch), places], axis=1)
    # what lies outside the span ends up as segments of zero length at its high end
    points = np.where((points > lowest) & (points < highest), points, highest)
    edge = np.concatenate([lowest, np.sort(points, axis=1), highest], axis=1)
    used = int((edge < highest).sum(axis=1).max(initial=1))
    edge = edge[:, : used + 1]
    half = 0.5 * np.diff(edge, axis=1)
    middle = edge[:, :-1] + half
    below, _ = batch.locate(middle)
    start = picked(batch.station_m, below)
    step = picked(batch.station_m, below + 1) - start
    node = middle[:, :, None] + half[:, :, None] * GAUSS_X
    part = np.clip((node - start[:, :, None]) / step[:, :, None], 0.0, 1.0)
    part[batch.count == 1] = 0.0
    first = picked(batch.ei_n_m2, below)
    rise = picked(batch.ei_n_m2, below + 1) - first
    ei = first[:, :, None] + part * rise[:, :, None]
    return ShaftMesh(edge, half, node, below, part, ei)


def _steep(batch: ShaftBatch) -> FloatArray:
    """Further places to cut at where EI changes by a large factor between two stations, shape (B, any)."""
    low, high = batch.ei_n_m2[:, :-1], batch.ei_n_m2[:, 1:]
    log_ratio = np.log(high / low)
    pieces = np.ceil(np.abs(log_ratio) / np.log(_MAX_RATIO))
    most = int(pieces.max(initial=1.0))
    if most < 2:
        return np.empty((low.shape[0], 0))
    count = np.maximum(pieces, 1.0)[:, :, None]
    step = np.arange(1, most)[None, None, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.expm1(log_ratio[:, :, None] * step / count) / np.expm1(log_ratio[:, :, None])
    start = batch.station_m[:, :-1, None]
    place = start + np.diff(batch.station_m, axis=1)[:, :, None] * part
    place = np.where(step < count, place, -np.inf)
    flat: FloatArray = place.reshape(low.shape[0], -1)
    # outside every span: falls away; only the columns that some shaft needs are kept
    flat = -np.sort(-flat, axis=1)
    return flat[:, : int((flat > -np.inf).sum(axis=1).max(initial=0))]
