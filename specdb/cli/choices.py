"""``specdb choose``, ``specdb reject`` and ``specdb weighting``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from specdb.cli import output
from specdb.cli.base import command, group, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import journal_options, json_option, quantity, set_option
from specdb.cli.tables import Column, show

F = TypeVar("F", bound=Callable[..., Any])


def _shaft(function: F) -> F:
    return click.option(
        "--shaft", required=True, metavar="ID", shell_complete=complete_key_of("shaft"), help="The stand-in."
    )(function)


@command(
    "choose",
    "specdb choose --club ashby-driver --shaft hollin-reach-holm-60-s --tip-trim 1.625 --why 'nearest in feel'",
    "specdb choose --set tansley-irons --shaft stavely-tenter-105-s-6 --why 'all on the shelf'",
)
@click.option("--club", metavar="ID", shell_complete=complete_key_of("club"), help="The fitted club.")
@set_option
@_shaft
@quantity("--tip-trim", "tip_trim_in", "Tip trim of the stand-in.")
@click.option("--sure", is_flag=True, help="Choose it though the club cannot be built with it.")
@journal_options
def choose(
    club: str | None,
    set_id: str | None,
    shaft: str,
    tip_trim: float | None,
    sure: bool,
    by: str | None,
    why: str | None,
) -> None:
    """Keep a shaft as the chosen stand-in for a club, and for that club only.

    Several may be chosen: the one chosen last comes first, the others are second choices for orders that run short of
    it. Without --tip-trim the one it is proposed with is kept, and its score. What cannot be built (too short, a tip
    that does not go in with any preparation, a tip trim beyond what the maker allows) is refused but for --sure.

    With --set the model that the shaft belongs to is kept for every club of the set, with the shafts and tip trims it
    is proposed with.
    """
    if (club is None) == (set_id is None):
        raise click.UsageError("name one of --club or --set")
    if set_id is not None:
        if tip_trim is not None:
            raise click.UsageError("the tip trims of a set are those it is proposed with: leave --tip-trim out")
        from specdb.verbs.sets.decisions import choose_model

        found = choose_model(settings().open(), set_id, shaft, by=by, why=why)
        output.line(f"{found.model} chosen for set {set_id}, score {output.number(found.score, 2)}:")
        for one in found.clubs:
            trim_said = f", tip trim {output.number(one.substitute.tip_trim_in)} in"
            output.line(f"  {one.club_id}: {one.substitute.shaft_id}{trim_said}")
        return
    if club is None:
        raise AssertionError  # one of them is named
    from specdb.verbs.matching.substitutes import choose as keep

    trim, score = keep(settings().open(), club, shaft, tip_trim_in=tip_trim, sure=sure, by=by, why=why)
    parts = [] if trim is None else [f"tip trim {output.number(trim)} in"]
    if score is not None:
        parts.append(f"score {output.number(score, 2)}")
    output.line(f"{shaft} chosen for {club}{': ' if parts else ''}{', '.join(parts)}.")


@command(
    "reject",
    "specdb reject --club ashby-driver --shaft ambrel-lyde-60-s --why 'too light for this player'",
    "specdb reject --set tansley-irons --shaft stavely-tenter-105-s-6 --why 'too heavy for this player'",
)
@click.option("--club", metavar="ID", shell_complete=complete_key_of("club"), help="The fitted club.")
@set_option
@_shaft
@journal_options
def reject(club: str | None, set_id: str | None, shaft: str, by: str | None, why: str | None) -> None:
    """Turn a shaft down for a club: it is not proposed for that club again, and only for that club.

    With --set the model that the shaft belongs to is turned down for every club of the set, with the shafts it is
    proposed with; the same model with other shafts may still be proposed.
    """
    if (club is None) == (set_id is None):
        raise click.UsageError("name one of --club or --set")
    if set_id is not None:
        from specdb.verbs.sets.decisions import reject_model

        found = reject_model(settings().open(), set_id, shaft, by=by, why=why)
        output.line(f"{found.model}, {found.way}, turned down for {len(found.clubs)} clubs of set {set_id}.")
        return
    if club is None:
        raise AssertionError  # one of them is named
    from specdb.verbs.catalogue import changing

    done = changing.decide(settings().open(), club, shaft, "rejected", by=by, why=why)
    output.line(f"{shaft} turned down for {club} ({done}).")


@group("weighting", "specdb weighting show", "specdb weighting set soft-hands frequency_unit=4 torque_weight=0")
@click.pass_context
def weighting(context: click.Context) -> None:
    """Show or change what counts as a difference."""
    if context.invoked_subcommand is None:
        context.invoke(show_weighting)


@weighting.command("show", examples=("specdb weighting show", "specdb weighting show feel-first --json"))
@click.argument("name", required=False, shell_complete=complete_key_of("weighting"))
@json_option
def show_weighting(name: str | None, as_json: bool) -> None:
    """Show what counts as one unit of difference, and how heavily; the default where NAME is not given."""
    from specdb.verbs.matching.weightings import weighting_lines

    lines = weighting_lines(settings().open() if name else None, name)
    if as_json:
        output.emit_json({"weighting": name or "default", "features": [line.to_json() for line in lines]})
        return
    columns = [
        Column("feature", keep=True),
        Column("one unit", right=True, keep=True),
        Column("weight", right=True, keep=True),
        Column("fields"),
    ]
    rows = [
        [line.title, f"{line.one_unit:g} {line.unit}", f"{line.weight:g}", f"{line.unit_field}, {line.weight_field}"]
        for line in lines
    ]
    show(columns, rows)


@weighting.command(
    "set", examples=("specdb weighting set soft-hands frequency_unit=4 torque_weight=0 --why 'for seniors'",)
)
@click.argument("name", shell_complete=complete_key_of("weighting"))
@click.argument("words", nargs=-1, required=True, metavar="FIELD=VALUE...")
@journal_options
def set_weighting(name: str, words: tuple[str, ...], by: str | None, why: str | None) -> None:
    """Change a named weighting, or make it; FIELD= alone takes the default again."""
    from specdb.verbs.matching.weightings import set_weighting as put

    done = put(settings().open(), name, words, by=by, why=why)
    output.line(f"weighting {done.key} {done.action}.")
