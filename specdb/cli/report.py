"""``specdb report``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from specdb.cli import output
from specdb.cli.base import group, settings
from specdb.cli.options import json_option
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    from specdb.verbs.reports.types import Report

F = TypeVar("F", bound=Callable[..., Any])
_PATH = click.Path(path_type=Path)


@group(
    "report",
    "specdb report open",
    "specdb report shortages --csv shortages.csv",
    "specdb report errors --html errors.html",
)
@click.pass_context
def report(context: click.Context) -> None:
    """Report on orders, parts and finished clubs: as a table, a file, or a page with pictures."""
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


def _written(function: F) -> F:
    for option in (
        json_option,
        click.option("--force", is_flag=True, help="Overwrite a file that is there."),
        click.option(
            "--html", "page", metavar="FILE", type=_PATH, help="Write a page with pictures that stands alone."
        ),
        click.option("--csv", "table", metavar="FILE", type=_PATH, help="Write the lines as .csv, .tsv or .xlsx."),
    ):
        function = option(function)
    return function


def _give(make: Callable[[], Report], table: Path | None, page: Path | None, force: bool, as_json: bool) -> None:
    """Make a report and give it as it was asked for."""
    from specdb.verbs.reports.html import PAGES, TABLES, check_file, write_page, write_table

    if force and table is None and page is None:
        raise click.UsageError("--force goes with --csv or --html")
    # what cannot be written is said before anything is worked out
    for path, endings in ((table, TABLES), (page, PAGES)):
        if path is not None:
            check_file(path, endings, force=force)
    made = make()
    for path, write in ((table, write_table), (page, write_page)):
        if path is not None:
            write(made, path, force=force)
            output.note(f"Written: {path}")
    if as_json:
        output.emit_json(made.to_json())
    elif table is None and page is None:
        write_report(made)


def write_report(made: Report) -> None:
    """Write a report for a person.

    Parameters
    ----------
    made : Report
        The report.
    """
    from specdb.verbs.reports.types import shown

    output.title(f"{made.title}, {made.day.isoformat()}")
    if not made.lines:
        output.line(made.nothing)
        return
    output.line()
    rows = [made.cells(line) for line in made.lines]
    texts = [[shown(c, value) for c, value in zip(made.columns, row, strict=True)] for row in rows]
    used = [i for i, c in enumerate(made.columns) if c.keep or any(row[i] for row in texts)]
    columns = [Column(c.title, right=c.number, keep=c.keep, wraps=c.wraps) for c in (made.columns[i] for i in used)]
    show(
        columns, [[output.printable(row[i]) for i in used] for row in texts], more="--csv and --html have all columns."
    )
    output.line()
    output.bullets((*made.said, *made.further))


@report.command("open", examples=("specdb report open", "specdb report open --html open.html --csv open.csv"))
@_written
def open_orders(table: Path | None, page: Path | None, force: bool, as_json: bool) -> None:
    """List the open orders with what is kept, on the shelf and short, and when the rest is expected."""
    from specdb.verbs.reports.reports import open_report

    _give(lambda: open_report(settings().open()), table, page, force, as_json)


@report.command("shortages", examples=("specdb report shortages", "specdb report shortages --html shortages.html"))
@_written
def shortages(table: Path | None, page: Path | None, force: bool, as_json: bool) -> None:
    """List the parts that open orders wait for, with the orders that each holds up."""
    from specdb.verbs.reports.reports import shortage_report

    _give(lambda: shortage_report(settings().open()), table, page, force, as_json)


@report.command("reorder", examples=("specdb report reorder", "specdb report reorder --months 2 --csv reorder.csv"))
@click.option("--months", type=float, default=1.0, show_default=True, help="An order lasts so long beyond the wait.")
@click.option("--all", "everything", is_flag=True, help="List also what need not be ordered.")
@_written
def reorder(months: float, everything: bool, table: Path | None, page: Path | None, force: bool, as_json: bool) -> None:
    """List what to reorder, from use per month, lead time of past supplies and open orders."""
    from specdb.verbs.reports.reorder import reorder_report

    _give(
        lambda: reorder_report(settings().open(), cover_months=months, everything=everything),
        table,
        page,
        force,
        as_json,
    )


@report.command("stand-ins", examples=("specdb report stand-ins", "specdb report stand-ins --html stand-ins.html"))
@_written
def stand_ins(table: Path | None, page: Path | None, force: bool, as_json: bool) -> None:
    """List the stand-ins that were chosen, where they went, and how those clubs measured."""
    from specdb.verbs.reports.built import stand_in_report

    _give(lambda: stand_in_report(settings().open()), table, page, force, as_json)


@report.command("errors", examples=("specdb report errors", "specdb report errors --html errors.html --json"))
@_written
def errors(table: Path | None, page: Path | None, force: bool, as_json: bool) -> None:
    """List predicted against built, with bias and spread, by quantity and instrument."""
    from specdb.verbs.reports.built import errors_report

    _give(lambda: errors_report(settings().open()), table, page, force, as_json)
