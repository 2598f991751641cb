"""``specdb batch``."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import json_option

if TYPE_CHECKING:
    from specdb.verbs.stiffness.batches import BatchAnswer


def _read_pieces(_context: click.Context, _parameter: click.Parameter, value: str | None) -> tuple[str, ...]:
    return () if value is None else tuple(p for part in value.split(",") if (p := part.strip()))


def _read_day(context: click.Context, parameter: click.Parameter, value: str | None) -> dt.date | None:
    if value is None:
        return None
    from specdb.errors import UnitError
    from specdb.units import parse_date

    try:
        return parse_date(value)
    except UnitError as error:
        raise click.BadParameter(str(error), context, parameter) from error


@command(
    "batch",
    'specdb batch hollin-reach-sker-60-s --pieces "piece 2"',
    "specdb batch hollin-reach-holm-60-s --since 2026-03-01 --json",
)
@click.argument("shaft", shell_complete=complete_key_of("shaft"))
@click.option("--pieces", metavar="P4,P5", callback=_read_pieces, help="The measured pieces, with commas between.")
@click.option("--since", metavar="DAY", callback=_read_day, help="The pieces first measured on this day or later.")
@json_option
def batch(shaft: str, pieces: tuple[str, ...], since: dt.date | None, as_json: bool) -> None:
    """Say whether some measured pieces of a SHAFT, such as a delivery, play softer or stiffer than the rest.

    Scatter from piece to piece and the noise of the readings are allowed for. The rest are the other measured pieces
    and the leaflet's figures.
    """
    from specdb.verbs.stiffness.batches import batch_of

    answer = batch_of(settings().open(), shaft, pieces, since)
    if as_json:
        output.emit_json(answer.to_json())
    else:
        write(answer)


def write(answer: BatchAnswer) -> None:
    """Write the comparison for a person.

    Parameters
    ----------
    answer : BatchAnswer
        The answer.
    """
    output.title(f"Pieces against the rest: shaft {answer.shaft.id}")
    output.line()
    output.sentence(answer.sentence)
    output.section("Made of")
    for piece in answer.pieces:
        output.sentence(f"{piece} (asked about): {', '.join(answer.known[piece])}", indent="- ", hanging="  ")
    for piece in answer.others:
        output.sentence(f"{piece}: {', '.join(answer.known[piece])}", indent="- ", hanging="  ")
    output.sentence(f"held against: {answer.rest}", indent="- ", hanging="  ")
    if answer.corrections:
        output.section("Corrected for the instrument")
        output.bullets(f"{c.name}: {c.told}" for c in answer.corrections)
