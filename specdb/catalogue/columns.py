"""Columns of cells turned into columns of stored values: plain ones at once, odd cells one by one.

Equal cells are read once, as the odd spellings of a file repeat.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from specdb.catalogue.cells import ERROR_TEXTS, Decimal
from specdb.catalogue.headings import Match, heading_factor
from specdb.catalogue.tables import arrow_type
from specdb.errors import UnitError
from specdb.schema import Field
from specdb.units import parse_boolean, parse_date, parse_integer, parse_quantity

if TYPE_CHECKING:
    import pyarrow as pa

_PLAIN = r"^[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?$"
_PLAIN_COMMA = r"^[+-]?([0-9]+|[0-9]*,[0-9]+)$"
_PLAIN_WHOLE = r"^[+-]?[0-9]{1,15}$"
_LONG_TEXT = 100
_MOST_SHOWN = 40
_LARGEST = 1e15


@dataclass(frozen=True, slots=True)
class CellProblem:
    """A cell that cannot be read: index of the row, what is written there, why."""

    index: int
    field: Field
    value: object
    message: str


@dataclass(frozen=True, slots=True)
class Reading:
    """Numbers of a column: unit in which plain ones are, and the unit stored, row by row where it depends on them.

    Attributes
    ----------
    unit : str
        The stored unit; empty for plain numbers.
    written : str
        Unit of plain numbers where another one stands in the heading.
    decimal : str
        Decimal mark of the source.
    """

    unit: str
    written: str
    decimal: Decimal

    @property
    def scale(self) -> float | None:
        """Factor for plain numbers; None where the heading's unit is none of the stored kind."""
        return heading_factor(self.written, self.unit) if self.written else 1.0

    def number(self, text: str) -> float:
        """Read one odd cell."""
        scale = self.scale
        if scale is None:
            raise UnitError(f"the heading says {self.written}, which is no unit of this kind", text, self.unit)
        if not self.written:
            return parse_quantity(text, self.unit, decimal=self.decimal)
        try:
            return parse_quantity(text, "", decimal=self.decimal) * scale
        except UnitError:
            return parse_quantity(text, self.unit, decimal=self.decimal)


def read_column(
    match: Match,
    cells: Any,  # noqa: ANN401 - list or Arrow
    decimal: Decimal,
    units: pa.Array | None = None,
) -> tuple[pa.Array, list[CellProblem]]:
    """Read a column.

    Parameters
    ----------
    match : Match
        The field and the unit in the heading.
    cells : list or pyarrow.ChunkedArray
        The cells.
    decimal : str
        Decimal mark of the source.
    units : pyarrow.Array of string, optional
        Stored unit of every row, where it depends on the row; null where it is not known.

    Returns
    -------
    values : pyarrow.Array
        Of the field's type; null where a cell is empty or cannot be read.
    problems : list of CellProblem
        Cells that cannot be read.
    """
    column = _Column(match.field, cells)
    kind = match.field.type
    if kind == "string":
        column.read_text()
    elif kind == "number" and units is not None:
        column.read_by_unit(units, match.unit, decimal)
    elif kind == "number":
        column.read_numbers(Reading(match.field.unit or "", match.unit, decimal))
    elif kind == "integer":
        column.read_integers(decimal)
    else:
        column.read_odd(parse_boolean if kind == "boolean" else parse_date)
    return column.values(), column.problems


class _Column:
    """Cells of one column, apart by what they are: text, or values of the file's own types."""

    def __init__(self, field: Field, cells: Any) -> None:  # noqa: ANN401
        import pyarrow as pa

        self.field = field
        self.problems: list[CellProblem] = []
        self._objects: dict[int, object] = {}
        self._numbers = _as_numbers(cells) if field.is_number else None
        if self._numbers is not None:
            cells = pa.nulls(len(cells), pa.string())
        elif not isinstance(cells, list) and not pa.types.is_string(cells.type):
            cells = cells.to_pylist()
        if isinstance(cells, list):
            self._objects = {i: c for i, c in enumerate(cells) if c is not None and not isinstance(c, str)}
            cells = pa.array([c if isinstance(c, str) else None for c in cells], pa.string())
        else:
            cells = cells.combine_chunks() if isinstance(cells, pa.ChunkedArray) else cells
        self.text = _emptied(cells)
        self._size = len(self.text)
        self._numpy: Any = None
        self._known: npt.NDArray[np.bool_] | None = None
        self._arrow: pa.Array | None = None

    def values(self) -> pa.Array:
        import pyarrow as pa

        if self._arrow is not None:
            return self._arrow
        kind = arrow_type(self.field)
        if self._known is None or not self._size:
            return pa.nulls(self._size, kind)
        return pa.array(self._numpy, kind, mask=~self._known)

    def _start(self, values: Any, known: npt.NDArray[np.bool_]) -> None:  # noqa: ANN401
        self._numpy, self._known = values, known

    def _set(self, index: int, value: object) -> None:
        assert self._known is not None  # noqa: S101 - set by _start
        self._numpy[index] = value
        self._known[index] = True

    def _refuse(self, index: int, value: object, why: str) -> None:
        self.problems.append(CellProblem(index, self.field, value, f"{self.field.name}: {why}"))

    def _each(self, odd: npt.NDArray[np.int64], parse: Callable[[str], object]) -> None:
        """Read odd cells, every spelling once."""
        if not len(odd):
            return
        coded = self.text.take(odd).dictionary_encode()
        results: list[tuple[object, str]] = []
        for text in coded.dictionary.to_pylist():
            try:
                results.append((parse(text), ""))
            except UnitError as error:
                results.append((None, str(error)))
        for index, code in zip(odd.tolist(), coded.indices.to_pylist(), strict=True):
            value, why = results[code]
            if why:
                self._refuse(index, self.text[index].as_py(), why)
            else:
                self._set(index, value)

    def _plain(self, pattern: str) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.int64]]:
        """Which texts are plain numbers, and where the other ones stand."""
        import pyarrow.compute as pc

        valid = np.asarray(self.text.is_valid().to_numpy(zero_copy_only=False), dtype=bool)
        if not valid.any():
            return valid, np.empty(0, dtype=np.int64)
        mask = pc.fill_null(pc.match_substring_regex(self.text, pattern), False)
        plain = np.asarray(mask.to_numpy(zero_copy_only=False), dtype=bool)
        return plain, np.flatnonzero(valid & ~plain)

    def _cast(self, plain: npt.NDArray[np.bool_], kind: pa.DataType, *, commas: bool = False) -> Any:  # noqa: ANN401
        import pyarrow as pa
        import pyarrow.compute as pc

        text = self.text if plain.all() else pc.if_else(pa.array(plain), self.text, pa.scalar("0"))
        if commas:
            text = pc.replace_substring(text, ",", ".")
        if pc.any(pc.starts_with(text, "+")).as_py():
            text = pc.utf8_ltrim(text, "+")
        return text.cast(kind).to_numpy(zero_copy_only=False).copy()

    def _read_plain(self, decimal: Decimal) -> npt.NDArray[np.int64]:
        import pyarrow as pa

        if self._numbers is not None:
            known = ~np.isnan(self._numbers)
            self._start(np.where(known, self._numbers, 0.0), known)
            return np.empty(0, dtype=np.int64)
        plain, odd = self._plain(_PLAIN_COMMA if decimal == "," else _PLAIN)
        values = self._cast(plain, pa.float64(), commas=decimal == ",")
        huge = np.flatnonzero(np.abs(values) > _LARGEST)
        if len(huge):
            plain = plain.copy()
            plain[huge] = False
            odd = np.union1d(odd, huge)
        self._start(values, plain)
        return odd

    def read_numbers(self, reading: Reading) -> None:
        odd = self._read_plain(reading.decimal)
        if reading.scale not in (1.0, None):
            self._numpy *= reading.scale
        self._each(odd, reading.number)
        for index, value in self._objects.items():
            self._number_of(index, value, reading)

    def _number_of(self, index: int, value: object, reading: Reading) -> None:
        number, scale = _real(value), reading.scale
        if number is None:
            self._refuse(index, value, f"'{_shown(value)}' is no number")
        elif not abs(number) <= _LARGEST:
            self._refuse(index, value, f"'{_shown(value)}' is not a usable number")
        elif scale is None:
            self._refuse(index, value, f"the heading says {reading.written}, which is no unit of this kind")
        else:
            self._set(index, number * scale)

    def read_by_unit(self, units: pa.Array, written: str, decimal: Decimal) -> None:
        """Read numbers whose stored unit depends on the row."""
        import pyarrow as pa
        import pyarrow.compute as pc

        odd = self._read_plain(decimal)
        assert self._known is not None  # noqa: S101 - set by _start
        for unit in [*pc.unique(units).drop_null().to_pylist(), None]:
            reading = Reading(unit or "", written if unit else "", decimal)
            mask = pc.is_null(units) if unit is None else pc.equal(units, pa.scalar(unit))
            mine = np.asarray(pc.fill_null(mask, False).to_numpy(zero_copy_only=False), dtype=bool)
            if reading.scale is None:
                plain = np.flatnonzero(mine & self._known)
                self._known[plain] = False
                self._each(plain, reading.number)
            elif reading.scale != 1.0:
                self._numpy[mine] *= reading.scale
            self._each(odd[mine[odd]], reading.number)
            for index, value in self._objects.items():
                if mine[index]:
                    self._number_of(index, value, reading)

    def read_integers(self, decimal: Decimal) -> None:
        import pyarrow as pa

        plain, odd = self._plain(_PLAIN_WHOLE)
        self._start(self._cast(plain, pa.int64()), plain)
        self._each(odd, lambda text: parse_integer(text, decimal=decimal))
        for index, value in self._objects.items():
            self._integer_of(index, value)
        if self._numbers is not None:
            for index in np.flatnonzero(~np.isnan(self._numbers)).tolist():
                self._integer_of(index, float(self._numbers[index]))

    def _integer_of(self, index: int, value: object) -> None:
        number = _real(value)
        if number is None or not number.is_integer():
            self._refuse(index, value, f"'{_shown(value)}' is no whole number")
        elif abs(number) > _LARGEST:
            self._refuse(index, value, f"'{_shown(value)}' is not a usable number")
        else:
            self._set(index, int(number))

    def read_odd(self, parse: Callable[[object], object]) -> None:
        """Read days, or yes and no."""
        self._start(np.full(self._size, None, dtype=object), np.zeros(self._size, dtype=bool))
        self._each(np.flatnonzero(self.text.is_valid().to_numpy(zero_copy_only=False)), parse)
        for index, value in self._objects.items():
            try:
                self._set(index, parse(_worded(value)))
            except UnitError as error:
                self._refuse(index, value, str(error))

    def read_text(self) -> None:
        import pyarrow as pa

        self._arrow = _enum_words(self.field, self.text)
        if not self._objects:
            return
        cells = self._arrow.to_pylist()
        for index, value in self._objects.items():
            if isinstance(value, (dt.date, dt.time, dt.timedelta)) and (self.field.max_length or 0) <= _LONG_TEXT:
                why = f"text is wanted, and the spreadsheet has made a day or time of it: {value}"
                self._refuse(index, value, why)
            elif isinstance(value, float) and not abs(value) < _LARGEST:
                why = f"text is wanted, and the spreadsheet has made a number of it and rounded that: {value:g}"
                self._refuse(index, value, why)
            else:
                cells[index] = _worded(value)
        self._arrow = _enum_words(self.field, pa.array(cells, pa.string()))


def _as_numbers(cells: Any) -> Any:  # noqa: ANN401 - list or Arrow; array of float or None
    """Cells as floats, empty ones NaN, where all that are filled are numbers and none is NaN itself."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if isinstance(cells, list):
        kinds = {type(c) for c in cells if c is not None and c != ""}
        if not kinds or not kinds <= {int, float}:
            return None
        cells = pa.chunked_array([[float(c) if isinstance(c, (int, float)) else None for c in cells]], pa.float64())
    kind = cells.type
    if not (pa.types.is_floating(kind) or pa.types.is_integer(kind)):
        return None
    cells = cells.cast(pa.float64(), safe=False)
    if not pc.all(pc.is_finite(cells)).as_py() and len(cells) != cells.null_count:
        return None
    return np.asarray(cells.to_numpy(), dtype=np.float64)


def _real(value: object) -> float | None:
    from decimal import Decimal as Exact

    if isinstance(value, bool) or not isinstance(value, (int, float, Exact)):
        return None
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _shown(value: object) -> str:
    text = str(_worded(value))
    return text if len(text) <= _MOST_SHOWN else text[: _MOST_SHOWN - 1] + "…"


def _worded(value: object) -> object:
    """A spreadsheet's value as a person writes it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    if isinstance(value, (dt.date, dt.time)):
        return (
            value.isoformat() if not isinstance(value, dt.datetime) or value.time() != dt.time() else str(value.date())
        )
    return str(value)


def _emptied(cells: pa.Array) -> pa.Array:
    """Texts without white space around them; null where nothing is said."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if cells.null_count == len(cells):
        return cells
    text = pc.utf8_trim_whitespace(cells)
    text = pc.if_else(pc.equal(text, ""), pa.scalar(None, pa.string()), text)
    if pc.any(pc.starts_with(text, "#")).as_py():
        errors = pc.is_in(pc.utf8_upper(text), pa.array(ERROR_TEXTS))
        text = pc.if_else(errors, pa.scalar(None, pa.string()), text)
    return text


def _enum_words(field: Field, text: pa.Array) -> pa.Array:
    """Words of a list as the list has them, however they are spelled; capitals where the field wants them."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if not (field.enum or field.pattern) or text.null_count == len(text):
        return text
    coded = text.dictionary_encode()
    words = coded.dictionary.to_pylist()
    if field.enum:
        plain: Sequence[str] = ["-".join(w.lower().replace("_", " ").split()) for w in words]
        known = {"-".join(w.lower().replace("_", " ").split()): w for w in field.enum}
        spelled = [known.get(p, w) for p, w in zip(plain, words, strict=True)]
    else:
        spelled = [field.capitals(w) for w in words]
    if spelled == words:
        return text
    return pc.take(pa.array(spelled, pa.string()), coded.indices)
