"""Values as people type them, brought to the unit and type of a field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from specdb.errors import FieldError, UsageError, indefinite
from specdb.schema import Field, Table, load_schema
from specdb.units import parse_boolean, parse_date, parse_day_ahead, parse_integer, parse_quantity

AHEAD = ("wanted_on", "expected_on")
"""Days still to come: they may be typed as ``Friday`` or ``in 2 weeks``."""


def today() -> dt.date:
    """The day on the shop's own calendar."""
    return dt.date.today()  # noqa: DTZ011


def _refused(table: Table, field: Field, text: str, why: str) -> FieldError:
    return FieldError(
        f"{field.name} of {indefinite(table.name)}: {why}; it takes {field.allowed()}",
        kind=table.name,
        field=field.name,
        value=text,
        allowed=field.allowed(),
    )


def parse_value(table: Table, field: Field, text: str) -> Any:  # noqa: ANN401 (as the field's type says)
    """Read one value; empty text is None.

    Parameters
    ----------
    table : Table
        The kind.
    field : Field
        The field.
    text : str
        As typed, such as ``45 1/2`` or ``8.5 mm``.

    Raises
    ------
    FieldError
        If it is no value for the field.
    UnitError
        If it is no quantity in the field's unit.
    """
    text = text.strip()
    if not text:
        return None
    if field.is_number:
        return _number(table, field, text)
    if field.type == "boolean":
        return parse_boolean(text)
    if field.type == "date":
        return parse_day_ahead(text, today()) if field.name in AHEAD else parse_date(text)
    if field.enum:
        for word in field.enum:
            if word.lower() == text.lower():
                return word
        raise _refused(table, field, text, f"'{text}' is not a word it takes")
    text = field.capitals(text)
    if field.pattern is not None and not field.pattern.fullmatch(text):
        raise _refused(table, field, text, f"'{text}' has not the form it takes")
    if field.max_length is not None and len(text) > field.max_length:
        raise _refused(table, field, text, f"a text of {len(text)} characters is too long")
    return text


def _number(table: Table, field: Field, text: str) -> float | int:
    value = parse_integer(text) if field.type == "integer" else parse_quantity(text, field.unit or "")
    low = field.minimum if field.exclusive_minimum is None else field.exclusive_minimum
    below = low is not None and (value <= low if field.exclusive_minimum is not None else value < low)
    if below or (field.maximum is not None and value > field.maximum):
        raise _refused(table, field, text, f"'{text}' is out of range")
    return value


def parse_option(kind: str, field: str, text: str) -> Any:  # noqa: ANN401 (as the field's type says)
    """Read the value of an option that means the same as a field.

    Parameters
    ----------
    kind, field : str
        Kind and field.
    text : str
        As typed.
    """
    table = load_schema().table(kind)
    return parse_value(table, table.field(field), text)


def parse_assignments(table: Table, words: Iterable[str], known: Mapping[str, object] | None = None) -> dict[str, Any]:
    """Read ``field=value`` words; ``field=`` clears the field.

    Parameters
    ----------
    table : Table
        The kind.
    words : iterable of str
        As typed.
    known : mapping or None
        Values the row has already; a reading's quantity tells the unit of its value.

    Raises
    ------
    UsageError
        If a word is no assignment, or a field is named twice.
    UnknownFieldError
        If the kind has no such field.
    """
    texts: dict[str, str] = {}
    for word in words:
        name, sign, text = word.partition("=")
        name = name.strip()
        if not sign or not name:
            raise UsageError(f"'{word}' is not of the form field=value")
        table.field(name)
        if name in texts:
            raise UsageError(f"field '{name}' is given twice")
        texts[name] = text
    values: dict[str, Any] = {}
    for name, text in texts.items():
        field = table.field(name)
        if name in table.value_fields:
            quantity = texts.get("quantity", (known or {}).get("quantity"))
            field = replace(field, unit=table.value_units.get(str(quantity).strip().lower(), field.unit))
        values[name] = parse_value(table, field, text)
    return values
