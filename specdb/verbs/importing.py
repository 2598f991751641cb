"""Importing a file, also into a catalogue that is not there yet."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.verbs.kinds import table_of
from specdb.verbs.opening import create, open, open_or_create  # noqa: A004 (as the verb is named)

if TYPE_CHECKING:
    from specdb.catalogue.importing import ImportReport


def import_rows(
    path: Path,
    kind: str,
    file: Path,
    *,
    dry_run: bool = False,
    accept_good: bool = False,
    by: str | None = None,
    why: str | None = None,
    progress: Callable[[str, int, int], None] | None = None,
) -> tuple[ImportReport, bool]:
    """Import rows of a kind from a file.

    Parameters
    ----------
    path : Path
        The catalogue file; it is made where there is none, unless nothing is to be written.
    kind : str
        The kind.
    file : Path
        CSV, TSV, XLSX, ODS or Parquet.
    dry_run : bool
        Write nothing.
    accept_good : bool
        Take the good rows where others are rejected.
    by, why : str or None
        Who and why, for the journal.
    progress : callable or None
        Told what is done, how much of it, and of how much.

    Returns
    -------
    report : ImportReport
        What was or would be done.
    made : bool
        Whether a catalogue was made.

    Raises
    ------
    ImportFileError
        If the file cannot be read as a table.
    """
    from specdb.catalogue.importing import import_file

    table = table_of(kind)

    if dry_run and not path.exists():
        with tempfile.TemporaryDirectory() as folder:
            empty = create(Path(folder) / "empty.duckdb")
            return import_file(empty, table.name, file, dry_run=True, accept_good=accept_good), False
    made = False
    if path.exists():
        catalogue = open(path)
    else:
        catalogue, made = open_or_create(path)
    report = import_file(
        catalogue,
        table.name,
        file,
        dry_run=dry_run,
        accept_good=accept_good,
        by=by,
        why=why,
        progress=progress,
    )
    return report, made
