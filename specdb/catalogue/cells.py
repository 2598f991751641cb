"""Cells of a file that people filled in, in one form whatever the file was, and the guard against formulas.

A text cell that a spreadsheet would take for a formula, or that begins as a help row does, is written with an
apostrophe before it; reading takes exactly one off again, so that texts come back as they were.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from specdb.errors import ImportFileError

if TYPE_CHECKING:
    import pyarrow as pa

Decimal = Literal[".", ",", "auto"]

ERROR_TEXTS = (
    "#N/A", "#DIV/0!", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!", "#GETTING_DATA", "#FIELD!",
    "#BLOCKED!", "#CONNECT!", "#UNKNOWN!", "#BUSY!",
)  # fmt: skip
"""What spreadsheets show where a formula gave no value."""

# a '#' too: at the start of a row it would make it a help row
_GUARDED = re.compile(r"'+[=+\-@\t#]")
_NEEDS_GUARD = re.compile(r"'*[=+\-@\t#]")
_TOP_ROWS = 25
_CHUNK = 65_536
_MOST_COLUMNS = 16_384  # as many as a spreadsheet has


def guarded(cell: object) -> object:
    """A cell as it is safe to write: no text begins like a formula.

    Parameters
    ----------
    cell : object
        Text or any other value; others are left alone.
    """
    return f"'{cell}" if isinstance(cell, str) and _NEEDS_GUARD.match(cell) else cell


def unguarded(cell: object) -> object:
    """A cell as it was before :func:`guarded`."""
    return cell[1:] if isinstance(cell, str) and _GUARDED.match(cell) else cell


def is_blank(cell: object) -> bool:
    """Whether a cell says nothing."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


@dataclass(frozen=True, slots=True)
class Ragged:
    """A row whose cells do not go with the headings."""

    row: int
    cells: list[object]
    message: str


@dataclass(slots=True)
class Sheet:
    """One table of a file.

    Attributes
    ----------
    file : str
        The file, for messages.
    headings : list of str
        Heading of every column, as written.
    columns : list
        Cells of every column: an Arrow array, or a list of Python values (text, float, bool, date) from spreadsheets.
    rows : list or ndarray of int
        Row number of every row, as a spreadsheet shows it.
    decimal : str
        Decimal mark of the source; ``auto`` where it does not tell.
    top : list
        Number and cells of the first rows, headings among them, for finding out what is wrong with a file.
    ragged : list of Ragged
        Rows that are not in ``columns``.
    """

    file: str
    headings: list[str]
    columns: list[Any]
    rows: Any
    decimal: Decimal = "auto"
    top: list[tuple[int, list[object]]] = field(default_factory=list)
    ragged: list[Ragged] = field(default_factory=list)

    def cells_of(self, indices: Sequence[int]) -> list[list[object]]:
        """Cells of some rows, row by row."""
        taken = [[c[i] for i in indices] if isinstance(c, list) else c.take(indices).to_pylist() for c in self.columns]
        return [list(row) for row in zip(*taken, strict=True)]


def is_help(cells: Sequence[object]) -> bool:
    """Whether a row explains the columns, as the second row of a template does."""
    first = cells[0] if cells else None
    return isinstance(first, str) and first.startswith("#") and first.strip().upper() not in ERROR_TEXTS


def gather(file: str, numbered: Iterable[tuple[int, Sequence[object]]], *, text: bool) -> Sheet:
    """Make a sheet of rows: the first that is not blank has the headings.

    Parameters
    ----------
    file : str
        The file, for messages.
    numbered : iterable of (int, sequence)
        Row numbers and cells.
    text : bool
        Whether all cells are text.

    Raises
    ------
    ImportFileError
        If there is no heading row, or it is a title.
    """
    rows = ((n, c) for n, c in numbered if not all(is_blank(x) for x in c))
    top: list[tuple[int, list[object]]] = []
    for number, cells in rows:
        top.append((number, list(cells)))
        break
    if not top:
        raise ImportFileError(f"{file} has no headings: it is empty", file)
    headings = ["" if is_blank(c) else str(c) for c in top[0][1]]
    while headings and not headings[-1].strip():
        headings.pop()
    if len(headings) > _MOST_COLUMNS:
        raise ImportFileError(f"{file} has {len(headings)} columns; {_MOST_COLUMNS} are read at most", file, top[0][0])
    columns = _Columns(len(headings), text=text)
    ragged: list[Ragged] = []
    for number, cells in rows:
        if len(top) < _TOP_ROWS:
            top.append((number, list(cells)))
        if is_help(cells):
            continue
        fault = _ragged(number, cells, len(headings))
        if fault is None:
            columns.add(number, cells)
        else:
            ragged.append(fault)
    refuse_title(file, headings, top)
    return Sheet(file, headings, columns.finished(), columns.rows, top=top, ragged=ragged)


def _ragged(number: int, cells: Sequence[object], width: int) -> Ragged | None:
    if len(cells) < width:
        return Ragged(number, list(cells), f"the row has {len(cells)} cells under {width} headings")
    for at in range(width, len(cells)):
        if not is_blank(cells[at]):
            shown = str(cells[at])[:40]
            return Ragged(number, list(cells), f"cell {at + 1} of the row has no heading above it: '{shown}'")
    return None


def refuse_title(file: str, headings: Sequence[str], top: Sequence[tuple[int, list[object]]]) -> None:
    """Refuse a file whose first row is a title above the headings.

    Raises
    ------
    ImportFileError
        If only one cell of the first row is filled and a later row has several.
    """
    filled = [h for h in headings if h.strip()]
    if len(filled) != 1:
        return
    for number, cells in top[1:]:
        if sum(not is_blank(c) for c in cells) > 1 and not is_help(cells):
            raise ImportFileError(
                f"{file}: row {top[0][0]} is a title ('{filled[0].strip()[:40]}') and no headings; delete the rows "
                f"above the headings, which seem to be in row {number}",
                file,
                top[0][0],
            )


class _Columns:
    """Rows turned into columns, piece by piece where they are text, as Python texts take much memory."""

    def __init__(self, width: int, *, text: bool) -> None:
        self.rows: list[int] = []
        self._width = width
        self._text = text
        self._held: list[list[object]] = [[] for _ in range(width)]
        self._done: list[list[pa.Array]] = [[] for _ in range(width)]

    def add(self, number: int, cells: Sequence[object]) -> None:
        self.rows.append(number)
        for held, cell in zip(self._held, cells, strict=False):
            held.append(cell)
        if self._text and len(self.rows) % _CHUNK == 0:
            self._pack()

    def _pack(self) -> None:
        import pyarrow as pa

        for held, done in zip(self._held, self._done, strict=True):
            done.append(pa.array(held, pa.string()))
            held.clear()

    def finished(self) -> list[Any]:
        import pyarrow as pa

        if not self._text:
            return list(self._held)
        self._pack()
        return [pa.chunked_array(d, pa.string()) for d in self._done]


def numbered(rows: Iterable[Sequence[object]], start: int = 1) -> Iterator[tuple[int, Sequence[object]]]:
    """Rows with their numbers."""
    return enumerate(rows, start=start)
