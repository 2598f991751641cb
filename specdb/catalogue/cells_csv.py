"""Text tables (CSV, TSV) as people and programs write them: any usual encoding, delimiter and decimal mark.

Plain files go through Arrow, column by column; anything odd is read again with care, row by row.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from specdb.catalogue.cells import ERROR_TEXTS, Decimal, Sheet, gather
from specdb.errors import ImportFileError

if TYPE_CHECKING:
    import pyarrow as pa

_DELIMITERS = (";", "\t", ",")
_SEP = re.compile(rb"\s*\"?sep=(\t|[!-~])\"?[ \t]*(?:\r\n|\r|\n|$)", re.IGNORECASE)
_ODD_QUOTE = re.compile(rb"[^\",;\t\r\n]\"[^\",;\t\r\n]")
_MULTIBYTE = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
_HEAD = 1 << 20
_LONGEST_CELL = 131_072
_TOO_LONG = f"a cell has more than {_LONGEST_CELL} characters"
_SAMPLE_ROWS = 30
_BLOCK = 1 << 23
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_FOREIGN = ((b"PK\x03\x04", "a spreadsheet or zip file"), (b"\xd0\xcf\x11\xe0", "an old spreadsheet file"),
            (b"PAR1", "a Parquet file"), (b"%PDF", "a PDF file"), (b"\x1f\x8b", "a packed file"))  # fmt: skip


def read_text(file: str, data: bytes, *, prefer_tab: bool = False) -> Sheet:
    """Read a text table.

    Parameters
    ----------
    file : str
        The file, for messages.
    data : bytes
        What is in it.
    prefer_tab : bool
        Whether tabs are the delimiter wherever there are any.

    Raises
    ------
    ImportFileError
        If it is no text table.
    """
    for mark, what in _FOREIGN:
        if data.startswith(mark):
            raise ImportFileError(
                f"{file} is {what} by its contents and no text; give it the ending it should have", file
            )
    data = _as_utf8(file, data)
    first_row, delimiter = 1, None
    sep = _SEP.match(data)
    if sep:
        delimiter = sep[1].decode("ascii")
        if delimiter.isalnum() or delimiter == '"':
            raise ImportFileError(f"{file}: '{delimiter}' in its first line cannot stand between cells", file, 1)
        data, first_row = data[sep.end() :], 2
    delimiter = delimiter or _delimiter(data, prefer_tab=prefer_tab)
    sheet = _fast(file, data, delimiter, first_row) or _careful(file, data, delimiter, first_row)
    if delimiter != ",":
        sheet.decimal = _decimal(sheet.columns)
    return sheet


def _as_utf8(file: str, data: bytes) -> bytes:
    """The same text as UTF-8 without a mark."""
    if data.startswith(codecs.BOM_UTF8):
        data = data[len(codecs.BOM_UTF8) :]
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            try:
                data = data.decode(encoding).encode("utf-8")
            except UnicodeError as error:
                raise ImportFileError(f"{file} begins as {encoding.upper()} and is damaged further on", file) from error
            break
    else:
        data = _checked_utf8(file, data)
    at = data.find(b"\x00")
    if at >= 0:
        row = data.count(b"\n", 0, at) + 1
        raise ImportFileError(
            f"{file}, line {row}: there is a NUL character, which no text has; save the table anew as CSV UTF-8",
            file,
            row,
        )
    return data


def _checked_utf8(file: str, data: bytes) -> bytes:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        try:
            at, text = _first_stray(data), data.decode("cp1252")
        except UnicodeDecodeError as error:
            at, text = error.start, ""
        if at is not None:
            row = data.count(b"\n", 0, at) + 1
            raise ImportFileError(
                f"{file}, line {row}: a character cannot be read; save the table anew as CSV UTF-8", file, row
            ) from None
        return text.encode("utf-8")
    return data


def _first_stray(data: bytes) -> int | None:
    """Place of the first byte that is no UTF-8 in a file that mostly is; None where it is a Windows file throughout."""
    multibyte, broken = len(_MULTIBYTE.findall(data)), data.decode("utf-8", errors="replace").count("\ufffd")
    if multibyte <= broken:
        return None
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        return error.start
    return None


def _first_line(data: bytes) -> str:
    head = data[:_HEAD].decode("utf-8", errors="ignore")
    return next((line for line in head.splitlines() if line.strip(' \t\r\n,;"')), "")


def _delimiter(data: bytes, *, prefer_tab: bool) -> str:
    line = re.sub(r'"[^"]*"', "", _first_line(data))
    if prefer_tab and "\t" in line:
        return "\t"
    found = [d for d in _DELIMITERS if d in line]
    if found:
        return max(found, key=lambda d: _agreement(data, d))
    return "\t" if prefer_tab else ","


def _agreement(data: bytes, delimiter: str) -> tuple[float, bool, int]:
    """How well the first rows go with a delimiter: share of them as wide as the headings, then how wide these are.

    Between two that go equally well a comma comes last: it also stands in numbers and in headings.
    """
    widths = []
    reader = csv.reader(io.StringIO(data[:_HEAD].decode("utf-8", errors="ignore"), newline=""), delimiter=delimiter)
    try:
        for cells in reader:
            if any(c.strip() for c in cells):
                widths.append(len(cells))
            if len(widths) > _SAMPLE_ROWS:
                break
    except csv.Error:
        pass
    width = widths[0] if widths else 0
    return sum(w == width for w in widths) / max(len(widths), 1), delimiter != ",", width


def _fast(file: str, data: bytes, delimiter: str, first_row: int) -> Sheet | None:
    """Read a plain file with Arrow; None where anything is odd."""
    import pyarrow as pa
    import pyarrow.csv as pacsv

    quotes = b'"' in data
    try:
        head = next(csv.reader(io.StringIO(data[:_HEAD].decode("utf-8", "ignore"), newline=""), delimiter=delimiter))
    except (csv.Error, StopIteration):
        return None
    if len(head) < 2 or not all(h.strip() for h in head) or (quotes and _has_odd_quotes(data)):
        return None
    names = [str(n) for n in range(len(head))]
    end = len(data.rstrip(b"\r\n")) if data[-2:-1] in b"\r\n" else len(data)
    try:
        read = pacsv.read_csv(
            pa.BufferReader(pa.py_buffer(data).slice(0, end)),
            pacsv.ReadOptions(column_names=names, block_size=_BLOCK),
            pacsv.ParseOptions(delimiter=delimiter, newlines_in_values=quotes, ignore_empty_lines=False),
            pacsv.ConvertOptions(column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False),
        )
    except (pa.ArrowException, ValueError):
        return None
    if [c[0].as_py() for c in read.columns] != head:
        return None
    rows = np.arange(first_row, first_row + read.num_rows, dtype=np.int64)
    top = [(int(rows[i]), [c[i].as_py() for c in read.columns]) for i in range(min(25, read.num_rows))]
    keep = _wanted(read.columns)
    if keep is None:
        read, rows = read.slice(1), rows[1:]
    else:
        read, rows = read.filter(pa.array(keep)), rows[keep]
    return Sheet(file, head, list(read.columns), rows, top=top)


def _has_odd_quotes(data: bytes) -> bool:
    return data.count(b'"') % 2 == 1 or _ODD_QUOTE.search(data) is not None


def _wanted(columns: Sequence[Any]) -> Any:  # noqa: ANN401 - a mask or None
    """Rows that are neither headings, nor blank, nor help; None where only the first row goes."""
    import pyarrow as pa
    import pyarrow.compute as pc

    first = columns[0]
    blank = _is_blank(first)
    helps = pc.starts_with(first, "#")
    if pc.any(helps).as_py():
        errors = pc.is_in(pc.utf8_upper(pc.utf8_trim_whitespace(first)), pa.array(ERROR_TEXTS))
        helps = pc.and_not(helps, errors)
    if pc.any(blank).as_py():
        for column in columns[1:]:
            blank = pc.and_(blank, _is_blank(column))
            if not pc.any(blank).as_py():
                break
    drop = np.array(pc.or_(blank, helps).to_numpy(), dtype=bool)
    drop[0] = True
    return None if drop.sum() == 1 else ~drop


def _is_blank(column: pa.ChunkedArray) -> pa.ChunkedArray:
    import pyarrow.compute as pc

    return pc.or_(pc.equal(column, ""), pc.utf8_is_space(column))


def _careful(file: str, data: bytes, delimiter: str, first_row: int) -> Sheet:
    reader = csv.reader(io.StringIO(data.decode("utf-8"), newline=""), delimiter=delimiter, strict=True)
    return gather(file, _records(file, reader, first_row), text=True)


def _records(file: str, reader: Iterator[list[str]], first_row: int) -> Iterator[tuple[int, list[str]]]:
    row = first_row - 1
    while True:
        row += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise ImportFileError(f"{file}, row {row}: {_reason(str(error))}", file, row) from error
        # the reader's own limit is shared by all of the process, and other libraries lift it
        if any(len(c) > _LONGEST_CELL for c in cells):
            raise ImportFileError(f"{file}, row {row}: {_TOO_LONG}", file, row)
        yield row, cells


def _reason(text: str) -> str:
    if text.startswith("unexpected end"):
        return "a quotation mark opens a cell and is never closed"
    if text.startswith("field larger"):
        return _TOO_LONG
    if "expected after" in text:
        return "after the closing quotation mark of a cell there is more text; write a quotation mark in a cell twice"
    return text


def _decimal(columns: Sequence[Any]) -> Decimal:
    """Decimal mark of a file that does not use the comma between its cells."""
    import pyarrow.compute as pc

    commas = any(_any_like(pc, c, r"^\s*[+-]?\d+,\d+\s*$") for c in columns)
    if not commas:
        return "auto"
    # a point that can only be a decimal point contradicts
    points = any(_any_like(pc, c, r"^\s*[+-]?(\d*\.\d{1,2}|\d*\.\d{4,}|0*\.\d+|\d{4,}\.\d+)\s*$") for c in columns)
    return "auto" if points else ","


def _any_like(pc: Any, column: Any, pattern: str) -> bool:  # noqa: ANN401 - pyarrow has no types
    return bool(pc.any(pc.match_substring_regex(column, pattern)).as_py())
