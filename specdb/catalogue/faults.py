"""The single rules of validation, each over a whole column at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.schema import Field, Table

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pyarrow as pa


@dataclass(frozen=True, slots=True)
class RowProblem:
    """Why a row of a table cannot be taken.

    Attributes
    ----------
    row : int
        Row of the table, counted from 0; whoever reads a file adds where its data starts.
    field : str
        The field, or empty where it is the row as a whole.
    value : object
        The value that is not allowed.
    allowed : str
        What is allowed, in words.
    message : str
        A whole sentence.
    file : str
        File the row came from, where there is one.
    """

    row: int
    field: str
    value: object
    allowed: str
    message: str
    file: str = ""


@dataclass(frozen=True, slots=True)
class Fault:
    """One rule and the rows that break it.

    Attributes
    ----------
    field : str
        Field to name.
    allowed : str
        What is allowed, in words.
    rows : ndarray of int
        Row numbers.
    """

    field: str
    allowed: str
    rows: npt.NDArray[np.int64]

    def problems(self, rows: pa.Table) -> list[RowProblem]:
        """One problem a row, with the value found there."""
        if self.field in rows.column_names:
            values = rows.column(self.field).take(self.rows).to_pylist()
        else:
            values = [None] * len(self.rows)
        return [
            RowProblem(int(row), self.field, value, self.allowed, describe(self.field, value, self.allowed))
            for row, value in zip(self.rows, values, strict=True)
        ]


def describe(field: str, value: object, allowed: str) -> str:
    """A sentence for a value that is not allowed."""
    if value is None:
        return f"{field} is empty; it must be {allowed}"
    shown = str(value)
    if len(shown) > 60:
        shown = shown[:57] + "..."
    return f"{field} is {shown}; it must be {allowed}"


def _where(mask: pa.Array | pa.ChunkedArray) -> npt.NDArray[np.int64]:
    """Row numbers where a mask is true; unknown counts as false."""
    import numpy as np  # 0.1 s, needed to check rows only
    import pyarrow.compute as pc

    return np.asarray(pc.indices_nonzero(pc.fill_null(mask, False)).to_numpy(), dtype=np.int64)


def field_faults(table: Table, rows: pa.Table, *, partial: bool) -> Iterator[Fault]:
    """Faults of single fields.

    Parameters
    ----------
    table : Table
        Kind of the rows.
    rows : pyarrow.Table
        Columns with the field's types.
    partial : bool
        Whether required fields may be missing as columns.
    """
    import numpy as np
    import pyarrow.compute as pc

    for field in table.fields:
        if field.name not in rows.column_names:
            if field.required and not partial and rows.num_rows:
                yield Fault(field.name, field.allowed(), np.arange(rows.num_rows, dtype=np.int64))
            continue
        column = rows.column(field.name)
        if field.required and column.null_count:
            yield Fault(field.name, field.allowed(), _where(pc.is_null(column)))
        if column.null_count == len(column):
            continue
        for mask in _masks(field, column):
            hits = _where(pc.and_(mask, column.is_valid()))  # unknown is no wrong value
            if len(hits):
                yield Fault(field.name, field.allowed(), hits)


def _masks(field: Field, column: pa.ChunkedArray) -> Iterator[Any]:
    import pyarrow as pa
    import pyarrow.compute as pc

    if field.is_number:
        outside = [pc.invert(pc.is_finite(column))] if field.type == "number" else []
        if field.minimum is not None:
            outside.append(pc.less(column, field.minimum))
        if field.exclusive_minimum is not None:
            outside.append(pc.less_equal(column, field.exclusive_minimum))
        if field.maximum is not None:
            outside.append(pc.greater(column, field.maximum))
        if outside:
            any_outside = outside[0]
            for mask in outside[1:]:
                any_outside = pc.or_(any_outside, mask)
            yield any_outside
    elif field.type == "string":
        if field.enum:
            yield pc.invert(pc.is_in(column, value_set=pa.array(field.enum)))
        elif field.pattern is not None:
            yield pc.invert(pc.match_substring_regex(column, f"^(?:{field.pattern.pattern})$"))
        else:
            # white space alone is no text, and a NUL cannot be stored
            blank = pc.equal(pc.utf8_length(pc.utf8_trim_whitespace(column)), 0)
            yield pc.or_(blank, pc.match_substring(column, "\x00"))
            if field.max_length is not None:
                yield pc.greater(pc.utf8_length(column), field.max_length)


def row_faults(table: Table, rows: pa.Table, *, partial: bool) -> Iterator[Fault]:
    """Faults across the fields of a row.

    Parameters
    ----------
    table : Table
        Kind of the rows.
    rows : pyarrow.Table
        Columns with the field's types.
    partial : bool
        Whether the fields that are no columns may be known elsewhere.
    """
    import numpy as np

    from specdb.catalogue.sense import PAIRS, RULES

    present = set(rows.column_names)
    for rule in RULES.get(table.name, ()):
        if not present.issuperset(rule.needs):
            continue
        columns = [_plain(rows.column(n)) for n in rule.needs]
        known = np.logical_and.reduce([_known(rows.column(n)) for n in rule.needs])
        with np.errstate(invalid="ignore"):
            hits = np.flatnonzero(known & rule.broken(*columns))
        if len(hits):
            yield Fault(rule.field, rule.allowed, hits)
    for field, needed in PAIRS:
        if field not in present or (partial and needed not in present):
            continue
        lacking = ~_known(rows.column(needed)) if needed in present else True
        hits = np.flatnonzero(_known(rows.column(field)) & lacking)
        if len(hits):
            yield Fault(needed, f"given with {field}", hits)
    if table.value_ranges and present.issuperset(("quantity", "value")):
        yield from _by_quantity(table, rows, partial=partial)


def _by_quantity(table: Table, rows: pa.Table, *, partial: bool) -> Iterator[Fault]:
    import pyarrow.compute as pc

    quantity = rows.column("quantity")
    ranged = [n for n in table.value_fields if n in rows.column_names and not n.endswith("sd")]
    for name, (low, high) in table.value_ranges.items():
        mine = pc.equal(quantity, name)
        unit = table.value_units[name]
        for field in ranged:
            value = rows.column(field)
            hits = _where(pc.and_(mine, pc.or_(pc.less(value, low), pc.greater(value, high))))
            if len(hits):
                yield Fault(field, f"{low:g} to {high:g} {unit} for {name}", hits)
        for needed in table.value_needs.get(name, ()):
            if partial and needed not in rows.column_names:
                continue
            missing = pc.is_null(rows.column(needed)) if needed in rows.column_names else True
            hits = _where(pc.and_(mine, missing))
            if len(hits):
                yield Fault(needed, f"given for a reading of {name}", hits)


def _known(column: pa.ChunkedArray) -> npt.NDArray[np.bool_]:
    import numpy as np

    return np.asarray(column.is_valid().to_numpy(), dtype=bool)


def _plain(column: pa.ChunkedArray) -> npt.NDArray[Any]:
    """Column as a numpy array; unknown numbers as NaN, unknown text as None."""
    import numpy as np

    return np.asarray(column.to_numpy())
