"""A shaft as a slender beam, on a fine grid: what the invented shop's bench would read off it.

Kept apart from the package's own mechanics on purpose: the figures in the catalogue come from here, so the tests hold
one computation against another. Positions in inches from the raw tip end, the rest SI.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

IN = 0.0254
FT_LB = 1.3558179483
IN_OZ = 0.0254 * 0.028349523125  # kg·m of moment, weight taken as mass
CELLS = 240
CLAMP_IN = 5.0


@dataclass(frozen=True)
class Blank:
    """A raw shaft on a grid from tip to butt.

    Attributes
    ----------
    s_in : ndarray, shape (n,)
        Distance from the raw tip end, in.
    ei : ndarray, shape (n,)
        Bending stiffness, N·m².
    mass : ndarray, shape (n,)
        Mass per length, kg/m.
    od_in : ndarray, shape (n,)
        Outside diameter, in.
    k : float
        Torsional over bending stiffness.
    """

    s_in: Array
    ei: Array
    mass: Array
    od_in: Array
    k: float

    @property
    def raw_in(self) -> float:
        """Raw length, in."""
        return float(self.s_in[-1])

    @property
    def weight_g(self) -> float:
        """Raw weight, g."""
        return 1000.0 * _integral(self.mass, self.s_in * IN)

    @property
    def balance_in(self) -> float:
        """Balance point from the raw tip end, in."""
        return 1000.0 * _integral(self.mass * self.s_in, self.s_in * IN) / self.weight_g

    def ei_at(self, s_in: Array | float) -> Array:
        """Bending stiffness at places, N·m².

        Parameters
        ----------
        s_in : float or ndarray
            Places, in.
        """
        return np.asarray(np.interp(s_in, self.s_in, self.ei))

    def od_at(self, s_in: float) -> float:
        """Outside diameter at a place, in.

        Parameters
        ----------
        s_in : float
            The place, in.
        """
        return float(np.interp(s_in, self.s_in, self.od_in))

    def scaled(self, factor: float) -> Blank:
        """The same shaft with another stiffness throughout.

        Parameters
        ----------
        factor : float
            On stiffness.
        """
        return Blank(self.s_in, self.ei * factor, self.mass, self.od_in, self.k)


def _integral(y: Array, x: Array) -> float:
    return float(np.sum(0.5 * (y[1:] + y[:-1]) * np.diff(x)))


def _running(y: Array, x: Array) -> Array:
    """Integral from the first point to each point."""
    return np.concatenate([[0.0], np.cumsum(0.5 * (y[1:] + y[:-1]) * np.diff(x))])


def lowest_frequency_cpm(
    blank: Blank,
    low_in: float,
    high_in: float,
    tip_kg: float,
    head_kg: float = 0.0,
    head_arm_m: float = 0.0,
    in_bore_in: float = 0.0,
) -> float:
    """Lowest bending frequency of the span between free end and clamp face, cycles per minute.

    Parameters
    ----------
    blank : Blank
        The shaft.
    low_in, high_in : float
        Free end and clamp face, in from the raw tip end.
    tip_kg : float
        Mass at the free end, kg.
    head_kg, head_arm_m : float
        Mass on a rigid link beyond the free end, kg, and length of the link, m.
    in_bore_in : float
        Length of shaft that sits in the bore beyond the free end, rigid with the head, in.

    References
    ----------
    Stodola's iteration with Rayleigh's quotient: any text on vibration.
    """
    s = np.linspace(low_in, high_in, CELLS + 1)
    x = s * IN
    ei = blank.ei_at(s)
    mass = np.interp(s, blank.s_in, blank.mass)
    beyond = np.linspace(0.0, in_bore_in, 21) * IN
    held = np.interp(low_in - beyond / IN, blank.s_in, blank.mass)
    shape = (x[-1] - x) ** 2
    slope = -2.0 * (x[-1] - x[0])
    square = 0.0
    for _ in range(8):
        at_head = shape[0] - slope * head_arm_m
        load = held * (shape[0] - slope * beyond)
        shear = _running(mass * shape, x) + tip_kg * shape[0] + head_kg * at_head + _integral(load, beyond)
        moment = _running(shear, x) + head_kg * at_head * head_arm_m + _integral(load * beyond, beyond)
        curvature = moment / ei
        turned = _running(curvature[::-1], (x[-1] - x)[::-1])[::-1]
        bent = _running(turned[::-1], (x[-1] - x)[::-1])[::-1]
        work = _integral(moment * curvature, x)
        head_at = bent[0] + turned[0] * head_arm_m
        kinetic = _integral(mass * bent**2, x) + tip_kg * bent[0] ** 2 + head_kg * head_at**2
        kinetic += _integral(held * (bent[0] + turned[0] * beyond) ** 2, beyond)
        square = work / kinetic
        shape, slope = bent / bent[0], -turned[0] / bent[0]
    return 60.0 * math.sqrt(square) / (2.0 * math.pi)


def deflection_mm(blank: Blank, free_length_in: float, load_n: float) -> float:
    """Deflection of the tip under a side load there, butt clamped, mm.

    Parameters
    ----------
    blank : Blank
        The shaft.
    free_length_in : float
        From the tip to the clamp face, in.
    load_n : float
        The load, N.
    """
    s = np.linspace(0.0, free_length_in, CELLS + 1)
    return 1000.0 * load_n * _integral((s * IN) ** 2 / blank.ei_at(s), s * IN)


def three_point_ei(blank: Blank, station_in: float, span_in: float) -> float:
    """What a three-point jig reads: ``P·L³/(48·δ)``, an average over the span, N·m².

    Parameters
    ----------
    blank : Blank
        The shaft.
    station_in, span_in : float
        Middle of the span and its length, in.
    """
    half = span_in / 2.0
    z = np.linspace(-half, half, 121)
    moment = (half - np.abs(z)) * IN / 2.0
    flex = _integral(moment**2 / blank.ei_at(station_in + z), z * IN)
    return float((span_in * IN) ** 3 / (48.0 * flex))


def twist_deg(blank: Blank, gauge_in: float) -> float:
    """Twist under 1 ft·lb between clamps that stand evenly about the middle, degrees.

    Parameters
    ----------
    blank : Blank
        The shaft.
    gauge_in : float
        Distance between the clamps, in.
    """
    s = np.linspace((blank.raw_in - gauge_in) / 2.0, (blank.raw_in + gauge_in) / 2.0, CELLS + 1)
    return math.degrees(FT_LB * _integral(1.0 / (blank.k * blank.ei_at(s)), s * IN))


def kick_point_pct(blank: Blank, mouth_in: float, clamp_in: float) -> float:
    """Kick point: where a side pull at the mouth bends furthest from its chord, percent from the mouth.

    Parameters
    ----------
    blank : Blank
        The shaft.
    mouth_in, clamp_in : float
        Mouth and clamp face, in from the raw tip end.
    """
    s = np.linspace(mouth_in, clamp_in, CELLS + 1)
    x = (s - mouth_in) * IN
    turned = _running((x / blank.ei_at(s))[::-1], (x[-1] - x)[::-1])[::-1]
    bent = _running(turned[::-1], (x[-1] - x)[::-1])[::-1]
    to_chord = np.abs(bent - bent[0] * (1.0 - x / x[-1]))
    return 100.0 * float(x[int(np.argmax(to_chord))] / x[-1])
