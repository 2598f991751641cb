"""``specdb history`` and ``specdb undo``."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key, complete_kind
from specdb.cli.options import journal_options, json_option
from specdb.cli.tables import Column, show
from specdb.errors import ExitCode

if TYPE_CHECKING:
    from specdb.catalogue.journal import ChangeSummary
    from specdb.verbs.catalogue.journal import JournalLine, ToUndo

_MOST_ROWS = 12  # that are named before an undo


@command(
    "history",
    "specdb history",
    "specdb history shaft hollin-reach-holm-60-s",
    "specdb history --change 17",
    "specdb history --json",
)
@click.argument("kind", required=False, shell_complete=complete_kind)
@click.argument("key", required=False, metavar="[ID]", shell_complete=complete_key)
@click.option("--change", type=click.IntRange(min=1), help="Every row of this change.")
@click.option("--limit", type=click.IntRange(min=1), default=20, show_default=True, help="At most this many.")
@json_option
def history(kind: str | None, key: str | None, change: int | None, limit: int, as_json: bool) -> None:
    """List the changes, newest first; of a kind, of one item or of one change row by row."""
    from specdb.verbs.catalogue import journal

    catalogue = settings().open()
    if kind is None and change is None:
        summaries = journal.changes(catalogue, limit=limit)
        if as_json:
            output.emit_json([_summary_json(s) for s in summaries])
        else:
            _write_changes(summaries)
        shown = len(summaries)
    else:
        lines = journal.history(catalogue, kind, key, change=change, limit=limit)
        if as_json:
            output.emit_json([line.to_json() for line in lines])
        else:
            _write_lines(lines)
        shown = len(lines)
    if shown == limit:
        output.note(f"The newest {limit}; --limit shows more.")


def _summary_json(summary: ChangeSummary) -> dict[str, object]:
    return {
        "change": summary.change_no,
        "at": summary.at.replace(tzinfo=dt.UTC),
        "done": summary.done,
        "rows": dict(summary.rows),
        "by": summary.by,
        "why": summary.why,
        "undoes": summary.undoes,
        "undone_by": summary.undone_by,
    }


def local_time(at: dt.datetime) -> str:
    """A moment of the journal on the shop's own clock.

    Parameters
    ----------
    at : datetime
        In UTC.
    """
    return at.replace(tzinfo=dt.UTC).astimezone().strftime("%Y-%m-%d %H:%M")


def _write_changes(summaries: Sequence[ChangeSummary]) -> None:
    if not summaries:
        output.line("No changes.")
        return
    columns = [
        Column("change", right=True, keep=True),
        Column("when", keep=True),
        Column("what", wraps=True, keep=True),
        Column("rows", wraps=True, keep=True),
        Column("by", wraps=True),
        Column("why", wraps=True),
    ]
    rows = []
    for s in summaries:
        what = f"undo of {s.undoes}" if s.undoes is not None else s.done or ""
        if s.undone_by is not None:
            what += f" (undone by {s.undone_by})"
        counts = ", ".join(f"{count} {kind}" for kind, count in s.rows.items())
        rows.append(
            [
                str(s.change_no),
                local_time(s.at),
                output.printable(what),
                counts,
                output.cell(s.by),
                output.cell(s.why),
            ]
        )
    show(columns, rows)


def _write_lines(lines: Sequence[JournalLine]) -> None:
    if not lines:
        output.line("No changes.")
        return
    for line in lines:
        by = f" by {line.by}" if line.by else ""
        why = f" ({line.why})" if line.why else ""
        undo = f", undo of change {line.undoes}" if line.undoes is not None else ""
        output.sentence(
            f"{line.change_no}  {local_time(line.at)}  {line.kind} {line.key} {line.action}{by}{undo}{why}",
            hanging="    ",
        )
        for name, pair in line.differences.items():
            before, after = (output.cell(v) or "unknown" for v in pair)
            told = after if line.action == "added" else before if line.action == "removed" else ""
            output.sentence(f"{name}: {told or f'{before} -> {after}'}", indent="    ", hanging="      ")


@command("undo", "specdb undo", "specdb undo 17 --why 'wrong leaflet'", "specdb undo --yes")
@click.argument("change", type=click.IntRange(min=1), required=False)
@click.option("--yes", is_flag=True, help="Do not ask first; without a terminal nothing is asked.")
@journal_options
def undo(change: int | None, yes: bool, by: str | None, why: str | None) -> int:
    """Undo CHANGE (its number stands in 'specdb history'), or the last one; the undo is a change too.

    Says what goes back (what was done, when and by whom, which rows); at a terminal it asks first.
    """
    from specdb.verbs.catalogue.journal import to_undo
    from specdb.verbs.catalogue.journal import undo as undo_change

    catalogue = settings().open()
    found = to_undo(catalogue, change, lines=_MOST_ROWS)
    if found is not None and found.change.undone_by is None:
        change = found.change.change_no  # whatever is done meanwhile is not what was asked about
        if not yes and sys.stdin.isatty():
            _tell_what_goes_back(found, ask=True)
            if not click.confirm("Undo it?", default=False, err=True):
                output.note("Nothing was undone.")
                return int(ExitCode.NO)
            found = None
    said = undo_change(catalogue, change, by=by, why=why)
    if found is not None and found.change.undone_by is None:  # told only now, as it might have been refused
        _tell_what_goes_back(found, ask=False)
    output.sentence(said)
    return int(ExitCode.DONE)


def _tell_what_goes_back(found: ToUndo, *, ask: bool) -> None:
    """Say on standard error which change it is and what goes back."""
    from specdb.verbs.catalogue.change_words import (
        BACK,
        UNDO_IS_A_CHANGE,
        difference_lines,
        more_rows,
        undo_question,
        why_words,
    )

    asked = undo_question(found)
    output.note(asked if ask else f"{asked.rstrip('?')}.")
    if said := why_words(found.change):
        output.note(said)
    for line in found.lines:
        output.note(f"  {line.title} {BACK[line.action]}")
        if line.action == "changed":
            for text in difference_lines(line, turned=True):
                output.note(f"    {text}")
    if more := more_rows(found):
        output.note(f"  {more}")
    if ask:
        output.note(UNDO_IS_A_CHANGE)
