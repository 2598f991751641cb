"""The allocation of one company of contending orders as an integer programme, solved one aim after the other.

Unknowns: *y* (order, day) is 1 where an order is built in full on a day; *x* (cluster, way, day) counts the groups of
a cluster that are built in a way with pieces taken from that day on. By every day of an order as many of its groups
have their pieces as it needs if it is built by then, and an order left short takes none:

    Σ y ≤ 1;    Σ x up to a day ≥ n · Σ y up to that day;    Σ x = n · Σ y

and of no part more is taken by any day than there is: ``Σ q · x before the next arrival ≤ pieces there are``.

Aims, each held while the next is sought: most weight of orders in full; fewest days late; least score; fewest
stand-ins to approve; soonest, whose turn comes first before others. All coefficients are whole numbers.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from specdb.orders.demand import PlanRules, Supply
from specdb.orders.needs import Part
from specdb.orders.reduce import OrderCase

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Column:
    """One unknown.

    Attributes
    ----------
    order : int
        Place of the order.
    day : date
        Day on which it is built, or from which the pieces are taken.
    upper : int
        Largest value.
    cluster, way : int
        Which way of which cluster; below zero for the order itself.
    """

    order: int
    day: dt.date
    upper: int = 1
    cluster: int = -1
    way: int = -1


class Programme:
    """The programme of one company, as rows and columns.

    Parameters
    ----------
    cases : sequence of OrderCase
        The orders, in turn.
    supply : Supply
        What can be handed out.
    rules : PlanRules
        How it is planned.
    """

    def __init__(self, cases: Sequence[OrderCase], supply: Supply, rules: PlanRules) -> None:
        self.cases, self._supply, self._rules = cases, supply, rules
        self.columns: list[Column] = []
        self._entries: list[tuple[int, int, int]] = []
        self._low: list[float] = []
        self._high: list[float] = []
        self._once: list[int] = []
        takes: dict[Part, list[tuple[dt.date, int, int]]] = {}
        for o, case in enumerate(cases):
            days = [(day, self._column(Column(o, day))) for day in case.days]
            self._once.append(len(self._low))
            self._row([(column, 1) for _, column in days], -np.inf, 1)
            for k, cluster in enumerate(case.clusters):
                count = len(cluster.groups)
                mine: list[tuple[dt.date, int]] = []
                for w, way in enumerate(cluster.ways):
                    for day in way.days:
                        column = self._column(Column(o, day, count, k, w))
                        mine.append((day, column))
                        for part, pieces in way.pieces:
                            takes.setdefault(part, []).append((day, column, pieces))
                self._follow(days, mine, count)
        for part, some in sorted(takes.items()):
            self._hold(part, some)
        self.aims = (self._in_full(), self._late(), self._cost("points"), self._cost("approvals"), self._soonest())

    def _column(self, column: Column) -> int:
        self.columns.append(column)
        return len(self.columns) - 1

    def _row(self, entries: Sequence[tuple[int, int]], low: float, high: float) -> None:
        self._entries += [(len(self._low), column, value) for column, value in entries]
        self._low.append(low)
        self._high.append(high)

    def _follow(self, days: Sequence[tuple[dt.date, int]], mine: Sequence[tuple[dt.date, int]], count: int) -> None:
        """An order is built by a day only if its groups have their pieces by then; left short, they take none."""
        last = max(day for day, _ in mine)
        for until, _ in days:
            if until < last and until != days[-1][0]:
                entries = [(c, 1) for day, c in mine if day <= until] + [(c, -count) for day, c in days if day <= until]
                self._row(entries, 0, np.inf)
        self._row([(c, 1) for _, c in mine] + [(c, -count) for _, c in days], 0, 0)

    def _hold(self, part: Part, takes: Sequence[tuple[dt.date, int, int]]) -> None:
        """By no day more is taken of a part than there is."""
        stair = self._supply.stair(part, self._rules.today)
        for there, until in zip(stair.upto, (*stair.days[1:], dt.date.max), strict=True):
            entries = [(column, pieces) for day, column, pieces in takes if day < until]
            if sum(pieces * self.columns[column].upper for column, pieces in entries) > there:
                self._row(entries, -np.inf, there)

    def _in_full(self) -> FloatArray:
        return np.array([-self._rules.weight(self.cases[c.order].demand) if c.cluster < 0 else 0 for c in self.columns])

    def _late(self) -> FloatArray:
        """Days late of what is built, less the days late that the order left short would count."""
        rules, found = self._rules, np.zeros(len(self.columns))
        for i, c in enumerate(self.columns):
            if c.cluster < 0:
                demand = self.cases[c.order].demand
                found[i] = rules.late(demand, c.day) - rules.late(demand, rules.horizon)
        return found

    def _cost(self, name: str) -> FloatArray:
        return np.array(
            [
                0 if c.cluster < 0 else getattr(self.cases[c.order].clusters[c.cluster].ways[c.way], name)
                for c in self.columns
            ],
            dtype=np.float64,
        )

    def _soonest(self) -> FloatArray:
        """Days less than to the horizon, up to twice as much for the orders that come first."""
        total = len(self.cases)
        return np.array(
            [
                0 if c.cluster >= 0 else (2 * total - c.order) * ((c.day - self._rules.horizon).days)
                for c in self.columns
            ],
            dtype=np.float64,
        )

    @property
    def offsets(self) -> tuple[int, ...]:
        """What each aim counts where nothing is built."""
        rules = self._rules
        return 0, sum(rules.late(c.demand, rules.horizon) for c in self.cases), 0, 0

    @cached_property
    def matrix(self) -> Any:  # noqa: ANN401 - scipy ships no types
        """Coefficients of the rows, sparse, shape (rows, columns)."""
        from scipy.sparse import csr_array

        rows, columns, values = np.array(self._entries, dtype=np.int64).T
        return csr_array((values, (rows, columns)), shape=(len(self._low), len(self.columns)))

    @property
    def upper(self) -> FloatArray:
        """Largest values, shape (columns,)."""
        return np.array([c.upper for c in self.columns], dtype=np.float64)

    def limits(self, forced: Sequence[int] = ()) -> tuple[FloatArray, FloatArray]:
        """Lower and upper limits of the rows, shape (rows,) each.

        Parameters
        ----------
        forced : sequence of int
            Orders that must be built in full, by their place.
        """
        low, high = np.array(self._low), np.array(self._high)
        for order in forced:
            low[self._once[order]] = 1
        return low, high

    def least(self, number: int, kept: Sequence[tuple[FloatArray, int]]) -> int:
        """What an aim cannot get below, without solving anything.

        Parameters
        ----------
        number : int
            Which aim.
        kept : sequence of (ndarray, int)
            Aims before with what they reached.
        """
        aim = self.aims[number]
        best: dict[tuple[int, int], float] = {}
        for c, value in zip(self.columns, aim.tolist(), strict=True):
            key = (c.order, c.cluster)
            best[key] = min(best.get(key, np.inf), value * c.upper)
        everything = bool(kept) and kept[0][1] == -sum(self._rules.weight(case.demand) for case in self.cases)
        return round(sum(best.values() if everything else (min(v, 0.0) for v in best.values())))

    def in_turn(self) -> IntArray:
        """A plan made without looking ahead: order after order, as early as it can be, the cheapest ways."""
        x = np.zeros(len(self.columns), dtype=np.int64)
        mine: dict[int, list[int]] = {}
        for number, column in enumerate(self.columns):
            mine.setdefault(column.order, []).append(number)
        left = {part: list(stair.upto) for part, stair in self._supply.stairs.items()}
        for order, numbers in mine.items():
            for day_column in (n for n in numbers if self.columns[n].cluster < 0):
                tried = {part: list(left[part]) for part in self.cases[order].scarce}
                chosen = self._groups_by(order, numbers, self.columns[day_column].day, tried)
                if chosen is not None:
                    x[day_column] = 1
                    np.add.at(x, chosen, 1)
                    left.update(tried)
                    break
        return x

    def _groups_by(
        self, order: int, numbers: Sequence[int], until: dt.date, left: dict[Part, list[int]]
    ) -> list[int] | None:
        chosen = []
        for k, cluster in enumerate(self.cases[order].clusters):
            mine = [n for n in numbers if self.columns[n].cluster == k and self.columns[n].day <= until]
            ways = [cluster.ways[self.columns[n].way] for n in mine]
            # the cheapest; of one way the latest day, which leaves the earlier pieces to others
            places = sorted(
                range(len(mine)),
                key=lambda i: (
                    ways[i].points,
                    ways[i].approvals,
                    ways[i].number,
                    -self.columns[mine[i]].day.toordinal(),
                ),
            )
            for _ in cluster.groups:
                found = next((i for i in places if self._take(ways[i].pieces, self.columns[mine[i]].day, left)), None)
                if found is None:
                    return None
                chosen.append(mine[found])
        return chosen

    def _take(self, pieces: Sequence[tuple[Part, int]], day: dt.date, left: dict[Part, list[int]]) -> bool:
        """Take pieces from a day on, if they are there then and on every day after."""
        first = {part: bisect_right(self._supply.stairs[part].days, day) - 1 for part, _ in pieces}
        if any(min(left[part][first[part] :]) < count for part, count in pieces):
            return False
        for part, count in pieces:
            for step in range(first[part], len(left[part])):
                left[part][step] -= count
        return True
