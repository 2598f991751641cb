"""Days, and yes or no, as people write them; a day that can be meant in two ways is refused."""

from __future__ import annotations

import datetime as dt
import re

from specdb.errors import UnitError
from specdb.units.text import shortened, tidied

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
    raise UnitError(f"'{shortened(str(text))}' is neither yes nor no", str(text))


_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
_ISO = re.compile(
    r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?"
)
_POINTS = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})")
_DAY_MONTH = re.compile(r"(\d{1,2})(?:\.|st|nd|rd|th)?[\s-]+([A-Za-z]{3,9})\.?,?[\s-]+(\d{4})")
_MONTH_DAY = re.compile(r"([A-Za-z]{3,9})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})")
_SLASHES = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})")
_NO_YEAR = re.compile(
    r"(?:\d{1,2}(?:\.|st|nd|rd|th)?[\s-]*(?:MONTH)|(?:MONTH)\.?\s*\d{1,2}(?:st|nd|rd|th)?|\d{1,2}\.\s?\d{1,2}\.)".replace(
        "MONTH", "|".join(f"{m[:3]}(?:{m[3:]})?" for m in _MONTHS)
    ),
    re.IGNORECASE,
)
_SHORT_YEAR = re.compile(r"\d{1,2}[/.\s-]+(?:\d{1,2}|[A-Za-z]{3,9})[/.\s-]+\d{2}")


def parse_date(text: object) -> dt.date:
    """Read a day: ``2026-03-31``, ``31.3.2026``, ``31 Mar 2026``, ``March 31, 2026``, or a date of a spreadsheet.

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
    plain = tidied(text)
    try:
        return _date(plain)
    except ValueError as error:
        said = str(error) if isinstance(error, UnitError) else f"'{shortened(plain)}' is no day; write it as 2026-03-31"
        raise UnitError(said, plain) from error


def _date(plain: str) -> dt.date:
    iso = _ISO.fullmatch(plain)
    if iso:
        return dt.date(int(iso[1]), int(iso[2]), int(iso[3]))
    point = _POINTS.fullmatch(plain)
    if point:
        return dt.date(int(point[3]), int(point[2]), int(point[1]))
    words = _DAY_MONTH.fullmatch(plain)
    if words:
        return dt.date(int(words[3]), month_number(words[2]), int(words[1]))
    words = _MONTH_DAY.fullmatch(plain)
    if words:
        return dt.date(int(words[3]), month_number(words[1]), int(words[2]))
    slash = _SLASHES.fullmatch(plain)
    if slash:
        first, second = int(slash[1]), int(slash[2])
        if first <= 12 and second <= 12 and first != second:
            year = int(slash[3])
            one, other = dt.date(year, second, first), dt.date(year, first, second)
            ways = f"{one.day} {one:%b} or {other.day} {other:%b}"
            raise UnitError(
                f"'{plain}' can be meant in two ways, {ways}; write {one.isoformat()} or {other.isoformat()}", plain
            )
        day, month = (first, second) if first > 12 else (second, first)
        return dt.date(int(slash[3]), month, day)
    if _NO_YEAR.fullmatch(plain):
        raise UnitError(f"'{plain}' has no year; write it as 2026-03-31", plain)
    if _SHORT_YEAR.fullmatch(plain):
        raise UnitError(f"'{plain}' has a year of two digits; write it as 2026-03-31", plain)
    raise ValueError(plain)


def month_number(word: str) -> int:
    """Number of a month from its name or the first three letters of it.

    Parameters
    ----------
    word : str
        As typed.

    Raises
    ------
    ValueError
        If it is no month.
    """
    plain = word.lower()
    for number, name in enumerate(_MONTHS, start=1):
        if plain in (name, name[:3]) or (plain == "sept" and number == 9):
            return number
    raise ValueError(word)
