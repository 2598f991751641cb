"""Tables in files, read into one form and written: CSV, TSV, XLSX, ODS, Parquet."""

from __future__ import annotations

import stat
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from specdb.catalogue.cells import Sheet, guarded, is_blank, unguarded
from specdb.catalogue.cells_csv import read_text
from specdb.catalogue.cells_office import read_book, read_parquet
from specdb.catalogue.connect import explained
from specdb.errors import ImportFileError, UsageError

if TYPE_CHECKING:
    import pyarrow as pa

TEXT = {".csv": False, ".txt": False, ".tsv": True, ".tab": True}
BOOKS = (".xlsx", ".xlsm", ".ods")
OLD_BOOKS = (".xls", ".xlsb")  # their reader takes the whole process down on a damaged file
PARQUET = (".parquet", ".pq")

__all__ = ["Sheet", "read_sheet", "with_guards", "without_guards", "write_sheet"]


def read_sheet(path: Path, *, sheet: str | None = None, prefer: Sequence[str] = ()) -> Sheet:
    """Read a table.

    Parameters
    ----------
    path : Path
        A CSV, TSV, XLSX, ODS or Parquet file.
    sheet : str or None
        Name of the sheet of a spreadsheet; the only one that holds anything where None.
    prefer : sequence of str
        Names of sheets to prefer where several hold something.

    Returns
    -------
    Sheet
        Without blank rows and help rows; columns without heading or cells are left out.

    Raises
    ------
    ImportFileError
        With a plain sentence, if it cannot be read as a table.
    """
    file, ending = str(path), path.suffix.lower()
    if ending in OLD_BOOKS:
        raise ImportFileError(f"{file} is a spreadsheet of a kind that is not read; save it as .xlsx", file)
    if ending not in TEXT and ending not in BOOKS and ending not in PARQUET:
        raise ImportFileError(f"{file} is no CSV, TSV, XLSX, ODS or Parquet file by its ending", file)
    _refuse_missing(file, path)
    if sheet is not None and ending not in BOOKS:
        raise ImportFileError(f"{file} has no sheets; only a spreadsheet has", file)
    if ending in TEXT:
        try:
            data = path.read_bytes()
        except OSError as error:
            raise ImportFileError(f"{file} cannot be read: {error.strerror}", file) from error
        found = read_text(file, data, prefer_tab=TEXT[ending])
    elif ending in BOOKS:
        found = read_book(file, path, sheet, prefer)
    else:
        found = read_parquet(file, path)
    return _tidy(found, guards=ending not in PARQUET)


def _refuse_missing(file: str, path: Path) -> None:
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError, ValueError) as error:
        raise ImportFileError(f"there is no file {file}", file) from error
    except OSError as error:
        raise ImportFileError(f"{file} cannot be read: {error.strerror}", file) from error
    if stat.S_ISDIR(mode):
        raise ImportFileError(f"{file} is a folder; there is no file of that name", file)
    if not stat.S_ISREG(mode):
        raise ImportFileError(f"{file} is no ordinary file", file)


def _tidy(sheet: Sheet, *, guards: bool) -> Sheet:
    """Take guards off where a file has them, drop columns that say nothing, refuse doubled headings."""
    kept, places, width = [], [], len(sheet.headings)
    for at, (heading, column) in enumerate(zip(sheet.headings, sheet.columns, strict=True)):
        if heading.strip():
            kept.append((str(unguarded(heading)), without_guards(column) if guards else column))
            places.append(at)
            continue
        row = _first_filled(column, sheet.rows)
        if row is not None:
            raise ImportFileError(
                f"{sheet.file}: column {at + 1} has no heading, but there is something in it in row {row}",
                sheet.file,
                row,
            )
    if not kept:
        raise ImportFileError(f"{sheet.file} has no headings", sheet.file)
    _refuse_doubles(sheet.file, [h for h, _ in kept])
    for ragged in sheet.ragged:
        cells = [unguarded(c) for c in ragged.cells]
        ragged.cells[:] = [cells[p] for p in places if p < len(cells)] + cells[width:]
    sheet.headings, sheet.columns = [h for h, _ in kept], [c for _, c in kept]
    return sheet


def _first_filled(column: Any, rows: Sequence[int]) -> int | None:  # noqa: ANN401 - list or Arrow
    cells = column if isinstance(column, list) else column.to_pylist()
    return next((int(row) for row, cell in zip(rows, cells, strict=True) if not is_blank(cell)), None)


def _refuse_doubles(file: str, headings: Sequence[str]) -> None:
    seen: dict[str, int] = {}
    for at, heading in enumerate(headings, start=1):
        plain = " ".join(heading.lower().split())
        if plain in seen:
            raise ImportFileError(
                f"{file}: the heading '{heading.strip()[:60]}' stands above columns {seen[plain]} and {at}; "
                "every heading may stand there once",
                file,
                column=heading,
            )
        seen[plain] = at


def without_guards(column: Any) -> Any:  # noqa: ANN401 - list or Arrow
    """A column as it was before :func:`with_guards`."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if isinstance(column, list):
        return [unguarded(c) for c in column]
    if not pa.types.is_string(column.type) or not pc.any(pc.starts_with(column, "'")).as_py():
        return column
    return pc.replace_substring_regex(column, r"\A'('*[=+\-@\t#])", r"\1")


def with_guards(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """A column of texts as it is safe to write: none begins like a formula or a help row."""
    import pyarrow.compute as pc

    return pc.replace_substring_regex(column, r"\A('*[=+\-@\t#])", r"'\1")


def write_sheet(
    path: Path,
    headings: Sequence[str],
    rows: Iterable[Sequence[object]],
    *,
    help_row: Sequence[str] | None = None,
    delimiter: str | None = None,
) -> Path:
    """Write a table that a spreadsheet opens without taking any cell for a formula.

    Parameters
    ----------
    path : Path
        A ``.csv``, ``.tsv`` or ``.xlsx`` file.
    headings : sequence of str
        Heading of every column.
    rows : iterable of sequence
        Cells: text, numbers, yes or no, days; None is an empty cell.
    help_row : sequence of str, optional
        What goes in each column; it is marked with ``#`` and passed over when the file is read.
    delimiter : str, optional
        Between cells of a text file where it is not the usual one.

    Raises
    ------
    UsageError
        If the file has another ending.
    CatalogueError
        If the file cannot be written.
    """
    ending = path.suffix.lower()
    if ending not in (".csv", ".tsv", ".xlsx"):
        raise UsageError(f"a table is written as .csv, .tsv or .xlsx, not as '{path.name}'")
    first: list[list[object]] = [[guarded(h) for h in headings]]
    if help_row is not None:
        helps: list[object] = [guarded(h) for h in help_row]
        helps[0] = help_row[0] if help_row[0].startswith("#") else f"# {help_row[0]}"
        first.append(helps)
    with explained(path):
        if ending == ".xlsx":
            _write_book(path, first, rows)
        else:
            _write_text(path, first, rows, delimiter or ("\t" if ending == ".tsv" else ","))
    return path


def _write_text(path: Path, first: list[list[object]], rows: Iterable[Sequence[object]], delimiter: str) -> None:
    import csv

    # spreadsheets take the byte order mark as the sign of UTF-8
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file, delimiter=delimiter)
        writer.writerows(first)
        writer.writerows([_text(guarded(c)) for c in row] for row in rows)


def _text(cell: object) -> object:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return int(cell)
    return cell


def _write_book(path: Path, first: list[list[object]], rows: Iterable[Sequence[object]]) -> None:
    from openpyxl import Workbook
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook(write_only=True)
    page = book.create_sheet()
    for row in first:
        page.append(row)
    for cells in rows:
        page.append([ILLEGAL_CHARACTERS_RE.sub("", c) if isinstance(c, str) else c for c in map(guarded, cells)])
    book.save(path)
