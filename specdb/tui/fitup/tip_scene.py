"""What a drawing of tip in bore shows, in numbers: radii by depth, and the figures that stand beside it.

Convention: ``depth`` is measured downward from the mouth of the bore, along the axis, in; negative above the
mouth. Everything is taken from the fit-up's own geometry, so that drawing and verdict cannot disagree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.fitup import geometry as geo
from specdb.fitup.checks_tip import Seat, seat_of
from specdb.fitup.hole import sleeve_bore, sleeve_outside
from specdb.fitup.question import FitQuestion
from specdb.fitup.tips import missing_tip_fields

FloatArray = npt.NDArray[np.float64]
SAME_PLACE_IN = 1e-3
FITS, TIGHT, LOOSE, UNKNOWN = "ok", "tight", "loose", "?"


@dataclass(frozen=True, slots=True)
class Place:
    """One line of figures beside the drawing: something round in a round hole.

    Attributes
    ----------
    name : str
        What and where, in words.
    depth_in : float
        Below the mouth, in.
    hole_in, part_in, clearance_in : float
        Diameters of the hole and of what is in it, and the difference, in; NaN where unknown.
    verdict : str
        ``ok``, ``tight``, ``loose`` or ``?``, by the allowed clearance.
    """

    name: str
    depth_in: float
    hole_in: float
    part_in: float
    clearance_in: float
    verdict: str


@dataclass(frozen=True, slots=True)
class Scene:
    """A tip in its bore.

    Attributes
    ----------
    question : FitQuestion
        The build that is drawn.
    seat : Seat
        Its tip, hole and insertion.
    insertion_in : float
        How deep the tip sits, in.
    depth_in : float
        Depth of the bore, in; NaN where unknown.
    """

    question: FitQuestion
    seat: Seat
    insertion_in: float
    depth_in: float

    @property
    def under_tip_in(self) -> float:
        """Gap between the tip end and the bottom of the bore, in; NaN where the depth is unknown."""
        return self.depth_in - self.insertion_in

    def tip_radius_in(self, depth_in: FloatArray) -> FloatArray:
        """Radius of the shaft, in; NaN below its end and where unknown.

        Parameters
        ----------
        depth_in : ndarray, shape (K,)
            Depths below the mouth, in.
        """
        x = self.insertion_in - depth_in
        dia = geo.outside_diameter(self.seat.tip, self.question.tip_trim_in, np.maximum(x, 0.0)[:, None])[:, 0]
        return np.where(x >= -geo.TOLERANCE_IN, dia / 2.0, np.nan)

    def bore_radius_in(self, depth_in: FloatArray) -> FloatArray:
        """Radius of the bore, in; NaN above the mouth, below the bottom and where unknown.

        Parameters
        ----------
        depth_in : ndarray, shape (K,)
            Depths below the mouth, in.
        """
        deepest = self.depth_in if math.isfinite(self.depth_in) else self.insertion_in
        inside = (depth_in >= -geo.TOLERANCE_IN) & (depth_in <= deepest + geo.TOLERANCE_IN)
        return np.where(inside, self.seat.hole.bore.dia_at(depth_in) / 2.0, np.nan)

    def sleeve_radii_in(self, depth_in: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Inner and outer radius of the sleeve, in; NaN where there is none or it is unknown.

        Parameters
        ----------
        depth_in : ndarray, shape (K,)
            Depths below the mouth, in.
        """
        nowhere = np.full(depth_in.shape, np.nan)
        sleeve, limits = self.question.sleeve, self.question.limits
        if sleeve is None:
            return nowhere, nowhere
        # cut to the insertion; one that is too short is drawn from the tip end up
        length = self.insertion_in if sleeve.length_in is None else min(sleeve.length_in, self.insertion_in)
        x = self.insertion_in - depth_in
        inside = (x >= -geo.TOLERANCE_IN) & (x <= length + geo.TOLERANCE_IN)
        inner = sleeve_bore(sleeve, self.insertion_in, limits).dia_at(depth_in) / 2.0
        outer = geo.outside_diameter(sleeve_outside(sleeve, limits), 0.0, np.maximum(x, 0.0)[:, None])[:, 0] / 2.0
        return np.where(inside, inner, np.nan), np.where(inside, outer, np.nan)

    @property
    def parallel_left_in(self) -> float:
        """How much of the parallel section is left behind the new tip end, in; NaN where not known or none."""
        shaft = self.question.shaft
        if shaft.tip_form != "parallel" or shaft.tip_parallel_in is None:
            return math.nan
        return max(shaft.tip_parallel_in - self.question.tip_trim_in, 0.0)

    def places(self) -> list[Place]:
        """The lines of figures, from the mouth down."""
        left, deepest = self.parallel_left_in, self.insertion_in
        tip = {"tip at mouth": 0.0, "tip end": deepest}
        if math.isfinite(left) and 0.0 < left < deepest:
            tip["parallel ends"] = deepest - left
        worst = self._worst()
        if worst is not None and all(abs(worst - depth) > SAME_PLACE_IN for depth in tip.values()):
            tip["worst place"] = worst
        found = [self.tip_place(name, depth) for name, depth in tip.items()]
        if self.question.sleeve is not None:
            ends = {"sleeve at mouth": 0.0, "sleeve end": deepest}
            found += [self.sleeve_place(name, depth) for name, depth in ends.items()]
        return sorted(found, key=lambda p: p.depth_in)

    def tip_place(self, name: str, depth_in: float) -> Place:
        """The tip in the hole that it meets: the sleeve's where there is one, else the bore.

        Parameters
        ----------
        name : str
            Where, in words.
        depth_in : float
            Below the mouth, in.
        """
        at, bore, sleeve = np.array([depth_in]), self.seat.hole.bore, self.question.sleeve
        hole = bore if sleeve is None else sleeve_bore(sleeve, self.insertion_in, self.question.limits)
        return self._place(name, depth_in, float(hole.dia_at(depth_in)), 2.0 * float(self.tip_radius_in(at)[0]))

    def sleeve_place(self, name: str, depth_in: float) -> Place:
        """The sleeve in the bore.

        Parameters
        ----------
        name : str
            Where, in words.
        depth_in : float
            Below the mouth, in.
        """
        outside = float(self.sleeve_radii_in(np.array([depth_in]))[1][0])
        return self._place(name, depth_in, float(self.seat.hole.bore.dia_at(depth_in)), 2.0 * outside)

    def _place(self, name: str, depth_in: float, hole_in: float, part_in: float) -> Place:
        return Place(name, depth_in, hole_in, part_in, hole_in - part_in, self._judge(hole_in - part_in))

    def _judge(self, clearance_in: float) -> str:
        limits = self.question.gap_limits
        if math.isnan(clearance_in):
            return UNKNOWN
        if clearance_in < limits.clearance_min_in - geo.TOLERANCE_IN:
            return TIGHT
        return LOOSE if clearance_in > limits.clearance_max_in + geo.TOLERANCE_IN else FITS

    def _worst(self) -> float | None:
        """Depth where the tip stands furthest outside the allowed clearance, in; None where it does not."""
        limits, sleeve = self.question.gap_limits, self.question.sleeve
        bore = self.seat.hole.bore
        hole = bore if sleeve is None else sleeve_bore(sleeve, self.insertion_in, self.question.limits)
        x, gap = geo.gap_profile(self.seat.tip, self.question.tip_trim_in, self.insertion_in, hole)
        off = np.maximum(limits.clearance_min_in - gap, gap - limits.clearance_max_in)
        off = np.where(np.isfinite(off), off, -np.inf)
        at = int(np.argmax(off))
        return float(self.insertion_in - x[at]) if off[at] > geo.TOLERANCE_IN else None


def scene_of(question: FitQuestion) -> Scene | str:
    """What there is to draw, or a sentence that says why nothing can be drawn.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    seat = seat_of(question)
    if "adapter" in seat.hole.missing_bore:
        return "No drawing without an adapter: the head has a connection, and the bore is the adapter's."
    if seat.insertion_in is None:
        return f"No drawing without the insertion or {seat.hole.owner}.bore_depth_in."
    if math.isnan(float(seat.hole.bore.dia_at(0.0))):
        return f"No drawing without {' and '.join(seat.hole.missing_bore)}."
    if math.isnan(float(geo.outside_diameter(seat.tip, question.tip_trim_in, 0.0)[0])):
        return f"No drawing without {' and '.join(missing_tip_fields(question.shaft))}."
    depth = seat.hole.depth_in
    return Scene(question, seat, seat.insertion_in, math.nan if depth is None else depth)
