"""What an allocation is asked: orders with the ways in which their clubs can be built, as plain records.

What is decided together is a :class:`Group`: one club, or all clubs of a set, whose shafts are of one model. A
:class:`Way` of a group is one shaft for each of its clubs, with every piece that must still be had for it. Pieces that
are kept for a club already are none of these: they stay with it.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from specdb.orders.needs import Need, Part, UnitKey

PER_SCORE = 1000
"""Scores are added up in whole thousandths, so that sums are exact."""

HORIZON_DAYS = 365
"""An order left short counts as built that many days from today (stated judgement)."""

USUAL_WAIT_DAYS = 28
"""An order without a day counts as wanted that many days from today (stated judgement)."""

BASE_WEIGHT = 10
URGENT = ((7, 12), (28, 11))
"""Weight of an order by the days until it is wanted; twelve of the rest weigh as much as ten of the most urgent."""


class Standing(StrEnum):
    """How a shaft comes to be the one for a club."""

    FITTED = "fitted"
    APPROVED = "approved"
    PROPOSED = "proposed"


@dataclass(frozen=True, slots=True)
class Option:
    """One shaft that a club may be built with.

    Attributes
    ----------
    shaft_id : str
        The shaft.
    parts : tuple of Need
        Pieces that must still be had if it is taken.
    score : float
        What it costs in score; 0 for the fitted shaft.
    standing : Standing
        Whether it is the fitted one, approved, or to be approved by a person.
    tip_trim_in : float or None
        Tip trim it is proposed with, in.
    preparation : tuple of str
        What the workshop does beside, in words.
    """

    shaft_id: str
    parts: tuple[Need, ...]
    score: float = 0.0
    standing: Standing = Standing.FITTED
    tip_trim_in: float | None = None
    preparation: tuple[str, ...] = ()

    @property
    def points(self) -> int:
        """Score in thousandths."""
        return round(PER_SCORE * self.score)


@dataclass(frozen=True, slots=True)
class Way:
    """One way of building a group.

    Attributes
    ----------
    options : tuple of Option
        One for each club of the group, in its order.
    model : str
        Model of shaft; empty for single clubs.
    """

    options: tuple[Option, ...]
    model: str = ""

    @property
    def points(self) -> int:
        """Score of all its clubs, in thousandths."""
        return sum(o.points for o in self.options)

    @property
    def approvals(self) -> int:
        """Clubs whose stand-in a person has yet to approve."""
        return sum(o.standing is Standing.PROPOSED for o in self.options)

    @property
    def pieces(self) -> Counter[Part]:
        """Pieces that must still be had, by part."""
        found: Counter[Part] = Counter()
        for option in self.options:
            for need in option.parts:
                found[need.part] += need.quantity
        return found


@dataclass(frozen=True, slots=True)
class Group:
    """Clubs that are decided together: one club, or a set.

    Attributes
    ----------
    units : tuple of UnitKey
        The clubs.
    ways : tuple of Way
        Ways of building them; none where there is no shaft for one of them.
    set_id : str or None
        The set.
    dropped : tuple of str
        Approved stand-ins that are no way of building it, with the reason, in plain sentences.
    """

    units: tuple[UnitKey, ...]
    ways: tuple[Way, ...]
    set_id: str | None = None
    dropped: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if any(len(way.options) != len(self.units) for way in self.ways):
            raise ValueError("a way names one shaft for every club of its group")


@dataclass(frozen=True, slots=True)
class Demand:
    """One order.

    Attributes
    ----------
    order_id : str
        The order.
    groups : tuple of Group
        Its clubs that are not finished.
    wanted_on, taken_on : date or None
        Days.
    weight : int or None
        How much it counts among the orders built in full; worked out from the day it is wanted where None.
    obstacles : tuple of str
        Why it cannot be planned at all, in plain sentences; empty where it can.
    """

    order_id: str
    groups: tuple[Group, ...]
    wanted_on: dt.date | None = None
    taken_on: dt.date | None = None
    weight: int | None = None
    obstacles: tuple[str, ...] = ()

    @property
    def turn(self) -> tuple[dt.date, dt.date, str]:
        """Sort key: wanted first, then taken first."""
        return self.wanted_on or dt.date.max, self.taken_on or dt.date.max, self.order_id


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRules:
    """How it is planned.

    Attributes
    ----------
    today : date
        The day it is planned on.
    by : date or None
        Last day whose arrivals are counted on; every known day within :data:`HORIZON_DAYS` where None.
    seconds : float
        Longest time for the solver, s.
    first : tuple of str
        Orders that are built in full whatever it costs the others, if they can be built at all.
    """

    today: dt.date
    by: dt.date | None = None
    seconds: float = 30.0
    first: tuple[str, ...] = ()

    @property
    def horizon(self) -> dt.date:
        """Day on which an order left short counts as built."""
        return self.today + dt.timedelta(HORIZON_DAYS)

    @property
    def last(self) -> dt.date:
        """Last day whose arrivals are counted on."""
        before = self.horizon - dt.timedelta(1)
        return before if self.by is None else min(self.by, before)

    def weight(self, demand: Demand) -> int:
        """How much an order counts among those built in full.

        Parameters
        ----------
        demand : Demand
            The order.
        """
        if demand.weight is not None:
            return demand.weight
        if demand.wanted_on is None:
            return BASE_WEIGHT
        until = (demand.wanted_on - self.today).days
        return next((weight for days, weight in URGENT if until <= days), BASE_WEIGHT)

    def late(self, demand: Demand, day: dt.date) -> int:
        """Days that an order is late if it is built on a day.

        Parameters
        ----------
        demand : Demand
            The order.
        day : date
            The day.
        """
        wanted = demand.wanted_on or self.today + dt.timedelta(USUAL_WAIT_DAYS)
        return max((day - wanted).days, 0)


Holders = Mapping[Part, Mapping[str, int]]
"""Pieces of each part that are kept for orders, by order."""


@dataclass(frozen=True, slots=True)
class Stair:
    """Pieces of one part that can be had by each day.

    Attributes
    ----------
    days : tuple of date
        Today, then every day on which more arrive.
    upto : tuple of int
        Pieces there are from that day on, those of the days before among them.
    """

    days: tuple[dt.date, ...]
    upto: tuple[int, ...]

    def first_day(self, pieces: int) -> dt.date | None:
        """First day on which so many pieces are there, if nobody else takes any; None where never.

        Parameters
        ----------
        pieces : int
            How many.
        """
        return next((day for day, there in zip(self.days, self.upto, strict=True) if there >= pieces), None)


@dataclass(frozen=True, slots=True)
class Supply:
    """All that can be handed out.

    Attributes
    ----------
    stairs : mapping of Part to Stair
        By part; a part that is not named is not there and not expected.
    unbooked : frozenset of str
        Kinds of which the shop books no stock: of these there is always enough.
    """

    stairs: Mapping[Part, Stair] = field(default_factory=dict)
    unbooked: frozenset[str] = frozenset()

    def stair(self, part: Part, today: dt.date) -> Stair:
        """The pieces of a part by day.

        Parameters
        ----------
        part : Part
            Kind and key.
        today : date
            First day of the stair where nothing is known of the part.
        """
        return self.stairs.get(part) or Stair((today,), (0,))
