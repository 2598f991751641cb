"""A report as one page that stands alone: its pictures are in it, nothing is fetched, and it prints well."""

from __future__ import annotations

from html import escape
from pathlib import Path

from specdb.catalogue.sheets import write_sheet
from specdb.errors import UsageError
from specdb.verbs.reports.pictures import pictures_of
from specdb.verbs.reports.types import Report, ReportColumn, shown

TABLES = (".csv", ".tsv", ".xlsx")
PAGES = (".html", ".htm")
_SHORT = 40

_STYLE = """
:root { color-scheme: light; }
body { font: 15px/1.45 system-ui, "DejaVu Sans", Verdana, sans-serif; color: #1a1a1a; background: #fff;
  margin: 2rem auto; max-width: 68rem; padding: 0 1rem; }
h1 { font-size: 1.6rem; margin: 0 0 .2rem; }
.day { color: #5c5c5c; margin: 0 0 1rem; }
figure { margin: 1.5rem 0; break-inside: avoid; }
figure svg { width: 100%; height: auto; }
figcaption { font-weight: 600; margin-bottom: .3rem; }
table { border-collapse: collapse; width: 100%; font-size: .86rem; }
caption { text-align: left; font-weight: 600; margin-bottom: .3rem; }
thead { display: table-header-group; }
th, td { text-align: left; vertical-align: top; padding: .28rem .5rem; border-bottom: 1px solid #ddd; }
th { border-bottom: 2px solid #1a1a1a; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; }
td.n, td.k, span { white-space: nowrap; }
td.w { min-width: 8rem; }
ul { margin: 0 0 1rem; padding-left: 1.2rem; }
tr { break-inside: avoid; }
.wide { overflow-x: auto; }
@media screen and (max-width: 68rem) { body { margin: 1rem auto; } table { font-size: .78rem; }
  th, td { padding: .25rem .35rem; } td.k { white-space: normal; overflow-wrap: anywhere; min-width: 4.5rem; }
  td.w { min-width: 6rem; } }
@media print { body { margin: 0; max-width: none; font-size: 10pt; } table { font-size: 8pt; }
  th, td { padding: .15rem .3rem; } td.k { white-space: normal; } td.w { min-width: 0; } .wide { overflow: visible; }
  @page { size: A4 landscape; margin: 12mm; } }
"""


def report_page(report: Report) -> str:
    """A report as one HTML page.

    Parameters
    ----------
    report : Report
        The report.
    """
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        f'<head><meta charset="utf-8"><title>{escape(report.title)}, {report.day.isoformat()}</title>',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<style>{_STYLE}</style></head>",
        "<body>",
        f"<h1>{escape(report.title)}</h1>",
        f'<p class="day">{report.day.isoformat()}</p>',
    ]
    if not report.lines:
        parts.append(f"<p>{escape(report.nothing)}</p>")
    if said := (*report.said, *report.further):
        parts += ["<ul>", *(f"<li>{escape(text)}</li>" for text in said), "</ul>"]
    for caption, svg in pictures_of(report):
        labelled = svg.replace('role="img"', f'role="img" aria-label="{escape(caption, quote=True)}"', 1)
        parts.append(f"<figure><figcaption>{escape(caption)}</figcaption>{labelled}</figure>")
    if report.lines:
        parts += ['<div class="wide">', *_table(report), "</div>"]
    return "\n".join([*parts, "</body>", "</html>", ""])


def _table(report: Report) -> list[str]:
    """The columns that say anything."""
    rows = [[getattr(line, c.name) for c in report.columns] for line in report.lines]
    filled = [i for i, c in enumerate(report.columns) if c.keep or any(shown(c, row[i]) for row in rows)]
    columns = [report.columns[i] for i in filled]
    head = "".join(f'<th scope="col"{_class(c, head=True)}>{escape(c.title)}</th>' for c in columns)
    lines = ["<table>", f"<thead><tr>{head}</tr></thead>", "<tbody>"]
    for row in rows:
        cells = (f"<td{_class(c)}>{_cell(c, row[i])}</td>" for c, i in zip(columns, filled, strict=True))
        lines.append(f"<tr>{''.join(cells)}</tr>")
    return [*lines, "</tbody>", "</table>"]


def _cell(column: ReportColumn, value: object) -> str:
    if isinstance(value, tuple):  # a list breaks between its items only
        return ", ".join(f"<span>{escape(str(v))}</span>" if len(str(v)) < _SHORT else escape(str(v)) for v in value)
    return escape(shown(column, value))


def _class(column: ReportColumn, *, head: bool = False) -> str:
    if column.number:
        return ' class="n"'
    if head:
        return ""
    return ' class="w"' if column.wraps else ' class="k"'


def check_file(path: Path, endings: tuple[str, ...], *, force: bool) -> None:
    """Refuse a file that a report cannot be written to.

    Parameters
    ----------
    path : Path
        The file.
    endings : tuple of str
        Endings it may have.
    force : bool
        Whether one that is there may be overwritten.

    Raises
    ------
    UsageError
        With the reason.
    """
    if path.suffix.lower() not in endings:
        raise UsageError(f"'{path.name}' must end in {' or '.join(endings)}")
    if path.is_dir():
        raise UsageError(f"{path} is a folder")
    if not path.parent.is_dir():
        raise UsageError(f"there is no folder {path.parent}")
    if path.exists() and not force:
        raise UsageError(f"{path} is there already; name another file, or use --force")


def write_table(report: Report, path: Path, *, force: bool = False) -> None:
    """Write the lines of a report as a table, all of it or nothing.

    Parameters
    ----------
    report : Report
        The report.
    path : Path
        A ``.csv``, ``.tsv`` or ``.xlsx`` file.
    force : bool
        Whether one that is there may be overwritten.

    Raises
    ------
    UsageError
        If the file cannot or must not be written to.
    """
    check_file(path, TABLES, force=force)
    part = path.with_name(f".part-{path.name}")
    try:
        write_sheet(part, [c.name for c in report.columns], (report.cells(line) for line in report.lines))
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def write_page(report: Report, path: Path, *, force: bool = False) -> None:
    """Write a report as a page, all of it or nothing.

    Parameters
    ----------
    report : Report
        The report.
    path : Path
        A ``.html`` file.
    force : bool
        Whether one that is there may be overwritten.

    Raises
    ------
    UsageError
        If the file cannot or must not be written to.
    """
    check_file(path, PAGES, force=force)
    part = path.with_name(f".part-{path.name}")
    try:
        part.write_text(report_page(report), encoding="utf-8")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
