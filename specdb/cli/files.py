"""``specdb template``, ``specdb import`` and ``specdb export``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import journal_options, json_option, kind_argument
from specdb.cli.progress import bar
from specdb.errors import ExitCode, ImportFileError

if TYPE_CHECKING:
    from specdb.catalogue.bulk import RowChange
    from specdb.catalogue.faults import RowProblem
    from specdb.catalogue.importing import ImportReport, Remark

_MOST_SHOWN = 20


@command("template", "specdb template shaft", "specdb template shaft_reading readings.xlsx")
@kind_argument
@click.argument("file", type=click.Path(path_type=Path), required=False)
def template(kind: str, file: Path | None) -> None:
    """Write an empty table for a KIND, with headings and a help row, to FILE (.csv or .xlsx).

    Without FILE it is KIND.csv in this folder. A file that is there already is left alone.
    """
    from specdb.catalogue.templates import write_template
    from specdb.errors import UsageError
    from specdb.verbs.catalogue.kinds import table_of

    table = table_of(kind)
    target = Path(f"{table.name}.csv") if file is None else file
    if target.exists():
        raise UsageError(f"{target} is there already; name another file")
    write_template(table.name, target)
    output.line(f"Template written: {target}")


@command(
    "import",
    "specdb import shaft shafts.xlsx --dry-run",
    "specdb import shaft_reading bench.csv --accept-good --by Robin --why 'frequency day'",
)
@kind_argument
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--sheet", metavar="NAME", help="Sheet of a spreadsheet with several.")
@click.option("--dry-run", is_flag=True, help="Show what would be done and write nothing.")
@click.option("--accept-good", is_flag=True, help="Take the good rows; write the others to a file to correct.")
@journal_options
@json_option
def import_rows(
    kind: str,
    file: Path,
    sheet: str | None,
    dry_run: bool,
    accept_good: bool,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> int:
    """Import rows of a KIND from a CSV, TSV, XLSX, ODS or Parquet FILE.

    Values are read as people type them (45 1/2, 8.5 mm, 2.3 oz, 3,9); empty means unknown. All or nothing, unless
    --accept-good is given. The same file twice changes nothing. Exit status 1: rows were rejected.
    """
    from specdb.verbs.catalogue.importing import import_rows as do_import
    from specdb.verbs.catalogue.kinds import table_of

    table = table_of(kind)
    refuse_missing(file)
    catalogue = settings().open() if dry_run else settings().open_for_adding()
    with bar() as tell:
        report = do_import(
            catalogue,
            table.name,
            file,
            sheet=sheet,
            dry_run=dry_run,
            accept_good=accept_good,
            by=by,
            why=why,
            progress=tell,
        )
    if as_json:
        output.emit_json(report_json(report, dry_run=dry_run))
    else:
        write_report(report, dry_run=dry_run, accept_good=accept_good)
    return int(ExitCode.NO if report.rejected else ExitCode.DONE)


def refuse_missing(file: Path) -> None:
    """Refuse a file that is not there, before a catalogue is made for it.

    Parameters
    ----------
    file : Path
        The file.

    Raises
    ------
    ImportFileError
        If there is no such file.
    """
    if not file.is_file():
        raise ImportFileError(f"there is no file {file}", str(file))


def report_json(report: ImportReport, *, dry_run: bool) -> dict[str, object]:
    """What came of an import, as plain values.

    Parameters
    ----------
    report : ImportReport
        What came of it.
    dry_run : bool
        Whether nothing was to be written.
    """
    return {
        "dry_run": dry_run,
        "added": report.added,
        "changed": report.changed,
        "unchanged": report.unchanged,
        "rejected": [
            {
                "file": p.file,
                "row": p.row,
                "field": p.field,
                "value": None if p.value is None else str(p.value),
                "allowed": p.allowed,
                "message": p.message,
            }
            for p in report.rejected
        ],
        "changes": [{"id": c.key, "field": c.field, "before": c.before, "after": c.after} for c in report.changes],
        "rejected_file": None if report.rejected_file is None else str(report.rejected_file),
        "remarks": [{"row": r.row, "id": r.key, "like": r.like, "message": r.message} for r in report.remarks],
    }


def write_report(report: ImportReport, *, dry_run: bool, accept_good: bool) -> None:
    """Write what came of an import for a person.

    Parameters
    ----------
    report : ImportReport
        What came of it.
    dry_run : bool
        Whether nothing was to be written.
    accept_good : bool
        Whether good rows were to be taken where others are rejected.
    """
    written = not report.rejected or accept_good
    counts = f"{report.added} added, {report.changed} changed, {report.unchanged} unchanged"
    if dry_run and not written:
        output.sentence(
            "Dry run, nothing written. Nothing would be imported, because rows are rejected (--accept-good would "
            "take the good ones)."
        )
    elif dry_run:
        output.line(f"Dry run, nothing written. It would be: {counts}.")
    elif written:
        output.line(f"{counts}.")
    else:
        output.line("Nothing was imported, because rows were rejected (--accept-good takes the good ones).")
    if report.changes:
        output.section("Changed fields")
        _write_changes(report.changes)
    if report.remarks:
        output.section("Worth a look: new rows that may be there already")
        _write_remarks(report.remarks)
    if report.rejected:
        rows = len({p.row for p in report.rejected})
        output.section(f"Rejected: {output.plural(rows, 'row')}")
        _write_problems(report.rejected)
    if report.rejected_file is not None:
        output.line()
        output.sentence(f"The rejected rows are in {report.rejected_file}; correct them and import that file.")


def _write_changes(changes: Sequence[RowChange]) -> None:
    for change in changes[:_MOST_SHOWN]:
        before, after = output.cell(change.before) or "unknown", output.cell(change.after) or "unknown"
        output.sentence(f"{change.key} {change.field}: {before} -> {after}", indent="  ", hanging="    ")
    if len(changes) > _MOST_SHOWN:
        output.line(f"  and {len(changes) - _MOST_SHOWN} more (--json lists all)")


def _write_remarks(remarks: Sequence[Remark]) -> None:
    for remark in remarks[:_MOST_SHOWN]:
        output.sentence(f"row {remark.row}: {remark.message}", indent="  ", hanging="    ")
    if len(remarks) > _MOST_SHOWN:
        output.line(f"  and {len(remarks) - _MOST_SHOWN} more (--json lists all)")


def _write_problems(problems: Sequence[RowProblem]) -> None:
    for problem in problems[:_MOST_SHOWN]:
        # most messages name their field themselves
        field = f", {problem.field}" if problem.field and not problem.message.startswith(problem.field) else ""
        output.sentence(f"row {problem.row}{field}: {problem.message}", indent="  ", hanging="    ")
    if len(problems) > _MOST_SHOWN:
        output.line(f"  and {len(problems) - _MOST_SHOWN} more (--json lists all)")


@command("export", "specdb export shop-export", "specdb export shop-export --format parquet")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--format", "fmt", type=click.Choice(["csv", "parquet"]), default="csv", show_default=True)
def export(folder: Path, fmt: Literal["csv", "parquet"]) -> None:
    """Export the whole catalogue to DIR as a Data Package (datapackage.json and one file a kind)."""
    from specdb.catalogue.package import export_package

    with bar() as tell:
        export_package(settings().open(), folder, format=fmt, progress=tell)
    output.line(f"Exported to {folder}.")


@command("import-package", "specdb import-package shop-export --catalogue copy.duckdb")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@journal_options
@json_option
def import_package(folder: Path, by: str | None, why: str | None, as_json: bool) -> None:
    """Import a Data Package that 'specdb export' wrote: all of it or nothing.

    Into an empty catalogue this gives an equal one; rows that are there already are updated.
    """
    from specdb.catalogue.package import import_package as read_package

    refuse_missing(folder / "datapackage.json")
    catalogue = settings().open_for_adding()
    with bar() as tell:
        counts = read_package(catalogue, folder, by=by, why=why, progress=tell)
    if as_json:
        names = ("added", "changed", "unchanged")
        output.emit_json({kind: {n: getattr(c, n) for n in names} for kind, c in counts.items()})
        return
    for kind, c in counts.items():
        output.line(f"{kind}: {c.added} added, {c.changed} changed, {c.unchanged} unchanged")
    if not counts:
        output.line("The package is empty.")
