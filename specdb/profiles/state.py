"""What is estimated of one shaft, as one vector.

The entries are ln EI at nodes spread evenly over the raw length, ln(GJ/EI), the place of the balance point, ln
mass, and the covariates ln raw length, ln tip and ln butt diameter. The covariates are part of the vector so that
an unknown one needs no special rule: what is known is conditioned on, what is not is averaged over.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

NODES = 16
NODE_T: FloatArray = np.linspace(0.0, 1.0, NODES)  # of the raw length, from the tip
EI = slice(0, NODES)  # ln(N·m²)
KAPPA = NODES  # ln(GJ/EI)
BALANCE = NODES + 1  # balance point from the tip over raw length, less one half
MASS = NODES + 2  # ln(kg)
LENGTH = NODES + 3  # ln(m)
TIP_DIA = NODES + 4  # ln(m)
BUTT_DIA = NODES + 5  # ln(m)
SIZE = NODES + 6
COVARIATES: IntArray = np.array([MASS, LENGTH, TIP_DIA, BUTT_DIA])

CLUB_TYPES = ("wood", "hybrid", "iron", "wedge", "putter")
MATERIALS = ("graphite", "steel")  # a composite shaft counts as graphite
GROUPS = tuple((club, material) for club in CLUB_TYPES for material in MATERIALS)
STEEL_FROM_KG = 0.092  # a shaft of no stated material is taken as steel from this mass on


def group_of(club_type: str, material: str | None, mass_kg: float | None) -> tuple[int, str | None]:
    """Group of a shaft, and what was assumed to find it.

    Parameters
    ----------
    club_type : str
        ``wood``, ``hybrid``, ``iron``, ``wedge`` or ``putter``.
    material : str or None
        ``graphite``, ``composite``, ``steel``; None: from mass, else from club type.
    mass_kg : float or None
        Mass, kg.

    Returns
    -------
    group : int
        Row of ``GROUPS``.
    assumed : str or None
        A plain sentence.
    """
    steel = material == "steel"
    assumed = None
    if material is None:
        steel = mass_kg >= STEEL_FROM_KG if mass_kg is not None else club_type not in ("wood", "hybrid")
        assumed = f"material unknown: {MATERIALS[steel]} taken, by {'weight' if mass_kg is not None else 'club type'}"
    return 2 * CLUB_TYPES.index(club_type) + int(steel), assumed


def hats(t: FloatArray) -> tuple[IntArray, FloatArray]:
    """Node below each place, and how far the place is on the way to the next (0 to 1).

    Parameters
    ----------
    t : ndarray
        Places, as parts of the raw length.

    Returns
    -------
    below : ndarray of int
    part : ndarray
    """
    scaled = np.clip(t, 0.0, 1.0) * (NODES - 1)
    below = np.minimum(scaled.astype(np.int64), NODES - 2)
    return below, scaled - below
