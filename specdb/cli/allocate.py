"""``specdb allocate``: all open orders against the shelf."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import DAY_HELP, day_ahead, json_option
from specdb.cli.progress import bar, stoppable
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    import datetime as dt

    from specdb.orders.plan import Aim, Plan, PlannedOrder, PlannedUnit
    from specdb.verbs.orders.allocation import AllocationAnswer

_AIMS = {
    "orders_in_full": "weight of the orders in full",
    "days_late": "days late",
    "score": "score",
    "to_approve": "stand-ins to approve",
}


@command(
    "allocate",
    "specdb allocate",
    "specdb allocate --until 2027-01-31",
    "specdb allocate --first o-1041 --approved-only --json",
    "specdb allocate --reserve --by Robin",
)
@click.option(
    "--until",
    callback=day_ahead,
    metavar="DAY",
    help=f"Count only on what arrives by that day: {DAY_HELP}.",
)
@click.option("--approved-only", is_flag=True, help="Look for no stand-ins beyond those that were approved.")
@click.option(
    "--first", multiple=True, metavar="ORDER", help="Build this order in full whatever it costs the others; repeatable."
)
@click.option("--max-score", type=click.FloatRange(0.0, 50.0), help="Propose no stand-in with a higher score.  [2.0]")
@click.option(
    "--top", type=click.IntRange(1, 50), help="How many stand-ins are looked at for a club, models for a set.  [6]"
)
@click.option("--reserve", is_flag=True, help="Keep the parts of orders that are built today and need no approval.")
@click.option(
    "--seconds",
    type=click.FloatRange(0.5, 600.0),
    default=30.0,
    show_default=True,
    help="Longest time for the solver.",
)
@click.option("--by", metavar="NAME", help="Who keeps the parts, for the journal.")
@json_option
def allocate(
    until: dt.date | None,
    approved_only: bool,
    first: tuple[str, ...],
    max_score: float | None,
    top: int | None,
    reserve: bool,
    seconds: float,
    by: str | None,
    as_json: bool,
) -> None:
    """Plan all open orders together: what is built today, what later, and what is left short, and why.

    One shaft goes into one club, a set takes all its shafts from one model, and what is kept for an order stays with
    it. Most orders in full come first (an order wanted within a week weighs 12, within four weeks 11, any other 10),
    then the fewest days late (an order left short counts as built a year from now, one without a day as wanted in
    four weeks), then the least score of the stand-ins, then the fewest for a person to approve ('specdb choose').
    Stand-ins are looked for on the shelf and among shafts that are expected before the fitted one. Ctrl-C stops the
    solver, and the best plan found until then is shown.
    """
    from specdb.verbs.orders.allocation import (
        MOST_SCORE,
        STAND_INS,
        AllocationOptions,
        PlanStoppedError,
        plan_orders,
        reserve_plan,
    )

    shop = settings().open()
    options = AllocationOptions(
        propose=not approved_only,
        until=until,
        first=first,
        top=STAND_INS if top is None else top,
        most=MOST_SCORE if max_score is None else max_score,
        seconds=seconds,
    )
    with bar() as progress, stoppable() as stopped:
        try:
            answer = plan_orders(shop, options, progress=progress, stopped=stopped)
        except PlanStoppedError:
            raise KeyboardInterrupt from None
    ended = stopped()
    kept = reserve_plan(shop, answer, by=by) if reserve and not ended else {}
    if as_json:
        output.emit_json({**answer.to_json(), "reserved": kept})
        _leave(ended=ended)
        return
    write(answer)
    _leave(ended=ended, reserve=reserve)
    if reserve:
        told = ", ".join(f"{order} ({output.plural(pieces, 'piece')})" for order, pieces in kept.items())
        output.sentence(f"Kept: {told}." if kept else "Nothing to keep: no order is built today without an approval.")
        for unit, (kind, item) in answer.given_up:
            output.sentence(
                f"No longer kept, as it was not there: {kind} {item} for {unit.club_id} of {unit.order_id}.",
                hanging="  ",
            )


def _leave(*, ended: bool, reserve: bool = False) -> None:
    """End with the status of what was interrupted, once the plan found until then is shown."""
    if ended:
        if reserve:
            output.note("No part is kept by a plan that was stopped.")
        raise KeyboardInterrupt


def write(answer: AllocationAnswer) -> None:
    """Write the plan for a person.

    Parameters
    ----------
    answer : AllocationAnswer
        The plan.
    """
    from specdb.orders.plan import Outcome

    plan = answer.plan
    if not plan.orders:
        output.line("No order is open.")
        return
    output.title(f"{plan.built} of {output.plural(len(plan.orders), 'open order')} can be built in full")
    _write_built(answer, "Today", plan.of(Outcome.TODAY))
    _write_reasons([planned for planned in plan.of(Outcome.TODAY) if planned.reasons])
    later = sorted(plan.of(Outcome.LATER), key=lambda p: str(p.day))
    _write_built(answer, "Later, once parts arrive", later)
    _write_reasons(later)
    short = plan.of(Outcome.SHORT)
    if short:
        output.section(f"Left short: {len(short)}")
        _write_reasons(short)
    _write_approvals(plan)
    output.line()
    output.sentence(_proof(plan))
    if answer.looked:
        output.sentence(f"Stand-ins were looked for in {output.plural(answer.looked, 'place')}.")
    for text in answer.not_compared:
        output.sentence(text, indent="Not compared: ", hanging="  ")


def _write_built(answer: AllocationAnswer, title: str, some: Sequence[PlannedOrder]) -> None:
    if not some:
        return
    output.section(f"{title}: {len(some)}")
    columns = [
        Column("order", keep=True),
        Column("wanted on"),
        Column("late", right=True),
        Column("for"),
        Column("from", keep=True),
        Column("with", keep=True, wraps=True),
    ]
    show(columns, [_row(answer, planned) for planned in some])


def _row(answer: AllocationAnswer, planned: PlannedOrder) -> list[str]:
    order = answer.orders[planned.order_id]
    stand_ins = [u.model or u.option.shaft_id for u in planned.units if u.option.standing != "fitted"]
    return [
        planned.order_id,
        "" if order.wanted_on is None else order.wanted_on.isoformat(),
        str(planned.days_late) if planned.days_late else "",
        order.customer or "",
        "today" if planned.day == answer.today else str(planned.day),
        ", ".join(dict.fromkeys(stand_ins)) or "as fitted",
    ]


def _write_reasons(some: Sequence[PlannedOrder]) -> None:
    for planned in some:
        output.sentence(f"{planned.order_id}: {'; '.join(planned.reasons)}.", indent="- ", hanging="  ")


def _write_approvals(plan: Plan) -> None:
    asked = [(planned, unit) for planned in plan.orders for unit in planned.to_approve]
    if not asked:
        return
    output.section("Stand-ins for a person to approve")
    sets: dict[tuple[str, int, int], list[PlannedUnit]] = {}
    for planned, unit in asked:
        if unit.set_id is None:
            said = f"{planned.order_id}: {unit.option.shaft_id} in {unit.key.club_id}, {_work(unit)}"
            output.sentence(f"{said} (score {output.number(unit.option.score, 2)})", indent="- ", hanging="  ")
        else:
            sets.setdefault((planned.order_id, unit.key.line, unit.key.unit), []).append(unit)
    for (order, _, _), units in sets.items():
        score = output.number(units[0].option.score, 2)
        output.sentence(
            f"{order}: {units[0].model} in set {units[0].set_id} (score {score})", indent="- ", hanging="  "
        )
        for unit in units:
            output.sentence(f"{unit.key.club_id}: {unit.option.shaft_id}, {_work(unit)}", indent="  - ", hanging="    ")
    output.sentence(
        "'specdb choose --club CLUB --shaft SHAFT' approves one, with '--set SET' a whole set; 'specdb reject' turns "
        "one down."
    )


def _work(unit: PlannedUnit) -> str:
    trim = f"tip trim {output.number(unit.option.tip_trim_in or 0.0)} in"
    comes = () if unit.shaft_comes_on is None else (f"expected on {unit.shaft_comes_on.isoformat()}",)
    return ", ".join((trim, *unit.option.preparation, *comes))


def _proof(plan: Plan) -> str:
    said = "Proved: no plan is better" if plan.proved else f"Within {100.0 * plan.gap:.2g} % of the best possible"
    if plan.stopped:
        said = f"Stopped: the best plan found until then; {said[0].lower()}{said[1:]}"
    short = plan.built < len(plan.orders)
    return f"{said}; {'; '.join(_aim(a, short=short) for a in plan.aims)}; {plan.seconds:.1f} s."


def _aim(aim: Aim, *, short: bool) -> str:
    bound = f" (at best {output.number(aim.bound)})" if aim.gap else ""
    if aim.name == "days_late" and short:
        bound += ", a year for each order left short among them"
    return f"{_AIMS[aim.name]} {output.number(aim.value)}{bound}"
