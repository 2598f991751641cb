"""``specdb backup``, ``specdb restore`` and ``specdb check``."""

from __future__ import annotations

from pathlib import Path

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import json_option
from specdb.cli.progress import tell_of_waiting
from specdb.errors import ExitCode


@command("backup", "specdb backup shop-2026-03-31.duckdb")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
def backup(file: Path, as_json: bool) -> None:
    """Write a copy of the catalogue to FILE, which must not be there yet, and read the copy through."""
    from specdb.catalogue.backup import backup as write_backup

    tell_of_waiting()
    report = write_backup(settings().path, file)
    if as_json:
        output.emit_json(
            {
                "file": str(report.path),
                "size_bytes": report.size,
                "last_change": report.last_change,
                "rows": report.rows,
            }
        )
        return
    output.line(f"Copy written and read through: {report.path}")
    output.line(f"{report.size / 1e6:.1f} MB, up to change {report.last_change}.")


@command("restore", "specdb restore shop-2026-03-31.duckdb")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
def restore(file: Path, as_json: bool) -> None:
    """Bring the catalogue back from the copy in FILE; what is there now is kept beside it."""
    from specdb.catalogue.backup import restore as read_backup

    tell_of_waiting()
    report = read_backup(settings().path, file)
    kept = None if report.replaced is None else str(report.replaced)
    if as_json:
        output.emit_json(
            {
                "catalogue": str(report.path),
                "last_change": report.last_change,
                "rows": report.rows,
                "replaced": kept,
            }
        )
        return
    output.line(f"Restored {report.path} from {file}, up to change {report.last_change}.")
    if kept is not None:
        output.line(f"What was there before is kept: {kept}")


@command("check", "specdb check", "specdb check --json")
@json_option
def check(as_json: bool) -> int:
    """Check that the catalogue is whole and sound: values, references, stock, journal.

    Says too how many stiffness estimates are kept, what they were learned from and when, and how well they do.

    Exit status 1: something is wrong (warnings alone do not count); 3: the file cannot be read at all.
    """
    from specdb.catalogue.integrity import check_catalogue

    tell_of_waiting()
    findings = check_catalogue(settings().path)
    broken = any(f.severity == "error" for f in findings)
    if as_json:
        names = ("severity", "kind", "key", "field", "message")
        output.emit_json([{("id" if n == "key" else n): getattr(f, n) for n in names} for f in findings])
    elif not findings:
        output.line("The catalogue is whole and sound.")
    else:
        output.line(f"{output.plural(len(findings), 'finding')}:")
        output.bullets(str(f) for f in findings)
    if not broken and not as_json:
        from specdb.verbs.stiffness.estimates import state_of

        for sentence in state_of(settings().open()).sentences():
            output.sentence(sentence)
    return int(ExitCode.NO if broken else ExitCode.DONE)
