"""``specdb ui``, which ``specdb`` alone is too on a terminal."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path

import click

from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.errors import UsageError


def on_a_terminal() -> bool:
    """Whether a person sits at a terminal that can show the interface."""
    if os.environ.get("TEXTUAL_DRIVER"):  # a browser shows it
        return True
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb"


@command(
    "ui",
    "specdb ui",
    "specdb ui --catalogue shop.duckdb",
    "specdb ui --club ashby-driver",
    "specdb ui --serve --port 8484",
)
@click.option("--serve", is_flag=True, help="Serve it to a browser, for a tablet at the bench, until ctrl+c.")
@click.option("--host", metavar="NAME", help="Listen on this name or address; else on this machine alone.")
@click.option("--port", type=click.IntRange(1, 65535), default=8484, show_default=True, help="Port to listen on.")
@click.option(
    "--password-file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="File whose first line is the password asked of whoever opens the page; else $SPECDB_SERVE_PASSWORD.",
)
@click.option(
    "--club",
    metavar="CLUB",
    shell_complete=complete_key_of("club"),
    help="Open it at the bench with this club; the code of a build sheet, as scanned, will do too.",
)
@click.option("--order", metavar="ID", help="The order it is built for; else the open order that asks for it.")
@click.option("--line", type=click.IntRange(1, 999), help="Line of the order.")
@click.option("--unit", type=click.IntRange(1, 99), help="Which of the line's quantity.")
def ui(
    serve: bool,
    host: str | None,
    port: int,
    password_file: Path | None,
    club: str | None,
    order: str | None,
    line: int | None,
    unit: int | None,
) -> None:
    """Open the terminal interface.

    Everything in it is done by keyboard or by mouse; F1 shows the keys of the place one is at, ctrl+q ends it.
    With --serve it opens in a browser instead. Where other machines can reach it, a password is needed.
    """
    if club is None and (order is not None or line is not None or unit is not None):
        raise click.UsageError("--order, --line and --unit go with --club")
    if (line is None) != (unit is None) or (line is not None and order is None):
        raise click.UsageError("--line and --unit go together, with --order")
    if serve and club is not None:
        raise click.UsageError("--club and --serve do not go together")
    if serve:
        _serve(host or "localhost", port, password_file)
    elif host is not None or password_file is not None:
        raise click.UsageError("--host and --password-file go with --serve")
    elif club is None:
        open_interface()
    else:
        code = "/".join(str(part) for part in (club, order, line, unit) if part is not None)
        open_interface(start="build", arguments={"code": code if order is None else f"specdb:club/{code}"})


def _serve(host: str, port: int, password_file: Path | None) -> None:
    from specdb.cli import output

    password = os.environ.get("SPECDB_SERVE_PASSWORD") or None
    if password_file is not None:
        try:
            password = (password_file.read_text(encoding="utf-8").splitlines() or [""])[0].strip()
        except (OSError, UnicodeDecodeError) as error:
            raise UsageError(f"the password cannot be read from {password_file}: {error}") from error
    import_module("specdb.tui.serve").serve(settings().path, host=host, port=port, password=password, tell=output.note)


def open_interface(start: str = "catalogue", arguments: Mapping[str, object] | None = None) -> None:
    """Run the interface until it is ended.

    Parameters
    ----------
    start : str
        The place to start at.
    arguments : mapping of str to object, optional
        What that place is opened with.

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
    import_module("specdb.tui.app").run(settings().path, start=start, arguments=arguments)


def _warm_up() -> None:
    """Load what reads the catalogue (0.2 s) in a thread, beside what draws the screen."""
    from threading import Thread

    def load() -> None:
        for name in ("duckdb", "pyarrow.compute"):
            import_module(name)

    Thread(target=load, daemon=True).start()
