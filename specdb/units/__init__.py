"""Quantities, days and answers as people type them, read into what is stored, and quantities written out again."""

from specdb.units.days import parse_boolean, parse_date
from specdb.units.days_ahead import day_in_full, parse_day_ahead
from specdb.units.factors import UNITS, factor, unit_label
from specdb.units.quantities import Decimal, parse_integer, parse_number, parse_quantity
from specdb.units.writing import format_quantity, quantity_as_typed, to_sixteenths, usual_decimals

__all__ = [
    "UNITS",
    "Decimal",
    "day_in_full",
    "factor",
    "format_quantity",
    "parse_boolean",
    "parse_date",
    "parse_day_ahead",
    "parse_integer",
    "parse_number",
    "parse_quantity",
    "quantity_as_typed",
    "to_sixteenths",
    "unit_label",
    "usual_decimals",
]
