"""The fitted club as the reference: its features, their uncertainty, and the swing moment stand-ins restore."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from specdb.errors import MissingDataError
from specdb.matching.target import Target
from specdb.matching.weighting import COMPARED, Tolerances
from specdb.mechanics import defaults
from specdb.mechanics.assembly import Assembly, Parts, assemble
from specdb.mechanics.club import Installed, installed
from specdb.mechanics.constants import IN, IN_OZ
from specdb.mechanics.report import club_json

FloatArray = npt.NDArray[np.float64]
_BALANCE = next(i for i, f in enumerate(COMPARED) if f.name == "balance_in")


@dataclass(frozen=True, slots=True)
class Reference:
    """The fitted club, computed.

    Attributes
    ----------
    assembly : Assembly
        The club.
    state : Installed
        Its numbers, arrays of one row.
    values : ndarray, shape (features,)
        Features; NaN where there is no data.
    target_moment_kg_m : float
        Swing moment that stand-ins restore.
    """

    assembly: Assembly
    state: Installed
    values: FloatArray
    target_moment_kg_m: float

    def target(self, tolerances: Tolerances) -> Target:
        """What variants are held against.

        Parameters
        ----------
        tolerances : Tolerances
            Units and weights.
        """
        weight = np.where(np.isfinite(self.values), tolerances.weight, 0.0)
        return Target(self.values, self.state.sd_shaft[0], tolerances.absolute(np.nan_to_num(self.values)), weight)

    def head_add_limit_g(self, asked_g: float | None) -> float:
        """Most weight that a stand-in may take at the head, g.

        Parameters
        ----------
        asked_g : float or None
            The limit asked for; None: the usual one, or somewhat more than the fitted club takes.
        """
        if asked_g is not None:
            return asked_g
        return defaults.head_add_limit_g(float(self.state.head_add_g[0]))

    def to_json(self) -> dict[str, Any]:
        """The keys of ``mechanics``."""
        return club_json(self.assembly, self.state)


def solve_reference(club: Parts) -> Reference:
    """Compute the fitted club.

    The swingweight of the spec sheet is restored by weight at the head; without one the club is taken as it is, with
    the weight recorded as added, and its own swing moment is what stand-ins restore.

    Parameters
    ----------
    club : Parts
        The fitted club.

    Raises
    ------
    BuildError, MissingDataError
        If it cannot be computed.
    """
    assembly = assemble(club)
    state = installed([assembly.model], np.array([assembly.tip_trim_in * IN]), assembly.build)
    values = state.features[0].copy()
    if assembly.model.balance_from_tip_m is None:
        values[_BALANCE] = np.nan
    if not np.any(np.isfinite(values)):
        raise MissingDataError("nothing about the fitted club can be computed")
    target = assembly.build.target_moment_kg_m
    if target is None:
        target = float(state.swing_moment_in_oz[0]) * IN_OZ
    return Reference(assembly, state, values, target)
