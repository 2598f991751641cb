"""The integer programme of the allocation: built as sparse rows, solved twice by HiGHS."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from specdb.errors import MechanicsError
from specdb.orders.allocation import Option, Stores, Wish, cost_of, days_of
from specdb.orders.needs import Part

FloatArray = npt.NDArray[np.float64]
Chosen = tuple[dt.date, tuple[Option, ...]]


@dataclass(frozen=True, slots=True)
class Solved:
    """What the programmes gave: for each order the day and its options, or None."""

    chosen: tuple[Chosen | None, ...]
    cost: float
    gap: float
    built_gap: float
    seconds: float


@dataclass(slots=True)
class _Rows:
    """Sparse rows with bounds, one after the other."""

    row: list[int] = field(default_factory=list)
    column: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(self, terms: Sequence[tuple[int, float]], low: float, high: float) -> None:
        """One row."""
        number = len(self.low)
        for column, value in terms:
            self.row.append(number)
            self.column.append(column)
            self.value.append(value)
        self.low.append(low)
        self.high.append(high)


def solve_model(wishes: Sequence[Wish], stores: Stores, today: dt.date, *, gap: float, seconds: float) -> Solved:
    """Solve both programmes.

    Parameters
    ----------
    wishes : sequence of Wish
        Orders that can be built at all.
    stores : Stores
        What there is and what comes.
    today : date
        The day of the plan.
    gap, seconds : float
        As in :func:`specdb.orders.allocation.allocate`.
    """
    began = time.perf_counter()
    if not wishes:
        return Solved((), 0.0, 0.0, 0.0, 0.0)
    rows = _Rows()
    cost: list[float] = []
    order_at: list[list[tuple[int, dt.date]]] = []  # columns of y
    option_at: list[list[list[tuple[int, dt.date, Option]]]] = []  # columns of x, by choice
    uses: dict[Part, list[tuple[dt.date, int, int]]] = {}
    for wish in wishes:
        columns = []
        for day in days_of(wish, stores, today):
            if all(any(_there(o, stores, day) for o in choice) for choice in wish.choices):
                columns.append((len(cost), day))
                cost.append(cost_of(wish, (), day, today))
        order_at.append(columns)
        rows.add([(c, 1.0) for c, _ in columns], 0.0, 1.0)
        own: list[list[tuple[int, dt.date, Option]]] = []
        for choice in wish.choices:
            mine: list[tuple[int, dt.date, Option]] = []
            for y, day in columns:
                terms = []
                for option in choice:
                    if not _there(option, stores, day):
                        continue
                    x = len(cost)
                    cost.append(cost_of(wish, (option,), today, today))
                    mine.append((x, day, option))
                    terms.append((x, 1.0))
                    for part, pieces in option.needs.items():
                        if part[0] not in stores.unbooked and pieces:
                            uses.setdefault(part, []).append((day, x, pieces))
                rows.add([*terms, (y, -1.0)], 0.0, 0.0)
            own.append(mine)
        option_at.append(own)
    _stock_rows(rows, uses, stores)
    built = np.zeros(len(cost))
    for columns in order_at:
        for y, _ in columns:
            built[y] = 1.0
    many, built_gap = _milp(-built, rows, gap=0.0, seconds=seconds)
    best = round(float(built @ many))
    rows.add([(int(c), 1.0) for c in np.flatnonzero(built)], best, np.inf)
    price = np.array(cost)
    found, cost_gap = _milp(price, rows, gap=gap, seconds=seconds, start=many)
    chosen = tuple(_read(o, x, found) for o, x in zip(order_at, option_at, strict=True))
    return Solved(chosen, float(price @ np.round(found)), cost_gap, built_gap, time.perf_counter() - began)


def _there(option: Option, stores: Stores, day: dt.date) -> bool:
    """Whether the pieces of an option are there by a day, if nobody else took any."""
    return all(part[0] in stores.unbooked or stores.by(part, day) >= n for part, n in option.needs.items())


def _stock_rows(rows: _Rows, uses: dict[Part, list[tuple[dt.date, int, int]]], stores: Stores) -> None:
    """For every part and day: what is used up to that day is at most what there is by then."""
    for part, some in sorted(uses.items()):
        days = sorted({day for day, _, _ in some})
        for day in days:
            there = stores.by(part, day)
            terms = [(x, float(pieces)) for d, x, pieces in some if d <= day]
            if sum(pieces for _, pieces in terms) > there:
                rows.add(terms, -np.inf, float(there))


def _milp(
    price: FloatArray, rows: _Rows, *, gap: float, seconds: float, start: FloatArray | None = None
) -> tuple[FloatArray, float]:
    """Least ``price @ x`` over zeros and ones that keep the rows, and the gap that is left."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    if not price.size:
        return np.zeros(0), 0.0
    matrix = coo_array((rows.value, (rows.row, rows.column)), shape=(len(rows.low), price.size)).tocsr()
    found = milp(
        price,
        constraints=LinearConstraint(matrix, rows.low, rows.high),
        integrality=np.ones(price.size),
        bounds=Bounds(0.0, 1.0),
        options={"mip_rel_gap": gap, "time_limit": seconds},
    )
    if found.x is not None:
        left = 0.0 if found.mip_gap is None else float(found.mip_gap)
        whole: FloatArray = np.rint(np.asarray(found.x, dtype=np.float64))
        return whole, left
    if start is not None:
        return start, 1.0  # in time for no better one: the plan of the first programme stands
    if found.status == 1:
        return np.zeros(price.size), 1.0  # building nothing keeps every row
    raise MechanicsError(f"the allocation has no solution: {found.message}")


def _read(
    order_at: Sequence[tuple[int, dt.date]],
    option_at: Sequence[Sequence[tuple[int, dt.date, Option]]],
    found: FloatArray,
) -> Chosen | None:
    day = next((d for y, d in order_at if found[y] > 0.5), None)
    if day is None:
        return None
    return day, tuple(next(o for x, d, o in mine if d == day and found[x] > 0.5) for mine in option_at)
