"""What is compared, what counts as one unit of difference, and how heavily.

The order of the features is that of :data:`specdb.mechanics.club.FEATURES` throughout.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.errors import UsageError
from specdb.mechanics.club import FEATURES
from specdb.records.rows import Weighting

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Feature:
    """One compared feature.

    Attributes
    ----------
    name : str
        Name in :data:`FEATURES`.
    key : str
        Key in JSON answers, with its unit.
    column : str
        Stem of its columns in a weighting record.
    title, unit : str
        For a person.
    tolerance : float
        Difference that counts as one unit.
    relative : bool
        Whether the tolerance is in percent of the reference.
    decimals : int
        Decimals shown.
    """

    name: str
    key: str
    column: str
    title: str
    unit: str
    tolerance: float
    relative: bool = False
    decimals: int = 1


COMPARED: tuple[Feature, ...] = (
    Feature("frequency_cpm", "frequency_cpm", "frequency", "frequency", "cpm", 2.5),
    Feature("tip_ei", "tip_ei_n_m2", "tip_ei", "tip stiffness", "N·m²", 5.0, relative=True),
    Feature("mid_ei", "mid_ei_n_m2", "mid_ei", "middle stiffness", "N·m²", 5.0, relative=True),
    Feature("butt_ei", "butt_ei_n_m2", "butt_ei", "butt stiffness", "N·m²", 5.0, relative=True),
    Feature("torque_deg", "torque_deg", "torque", "torque", "deg", 0.3, decimals=2),
    Feature("shaft_weight_g", "shaft_weight_g", "shaft_weight", "shaft weight", "g", 4.0),
    Feature("balance_in", "shaft_balance_from_butt_in", "balance", "shaft balance point", "in", 0.4, decimals=2),
    Feature("kick_point_pct", "kick_point_pct", "kick_point", "kick point", "%", 0.75, decimals=2),
    Feature("total_weight_g", "total_weight_g", "total_weight", "total weight", "g", 5.0),
    Feature("moi_kg_cm2", "moi_butt_kg_cm2", "moi", "MOI", "kg·cm²", 12.0, decimals=0),
)
if tuple(f.name for f in COMPARED) != tuple(FEATURES):
    raise AssertionError("the compared features and the computed features are out of step")


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Units and weights, in the order of the features.

    Attributes
    ----------
    name : str
        Name of the weighting.
    unit : ndarray, shape (features,)
        Difference that counts as one unit; percent where the feature is relative.
    weight : ndarray, shape (features,)
        Weight in the score; 0 leaves a feature out.
    """

    name: str
    unit: FloatArray
    weight: FloatArray

    @classmethod
    def default(cls) -> Tolerances:
        """The default tolerances, all weights one."""
        return cls("default", np.array([f.tolerance for f in COMPARED]), np.ones(len(COMPARED)))

    @classmethod
    def from_record(cls, record: Weighting) -> Tolerances:
        """A shop's named weighting; empty cells take the default.

        Parameters
        ----------
        record : Weighting
            From the catalogue.

        Raises
        ------
        UsageError
            If it leaves every feature out.
        """
        base = cls.default()
        unit, weight = base.unit.copy(), base.weight.copy()
        for i, feature in enumerate(COMPARED):
            own_unit = getattr(record, f"{feature.column}_unit")
            own_weight = getattr(record, f"{feature.column}_weight")
            unit[i] = unit[i] if own_unit is None else own_unit
            weight[i] = weight[i] if own_weight is None else own_weight
        if not np.any(weight > 0):
            raise UsageError(f"the weighting {record.id} leaves every feature out")
        return cls(record.id, unit, weight)

    def absolute(self, reference: FloatArray) -> FloatArray:
        """One unit of each feature in the feature's own unit, for a reference.

        Parameters
        ----------
        reference : ndarray, shape (features,)
            Features of the reference.
        """
        relative = np.array([f.relative for f in COMPARED])
        scaled: FloatArray = np.where(relative, self.unit / 100.0 * np.abs(reference), self.unit)
        return scaled
