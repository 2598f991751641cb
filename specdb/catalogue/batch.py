"""Rows of a file as stored values, with everything that is wrong with them as far as the file itself tells."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from specdb.catalogue.cells import Sheet
from specdb.catalogue.columns import read_column
from specdb.catalogue.decimals import decimal_mark
from specdb.catalogue.faults import RowProblem
from specdb.catalogue.headings import Match, match_headings
from specdb.catalogue.validate import derive_keys, number_repeats, validate_table
from specdb.errors import indefinite
from specdb.schema import Table

if TYPE_CHECKING:
    import pyarrow as pa

_ABSURD = 1e12


class Batch:
    """Rows of a file as stored values, with everything that is wrong with them.

    Parameters
    ----------
    table : Table
        Kind of the rows.
    source : Sheet
        The table of the file.

    Attributes
    ----------
    matches : list of Match
        Columns of the file and the fields they fill.
    decimal : str
        Decimal mark of the numbers.
    bad : ndarray of bool, shape (N,)
        Rows that something is wrong with.
    repeated : dict of int to str
        Keys of rows that repeat an earlier one, with their number.
    """

    def __init__(self, table: Table, source: Sheet) -> None:
        self.table = table
        self.source = source
        self.matches = match_headings(table, source)
        self.decimal = decimal_mark(
            [source.columns[m.column] for m in self.matches if m.field.is_number], source.decimal
        )
        self._by_field = {m.field.name: m for m in self.matches}
        self.problems: list[RowProblem] = []
        self.bad: npt.NDArray[np.bool_] = np.zeros(len(source.rows), dtype=bool)
        self.repeated: dict[int, str] = {}
        self._made: npt.NDArray[np.bool_] = np.zeros(len(source.rows), dtype=bool)
        self.rows = self._read()

    def _read(self) -> pa.Table:
        import pyarrow as pa

        columns: dict[str, pa.Array] = {}
        later = []
        for match in self.matches:
            if match.field.name in self.table.value_fields:
                later.append(match)
                continue
            columns[match.field.name] = self._column(match, None)
        units = self._units(columns) if later else None
        for match in later:
            columns[match.field.name] = self._column(match, units)
        names = [n for n in self.table.field_names if n in columns]
        return pa.table({n: columns[n] for n in names})

    def _column(self, match: Match, units: pa.Array | None) -> pa.Array:
        cells = self.source.columns[match.column]
        values, wrong = read_column(match, cells, self.decimal, units)
        for cell in wrong:
            self._reject(cell.index, cell.field.name, cell.value, cell.field.allowed(), cell.message)
        return values

    def _units(self, columns: dict[str, pa.Array]) -> pa.Array:
        import pyarrow as pa

        quantity = columns.get("quantity")
        if quantity is None:
            return pa.nulls(len(self.source.rows), pa.string())
        coded = quantity.dictionary_encode()
        units = pa.array([self.table.value_units.get(q) for q in coded.dictionary.to_pylist()], pa.string())
        return units.take(coded.indices)

    def _reject(self, index: int, name: str, value: object, allowed: str, message: str) -> None:
        self.bad[index] = True
        self.problems.append(RowProblem(int(self.source.rows[index]), name, value, allowed, message, self.source.file))

    def add(self, problems: Iterable[RowProblem], numbers: npt.NDArray[np.int64]) -> None:
        """Take in problems of a part of the rows."""
        for p in problems:
            index = int(numbers[p.row])
            self._reject(index, p.field, p.value, p.allowed, p.message + self._as_written(index, p))

    def _as_written(self, index: int, problem: RowProblem) -> str:
        """What the cell says where the value was converted, so that it can be found."""
        match = self._by_field.get(problem.field)
        if match is None or not isinstance(problem.value, (int, float)):
            return ""
        cell = self.source.columns[match.column][index]
        cell = cell.as_py() if hasattr(cell, "as_py") else cell
        try:
            same = not match.unit and float(cell) == problem.value
        except (TypeError, ValueError):
            same = False
        heading = f" under a heading in {match.unit}" if match.unit else ""
        return "" if same else f" (the cell says {str(cell).strip()[:40]}{heading})"

    def check(self) -> None:
        """Find everything that the file itself tells: cells, keys, doubled rows."""
        self._fill_keys()
        self._find_doubles()
        worse = np.flatnonzero(self.bad)
        if not len(worse):
            return
        known = {(p.row, p.field) for p in self.problems}
        _, found = validate_table(self.table.name, self.rows.take(worse), partial=True)
        fresh = [p for p in found if (int(self.source.rows[worse[p.row]]), p.field) not in known]
        self.add(fresh, worse)

    def _fill_keys(self) -> None:
        import pyarrow as pa
        import pyarrow.compute as pc

        table = self.table
        derivable = len(table.primary_key) == 1 and bool(table.derive_key_from)
        for name in table.primary_key:
            if name not in self.rows.column_names:
                self.rows = self.rows.append_column(name, pa.nulls(self.rows.num_rows, pa.string()))
        key = table.primary_key[0]
        given = self.rows.column(key)
        if derivable and given.null_count and any(n in self.rows.column_names for n in table.derive_key_from):
            derived = derive_keys(table.name, _without_absurd(self.rows))
            self._made = lacking = np.asarray(given.is_null().to_numpy(), dtype=bool)
            if table.key_style == "digest":
                first = derived
                derived = number_repeats(pc.if_else(pa.array(lacking), derived, pa.scalar(None, pa.string())))
                again = np.flatnonzero(pc.fill_null(pc.not_equal(first, derived), False).to_numpy(zero_copy_only=False))
                self.repeated = {int(i): derived[int(i)].as_py() for i in again if lacking[i]}
            filled = pc.coalesce(given, derived)
            self.rows = self.rows.set_column(self.rows.schema.get_field_index(key), key, filled)
        for name in table.primary_key:
            self._refuse_without_key(name, derivable=derivable)

    def _refuse_without_key(self, name: str, *, derivable: bool) -> None:
        import pyarrow.compute as pc

        allowed = self.table.field(name).allowed()
        hint = f"; it cannot be made from {', '.join(self.table.derive_key_from)} either" if derivable else ""
        told = {p.row for p in self.problems if p.field == name}
        for index in pc.indices_nonzero(pc.is_null(self.rows.column(name))).to_pylist():
            if int(self.source.rows[index]) not in told:
                self._reject(index, name, None, allowed, f"{name} is empty{hint}")

    def _find_doubles(self) -> None:
        import pyarrow.compute as pc

        keys = [self.rows.column(n) for n in self.table.primary_key]
        whole = keys[0] if len(keys) == 1 else pc.binary_join_element_wise(*(pc.cast(k, "string") for k in keys), "/")
        counts = pc.value_counts(whole.drop_null())
        doubled = counts.filter(pc.greater(counts.field("counts"), 1)).field("values")
        if not len(doubled):
            return
        places: dict[str, list[int]] = {}
        for index in pc.indices_nonzero(pc.is_in(whole, value_set=doubled)).to_pylist():
            places.setdefault(whole[index].as_py(), []).append(index)
        name = self.table.primary_key[-1]
        for key, indices in places.items():
            rows = [int(self.source.rows[i]) for i in indices]
            for at, index in enumerate(indices):
                others = ", ".join(str(r) for r in [*rows[:at], *rows[at + 1 :]][:5])
                plural = "s" if len(rows) > 2 else ""
                why = f"{name} '{key}' stands in row{plural} {others} too"
                if self._made[index]:
                    why += (
                        f"; it was made from {', '.join(self.table.derive_key_from)}: give the rows keys of their own"
                    )
                self._reject(index, name, key, "a key that no other row has", why)

    @property
    def is_clean(self) -> bool:
        """Whether nothing is wrong so far."""
        return not self.bad.any() and not self.source.ragged

    def good_rows(self) -> tuple[pa.Table, npt.NDArray[np.int64]]:
        """Rows with nothing against them, and where they stand."""
        if not self.bad.any():
            return self.rows, np.arange(len(self.bad), dtype=np.int64)
        where = np.flatnonzero(~self.bad)
        return self.rows.take(where), where

    def rejected(self) -> list[RowProblem]:
        """Every problem, by row."""
        table = self.table
        ragged = [
            RowProblem(
                r.row, "", None, f"a cell for every heading of {indefinite(table.name)}", r.message, self.source.file
            )
            for r in self.source.ragged
        ]
        return sorted([*self.problems, *ragged], key=lambda p: p.row)


def _without_absurd(rows: pa.Table) -> pa.Table:
    """The rows without numbers too large for a key; no field allows any that come near."""
    import pyarrow as pa
    import pyarrow.compute as pc

    for at, name in enumerate(rows.column_names):
        column = rows.column(name)
        if pa.types.is_floating(column.type) and len(column) > column.null_count:
            sane = pc.less(pc.abs(column), _ABSURD)
            if not pc.all(sane).as_py():
                rows = rows.set_column(at, name, pc.if_else(sane, column, pa.scalar(None, column.type)))
    return rows
