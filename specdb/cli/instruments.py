"""``specdb instruments``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import json_option
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    from specdb.verbs.stiffness.instruments import Instrument, InstrumentsAnswer


@command("instruments", "specdb instruments", 'specdb instruments "frequency meter 2" --json')
@click.argument("name", metavar="[NAME]", required=False)
@json_option
def instruments(name: str | None, as_json: bool) -> None:
    """List the shop's instruments with what they read against what is true.

    An instrument is calibrated by readings of a reference piece or standard weight, which are added with 'specdb set
    --new reference_reading -' or an import. It reads offset + scale x true; readings of shafts are corrected by that
    when they are computed with, and stay as they were read in the catalogue. One reading of one reference says
    little; several, on references that span what is measured, say much.
    """
    from specdb.verbs.stiffness.instruments import instruments_of

    answer = instruments_of(settings().open(), name)
    if as_json:
        output.emit_json(answer.to_json())
    else:
        write(answer)


def write(answer: InstrumentsAnswer) -> None:
    """Write the instruments for a person.

    Parameters
    ----------
    answer : InstrumentsAnswer
        The answer.
    """
    if answer.instruments:
        columns = [
            Column("instrument", keep=True, wraps=True),
            Column("quantity", keep=True, wraps=True),
            Column("offset", right=True, keep=True),
            Column("scale", right=True, keep=True),
            Column("reads too much by", right=True),
            Column("read", right=True),
            Column("last day", keep=True),
            Column("scatter", right=True),
            Column("drift"),
        ]
        show(columns, [_row(i) for i in answer.instruments])
        output.sentence(
            "It reads offset + scale x true. Reads too much by: in the middle of its references, ± one standard "
            "deviation. Read: how often references were, in all. Scatter: one standard deviation of a single reading."
        )
        output.bullets(i.drift for i in answer.instruments if i.drift)
    else:
        output.sentence(
            "No instrument is calibrated: nothing was read on a reference piece. Readings of shafts are taken as they "
            "are. 'specdb template reference_reading' gives a table to fill in."
        )
    if answer.doubts:
        output.section("To be asked about")
        output.bullets(d.message for d in answer.doubts)
    if answer.uncalibrated:
        output.section("Used on shafts, never read on a reference")
        for u in answer.uncalibrated:
            words = "EI" if u.quantity == "ei" else u.quantity.replace("_", " ")
            output.sentence(f"{u.name}: {words}, {output.plural(u.readings, 'reading')}", indent="- ", hanging="  ")


def _row(i: Instrument) -> list[str]:
    c = i.now
    off, off_sd = c.off
    return [
        output.printable(i.name),
        f"{i.quantity.replace('_', ' ')}, {i.unit}",
        f"{c.offset:+.3g}",
        f"{c.scale:.4f}",
        f"{off:+.2g} ± {off_sd:.2g}",
        str(i.count),
        output.cell(c.last_day),
        f"{c.residual_sd:.2g}",
        "yes" if i.drift else "",
    ]
