"""Exact cell means of 1/EI on a uniform grid of the raw shaft, for many shafts at once.

Every functional of a cut shaft of the form ``∫ φ(s)/EI(s) ds`` then is one product of this table with weights that
depend on the query alone. EI is linear between stations and constant beyond them, so the integral of 1/EI over a
piece from e0 to e1 of length d is ``d·ln(e1/e0)/(e1 - e0)``.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics.constants import IN
from specdb.mechanics.stations import Stations

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]
IntArray = npt.NDArray[np.int64]

CELL_M = 0.25 * IN
_CHUNK = 2048
_THREADS = 2
_STEEP = 0.004  # of r², beyond which the series is cut too short for float32


@dataclass(frozen=True, slots=True)
class CellTable:
    """Cell means of 1/EI.

    Attributes
    ----------
    mean : ndarray of float32, shape (N, cells)
        Mean of 1/EI (1/(N·m²)) over raw cell j, from ``j·CELL_M`` to ``(j + 1)·CELL_M``; rows without stations
        are zero. Beyond the raw butt end the last station's value goes on, so that slices never run short.
    """

    mean: Float32Array

    @property
    def cells(self) -> int:
        """Number of cells a shaft."""
        return int(self.mean.shape[1])


def _mean_inverse(e0: FloatArray, e1: FloatArray) -> FloatArray:
    """Mean of 1/EI over a piece on which EI goes in a straight line from e0 to e1."""
    difference = e1 - e0
    close = np.abs(difference) < 1e-6 * e0
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.log(e1 / e0) / difference
    result: FloatArray = np.where(close, 2.0 / (e0 + e1), ratio)
    return result


def cell_means(stations: Stations, cells: int) -> CellTable:
    """Make the table.

    Parameters
    ----------
    stations : Stations
        Stations of N shafts, strictly increasing within a shaft.
    cells : int
        Number of cells, enough for the longest shaft.

    Returns
    -------
    CellTable
        Of shape (N, cells).
    """
    rows = len(stations.offset) - 1
    mean = np.zeros((rows, cells), dtype=np.float32)
    starts = range(0, rows, _CHUNK)

    def work(start: int) -> None:
        stop = min(start + _CHUNK, rows)
        _fill(stations, start, stop, mean[start:stop])

    if len(starts) <= 2:
        for start in starts:
            work(start)
    else:
        with ThreadPoolExecutor(_THREADS) as pool:
            list(pool.map(work, starts))
    return CellTable(mean)


def _fill(stations: Stations, start: int, stop: int, out: Float32Array) -> None:
    offset = stations.offset[start : stop + 1]
    count = np.diff(offset)
    have = np.flatnonzero(count > 0)
    if len(have) == 0:
        return
    part = slice(int(offset[0]), int(offset[-1]))
    place, ei = stations.position_m[part] / CELL_M, stations.ei_n_m2[part]  # place in cells
    first = (offset[:-1] - offset[0])[have]
    last = (offset[1:] - offset[0])[have] - 1
    edges = _edge_stiffness(place, ei, first, last, out.shape[1] + 1)
    # a cell without a station inside: EI is a straight line from edge to edge; ln((1+r)/(1-r))/(2r) by its series
    total = edges[:, 1:] + edges[:, :-1]
    r2 = np.square((edges[:, 1:] - edges[:, :-1]) / total)
    mean = (np.float32(2.0) + r2 * (np.float32(2.0 / 3.0) + r2 * np.float32(0.4))) / total
    steep = np.nonzero(r2 > _STEEP)
    if len(steep[0]):
        e0, e1 = (edges[steep[0], steep[1] + k].astype(np.float64) for k in (0, 1))
        mean[steep] = _mean_inverse(e0, e1)
    _mend_cells_with_stations(mean, edges, place, ei, first, last)
    out[have] = mean


def _edge_stiffness(place: FloatArray, ei: FloatArray, first: IntArray, last: IntArray, edges: int) -> Float32Array:
    """EI at the cell edges, shape (rows, edges); each straight piece is written out for the edges it covers."""
    step = np.diff(place, append=place[-1] + 1.0)
    slope = np.diff(ei, append=ei[-1]) / np.where(step > 0, step, 1.0)
    slope[last] = 0.0
    level = ei - slope * place
    at = np.clip(np.ceil(place), 0, edges).astype(np.int64)  # first edge at or behind a station
    covered = np.diff(at, append=edges)
    covered[last] = edges - at[last]
    # one more piece a row, ahead of the first station, where EI is constant
    level = np.insert(level, first, ei[first]).astype(np.float32)
    slope = np.insert(slope, first, 0.0).astype(np.float32)
    covered = np.insert(covered, first, at[first])
    x = np.arange(edges, dtype=np.float32)
    shape = (len(first), edges)
    value = np.repeat(slope, covered).reshape(shape) * x + np.repeat(level, covered).reshape(shape)
    return np.asarray(value, dtype=np.float32)


def _mend_cells_with_stations(
    mean: Float32Array,
    edges: Float32Array,
    place: FloatArray,
    ei: FloatArray,
    first: IntArray,
    last: IntArray,
) -> None:
    """Write the exact mean into the cells in which EI has a kink: the sum over the pieces between the kinks."""
    row = np.zeros(len(place), dtype=np.int64)
    row[first[1:]] = 1
    row = np.cumsum(row)
    cells = mean.shape[1]
    cell = np.floor(place).astype(np.int64)
    inside = (cell >= 0) & (cell < cells)
    # from a station to the next one in its cell, or to the end of the cell
    following = np.minimum(np.append(place[1:], 0.0), cell + 1.0)
    next_ei = np.append(ei[1:], 0.0)
    alone = np.ones(len(place), dtype=bool)
    alone[:-1] = cell[1:] != cell[:-1]
    alone[last] = True
    following = np.where(alone, cell + 1.0, following)
    safe = np.clip(cell, 0, cells - 1)
    end_ei = np.where(alone, edges[row, safe + 1], next_ei)
    behind = (following - place) * _mean_inverse(ei, end_ei)
    leads = np.ones(len(place), dtype=bool)
    leads[1:] = cell[1:] != cell[:-1]
    leads[first] = True
    ahead = np.where(leads, (place - cell) * _mean_inverse(edges[row, safe].astype(np.float64), ei), 0.0)
    slot = (row * cells + safe)[inside]
    starts = np.flatnonzero(leads[inside])
    if len(starts):
        mean.ravel()[slot[starts]] = np.add.reduceat((ahead + behind)[inside], starts)
