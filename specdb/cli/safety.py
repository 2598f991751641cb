"""``specdb backup``, ``specdb restore`` and ``specdb check``."""

from __future__ import annotations

from pathlib import Path

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import json_option
from specdb.errors import ExitCode


@command("backup", "specdb backup shop-2026-03-31.duckdb")
@click.argument("file", type=click.Path(path_type=Path))
def backup(file: Path) -> None:
    """Write a copy of the catalogue to FILE, which must not be there yet."""
    from specdb.catalogue.backup import backup as write_backup

    write_backup(settings().open(), file)
    output.line(f"Copy written: {file}")


@command("restore", "specdb restore shop-2026-03-31.duckdb")
@click.argument("file", type=click.Path(path_type=Path))
def restore(file: Path) -> None:
    """Bring the catalogue back from the copy in FILE; what is there now is kept beside it."""
    from specdb.catalogue.backup import restore as read_backup

    kept = read_backup(settings().open(), file)
    output.line(f"Restored from {file}.")
    if kept is not None:
        output.line(f"What was there before is kept: {kept}")


@command("check", "specdb check", "specdb check --json")
@json_option
def check(as_json: bool) -> int:
    """Check that the catalogue is whole and sound: values, references, stock, journal.

    Exit status 1: something was found; 3: the file cannot be read at all.
    """
    from specdb.catalogue.integrity import check_catalogue

    findings = check_catalogue(settings().path)
    if as_json:
        output.emit_json([{"kind": f.kind, "id": f.key, "message": f.message} for f in findings])
    elif not findings:
        output.line("The catalogue is whole and sound.")
    else:
        output.line(f"{output.plural(len(findings), 'finding')}:")
        output.bullets(f.message for f in findings)
    return int(ExitCode.NO if findings else ExitCode.DONE)
