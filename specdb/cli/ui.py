"""``specdb ui``, which ``specdb`` alone is too on a terminal."""

from __future__ import annotations

import os
import sys
from importlib import import_module
from pathlib import Path

import click

from specdb.cli.base import command, settings
from specdb.errors import UsageError


def on_a_terminal() -> bool:
    """Whether a person sits at a terminal that can show the interface."""
    if os.environ.get("TEXTUAL_DRIVER"):  # a browser shows it
        return True
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb"


@command("ui", "specdb ui", "specdb ui --catalogue shop.duckdb", "specdb ui --serve --port 8484")
@click.option("--serve", is_flag=True, help="Serve it to a browser, for a tablet at the bench, until ctrl+c.")
@click.option("--host", metavar="NAME", help="Listen on this name or address; else on this machine alone.")
@click.option("--port", type=click.IntRange(1, 65535), default=8484, show_default=True, help="Port to listen on.")
@click.option(
    "--password-file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="File whose first line is the password asked of whoever opens the page; else $SPECDB_SERVE_PASSWORD.",
)
def ui(serve: bool, host: str | None, port: int, password_file: Path | None) -> None:
    """Open the terminal interface.

    Everything in it is done by keyboard or by mouse; F1 shows the keys of the place one is at, ctrl+q ends it.
    With --serve it opens in a browser instead. Where other machines can reach it, a password is needed.
    """
    if serve:
        _serve(host or "localhost", port, password_file)
    elif host is not None or password_file is not None:
        raise click.UsageError("--host and --password-file go with --serve")
    else:
        open_interface()


def _serve(host: str, port: int, password_file: Path | None) -> None:
    from specdb.cli import output

    password = os.environ.get("SPECDB_SERVE_PASSWORD") or None
    if password_file is not None:
        try:
            password = (password_file.read_text(encoding="utf-8").splitlines() or [""])[0].strip()
        except (OSError, UnicodeDecodeError) as error:
            raise UsageError(f"the password cannot be read from {password_file}: {error}") from error
    import_module("specdb.tui.serve").serve(settings().path, host=host, port=port, password=password, tell=output.note)


def open_interface() -> None:
    """Run the interface until it is ended.

    Raises
    ------
    UsageError
        If there is no terminal.
    CatalogueError
        If the catalogue is damaged, or newer than this package.
    """
    if not on_a_terminal():
        raise UsageError("the interface needs a terminal, and this is none; 'specdb --help' lists the commands")
    _warm_up()
    # by name, as the command line and the interface import no part of each other
    import_module("specdb.tui.app").run(settings().path)


def _warm_up() -> None:
    """Load what reads the catalogue (0.2 s) in a thread, beside what draws the screen."""
    from threading import Thread

    def load() -> None:
        for name in ("duckdb", "pyarrow.compute"):
            import_module(name)

    Thread(target=load, daemon=True).start()
