"""Reaming a glued head's bore: how far it may go, and to which size for which tip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from specdb.fitup import geometry as geo
from specdb.fitup.hole import Hole
from specdb.fitup.limits import FitLimits
from specdb.records.rows import Head

REAM_LEAST_IN = 0.0005  # less than this is no reaming
REAM_DIGITS = 4  # a reamed diameter is given to a tenth of a thousandth of an inch


@dataclass(frozen=True, slots=True)
class Ream:
    """How far a bore may be reamed, and to what form.

    Attributes
    ----------
    form : str
        ``parallel`` or ``taper``, of the reamed hole.
    least_in, most_in : float
        Diameter at the mouth, in: the reamed hole must contain the old one, and stay within the maker's
        limit with wall enough left.
    depth_in, taper_in_per_in : float
        Of the bore.
    """

    form: str
    least_in: float
    most_in: float
    depth_in: float
    taper_in_per_in: float

    def bore_for(
        self, tip: geo.TipArrays, tip_trim_in: float | geo.FloatArray, insertion_in: float, limits: FitLimits
    ) -> geo.Bore:
        """The reamed hole for each tip: the middle of the allowed clearance, as far as allowed.

        Parameters
        ----------
        tip : TipArrays
            N tips, or the outside of a sleeve.
        tip_trim_in : float or ndarray broadcasting with (N,)
            Tip trim, in.
        insertion_in : float
            How deep it sits, in.
        limits : FitLimits
            Allowed clearance.
        """
        trial = geo.Bore(self.least_in, self.form, self.depth_in, self.taper_in_per_in)
        gap = geo.clearance(tip, tip_trim_in, insertion_in, trial)
        middle = (limits.clearance_min_in + limits.clearance_max_in) / 2.0
        wanted = self.least_in + middle - (gap.smallest + gap.largest) / 2.0
        dia = np.clip(np.round(wanted, REAM_DIGITS), self.least_in, self.most_in)
        return geo.Bore(dia, self.form, self.depth_in, self.taper_in_per_in)


def reams(head: Head, hole: Hole, limits: FitLimits) -> tuple[list[Ream], list[str]]:
    """How a head's bore may be reamed, and the fields for want of which it may not.

    Parameters
    ----------
    head : Head
        A glued head.
    hole : Hole
        Its bore.
    limits : FitLimits
        Least wall.

    Returns
    -------
    ways : list of Ream
        Empty where reaming is refused.
    missing : list of str
        Unknown fields that refuse it.
    """
    needed = {"head.max_ream_dia_in": head.max_ream_dia_in, "head.hosel_outer_dia_in": head.hosel_outer_dia_in}
    missing = [*hole.missing_bore, *(name for name, value in needed.items() if value is None)]
    if head.max_ream_dia_in is None or head.hosel_outer_dia_in is None or hole.missing_bore or head.connection:
        return [], missing
    most = min(head.max_ream_dia_in, head.hosel_outer_dia_in - 2.0 * limits.wall_min_in)
    old, depth, rate = hole.bore, hole.bore.depth_in, limits.taper_in_per_in
    mouth, bottom = float(old.dia_at(0.0)), float(old.dia_at(depth))
    least = {
        "parallel": mouth if old.form == "taper" else mouth + REAM_LEAST_IN,
        "taper": max(mouth + REAM_LEAST_IN, bottom + rate * depth),
    }
    return [Ream(form, d, most, depth, rate) for form, d in least.items() if d <= most], []
