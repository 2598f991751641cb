"""Days still to come, as they are typed. The calendar is checked against dateutil's own rules and parser."""

from __future__ import annotations

import datetime as dt

import pytest
from dateutil import parser
from dateutil.relativedelta import FR, MO, SA, WE, relativedelta
from hypothesis import given
from hypothesis import strategies as st

from specdb.errors import UnitError
from specdb.units import day_in_full, parse_date, parse_day_ahead

TODAY = dt.date(2026, 11, 28)  # a Saturday
DECEMBER_9 = dt.date(2026, 12, 9)  # a Wednesday
COMING = st.dates(dt.date(2020, 1, 1), dt.date(2090, 1, 1))


@pytest.mark.parametrize(
    "text",
    ["9 Dec", "9 dec", "9.12.", "9.12", "9. 12.", "9.12.2026", "9 December", "9th of December", "Dec 9", "9dec",
     "Wed 9 Dec", "wednesday, 9 Dec 2026", "2026-12-09", "9 Dec 2026", "Wed 2026-12-09", "+11", "in 11 days"],
)  # fmt: skip
def test_one_day_in_many_words(text: str) -> None:
    assert parse_day_ahead(text, TODAY) == DECEMBER_9


def test_days_told_from_today() -> None:
    assert parse_day_ahead("today", TODAY) == TODAY
    assert parse_day_ahead("Tomorrow", TODAY) == TODAY + relativedelta(days=1)
    for text in ("in 2 weeks", "+2w", "+ 2 weeks", "in two weeks", "+14"):
        assert parse_day_ahead(text, TODAY) == TODAY + relativedelta(weeks=2)
    assert parse_day_ahead("in a week", TODAY) == TODAY + relativedelta(weeks=1)
    assert parse_day_ahead("in 3 months", TODAY) == TODAY + relativedelta(months=3)
    assert parse_day_ahead("in a month", dt.date(2027, 1, 31)) == dt.date(2027, 2, 28)


def test_a_weekday_is_the_next_one_and_next_means_the_next_week() -> None:
    assert parse_day_ahead("Friday", TODAY) == TODAY + relativedelta(days=1, weekday=FR)
    assert parse_day_ahead("sat", TODAY) == TODAY + relativedelta(days=1, weekday=SA)  # not today
    tuesday = dt.date(2026, 11, 24)
    assert parse_day_ahead("this friday", tuesday) == dt.date(2026, 11, 27)
    assert parse_day_ahead("on Friday", tuesday) == dt.date(2026, 11, 27)
    assert parse_day_ahead("next friday", tuesday) == dt.date(2026, 12, 4)
    assert parse_day_ahead("next Mon", tuesday) == tuesday + relativedelta(weekday=MO)


def test_a_day_without_a_year_is_the_next_such_day() -> None:
    assert parse_day_ahead("28 Nov", TODAY) == TODAY
    assert parse_day_ahead("27 Nov", TODAY) == dt.date(2027, 11, 27)
    assert parse_day_ahead("29 Feb", TODAY) == dt.date(2028, 2, 29)
    assert parse_day_ahead("13/12", TODAY) == dt.date(2026, 12, 13)  # no month has the number 13
    assert parse_day_ahead("12/13", TODAY) == dt.date(2026, 12, 13)


@pytest.mark.parametrize("text", ["9/12", "9-12", "9 / 12", "Wed 9/12"])
def test_what_is_unclear_is_refused_with_both_readings(text: str) -> None:
    with pytest.raises(UnitError, match="9 Dec or 12 Sep"):
        parse_day_ahead(text, TODAY)


def test_with_a_year_too_both_readings_are_named() -> None:
    with pytest.raises(UnitError, match="9 Dec or 12 Sep; write 2026-12-09 or 2026-09-12"):
        parse_date("9/12/2026")


@pytest.mark.parametrize(
    "text",
    ["soon", "", "next week", "9", "+", "+x", "in x days", "in 2 fortnights", "31 Feb", "32.12.", "9.13.", "0/5",
     "Tue 9 Dec", "+99999", "Friday 13", "9.12.26", "May", "next 9 Dec"],
)  # fmt: skip
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse_day_ahead(text, TODAY)


def test_a_wrong_weekday_is_told() -> None:
    with pytest.raises(UnitError, match="9 Dec 2026 is a Wednesday, no Tuesday"):
        parse_day_ahead("Tue 9 Dec", TODAY)


def test_it_is_written_out_so_that_nobody_takes_it_for_another() -> None:
    assert day_in_full(DECEMBER_9, TODAY) == "Wed 9 Dec 2026, in 11 days"
    assert day_in_full(TODAY + relativedelta(weekday=WE), TODAY) == "Wed 2 Dec 2026, in 4 days"
    assert day_in_full(TODAY, TODAY) == "Sat 28 Nov 2026, today"
    assert day_in_full(TODAY - relativedelta(days=3), TODAY) == "Wed 25 Nov 2026, 3 days ago"


@given(COMING, COMING)
def test_what_is_written_out_is_read_back(day: dt.date, today: dt.date) -> None:
    words = day_in_full(day, today).partition(",")[0]
    assert parse_day_ahead(words, today) == day
    assert parser.parse(words).date() == day


@given(COMING, st.integers(0, 365))
def test_without_the_year_too_if_it_is_within_one(today: dt.date, days: int) -> None:
    day = today + relativedelta(days=days)
    if day < today + relativedelta(years=1) and (day.month, day.day) != (2, 29):
        assert parse_day_ahead(f"{day.day}.{day.month}.", today) == day
        assert parse_day_ahead(f"{day:%b} {day.day}", today) == day
    assert parse_day_ahead(f"+{days}", today) == day
