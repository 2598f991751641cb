"""Columns of a list: heading with unit, how wide, how values are written so that numbers stand under each other."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rich.cells import cell_len, set_cell_size

from specdb.units import unit_label, usual_decimals

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.schema import Field

WIDEST = 36
_MOST_DECIMALS = 4
_EXACT = 1e-9
_NINE_IN_TEN = 0.9
_MEASURED_ROWS = 20_000  # of a longer list the text columns are measured on this many rows
_UNKNOWN = ""
_OF_ANY_QUANTITY = ("value", "true_value", "true_sd", "sd")


@dataclass(frozen=True, slots=True)
class ColumnSpec:
    """What a column shows.

    Attributes
    ----------
    name : str
        Column of the Arrow table.
    title : str
        Heading.
    unit : str
        Unit as written in the heading; empty where there is none.
    right : bool
        Whether values stand to the right.
    write : callable or None
        Writes a value that is not None; by its type where None.
    width : int or None
        Cells; as wide as its values where None.
    most_decimals : int
        Decimals beyond which nobody reads its numbers.
    """

    name: str
    title: str
    unit: str = ""
    right: bool = False
    write: Callable[[Any], str] | None = None
    width: int | None = None
    most_decimals: int = _MOST_DECIMALS


@dataclass(frozen=True, slots=True)
class Column:
    """A column that was measured.

    Attributes
    ----------
    spec : ColumnSpec
        What it shows.
    width : int
        Cells.
    heading : tuple of str
        Two lines.
    write : callable
        Writes a value.
    """

    spec: ColumnSpec
    width: int
    heading: tuple[str, str]
    write: Callable[[Any], str]

    def cell(self, value: object) -> str:
        """A value as wide as the column.

        Parameters
        ----------
        value : object
            The value; None is unknown and stays empty.
        """
        text = _UNKNOWN if value is None else self.write(value)
        return fitted(text, self.width, right=self.spec.right)


def spec_of(field: Field) -> ColumnSpec:
    """The column of a field.

    Parameters
    ----------
    field : Field
        The field.
    """
    unit = unit_label(field.unit) if field.unit else ""
    # values of several quantities stand in one column, so no number of decimals fits them all
    write = plain if field.name in _OF_ANY_QUANTITY else None
    most = usual_decimals(field.unit or "")
    return ColumnSpec(field.name, field.title, unit, right=field.is_number, write=write, most_decimals=most)


def measured(table: pa.Table, specs: Sequence[ColumnSpec]) -> list[Column]:
    """Measure columns on the rows of a table; for jobs, where the table is long.

    Parameters
    ----------
    table : pyarrow.Table
        The rows.
    specs : sequence of ColumnSpec
        The columns.
    """
    return [_measure(table[spec.name], spec) for spec in specs]


def _measure(values: pa.ChunkedArray, spec: ColumnSpec) -> Column:
    import pyarrow as pa

    write = spec.write
    if write is None and pa.types.is_floating(values.type):
        most = min(decimals_of(values), spec.most_decimals)
        write = _with_decimals(_decimals_of_most(values, most), most)
    elif write is None:
        write = plain
    first, second = _heading(spec)
    width = spec.width
    if width is None:
        width = min(WIDEST, max(_widest(values, write), cell_len(first), cell_len(second) + 1, 3))
    return Column(spec, width, (first, second), write)


def _widest(values: pa.ChunkedArray, write: Callable[[Any], str]) -> int:
    import pyarrow as pa
    import pyarrow.compute as pc

    if len(values) == 0:
        return 0
    if write is plain and pa.types.is_string(values.type):
        some = values.slice(0, _MEASURED_ROWS)
        return int(pc.max(pc.utf8_length(some)).as_py() or 0)
    if pa.types.is_floating(values.type) or pa.types.is_integer(values.type):
        ends = pc.min_max(values).as_py()
        return max((cell_len(write(v)) for v in ends.values() if v is not None), default=0)
    distinct = values.slice(0, _MEASURED_ROWS).unique().slice(0, 500).to_pylist()
    return max((cell_len(write(v)) for v in distinct if v is not None), default=0)


def decimals_of(values: pa.ChunkedArray) -> int:
    """How many decimals the numbers of a column need, so that none is rounded; four at most.

    Parameters
    ----------
    values : pyarrow array of float
        The numbers.
    """
    import pyarrow.compute as pc

    for decimals in range(_MOST_DECIMALS):
        off = pc.max(pc.abs(pc.subtract(values, pc.round(values, decimals)))).as_py()
        if off is None or off < _EXACT:
            return decimals
    return _MOST_DECIMALS


def _decimals_of_most(values: pa.ChunkedArray, most: int) -> int:
    """How many decimals nine in ten of the numbers need; what one was typed in millimetres is not shown in all."""
    import pyarrow.compute as pc

    for decimals in range(most):
        exact = pc.less(pc.abs(pc.subtract(values, pc.round(values, decimals))), _EXACT)
        if (pc.mean(exact.cast("int8")).as_py() or 0.0) >= _NINE_IN_TEN:
            return decimals
    return most


def _with_decimals(usual: int, most: int) -> Callable[[Any], str]:
    """Numbers whose points stand under each other; spaces stand where a number has no more decimals than usual."""
    space = " " * (most - usual + (usual == 0)) if most > usual else ""

    def write(value: Any) -> str:  # noqa: ANN401 (a number)
        if not math.isfinite(value):
            return "?"
        if space and abs(value - round(value, usual)) < _EXACT:
            return f"{value:.{usual}f}{space}"
        return f"{value:.{most}f}"

    return write


def plain(value: object) -> str:
    """A value as text, on one line and with nothing in it that could steer the terminal.

    Parameters
    ----------
    value : object
        The value.
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.strftime("%Y-%m-%d %H:%M")
    if isinstance(value, float):
        return f"{value:.10g}"
    text = str(value)
    return text if text.isprintable() else "".join(c if c.isprintable() else " " for c in text)


def fitted(text: str, width: int, *, right: bool = False) -> str:
    """A text in exactly so many cells; what is cut off is marked.

    Parameters
    ----------
    text : str
        One line.
    width : int
        Cells.
    right : bool
        Whether it stands to the right.
    """
    taken = len(text) if text.isascii() else cell_len(text)
    if taken > width:
        return set_cell_size(text, width - 1) + "…"
    space = " " * (width - taken)
    return space + text if right else text + space


def _heading(spec: ColumnSpec) -> tuple[str, str]:
    """Title and unit on two lines, as narrow as can be."""
    words = [*spec.title.split(), *([spec.unit] if spec.unit else [])]
    best = min(
        range(max(len(words), 1)),
        key=lambda n: (max(cell_len(" ".join(words[:n])), cell_len(" ".join(words[n:]))), n),
    )
    return " ".join(words[:best]), " ".join(words[best:])
