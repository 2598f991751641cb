"""Two ways to lay out a raw shaft: a graphite tube with plies that end along it, and a steel tube with steps.

Stiffness, mass and outside diameter of one shaft hang together: the mass of a graphite tube follows from its
stiffness and diameter with one modulus throughout, that of a steel tube from diameters and wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from recipe.beam import IN, Array, Blank

GRID_IN = 0.125
STEEL_E_PA = 206e9
STEEL_KG_M3 = 7850.0
STEEL_K = 2.0 * 79.3e9 / STEEL_E_PA  # GJ/EI of a round tube is 2G/E
GRAPHITE_WALL_IN = 0.050  # for the mean diameter only


def grid(raw_in: float) -> Array:
    """Places along a raw shaft, in.

    Parameters
    ----------
    raw_in : float
        Raw length, in.
    """
    return np.linspace(0.0, raw_in, round(raw_in / GRID_IN) + 1)


@dataclass(frozen=True)
class Outside:
    """Outside of a graphite shaft, in.

    Attributes
    ----------
    tip_in, parallel_in, growth, butt_in : float
        Tip diameter, length of the parallel section (0 for a taper tip), growth in per in, butt diameter.
    """

    tip_in: float
    parallel_in: float
    growth: float
    butt_in: float

    def at(self, s_in: Array) -> Array:
        """Outside diameter at places, in.

        Parameters
        ----------
        s_in : ndarray
            From the raw tip end, in.
        """
        return np.minimum(self.tip_in + self.growth * np.maximum(s_in - self.parallel_in, 0.0), self.butt_in)


@dataclass(frozen=True)
class Layup:
    """Shape of the stiffness of a graphite shaft, relative to the bare tip.

    Attributes
    ----------
    ratio : float
        Butt over tip.
    power : float
        How late it rises: 1 straight, more later.
    full_at : float
        Part of the raw length at which the butt stiffness is reached.
    tip_ply, tip_ply_in : float
        Extra stiffness at the very tip and how far it reaches, in.
    ends : tuple of (place, loss)
        Where a ply ends, as a part of the raw length, and what stiffness is lost beyond it.
    k : float
        GJ over EI.
    bias : float
        Part of the modulus along the shaft that is lost from tip to butt, where more plies lie at an angle; the
        larger, the nearer the balance point is to the butt.
    """

    ratio: float
    power: float
    full_at: float = 0.92
    tip_ply: float = 0.10
    tip_ply_in: float = 4.0
    ends: tuple[tuple[float, float], ...] = ((0.35, 0.04), (0.62, 0.03))
    k: float = 0.50
    bias: float = 0.45

    def relative(self, s_in: Array, raw_in: float) -> Array:
        """Stiffness relative to the bare tip.

        Parameters
        ----------
        s_in : ndarray
            From the raw tip end, in.
        raw_in : float
            Raw length, in.
        """
        u = np.minimum(s_in / (raw_in * self.full_at), 1.0)
        value = 1.0 + (self.ratio - 1.0) * u**self.power
        value *= 1.0 + self.tip_ply * np.exp(-((s_in / self.tip_ply_in) ** 2))
        for place, loss in self.ends:
            value *= 1.0 - loss / (1.0 + np.exp(-(s_in - place * raw_in) / 0.6))
        return np.asarray(value)


def graphite(raw_in: float, weight_g: float, outside: Outside, layup: Layup) -> Blank:
    """A graphite shaft of a tip stiffness of 1 N·m²; scale it to the stiffness wanted.

    Parameters
    ----------
    raw_in, weight_g : float
        Raw length, in, and weight, g.
    outside : Outside
        Its outside.
    layup : Layup
        Shape of its stiffness.
    """
    s = grid(raw_in)
    od = outside.at(s)
    ei = layup.relative(s, raw_in)
    mass = ei / (od - GRAPHITE_WALL_IN) ** 2 / (1.0 - layup.bias * s / raw_in)
    whole = Blank(s, ei, mass, od, layup.k)
    return Blank(s, ei, mass * (weight_g / whole.weight_g), od, layup.k)


@dataclass(frozen=True)
class Steps:
    """A steel shaft: tip section, steps, butt section.

    Attributes
    ----------
    tip_in, butt_in : float
        Outside diameter at tip end and butt, in.
    first_in : float
        From the raw tip end to the first step, in.
    butt_section_in : float
        From the last step to the butt end, in.
    count : int
        Number of steps.
    taper : float
        Growth of the tip section, in per in; 0 for a parallel tip.
    wall_ratio : float
        Wall at the tip over wall at the butt; straight between.
    """

    tip_in: float
    butt_in: float
    first_in: float
    butt_section_in: float
    count: int
    taper: float = 0.0
    wall_ratio: float = 1.8

    def at(self, s_in: Array, raw_in: float) -> Array:
        """Outside diameter at places, in.

        Parameters
        ----------
        s_in : ndarray
            From the raw tip end, in.
        raw_in : float
            Raw length, in.
        """
        tip = self.tip_in + self.taper * np.minimum(s_in, min(self.first_in, 3.0))
        pitch = (raw_in - self.butt_section_in - self.first_in) / (self.count - 1)
        before = self.tip_in + self.taper * min(self.first_in, 3.0)
        passed = np.clip(np.floor((s_in - self.first_in) / pitch + 1.0 + 1e-9), 0, self.count)
        return np.where(passed > 0, before + (self.butt_in - before) * passed / self.count, tip)


def steel(raw_in: float, weight_g: float, steps: Steps) -> Blank:
    """A steel shaft whose wall gives the weight.

    Parameters
    ----------
    raw_in, weight_g : float
        Raw length, in, and weight, g.
    steps : Steps
        Its outside.
    """
    s = grid(raw_in)
    od_in = steps.at(s, raw_in)
    od = od_in * IN
    wall = np.interp(s, [0.0, raw_in], [steps.wall_ratio, 1.0])
    low, high = 0.0001, 0.0015
    for _ in range(60):
        middle = 0.5 * (low + high)
        blank = _tube(s, od_in, od, wall * middle)
        low, high = (middle, high) if blank.weight_g < weight_g else (low, middle)
    return blank


def _tube(s_in: Array, od_in: Array, od_m: Array, wall_m: Array) -> Blank:
    inner = od_m - 2.0 * wall_m
    ei = STEEL_E_PA * np.pi / 64.0 * (od_m**4 - inner**4)
    mass = STEEL_KG_M3 * np.pi / 4.0 * (od_m**2 - inner**2)
    return Blank(s_in, ei, mass, od_in, STEEL_K)
