"""What can be handed out by each day: the shelf less what is kept for orders, and what arrives on a known day."""

from __future__ import annotations

import datetime as dt

from specdb.orders.demand import PlanRules, Stair, Supply
from specdb.orders.needs import PIECES, Part
from specdb.orders.shelf import Shelf


def supply_of(shelf: Shelf, rules: PlanRules) -> Supply:
    """Pieces that can be handed out by each day.

    What should have come before today and has not, and what has no day, is not counted on: nobody knows when it
    comes. What is expected today is not on the shelf yet and counts from tomorrow.

    Parameters
    ----------
    shelf : Shelf
        The stock.
    rules : PlanRules
        Today, and the last day whose arrivals count.
    """
    stairs = {}
    for part in sorted({*shelf.on_hand, *shelf.arrivals}):
        days, upto = [rules.today], [max(shelf.free(part), 0)]
        for day, pieces in counted_on(shelf, part, rules):
            if day == days[-1]:
                upto[-1] += pieces
            else:
                days.append(day)
                upto.append(upto[-1] + pieces)
        stairs[part] = Stair(tuple(days), tuple(upto))
    return Supply(stairs, frozenset(PIECES) - shelf.kept)


def counted_on(shelf: Shelf, part: Part, rules: PlanRules) -> list[tuple[dt.date, int]]:
    """Arrivals that are counted on, the earliest first.

    Parameters
    ----------
    shelf : Shelf
        The stock.
    part : Part
        Kind and key.
    rules : PlanRules
        Today, and the last day whose arrivals count.
    """
    tomorrow = rules.today + dt.timedelta(1)
    return sorted(
        (max(a.day, tomorrow), a.pieces)
        for a in shelf.arrivals.get(part, ())
        if a.day is not None and rules.today <= a.day <= rules.last and a.pieces > 0
    )
