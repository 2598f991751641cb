"""Quantities written out for people, in the unit that is stored."""

from __future__ import annotations

import math
from fractions import Fraction

from specdb.errors import UnitError
from specdb.units.factors import unit_label

_MOST_DECIMALS = 4
_DECIMALS = {"in": 4, "g": 1, "deg": 2, "n_m2": 2, "cpm": 1, "mm": 2, "kg_cm2": 0}


def usual_decimals(unit: str) -> int:
    """Most decimals that a quantity is usually written with.

    Parameters
    ----------
    unit : str
        The stored unit; four decimals where there is no usual number.
    """
    return _DECIMALS.get(unit, _MOST_DECIMALS)


def format_quantity(value: float, unit: str, *, decimals: int | None = None, with_unit: bool = True) -> str:
    """Write a quantity in its stored unit, trailing zeros left out.

    Parameters
    ----------
    value : float
        In the stored unit.
    unit : str
        The stored unit.
    decimals : int or None
        Most decimals; the usual number for the unit where None.
    with_unit : bool
        Whether the unit is written.

    Raises
    ------
    UnitError
        If the value is not finite: unknown is to be shown as unknown, not as a number.
    """
    _refuse_infinite(value, unit)
    most = usual_decimals(unit) if decimals is None else decimals
    number = f"{value:.{most}f}"
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    number = "0" if number == "-0" else number
    return f"{number} {unit_label(unit)}" if with_unit and unit else number


def to_sixteenths(value_in: float, *, parts: int = 16) -> str:
    """Write a length in inches as a whole number and a fraction, as tape measures are marked.

    Parameters
    ----------
    value_in : float
        Length, in.
    parts : int
        Smallest part of an inch: 16, or 32 for cuts.

    Returns
    -------
    str
        Such as ``45 1/2 in``.

    Raises
    ------
    UnitError
        If the value is not finite.
    """
    _refuse_infinite(value_in, "in")
    steps = round(abs(value_in) * parts)
    whole, rest = divmod(steps, parts)
    sign = "-" if value_in < 0 and steps else ""
    if not rest:
        return f"{sign}{whole} in"
    part = Fraction(rest, parts)
    text = f"{part.numerator}/{part.denominator}"
    return f"{sign}{whole} {text} in" if whole else f"{sign}{text} in"


def _refuse_infinite(value: float, unit: str) -> None:
    if not math.isfinite(value):
        raise UnitError(f"{value} is no quantity that can be written", str(value), unit)
