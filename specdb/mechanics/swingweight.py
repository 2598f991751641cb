"""Swingweight: the scale of letters and points, and the moment behind it.

The moment is taken about a fulcrum 14 in from the butt end of the gripped club, in inch-ounces. D0 is 213.5
in·oz, one point 1.75 in·oz, ten points a letter (common practice, no source).
"""

from __future__ import annotations

import math
import re

from specdb.errors import MechanicsError
from specdb.mechanics.constants import SWINGWEIGHT_D0_IN_OZ, SWINGWEIGHT_POINT_IN_OZ
from specdb.units.quantities import fractions_spelled_out

_LETTERS = "ABCDEFG"
_D = _LETTERS.index("D")
_WRITTEN = re.compile(r"([A-Ga-g])\s*(.+?)\s*(?:pts?|points?)?\.?", re.ASCII)
_DECIMAL = re.compile(r"[+-]?\d{1,2}(?:[.,]\d{1,6})?", re.ASCII)
_FRACTION = re.compile(r"(?:(\d{1,2})(?:\s+|-))?(\d{1,2})\s*/\s*(\d{1,2})", re.ASCII)


def parse(text: str) -> float:
    """Points above D0 of a swingweight as people write it.

    Parameters
    ----------
    text : str
        Letter and points, such as ``D2.5``, ``d2``, ``C9`` or ``D3 1/2``; a decimal comma is understood.

    Returns
    -------
    float
        Points above D0, negative below it.

    Raises
    ------
    MechanicsError
        If the text is no swingweight.
    """
    match = _WRITTEN.fullmatch(fractions_spelled_out(text).strip())
    points = None if match is None else _points(match[2])
    if match is None or points is None:
        raise MechanicsError(f"'{text}' is no swingweight: a letter A to G and points, such as D2.5 or D2 1/2")
    letter = _LETTERS.index(match[1].upper())
    below = points < 0 and letter > 0
    above = points >= 10 and letter < len(_LETTERS) - 1
    if below or above:
        shown = from_moment_in_oz(points_to_moment_in_oz(10.0 * (letter - _D) + points))
        raise MechanicsError(f"'{text}' is no swingweight: a letter has ten points, 0 to 9.9; is {shown} meant?")
    return 10.0 * (letter - _D) + points


def _points(text: str) -> float | None:
    """A number of points; None where it is none, or a fraction that is more than a point."""
    if _DECIMAL.fullmatch(text):
        return float(text.replace(",", "."))
    part = _FRACTION.fullmatch(text)
    if part is None or int(part[2]) >= int(part[3]):
        return None
    return int(part[1] or 0) + int(part[2]) / int(part[3])


def points_to_moment_in_oz(points: float) -> float:
    """Moment of a swingweight.

    Parameters
    ----------
    points : float
        Points above D0.

    Returns
    -------
    float
        Moment about the fulcrum, in·oz.
    """
    return SWINGWEIGHT_D0_IN_OZ + SWINGWEIGHT_POINT_IN_OZ * points


def to_moment_in_oz(text: str) -> float:
    """Moment of a swingweight as people write it.

    Parameters
    ----------
    text : str
        Such as ``D2.5``.

    Returns
    -------
    float
        Moment about the fulcrum, in·oz.

    Raises
    ------
    MechanicsError
        If the text is no swingweight.
    """
    return points_to_moment_in_oz(parse(text))


def moment_to_points(moment_in_oz: float) -> float:
    """Swingweight points of a moment.

    Parameters
    ----------
    moment_in_oz : float
        Moment about the fulcrum, in·oz.

    Returns
    -------
    float
        Points above D0.
    """
    return (moment_in_oz - SWINGWEIGHT_D0_IN_OZ) / SWINGWEIGHT_POINT_IN_OZ


def from_moment_in_oz(moment_in_oz: float) -> str:
    """Write the swingweight of a moment, to a tenth of a point.

    Below A0 the points count down from A (``A-3.0``), beyond G they count on (``G12.5``): such clubs exist
    (children's clubs, clubs without a grip), and :func:`parse` reads what is written here.

    Parameters
    ----------
    moment_in_oz : float
        Moment about the fulcrum, in·oz.

    Returns
    -------
    str
        Such as ``D2.3``.

    Raises
    ------
    MechanicsError
        If the moment is not a finite number.
    """
    if not math.isfinite(moment_in_oz):
        raise MechanicsError(f"a swing moment of {moment_in_oz} in·oz has no swingweight")
    tenths = round(10.0 * moment_to_points(moment_in_oz)) + 100 * _D
    letter = min(max(tenths // 100, 0), len(_LETTERS) - 1)
    return f"{_LETTERS[letter]}{(tenths - 100 * letter) / 10.0:.1f}"
