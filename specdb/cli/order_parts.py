"""``specdb order reserve``, ``release``, ``use`` and ``spoil``."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from specdb.cli import output
from specdb.cli.base import settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import journal_options, json_option
from specdb.cli.order_group import order
from specdb.cli.order_look import order_argument
from specdb.errors import ExitCode

if TYPE_CHECKING:
    from specdb.verbs.orders.parts import PartsChange, Which

F = TypeVar("F", bound=Callable[..., Any])


def _which_options(function: F) -> F:
    function = click.option("--unit", type=click.IntRange(1, 99), help="Only this one of the line's quantity.")(
        function
    )
    function = click.option("--line", type=click.IntRange(1, 999), help="Only of this line.")(function)
    return click.option(
        "--club", metavar="ID", shell_complete=complete_key_of("club"), help="Only of this fitted club."
    )(function)


def _which(parts: tuple[str, ...], club: str | None, line: int | None, unit: int | None) -> Which:
    from specdb.verbs.orders.parts import Which

    return Which(parts=parts, club_id=club, line=line, unit=unit)


_parts_argument = click.argument("parts", nargs=-1, metavar="[PART]...")


@order.command(
    "reserve",
    examples=(
        "specdb order reserve o-1043",
        "specdb order reserve o-1042 head grip --club quilter-putter",
        "specdb order reserve o-1043 shaft/stavely-tenter-parallel-115-s --whole",
    ),
)
@order_argument
@_parts_argument
@_which_options
@click.option("--whole", is_flag=True, help="Keep nothing where something is short.")
@journal_options
@json_option
def reserve(
    key: str,
    parts: tuple[str, ...],
    club: str | None,
    line: int | None,
    unit: int | None,
    whole: bool,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> int:
    """Keep parts on the shelf for an ORDER: all it needs, or the PARTs named (a kind, an id, or kind/id).

    What is free is kept, what is short is said (exit status 1); no part is promised twice. Where the fitted shaft is
    not to be had, the stand-in that was approved for the club ('specdb choose') is kept, and that is said.
    """
    from specdb.verbs.orders.parts import reserve_parts

    which = _which(parts, club, line, unit)
    done = reserve_parts(settings().open(), key, which, whole=whole, by=by, why=why)
    if as_json:
        output.emit_json(done.to_json())
    else:
        _write(done, "kept", "Nothing more to keep.")
        _write_short(done, "Short")
    return int(ExitCode.NO if done.short else ExitCode.DONE)


def _write(done: PartsChange, word: str, nothing: str) -> None:
    if done.done:
        output.line(f"{output.plural(done.pieces, 'part')} {word}:")
        for unit, need in done.done:
            count = f"{need.quantity} × " if need.quantity > 1 else ""
            output.sentence(f"{count}{need.kind} {need.item_id} for {unit.club_id}", indent="- ", hanging="  ")
    else:
        output.line(nothing)
    output.bullets(done.said)


def _write_short(done: PartsChange, title: str) -> None:
    if done.short:
        output.section(title)
    for s in done.short:
        pieces = f"{s.open} × " if s.open > 1 else ""
        day = f", expected {s.expected_on.isoformat()}" if s.expected_on else ""
        output.sentence(f"{pieces}{s.need.kind} {s.need.item_id} for {s.unit.club_id}{day}", indent="- ", hanging="  ")


@order.command(
    "release", examples=("specdb order release o-1045", "specdb order release o-1045 grip --why 'another one wanted'")
)
@order_argument
@_parts_argument
@_which_options
@journal_options
@json_option
def release(
    key: str,
    parts: tuple[str, ...],
    club: str | None,
    line: int | None,
    unit: int | None,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> None:
    """Give parts that are kept for an ORDER free again: all of them, or the PARTs named."""
    from specdb.verbs.orders.parts import release_parts

    done = release_parts(settings().open(), key, _which(parts, club, line, unit), by=by, why=why)
    if as_json:
        output.emit_json(done.to_json())
    else:
        _write(done, "free again", "Nothing of that was kept.")


@order.command("use", examples=("specdb order use o-1045", "specdb order use o-1045 --club wexcombe-7-iron --by Robin"))
@order_argument
@_parts_argument
@_which_options
@journal_options
@json_option
def use(
    key: str,
    parts: tuple[str, ...],
    club: str | None,
    line: int | None,
    unit: int | None,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> int:
    """Book parts that are kept for an ORDER as built in: off the shelf and used, in one change.

    Parts of the same clubs that were not kept are named and not booked (exit status 1).
    """
    from specdb.verbs.orders.parts import use_parts

    done = use_parts(settings().open(), key, _which(parts, club, line, unit), by=by, why=why)
    if as_json:
        output.emit_json(done.to_json())
    else:
        _write(done, "built in", "Nothing of that was kept.")
        _write_short(done, "Not kept, so not booked")
    return int(ExitCode.NO if done.short else ExitCode.DONE)


@order.command(
    "spoil",
    examples=(
        "specdb order spoil o-1045 shaft --why 'split at the tip'",
        "specdb order spoil o-1043 shaft --line 1 --unit 1 --club tansley-6-iron --why 'split at the tip'",
        "specdb order spoil o-1043 shaft --all --why 'wrong batch'",
    ),
)
@order_argument
@click.argument("parts", nargs=-1, required=True, metavar="PART...")
@_which_options
@click.option("--all", "every", is_flag=True, help="Every part that is meant is spoilt, also where there are several.")
@journal_options
@json_option
def spoil(
    key: str,
    parts: tuple[str, ...],
    club: str | None,
    line: int | None,
    unit: int | None,
    every: bool,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> None:
    """Book PARTs of an ORDER as spoilt at the bench; the order needs them anew.

    A PART is a kind, an id, or kind/id. Where more than one is meant nothing is booked, and they are listed: name one,
    or say --all. What was measured on the club before no longer counts: it is measured again once it is rebuilt.
    """
    from specdb.verbs.orders.parts import spoil_parts

    done = spoil_parts(settings().open(), key, _which(parts, club, line, unit), every=every, by=by, why=why)
    if as_json:
        output.emit_json(done.to_json())
    else:
        _write(done, "spoilt, needed anew", "Nothing of that was kept or built in.")
