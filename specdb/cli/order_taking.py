"""``specdb order add`` and ``specdb order state``."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import journal_options, json_option
from specdb.cli.order_group import order
from specdb.cli.order_look import order_argument

if TYPE_CHECKING:
    from specdb.verbs.orders.checks import Wanted

_MOST = 99


def read_day(context: click.Context, parameter: click.Parameter, value: str | None) -> dt.date | None:
    """A day as people type it.

    Parameters
    ----------
    context, parameter
        As click's.
    value : str or None
        As typed.
    """
    if value is None:
        return None
    from specdb.errors import UnitError
    from specdb.units import parse_date

    try:
        return parse_date(value)
    except UnitError as error:
        raise click.BadParameter(str(error), context, parameter) from error


def _counted(option: str, text: str) -> tuple[str, int]:
    """A name, or a name with how many: ``tansley-irons:2``."""
    name, mark, count = text.partition(":")
    if not name.strip():
        raise click.UsageError(f"{option} is empty")
    if not mark:
        return name.strip(), 1
    if not count.strip().isascii() or not count.strip().isdigit() or not 1 <= int(count) <= _MOST:
        raise click.UsageError(f"{option} {text}: after the colon stands how many, 1 to {_MOST}")
    return name.strip(), int(count)


@order.command(
    "add",
    examples=(
        "specdb order add --customer 'R. Ashby (invented)' --club ashby-wedge --wanted 2026-12-18",
        "specdb order add o-2001 --set tansley-irons --club tansley-driver:2 --by Robin",
    ),
)
@click.argument("key", metavar="[ORDER]", required=False)
@click.option(
    "--club", "clubs", multiple=True, metavar="ID[:N]", shell_complete=complete_key_of("club"),
    help="A fitted club, N times; may be repeated.",
)  # fmt: skip
@click.option("--set", "sets", multiple=True, metavar="NAME[:N]", help="A fitted set, N times; may be repeated.")
@click.option("--customer", metavar="TEXT", help="Reference of the customer.")
@click.option("--wanted", metavar="DAY", callback=read_day, help="Day it is wanted, such as 2026-12-18.")
@click.option("--notes", metavar="TEXT", help="Anything else.")
@journal_options
@json_option
def add(
    key: str | None,
    clubs: tuple[str, ...],
    sets: tuple[str, ...],
    customer: str | None,
    wanted: dt.date | None,
    notes: str | None,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> None:
    """Take an order of fitted clubs and sets; without ORDER it gets the next number.

    What is gone or cannot be built is refused: a club or set that is not there or retired, a shaft that was retired
    since and of which none is left, a shaft too short for its club.
    """
    from specdb.verbs.orders.changes import add_order

    taken = add_order(
        settings().open(), key, _lines(clubs, sets), customer=customer, wanted_on=wanted, notes=notes, by=by, why=why
    )
    if as_json:
        output.emit_json(taken.to_json())
        return
    what = f"{output.plural(taken.lines, 'line')}, {output.plural(taken.clubs, 'club')}"
    output.line(f"Order {taken.order_id} taken: {what}.")


def _lines(clubs: tuple[str, ...], sets: tuple[str, ...]) -> list[Wanted]:
    from specdb.verbs.orders.checks import Wanted

    lines = [Wanted(club_id=name, quantity=n) for name, n in (_counted("--club", text) for text in clubs)]
    return lines + [Wanted(set_id=name, quantity=n) for name, n in (_counted("--set", text) for text in sets)]


@order.command(
    "state", examples=("specdb order state o-1041 at_bench", "specdb order state o-1041 cancelled --why 'moved away'")
)
@order_argument
@click.argument("state")
@journal_options
@json_option
def state(key: str, state: str, by: str | None, why: str | None, as_json: bool) -> None:
    """Move an ORDER to another STATE: open, at_bench, finished, collected, cancelled.

    From open it goes to the bench, from there to finished and collected; a club that comes back goes to the bench
    again. A cancelled order gives its parts free, and may be opened again. One with a club outside a tolerance is
    finished with a reason only (--why).
    """
    from specdb.verbs.orders.changes import set_order_state

    done = set_order_state(settings().open(), key, state, by=by, why=why)
    if as_json:
        output.emit_json(done.to_json())
        return
    output.line(f"Order {key}: {done.before.replace('_', ' ')} -> {done.after.replace('_', ' ')}.")
    if done.released:
        output.line(f"{output.plural(sum(r.quantity for r in done.released), 'part')} free again.")
    output.bullets(done.notes)
