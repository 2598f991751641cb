"""``specdb order import``."""

from __future__ import annotations

from pathlib import Path

import click

from specdb.cli import output
from specdb.cli.base import settings
from specdb.cli.files import refuse_missing, report_json, write_report
from specdb.cli.options import journal_options, json_option
from specdb.cli.order_group import order
from specdb.errors import ExitCode

_MOST_SHOWN = 50


@order.command(
    "import",
    examples=(
        "specdb order import orders.csv --dry-run",
        "specdb order import orders.xlsx --accept-good --by Robin --why 'orders of the week'",
    ),
)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--sheet", metavar="NAME", help="Sheet of a spreadsheet with several.")
@click.option("--dry-run", is_flag=True, help="Show what would be done and write nothing.")
@click.option("--accept-good", is_flag=True, help="Take the good orders; write the rows of the others to a file.")
@journal_options
@json_option
def import_orders(
    file: Path, sheet: str | None, dry_run: bool, accept_good: bool, by: str | None, why: str | None, as_json: bool
) -> int:
    """Import orders from one flat FILE, a row a line: order, customer, wanted_on, club (or set), quantity.

    One change, all or nothing, unless --accept-good is given; then an order is taken whole or not at all. The same file
    twice changes nothing; an empty cell leaves what is known. A number that another customer's order has, and a wanted
    day more than a year past, are rejected; a day without a year is the next such day.

    Exit status 1: rows were rejected.
    """
    from specdb.verbs.orders.flat_list import import_orders as do_import
    from specdb.verbs.orders.flat_list import new_line_words

    refuse_missing(file)
    report = do_import(settings().open(), file, sheet=sheet, dry_run=dry_run, accept_good=accept_good, by=by, why=why)
    if as_json:
        output.emit_json({**report_json(report, dry_run=dry_run), "new": report.new})
    else:
        write_report(report, dry_run=dry_run, accept_good=accept_good)
        if dry_run and report.new:
            output.section("New lines")
            for row in report.new[:_MOST_SHOWN]:
                output.sentence(new_line_words(row), indent="  ", hanging="    ")
            if len(report.new) > _MOST_SHOWN:
                output.line(f"  and {len(report.new) - _MOST_SHOWN} more (--json lists all)")
    return int(ExitCode.NO if report.rejected else ExitCode.DONE)
