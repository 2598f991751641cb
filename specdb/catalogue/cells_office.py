"""Spreadsheets (XLSX, ODS) and Parquet files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from specdb.catalogue.book_kind import refuse_broken, refuse_foreign
from specdb.catalogue.book_limits import refuse_huge
from specdb.catalogue.cells import Sheet, gather, is_blank, numbered
from specdb.errors import ImportFileError


def read_book(file: str, path: Path, sheet: str | None, prefer: Sequence[str] = ()) -> Sheet:
    """Read one sheet of a spreadsheet file.

    Parameters
    ----------
    file : str
        The file, for messages.
    path : Path
        Where it lies.
    sheet : str or None
        Name of the sheet; the only one that holds anything where None.
    prefer : sequence of str
        Names to prefer where several sheets hold something.

    Raises
    ------
    ImportFileError
        If it is no spreadsheet, or the sheet is not there or not told.
    """
    with _opened(file, path) as book:
        names = list(book.sheet_names)
        chosen = names if sheet is None else [n for n in names if n == sheet]
        found = {n: _cells(book, n) for n in chosen}
    if not found:
        raise ImportFileError(f"{file} has no sheet '{sheet}'; it has: {', '.join(names)}", file)
    filled = [n for n, rows in found.items() if any(not is_blank(c) for r in rows for c in r)]
    if not filled:
        raise ImportFileError(f"{file} has no headings: it is empty", file)
    wanted = {_plain(p) for p in prefer}
    left = [n for n in filled if _plain(n) in wanted] if len(filled) > 1 else filled
    if len(left) != 1:
        raise ImportFileError(
            f"{file} has several sheets ({', '.join(filled)}); say which one with --sheet, or give one the kind's name",
            file,
        )
    return gather(file, numbered(found[left[0]]), text=False)


def sheet_names(file: str, path: Path) -> tuple[str, ...]:
    """Names of the sheets of a spreadsheet file, in their order.

    Parameters
    ----------
    file : str
        The file, for messages.
    path : Path
        Where it lies.

    Raises
    ------
    ImportFileError
        If it is no spreadsheet.
    """
    with _opened(file, path) as book:
        return tuple(book.sheet_names)


@contextmanager
def _opened(file: str, path: Path) -> Iterator[Any]:
    """The spreadsheet, whatever goes wrong with it told as what is wrong with the file."""
    import python_calamine as calamine

    refuse_foreign(file, path)
    refuse_huge(file, path)
    if path.suffix.lower() == ".ods":
        refuse_broken(file, path)
    try:
        with calamine.CalamineWorkbook.from_path(str(path)) as book:
            yield book
    except BaseException as error:
        # a panic of the library's own language is no Exception
        foreign = type(error).__name__ == "PanicException"
        if foreign or isinstance(error, (calamine.CalamineError, OSError, ValueError, OverflowError)):
            raise ImportFileError(f"{file} cannot be read as a spreadsheet: {_reason(error)}", file) from error
        raise


def _plain(name: str) -> str:
    return "".join(c for c in name.lower() if c.isalnum())


def _reason(error: BaseException) -> str:
    return " ".join(str(error).split())[:160] or type(error).__name__


def _cells(book: Any, name: str) -> list[list[object]]:  # noqa: ANN401 - the library has loose types
    rows: list[list[object]] = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
    return rows


def read_parquet(file: str, path: Path) -> Sheet:
    """Read a Parquet file; rows count from 1.

    Parameters
    ----------
    file : str
        The file, for messages.
    path : Path
        Where it lies.

    Raises
    ------
    ImportFileError
        If it is no Parquet file.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        table = pq.ParquetFile(path).read()
        columns = [_flat(c) for c in table.columns]
    except (pa.ArrowException, OSError, ValueError) as error:
        raise ImportFileError(f"{file} cannot be read as a Parquet file: {_reason(error)}", file) from error
    if not columns:
        raise ImportFileError(f"{file} has no columns", file)
    headings = [str(n) for n in table.column_names]
    return Sheet(file, headings, columns, range(1, table.num_rows + 1), decimal=".", top=[(0, list(headings))])


def _flat(column: Any) -> Any:  # noqa: ANN401 - pyarrow has no types
    import pyarrow as pa

    kind = column.type
    if pa.types.is_dictionary(kind):
        column = column.cast(kind.value_type)
        kind = column.type
    if pa.types.is_large_string(kind) or pa.types.is_string_view(kind) or pa.types.is_null(kind):
        return column.cast(pa.string())
    if pa.types.is_nested(kind) or pa.types.is_binary(kind) or pa.types.is_large_binary(kind):
        raise ValueError(f"a column of type {kind} is no column of plain values")
    return column
