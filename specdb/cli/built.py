"""``specdb built`` and ``specdb bias``: finished clubs, measured and judged."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import json_option, quantity
from specdb.cli.tables import Column, show
from specdb.errors import ExitCode

if TYPE_CHECKING:
    from specdb.catalogue import Catalogue
    from specdb.verbs.building.as_built import BuiltAnswer

_MEASURED = {
    "length": "Playing length.",
    "weight": "Total weight.",
    "swingweight": "Swingweight, such as D2.5.",
    "frequency": "Frequency of the club without its grip.",
    "loft": "Loft.",
    "lie": "Lie.",
    "grip_size": "Diameter of the grip.",
    "head_weight": "Weight of the head with what was added.",
}


def _measured_options(function: Any) -> Any:  # noqa: ANN401 (a command in the making)
    for name, text in reversed(_MEASURED.items()):
        option = click.option(f"--{name.replace('_', '-')}", name, metavar="VALUE", callback=_value, help=text)
        function = option(function)
    return function


def _value(context: click.Context, parameter: click.Parameter, text: str | None) -> float | None:
    if text is None:
        return None
    from specdb.errors import FieldError, UnitError
    from specdb.verbs.building.as_built import parse_built

    try:
        return parse_built(str(parameter.name), text)
    except (FieldError, UnitError) as error:
        raise click.BadParameter(str(error), context, parameter) from error


@command(
    "built",
    "specdb built ashby-driver --length '45 1/4' --weight 319 --swingweight D3.5 --frequency 251 --loft 10.5 --lie 58.5",  # noqa: E501 (an example is one line)
)
@click.argument("club", metavar="CLUB", shell_complete=complete_key_of("club"))
@_measured_options
@click.option("--waive", metavar="WHAT=WHY", multiple=True, help="Not measured, and why; may be given again.")
@click.option("--order", metavar="ID", help="The order it was built for; else the open order that asks for it.")
@click.option("--no-order", is_flag=True, help="It was built for no order, whoever asks for such a club.")
@click.option("--line", type=click.IntRange(1, 999), help="Line of the order.")
@click.option("--unit", type=click.IntRange(1, 99), help="Which of the line's quantity.")
@click.option("--shaft", metavar="ID", shell_complete=complete_key_of("shaft"), help="The shaft that went in.")
@quantity("--tip-trim", "tip_trim_in", "Tip trim of that shaft.")
@click.option("--piece", metavar="NAME", help="Which piece of the shaft.")
@quantity("--raw-weight", "weight_g", "Weight of the raw piece, kept as a reading of it.", metavar="G", kind="shaft")
@quantity("--raw-frequency", "frequency_cpm", "Frequency of the raw piece, kept as a reading of it.", metavar="CPM")
@quantity("--free-length", "free_length_in", "Free length of that frequency.", kind="shaft_reading")
@quantity("--tip-mass", "tip_mass_g", "Tip mass of that frequency.", metavar="G", kind="shaft_reading")
@quantity("--clamp", "frequency_clamp_in", "Clamped length of butt for the club's frequency (5 in where not given).")
@click.option("--instrument", metavar="NAME", help="What was measured with.")
@click.option("--sure", is_flag=True, help="It was measured so, though it is far from what the club should be.")
@click.option("--by", metavar="NAME", help="Who measured.")
@json_option
def built(
    club: str,
    waive: tuple[str, ...],
    order: str | None,
    no_order: bool,
    line: int | None,
    unit: int | None,
    shaft: str | None,
    tip_trim: float | None,
    piece: str | None,
    raw_weight: float | None,
    raw_frequency: float | None,
    free_length: float | None,
    tip_mass: float | None,
    clamp: float | None,
    instrument: str | None,
    sure: bool,
    by: str | None,
    as_json: bool,
    **measured: float | None,
) -> int:
    """Enter what was measured on a finished CLUB, and judge it.

    Is it the club that was fitted? Each value is held against its tolerance, with what to do about one outside. The
    club is done when every value is in, or waived with a reason; the parts that are kept for it are then booked as
    built in, in the same change. Without values: how it stands.

    Where one open order asks for the club, it is the first of that order that is not measured yet; where several do,
    name one with --order. A value that is further off than work on the club can cause is asked about, and kept with
    --sure alone.

    The frequency also tells of the shaft, and so of the next club that it goes into ('specdb profile' lists it): say
    which shaft and tip trim went in where they are not those planned. The club itself is judged without it.

    Exit status 1: something is outside, or still to be measured.
    """
    from specdb.units.writing import as_sentence
    from specdb.verbs.building.as_built import Finished, built_answer
    from specdb.verbs.building.finished_clubs import Measured, RawReadings, keep_built
    from specdb.verbs.building.sheet_code import UnitMeant
    from specdb.verbs.building.which_unit import which_unit

    if no_order and (order is not None or line is not None or unit is not None):
        raise click.UsageError("--no-order goes without --order, --line and --unit")
    shop = settings().open()
    meant = UnitMeant(club, order, line, unit)
    if not no_order:
        meant, said = which_unit(shop, meant)
        if said:
            output.note(f"{as_sentence(said)}{' --no-order measures it without one.' if order != meant.order else ''}")
    finished = Finished(
        club=meant.club, order=meant.order, line=meant.line, unit=meant.unit, shaft=shaft, tip_trim_in=tip_trim,
        piece=piece, instrument=instrument, clamp_in=clamp,
    )  # fmt: skip
    values = {name: value for name, value in measured.items() if value is not None}
    reasons = dict(_reason(text) for text in waive)
    raw = RawReadings(weight_g=raw_weight, frequency_cpm=raw_frequency, free_length_in=free_length, tip_mass_g=tip_mass)
    if values or reasons or raw.given:
        answer = keep_built(shop, finished, Measured(values=values, waived=reasons, raw=raw), sure=sure, by=by)
    else:
        answer = built_answer(shop, finished)
    if as_json:
        output.emit_json(answer.to_json())
    else:
        _write(answer)
    if answer.finished.order is not None and answer.done and not as_json:
        _offer_to_finish(shop, answer.finished.order)
    return int(ExitCode.DONE if answer.as_fitted else ExitCode.NO)


def _offer_to_finish(shop: Catalogue, order: str) -> None:
    """Say that the order may be finished, where every club of it is measured now; which is outside a tolerance."""
    from specdb.units.writing import as_sentence
    from specdb.verbs.orders.working import look_at_finishing

    look = look_at_finishing(shop, order)
    if look.offered:
        how = f"specdb order state {order} finished" + (" --why TEXT" if look.outside else "")
        output.sentence(f"{as_sentence(look.offer)} Finish it{' all the same' if look.outside else ''} with '{how}'.")


def _reason(text: str) -> tuple[str, str]:
    what, sign, why = text.partition("=")
    if not sign:
        raise click.BadParameter(f"'{text}' is not of the form WHAT=WHY", param_hint="--waive")
    return what.strip().replace("-", "_").replace(" ", "_"), why.strip()


def _write(answer: BuiltAnswer) -> None:
    from specdb.orders.measured_words import value_words
    from specdb.orders.tolerances import TOLERANCES
    from specdb.units.writing import as_sentence

    of = answer.finished
    order = f" for order {of.order}, {of.line}.{of.unit}" if of.order else ""
    output.title(f"Club {of.club}{order}, built with {answer.shaft}")
    columns = [Column("what", keep=True), Column("measured", right=True, keep=True), Column("wanted", right=True)]
    columns += [Column("tolerance"), Column("verdict", keep=True)]
    rows = [
        [
            TOLERANCES[j.quantity].title,
            value_words(j.quantity, j.value),
            value_words(j.quantity, j.aim.target),
            TOLERANCES[j.quantity].said,
            str(j.judgement).replace("_", " "),
        ]
        for j in answer.judged
    ]
    if rows:
        show(columns, rows)
    for j in answer.judged:
        if j.judgement.value not in ("as_wanted", "no_target"):
            by_it = f" ({value_words(j.quantity, j.corrected)} corrected)" if j.corrected is not None else ""
            told = f"{TOLERANCES[j.quantity].title}{by_it}: {j.said}" + (
                f". {as_sentence(j.advice)}" if j.advice else "."
            )
            output.sentence(told, indent="- ", hanging="  ")
    if answer.used:
        output.sentence(f"Booked as built in: {output.join(list(answer.used))}.")
    for text in answer.said:
        output.sentence(as_sentence(text))
    if answer.measure_again:
        output.sentence(answer.measure_again)
    output.sentence(as_sentence(answer.standing))


@command("bias", "specdb bias", "specdb bias --json")
@json_option
def bias(as_json: bool) -> None:
    """Say how finished clubs come out against what was predicted: by quantity, by instrument, by month."""
    from specdb.orders.tolerances import TOLERANCES
    from specdb.units import unit_label
    from specdb.verbs.building.built_bias import bias as summed

    answer = summed(settings().open())
    if as_json:
        output.emit_json(answer.to_json())
        return
    if not answer.all:
        output.line("No finished club has been measured yet.")
        return
    columns = [
        Column("what", keep=True),
        Column("with", wraps=True, keep=True),
        Column("clubs", right=True),
        Column("off", right=True, keep=True),
    ]
    columns += [Column("spread", right=True), Column("stated doubt", right=True), Column("", keep=True)]
    rows = []
    for found in (*answer.all, *answer.by_instrument):
        unit = unit_label(TOLERANCES[found.quantity].unit)
        rows.append(
            [
                TOLERANCES[found.quantity].title,
                found.instrument or "all",
                str(found.count),
                f"{output.signed(found.mean, 2)} ± {output.number(found.mean_sd, 2)} {unit}",
                output.number(found.spread, 2),
                "-" if found.ratio != found.ratio else f"× {output.number(found.ratio, 1)}",
                "more than chance" if found.found else "",
            ]
        )
    show(columns, rows)
    output.sentence(
        "off: measured, corrected for its instrument, less predicted, mean; spread: of single clubs; stated doubt: how "
        "large the differences are beside the doubt that was stated, 1 where it is right."
    )
