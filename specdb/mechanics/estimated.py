"""Shafts whose stiffness is estimated rather than tabled: where an estimate takes the place of stations.

An estimate is a profile at nodes with the full covariance of ln EI. Where it comes from is no business of the
mechanics; they only need to know for which shafts it stands in. That is wherever there is no complete EI table, and
where the bench has readings that a table cannot take in (frequency, deflection).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# a table of at least so many stations over so much of the raw length stands for itself (a stated judgement, no source)
COMPLETE_STATIONS = 6
COMPLETE_SPAN = 0.5
BEYOND_A_TABLE = ("frequency", "deflection")  # quantities that only an estimate can take in
_CHUNK = 8192


@dataclass(frozen=True, slots=True)
class EstimatedProfiles:
    """Estimates of E shafts, for any piece of them.

    Attributes
    ----------
    shaft_ids : sequence of str, E of them
        Keys.
    node_t : ndarray, shape (n,)
        Nodes, as parts of the raw length from the tip.
    ei_n_m2 : ndarray, shape (E, n)
        Stiffness at the nodes, N·m².
    log_ei_cov : ndarray of float32, shape (E, n, n)
        Covariance of ln EI at the nodes, scatter from piece to piece in it.
    mass_kg, mass_sd_kg : ndarray, shape (E,)
        Mass of the raw shaft, kg.
    """

    shaft_ids: Sequence[str]
    node_t: FloatArray
    ei_n_m2: FloatArray
    log_ei_cov: Float32Array
    mass_kg: FloatArray
    mass_sd_kg: FloatArray

    def __len__(self) -> int:
        return len(self.shaft_ids)

    def place_of(self, ids: Sequence[str]) -> IntArray:
        """Which estimate each of some shafts has, -1 where none, shape (N,).

        Parameters
        ----------
        ids : sequence of str
            Keys of the shafts.
        """
        place = {key: i for i, key in enumerate(self.shaft_ids)}
        return np.array([place.get(i, -1) for i in ids], dtype=np.int64)

    def covariance(self, place: int) -> FloatArray:
        """Covariance of ln EI at the nodes of one estimate, shape (n, n).

        Parameters
        ----------
        place : int
            Which estimate.
        """
        given = self.log_ei_cov[place].astype(np.float64)
        return np.asarray(0.5 * (given + given.T))

    def least_mean_variance(self) -> FloatArray:
        """Least variance of a mean of ln EI over the nodes with weights that add up to one, shape (E,).

        It is ``1/(1ᵀC⁻¹1)``, that of the best linear unbiased estimate of a common mean (Aitken, *On least squares
        and linear combination of observations*, Proc. R. Soc. Edinb. 55 (1936) 42).
        """
        one = np.ones(self.node_t.size)
        out = np.empty(len(self))
        for start in range(0, len(self), _CHUNK):
            part = self.log_ei_cov[start : start + _CHUNK].astype(np.float64)
            solved = np.linalg.solve(part, np.broadcast_to(one[:, None], (len(part), one.size, 1)))
            out[start : start + _CHUNK] = 1.0 / solved[:, :, 0].sum(axis=1)
        return out


def complete(count: IntArray, first_m: FloatArray, last_m: FloatArray, raw_m: FloatArray) -> BoolArray:
    """Whether stations make a complete table, shape (N,).

    Parameters
    ----------
    count : ndarray of int, shape (N,)
        Stations of each shaft.
    first_m, last_m : ndarray, shape (N,)
        First and last station, m from the raw tip end; NaN without stations.
    raw_m : ndarray, shape (N,)
        Raw length, m.
    """
    with np.errstate(invalid="ignore"):
        enough: BoolArray = (count >= COMPLETE_STATIONS) & (last_m - first_m >= COMPLETE_SPAN * raw_m)
    return enough
