"""What counts as a fit: every threshold of the fit-up in one record, so that a shop can set its own.

All figures are common practice without a source unless said otherwise; the adhesive's and the parts makers'
own instructions come first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from specdb.mechanics.bond import HEAD_SPEED_M_S, STRENGTH_FACTOR, SWING_RADIUS_M
from specdb.mechanics.constants import TAPER_GROWTH_IN_PER_IN
from specdb.records.rows import Adhesive

WOOD_LIKE = ("wood", "hybrid", "putter")


@dataclass(frozen=True, slots=True, kw_only=True)
class FitLimits:
    """Thresholds of the fit-up.

    Attributes
    ----------
    clearance_min_in, clearance_max_in : float
        Allowed diametral clearance (bore minus tip), in. Smaller: the tip does not enter, or squeezes the
        adhesive out. Larger: the bond is too thick.
    wall_min_in : float
        Hosel wall that reaming must leave, in.
    insertion_min_wood_in, insertion_min_iron_in : float
        Least insertion depth, in: woods, hybrids and putters; irons and wedges.
    taper_in_per_in : float
        How fast a taper bore (or the taper side of a sleeve) narrows from its mouth, in of diameter per in.
    head_speed_m_s, swing_radius_m : float
        Of the head's centripetal pull, which the bond must hold.
    bond_strength_factor : float
        Part of the adhesive's lap-shear strength that is counted on.
    bond_margin_min : float
        Least ratio of derated bond strength to that pull.
    trim_step_in, insertion_step_in : float
        Steps in which the planner changes tip trim and insertion, in.
    max_operations : int
        Most operations in one preparation.
    no_bend_deg : float
        A difference of loft or lie up to this asks for no bending, deg.
    ferrule_press_in, ferrule_gap_in : float
        How much smaller (pressed on) or larger a ferrule's hole may be than the shaft at the mouth, in.
    ferrule_step_in : float
        How much smaller than the hosel a ferrule may be outside before the step is worth a warning, in.
    grip_size_in : float
        How far a grip may come out over or under size before that is worth a warning, in.
    """

    clearance_min_in: float = 0.001
    clearance_max_in: float = 0.006
    wall_min_in: float = 0.040
    insertion_min_wood_in: float = 1.00
    insertion_min_iron_in: float = 1.10
    taper_in_per_in: float = TAPER_GROWTH_IN_PER_IN
    head_speed_m_s: float = HEAD_SPEED_M_S
    swing_radius_m: float = SWING_RADIUS_M
    bond_strength_factor: float = STRENGTH_FACTOR
    bond_margin_min: float = 1.0
    trim_step_in: float = 0.125
    insertion_step_in: float = 0.0625
    max_operations: int = 3
    no_bend_deg: float = 0.05
    ferrule_press_in: float = 0.010
    ferrule_gap_in: float = 0.010
    ferrule_step_in: float = 0.005
    grip_size_in: float = 0.016

    def insertion_min_in(self, club_type: str) -> float:
        """Least insertion depth, in.

        Parameters
        ----------
        club_type : str
            Of the head.
        """
        return self.insertion_min_wood_in if club_type in WOOD_LIKE else self.insertion_min_iron_in

    def for_adhesive(self, adhesive: Adhesive | None) -> FitLimits:
        """These limits with the adhesive's own gap limits in place of the usual ones, where it states them.

        Parameters
        ----------
        adhesive : Adhesive or None
            The adhesive; None leaves the limits as they are.
        """
        if adhesive is None:
            return self
        low, high = adhesive.gap_min_in, adhesive.gap_max_in
        return replace(
            self,
            clearance_min_in=self.clearance_min_in if low is None else low,
            clearance_max_in=self.clearance_max_in if high is None else high,
        )
