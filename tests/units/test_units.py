"""Quantities as typed, held against exact arithmetic and the pint library (general-purpose units)."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.errors import UnitError
from specdb.units import (
    UNITS,
    format_quantity,
    parse_boolean,
    parse_date,
    parse_integer,
    parse_number,
    parse_quantity,
    to_sixteenths,
)

REGISTRY: Any = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("45 1/2", "in", 45.5),
        ("45-1/2", "in", 45.5),
        ("45½", "in", 45.5),
        ("45 ½ in", "in", 45.5),
        ("45.5in", "in", 45.5),
        ('45.5"', "in", 45.5),
        ("45.5″", "in", 45.5),
        ('45 1/2"', "in", 45.5),
        ("5 1/2 in.", "in", 5.5),
        ("3' 9 1/2\"", "in", 45.5),
        ("3 ft 9.5 in", "in", 45.5),
        ("3'-9 1/2\"", "in", 45.5),
        ("3′ 9½″", "in", 45.5),
        ("3 ft. 9 1/2''", "in", 45.5),
        ("-3' 6\"", "in", -42.0),
        ("3'", "in", 36.0),
        ("3' 9\"", "mm", 1143.0),
        ("45⅙", "in", float(45 + Fraction(1, 6))),
        ("45 ⅒ in", "in", 45.1),
        ("45–1/2", "in", 45.5),
        ("115.57 cm", "in", 45.5),
        (".335", "in", 0.335),
        ("0,335", "in", 0.335),
        ("−1/2", "in", -0.5),
        ("65g", "g", 65.0),
        ("65\u00a0g", "g", 65.0),
        ("1.234,5", "g", 1234.5),
        ("1,234.5", "g", 1234.5),
        ("1'234.5", "g", 1234.5),
        ("1 234,5", "g", 1234.5),
        ("1e2", "g", 100.0),
        ("4.5 Hz", "cpm", 270.0),
        ("3.8°", "deg", 3.8),
        ("2 days", "hours", 48.0),
        ("25 N·m2", "n_m2", 25.0),
        ("25 Nm²", "n_m2", 25.0),
        ("25 N m^2", "n_m2", 25.0),
        ("25 N.m2", "n_m2", 25.0),
        ("25 N⋅m**2", "n_m2", 25.0),
        ("1,000,000 kgf mm^2", "n_m2", 9.80665),
        ("2900 kg-cm²", "kg_cm2", 2900.0),
        ("255/min", "cpm", 255.0),
        ("255 per minute", "cpm", 255.0),
        ("460 cm3", "cc", 460.0),
    ],
)
def test_spellings(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-14)


def test_traps_of_bending_stiffness() -> None:
    """1e6 kgf·mm² = 9.80665 N·m²; 1 lbf·in² = 0.0028698 N·m² (exact definitions; recomputed)."""
    assert parse_quantity("1000000 kgf·mm²", "n_m2") == pytest.approx(9.80665, rel=1e-14)
    assert parse_quantity("1 lbf*in^2", "n_m2") == pytest.approx(0.45359237 * 9.80665 * 0.0254**2, rel=1e-12)


PINT = {
    "in": {"in": "inch", "mm": "mm", "cm": "cm", "m": "m", "ft": "foot", "thou": "thou"},
    "g": {"kg": "kg", "oz": "oz", "lb": "lb", "mg": "mg", "grain": "grain"},
    "mm": {"in": "inch", "cm": "cm"},
    "deg": {"rad": "radian"},
    "n_m2": {
        "kgf·mm²": "kgf*mm**2",
        "lbf·in²": "lbf*inch**2",
        "n·mm²": "N*mm**2",
        "kgf·cm²": "kgf*cm**2",
        "n·cm²": "N*cm**2",
    },
    "n": {"kgf": "kgf", "lbf": "lbf", "kn": "kN"},
    "mpa": {"psi": "psi", "ksi": "ksi", "gpa": "GPa", "bar": "bar", "kpa": "kPa", "n/mm²": "N/mm**2"},
    "hours": {"min": "minute", "days": "day", "weeks": "week"},
    "cc": {"in³": "inch**3", "ml": "ml"},
    "cpm": {"hz": "1/second"},
    "in_per_in": {"mm/in": "mm/inch", "thou/in": "thou/inch"},
    "kg_cm2": {"kg·m²": "kg*m**2", "g·cm²": "g*cm**2"},
}
STORED = {
    "in": "inch", "g": "g", "mm": "mm", "deg": "degree", "n_m2": "N*m**2", "n": "N", "mpa": "MPa", "hours": "hour",
    "cc": "cm**3", "cpm": "1/minute", "in_per_in": "inch/inch", "kg_cm2": "kg*cm**2",
}  # fmt: skip


@pytest.mark.parametrize("name", ["lbf·in²", "lbf in^2", "lb-in2", "LB IN2", "lbs*in**2", "lbfin2", "lbf.in²"])
def test_a_product_of_units_is_one_however_it_is_joined(name: str) -> None:
    assert parse_quantity(f"1e4 {name}", "n_m2") == pytest.approx(28.698146573014637, rel=1e-12)


@pytest.mark.parametrize(("unit", "name"), [(u, n) for u, names in PINT.items() for n in names])
def test_factors_equal_pint(unit: str, name: str) -> None:
    expected = REGISTRY.Quantity(1.0, PINT[unit][name]).to(STORED[unit]).magnitude
    assert UNITS[unit][name] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        ("", "g", "nothing"),
        ("   ", "g", "nothing"),
        ("nan", "g", "no number"),
        ("inf", "g", "no number"),
        ("1e308", "g", "usable"),
        ("1e400", "g", "usable"),
        ("65 g", "in", "inches is wanted"),
        ("45 in", "g", "grams is wanted"),
        ("1,234", "g", "two ways"),
        ("1 2", "in", "more than one"),
        ("45.5 46", "in", "more than one"),
        ("5%", "g", "not known"),
        ("1/0", "in", "zero"),
        ("45 3/2", "in", "proper fraction"),
        ("1,2,3", "g", "do not make sense"),
        ("1.2.3", "g", "do not make sense"),
        ("abc", "in", "no number"),
        ("=1+1", "in", "no number"),
        ("3 cpm", "", "plain number"),
        ("65 g 3", "g", "not known"),
        ("65 gr", "g", "two ways.*grains"),
        ("6.5 lb", "n", "kgf or lbf"),
        ("4½5", "in", "more than one"),
        ("4½ 5", "in", "more than one"),
        ("½½", "in", "more than one"),
        ("1'234", "in", "12 inches or more"),
        ("3' 12\"", "in", "12 inches or more"),
        ("3' 9 mm", "in", "inches are wanted"),
        ("45 -1/2", "in", "not known"),
        ("1/" + "9" * 5000, "in", "too long"),
        ("9" * 400 + " 1/2", "in", "too long"),
        ("3' 9\"" + " " * 50_000 + "x", "in", "too long"),
    ],
)
def test_refusals_say_why(text: str, unit: str, said: str) -> None:
    with pytest.raises(UnitError, match=said):
        parse_quantity(text, unit)


def test_the_decimal_mark_of_the_source_settles_what_is_ambiguous() -> None:
    assert parse_number("1,234", decimal=",") == 1.234
    assert parse_number("1,234", decimal=".") == 1234.0
    assert parse_number("1.234", decimal=".") == 1.234
    assert parse_number("1.234", decimal=",") == 1234.0
    assert parse_number("45.5", decimal=",") == 45.5
    with pytest.raises(UnitError, match="decimal comma"):
        parse_number("45,5", decimal=".")
    with pytest.raises(UnitError, match="does not go with"):
        parse_number("1,234.5", decimal=",")


@given(st.integers(0, 60), st.integers(1, 15), st.booleans())
def test_sixteenths_come_back(whole: int, top: int, marked: bool) -> None:
    value = float(whole + Fraction(top, 16))
    text = to_sixteenths(value)
    assert parse_quantity(text if marked else text.removesuffix(" in"), "in") == value


@given(st.floats(-1e6, 1e6), st.sampled_from(sorted(UNITS)))
def test_a_number_with_any_known_unit_scales_by_its_factor(value: float, unit: str) -> None:
    number = repr(value)
    for name, factor in UNITS[unit].items():
        assert parse_quantity(f"{number} {name}", unit) == pytest.approx(value * factor, rel=1e-12, abs=1e-300)


@given(st.floats(-1e5, 1e5), st.sampled_from(sorted(UNITS)))
def test_what_is_written_is_read_back_within_its_rounding(value: float, unit: str) -> None:
    text = format_quantity(value, unit, decimals=3)
    assert parse_quantity(text, unit, decimal=".") == pytest.approx(value, abs=0.00051)


SCRAPS = st.lists(
    st.sampled_from(
        ["4", "45", "0", "1", ".", ",", " ", "  ", "1/2", "½", "⅞", "'", '"', "-", "+", "in", "mm", "ft", "e", "9" * 60]
    ),
    max_size=8,
).map("".join)


@given(st.text(max_size=30) | SCRAPS, st.sampled_from(["", *sorted(UNITS)]))
def test_any_text_is_read_or_refused(text: str, unit: str) -> None:
    try:
        value = parse_quantity(text, unit)
    except UnitError:
        return
    else:
        assert abs(value) <= 1e15


WRITTEN_DAYS = (
    "2026-03-31",
    "2026/3/31",
    "31.3.2026",
    "31 Mar 2026",
    "31-March-2026",
    "31/03/2026",
    "03/31/2026",
    "March 31, 2026",
    "Mar 31 2026",
    "31st March 2026",
    "2026-03-31T12:30:00.5Z",
    "2026-03-31 12:30",
    "31\u00a0Mar\u00a02026",
    "2026‑03‑31",
)


def test_days() -> None:
    day = dt.date(2026, 3, 31)
    for text in WRITTEN_DAYS:
        assert parse_date(text) == day
    assert parse_date(dt.datetime(2026, 3, 31, 12, tzinfo=dt.UTC)) == day
    assert parse_date("04/04/2026") == dt.date(2026, 4, 4)
    with pytest.raises(UnitError, match="two ways"):
        parse_date("03/04/2026")
    with pytest.raises(UnitError, match="two digits"):
        parse_date("31.03.26")
    for text in (
        "2026-02-30",
        "yesterday",
        "",
        "31.13.2026",
        "20260331",
        "31 Mayhem 2026",
        "2026-03-31 noon",
        "46112.0",
    ):
        with pytest.raises(UnitError):
            parse_date(text)


def test_yes_and_no_and_whole_numbers() -> None:
    assert parse_boolean("Yes")
    assert parse_boolean(True)
    assert not parse_boolean("no")
    with pytest.raises(UnitError):
        parse_boolean("perhaps")
    assert parse_integer("5.0") == 5
    assert parse_integer("-3") == -3
    with pytest.raises(UnitError):
        parse_integer("2.5")


@given(st.dates())
def test_days_come_back_from_every_plain_form(day: dt.date) -> None:
    months = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    assert parse_date(day.isoformat()) == day
    assert parse_date(f"{day.day}.{day.month}.{day.year:04}") == day
    assert parse_date(f"{day.day} {months[day.month - 1]} {day.year:04}") == day


@given(st.integers(-(10**9), 10**9), st.integers(0, 99))
def test_thousands_and_decimals_in_every_style_are_one_number(whole: int, cents: int) -> None:
    grouped = f"{whole:,}"
    expected = float(f"{whole}.{cents:02}")
    for thousands, mark in ((",", "."), (".", ","), (" ", ","), ("'", "."), ("\u202f", ","), ("\u00a0", ".")):
        written = f"{grouped.replace(',', thousands)}{mark}{cents:02}"
        assert parse_number(written) == expected
        assert parse_number(written, decimal="," if mark == "," else ".") == expected


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_not_known_is_not_written_as_a_number(value: float) -> None:
    with pytest.raises(UnitError):
        format_quantity(value, "in")
    with pytest.raises(UnitError):
        to_sixteenths(value)


@given(st.floats(-99, 99), st.sampled_from([2, 8, 16, 32, 64]))
def test_a_length_in_parts_is_within_half_a_part(value: float, parts: int) -> None:
    assert abs(parse_quantity(to_sixteenths(value, parts=parts), "in") - value) <= 0.5 / parts
