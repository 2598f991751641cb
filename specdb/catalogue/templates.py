"""Empty tables for a person to fill in: headings and a help row, made from ``data_schema/``."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from specdb.catalogue.connect import explained
from specdb.errors import SpecdbError, UsageError
from specdb.schema import Field, Table, load_schema

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_ROWS_WITH_LISTS = 2000
_LONGEST_LIST = 250  # what a spreadsheet takes as a list in a cell rule


def help_text(field: Field) -> str:
    """What goes in a field, in one line.

    Parameters
    ----------
    field : Field
        The field.
    """
    needed = "needed: " if field.required and field.name != "id" else ""
    if field.description.startswith("Short key"):  # which says its form already
        return field.description + (f" (e.g. {field.example})" if field.example else "")
    example = f"; e.g. {field.example}" if field.example else ""
    return f"{needed}{field.description} ({field.allowed()}{example})"


def write_template(kind: str, path: Path) -> Path:
    """Write an empty table.

    Parameters
    ----------
    kind : str
        Kind of the rows.
    path : Path
        A ``.csv``, ``.tsv`` or ``.xlsx`` file. Its second row says what goes in each column; it begins with
        ``#`` and is passed over when the file is imported.

    Raises
    ------
    UnknownKindError
        If there is no such kind.
    UsageError
        If the kind is not imported, or the file has another ending.
    CatalogueError
        If the file cannot be written.
    """
    table = load_schema().table(kind)
    if table.internal:
        raise UsageError(f"the {table.title.lower()} is written by the catalogue and not imported")
    ending = path.suffix.lower()
    if ending not in (".csv", ".tsv", ".xlsx"):
        raise UsageError(f"a template is a .csv, .tsv or .xlsx file, not '{path.name}'")
    helps = [help_text(f) for f in table.fields]
    helps[0] = f"# {helps[0]}"
    content = _xlsx(table, helps) if ending == ".xlsx" else _text(table, helps, "," if ending == ".csv" else "\t")
    there = path.exists()
    try:
        with explained(path):
            path.write_bytes(content)
    except SpecdbError:
        if not there:  # half a template would stand in the way of the next try
            path.unlink(missing_ok=True)
        raise
    return path


def _text(table: Table, helps: list[str], delimiter: str) -> bytes:
    import csv

    file = io.StringIO(newline="")
    writer = csv.writer(file, delimiter=delimiter)
    writer.writerow(table.field_names)
    writer.writerow(helps)
    # spreadsheets take the byte order mark as the sign of UTF-8
    return file.getvalue().encode("utf-8-sig")


def _xlsx(table: Table, helps: list[str]) -> bytes:
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    sheet: Any = book.active
    sheet.title = table.title[:31].replace("/", "-")
    sheet.append(list(table.field_names))
    sheet.append(helps)
    for number, field in enumerate(table.fields, start=1):
        letter = get_column_letter(number)
        sheet.column_dimensions[letter].width = max(14, len(field.name) + 3)
        sheet.cell(1, number).font = Font(bold=True)
        note = sheet.cell(2, number)
        note.font = Font(italic=True, color="555555")
        note.alignment = Alignment(wrap_text=True, vertical="top")
        _add_list(sheet, field, letter)
    sheet.row_dimensions[2].height = 90
    sheet.freeze_panes = "B3"
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _add_list(sheet: Worksheet, field: Field, letter: str) -> None:
    from openpyxl.worksheet.datavalidation import DataValidation

    words = field.enum or (("yes", "no") if field.type == "boolean" else ())
    choices = ",".join(words)
    if not words or len(choices) > _LONGEST_LIST:
        return
    rule = DataValidation(type="list", formula1=f'"{choices}"', allow_blank=True)
    rule.error = f"{field.name}: {field.allowed()}"
    sheet.add_data_validation(rule)
    rule.add(f"{letter}3:{letter}{_ROWS_WITH_LISTS}")
