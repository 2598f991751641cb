"""What can be handed out by each day: the shelf less what is kept for orders, and what arrives on a known day.

Where more is kept than there is, what arrives goes to those whose pieces are not there before anybody else.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from specdb.orders.demand import PlanRules, Stair, Supply
from specdb.orders.needs import PIECES, Part, claimed
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
    for part in sorted({*shelf.on_hand, *shelf.arrivals, *shelf.held}):
        days, upto = [rules.today], [shelf.on_hand.get(part, 0)]
        for day, pieces in counted_on(shelf, part, rules):
            if day == days[-1]:
                upto[-1] += pieces
            else:
                days.append(day)
                upto.append(upto[-1] + pieces)
        held = shelf.held.get(part, 0)
        stairs[part] = Stair(tuple(days), tuple(max(there - held, 0) for there in upto))
        for order, some in _claims(shelf, part, upto).items():
            stairs[claimed(part, order)] = Stair(tuple(days), some)
    return Supply(stairs, frozenset(PIECES) - shelf.kept)


def _claims(shelf: Shelf, part: Part, upto: Sequence[int]) -> dict[str, tuple[int, ...]]:
    """Pieces that arrive for orders that have them kept already, by order and day."""
    found: dict[str, tuple[int, ...]] = {}
    before = 0
    for k in shelf.keepings.get(part, ()):
        mine = [min(max(there - before - k.there, 0), k.gone) for there in upto]
        before += k.pieces
        if k.gone:
            known = found.get(k.unit.order_id, (0,) * len(upto))
            found[k.unit.order_id] = tuple(a + b for a, b in zip(known, mine, strict=True))
    return found


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
