"""The plan: which order is built in full on which day, from which shafts and pieces, and why the others are not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from specdb.orders.demand import PER_SCORE, Demand, Option, Standing
from specdb.orders.needs import Need, Part, UnitKey


class Outcome(StrEnum):
    """What becomes of an order."""

    TODAY = "today"
    LATER = "later"
    SHORT = "short"


@dataclass(frozen=True, slots=True)
class PlannedPiece:
    """Pieces of one part for one club.

    Attributes
    ----------
    need : Need
        Part and pieces.
    arrives_on : date or None
        Day on which they arrive; None where they are on the shelf.
    """

    need: Need
    arrives_on: dt.date | None = None


@dataclass(frozen=True, slots=True)
class PlannedUnit:
    """One club of an order that is built in full.

    Attributes
    ----------
    key : UnitKey
        The club.
    option : Option
        Its shaft.
    pieces : tuple of PlannedPiece
        Where the pieces that must still be had come from.
    set_id : str or None
        The set it belongs to.
    model : str
        Model of shaft of the set.
    """

    key: UnitKey
    option: Option
    pieces: tuple[PlannedPiece, ...]
    set_id: str | None = None
    model: str = ""

    @property
    def waits_until(self) -> dt.date | None:
        """Day on which the last of its pieces arrives; None where all are on the shelf."""
        return max((p.arrives_on for p in self.pieces if p.arrives_on is not None), default=None)

    @property
    def shaft_comes_on(self) -> dt.date | None:
        """Day on which its shaft arrives; None where that is on the shelf."""
        days = (p.arrives_on for p in self.pieces if p.need.kind == "shaft" and p.arrives_on is not None)
        return max(days, default=None)


@dataclass(frozen=True, slots=True)
class Lack:
    """One part that keeps an order from being built, or from being built sooner.

    Attributes
    ----------
    part : Part
        Kind and key.
    needed : int
        Pieces that the order still needs.
    clubs : tuple of str
        The clubs they go into.
    on_hand : int
        Pieces on the shelf, those kept for orders among them.
    kept_for : tuple of (str, int)
        Orders that pieces on the shelf are kept for already.
    goes_to : tuple of (str, int)
        Orders that free or arriving pieces go to in this plan.
    expected : tuple of (date or None, int)
        Pieces on their way, with the day; None where nobody knows it, or the day is past.
    comes_on : date or None
        Day on which the pieces for this order come, in this plan.
    retired : bool
        Whether the part is no longer offered.
    gone : int
        Pieces of those needed that are kept for the order and not there.
    """

    part: Part
    needed: int
    clubs: tuple[str, ...]
    on_hand: int
    kept_for: tuple[tuple[str, int], ...] = ()
    goes_to: tuple[tuple[str, int], ...] = ()
    expected: tuple[tuple[dt.date | None, int], ...] = ()
    comes_on: dt.date | None = None
    retired: bool = False
    gone: int = 0


@dataclass(frozen=True, slots=True)
class PlannedOrder:
    """One order.

    Attributes
    ----------
    demand : Demand
        What was asked.
    outcome : Outcome
        What becomes of it.
    day : date or None
        Day on which all its pieces are there; None where it is left short.
    days_late : int or None
        Days after the day it is wanted; None where it is left short or no day is wanted.
    units : tuple of PlannedUnit
        Its clubs; none where it is left short.
    lacks : tuple of Lack
        The parts that keep it from being built, or from being built today.
    reasons : tuple of str
        Why it is left short or waits, in plain sentences.
    """

    demand: Demand
    outcome: Outcome
    day: dt.date | None = None
    days_late: int | None = None
    units: tuple[PlannedUnit, ...] = ()
    lacks: tuple[Lack, ...] = ()
    reasons: tuple[str, ...] = ()

    @property
    def order_id(self) -> str:
        """The order."""
        return self.demand.order_id

    @property
    def to_approve(self) -> tuple[PlannedUnit, ...]:
        """Clubs whose stand-in a person has yet to approve."""
        return tuple(u for u in self.units if u.option.standing is Standing.PROPOSED)

    @property
    def score(self) -> float:
        """Score of all its shafts, added up."""
        return sum(u.option.points for u in self.units) / PER_SCORE

    def from_shelf(self) -> Iterator[tuple[UnitKey, Need]]:
        """Pieces that it takes from the shelf."""
        for unit in self.units:
            for piece in unit.pieces:
                if piece.arrives_on is None:
                    yield unit.key, piece.need


@dataclass(frozen=True, slots=True)
class Aim:
    """One aim of the plan.

    Attributes
    ----------
    name : str
        Such as ``days_late``.
    value, bound : float
        What the plan reaches, and what is proved not to be bettered while the aims before are kept.
    seconds : float
        Time the solver took.
    """

    name: str
    value: float
    bound: float
    seconds: float

    @property
    def gap(self) -> float:
        """How far the plan may be from the best, as a part of its value."""
        return abs(self.value - self.bound) / max(abs(self.value), 1.0)


@dataclass(frozen=True, slots=True)
class Plan:
    """All open orders against the shelf and what is expected.

    Attributes
    ----------
    today : date
        The day it is planned on.
    by : date or None
        Last day whose arrivals were counted on, where one was asked for.
    orders : tuple of PlannedOrder
        In turn: wanted first, taken first.
    aims : tuple of Aim
        What was sought, the first before all others.
    seconds : float
        Time it took.
    stopped : bool
        Whether a person stopped it before the best plan was found and proved.
    """

    today: dt.date
    by: dt.date | None
    orders: tuple[PlannedOrder, ...]
    aims: tuple[Aim, ...]
    seconds: float
    stopped: bool = False

    @property
    def gap(self) -> float:
        """The largest gap of any aim."""
        return max((aim.gap for aim in self.aims), default=0.0)

    @property
    def proved(self) -> bool:
        """Whether no plan can be better."""
        return self.gap == 0.0

    @property
    def built(self) -> int:
        """Orders that are built in full, today or later."""
        return sum(o.outcome is not Outcome.SHORT for o in self.orders)

    def of(self, outcome: Outcome) -> tuple[PlannedOrder, ...]:
        """Orders with an outcome.

        Parameters
        ----------
        outcome : Outcome
            The outcome.
        """
        return tuple(o for o in self.orders if o.outcome is outcome)
