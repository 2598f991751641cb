"""Where every piece comes from, once it is decided which orders are built by which ways."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from specdb.orders.demand import Demand, Supply
from specdb.orders.needs import Need, Part
from specdb.orders.plan import PlannedPiece

Chosen = Mapping[tuple[str, int], int]
Sources = dict[tuple[str, int, int], tuple[PlannedPiece, ...]]


def pieces_of(demand: Demand, taken: Chosen, supply: Supply) -> Counter[Part]:
    """Pieces that an order takes, of kinds that stock is booked of.

    Parameters
    ----------
    demand : Demand
        The order.
    taken : mapping of (str, int) to int
        Way of each group, by order and place.
    supply : Supply
        What can be handed out.
    """
    found: Counter[Part] = Counter()
    for place, group in enumerate(demand.groups):
        found.update(group.ways[taken[demand.order_id, place]].pieces)
    return Counter({part: count for part, count in found.items() if part[0] not in supply.unbooked})


def as_soon_as_can_be(
    demands: Sequence[Demand], built: Mapping[str, dt.date], taken: Chosen, supply: Supply, today: dt.date
) -> dict[str, dt.date]:
    """Days on which the orders are built, moved forward in turn as far as the pieces go.

    Parameters
    ----------
    demands : sequence of Demand
        The orders, in turn.
    built : mapping of str to date
        Day of each order that is built; there are the pieces for all of them.
    taken : mapping of (str, int) to int
        Way of each of their groups.
    supply : Supply
        What can be handed out.
    today : date
        The first day.
    """
    mine = {d.order_id: pieces_of(d, taken, supply) for d in demands if d.order_id in built}
    days = dict(built)
    left: dict[Part, list[int]] = {}
    for order, pieces in mine.items():
        for part, count in pieces.items():
            stair = supply.stair(part, today)
            rest = left.setdefault(part, list(stair.upto))
            for step, until in enumerate((*stair.days[1:], dt.date.max)):
                if days[order] < until:
                    rest[step] -= count
    for order, pieces in mine.items():
        stairs = {part: supply.stair(part, today).days for part in pieces}
        for day in sorted({today, *(d for some in stairs.values() for d in some if d < days[order])}):
            # from that day until the one it was planned on it takes its pieces as well
            steps = {part: _between(starts, day, days[order]) for part, starts in stairs.items()}
            if day < days[order] and all(left[p][s] >= pieces[p] for p in pieces for s in steps[p]):
                for part, some in steps.items():
                    for step in some:
                        left[part][step] -= pieces[part]
                days[order] = day
                break
    return days


def _between(starts: Sequence[dt.date], first: dt.date, end: dt.date) -> list[int]:
    """Steps of a stair in which a piece must be there from the first day on but was not before the end."""
    ends = (*starts[1:], dt.date.max)
    return [n for n, until in enumerate(ends) if first < until <= end]


def sources_of(
    demands: Sequence[Demand], built: Mapping[str, dt.date], taken: Chosen, supply: Supply, today: dt.date
) -> Sources:
    """Where every piece comes from: of each part the order that is built first has the first piece there is.

    Parameters
    ----------
    demands : sequence of Demand
        The orders, in turn.
    built : mapping of str to date
        Day of each order that is built.
    taken : mapping of (str, int) to int
        Way of each of their groups.
    supply : Supply
        What can be handed out.
    today : date
        The first day.

    Returns
    -------
    dict of (str, int, int) to tuple of PlannedPiece
        By order, place of the group, place of the club in it.
    """
    left: dict[Part, list[int]] = {}
    found: Sources = {}
    # sorted() keeps the turn among those of one day
    for demand in sorted((d for d in demands if d.order_id in built), key=lambda d: built[d.order_id]):
        for place, group in enumerate(demand.groups):
            for unit, option in enumerate(group.ways[taken[demand.order_id, place]].options):
                mine: list[PlannedPiece] = []
                for need in option.parts:
                    if need.kind in supply.unbooked:
                        mine.append(PlannedPiece(need))
                        continue
                    stair = supply.stair(need.part, today)
                    if need.part not in left:
                        before = (0, *stair.upto[:-1])
                        left[need.part] = [upto - less for upto, less in zip(stair.upto, before, strict=True)]
                    mine += _served(need, left[need.part], stair.days)
                found[demand.order_id, place, unit] = tuple(mine)
    return found


def _served(need: Need, steps: list[int], days: Sequence[dt.date]) -> list[PlannedPiece]:
    wanted, found = need.quantity, []
    for number, there in enumerate(steps):
        count = min(wanted, there)
        if count:
            steps[number] -= count
            wanted -= count
            found.append(PlannedPiece(replace(need, quantity=count), days[number] if number else None))
    if wanted:
        raise ValueError(f"{need.kind} {need.item_id}: more would be handed out than there is")
    return found
