"""A day that is still to come, as it is said in a workshop: ``9 Dec``, ``Friday``, ``in 2 weeks``, ``+10``.

Only for what a person types on that day: in a file such words would mean another day each time it is read. A list of
orders may leave out the year alone, as the day that an order has then stands.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re

from specdb.errors import UnitError
from specdb.units.days import month_number, parse_date
from specdb.units.text import shortened, tidied

_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_OTHER_WEEKDAYS = {"tues": "tue", "weds": "wed", "thur": "thu", "thurs": "thu"}
_NUMBERS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8}
_SPOKEN = {"today": 0, "tomorrow": 1, "day after tomorrow": 2, "the day after tomorrow": 2}
_UNITS = {"": "day", "d": "day", "day": "day", "w": "week", "wk": "week", "week": "week", "m": "month",
          "month": "month"}  # fmt: skip

_WEEKDAY_BEFORE = re.compile(r"([a-z]{3,9})\.?,?\s+(?=.*\d)(.+)")
_WEEKDAY = re.compile(r"(?:on\s+)?(?:(this|next|coming)\s+)?([a-z]{3,9})\.?")
_AFTER = re.compile(r"(?:\+\s*(\d{1,4})\s*([a-z]*?)s?|in\s+(\d{1,4}|[a-z]+)\s+([a-z]+?)s?)")
_DAY_MONTH = re.compile(r"(\d{1,2})(?:\.|st|nd|rd|th)?[\s-]*(?:of\s+)?([a-z]{3,9})\.?")
_MONTH_DAY = re.compile(r"([a-z]{3,9})\.?\s*(\d{1,2})(?:\.|st|nd|rd|th)?")
_POINTS = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.?")
_SLASHES = re.compile(r"(\d{1,2})\s?[/-]\s?(\d{1,2})")
_HOW = "write it as 9 Dec, 9.12. or 2026-12-09"
_MOST_DAYS = 3660


def parse_day_ahead(text: object, today: dt.date) -> dt.date:
    """Read a day that is still to come; one without a year is the next such day, today included.

    ``Friday`` is the next one after today, ``next Friday`` that of the next week (weeks begin on Monday). A day that
    is written out in full may also be past, as whatever :func:`~specdb.units.days.parse_date` reads.

    Parameters
    ----------
    text : object
        As typed: ``2026-12-09``, ``9 Dec``, ``9.12.``, ``Wed 9 Dec 2026``, ``Friday``, ``next friday``,
        ``tomorrow``, ``in 2 weeks``, ``+10`` (days).
    today : date
        The day it is now.

    Raises
    ------
    UnitError
        If it is no day, or can be meant in two ways (``9/12``: both are named).
    """
    if isinstance(text, dt.date):
        return parse_date(text)
    plain = tidied(text)
    low = " ".join(plain.lower().split())
    try:
        found = _spoken(low, today) or _without_year(low, today) or _with_weekday(low, today)
    except (ValueError, OverflowError) as error:
        if isinstance(error, UnitError):
            raise
        raise UnitError(f"'{shortened(plain)}' is no day; {_HOW}", plain) from error
    if found is not None:
        return found
    try:
        return parse_date(plain)
    except UnitError as error:
        if "is no day" not in str(error):
            raise
        raise UnitError(f"'{shortened(plain)}' is no day; {_HOW}", plain) from error


def day_in_full(day: dt.date, today: dt.date) -> str:
    """A day so that nobody takes it for another: ``Wed 9 Dec 2026, in 11 days``.

    Parameters
    ----------
    day, today : date
        The day, and the day it is now.
    """
    left = (day - today).days
    near = {0: "today", 1: "tomorrow", -1: "yesterday"}
    words = near.get(left) or (f"in {left} days" if left > 0 else f"{-left} days ago")
    return f"{day:%a} {day.day} {day:%b} {day.year}, {words}"


def _spoken(low: str, today: dt.date) -> dt.date | None:
    """Days told from today."""
    if low in _SPOKEN:
        return today + dt.timedelta(days=_SPOKEN[low])
    found = _AFTER.fullmatch(low)
    if found:
        count, unit = (found[1], found[2]) if found[1] is not None else (found[3], found[4])
        number = int(count) if count.isdigit() else _NUMBERS.get(count)
        what = _UNITS.get(unit)
        return None if number is None or what is None else _later(today, number, what)
    named = _WEEKDAY.fullmatch(low)
    weekday = _weekday(named[2]) if named else None
    if named is None or weekday is None:
        return None
    if named[1] == "next":
        monday = today + dt.timedelta(days=7 - today.weekday())
        return monday + dt.timedelta(days=weekday)
    return today + dt.timedelta(days=(weekday - today.weekday() - 1) % 7 + 1)


def _later(today: dt.date, number: int, what: str) -> dt.date:
    if what == "month":
        months = today.year * 12 + today.month - 1 + number
        year, month = divmod(months, 12)
        day = dt.date(year, month + 1, min(today.day, calendar.monthrange(year, month + 1)[1]))
    else:
        day = today + dt.timedelta(days=number * (7 if what == "week" else 1))
    if (day - today).days > _MOST_DAYS:
        raise UnitError("that is more than ten years ahead")
    return day


def _without_year(low: str, today: dt.date) -> dt.date | None:
    """The next day of a day and a month."""
    if found := _SLASHES.fullmatch(low):
        return _slashes(low, int(found[1]), int(found[2]), today)
    if found := _POINTS.fullmatch(low):
        return _next(int(found[1]), int(found[2]), today)
    if found := _DAY_MONTH.fullmatch(low):
        return _next(int(found[1]), month_number(found[2]), today)
    if found := _MONTH_DAY.fullmatch(low):
        return _next(int(found[2]), month_number(found[1]), today)
    return None


def _slashes(low: str, first: int, second: int, today: dt.date) -> dt.date:
    if first <= 12 and second <= 12 and first != second:
        one, other = _next(first, second, today), _next(second, first, today)
        raise UnitError(
            f"'{low}' is unclear, {one.day} {one:%b} or {other.day} {other:%b}: write the month as a word", low
        )
    return _next(first, second, today) if second <= 12 else _next(second, first, today)


def _next(day: int, month: int, today: dt.date) -> dt.date:
    """The next such day, today included; 29 February in the next year that has one."""
    dt.date(2024, month, day)  # raises where no year has it
    for year in range(today.year, today.year + 9):
        if day <= calendar.monthrange(year, month)[1] and dt.date(year, month, day) >= today:
            return dt.date(year, month, day)
    raise ValueError(day)


def _with_weekday(low: str, today: dt.date) -> dt.date | None:
    """A day with its weekday before it, which has to be right."""
    found = _WEEKDAY_BEFORE.fullmatch(low)
    weekday = _weekday(found[1]) if found else None
    if found is None or weekday is None:
        return None
    day = parse_day_ahead(found[2], today)
    if day.weekday() != weekday:
        raise UnitError(f"{day.day} {day:%b} {day.year} is a {day:%A}, no {_WEEKDAYS[weekday].capitalize()}", low)
    return day


def _weekday(word: str) -> int | None:
    """Number of a weekday from 0 for Monday; None where it is none."""
    word = _OTHER_WEEKDAYS.get(word, word)
    return next((n for n, name in enumerate(_WEEKDAYS) if word in (name, name[:3])), None)
