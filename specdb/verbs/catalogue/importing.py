"""Importing a file or a package, the first also on trial into a catalogue that is not there yet."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue
from specdb.errors import UnknownKindError
from specdb.verbs.catalogue.kinds import table_of
from specdb.verbs.catalogue.opening import create

if TYPE_CHECKING:
    from specdb.catalogue.importing import ImportReport

Progress = Callable[[str, int, int], None]


def import_rows(
    catalogue: Catalogue,
    kind: str,
    file: Path,
    *,
    sheet: str | None = None,
    dry_run: bool = False,
    accept_good: bool = False,
    by: str | None = None,
    why: str | None = None,
    progress: Progress | None = None,
) -> ImportReport:
    """Import rows of a kind from a file.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue; it need not be there if nothing is to be written.
    kind : str
        The kind.
    file : Path
        CSV, TSV, XLSX, ODS or Parquet.
    sheet : str or None
        Sheet of a spreadsheet with several.
    dry_run : bool
        Write nothing.
    accept_good : bool
        Take the good rows where others are rejected.
    by, why : str or None
        Who and why, for the journal.
    progress : callable or None
        Told what is done, how much of it, and of how much.

    Raises
    ------
    ImportFileError
        If the file cannot be read as a table.
    """
    from specdb.catalogue.importing import import_file

    table = table_of(kind)
    if dry_run and not catalogue.exists:
        with tempfile.TemporaryDirectory() as folder:
            empty = create(Path(folder) / "empty.duckdb")
            return import_rows(empty, kind, file, sheet=sheet, dry_run=True, accept_good=accept_good, progress=progress)
    return import_file(
        catalogue,
        table.name,
        file,
        sheet=sheet,
        dry_run=dry_run,
        accept_good=accept_good,
        by=by,
        why=why,
        progress=progress,
    )


def sheets_of(file: Path) -> tuple[str, ...]:
    """Names of the sheets of a spreadsheet; none for a file of another sort.

    Parameters
    ----------
    file : Path
        The file.

    Raises
    ------
    ImportFileError
        If it cannot be read as a spreadsheet.
    """
    from specdb.catalogue.cells_office import sheet_names
    from specdb.catalogue.sheets import BOOKS

    return sheet_names(file.name, file) if file.suffix.lower() in BOOKS else ()


def kind_by_name(file: Path) -> str | None:
    """Kind that a file holds by its name, such as ``shafts 2026.csv``; None where the name does not tell.

    Parameters
    ----------
    file : Path
        The file.
    """
    words = file.stem.lower().replace("-", " ").replace("_", " ").split()
    for count in (2, 1):  # a shaft reading is no shaft
        for start in range(len(words) - count + 1):
            try:
                return table_of("_".join(words[start : start + count])).name
            except UnknownKindError:
                continue
    return None
