"""Quantities written out for people, in the unit that is stored."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from fractions import Fraction

from specdb.errors import UnitError
from specdb.units.factors import UNITS, unit_label

_ID = re.compile(r"[a-z0-9]+([-._][a-z0-9]+)+")
_WORDS = frozenset({"stand-in", "stand-ins", "fit-up", "dry-fit", "three-point", "read-only"})  # joined, but no ids
_MOST_DECIMALS = 4
_FEW_DECIMALS = 3
_ROUNDING = 1e-14  # what a conversion may lose
_TYPED = {"hz": "Hz"}
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


def quantity_as_typed(value: float, unit: str) -> str:
    """Write a stored quantity the way it was typed: ``2.3 oz`` for 65.2039031875 g.

    A number with few decimals in its stored unit is written so, without the unit. Otherwise the first unit is taken in
    which it has few: nobody types 45.5118110236 in, but 1156 mm. Where there is none, ten digits are written.

    Parameters
    ----------
    value : float
        In the stored unit.
    unit : str
        The stored unit; any other (or an empty one) is a plain number.
    """
    plain = f"{value:.10g}"
    if not math.isfinite(value) or _same(float(f"{value:.{_MOST_DECIMALS}f}"), value):
        return plain
    spellings: dict[float, str] = {}
    for name, factor in UNITS.get(unit, {}).items():
        spellings.setdefault(factor, name)  # the first is the one most used
    for factor, name in spellings.items():
        for decimals in range(_FEW_DECIMALS + 1):
            typed = round(value / factor, decimals)
            if factor != 1.0 and typed and _same(typed * factor, value):
                return f"{typed:.{decimals}f} {_TYPED.get(name, name)}"
    return plain


def _same(value: float, stored: float) -> bool:
    return math.isclose(value, stored, rel_tol=_ROUNDING, abs_tol=_ROUNDING)


def as_sentence(text: str) -> str:
    """A text with a capital at its begin and an end, unless it ends already.

    Parameters
    ----------
    text : str
        As it is said within another.
    """
    return f"{begun(text)}{'' if text.endswith(('.', '?', '!')) else '.'}" if text else ""


def begun(text: str) -> str:
    """A text with a capital at its begin, unless it begins with the id of something: ids are written as they are.

    Parameters
    ----------
    text : str
        As it is said within another.
    """
    first = (text.split(maxsplit=1) or [""])[0].strip(",;:()'")
    joined = _ID.fullmatch(first) is not None and first not in _WORDS
    return text if joined else f"{text[:1].upper()}{text[1:]}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """Words as a list in a sentence: ``a, b and c``.

    Parameters
    ----------
    words : sequence of str
        The words.
    last : str
        Put before the last one.
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


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
