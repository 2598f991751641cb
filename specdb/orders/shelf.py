"""What lies on the shelf, what of it is kept for orders, and what is on its way."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from specdb.orders.keepings import Keepings
from specdb.orders.needs import Part, UnitKey


@dataclass(frozen=True, slots=True)
class Arrival:
    """Pieces that are on order with a supplier.

    Attributes
    ----------
    pieces : int
        How many.
    day : date or None
        When they are expected; None where nobody knows.
    """

    pieces: int
    day: dt.date | None


@dataclass(frozen=True, slots=True)
class Shelf:
    """Stock by part.

    Attributes
    ----------
    on_hand : mapping of Part to int
        Pieces on hand.
    held : mapping of Part to int
        Pieces of them that are kept for orders.
    arrivals : mapping of Part to tuple of Arrival
        What is on order, the earliest first and those without a day last.
    kept : frozenset of str
        Kinds that stock is booked of. Of the others nobody knows how many there are, so none is called short.
    retired : frozenset of Part
        Parts that are no longer offered.
    keepings : mapping of Part to tuple of Keeping
        Of the parts of which more is kept than there is, who has what is there.
    """

    on_hand: Mapping[Part, int] = field(default_factory=dict)
    held: Mapping[Part, int] = field(default_factory=dict)
    arrivals: Mapping[Part, tuple[Arrival, ...]] = field(default_factory=dict)
    kept: frozenset[str] = frozenset()
    retired: frozenset[Part] = frozenset()
    keepings: Keepings = field(default_factory=dict)

    def gone(self, part: Part, unit: UnitKey) -> int:
        """Pieces that are kept for a club and not there.

        Parameters
        ----------
        part : Part
            Kind and key.
        unit : UnitKey
            The club.
        """
        return sum(k.gone for k in self.keepings.get(part, ()) if k.unit == unit)

    def free(self, part: Part) -> int:
        """Pieces on hand that are kept for nobody; below zero where more are kept than there are.

        Parameters
        ----------
        part : Part
            Kind and key.
        """
        return self.on_hand.get(part, 0) - self.held.get(part, 0)

    def by(self, part: Part, day: dt.date | None) -> bool:
        """Whether any pieces of a part are expected by a day; no where the day is not known.

        Parameters
        ----------
        part : Part
            Kind and key.
        day : date or None
            The day.
        """
        if day is None:
            return False
        return any(a.day is not None and a.day <= day for a in self.arrivals.get(part, ()) if a.pieces > 0)

    @property
    def beyond(self) -> dict[Part, int]:
        """Parts of which more is kept than there is, with how many are missing."""
        missing = {part: -self.free(part) for part, pieces in self.held.items() if pieces > 0}
        return {part: count for part, count in sorted(missing.items()) if count > 0}
