"""What is asked of the matching engine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from specdb.errors import UsageError
from specdb.fitup.limits import FitLimits
from specdb.fitup.question import Shelf
from specdb.fitup.report import Operation
from specdb.matching.weighting import Tolerances
from specdb.mechanics.assembly import Parts
from specdb.mechanics.cells import CELL_M
from specdb.mechanics.constants import IN
from specdb.records.rows import Adhesive

# which shafts may stand in for one another: what a shaft is sold for, by the head it is to go in
COMPATIBLE: Mapping[str, frozenset[str]] = {
    "wood": frozenset({"wood", "hybrid"}),
    "hybrid": frozenset({"hybrid", "wood", "iron"}),
    "iron": frozenset({"iron", "hybrid", "wedge"}),
    "wedge": frozenset({"wedge", "iron"}),
    "putter": frozenset({"putter"}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SubstituteQuestion:
    """A fitted club and what may stand in for its shaft.

    Attributes
    ----------
    club : Parts
        The fitted club, with the fitted shaft.
    setting : str or None
        Adapter setting that was fitted.
    adhesive : Adhesive or None
        Adhesive; its gap limits hold for the fit where it is named.
    shelf : Shelf
        Sleeves, adapters and ferrules that may be used, with stock.
    limits : FitLimits
        Limits of the fit-up check.
    tolerances : Tolerances
        Units and weights.
    top : int
        How many results.
    trim_step_in : float
        Step of the tip trim that is searched; a multiple of 0.25 in.
    refine_in : float or None
        Finer step around the best trims; None: no refinement.
    max_head_add_g : float or None
        Most weight that may be added at the head to restore the swingweight; None: the usual limit, or somewhat more
        than the fitted club takes where that is more.
    only : ndarray of bool, shape (N,), or None
        Rows of the index that may be proposed (stock, price); None: all.
    only_reason : str
        Why the others may not.
    filters : tuple of (str, ndarray of bool, shape (N,))
        What ``only`` is made of, so that each shaft is told its own reasons: what is wrong with the others, and the
        rows that pass.
    without : frozenset of Operation
        What the workshop will not do to get a tip in.
    rejected : mapping of str to str
        Shafts turned down for this club, with the reason.
    """

    club: Parts
    setting: str | None = None
    adhesive: Adhesive | None = None
    shelf: Shelf
    limits: FitLimits = field(default_factory=FitLimits)
    tolerances: Tolerances = field(default_factory=Tolerances.default)
    top: int = 20
    trim_step_in: float = 0.25
    refine_in: float | None = 0.125
    max_head_add_g: float | None = None
    only: npt.NDArray[np.bool_] | None = None
    only_reason: str = "left out by the filter"
    filters: tuple[tuple[str, npt.NDArray[np.bool_]], ...] = ()
    without: frozenset[Operation] = frozenset()
    rejected: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        cells = self.trim_step_in * IN / CELL_M
        if self.trim_step_in <= 0 or abs(cells - round(cells)) > 1e-9:
            raise UsageError(f"a tip trim step of {self.trim_step_in:g} in is no multiple of 0.25 in")
        if self.top < 1:
            raise UsageError("at least one result must be asked for")
        if self.max_head_add_g is not None and self.max_head_add_g < 0:
            raise UsageError("the weight that may be added at the head cannot be negative")
        if self.refine_in is not None and not 0 < self.refine_in < self.trim_step_in:
            raise UsageError("the refined step must be smaller than the step of the tip trim")
