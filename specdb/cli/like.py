"""``specdb like``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import json_option
from specdb.cli.tables import Column, lay_out
from specdb.errors import ExitCode

if TYPE_CHECKING:
    from specdb.verbs.stiffness.like import LikeAnswer


@command(
    "like",
    "specdb like quern-teasel-60-s",
    "specdb like hollin-reach-sker-60-s --in-stock --top 5",
    "specdb like quern-withy-65-s --any-club-type --json",
)
@click.argument("key", metavar="SHAFT", shell_complete=complete_key_of("shaft"))
@click.option("--top", type=click.IntRange(1, 1000), default=10, show_default=True, help="How many.")
@click.option("--in-stock", is_flag=True, help="Only shafts of which a piece is free: on hand and kept for no order.")
@click.option("--any-club-type", is_flag=True, help="Shafts for other kinds of club too.")
@json_option
def like(key: str, top: int, in_stock: bool, any_club_type: bool, as_json: bool) -> int:
    """List the shafts that a SHAFT is most like as they come, uncut: for browsing.

    Compared are stiffness along the shaft, weight, torque, balance point and raw length. What plays like a fitted
    club once it is cut and built is another question: 'specdb substitutes' answers it. Exit status 1: there is none.
    """
    from specdb.verbs.stiffness.like import like as find

    answer = find(settings().open(), key, top=top, in_stock=in_stock, any_club_type=any_club_type)
    if as_json:
        output.emit_json(answer.to_json())
    else:
        write(answer)
    return int(ExitCode.DONE if answer.results else ExitCode.NO)


def write(answer: LikeAnswer) -> None:
    """Write the shafts for a person.

    Parameters
    ----------
    answer : LikeAnswer
        The answer.
    """
    rough = "; it is known only roughly itself" if answer.rough else ""
    output.title(f"Most like {answer.shaft_id}, as they come")
    output.sentence(f"Its stiffness is known from: {answer.known_from}{rough}.", indent="  ")
    output.line()
    if answer.results:
        _write_table(answer)
    else:
        output.line("There is no shaft to compare it with.")
    if answer.not_compared:
        output.sentence(f"Not compared, as unknown of this shaft: {', '.join(answer.not_compared)}.")
    output.section(f"Looked at: {output.plural(answer.looked_at, 'shaft')}")
    for reason, count in answer.left_out.items():
        output.sentence(f"{count:>6}  left out: {reason}", hanging=" " * 8)


def _write_table(answer: LikeAnswer) -> None:
    from specdb.matching.neighbours import BALANCE, LENGTH, RAW_FEATURES, TORQUE, WEIGHT

    columns = [
        Column("#", right=True, keep=True),
        Column("shaft", keep=True),
        Column("distance", right=True, keep=True),
        Column("doubt", right=True, keep=True),
        Column("free", right=True),
        Column("known from"),
    ]
    rows = [
        [
            str(rank),
            n.shaft_id,
            output.number(n.distance, 2),
            output.number(n.doubt, 2) + (" ?" if n.rough else "  "),
            "?" if n.in_stock is None else str(n.in_stock),
            n.known_from,
        ]
        for rank, n in enumerate(answer.results, start=1)
    ]
    lines, left_out = lay_out(columns, rows, output.width())
    head, body = lines[: -len(rows)], lines[-len(rows) :]
    for text in head:
        output.line(text)
    for text, n in zip(body, answer.results, strict=True):
        output.line(text)
        output.sentence(n.summary, indent=" " * 6)
    if left_out:
        output.note(f"No room for: {', '.join(left_out)}. --json has everything.")
    units = [f"{RAW_FEATURES[f].one_unit:g} {RAW_FEATURES[f].unit}" for f in (WEIGHT, TORQUE, BALANCE, LENGTH)]
    output.sentence(
        f"distance: root mean square difference, doubt in it, in units of {100.0 * RAW_FEATURES[0].one_unit:g} % "
        f"stiffness, {units[0]}, {units[1]} torque, {units[2]} in balance point, {units[3]} raw length; "
        "doubt: the part of it that comes from not knowing both shafts better."
        + (" ?: known only roughly." if any(n.rough for n in answer.results) else "")
    )
