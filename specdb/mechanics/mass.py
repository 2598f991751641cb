"""Mass, balance point, swing moment and moment of inertia of cut shafts and clubs, closed form.

Mass per length is the straight line ``m(s) = a + c·s``, ``s`` from the raw tip end. With ``w`` the mass per
length in the middle of the cut span of length ``l``: mass ``w·l``, first moment about the butt end ``w·l²/2 -
c·l³/12``, second moment ``w·l³/3 - c·l⁴/12``. A swing moment is mass times arm about the fulcrum, in kg·m
(without gravity); ``constants.IN_OZ`` turns inch-ounces into it. Moments of inertia are about the butt end of
the gripped club; every part but the shaft is a point mass.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CutMass:
    """Mass of cut shafts.

    Attributes
    ----------
    mass : ndarray, shape (B,)
        Mass, kg.
    first : ndarray, shape (B,)
        First moment about the butt end of the shaft, kg·m.
    second : ndarray, shape (B,)
        Second moment about the butt end of the shaft, kg·m².
    """

    mass: FloatArray
    first: FloatArray
    second: FloatArray

    @property
    def balance_from_butt_m(self) -> FloatArray:
        """Balance point from the butt end of the cut shaft, m, shape (B,)."""
        return self.first / self.mass


def cut_mass(a: FloatArray, c: FloatArray, tip_trim_m: FloatArray, cut_length_m: FloatArray) -> CutMass:
    """Mass of a shaft after it is cut.

    Parameters
    ----------
    a, c : ndarray, shape (B,)
        Mass per length ``a + c·s``, kg/m and kg/m².
    tip_trim_m, cut_length_m : ndarray, shape (B,)
        What is cut off the tip, and the length that remains, m.

    Returns
    -------
    CutMass
        Linear in ``a`` and ``c``.
    """
    length = cut_length_m
    middle = a + c * (tip_trim_m + 0.5 * length)
    return CutMass(
        mass=middle * length,
        first=0.5 * middle * length**2 - c * length**3 / 12.0,
        second=middle * length**3 / 3.0 - c * length**4 / 12.0,
    )


@dataclass(frozen=True, slots=True)
class PointMasses:
    """Parts besides the shaft: masses (kg), arms from the butt end of the gripped club (m), shape (B,)."""

    head_kg: FloatArray
    head_arm: FloatArray
    mouth_kg: FloatArray
    mouth_arm: FloatArray
    grip_kg: FloatArray
    grip_arm: FloatArray


def swing_moment(shaft: CutMass, cap_m: FloatArray, parts: PointMasses, fulcrum_m: float) -> FloatArray:
    """Moment of a club about the fulcrum.

    Parameters
    ----------
    shaft : CutMass
        The cut shaft.
    cap_m : ndarray, shape (B,)
        How far the grip's cap sticks out past the butt end of the shaft, m.
    parts : PointMasses
        Everything else.
    fulcrum_m : float
        The fulcrum, m from the butt end of the gripped club.

    Returns
    -------
    ndarray, shape (B,)
        Moment, kg·m.
    """
    moment: FloatArray = (
        shaft.first
        + (cap_m - fulcrum_m) * shaft.mass
        + parts.head_kg * (parts.head_arm - fulcrum_m)
        + parts.mouth_kg * (parts.mouth_arm - fulcrum_m)
        + parts.grip_kg * (parts.grip_arm - fulcrum_m)
    )
    return moment


def inertia_about_butt(shaft: CutMass, cap_m: FloatArray, parts: PointMasses) -> FloatArray:
    """Moment of inertia of a club about the butt end of its grip.

    Parameters
    ----------
    shaft : CutMass
        The cut shaft.
    cap_m : ndarray, shape (B,)
        How far the grip's cap sticks out past the butt end of the shaft, m.
    parts : PointMasses
        Everything else.

    Returns
    -------
    ndarray, shape (B,)
        kg·m².
    """
    inertia: FloatArray = (
        shaft.second
        + 2.0 * cap_m * shaft.first
        + cap_m**2 * shaft.mass
        + parts.head_kg * parts.head_arm**2
        + parts.mouth_kg * parts.mouth_arm**2
        + parts.grip_kg * parts.grip_arm**2
    )
    return inertia


@dataclass(frozen=True, slots=True)
class Restored:
    """Weight at the head that brings clubs to their swing moment, shape (B,).

    Attributes
    ----------
    wanted_kg : ndarray
        What the equation of moments asks for, kg; negative where the club is over the target; 0 where there
        is none.
    add_kg : ndarray
        What is added: not negative, not over the limit, kg.
    excess_kg : ndarray
        How much too heavy the club is at the head with nothing added, kg, else 0.
    short_kg : ndarray
        What the limit leaves missing at the head, kg, else 0.
    free : ndarray of bool
        Whether the target is reached, neither end of the range standing in the way.
    """

    wanted_kg: FloatArray
    add_kg: FloatArray
    excess_kg: FloatArray
    short_kg: FloatArray
    free: npt.NDArray[np.bool_]


def restore(moment: FloatArray, target: FloatArray, head_lever_m: FloatArray, limit_kg: FloatArray) -> Restored:
    """Weight to add at the head.

    Parameters
    ----------
    moment : ndarray, shape (B,)
        Swing moment with nothing added, kg·m.
    target : ndarray, shape (B,)
        Swing moment wanted, kg·m; NaN: nothing is to be restored.
    head_lever_m : ndarray, shape (B,)
        Arm of the head about the fulcrum, m.
    limit_kg : ndarray, shape (B,)
        Most that may be added, kg; may be infinite.

    Returns
    -------
    Restored
    """
    wanted = np.where(np.isnan(target), 0.0, (target - moment) / head_lever_m)
    add = np.clip(wanted, 0.0, limit_kg)
    return Restored(
        wanted_kg=wanted,
        add_kg=add,
        excess_kg=np.maximum(-wanted, 0.0),
        short_kg=np.maximum(wanted - limit_kg, 0.0),
        free=~np.isnan(target) & (wanted >= 0.0) & (wanted <= limit_kg),
    )
