"""``specdb allocate``: all open orders against the shelf."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import json_option
from specdb.cli.progress import bar
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    from specdb.orders.allocation import Planned
    from specdb.verbs.allocation import AllocationAnswer


@command(
    "allocate", "specdb allocate", "specdb allocate --approved-only --json", "specdb allocate --reserve --by Robin"
)
@click.option("--approved-only", is_flag=True, help="Look for no stand-ins beyond those that were approved.")
@click.option("--reserve", is_flag=True, help="Keep the parts of orders that are built today and need no approval.")
@click.option(
    "--gap",
    type=click.FloatRange(0.0, 0.5),
    default=0.0,
    show_default=True,
    help="Part by which the cost may be above the least.",
)
@click.option(
    "--seconds",
    type=click.FloatRange(0.5, 600.0),
    default=30.0,
    show_default=True,
    help="Most time for each programme.",
)
@click.option("--by", metavar="NAME", help="Who, for the journal.")
@json_option
def allocate(approved_only: bool, reserve: bool, gap: float, seconds: float, by: str | None, as_json: bool) -> None:
    """Plan all open orders together: what is built today, what later, and what is left short, and why.

    One shaft goes into one club, a set takes all its shafts from one model. As many orders in full as can be, then the
    least score of the stand-ins and the fewest days late. A person approves each stand-in ('specdb choose').
    """
    from specdb.verbs.allocation import plan_orders, reserve_plan

    shop = settings().open()
    with bar() as progress:
        answer = plan_orders(shop, propose=not approved_only, gap=gap, seconds=seconds, progress=progress)
    kept = reserve_plan(shop, answer, by=by) if reserve else {}
    if as_json:
        output.emit_json({**answer.to_json(), "reserved": kept})
        return
    _write(answer)
    if reserve:
        told = ", ".join(f"{order} ({output.plural(pieces, 'piece')})" for order, pieces in kept.items())
        output.sentence(f"Kept: {told}." if kept else "Nothing to keep: no order is built today without an approval.")


def _write(answer: AllocationAnswer) -> None:
    plan = answer.plan
    if not plan.orders:
        output.line("No order is open.")
        return
    now = [p for p in plan.orders if p.day == answer.today]
    later = sorted((p for p in plan.orders if p.day is not None and p.day != answer.today), key=lambda p: str(p.day))
    short = [p for p in plan.orders if p.day is None]
    output.title(f"{plan.built} of {output.plural(len(plan.orders), 'open order')} can be built in full")
    for title, some in (("Today", now), ("Later, once parts arrive", later)):
        if some:
            output.section(f"{title}: {len(some)}")
            columns = [Column("order", keep=True), Column("wanted on"), Column("for"), Column("from", keep=True)]
            show([*columns, Column("with", keep=True)], [_row(answer, p) for p in some])
    if short:
        output.section(f"Left short: {len(short)}")
        for planned in short:
            output.sentence(f"{planned.order_id}: {'; '.join(planned.reasons)}.", indent="- ", hanging="  ")
    approve = [(p, o) for p in (*now, *later) for o in p.options if o.to_approve]
    if approve:
        output.section("Stand-ins for a person to approve")
        for planned, option in approve:
            for club, shaft, trim in option.shafts:
                said = f"{planned.order_id}: {shaft} in {club}, tip trim {output.number(trim or 0.0)} in"
                output.sentence(
                    f"{said} (score {output.number(option.score / len(option.shafts), 2)})", indent="- ", hanging="  "
                )
        output.sentence("'specdb choose --club CLUB --shaft SHAFT' approves one, 'specdb reject' turns one down.")
    output.line()
    proof = (
        "proved best" if plan.gap == 0.0 and plan.built_gap == 0.0 else f"within {100.0 * plan.gap:.1f} % of the best"
    )
    output.sentence(
        f"Plan {proof}, in {plan.seconds:.1f} s; cost {output.number(plan.cost, 2)} in units of score; stand-ins "
        f"looked for in {output.plural(answer.proposed, 'place')}."
    )
    for text in answer.not_compared:
        output.sentence(text, indent="Not compared: ", hanging="  ")


def _row(answer: AllocationAnswer, planned: Planned) -> list[str]:
    order = answer.orders[planned.order_id]
    stand_ins = [o.name for o in planned.options if o.score or o.to_approve]
    day = "today" if planned.day == answer.today else str(planned.day)
    return [
        planned.order_id,
        "" if order.wanted_on is None else order.wanted_on.isoformat(),
        order.customer or "",
        day,
        ", ".join(dict.fromkeys(stand_ins)) or "as fitted",
    ]
