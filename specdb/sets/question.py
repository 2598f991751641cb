"""What is asked about a set, and what the answer is scored by."""

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
from specdb.sets.members import SetMember

TRIM_STEP_IN = 0.25
REFINED_IN = 0.125
SLOPE_UNIT = 0.5  # cpm per half inch; the term for the slope is in these units
SLOPE_COST = 0.10  # score for one such unit: over five clubs it puts the outer ones 1 cpm off each way

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Filters:
    """What one club of the set may take.

    Attributes
    ----------
    only : ndarray of bool, shape (N,), or None
        Rows of the index that may be proposed; None: all.
    only_reason : str
        Why the others may not.
    filters : tuple of (str, ndarray of bool, shape (N,))
        What ``only`` is made of.
    rejected : mapping of str to str
        Shafts turned down for this club, with the reason.
    """

    only: BoolArray | None = None
    only_reason: str = "left out by the filter"
    filters: tuple[tuple[str, BoolArray], ...] = ()
    rejected: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetQuestion:
    """A fitted set and what may stand in for its shafts.

    Attributes
    ----------
    set_id : str
        Name of the set.
    members : tuple of SetMember
        Its clubs.
    shelf, limits, tolerances, max_head_add_g, without
        As for one club (:class:`specdb.matching.question.SubstituteQuestion`).
    top : int
        How many models.
    refine : bool
        Whether first trim and step are refined from a quarter to an eighth of an inch.
    filters : mapping of str to Filters
        By club; clubs that are not in it take anything.
    pieces : ndarray of int, shape (N,), or None
        Pieces on hand of every row of the index; None where nobody knows.
    all_on_hand : bool
        Whether only models of which all pieces are on hand are proposed.
    fitted_too : bool
        Whether the fitted model itself is proposed, too.
    """

    set_id: str
    members: tuple[SetMember, ...]
    shelf: Shelf = field(default_factory=Shelf)
    limits: FitLimits = field(default_factory=FitLimits)
    tolerances: Tolerances = field(default_factory=Tolerances.default)
    max_head_add_g: float | None = None
    without: frozenset[Operation] = frozenset()
    top: int = 10
    refine: bool = True
    filters: Mapping[str, Filters] = field(default_factory=dict)
    pieces: npt.NDArray[np.int64] | None = None
    all_on_hand: bool = False
    fitted_too: bool = False

    def __post_init__(self) -> None:
        if self.top < 1:
            raise UsageError("at least one result must be asked for")
        if self.all_on_hand and self.pieces is None:
            raise UsageError("no stock of shafts is booked, so none can be said to be on hand")


def slope_term(difference: float) -> float:
    """What a difference in slope adds to the score of a set.

    Parameters
    ----------
    difference : float
        Of the stand-in less the fitted set, cpm per half inch.
    """
    return SLOPE_COST * abs(difference) / SLOPE_UNIT
