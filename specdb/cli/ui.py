"""``specdb ui``, which ``specdb`` alone is too on a terminal."""

from __future__ import annotations

import os
import sys
from importlib import import_module

from specdb.cli.base import command, settings
from specdb.errors import UsageError


def on_a_terminal() -> bool:
    """Whether a person sits at a terminal that can show the interface."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb"


@command("ui", "specdb ui", "specdb ui --catalogue shop.duckdb")
def ui() -> None:
    """Open the terminal interface.

    Everything in it is done by keyboard or by mouse; F1 shows the keys of the place one is at, ctrl+q ends it.
    """
    open_interface()


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
