"""Rows of a file into the catalogue: all or nothing, every bad row reported; or the good ones, the others set aside."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from specdb.catalogue.bulk import Counts, RowChange, RowsRejectedError
from specdb.catalogue.columns import read_column
from specdb.catalogue.faults import RowProblem
from specdb.catalogue.headings import is_reason, match_headings, reason_heading
from specdb.catalogue.sheets import Sheet, read_sheet, write_sheet
from specdb.catalogue.store import Catalogue
from specdb.catalogue.validate import derive_keys, number_repeats, validate_table
from specdb.errors import UsageError
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.catalogue.writer import Writer

Progress = Callable[[str, int, int], None]
_ABSURD = 1e12
MOST_CHANGED_ROWS = 100_000
"""Of so many changed rows the fields are listed; more are counted only."""

__all__ = ["ImportReport", "RowChange", "RowProblem", "import_file"]


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What came of a file.

    Attributes
    ----------
    added, changed, unchanged : int
        Rows; on a dry run what they would be, and zero where the file is not taken.
    rejected : list of RowProblem
        Every reason, by row number of the file.
    changes : list of RowChange
        Fields of rows that existed, before and after.
    rejected_file : Path or None
        Where the rejected rows were written.
    """

    added: int
    changed: int
    unchanged: int
    rejected: list[RowProblem] = field(default_factory=list)
    changes: list[RowChange] = field(default_factory=list)
    rejected_file: Path | None = None


def import_file(
    catalogue: Catalogue,
    kind: str,
    path: Path,
    *,
    sheet: str | None = None,
    dry_run: bool = False,
    accept_good: bool = False,
    by: str | None = None,
    why: str | None = None,
    progress: Progress | None = None,
) -> ImportReport:
    """Import rows of a kind from a file, in one transaction.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind : str
        Kind of the rows.
    path : Path
        CSV, TSV, XLSX, ODS or Parquet.
    sheet : str, optional
        Sheet of a spreadsheet with several.
    dry_run : bool
        Find out everything and write nothing.
    accept_good : bool
        Take the good rows where others are rejected, and write the rejected ones, with reasons, to
        ``NAME-rejected.csv`` beside the file.
    by, why : str, optional
        For the journal.
    progress : callable, optional
        Called with what is being done, rows done, rows in all.

    Returns
    -------
    ImportReport
        Where rows were rejected and ``accept_good`` is not set, nothing was written.

    Raises
    ------
    ImportFileError
        If the file cannot be read as a table of this kind.
    UnknownKindError, UsageError
        If there is no such kind, or it is not imported.
    CatalogueError
        If the catalogue cannot be written.
    """
    table = load_schema().table(kind)
    if table.internal:
        raise UsageError(f"the {table.title.lower()} is written by the catalogue and not imported")
    path = Path(path)
    tell = progress or _silent
    tell("reading the file", 0, 1)
    source = read_sheet(path, sheet=sheet, prefer=(table.name, table.title, f"{table.name}s", f"{table.title}s"))
    batch = _Batch(table, source)
    tell("checking the rows", 0, len(source.rows))
    batch.check()
    counts, target = Counts(0, 0, 0), None
    if accept_good or batch.is_clean:
        with catalogue.write(by=by, why=why, done="import", dry_run=dry_run) as writer:
            counts = _take(writer, batch, dry_run=dry_run, accept_good=accept_good, progress=progress)
            # before the rows are kept: where the rejected ones cannot be written, none is taken
            if accept_good and not dry_run:
                target = _write_rejected(path, batch)
    else:
        # the catalogue is asked all the same, so that every bad row is named at once
        with catalogue.write(by=by, why=why, done="import", dry_run=True) as writer:
            _take(writer, batch, dry_run=True, accept_good=False, progress=None)
    return ImportReport(counts.added, counts.changed, counts.unchanged, batch.rejected(), counts.changes, target)


def _silent(stage: str, done: int, total: int) -> None:
    """Tell nobody."""


def _take(writer: Writer, batch: _Batch, *, dry_run: bool, accept_good: bool, progress: Progress | None) -> Counts:
    """Store the good rows, or find out what storing them would do."""
    counts = Counts(0, 0, 0)
    while True:
        rows, numbers = batch.good_rows()
        if not rows.num_rows:
            return counts
        if dry_run:
            found = writer.compare_many(batch.table.name, rows, list_changes=MOST_CHANGED_ROWS, progress=progress)
            against, done = [*found.problems, *found.conflicts], found.counts
        else:
            try:
                done = writer.put_many(batch.table.name, rows, list_changes=MOST_CHANGED_ROWS, progress=progress)
                against = []
            except RowsRejectedError as error:
                against = error.problems
        if not against:
            return done
        batch.add(against, numbers)
        if not accept_good:
            return counts


class _Batch:
    """Rows of a file as stored values, with everything that is wrong with them."""

    def __init__(self, table: Table, source: Sheet) -> None:
        self.table = table
        self.source = source
        self.matches = match_headings(table, source)
        self._by_field = {m.field.name: m for m in self.matches}
        self.problems: list[RowProblem] = []
        self.bad: npt.NDArray[np.bool_] = np.zeros(len(source.rows), dtype=bool)
        self.repeated: dict[int, str] = {}
        self.rows = self._read()

    def _read(self) -> pa.Table:
        import pyarrow as pa

        columns: dict[str, pa.Array] = {}
        later = []
        for match in self.matches:
            if self.table.value_units and match.field.name in ("value", "sd"):
                later.append(match)
                continue
            columns[match.field.name] = self._column(match, None)
        units = self._units(columns) if later else None
        for match in later:
            columns[match.field.name] = self._column(match, units)
        names = [n for n in self.table.field_names if n in columns]
        return pa.table({n: columns[n] for n in names})

    def _column(self, match: Any, units: Any) -> pa.Array:  # noqa: ANN401
        cells = self.source.columns[match.column]
        values, wrong = read_column(match, cells, self.source.decimal, units)
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
            if table.key_style == "digest":
                lacking = np.asarray(given.is_null().to_numpy(), dtype=bool)
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
        whole = keys[0] if len(keys) == 1 else pc.binary_join_element_wise(*keys, "/")
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
                self._reject(
                    index,
                    name,
                    key,
                    "a key that no other row has",
                    f"{name} '{key}' stands in row{plural} {others} too",
                )

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
            RowProblem(r.row, "", None, f"a cell for every heading of a {table.name}", r.message, self.source.file)
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


def _write_rejected(path: Path, batch: _Batch) -> Path | None:
    """Write the rejected rows as they were, each with its reasons before it; None where there are none."""
    rejected = batch.rejected()
    if not rejected:
        return None
    source, table = batch.source, batch.table
    reasons: dict[int, list[str]] = {}
    for problem in rejected:
        reasons.setdefault(problem.row, []).append(problem.message)
    reason, key = reason_heading(table), table.primary_key[0]
    keep = [i for i, h in enumerate(source.headings) if not is_reason(table, h)]
    key_column = next((m.column for m in batch.matches if m.field.name == key), None)
    extra = [key] if key_column is None and batch.repeated else []
    rows = []
    indices = np.flatnonzero(batch.bad).tolist()
    for index, cells in zip(indices, source.cells_of(indices), strict=True):
        # a repeat keeps its number, which it would lose among fewer rows
        repeat = batch.repeated.get(index)
        if repeat and key_column is not None:
            cells[key_column] = repeat
        rows.append((int(source.rows[index]), [cells[i] for i in keep] + ([repeat] if extra else [])))
    for ragged in source.ragged:
        width = len(source.headings)
        rows.append((ragged.row, [c for i, c in enumerate(ragged.cells) if i >= width or i in keep]))
    rows.sort(key=lambda r: r[0])
    return write_sheet(
        _free_name(path),
        [reason, *[source.headings[i] for i in keep], *extra],
        [["; ".join(reasons.get(number, [])), *cells] for number, cells in rows],
        delimiter=";" if source.decimal == "," else ",",
    )


def _free_name(path: Path) -> Path:
    """A name beside the file that no earlier, perhaps half corrected, file has."""
    target, number = path.with_name(f"{path.stem}-rejected.csv"), 1
    while target.exists():
        number += 1
        target = path.with_name(f"{path.stem}-rejected-{number}.csv")
    return target
