"""Everything about a club but its shaft, one by one and side by side.

Lengths are along the shaft axis. The mouth is where the shaft leaves the head (or the adapter); the tip is
rigid with the head from there on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from operator import attrgetter

import numpy as np
import numpy.typing as npt

from specdb.errors import BuildError, MechanicsError
from specdb.mechanics.constants import FULCRUM_IN, IN

FloatArray = npt.NDArray[np.float64]

FULCRUM_M = FULCRUM_IN * IN


@dataclass(frozen=True, slots=True)
class Build:
    """A club but for its shaft, SI.

    Attributes
    ----------
    cut_length_m : float
        Length of the cut shaft, m.
    insertion_m : float
        How deep the tip sits behind the mouth, m.
    clamp_m : float
        Clamped length of butt for frequency and static tests, m.
    head_kg : float
        Head, with what was added to it for good, kg.
    head_cg_m : float
        Its centre of gravity beyond the mouth, along the axis, m.
    mouth_kg : float
        Adapter, sleeve and ferrule, as a point mass at the mouth, kg.
    grip_kg : float
        Grip, kg.
    grip_balance_m : float
        Its centre of gravity from the butt end of the gripped club, m.
    grip_cap_m : float
        How far its cap sticks out past the butt end of the shaft, m.
    target_moment_kg_m : float or None
        Swing moment about the fulcrum (14 in from the butt end of the gripped club) to restore by weight at
        the head, mass times arm in kg·m; ``constants.IN_OZ`` turns inch-ounces into it. None: nothing is
        restored.
    max_add_kg : float or None
        Most weight that may be added at the head, kg; None: no limit.
    head_added_kg : float
        How much of ``head_kg`` is weight that was added to the head, kg; it is reported with what is added further.
    head_kg_sd, mouth_kg_sd, grip_kg_sd, cut_length_sd_m, head_cg_sd_m, grip_balance_sd_m : float
        Standard deviations, taken as independent.

    Raises
    ------
    BuildError
        If no free shaft is left between clamp and mouth, or the head lies at or behind the fulcrum of a club
        whose swing moment is to be restored.
    MechanicsError
        If a number is not finite, or negative where it cannot be.
    """

    cut_length_m: float
    insertion_m: float
    clamp_m: float
    head_kg: float
    head_cg_m: float
    mouth_kg: float
    grip_kg: float
    grip_balance_m: float
    grip_cap_m: float
    target_moment_kg_m: float | None = None
    max_add_kg: float | None = None
    head_added_kg: float = 0.0
    head_kg_sd: float = 0.0
    mouth_kg_sd: float = 0.0
    grip_kg_sd: float = 0.0
    cut_length_sd_m: float = 0.0
    head_cg_sd_m: float = 0.0
    grip_balance_sd_m: float = 0.0

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if value is not None and not (math.isfinite(value) and value >= 0.0):
                raise MechanicsError(f"{field.name} of a build must be zero or positive, is {value}")
        free = self.cut_length_m - self.clamp_m - self.insertion_m
        if free <= 0.0:
            raise BuildError(
                f"no free shaft is left: {self.cut_length_m / IN:.3f} in cut length less "
                f"{self.insertion_m / IN:.3f} in insertion and {self.clamp_m / IN:.3f} in clamp "
                f"is {free / IN:.3f} in"
            )
        lever = self.grip_cap_m + self.cut_length_m - self.insertion_m + self.head_cg_m - FULCRUM_M
        if self.target_moment_kg_m is not None and lever <= 0.0:
            raise BuildError(
                f"the head lies {-lever / IN:.2f} in behind the {FULCRUM_IN:g} in fulcrum: "
                "weight there cannot restore a swingweight"
            )


_NAMES = tuple(f.name for f in fields(Build))
_SD_NAMES = (
    "head_kg_sd",
    "mouth_kg_sd",
    "grip_kg_sd",
    "cut_length_sd_m",
    "head_cg_sd_m",
    "grip_balance_sd_m",
)
_values = attrgetter(*_NAMES)


@dataclass(frozen=True, slots=True)
class BuildBatch:
    """B builds side by side, arrays of shape (B,), named as in :class:`Build`; SI.

    No target is NaN, no limit is infinite. ``sd`` has shape (B, 6): head, mouth, grip, cut length, head cg,
    grip balance.
    """

    cut_length: FloatArray
    insertion: FloatArray
    clamp: FloatArray
    head_kg: FloatArray
    head_cg: FloatArray
    mouth_kg: FloatArray
    grip_kg: FloatArray
    grip_balance: FloatArray
    cap: FloatArray
    target: FloatArray
    limit: FloatArray
    head_added: FloatArray
    sd: FloatArray

    @classmethod
    def of(cls, builds: Build | Sequence[Build], count: int) -> BuildBatch:
        """Put builds side by side.

        Parameters
        ----------
        builds : Build or sequence of Build
            One for all, or one for each.
        count : int
            How many there must be, B.

        Raises
        ------
        MechanicsError
            If a sequence has another length.
        """
        if isinstance(builds, Build):
            table = np.broadcast_to(np.array(_values(builds), dtype=np.float64), (count, len(_NAMES)))
        elif len(builds) == count:
            table = np.array([_values(b) for b in builds], dtype=np.float64).reshape(count, len(_NAMES))
        else:
            raise MechanicsError(
                f"{count} shafts and {len(builds)} builds: there must be one build, or one for each shaft"
            )
        column = dict(zip(_NAMES, table.T, strict=True))
        limit = column["max_add_kg"]
        return cls(
            cut_length=column["cut_length_m"],
            insertion=column["insertion_m"],
            clamp=column["clamp_m"],
            head_kg=column["head_kg"],
            head_cg=column["head_cg_m"],
            mouth_kg=column["mouth_kg"],
            grip_kg=column["grip_kg"],
            grip_balance=column["grip_balance_m"],
            cap=column["grip_cap_m"],
            target=column["target_moment_kg_m"],
            limit=np.where(np.isnan(limit), np.inf, limit),
            head_added=column["head_added_kg"],
            sd=np.stack([column[name] for name in _SD_NAMES], axis=1),
        )

    @property
    def free(self) -> FloatArray:
        """Free length from the clamp face to the mouth, m."""
        return self.cut_length - self.clamp - self.insertion

    @property
    def exposed(self) -> FloatArray:
        """Length from the mouth to the butt end of the shaft, m."""
        return self.cut_length - self.insertion

    @property
    def mouth_arm(self) -> FloatArray:
        """The mouth from the butt end of the gripped club, m."""
        return self.cap + self.cut_length - self.insertion

    @property
    def head_arm(self) -> FloatArray:
        """The head's centre of gravity from the butt end of the gripped club, m."""
        return self.mouth_arm + self.head_cg
