"""Stiffness of round tubes.

References
----------
Second moment of area ``I = π(D⁴ - d⁴)/64`` and polar moment ``J = 2·I``: Timoshenko & Gere, *Mechanics of
Materials*.
"""

from __future__ import annotations

import math

from specdb.errors import MechanicsError


def tube_second_moment(outer_m: float, wall_m: float) -> float:
    """Second moment of area of a round tube.

    Parameters
    ----------
    outer_m, wall_m : float
        Outside diameter and wall thickness, m.

    Returns
    -------
    float
        I, m⁴.

    Raises
    ------
    MechanicsError
        If the wall is not between nothing and half the diameter.
    """
    if not 0.0 < wall_m <= 0.5 * outer_m:
        raise MechanicsError(f"a wall of {wall_m} m in a tube of {outer_m} m outside diameter is impossible")
    inner = outer_m - 2.0 * wall_m
    return math.pi * (outer_m**4 - inner**4) / 64.0


def tube_ei(outer_m: float, wall_m: float, modulus_pa: float) -> float:
    """Bending stiffness of a round tube.

    Parameters
    ----------
    outer_m, wall_m : float
        Outside diameter and wall thickness, m.
    modulus_pa : float
        Young's modulus along the tube, Pa.

    Returns
    -------
    float
        EI, N·m².

    Raises
    ------
    MechanicsError
        If the wall is impossible.
    """
    return modulus_pa * tube_second_moment(outer_m, wall_m)
