"""Twist of shafts whose torsional stiffness follows their bending stiffness.

``GJ(s) = k·EI(s)``, with ``k`` fixed by the rated twist of the raw shaft over its gauge span: a moment ``T``
twists a span by ``T·∫ds/GJ``, so that ``k = ∫_gauge ds/EI / twist`` and the installed twist is the rated one
times the ratio of ``∫ds/EI`` over the free span and over the gauge span. The twist of a shaft clamped at its
butt by 1 ft·lb at its tip, in degrees, is what the trade calls torque (US patent 5,971,865).

References
----------
Timoshenko & Gere, *Mechanics of Materials*, chapter on torsion: ``φ = ∫ T ds/(GJ)``.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from specdb.errors import MechanicsError
from specdb.mechanics.constants import DEG, FT_LB, IN

FloatArray = npt.NDArray[np.float64]


def torque_to_twist(torque_deg: float) -> float:
    """Rated twist per newton metre of a torque figure.

    Parameters
    ----------
    torque_deg : float
        Twist for 1 ft·lb, degrees.

    Returns
    -------
    float
        rad/(N·m).
    """
    return torque_deg * DEG / FT_LB


def mean_gj(torque_deg: float, gauge_in: float) -> float:
    """Mean torsional stiffness over the gauge span of a torque figure.

    Parameters
    ----------
    torque_deg : float
        Twist for 1 ft·lb, degrees.
    gauge_in : float
        Gauge length, in.

    Returns
    -------
    float
        Harmonic mean of GJ, N·m².

    Raises
    ------
    MechanicsError
        If either is not positive.
    """
    if not (torque_deg > 0 and gauge_in > 0):
        raise MechanicsError(f"torque {torque_deg} deg over {gauge_in} in: both must be positive")
    return gauge_in * IN / torque_to_twist(torque_deg)


def installed_torque_deg(
    twist_rad_per_nm: FloatArray, gauge_flexibility: FloatArray, free_flexibility: FloatArray
) -> FloatArray:
    """Torque of cut shafts, from the mouth to the clamp face.

    Parameters
    ----------
    twist_rad_per_nm : ndarray, shape (B,)
        Rated twist of the raw shafts, rad/(N·m); NaN where unknown.
    gauge_flexibility, free_flexibility : ndarray, shape (B,)
        ``∫ds/EI`` over the gauge span and from the mouth to the clamp face, 1/(N·m).

    Returns
    -------
    ndarray, shape (B,)
        Twist for 1 ft·lb, degrees; NaN where the rating is unknown.
    """
    result: FloatArray = FT_LB / DEG * twist_rad_per_nm * free_flexibility / gauge_flexibility
    return result
