"""``specdb heads``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.fitup import write_steps
from specdb.cli.options import json_option, quantity
from specdb.cli.ranked import write_ranked, write_reason
from specdb.cli.tables import Column, show
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.sets.head_result import HeadStandIn
    from specdb.verbs.matching.heads import HeadsAnswer

_DETAILS = 2


@command(
    "heads",
    "specdb heads brackwater-groyne-7-rh",
    "specdb heads --club quilter-7-iron --in-stock",
    "specdb heads orrin-vale-escarp-460-10.5-rh --club ashby-driver --json",
    "specdb heads --club quilter-7-iron --why-not castellan-mattock-7-rh",
)
@click.argument("head", required=False, metavar="[HEAD]", shell_complete=complete_key_of("head"))
@click.option("--club", metavar="ID", shell_complete=complete_key_of("club"), help="The fitted club it belongs to.")
@click.option("--in-stock", is_flag=True, help="Only heads of which a piece is free.")
@click.option("--top", type=click.IntRange(1, 1000), default=10, show_default=True, help="How many.")
@quantity("--max-head-add", "head_add_g", "Most weight that may be added at the head.", metavar="G")
@click.option("--details", type=click.IntRange(0), default=_DETAILS, show_default=True, help="How many in detail.")
@click.option("--why-not", metavar="ID", shell_complete=complete_key_of("head"), help="Why is it not proposed?")
@json_option
def heads(
    head: str | None,
    club: str | None,
    in_stock: bool,
    top: int,
    max_head_add: float | None,
    details: int,
    why_not: str | None,
    as_json: bool,
) -> int:
    """Rank the heads that come nearest to one that cannot be had.

    Loft and lie are those after the adapter's setting and after bending within the head's limit; a lighter head takes
    weight. With --club the fitted shaft is fitted up in each of them, and what the club becomes counts, too. Exit
    status 1: none can stand in.
    """
    from specdb.verbs.matching.heads import HeadOptions, heads_of, why_not_head

    options = HeadOptions(in_stock=in_stock, top=top, max_head_add_g=max_head_add)
    answer = heads_of(settings().open(), head, club=club, options=options)
    if why_not is not None:
        return write_reason("head_id", why_not, why_not_head(answer, why_not), as_json=as_json)
    return write_ranked(answer, lambda found: write(found, details), as_json=as_json)


def write(answer: HeadsAnswer, details: int = _DETAILS) -> None:
    """Write the heads for a person.

    Parameters
    ----------
    answer : HeadsAnswer
        The answer.
    details : int
        How many are written in detail.
    """
    from specdb.verbs.catalogue.holdings import on_hand_words

    report = answer.report
    club = f" of club {report.club_id}" if report.club_id else ""
    output.title(f"Head {report.head_id}{club}: {report.title}")
    state = answer.supply
    words = [on_hand_words(answer.on_hand, answer.kept_for)]
    if state is not None and state.backordered:
        words.append("backordered")
    if state is not None and state.expected_on:
        words.append(f"expected {state.expected_on.isoformat()}")
    output.sentence(f"{', '.join(words)}.", indent="  ")
    if report.results:
        output.section("Heads that can stand in, nearest first")
        _write_ranking(report.results)
        for result in report.results[:details]:
            _write_details(result)
    else:
        output.line()
        output.line("No head in the catalogue can stand in as asked.")
    if report.less_near:
        output.line()
        output.sentence(f"{output.plural(len(report.less_near), 'more head')} can stand in, less near (--top).")
    if report.excluded:
        output.section(f"Not proposed: {output.plural(len(report.excluded), 'head')}")
        for reason, count in report.counts():
            output.sentence(f"{count:>6}  {reason}", hanging=" " * 8)
        output.line("  --why-not ID gives the reason for one head.")
    for text in report.notes:
        output.sentence(f"Note: {text}.")


def _write_ranking(results: tuple[HeadStandIn, ...]) -> None:
    columns = [
        Column("#", right=True, keep=True),
        Column("head", keep=True),
        Column("score", right=True, keep=True),
        Column("bend", wraps=True),
        Column("add g", right=True),
        Column("free", right=True),
        Column("adapter, setting", wraps=True),
        Column("price", right=True),
    ]
    rows = [
        [
            str(r.rank),
            r.head_id,
            output.number(r.score, 2),
            ", ".join(f"{name} {by:+.1f}°" for name, by in r.bends.items()) or "none",
            output.number(r.head_add_g, 1) if r.head_excess_g < 0.05 else f"{-r.head_excess_g:.1f}",
            _free(r),
            ", ".join(w for w in (r.adapter_id, r.setting) if w) or "-",
            "" if r.price is None else f"{output.number(r.price)} {r.currency or ''}".strip(),
        ]
        for r in results
    ]
    show(columns, rows, more="--json has everything.")
    output.sentence(
        "score: root mean square difference in steps, with what bending, weight and preparation cost; bend: positive "
        "is weaker and more upright; add: weight at the head, negative where it is too heavy by that much; free: "
        "pieces on hand that are kept for no order, or the day that more are expected."
    )


def _free(result: HeadStandIn) -> str:
    if result.in_stock:
        return str(result.in_stock)
    return result.expected_on or ("?" if result.in_stock is None else "0")


def _write_details(result: HeadStandIn) -> None:
    output.section(f"{result.rank}. {result.head_id}")
    output.sentence(f"{begun(result.summary)}.")
    columns = [
        Column("feature", keep=True),
        Column("wanted", right=True, keep=True),
        Column("finished", right=True, keep=True),
        Column("difference", right=True, keep=True),
        Column("one step", right=True, keep=True),
    ]
    rows = [
        [
            f"{d.title}, {d.unit}",
            output.number(d.reference, d.decimals),
            output.number(d.candidate, d.decimals),
            output.signed(d.difference, d.decimals),
            output.number(d.step),
        ]
        for d in result.differences
    ]
    show(columns, rows)
    if result.club is not None:
        values, fitted = result.club.values, result.club.fitted
        output.sentence(
            f"The club becomes {output.number(values['frequency_cpm'], 1)} cpm (fitted "
            f"{output.number(fitted['frequency_cpm'], 1)}), {values['swingweight']} (fitted {fitted['swingweight']}), "
            f"{output.number(values['total_weight_g'], 0)} g (fitted {output.number(fitted['total_weight_g'], 0)}), "
            f"shaft cut to {output.number(values['cut_length_in'], 3)} in (fitted "
            f"{output.number(fitted['cut_length_in'], 3)}), at the same playing length."
        )
        if result.club.preparation:
            output.line("Preparation, in order of work:")
            write_steps(result.club.preparation)
    if result.not_compared:
        output.sentence(f"Not compared, for want of data: {', '.join(result.not_compared)}.")
    for text in result.refused:
        output.sentence(f"Not bent: {text}.", hanging="  ")
    for text in result.cautions:
        output.sentence(text, indent="Caution: ", hanging="  ")
    for text in result.notes:
        output.sentence(text, indent="Note: ", hanging="  ")
