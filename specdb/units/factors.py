"""Units that are stored, the spellings of units that are typed, and the factors between them.

Factors are exact by definition (international inch, avoirdupois pound, standard gravity; NIST SP 811, appendix B).
"""

from __future__ import annotations

import math
import re
from types import MappingProxyType

from specdb.units.text import PLAIN_SIGNS

_OZ = 28.349523125  # g
_LBF = 4.4482216152605
_FACTORS: dict[str, dict[str, float]] = {
    "in": {
        "in": 1.0, "inch": 1.0, "inches": 1.0, '"': 1.0, "''": 1.0, "mm": 1 / 25.4, "cm": 1 / 2.54, "m": 1 / 0.0254,
        "ft": 12.0, "foot": 12.0, "feet": 12.0, "'": 12.0, "mil": 0.001, "thou": 0.001,
    },
    "mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4},
    "g": {
        "g": 1.0, "gram": 1.0, "grams": 1.0, "gm": 1.0, "kg": 1000.0, "mg": 0.001, "oz": 28.349523125,
        "ounce": 28.349523125, "ounces": 28.349523125, "lb": 453.59237, "lbs": 453.59237, "grain": 0.06479891,
        "grains": 0.06479891, "dwt": 24 * 0.06479891, "pennyweight": 24 * 0.06479891,
        "pennyweights": 24 * 0.06479891, "gms": 1.0, "gramme": 1.0, "grammes": 1.0,
    },
    "deg": {"deg": 1.0, "degs": 1.0, "degree": 1.0, "degrees": 1.0, "°": 1.0, "º": 1.0, "rad": 180.0 / math.pi},
    "n_m2": {
        "n·m²": 1.0, "nm²": 1.0, "kn·m²": 1000.0, "n·cm²": 1e-4, "ncm²": 1e-4, "n·mm²": 1e-6, "nmm²": 1e-6,
        "kgf·m²": 9.80665, "kgf·cm²": 9.80665e-4, "kgfcm²": 9.80665e-4, "kgf·mm²": 9.80665e-6, "kgfmm²": 9.80665e-6,
        "kg·mm²": 9.80665e-6, "lbf·in²": _LBF * 0.0254**2, "lbfin²": _LBF * 0.0254**2, "lb·in²": _LBF * 0.0254**2,
        "lbs·in²": _LBF * 0.0254**2,
    },
    "cpm": {"cpm": 1.0, "per·min": 1.0, "per·minute": 1.0, "/min": 1.0, "hz": 60.0},
    "n": {"n": 1.0, "newton": 1.0, "newtons": 1.0, "kn": 1000.0, "kgf": 9.80665, "kp": 9.80665, "lbf": _LBF},
    "cc": {"cc": 1.0, "cm³": 1.0, "ccm": 1.0, "ml": 1.0, "in³": 2.54**3},
    "mpa": {
        "mpa": 1.0, "n/mm²": 1.0, "kpa": 0.001, "gpa": 1000.0, "bar": 0.1, "psi": _LBF / 0.0254**2 / 1e6,
        "ksi": _LBF / 0.0254**2 / 1e3,
    },
    "hours": {
        "h": 1.0, "hr": 1.0, "hrs": 1.0, "hour": 1.0, "hours": 1.0, "min": 1 / 60, "mins": 1 / 60, "minutes": 1 / 60,
        "d": 24.0, "day": 24.0, "days": 24.0, "week": 168.0, "weeks": 168.0,
    },
    "kg_cm2": {"kg·cm²": 1.0, "kgcm²": 1.0, "g·cm²": 0.001, "gcm²": 0.001, "kg·m²": 1e4, "kgm²": 1e4},
    "in_oz": {
        "in·oz": 1.0, "inoz": 1.0, "oz·in": 1.0, "g·cm": 1.0 / (_OZ * 2.54), "kg·cm": 1000.0 / (_OZ * 2.54),
    },
    "in_per_in": {"in/in": 1.0, "mm/mm": 1.0, '"/"': 1.0, "mm/in": 1 / 25.4, "thou/in": 0.001, "mil/in": 0.001},
}  # fmt: skip
UNITS: MappingProxyType[str, MappingProxyType[str, float]] = MappingProxyType(
    {unit: MappingProxyType(names) for unit, names in _FACTORS.items()}
)
"""For every stored unit the spellings that are understood, with the factor into the stored unit; a product may also be
written with a space, a hyphen, a point or an asterisk."""

_SHOWN = {
    "in_oz": "in·oz",
    "n_m2": "N·m²",
    "kg_cm2": "kg·cm²",
    "in_per_in": "in/in",
    "deg": "deg",
    "mpa": "MPa",
    "n": "N",
    "hours": "h",
}
WORDS = {"in": "inches", "g": "grams", "deg": "degrees", "mm": "millimetres", "n": "newtons"}
# spellings that are understood, where people often take another kind of unit
HINTS = {
    "n": "N, kgf or lbf: kg and lb are masses",
    "n_m2": "N·m², kgf·mm² or lbf·in²",
}
_SEPARATORS = re.compile(r"(?<=[^\W\d_])[\s·*.-]+(?=[^\W\d_])")


def unit_label(unit: str) -> str:
    """A stored unit as a person writes it.

    Parameters
    ----------
    unit : str
        Such as ``n_m2``.
    """
    return _SHOWN.get(unit, unit)


def factor(name: str, unit: str) -> float | None:
    """Factor from a unit as typed into a stored unit; None where it is no such unit.

    Parameters
    ----------
    name : str
        Such as ``mm`` or ``kgf·mm^2``.
    unit : str
        The stored unit.
    """
    return UNITS.get(unit, MappingProxyType({})).get(_unit_name(name))


def _unit_name(text: str) -> str:
    name = text.translate(PLAIN_SIGNS).strip().lower().rstrip(".")
    name = name.replace("^2", "²").replace("**2", "²").replace("^3", "³").replace("**3", "³")
    name = re.sub(r"(?<=m|n)2$", "²", name)  # m2, mm2, in2
    name = re.sub(r"(?<=m|n)3$", "³", name)
    return _SEPARATORS.sub("·", re.sub(r"\s*/\s*", "/", name))
