"""Rows of a file into the catalogue: all or nothing, every bad row reported; or the good ones, the others set aside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from specdb.catalogue.batch import Batch
from specdb.catalogue.bulk import Counts, RowChange, RowsRejectedError
from specdb.catalogue.faults import RowProblem
from specdb.catalogue.rejected import write_rejected
from specdb.catalogue.sheets import read_sheet
from specdb.catalogue.store import Catalogue
from specdb.errors import UsageError
from specdb.schema import load_schema

if TYPE_CHECKING:
    from specdb.catalogue.writer import Writer

Progress = Callable[[str, int, int], None]
MOST_CHANGED_ROWS = 100_000
"""Of so many changed rows the fields are listed; more are counted only."""

__all__ = ["ImportReport", "Remark", "RowChange", "RowProblem", "import_file"]


@dataclass(frozen=True, slots=True)
class Remark:
    """Something about a row that is taken which is worth a look.

    Attributes
    ----------
    row : int
        Row of the file.
    key, like : str
        Key of the row, and of the row of the catalogue that it looks like.
    message : str
        A sentence without its point.
    """

    row: int
    key: str
    like: str
    message: str


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
    new : list of dict
        Known values of the first rows that were added.
    change_no : int or None
        Number of the change, by which it can be undone; None where nothing was written.
    remarks : list of Remark
        Rows that are added and look like one that is there already under another key.
    """

    added: int
    changed: int
    unchanged: int
    rejected: list[RowProblem] = field(default_factory=list)
    changes: list[RowChange] = field(default_factory=list)
    rejected_file: Path | None = None
    new: list[dict[str, Any]] = field(default_factory=list)
    change_no: int | None = field(default=None, compare=False)
    remarks: list[Remark] = field(default_factory=list)


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

    A row whose key is in the catalogue updates it: an empty cell clears its field, as empty means unknown, and a field
    that is no column of the file stays as it is. A row without a key gets one made from its other fields.

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
    batch = Batch(table, source)
    tell("checking the rows", 0, len(source.rows))
    batch.check()
    counts, numbers, target, change_no = Counts(0, 0, 0), np.arange(0), None, None
    if accept_good or batch.is_clean:
        with catalogue.write(by=by, why=why, done="import", dry_run=dry_run) as writer:
            counts, numbers = _take(writer, batch, dry_run=dry_run, accept_good=accept_good, progress=progress)
            # before the rows are kept: where the rejected ones cannot be written, none is taken
            if accept_good and not dry_run:
                target = write_rejected(path, batch)
            change_no = None if dry_run else writer.change_no
    else:
        # the catalogue is asked all the same, so that every bad row is named at once
        with catalogue.write(by=by, why=why, done="import", dry_run=True) as writer:
            _take(writer, batch, dry_run=True, accept_good=False, progress=None)
    return ImportReport(
        counts.added,
        counts.changed,
        counts.unchanged,
        batch.rejected(),
        counts.changes,
        target,
        counts.new,
        change_no,
        [Remark(int(source.rows[numbers[a.row]]), a.key, a.other, a.message) for a in counts.alike],
    )


def _silent(stage: str, done: int, total: int) -> None:
    """Tell nobody."""


def _take(
    writer: Writer, batch: Batch, *, dry_run: bool, accept_good: bool, progress: Progress | None
) -> tuple[Counts, npt.NDArray[np.int64]]:
    """Store the good rows, or find out what storing them would do; with where they stand in the file."""
    nothing = Counts(0, 0, 0)
    while True:
        rows, numbers = batch.good_rows()
        if not rows.num_rows:
            return nothing, numbers
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
            return done, numbers
        batch.add(against, numbers)
        if not accept_good:
            return nothing, numbers
