"""Lengths of clubs and of cuts written out: as they were read off a tape, and as a saw can follow them.

What was measured or ordered is written as it was typed: to the coarsest of 1/16, 1/32 and 1/64 in that is exact, else
in whole tenths of a millimetre, else in decimals. What is worked out is written to the nearest 1/32 in.
"""

from __future__ import annotations

import math

from specdb.errors import UnitError
from specdb.units.writing import format_quantity, to_sixteenths

MM_PER_IN = 25.4  # exact: the international inch
_PARTS = (16, 32, 64)
_CUT_PARTS = 32
_SAME_IN = 1e-6  # less than any tape shows, more than a conversion loses
_SMALL_IN = 1.0  # below which a millimetre is too coarse to follow


def length_as_typed(value_in: float) -> str:
    """A length that was measured or ordered, the way it was typed: ``45 1/32 in``, ``1150 mm`` or ``45.3 in``.

    Parameters
    ----------
    value_in : float
        Length, in.

    Raises
    ------
    UnitError
        If the value is not finite.
    """
    parts = _exact_parts(value_in)
    if parts:
        return to_sixteenths(value_in, parts=parts)
    if _whole_tenths(value_in):
        return _mm(value_in)
    return format_quantity(value_in, "in")


def length_in_both(value_in: float) -> str:
    """The same with the other unit: ``45 1/4 in (1149 mm)``, ``45 1/32 in (1143.8 mm)``, ``1150 mm (45 9/32 in)``.

    Parameters
    ----------
    value_in : float
        Length, in.

    Raises
    ------
    UnitError
        If the value is not finite.
    """
    typed = length_as_typed(value_in)
    if typed.endswith("mm"):
        return f"{typed} ({to_sixteenths(value_in, parts=_CUT_PARTS)})"
    return f"{typed} ({_mm(value_in, decimals=0 if _exact_parts(value_in) == _PARTS[0] else 1)})"


def cut_length(value_in: float) -> str:
    """A length that was worked out, to the nearest 1/32 in and in millimetres: ``43 15/16 in (1116 mm)``.

    Parameters
    ----------
    value_in : float
        Length, in; below an inch its millimetres have a decimal.

    Raises
    ------
    UnitError
        If the value is not finite.
    """
    decimals = 1 if abs(value_in) < _SMALL_IN else 0
    return f"{to_sixteenths(value_in, parts=_CUT_PARTS)} ({_mm(value_in, decimals=decimals)})"


def depth_at_most(value_in: float) -> str:
    """A depth that must not be exceeded, rounded down to 1/32 in and 0.1 mm: ``1 9/32 in (33.0 mm)``.

    Parameters
    ----------
    value_in : float
        Depth, in.

    Raises
    ------
    UnitError
        If the value is not finite.
    """
    _refuse_infinite(value_in)
    parts = math.floor((value_in + _SAME_IN) * _CUT_PARTS)
    tenths = math.floor((value_in + _SAME_IN) * MM_PER_IN * 10.0)
    return f"{to_sixteenths(parts / _CUT_PARTS, parts=_CUT_PARTS)} ({tenths / 10.0:.1f} mm)"


def difference_words(amount_in: float) -> str:
    """A difference of lengths without its sign: ``1/16 in (1.6 mm)``; in millimetres alone where 1/32 in is coarser.

    Parameters
    ----------
    amount_in : float
        Difference, in.

    Raises
    ------
    UnitError
        If the value is not finite.
    """
    amount = abs(amount_in)
    parts = _exact_parts(amount) or _CUT_PARTS
    fraction = to_sixteenths(amount, parts=parts)
    told = _mm(amount, decimals=1)
    return told if fraction == "0 in" else f"{fraction} ({told})"


def _exact_parts(value_in: float) -> int:
    """The coarsest parts of an inch that give a length exactly; 0 where none does."""
    _refuse_infinite(value_in)
    return next((p for p in _PARTS if abs(value_in - round(value_in * p) / p) < _SAME_IN), 0)


def _whole_tenths(value_in: float) -> bool:
    tenths = value_in * MM_PER_IN * 10.0
    return abs(tenths - round(tenths)) < _SAME_IN * MM_PER_IN * 10.0


def _mm(value_in: float, *, decimals: int = 1) -> str:
    _refuse_infinite(value_in)
    tens = 10.0**decimals
    # half a step is rounded away from nothing, as people do, and not by what binary makes of 6.35
    size = math.floor(abs(value_in) * MM_PER_IN * tens + 0.5 + _SAME_IN) / tens
    return format_quantity(math.copysign(size, value_in), "mm", decimals=decimals)


def _refuse_infinite(value_in: float) -> None:
    if not math.isfinite(value_in):
        raise UnitError(f"{value_in} is no quantity that can be written", str(value_in), "in")
