"""Whether values may stand in a row: types, ranges, words, sense across fields. One row or a whole Arrow table.

Values are already in the stored unit and type; reading what people type is the business of importing and of the
command line.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from specdb.catalogue.faults import RowProblem, field_faults, row_faults
from specdb.catalogue.keys import derive_key, derive_keys, number_repeats
from specdb.catalogue.tables import as_columns
from specdb.errors import FieldError
from specdb.schema import Field, Table, load_schema

if TYPE_CHECKING:
    import pyarrow as pa

__all__ = [
    "RowProblem",
    "check_values",
    "coerced",
    "derive_key",
    "derive_keys",
    "number_repeats",
    "validate_table",
]


def _problem(table: Table, field: Field, value: object, why: str) -> FieldError:
    return FieldError(
        f"{table.name} {field.name}: {why}; allowed is {field.allowed()}",
        kind=table.name,
        field=field.name,
        value=value,
        allowed=field.allowed(),
    )


def coerced(table: Table, field: Field, value: object) -> Any:  # noqa: ANN401 - the field decides
    """Bring a Python value to the type of a field; empty text becomes None.

    Parameters
    ----------
    table : Table
        Kind of the row.
    field : Field
        The field.
    value : object
        A value in the stored unit.

    Raises
    ------
    FieldError
        If the value has another type or cannot be stored.
    """
    if value is None:
        return None
    if isinstance(value, str):
        value = value.strip()
        if not value:
            return None
    convert = _CONVERTERS[field.type]
    result = convert(value)
    if result is None:
        raise _problem(table, field, value, f"{value!r} is no {field.type}")
    return result


def _as_text(value: object) -> str | None:
    if not isinstance(value, str):
        return None
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        return None
    return value if "\x00" not in value else None


def _as_number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return None
    try:
        number = float(value)
    except (ValueError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def _as_integer(value: object) -> int | None:
    number = _as_number(value)
    if number is None or number != int(number) or abs(number) > 2**53:
        return None
    return int(number)


def _as_boolean(value: object) -> bool | None:
    if isinstance(value, str):
        return {"yes": True, "true": True, "no": False, "false": False}.get(value.lower())
    return value if isinstance(value, bool) else None


def _as_date(value: object) -> dt.date | None:
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, dt.date):
        return value
    try:
        return dt.date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None


def _as_datetime(value: object) -> dt.datetime | None:
    if isinstance(value, dt.datetime):
        return value if value.tzinfo is None else value.astimezone(dt.UTC).replace(tzinfo=None)
    try:
        return dt.datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None


_CONVERTERS = {
    "string": _as_text,
    "number": _as_number,
    "integer": _as_integer,
    "boolean": _as_boolean,
    "date": _as_date,
    "datetime": _as_datetime,
}


def field_error(kind: str, problem: RowProblem) -> FieldError:
    """The problem of a single row as an error."""
    return FieldError(
        f"{kind}: {problem.message}",
        kind=kind,
        field=problem.field,
        value=problem.value,
        allowed=problem.allowed,
    )


def check_values(
    kind: str, values: Mapping[str, object], *, partial: bool = False
) -> tuple[dict[str, Any], list[FieldError]]:
    """Check the values of one row.

    Parameters
    ----------
    kind : str
        Kind of the row.
    values : mapping
        Values in the stored units, by field name; a field that is left out is unknown.
    partial : bool
        Whether this is only part of a row, so that required fields may be left out.

    Returns
    -------
    values : dict
        The values in their stored types.
    problems : list of FieldError
        Everything that is not allowed; empty if all is well.

    Raises
    ------
    UnknownFieldError, UnknownKindError
        If the kind or a field does not exist.
    """
    import pyarrow as pa

    table = load_schema().table(kind)
    good: dict[str, Any] = {}
    problems: list[FieldError] = []
    for name, value in values.items():
        field = table.field(name)
        try:
            good[name] = coerced(table, field, value)
        except FieldError as error:
            problems.append(error)
    if problems:
        return good, problems
    names = [n for n in table.field_names if n in good or not partial]
    _, found = validate_table(kind, as_columns(table, pa.table({n: [good.get(n)] for n in names})), partial=partial)
    return good, [field_error(kind, p) for p in found]


def validate_table(kind: str, rows: pa.Table, *, partial: bool = False) -> tuple[pa.BooleanArray, list[RowProblem]]:
    """Check every row of an Arrow table.

    Parameters
    ----------
    kind : str
        Kind of the rows.
    rows : pyarrow.Table
        Columns named as the fields, with their stored types; fields may be missing.
    partial : bool
        Whether rows may be parts of rows that exist, so that required fields may be missing altogether.

    Returns
    -------
    good : pyarrow.BooleanArray
        Which rows may be stored.
    problems : list of RowProblem
        Every reason, ordered by row.

    Raises
    ------
    UnknownFieldError, UnknownKindError, UsageError
        If a column is no field of the kind or has another type.
    """
    import numpy as np
    import pyarrow as pa

    table = load_schema().table(kind)
    rows = as_columns(table, rows)
    bad = np.zeros(rows.num_rows, dtype=bool)
    problems: list[RowProblem] = []
    for found in (*field_faults(table, rows, partial=partial), *row_faults(table, rows, partial=partial)):
        bad[found.rows] = True
        problems += found.problems(rows)
    problems.sort(key=lambda p: p.row)
    return pa.array(~bad), problems
