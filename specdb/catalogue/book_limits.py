"""Spreadsheet files that are small on disk and would fill the memory: found before they are unpacked.

A sheet is laid out from its first to its last cell, so two cells in far corners, or one cell repeated a million times,
are enough.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from specdb.errors import ImportFileError

MOST_CELLS = 20_000_000
MOST_BYTES = 1 << 30
_PIECE = 1 << 22
_OVERLAP = 4096
# a cell with something in it, that is, one that does not close itself
_CELL = re.compile(rb"<(?:\w+:)?c\b[^>]*?\br=[\"']([A-Z]{1,3})(\d{1,7})[\"'][^>/]*>")
_ROWS = re.compile(rb"number-rows-repeated=[\"'](\d+)[\"'][^>/]*>(?:(?!</(?:\w+:)?table-row>).)*?value-type", re.DOTALL)
_COLUMNS = re.compile(rb"<(?:\w+:)?table-cell\b(?=[^>]*value-type)[^>]*number-columns-repeated=[\"'](\d+)[\"']")


def refuse_huge(file: str, path: Path) -> None:
    """Refuse a spreadsheet file that unpacks to more than can be read.

    Parameters
    ----------
    file : str
        The file, for messages.
    path : Path
        Where it lies; one that is no zip container is passed over.

    Raises
    ------
    ImportFileError
        If it is too large, or the container is damaged.
    """
    try:
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as box:
                _refuse_huge(file, box)
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, NotImplementedError, RuntimeError) as error:
        raise ImportFileError(f"{file} is damaged: {' '.join(str(error).split())[:160]}", file) from error


def _refuse_huge(file: str, box: zipfile.ZipFile) -> None:
    if sum(i.file_size for i in box.infolist()) > MOST_BYTES:
        raise ImportFileError(f"{file} unpacks to more than a gigabyte; save the table as CSV", file)
    for name in box.namelist():
        if re.fullmatch(r"xl/worksheets/[^/]+\.xml", name):
            cells = _laid_out(box, name)
        elif name == "content.xml":
            cells = _repeated(box, name)
        else:
            continue
        if cells > MOST_CELLS:
            raise ImportFileError(
                f"{file} has a sheet of {cells} cells from its first to its last; {MOST_CELLS} are read at most: "
                "delete what stands far out, or save the table as CSV",
                file,
            )


def _pieces(box: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    """Contents of a part in pieces that overlap, so that nothing is cut at every place it is looked for."""
    kept = b""
    with box.open(name) as part:
        while piece := part.read(_PIECE):
            yield kept + piece
            kept = piece[-_OVERLAP:]


def _laid_out(box: zipfile.ZipFile, name: str) -> int:
    last_row = last_column = 0
    for piece in _pieces(box, name):
        found = _CELL.findall(piece)
        if found:
            last_row = max(last_row, *(int(row) for _, row in found), 0)
            last_column = max(last_column, *map(_column_number, {letters for letters, _ in found}), 0)
    return last_row * last_column


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + letter - 64
    return number


def _repeated(box: zipfile.ZipFile, name: str) -> int:
    """Upper estimate for the cells that one repeated row, or one repeated cell, stands for."""
    rows = columns = 1
    for piece in _pieces(box, name):
        rows = max(rows, *(int(n) for n in _ROWS.findall(piece)), 1)
        columns = max(columns, *(int(n) for n in _COLUMNS.findall(piece)), 1)
    return rows * columns
