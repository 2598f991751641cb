"""``specdb sheet``: build sheets as text or PDF."""

from __future__ import annotations

from pathlib import Path

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import json_option, quantity


@command(
    "sheet",
    "specdb sheet ashby-driver --pdf ashby-driver.pdf",
    "specdb sheet --set quilter-irons --pdf quilter-irons.pdf",
    "specdb sheet tansley-3-wood",
)
@click.argument("club", metavar="[CLUB]", required=False, shell_complete=complete_key_of("club"))
@click.option("--set", "set_id", metavar="ID", help="A whole set: its trim chart, then a page a club.")
@click.option("--order", metavar="ID", help="The order; alone, the sheets of all its clubs.")
@click.option("--shaft", metavar="ID", shell_complete=complete_key_of("shaft"), help="Build it with this shaft.")
@quantity("--tip-trim", "tip_trim_in", "Tip trim of that shaft.")
@click.option("--pdf", metavar="FILE", type=click.Path(path_type=Path), help="Write a PDF to FILE.")
@click.option("--paper", type=click.Choice(("a4", "letter")), default="a4", show_default=True, help="Size of the page.")
@click.option("--force", is_flag=True, help="Overwrite FILE if it is there.")
@json_option
def sheet(
    club: str | None,
    set_id: str | None,
    order: str | None,
    shaft: str | None,
    tip_trim: float | None,
    pdf: Path | None,
    paper: str,
    force: bool,
    as_json: bool,
) -> None:
    """Write the build sheet of a fitted CLUB: parts with their places, the work in order, what to measure.

    It is built with the stand-in that was chosen for it, else with the fitted shaft; --shaft takes another. With
    --pdf a page to pin above the bench, otherwise text.
    """
    from specdb.sheets.text import club_text, set_text
    from specdb.verbs.building.build_sheet import SheetRequest, club_sheet, order_sheets, set_sheet, write_pdf

    if club is not None and set_id is not None:
        raise click.UsageError("name a club or a set, not both")
    if club is None and set_id is None and order is None:
        raise click.UsageError("name a club, a set (--set) or an order (--order)")
    if club is None and (shaft is not None or tip_trim is not None):
        raise click.UsageError("--shaft and --tip-trim go with one club")
    shop = settings().open()
    chart = None
    if set_id is not None:
        chart, sheets = set_sheet(shop, set_id, order=order)
    elif club is not None:
        sheets = [club_sheet(shop, SheetRequest(club, shaft, tip_trim, order))]
    else:
        sheets = order_sheets(shop, str(order))
    if pdf is not None:
        write_pdf(pdf, sheets, chart, paper=paper, force=force)
        output.note(f"Written: {pdf}")
    if as_json:
        output.emit_json({"set": None if chart is None else chart.to_json(), "clubs": [s.to_json() for s in sheets]})
    elif pdf is None:
        texts = ([] if chart is None else [set_text(chart, output.width())]) + [
            club_text(s, output.width()) for s in sheets
        ]
        output.line(("\n" + "=" * 40 + "\n\n").join(texts).rstrip())
