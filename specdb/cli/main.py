"""The ``specdb`` command."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import click

from specdb import __version__
from specdb.cli.base import LazyGroup, Settings
from specdb.cli.failures import guarded
from specdb.cli.registry import COMMANDS


@click.group(
    "specdb",
    cls=LazyGroup,
    entries=COMMANDS,
    examples=(
        "specdb demo",
        "specdb substitutes --club CLUB --in-stock",
        "specdb fitup --shaft SHAFT --head HEAD",
    ),
    no_args_is_help=False,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="specdb", message="%(prog)s %(version)s")
@click.pass_context
def specdb(context: click.Context) -> None:
    """Shafts, heads and fitted clubs: what can stand in for a shaft that cannot be had, and how to build it.

    Exit status: 0 done; 1 the answer is no; 2 wrong use; 3 the catalogue is missing, damaged, too new or
    busy, or specdb itself failed.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


def run(arguments: Sequence[str]) -> int:
    """Run the command with the given arguments.

    Parameters
    ----------
    arguments : sequence of str
        What was typed after ``specdb``.

    Returns
    -------
    int
        The exit status.
    """
    chosen = Settings()
    return guarded(lambda: specdb.main(list(arguments), prog_name="specdb", standalone_mode=False, obj=chosen), chosen)


def main() -> None:
    """Run the command as installed."""
    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
