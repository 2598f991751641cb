"""Parts of which more is kept for orders than there is: who has the pieces that are there.

What is on hand goes to the orders that have it kept, the one wanted first before the others, of those wanted on one
day by their numbers; orders that need no parts any more come last. The rest is short. Nothing is given free by that:
every piece stays kept until a person releases it, and what arrives goes to those that lack it before anybody else.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from specdb.orders.needs import HELD, NEEDING_PARTS, Part, UnitKey
from specdb.records.rows import Order, Reservation


@dataclass(frozen=True, slots=True)
class Keeping:
    """Pieces of one part that are kept for one club, of a part of which more is kept than there is.

    Attributes
    ----------
    unit : UnitKey
        The club.
    pieces : int
        Pieces kept for it.
    there : int
        Pieces of them that are on hand.
    """

    unit: UnitKey
    pieces: int
    there: int

    @property
    def gone(self) -> int:
        """Pieces that are kept for it and not there."""
        return self.pieces - self.there


Keepings = Mapping[Part, tuple[Keeping, ...]]
"""By part, those served first before the others."""


def keepings_of(
    reservations: Iterable[Reservation],
    orders: Iterable[Order],
    on_hand: Mapping[Part, int],
    parts: Iterable[Part],
) -> dict[Part, tuple[Keeping, ...]]:
    """Who has the pieces that are there, of parts of which more is kept than there is.

    Parameters
    ----------
    reservations : iterable of Reservation
        Of all orders.
    orders : iterable of Order
        The orders; one that is not among them comes last.
    on_hand : mapping of Part to int
        Pieces on hand.
    parts : iterable of Part
        The parts to look at.
    """
    known = {order.id: order for order in orders}
    wanted = set(parts)
    kept: dict[Part, dict[UnitKey, int]] = {}
    for r in reservations:
        if r.state == HELD and (r.kind, r.item_id) in wanted:
            mine = kept.setdefault((r.kind, r.item_id), {})
            key = UnitKey(r.order_id, r.line, r.unit, r.club_id)
            mine[key] = mine.get(key, 0) + r.quantity

    def turn(key: UnitKey) -> tuple[bool, dt.date, UnitKey]:
        order = known.get(key.order_id)
        done = order is None or order.state not in NEEDING_PARTS
        return done, (order.wanted_on if order is not None else None) or dt.date.max, key

    found = {}
    for part, units in sorted(kept.items()):
        left = max(on_hand.get(part, 0), 0)
        some = []
        for key in sorted(units, key=turn):
            there = min(units[key], left)
            left -= there
            some.append(Keeping(key, units[key], there))
        found[part] = tuple(some)
    return found
