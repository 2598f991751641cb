"""What is taken of a shaft before anything is known of this one or of this catalogue.

All figures are stated judgements (common practice, no source), not measurements of any product: stiffness at tip
and butt by club type, how far real profiles depart from that, and how departures go together. Between tip and butt
EI goes like the third power of a diameter that grows evenly, as of a thin tube of one wall. GJ/EI of an isotropic
tube is 1/(1 + ν): 0.77 for steel (ν = 0.3); plies at angles make it lower and variable in graphite.

Steel has an even tip and an even butt section, and step-downs between.

A catalogue with measured profiles soon outweighs this; see ``population``.

References
----------
Thin circular tube, I ∝ d³, J = 2I, G = E/(2(1 + ν)): Timoshenko & Gere, *Mechanics of Materials*.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics.constants import GRAM, IN
from specdb.profiles.state import (
    BALANCE,
    BUTT_DIA,
    EI,
    GROUPS,
    KAPPA,
    LENGTH,
    MASS,
    NODE_T,
    SIZE,
    TIP_DIA,
)

FloatArray = npt.NDArray[np.float64]

STEEL_KAPPA = 1.0 / 1.3
GRAPHITE_KAPPA = 0.45
BALANCE_MEAN = 0.020  # of the raw length, beyond its middle


@dataclass(frozen=True, slots=True)
class _Typical:
    """Stiffness at tip and butt (N·m²), raw length (in), weight (g), tip diameter (in)."""

    tip: float
    butt: float
    length_in: float
    weight_g: float
    tip_in: float


_TYPICAL = {
    ("wood", "graphite"): _Typical(22.0, 68.0, 46.0, 62.0, 0.335),
    ("wood", "steel"): _Typical(26.0, 75.0, 45.0, 115.0, 0.335),
    ("hybrid", "graphite"): _Typical(27.0, 72.0, 42.0, 78.0, 0.370),
    ("hybrid", "steel"): _Typical(31.0, 78.0, 41.0, 112.0, 0.370),
    ("iron", "graphite"): _Typical(30.0, 72.0, 40.0, 80.0, 0.370),
    ("iron", "steel"): _Typical(33.0, 80.0, 40.0, 112.0, 0.370),
    ("wedge", "graphite"): _Typical(33.0, 75.0, 37.0, 90.0, 0.370),
    ("wedge", "steel"): _Typical(36.0, 80.0, 37.0, 120.0, 0.355),
    ("putter", "graphite"): _Typical(45.0, 70.0, 35.0, 100.0, 0.370),
    ("putter", "steel"): _Typical(50.0, 70.0, 35.0, 125.0, 0.370),
}
_BUTT_DIA_IN = 0.600
_STEEL_TIP, _STEEL_BUTT = 0.20, 0.22  # even sections, of the raw length


@dataclass(frozen=True, slots=True)
class _Scatter:
    """How far the shafts of one group depart from its mean, one sd, ln unless said otherwise."""

    level: float = 0.11  # of EI, whole profile together, at equal weight
    tilt: float = 0.09  # of EI, tip against butt
    broad: float = 0.07  # of EI, waves of half the shaft
    narrow: float = 0.036  # of EI, ply drop-offs and step-downs
    tip: float = 1.8  # how much larger the narrow ones are at the very tip
    butt: float = 0.60  # how large they are towards the butt
    own: float = 0.005  # of EI, each node by itself
    by_mass: float = 0.7  # d ln EI / d ln mass
    kappa: float = 0.25
    balance: float = 0.012  # of the raw length
    mass: float = 0.16
    length: float = 0.03
    tip_dia: float = 0.03
    butt_dia: float = 0.03


_GRAPHITE = _Scatter(tilt=0.10, broad=0.10, narrow=0.055)
# one modulus and usual diameters: at equal weight little is left for the level
_STEEL = _Scatter(level=0.09, tilt=0.09, broad=0.07, narrow=0.045, kappa=0.04, balance=0.010, mass=0.09, by_mass=0.9)
_BROAD_LENGTH, _NARROW_LENGTH, _TIP_LENGTH = 0.28, 0.09, 0.15


def builtin_mean() -> FloatArray:
    """Mean of the state of every group.

    Returns
    -------
    ndarray, shape (groups, SIZE)
        In the order of ``GROUPS``.
    """
    mean = np.empty((len(GROUPS), SIZE))
    for i, group in enumerate(GROUPS):
        typical = _TYPICAL[group]
        growth = (typical.butt / typical.tip) ** (1.0 / 3.0) - 1.0
        along = NODE_T
        if group[1] == "steel":
            along = np.clip((NODE_T - _STEEL_TIP) / (1.0 - _STEEL_TIP - _STEEL_BUTT), 0.0, 1.0)
        mean[i, EI] = np.log(typical.tip) + 3.0 * np.log1p(growth * along)
        mean[i, KAPPA] = math.log(STEEL_KAPPA if group[1] == "steel" else GRAPHITE_KAPPA)
        mean[i, BALANCE] = BALANCE_MEAN
        mean[i, MASS] = math.log(typical.weight_g * GRAM)
        mean[i, LENGTH] = math.log(typical.length_in * IN)
        mean[i, TIP_DIA] = math.log(typical.tip_in * IN)
        mean[i, BUTT_DIA] = math.log(_BUTT_DIA_IN * IN)
    return mean


def builtin_covariance() -> FloatArray:
    """Covariance of the state within a group, for graphite and for steel.

    Returns
    -------
    ndarray, shape (2, SIZE, SIZE)
        In the order of ``MATERIALS``.
    """
    return np.stack([_covariance(_GRAPHITE), _covariance(_STEEL)])


def _covariance(scatter: _Scatter) -> FloatArray:
    gap2 = (NODE_T[:, None] - NODE_T[None, :]) ** 2
    swell = scatter.butt + (1.0 + scatter.tip - scatter.butt) * np.exp(-NODE_T / _TIP_LENGTH)
    line = 2.0 * NODE_T - 1.0
    ei = (
        scatter.level**2
        + scatter.tilt**2 * np.outer(line, line)
        + scatter.broad**2 * np.exp(-0.5 * gap2 / _BROAD_LENGTH**2)
        + scatter.narrow**2 * np.outer(swell, swell) * np.exp(-0.5 * gap2 / _NARROW_LENGTH**2)
        + scatter.own**2 * np.eye(NODE_T.size)
    )
    out = np.zeros((SIZE, SIZE))
    # a heavier shaft of one kind is a stiffer one
    out[EI, EI] = ei + scatter.by_mass**2 * scatter.mass**2
    out[EI, MASS] = out[MASS, EI] = scatter.by_mass * scatter.mass**2
    for at, sd in (
        (KAPPA, scatter.kappa),
        (BALANCE, scatter.balance),
        (MASS, scatter.mass),
        (LENGTH, scatter.length),
        (TIP_DIA, scatter.tip_dia),
        (BUTT_DIA, scatter.butt_dia),
    ):
        out[at, at] = sd**2
    return out
