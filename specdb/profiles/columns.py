"""Estimates as plain columns, for storing thousands of them, and back to what the mechanics compute with.

Kept is the state of the nominal shaft with its covariance; scatter from piece to piece and detail between the nodes
are added on the way back, as :meth:`specdb.profiles.estimate.ProfileEstimate.model` does for one shaft.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics.estimated import EstimatedProfiles
from specdb.profiles.estimate import ProfileEstimate, balance_part, twist_over
from specdb.profiles.evidence import detail_of
from specdb.profiles.solver import OFFSET_OF, OFFSET_SD
from specdb.profiles.state import BALANCE, EI, GROUPS, MASS, NODE_T, NODES, SIZE

Float32Array = npt.NDArray[np.float32]
FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_UPPER = np.triu_indices(SIZE)
TRIANGLE = _UPPER[0].size
_CHUNK = 8192


@dataclass(frozen=True, slots=True)
class EstimateColumns:
    """Estimates of E shafts.

    Attributes
    ----------
    shaft_ids : list of str
        Keys.
    group : ndarray of int, shape (E,)
        Row of ``state.GROUPS``.
    state : ndarray of float32, shape (E, SIZE)
        Nominal shaft.
    covariance : ndarray of float32, shape (E, TRIANGLE)
        Upper triangle of its covariance, row after row.
    piece_sd : ndarray, shape (E,)
        Scatter of ln EI from piece to piece.
    readings, outliers : ndarray of int, shape (E,)
        Readings it was made from, and how many are more than three standard deviations off.
    """

    shaft_ids: list[str]
    group: IntArray
    state: Float32Array
    covariance: Float32Array
    piece_sd: FloatArray
    readings: IntArray
    outliers: IntArray

    @classmethod
    def of(cls, estimates: Sequence[ProfileEstimate]) -> EstimateColumns:
        """Columns of estimates.

        Parameters
        ----------
        estimates : sequence of ProfileEstimate
            The estimates, E of them.
        """
        return cls(
            shaft_ids=[e.shaft_id for e in estimates],
            group=np.array([e.group for e in estimates], dtype=np.int64),
            state=np.array([e.state[:SIZE] for e in estimates], dtype=np.float32).reshape(-1, SIZE),
            covariance=np.array([e.covariance[:SIZE, :SIZE][_UPPER] for e in estimates], dtype=np.float32).reshape(
                -1, TRIANGLE
            ),
            piece_sd=np.array([e.piece_sd for e in estimates], dtype=np.float64),
            readings=np.array([len(e.evidence) for e in estimates], dtype=np.int64),
            outliers=np.array([len(e.outliers) for e in estimates], dtype=np.int64),
        )

    def __len__(self) -> int:
        return len(self.shaft_ids)

    def covariance_of(self, place: int) -> FloatArray:
        """Covariance of the state of one nominal shaft, shape (SIZE, SIZE).

        Parameters
        ----------
        place : int
            Which estimate.
        """
        full = np.zeros((SIZE, SIZE))
        full[_UPPER] = self.covariance[place]
        return full + np.triu(full, 1).T

    def figures(self, place: int, raw_m: float, gauge_m: tuple[float, float]) -> tuple[float, float, float, float]:
        """Balance point and torsion of one nominal shaft, for where neither a data sheet nor the bench tells them.

        Parameters
        ----------
        place : int
            Which estimate.
        raw_m : float
            Raw length, m.
        gauge_m : tuple of float
            Gauge span, m from the raw tip end.

        Returns
        -------
        balance, balance_sd : float
            From the raw tip end, as a part of the raw length.
        twist, twist_sd : float
            Over the gauge span, rad/(N·m).
        """
        state, covariance = self.state[place].astype(np.float64), self.covariance_of(place)
        twist, twist_sd = twist_over(state, covariance, raw_m, gauge_m)
        return balance_part(state), float(np.sqrt(covariance[BALANCE, BALANCE])), twist, twist_sd

    def profiles(self) -> EstimatedProfiles:
        """The estimates for the mechanics: of any piece of each shaft."""
        count = len(self)
        at = np.zeros((SIZE, SIZE), dtype=np.int64)
        at[_UPPER] = np.arange(TRIANGLE)
        nodes = np.maximum(at, at.T)[:NODES, :NODES].ravel()
        log_ei_cov = np.empty((count, NODES, NODES), dtype=np.float32)
        level = OFFSET_OF[:, EI]
        fixed = (level[1:].T * OFFSET_SD[1:] ** 2) @ level[1:]
        common = np.outer(level[0], level[0])
        # detail reaches less far than a node spacing; a club averages over it, so that a third of it is left at a node
        detail = np.stack([np.diag((detail_of(g, NODE_T) / 3.0) ** 2) for g in range(len(GROUPS))])
        for start in range(0, count, _CHUNK):
            part = slice(start, start + _CHUNK)
            own = self.covariance[part][:, nodes].reshape(-1, NODES, NODES).astype(np.float64)
            own += fixed + common * self.piece_sd[part, None, None] ** 2 + detail[self.group[part]]
            log_ei_cov[part] = own
        mass = np.exp(self.state[:, MASS].astype(np.float64))
        return EstimatedProfiles(
            shaft_ids=self.shaft_ids,
            node_t=NODE_T,
            ei_n_m2=np.exp(self.state[:, EI].astype(np.float64)),
            log_ei_cov=log_ei_cov,
            mass_kg=mass,
            mass_sd_kg=mass * np.sqrt(np.maximum(self.covariance[:, at[MASS, MASS]].astype(np.float64), 0.0)),
        )
