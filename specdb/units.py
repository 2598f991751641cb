"""Quantities as people type them, read into the unit that is stored, and written out again.

Fractions (``45 1/2``, ``45½``, ``3' 9 1/2"``), units (``1156 mm``, ``2.3 oz``, ``6.5 lbf``), decimal commas. What can
be meant in two ways is refused with the reason, never guessed: a single comma before exactly three digits (``1,234``)
is read only where the caller says which decimal mark the source uses.

Factors are exact by definition (international inch, avoirdupois pound, standard gravity; NIST SP 811, appendix B).
"""

from __future__ import annotations

import datetime as dt
import math
import re
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from specdb.errors import UnitError

Decimal = Literal[".", ",", "auto"]

_LBF = 4.4482216152605
_FACTORS: dict[str, dict[str, float]] = {
    "in": {
        "in": 1.0, "inch": 1.0, "inches": 1.0, '"': 1.0, "''": 1.0, "mm": 1 / 25.4, "cm": 1 / 2.54, "m": 1 / 0.0254,
        "ft": 12.0, "foot": 12.0, "feet": 12.0, "'": 12.0, "mil": 0.001, "thou": 0.001,
    },
    "mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4},
    "g": {
        "g": 1.0, "gr": 1.0, "gram": 1.0, "grams": 1.0, "gm": 1.0, "kg": 1000.0, "mg": 0.001, "oz": 28.349523125,
        "ounce": 28.349523125, "ounces": 28.349523125, "lb": 453.59237, "lbs": 453.59237,
    },
    "deg": {"deg": 1.0, "degs": 1.0, "degree": 1.0, "degrees": 1.0, "°": 1.0, "º": 1.0, "rad": 180.0 / math.pi},
    "n_m2": {
        "n·m²": 1.0, "nm²": 1.0, "n*m²": 1.0, "n m²": 1.0, "n·mm²": 1e-6, "nmm²": 1e-6, "n*mm²": 1e-6, "kn·m²": 1000.0,
        "kgf·mm²": 9.80665e-6, "kgfmm²": 9.80665e-6, "kgf*mm²": 9.80665e-6, "kg·mm²": 9.80665e-6,
        "kgf·m²": 9.80665, "lbf·in²": _LBF * 0.0254**2, "lbfin²": _LBF * 0.0254**2, "lbf*in²": _LBF * 0.0254**2,
        "lb·in²": _LBF * 0.0254**2, "lb*in²": _LBF * 0.0254**2, "lb-in²": _LBF * 0.0254**2, "lbf-in²": _LBF * 0.0254**2,
    },
    "cpm": {"cpm": 1.0, "per min": 1.0, "hz": 60.0},
    "n": {"n": 1.0, "newton": 1.0, "newtons": 1.0, "kn": 1000.0, "kgf": 9.80665, "kp": 9.80665, "lbf": _LBF},
    "cc": {"cc": 1.0, "cm³": 1.0, "ccm": 1.0, "ml": 1.0, "in³": 2.54**3},
    "mpa": {"mpa": 1.0, "n/mm²": 1.0, "kpa": 0.001, "bar": 0.1, "psi": _LBF / 0.0254**2 / 1e6},
    "hours": {
        "h": 1.0, "hr": 1.0, "hrs": 1.0, "hour": 1.0, "hours": 1.0, "min": 1 / 60, "mins": 1 / 60, "minutes": 1 / 60,
        "d": 24.0, "day": 24.0, "days": 24.0,
    },
    "kg_cm2": {"kg·cm²": 1.0, "kgcm²": 1.0, "kg*cm²": 1.0, "g·cm²": 0.001, "kg·m²": 1e4},
    "in_per_in": {"in/in": 1.0, "mm/mm": 1.0, '"/"': 1.0, "mm/in": 1 / 25.4},
}  # fmt: skip
UNITS: MappingProxyType[str, MappingProxyType[str, float]] = MappingProxyType(
    {unit: MappingProxyType(names) for unit, names in _FACTORS.items()}
)
"""For every stored unit the spellings that are understood, with the factor into the stored unit."""

_SHOWN = {"n_m2": "N·m²", "kg_cm2": "kg·cm²", "in_per_in": "in/in", "deg": "deg", "mpa": "MPa", "n": "N", "hours": "h"}
_WORDS = {"in": "inches", "g": "grams", "deg": "degrees", "mm": "millimetres", "n": "newtons"}
_DECIMALS = {"in": 4, "g": 1, "deg": 2, "n_m2": 2, "cpm": 1, "mm": 2, "kg_cm2": 0}
_VULGAR = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3",
}  # fmt: skip
_PLAIN = str.maketrans(
    {"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2212": "-", "\u2013": "-", "″": '"', "”": '"', "“": '"',
     "′": "'", "’": "'", "⁄": "/", "×": "*", "\u00b7": "·", "⋅": "·"}
)  # fmt: skip
_FRACTION = re.compile(r"(?P<sign>[+-]?)(?:(?P<whole>\d+)(?:\s+|-))?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)")
_NUMBER = re.compile(r"[+-]?(?:\d[\d.,' ]*|[.,]\d+)(?:[eE][+-]?\d+)?")
_SPACED = re.compile(r"[+-]?\d{1,3}(?:[ ']\d{3})+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")
_FEET_AND_INCHES = re.compile(r"""\s*(\d+)\s*(?:'|ft|feet|foot)\.?\s*(\d.*?)\s*(?:"|''|in|inch|inches)?\.?\s*""")
_LARGEST = 1e15


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
    name = text.translate(_PLAIN).strip().lower().rstrip(".")
    name = name.replace("^2", "²").replace("**2", "²").replace("^3", "³").replace("**3", "³")
    name = re.sub(r"(?<=m|n)2$", "²", name)  # m2, mm2, in2
    name = re.sub(r"(?<=m|n)3$", "³", name)
    return re.sub(r"\s*([·*/-])\s*", r"\1", re.sub(r"\s+", " ", name))


def parse_number(text: str, *, decimal: Decimal = "auto") -> float:
    """Read a plain number.

    Parameters
    ----------
    text : str
        Such as ``45.5``, ``0,335``, ``1.234,5`` or ``1e3``.
    decimal : {'.', ',', 'auto'}
        The decimal mark of the source; ``auto`` works it out and refuses what can be meant in two ways.

    Raises
    ------
    UnitError
        If it is no finite number, or can be meant in two ways.
    """
    plain = text.translate(_PLAIN).strip()
    if not _NUMBER.fullmatch(plain):
        raise UnitError(f"'{_short(text)}' is no number", text)
    if re.search(r"[ ']", plain) and not _SPACED.fullmatch(plain):
        raise UnitError(f"'{_short(text)}' is more than one number", text)
    value = float(_point(plain.replace(" ", "").replace("'", ""), text, decimal))
    if not math.isfinite(value) or abs(value) > _LARGEST:
        raise UnitError(f"'{_short(text)}' is not a usable number", text)
    return value


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "…"


def _point(number: str, text: str, decimal: Decimal) -> str:
    """The number with a decimal point and no thousands marks."""
    body, _, exponent = number.lower().partition("e")
    tail = f"e{exponent}" if exponent else ""
    commas, points = body.count(","), body.count(".")
    if commas and points:
        mark = "," if body.rindex(",") > body.rindex(".") else "."
        if decimal not in ("auto", mark):
            raise UnitError(f"'{_short(text)}' does not go with the decimal mark '{decimal}' of its source", text)
    elif commas == 1:
        mark = _lone_comma(body, text, decimal)
    elif commas > 1 or (points == 1 and decimal == "," and _looks_like_thousands(body, ".")):
        mark = "." if commas else ","
    elif points > 1:
        mark = ","
    else:
        mark = "."
    thousands = "." if mark == "," else ","
    head, _, digits = body.partition(mark)
    if thousands in digits or mark in digits or not _grouped(head, thousands):
        raise UnitError(f"'{_short(text)}' is no number: its points and commas do not make sense", text)
    return f"{head.replace(thousands, '')}.{digits or '0'}{tail}"


def _lone_comma(body: str, text: str, decimal: Decimal) -> str:
    if decimal == ",":
        return ","
    thousands = _looks_like_thousands(body, ",")
    if decimal == ".":
        if thousands:
            return "."
        raise UnitError(f"'{_short(text)}' has a decimal comma where its source uses a decimal point", text)
    if thousands:
        raise UnitError(
            f"'{_short(text)}' can be meant in two ways: write {body.replace(',', '.')} or {body.replace(',', '')}",
            text,
        )
    return ","


def _looks_like_thousands(body: str, mark: str) -> bool:
    head, _, digits = body.lstrip("+-").partition(mark)
    return len(digits) == 3 and 1 <= len(head) <= 3 and not head.startswith("0")


def _grouped(head: str, mark: str) -> bool:
    groups = head.lstrip("+-").split(mark)
    return len(groups) == 1 or (1 <= len(groups[0]) <= 3 and all(len(g) == 3 for g in groups[1:]))


def parse_quantity(text: str, unit: str, *, decimal: Decimal = "auto") -> float:
    """Read a quantity into a stored unit.

    Parameters
    ----------
    text : str
        As people type it: a number or a fraction, with or without a unit.
    unit : str
        The stored unit, one of ``UNITS``; any other (or an empty one) takes plain numbers only.
    decimal : {'.', ',', 'auto'}
        The decimal mark of the source.

    Returns
    -------
    float
        In the stored unit.

    Raises
    ------
    UnitError
        With a plain sentence, if it cannot be read, has a unit of another kind, or can be meant in two ways.
    """
    plain = str(text).translate(_PLAIN).strip()
    if not plain:
        raise UnitError("nothing is written", text, unit)
    for sign, written in _VULGAR.items():
        plain = re.sub(rf"(\d)\s*{sign}", rf"\1 {written}", plain).replace(sign, written)
    feet = _FEET_AND_INCHES.fullmatch(plain) if unit in ("in", "mm") else None
    if feet:
        inches = 12.0 * int(feet[1]) + _amount(feet[2], text, decimal)
        return _checked(inches * UNITS[unit]["in"], text, unit)
    number, name = _split(plain, text, unit)
    amount = _amount(number, text, decimal)
    if not name:
        return _checked(amount, text, unit)
    known = factor(name, unit)
    if known is None:
        raise UnitError(_wrong_unit(text, name, unit), text, unit)
    return _checked(amount * known, text, unit)


def _split(plain: str, text: str, unit: str) -> tuple[str, str]:
    """Number and unit name."""
    match = _FRACTION.match(plain) or _NUMBER.match(plain)
    if match is None:
        raise UnitError(f"'{_short(str(text))}' is no number", text, unit)
    number, rest = match[0].rstrip(), plain[match.end() :].strip()
    # a thousands apostrophe and a foot mark look alike
    while number and number[-1] in "'":
        number, rest = number[:-1], "'" + rest
    if rest and (rest[0].isdigit() or rest[0] in ".,/+"):
        raise UnitError(f"'{_short(str(text))}' is more than one number", text, unit)
    return number, rest


def _amount(number: str, text: str, decimal: Decimal) -> float:
    match = _FRACTION.fullmatch(number.strip())
    if match is None:
        return parse_number(number, decimal=decimal)
    if int(match["bottom"]) == 0:
        raise UnitError(f"'{_short(str(text))}' divides by zero", text)
    if match["whole"] is not None and int(match["top"]) >= int(match["bottom"]):
        raise UnitError(f"'{_short(str(text))}' is no proper fraction", text)
    size = int(match["whole"] or 0) + Fraction(int(match["top"]), int(match["bottom"]))
    return float(-size if match["sign"] == "-" else size)


def _checked(value: float, text: str, unit: str) -> float:
    if not math.isfinite(value) or abs(value) > _LARGEST:
        raise UnitError(f"'{_short(str(text))}' is not a usable number", text, unit)
    return value


def _wrong_unit(text: str, name: str, unit: str) -> str:
    if unit not in UNITS:
        return f"'{_short(str(text))}': a plain number is wanted here, without '{_short(name)}'"
    other = next((u for u in UNITS if factor(name, u) is not None), None)
    wanted = f"a quantity in {_WORDS.get(unit, unit_label(unit))} is wanted here"
    if other is None:
        return f"'{_short(str(text))}': the unit '{_short(name)}' is not known; {wanted}"
    return f"'{_short(str(text))}' is in {name}, which is no unit of this kind; {wanted}"


def parse_integer(text: str, *, decimal: Decimal = "auto") -> int:
    """Read a whole number; ``5.0`` counts as one, as spreadsheets write it.

    Parameters
    ----------
    text : str
        As typed.
    decimal : {'.', ',', 'auto'}
        The decimal mark of the source.

    Raises
    ------
    UnitError
        If it is no whole number.
    """
    value = parse_number(text, decimal=decimal)
    if value != int(value):
        raise UnitError(f"'{_short(text)}' is no whole number", text)
    return int(value)


_TRUE = frozenset({"yes", "y", "true", "t", "1", "x", "ja", "oui", "1.0"})
_FALSE = frozenset({"no", "n", "false", "f", "0", "nein", "non", "0.0"})


def parse_boolean(text: object) -> bool:
    """Read yes or no.

    Parameters
    ----------
    text : object
        As typed, or a boolean or number from a spreadsheet.

    Raises
    ------
    UnitError
        If it is neither.
    """
    if isinstance(text, bool):
        return text
    word = str(text).strip().lower()
    if word in _TRUE:
        return True
    if word in _FALSE:
        return False
    raise UnitError(f"'{_short(str(text))}' is neither yes nor no", str(text))


_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def parse_date(text: object) -> dt.date:
    """Read a day: ``2026-03-31``, ``31.3.2026``, ``31 Mar 2026``, or a date of a spreadsheet.

    Parameters
    ----------
    text : object
        As typed, or a date.

    Raises
    ------
    UnitError
        If it is no day, or day and month can be meant in two ways (``03/04/2026``).
    """
    if isinstance(text, dt.datetime):
        return text.date()
    if isinstance(text, dt.date):
        return text
    plain = str(text).strip()
    try:
        return _date(plain)
    except ValueError as error:
        said = str(error) if isinstance(error, UnitError) else f"'{_short(plain)}' is no day; write it as 2026-03-31"
        raise UnitError(said, plain) from error


def _date(plain: str) -> dt.date:
    iso = re.fullmatch(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d{2}:\d{2}.*)?", plain)
    if iso:
        return dt.date(int(iso[1]), int(iso[2]), int(iso[3]))
    point = re.fullmatch(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})", plain)
    if point:
        return dt.date(int(point[3]), int(point[2]), int(point[1]))
    words = re.fullmatch(r"(\d{1,2})\.?[\s-]+([A-Za-z]{3,9})\.?,?[\s-]+(\d{4})", plain)
    if words and words[2][:3].lower() in _MONTHS:
        return dt.date(int(words[3]), _MONTHS.index(words[2][:3].lower()) + 1, int(words[1]))
    slash = re.fullmatch(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})", plain)
    if slash:
        first, second = int(slash[1]), int(slash[2])
        if first <= 12 and second <= 12 and first != second:
            raise UnitError(f"'{plain}' can be meant in two ways; write it as {slash[3]}-month-day", plain)
        day, month = (first, second) if first > 12 else (second, first)
        return dt.date(int(slash[3]), month, day)
    raise ValueError(plain)


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
    """
    most = _DECIMALS.get(unit, 4) if decimals is None else decimals
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
    """
    steps = round(abs(value_in) * parts)
    whole, rest = divmod(steps, parts)
    sign = "-" if value_in < 0 and steps else ""
    if not rest:
        return f"{sign}{whole} in"
    part = Fraction(rest, parts)
    text = f"{part.numerator}/{part.denominator}"
    return f"{sign}{whole} {text} in" if whole else f"{sign}{text} in"
