"""Quantities as people type them, read into the unit that is stored.

Fractions (``45 1/2``, ``45½``, ``3' 9 1/2"``), units (``1156 mm``, ``2.3 oz``, ``6.5 lbf``), decimal commas. What can
be meant in two ways is refused with the reason, never guessed: a single comma before exactly three digits (``1,234``)
is read only where the caller says which decimal mark the source uses; ``gr`` is the gram to some and the grain to
others; ``1'234`` in a length field is a thousand or feet and inches.
"""

from __future__ import annotations

import math
import re
import unicodedata
from fractions import Fraction
from typing import Literal

from specdb.errors import UnitError
from specdb.units.factors import HINTS, UNITS, WORDS, factor, unit_label
from specdb.units.text import shortened, tidied

Decimal = Literal[".", ",", "auto"]

_FRACTION = re.compile(r"(?P<sign>[+-]?)(?:(?P<whole>\d+)(?:\s+|-))?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)")
_NUMBER = re.compile(r"[+-]?(?:\d[\d.,' ]*|[.,]\d+)(?:[eE][+-]?\d+)?")
_SPACED = re.compile(r"[+-]?\d{1,3}(?:[ ']\d{3})+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")
_FEET = re.compile(r"(?P<sign>[+-]?)(?P<feet>\d+)\s*(?:'|ft\.?|feet|foot)\s*-?\s*(?=[\d.,])")
_VULGAR = re.compile(r"(?P<before>\d?)\s*(?P<sign>[¼½¾⅐-⅞])(?P<after>\s*\d?)")
_LARGEST = 1e15


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
    plain = tidied(text)
    if not _NUMBER.fullmatch(plain):
        raise UnitError(f"'{shortened(text)}' is no number", text)
    if re.search(r"[ ']", plain) and not _SPACED.fullmatch(plain):
        raise UnitError(f"'{shortened(text)}' is more than one number", text)
    value = float(_point(plain.replace(" ", "").replace("'", ""), text, decimal))
    if not math.isfinite(value) or abs(value) > _LARGEST:
        raise UnitError(f"'{shortened(text)}' is not a usable number", text)
    return value


def _point(number: str, text: str, decimal: Decimal) -> str:
    """The number with a decimal point and no thousands marks."""
    body, _, exponent = number.lower().partition("e")
    tail = f"e{exponent}" if exponent else ""
    commas, points = body.count(","), body.count(".")
    if commas and points:
        mark = "," if body.rindex(",") > body.rindex(".") else "."
        if decimal not in ("auto", mark):
            raise UnitError(f"'{shortened(text)}' does not go with the decimal mark '{decimal}' of its source", text)
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
        raise UnitError(f"'{shortened(text)}' is no number: its points and commas do not make sense", text)
    return f"{head.replace(thousands, '')}.{digits or '0'}{tail}"


def _lone_comma(body: str, text: str, decimal: Decimal) -> str:
    if decimal == ",":
        return ","
    thousands = _looks_like_thousands(body, ",")
    if decimal == ".":
        if thousands:
            return "."
        raise UnitError(f"'{shortened(text)}' has a decimal comma where its source uses a decimal point", text)
    if thousands:
        raise UnitError(
            f"'{shortened(text)}' can be meant in two ways: write {body.replace(',', '.')} or {body.replace(',', '')}",
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
    plain = tidied(text, unit)
    if not plain:
        raise UnitError("nothing is written", text, unit)
    plain = fractions_spelled_out(plain)
    feet = _FEET.match(plain) if unit in ("in", "mm") else None
    if feet:
        return _checked(_feet_and_inches(feet, text, decimal) * UNITS[unit]["in"], text, unit)
    number, name = _split(plain, text, unit)
    amount = _amount(number, text, decimal)
    if not name:
        return _checked(amount, text, unit)
    known = factor(name, unit)
    if known is None:
        raise UnitError(_wrong_unit(text, name, unit), text, unit)
    return _checked(amount * known, text, unit)


def fractions_spelled_out(text: str) -> str:
    """A text with the fractions that are one character as digits: ``45½`` as ``45 1/2``.

    Parameters
    ----------
    text : str
        As typed.
    """
    return _VULGAR.sub(_spelled_out, text)


def _spelled_out(match: re.Match[str]) -> str:
    """A fraction that is one character, as digits: ``45½`` as ``45 1/2``."""
    written = unicodedata.normalize("NFKC", match["sign"]).replace("⁄", "/")
    before = f"{match['before']} " if match["before"] else ""
    # digits right after it belong to another number
    return f"{before}{written} {match['after']}" if match["after"].strip() else f"{before}{written}{match['after']}"


def _feet_and_inches(match: re.Match[str], text: str, decimal: Decimal) -> float:
    number, name = _split(match.string[match.end() :], text, "in")
    if name and factor(name, "in") != 1.0:
        raise UnitError(f"'{shortened(str(text))}': after feet, inches are wanted", text, "in")
    inches = _amount(number, text, decimal)
    if inches >= 12:
        raise UnitError(
            f"'{shortened(str(text))}' has feet and then 12 inches or more; write the length in inches", text
        )
    size = 12.0 * int(match["feet"]) + inches
    return -size if match["sign"] == "-" else size


def _split(plain: str, text: str, unit: str) -> tuple[str, str]:
    """Number and unit name."""
    match = _FRACTION.match(plain) or _NUMBER.match(plain)
    if match is None:
        raise UnitError(f"'{shortened(str(text))}' is no number", text, unit)
    number, rest = match[0].rstrip(), plain[match.end() :].strip()
    # a thousands apostrophe and a foot mark look alike
    while number and number[-1] in "'":
        number, rest = number[:-1], "'" + rest
    if rest and (rest[0].isdigit() or rest[0] in ".,/+") and factor(rest, unit) is None:
        raise UnitError(f"'{shortened(str(text))}' is more than one number", text, unit)
    return number, rest


def _amount(number: str, text: str, decimal: Decimal) -> float:
    match = _FRACTION.fullmatch(number.strip())
    if match is None:
        return parse_number(number, decimal=decimal)
    if int(match["bottom"]) == 0:
        raise UnitError(f"'{shortened(str(text))}' divides by zero", text)
    if match["whole"] is not None and int(match["top"]) >= int(match["bottom"]):
        raise UnitError(f"'{shortened(str(text))}' is no proper fraction", text)
    size = int(match["whole"] or 0) + Fraction(int(match["top"]), int(match["bottom"]))
    return float(-size if match["sign"] == "-" else size)


def _checked(value: float, text: str, unit: str) -> float:
    if not math.isfinite(value) or abs(value) > _LARGEST:
        raise UnitError(f"'{shortened(str(text))}' is not a usable number", text, unit)
    return value


def _wrong_unit(text: str, name: str, unit: str) -> str:
    if unit not in UNITS:
        return f"'{shortened(str(text))}': a plain number is wanted here, without '{shortened(name)}'"
    if unit == "g" and name.lower().rstrip(".") == "gr":
        return f"'{shortened(str(text))}' can be meant in two ways: write 'g' for grams or 'grains'"
    other = next((u for u in UNITS if factor(name, u) is not None), None)
    wanted = f"a quantity in {WORDS.get(unit, unit_label(unit))} is wanted here"
    wanted += f" ({HINTS[unit]})" if unit in HINTS else ""
    if other is None:
        return f"'{shortened(str(text))}': the unit '{shortened(name)}' is not known; {wanted}"
    return f"'{shortened(str(text))}' is in {shortened(name)}, which is no unit of this kind; {wanted}"


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
        raise UnitError(f"'{shortened(text)}' is no whole number", text)
    return int(value)
