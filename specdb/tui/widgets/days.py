"""Days as one speaks of them: how long there is, how late it is, what is near without its year."""

from __future__ import annotations

import datetime as dt

_WITH_YEAR_DAYS = 180


def shop_day() -> dt.date:
    """The day on the shop's own calendar."""
    return dt.date.today()  # noqa: DTZ011


def short_day(day: dt.date, today: dt.date) -> str:
    """A day: ``4 Dec``, with its year where it is far off.

    Parameters
    ----------
    day, today : date
        The day, and the day it is now.
    """
    words = f"{day.day} {day:%b}"
    return words if abs((day - today).days) <= _WITH_YEAR_DAYS else f"{words} {day.year}"


def counted(days: int) -> str:
    """Some days: ``1 day``, ``3 days``.

    Parameters
    ----------
    days : int
        How many.
    """
    return f"{days} day" if days == 1 else f"{days} days"


def due(wanted: dt.date | None, today: dt.date, *, open_: bool = True) -> str:
    """How long there is until a day, or how late it is.

    Parameters
    ----------
    wanted : date or None
        The day; None where none is asked for.
    today : date
        The day it is now.
    open_ : bool
        Whether it is still to be done; what is done is not late.
    """
    if wanted is None:
        return "no day"
    left = (wanted - today).days
    if not open_:
        return ""
    if left < 0:
        return f"{counted(-left)} late"
    return {0: "today", 1: "tomorrow"}.get(left, f"in {left} days")


def wanted_words(wanted: dt.date | None, today: dt.date, *, open_: bool = True) -> str:
    """A day with how long there is: ``4 Dec, in 9 days``.

    Parameters
    ----------
    wanted : date or None
        The day; None where none is asked for.
    today : date
        The day it is now.
    open_ : bool
        Whether it is still to be done.
    """
    if wanted is None:
        return "no day"
    words = due(wanted, today, open_=open_)
    return f"{short_day(wanted, today)}, {words}" if words else short_day(wanted, today)


def too_late(comes: dt.date, wanted: dt.date | None) -> str:
    """By how much something comes after the day it is wanted; empty where it does not.

    Parameters
    ----------
    comes, wanted : date
        The days.
    """
    if wanted is None or comes <= wanted:
        return ""
    return f"{counted((comes - wanted).days)} too late"
