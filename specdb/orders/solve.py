"""One company of contending orders solved: one aim after the other, each proved as far as the time goes."""

from __future__ import annotations

import datetime as dt
import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.orders.apart import Question, Solver
from specdb.orders.programme import Programme

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

AIMS = ("orders_in_full", "days_late", "score", "to_approve")
_LEAST_SECONDS = 0.2
_NOTHING_PROVED = -(10**15)
_FEW_COLUMNS = 1500  # of so many the soonest plan among the best is quickly found


@dataclass(frozen=True, slots=True)
class Reached:
    """One aim of one company: what was reached, and what is proved not to be bettered.

    Attributes
    ----------
    value : int
        Of the plan. The less the better: the weight of the orders in full is negative.
    bound : int
        No plan that keeps the aims before has less.
    seconds : float
        Time it took.
    """

    value: int
    bound: int
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Solved:
    """What was decided for one company.

    Attributes
    ----------
    built : mapping of str to date
        Day of every order that is built in full.
    taken : mapping of (str, int) to (int, date)
        Way of each group of those orders, and the day from which it has its pieces, by order and place.
    reached : tuple of Reached
        One for each of :data:`AIMS`.
    """

    built: dict[str, dt.date]
    taken: dict[tuple[str, int], tuple[int, dt.date]]
    reached: tuple[Reached, ...]


def solve(programme: Programme, deadline: float, forced: Sequence[int] = (), solver: Solver | None = None) -> Solved:
    """Solve one company.

    Parameters
    ----------
    programme : Programme
        Rows and columns.
    deadline : float
        Time on the clock of :func:`time.perf_counter` at which to stop, s.
    forced : sequence of int
        Orders that are to be built in full, by their place; where they cannot be, as if none were named.
    solver : Solver or None
        What solves it; where it is stopped, the best plan found until then stands, and its bound is what was proved.
    """
    solver = solver or Solver()
    best: IntArray | None = None if forced else programme.in_turn()
    limits = programme.limits(forced)
    kept: list[tuple[FloatArray, int]] = []
    reached = []
    few = len(programme.columns) <= _FEW_COLUMNS
    for number, aim in enumerate(programme.aims if few else programme.aims[: len(AIMS)]):
        start = time.perf_counter()
        least = programme.least(number, kept)
        if best is None or value_of(aim, best) > least:
            seconds = max((deadline - start) / 2.0, _LEAST_SECONDS)
            found, proved = _best(programme, aim, kept, limits, seconds, solver)
            if found is not None and (best is None or value_of(aim, found) < value_of(aim, best)):
                best = found
            if best is None:
                return solve(programme, deadline, (), solver)
            least = max(least, min(proved, value_of(aim, best)))
        value = value_of(aim, best)
        kept.append((aim, value))
        offset = programme.offsets[number] if number < len(AIMS) else 0
        reached.append(Reached(value + offset, least + offset, time.perf_counter() - start))
    if best is None:
        raise ValueError("a programme has aims")
    return _written(programme, best, tuple(reached[: len(AIMS)]))


def value_of(aim: FloatArray, x: IntArray) -> int:
    """What an aim counts, exactly.

    Parameters
    ----------
    aim : ndarray, shape (columns,)
        Whole coefficients.
    x : ndarray of int, shape (columns,)
        The plan.
    """
    return round(float(aim @ x))


def _best(
    programme: Programme,
    aim: FloatArray,
    kept: Sequence[tuple[FloatArray, int]],
    limits: tuple[FloatArray, FloatArray],
    seconds: float,
    solver: Solver,
) -> tuple[IntArray | None, int]:
    """The best plan found for one aim that keeps those before, and the proved bound."""
    from scipy.sparse import csr_array, vstack

    low, high = limits
    rows = vstack([programme.matrix, *(csr_array(held[None, :]) for held, _ in kept)], format="csr")
    # the values are whole, so half a one of room lets nothing worse in
    tops = np.array([value + 0.5 for _, value in kept])
    low, high = np.concatenate([low, np.full(len(kept), -np.inf)]), np.concatenate([high, tops])
    got = solver.solve(Question(aim, rows, low, high, programme.upper, seconds))
    if got is None:
        return None, _NOTHING_PROVED
    bound = got.bound
    proved = math.ceil(bound - 1e-4) if bound is not None and math.isfinite(bound) else _NOTHING_PROVED
    if got.x is None:
        return None, proved
    x = np.rint(got.x).astype(np.int64)
    if not _keeps(programme, x, kept, limits):
        return None, proved
    return x, value_of(aim, x) if got.proved else proved


def _keeps(
    programme: Programme, x: IntArray, kept: Sequence[tuple[FloatArray, int]], limits: tuple[FloatArray, FloatArray]
) -> bool:
    """Whether a plan in whole numbers keeps every row exactly."""
    rows = programme.matrix @ x
    whole = bool(np.all(rows >= limits[0]) and np.all(rows <= limits[1]))
    return whole and bool(np.all(x >= 0)) and all(value_of(held, x) <= value for held, value in kept)


def _written(programme: Programme, x: IntArray, reached: tuple[Reached, ...]) -> Solved:
    built: dict[str, dt.date] = {}
    given: dict[tuple[int, int], list[tuple[int, dt.date]]] = {}
    for column, count in zip(programme.columns, x.tolist(), strict=True):
        case = programme.cases[column.order]
        if count and column.cluster < 0:
            built[case.demand.order_id] = column.day
        elif count:
            way = case.clusters[column.cluster].ways[column.way]
            given.setdefault((column.order, column.cluster), []).extend([(way.number, column.day)] * count)
    taken = {}
    for (order, cluster), ways in given.items():
        case = programme.cases[order]
        for place, way_day in zip(case.clusters[cluster].groups, sorted(ways), strict=True):
            taken[case.demand.order_id, place] = way_day
    return Solved(built, taken, reached)
