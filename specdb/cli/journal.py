"""``specdb history`` and ``specdb undo``."""

from __future__ import annotations

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key, complete_kind
from specdb.cli.options import journal_options, json_option
from specdb.cli.tables import Column, show


@command("history", "specdb history", "specdb history shaft SHAFT", "specdb history club CLUB --limit 5 --json")
@click.argument("kind", required=False, shell_complete=complete_kind)
@click.argument("key", required=False, metavar="[ID]", shell_complete=complete_key)
@click.option("--limit", type=click.IntRange(min=1), default=20, show_default=True, help="At most this many.")
@json_option
def history(kind: str | None, key: str | None, limit: int, as_json: bool) -> None:
    """List what was changed, newest first: of the whole catalogue, of a kind or of one item."""
    from specdb.verbs.journal import history as read_history

    rows = read_history(settings().open(), kind, key, limit=limit)
    if as_json:
        output.emit_json([row.to_json() for row in rows])
        return
    if not rows:
        output.line("No changes.")
        return
    columns = [
        Column("change", right=True, keep=True),
        Column("when", keep=True),
        Column("item", keep=True),
        Column("what", wraps=True, keep=True),
        Column("by", wraps=True),
        Column("why", wraps=True),
    ]
    show(
        columns,
        [
            [
                str(row.change_no),
                row.at.strftime("%Y-%m-%d %H:%M"),
                f"{row.kind} {row.key}",
                output.printable(row.what()),
                output.cell(row.by),
                output.cell(row.why),
            ]
            for row in rows
        ],
    )
    if len(rows) == limit:
        output.note(f"The newest {limit}; --limit shows more.")


@command("undo", "specdb undo", "specdb undo 17 --why 'wrong leaflet'")
@click.argument("change", type=click.IntRange(min=1), required=False)
@journal_options
def undo(change: int | None, by: str | None, why: str | None) -> None:
    """Undo CHANGE (its number stands in 'specdb history'), or the last one; the undo is a change too."""
    from specdb.verbs.journal import undo as undo_change

    output.sentence(undo_change(settings().open(), change, by=by, why=why))
