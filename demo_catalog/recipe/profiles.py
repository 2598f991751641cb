"""Stiffness profiles of invented shafts.

Graphite: stiffness rises from tip to butt by a power law, with a smooth bump of the family and a drop where plies end.
Steel: a stepped tube, EI = E·π/64·(D⁴ - d⁴) from outside diameter and wall (handbook formula, E = 206 GPa), weight from
the same tube (7.85 g/cm³).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
STEEL_MODULUS_PA = 206e9
STEEL_DENSITY_KG_M3 = 7850.0
IN = 0.0254


@dataclass(frozen=True)
class Graphite:
    """Character of a graphite family.

    Attributes
    ----------
    tip, butt : float
        EI near tip and butt of the stiff (S) shaft of its middle weight, N·m².
    power : float
        How the stiffness rises; above 1 it stays low for long.
    bump, bump_at : float
        Height (relative) and place (fraction of the length) of a smooth bump.
    drop, drop_at : float
        Relative loss of stiffness towards the tip where plies end, and where (fraction of the length).
    """

    tip: float
    butt: float
    power: float
    bump: float
    bump_at: float
    drop: float
    drop_at: float

    def ei(self, place_in: FloatArray, length_in: float, scale: float) -> FloatArray:
        """EI at places along the raw shaft, N·m²."""
        x = place_in / length_in
        rise = self.tip + (self.butt - self.tip) * x**self.power
        bump = 1.0 + self.bump * np.exp(-(((x - self.bump_at) / 0.15) ** 2))
        drop = 1.0 - self.drop / (1.0 + np.exp((x - self.drop_at) / 0.015))
        return np.asarray(scale * rise * bump * drop)


@dataclass(frozen=True)
class SteppedTube:
    """A steel shaft: outside diameters step up from tip to butt.

    Attributes
    ----------
    tip_dia_in, butt_dia_in : float
        Outside diameters.
    tip_wall_mm, butt_wall_mm : float
        Walls.
    first_step_in, step_in : float
        Where the first step lies, and the length of the others.
    """

    tip_dia_in: float
    butt_dia_in: float
    tip_wall_mm: float
    butt_wall_mm: float
    first_step_in: float
    step_in: float

    def _tube(self, place_in: FloatArray, length_in: float) -> tuple[FloatArray, FloatArray]:
        last = length_in - 9.0
        steps = np.floor((np.clip(place_in, 0, last) - self.first_step_in) / self.step_in) + 1.0
        total = np.floor((last - self.first_step_in) / self.step_in) + 1.0
        part = np.clip(steps, 0.0, total) / total
        dia = (self.tip_dia_in + (self.butt_dia_in - self.tip_dia_in) * part) * IN
        wall = (self.tip_wall_mm + (self.butt_wall_mm - self.tip_wall_mm) * place_in / length_in) / 1000.0
        return dia, wall

    def ei(self, place_in: FloatArray, length_in: float) -> FloatArray:
        """EI at places along the raw shaft, N·m²."""
        dia, wall = self._tube(place_in, length_in)
        return np.asarray(STEEL_MODULUS_PA * np.pi / 64.0 * (dia**4 - (dia - 2.0 * wall) ** 4))

    def mass_and_balance(self, length_in: float) -> tuple[float, float]:
        """Weight of the raw shaft, g, and its balance point from the tip, in."""
        s = np.asarray((np.arange(4000) + 0.5) * length_in / 4000.0, dtype=np.float64)
        dia, wall = self._tube(s, length_in)
        line = STEEL_DENSITY_KG_M3 * np.pi * wall * (dia - wall)
        mass = float(line.mean() * length_in * IN * 1000.0)
        return mass, float((line * s).sum() / line.sum())


def stations(length_in: float, count: int) -> FloatArray:
    """Places of a table: evenly spread from 1 in behind the tip to 1 in before the butt."""
    return np.asarray(np.round(np.linspace(1.0, length_in - 1.0, count), 2))
