"""Which open orders can be built, when and with which shafts, chosen for all of them together.

An integer programme, solved by HiGHS through :func:`scipy.optimize.milp`. A *choice* is one club of an order (or one
set, which takes all its shafts from one model) with one of its shafts; the pieces it needs come from the shelf or from
what is on its way by the day the order is built. With ``x[c, o, t]`` one where choice ``c`` takes option ``o`` and its
order is built at ``t``, and ``y[i, t]`` one where order ``i`` is built at ``t``:

``Σ_t y[i, t] <= 1``; ``Σ_o x[c, o, t] = y[i, t]`` for every choice of the order; and for every part and day, what is
used up to that day is at most what there is by then.

Two programmes are solved one after the other: as many orders in full as can be; and among those plans the one that
costs least: score of the stand-ins, days late, and a little for each stand-in that a person must still approve.

References
----------
Nemhauser & Wolsey, *Integer and Combinatorial Optimization*, chapter I.1 (assignment with resource rows).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from specdb.orders.needs import Part

FloatArray = npt.NDArray[np.float64]

# stated judgements: what counts like a unit of score
SCORE_A_DAY_LATE = 0.10
SCORE_A_DAY_WAITED = 0.002
SCORE_TO_APPROVE = 0.05
DEFAULT_GAP = 0.0
DEFAULT_SECONDS = 30.0


@dataclass(frozen=True, slots=True)
class Option:
    """One way of building a club or a set: its shafts with everything else.

    Attributes
    ----------
    name : str
        The shaft, or the model of a set.
    needs : mapping of Part to int
        Pieces that are not kept for it already.
    score : float
        Of the stand-in, 0 for the fitted shaft; of a set, summed over its clubs.
    to_approve : int
        Stand-ins in it that a person has not approved yet.
    shafts : tuple of (str, str, float or None)
        Club, shaft and tip trim (in), one a club.
    """

    name: str
    needs: Mapping[Part, int]
    score: float = 0.0
    to_approve: int = 0
    shafts: tuple[tuple[str, str, float | None], ...] = ()


@dataclass(frozen=True, slots=True)
class Wish:
    """One order.

    Attributes
    ----------
    order_id : str
        Its key.
    wanted_on : date or None
        Day it is wanted.
    choices : tuple of tuple of Option
        For each club or set of the order, its options; an empty one cannot be built at all.
    cannot : tuple of str
        Why it cannot be built whatever lies on the shelf; empty where it can.
    """

    order_id: str
    wanted_on: dt.date | None
    choices: tuple[tuple[Option, ...], ...]
    cannot: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stores:
    """What there is and what comes.

    Attributes
    ----------
    free : mapping of Part to int
        Pieces on hand that are kept for nobody.
    arrivals : mapping of Part to sequence of (date, int)
        Pieces by the day they are expected; those without a day do not count.
    unbooked : frozenset of str
        Kinds of which the shop books no stock: nobody knows, so they are never short.
    """

    free: Mapping[Part, int]
    arrivals: Mapping[Part, Sequence[tuple[dt.date, int]]] = field(default_factory=dict)
    unbooked: frozenset[str] = frozenset()

    def by(self, part: Part, day: dt.date) -> int:
        """Pieces there are by a day.

        Parameters
        ----------
        part : Part
            Kind and key.
        day : date
            The day.
        """
        return max(self.free.get(part, 0), 0) + sum(n for d, n in self.arrivals.get(part, ()) if d <= day)


@dataclass(frozen=True, slots=True)
class Planned:
    """One order in the plan.

    Attributes
    ----------
    order_id : str
        Its key.
    day : date or None
        Day from which all its parts are there; None where it is left short.
    options : tuple of Option
        What each of its clubs and sets is built with; empty where it is left short.
    reasons : tuple of str
        Why it is left short.
    """

    order_id: str
    day: dt.date | None
    options: tuple[Option, ...] = ()
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan for all orders.

    Attributes
    ----------
    orders : tuple of Planned
        In the order of the wishes.
    cost : float
        Score, days and approvals of what is built.
    gap : float
        How far the cost may be above the least possible, as a part of it: 0 is proved best.
    built_gap : float
        The same of the number of orders built.
    seconds : float
        Time the programmes took.
    """

    orders: tuple[Planned, ...]
    cost: float
    gap: float
    built_gap: float
    seconds: float

    @property
    def built(self) -> int:
        """Orders that are built in full."""
        return sum(p.day is not None for p in self.orders)


def cost_of(wish: Wish, options: Sequence[Option], day: dt.date, today: dt.date) -> float:
    """What it costs to build an order with some options on a day.

    Parameters
    ----------
    wish : Wish
        The order.
    options : sequence of Option
        One for each of its choices.
    day, today : date
        When it is built, and the day of the plan.
    """
    late = 0 if wish.wanted_on is None else max((day - max(wish.wanted_on, today)).days, 0)
    waited = (day - today).days
    own = sum(o.score + SCORE_TO_APPROVE * o.to_approve for o in options)
    return own + SCORE_A_DAY_LATE * late + SCORE_A_DAY_WAITED * waited


def days_of(wish: Wish, stores: Stores, today: dt.date) -> list[dt.date]:
    """Days on which an order could first be built: today, and when one of its parts arrives.

    Parameters
    ----------
    wish : Wish
        The order.
    stores : Stores
        What there is and what comes.
    today : date
        The day of the plan.
    """
    parts = {part for choice in wish.choices for option in choice for part in option.needs}
    coming = {d for part in parts for d, _ in stores.arrivals.get(part, ()) if d > today}
    return [today, *sorted(coming)]


def allocate(
    wishes: Sequence[Wish],
    stores: Stores,
    today: dt.date,
    *,
    gap: float = DEFAULT_GAP,
    seconds: float = DEFAULT_SECONDS,
) -> Plan:
    """Plan all orders together.

    Parameters
    ----------
    wishes : sequence of Wish
        The orders; the same question has the same answer.
    stores : Stores
        What there is and what comes.
    today : date
        The day of the plan.
    gap : float
        Part by which the cost may be above the least possible.
    seconds : float
        Most time for each of the two programmes, s.

    Returns
    -------
    Plan
        With a reason for every order that is left short.
    """
    from specdb.orders.allocation_model import solve_model
    from specdb.orders.allocation_reasons import reasons_for

    open_ones = [w for w in wishes if not w.cannot and w.choices and all(w.choices)]
    solved = solve_model(open_ones, stores, today, gap=gap, seconds=seconds)
    taken = dict(zip((w.order_id for w in open_ones), solved.chosen, strict=True))
    planned = []
    for wish in wishes:
        got = taken.get(wish.order_id)
        if got is None:
            planned.append(Planned(wish.order_id, None))
        else:
            planned.append(Planned(wish.order_id, got[0], got[1]))
    reasons = reasons_for(wishes, planned, stores, today)
    orders = tuple(
        p if p.day is not None else Planned(p.order_id, None, (), tuple(r))
        for p, r in zip(planned, reasons, strict=True)
    )
    return Plan(orders, solved.cost, solved.gap, solved.built_gap, solved.seconds)
