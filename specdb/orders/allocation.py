"""All open orders against the shelf and what is expected, decided together.

What is sought, each before all that follow: most orders built in full (weighted by how soon they are wanted), fewest
days late, least score of the stand-ins, fewest stand-ins that a person has yet to approve, soonest. An order left short
takes nothing, and says which part it lacks and who has it.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Mapping, Sequence

from specdb.orders.apart import Solver
from specdb.orders.demand import PER_SCORE, Demand, Holders, PlanRules
from specdb.orders.explain import Taken, explained
from specdb.orders.hand_out import Chosen, Sources, as_soon_as_can_be, sources_of
from specdb.orders.plan import Aim, Outcome, Plan, PlannedOrder, PlannedUnit
from specdb.orders.programme import Programme
from specdb.orders.reduce import cases_of, components
from specdb.orders.shelf import Shelf
from specdb.orders.solve import AIMS, Solved, solve
from specdb.orders.supply import supply_of


def allocate(
    demands: Sequence[Demand],
    shelf: Shelf,
    rules: PlanRules,
    holders: Holders | None = None,
    *,
    stopped: Callable[[], bool] | None = None,
) -> Plan:
    """Decide which orders are built in full, when, and with which shafts.

    Parameters
    ----------
    demands : sequence of Demand
        The open orders.
    shelf : Shelf
        The stock; what is kept for orders is not handed out again.
    rules : PlanRules
        Today, the last day whose arrivals count, and the time there is.
    holders : mapping or None
        Which orders the pieces that are kept are kept for; only said, never taken.
    stopped : callable or None
        Whether it is to stop, asked many times a second; the best plan found until then is given.

    Returns
    -------
    Plan
        The same for the same question, as long as the solver does not run out of time and is not stopped.
    """
    start = time.perf_counter()
    demands = sorted(demands, key=lambda d: d.turn)
    supply = supply_of(shelf, rules)
    cases, _ = cases_of(demands, supply, rules.today)
    solved = []
    with Solver(stopped) as solver:
        for company in components(cases):
            programme = Programme(company, supply, rules)
            forced = [n for n, case in enumerate(company) if case.demand.order_id in rules.first]
            solved.append(solve(programme, start + rules.seconds, forced, solver))
        ended = solver.stopped
    built = {order: day for one in solved for order, day in one.built.items()}
    taken = {key: way for one in solved for key, (way, _) in one.taken.items()}
    days = as_soon_as_can_be(demands, built, taken, supply, rules.today)
    pieces = sources_of(demands, days, taken, supply, rules.today)
    orders = [_planned(d, days, taken, pieces, rules) for d in demands]
    orders = explained(orders, Taken.of(orders, shelf, supply, rules, holders or {}))
    aims = _aims(solved, demands, rules, {c.demand.order_id for c in cases})
    gap = any(aim.gap for aim in aims)
    return Plan(rules.today, rules.by, tuple(orders), aims, time.perf_counter() - start, stopped=ended and gap)


def _aims(solved: Sequence[Solved], demands: Sequence[Demand], rules: PlanRules, cases: set[str]) -> tuple[Aim, ...]:
    """What all companies of orders come to; orders that were not solved for are short for certain."""
    short = sum(rules.late(d, rules.horizon) for d in demands if d.order_id not in cases)
    found = []
    for number, name in enumerate(AIMS):
        reached = [one.reached[number] for one in solved]
        value, bound = sum(r.value for r in reached), sum(r.bound for r in reached)
        seconds = sum(r.seconds for r in reached)
        if name == "orders_in_full":
            value, bound = -value, -bound
        elif name == "days_late":
            value, bound = value + short, bound + short
        scale = PER_SCORE if name == "score" else 1
        found.append(Aim(name, value / scale, bound / scale, seconds))
    return tuple(found)


def _planned(
    demand: Demand, built: Mapping[str, dt.date], taken: Chosen, pieces: Sources, rules: PlanRules
) -> PlannedOrder:
    if demand.order_id not in built:
        return PlannedOrder(demand, Outcome.SHORT)
    units = []
    for place, group in enumerate(demand.groups):
        way = group.ways[taken[demand.order_id, place]]
        for n, (key, option) in enumerate(zip(group.units, way.options, strict=True)):
            units.append(PlannedUnit(key, option, pieces[demand.order_id, place, n], group.set_id, way.model))
    day = max((u.waits_until for u in units if u.waits_until is not None), default=rules.today)
    late = None if demand.wanted_on is None else rules.late(demand, day)
    outcome = Outcome.TODAY if day == rules.today else Outcome.LATER
    return PlannedOrder(demand, outcome, day, late, tuple(units))
