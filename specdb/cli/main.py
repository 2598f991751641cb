"""The ``specdb`` command."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import click

from specdb import __version__
from specdb.cli.base import LazyGroup, Settings
from specdb.cli.failures import guarded
from specdb.cli.registry import COMMANDS, COMPLETE_VARIABLE


@click.group(
    "specdb",
    cls=LazyGroup,
    entries=COMMANDS,
    examples=(
        "specdb demo",
        "specdb substitutes --club ashby-driver --in-stock",
        "specdb fitup --shaft hollin-reach-holm-60-s --head brackwater-gannet-1-10.5-rh",
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
        from specdb.cli.ui import on_a_terminal, open_interface

        if on_a_terminal():
            open_interface()
        else:
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
    return guarded(lambda: _work(list(arguments), chosen), chosen)


def _work(arguments: list[str], chosen: Settings) -> object:
    # not click's own main, which hides a closed pipe behind an exit status of 1
    wanted = os.environ.get(COMPLETE_VARIABLE)
    if wanted:
        from click.shell_completion import shell_complete

        return shell_complete(specdb, {"obj": chosen}, "specdb", COMPLETE_VARIABLE, wanted)
    for word in arguments:
        if any("\ud800" <= c <= "\udfff" for c in word):  # how Python passes bytes that are no text
            raise click.UsageError(f"the argument {word!a} is no valid text")
    with specdb.make_context("specdb", arguments, obj=chosen) as context:
        return specdb.invoke(context)


def main() -> None:
    """Run the command as installed."""
    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
