"""Bond between shaft and head: what the glue can hold, what a swing asks of it.

Capacity is the bonded area ``π·d·L`` times the shear strength from the adhesive's record (lap shear, ASTM
D1002), times a stated factor: a lap-shear coupon is prepared, loaded and kept better than a club. Demand is
the pull of the head at the bottom of the swing, ``m·v²/r``. The figure is a check on a build, no warranty:
the adhesive maker's instructions on preparation, mixing, gap and full cure come first, and a bond that is too
short or too loose lets a head fly off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from specdb.errors import MechanicsError

HEAD_SPEED_M_S = 55.0  # a fast driver swing, about 123 mph (common practice, no source)
SWING_RADIUS_M = 1.0  # of the head's path about the instant centre, on the small side (common practice, no source)
STRENGTH_FACTOR = 0.25  # of lap shear that is counted on: ageing, heat, impact, uneven film (a stated judgement)


@dataclass(frozen=True, slots=True)
class Bond:
    """Capacity and demand of a bond.

    Attributes
    ----------
    area_m2 : float
        Bonded area, m².
    capacity_n : float
        What is counted on, N.
    demand_n : float
        Pull of the head, N.
    """

    area_m2: float
    capacity_n: float
    demand_n: float

    @property
    def margin(self) -> float:
        """Capacity over demand; below 1 the bond is not enough."""
        return self.capacity_n / self.demand_n


def bond(
    diameter_m: float,
    length_m: float,
    shear_pa: float,
    head_kg: float,
    *,
    speed_m_s: float = HEAD_SPEED_M_S,
    radius_m: float = SWING_RADIUS_M,
    factor: float = STRENGTH_FACTOR,
) -> Bond:
    """Bond of a tip in a bore.

    Parameters
    ----------
    diameter_m : float
        Diameter of the tip, m.
    length_m : float
        Bonded length, m.
    shear_pa : float
        Lap-shear strength of the adhesive, Pa.
    head_kg : float
        Everything that hangs on the bond: head, added weight, adapter, kg.
    speed_m_s : float
        Speed of the head, m/s.
    radius_m : float
        Radius of its path, m.
    factor : float
        Part of the lap-shear strength that is counted on, over 0 up to 1.

    Returns
    -------
    Bond

    Raises
    ------
    MechanicsError
        If a figure is not positive, or the factor is over 1.

    References
    ----------
    Lap shear: ASTM D1002. Centripetal force ``m·v²/r``: any text on dynamics.
    """
    named = {
        "diameter": diameter_m,
        "bonded length": length_m,
        "shear strength": shear_pa,
        "head mass": head_kg,
        "head speed": speed_m_s,
        "swing radius": radius_m,
        "strength factor": factor,
    }
    for name, value in named.items():
        if not (math.isfinite(value) and value > 0):
            raise MechanicsError(f"{name} must be a positive number, is {value}")
    if factor > 1.0:
        raise MechanicsError(f"strength factor must not be over 1, is {factor}")
    area = math.pi * diameter_m * length_m
    return Bond(area, area * shear_pa * factor, head_kg * speed_m_s**2 / radius_m)
