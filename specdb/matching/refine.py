"""The exact stage: the true best variants from the bounds of the screening.

Variants are taken in the order of their lower bound and solved exactly, until the next bound lies above the worst of
the best scores found. What is left out therefore cannot be among the best: the result equals a search over all.

Finer tip trims lie between two searched ones. Along the tip trim the features are nearly straight lines, and for
straight lines the parallelogram law gives, half way, ``S² = (S₁² + S₂²)/2 - |q₁ - q₂|²/4``; with ``|q₁ - q₂|`` at most
:func:`step_reach` a half step of every shaft that could still get among the best is solved too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from specdb.matching.index import MatchIndex
from specdb.matching.score import score
from specdb.matching.screen import Screened
from specdb.matching.target import Target
from specdb.matching.ways import Way
from specdb.matching.weighting import COMPARED, Tolerances
from specdb.mechanics.club import Installed, installed
from specdb.mechanics.constants import IN

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

STEP_UNITS = np.array([0.85, 0.65, 0.45, 0.35, 0.27, 0.08, 0.04, 0.12, 0.05, 0.07])
"""How far each feature moves at most over a tip trim of 0.25 in, in usual tolerances; the tests measure less."""

_BATCH = 160
_BALANCE = [f.name for f in COMPARED].index("balance_in")


@dataclass(frozen=True, slots=True)
class Variant:
    """One solved variant.

    Attributes
    ----------
    row : int
        Row of the shaft in the index.
    trim_in : float
        Tip trim.
    way : int
        Number of the way the tip goes in.
    total : float
        Score with the cost of the preparation.
    batch, place : int
        Which solved batch holds it, and where.
    """

    row: int
    trim_in: float
    way: int
    total: float
    batch: int
    place: int


@dataclass(slots=True)
class ExactStage:
    """Solves variants of one question exactly, and remembers them."""

    index: MatchIndex
    ways: Sequence[Way]
    target: Target
    batches: list[Installed] = field(default_factory=list)
    solved: dict[tuple[int, float], Variant] = field(default_factory=dict)

    def solve(self, rows: Sequence[int], trims_in: Sequence[float], ways: Sequence[int]) -> None:
        """Solve variants that are not solved yet.

        Parameters
        ----------
        rows, trims_in, ways : sequence
            Row, tip trim and way of each variant.
        """
        todo = [
            (row, trim, way)
            for row, trim, way in zip(rows, trims_in, ways, strict=True)
            if (row, trim) not in self.solved
        ]
        for start in range(0, len(todo), _BATCH):
            self._solve_batch(todo[start : start + _BATCH])

    def _solve_batch(self, variants: list[tuple[int, float, int]]) -> None:
        models = [self.index.model(row) for row, _, _ in variants]
        trims = np.array([trim for _, trim, _ in variants]) * IN
        result = installed(models, trims, [self.ways[way].build for _, _, way in variants])
        values = result.features.copy()
        lacks_balance = np.array([m.balance_from_tip_m is None for m in models])
        values[lacks_balance, _BALANCE] = np.nan
        difference = values - self.target.value
        sd = np.sqrt(result.sd_shaft**2 + self.target.sd**2)
        scores = score(difference, sd, self.target.unit, self.target.weight)
        number = len(self.batches)
        self.batches.append(result)
        for place, (row, trim, way) in enumerate(variants):
            total = float(scores[place]) + self.ways[way].cost
            self.solved[row, trim] = Variant(row, trim, way, total, number, place)

    def best_of_each(self) -> dict[int, Variant]:
        """The best solved variant of every shaft that was looked at."""
        best: dict[int, Variant] = {}
        for variant in self.solved.values():
            held = best.get(variant.row)
            if held is None or (variant.total, variant.trim_in) < (held.total, held.trim_in):
                best[variant.row] = variant
        return best

    def threshold(self, top: int, rows: npt.NDArray[np.bool_]) -> float:
        """Score of the ``top``-th best shaft among some rows, infinite while there are fewer."""
        totals = sorted(v.total for v in self.best_of_each().values() if rows[v.row])
        return totals[top - 1] if len(totals) >= top else float("inf")


def exact_best(
    stage: ExactStage,
    screened: Screened,
    trim_in: FloatArray,
    top: int,
    refine_in: float | None,
) -> list[Variant]:
    """The best shafts, each with its best variant, in order.

    Shafts that were compared on more features come first, then the lower score, then the key of the shaft.

    Parameters
    ----------
    stage : ExactStage
        Solver of this question.
    screened : Screened
        Bounds of all variants.
    trim_in : ndarray, shape (trims,)
        Tip trims of the bounds.
    top : int
        How many shafts.
    refine_in : float or None
        Finer step around the searched trims.

    Returns
    -------
    list of Variant
        At most ``top``.
    """
    ids = stage.index.table.ids
    found: list[Variant] = []
    for lacking in np.unique(screened.uncompared):
        wanted = top - len(found)
        if wanted <= 0:
            break
        group = screened.uncompared == lacking
        bound = np.where(group[None, :], screened.bound, np.inf)
        _best_on_grid(stage, bound, screened.way, trim_in, wanted, group, margin=refine_in is not None)
        if refine_in is not None:
            _refine(stage, bound, screened.way, trim_in, wanted, group, refine_in)
        best = [v for v in stage.best_of_each().values() if group[v.row]]
        found += sorted(best, key=lambda v: (v.total, ids[v.row]))[:wanted]
    return found


def _best_on_grid(
    stage: ExactStage,
    bound: npt.NDArray[np.float32],
    way: npt.NDArray[np.int16],
    trim_in: FloatArray,
    top: int,
    group: npt.NDArray[np.bool_],
    *,
    margin: bool,
) -> None:
    nearest = bound.min(axis=0)
    finite = np.flatnonzero(np.isfinite(nearest))
    if len(finite) == 0:
        return
    first = min(len(finite), max(2 * top, 24))
    rows = finite[np.argpartition(nearest[finite], first - 1)[:first]]
    trims = bound[:, rows].argmin(axis=0)
    _solve(stage, rows, trims, way, trim_in)
    # everything whose bound lies below the worst of the best so far; the bar only comes down
    bar = stage.threshold(top, group)
    reach = step_reach(stage.target) if margin else 0.0
    trims, rows = np.nonzero(np.isfinite(bound) & (bound <= _within(bar, reach)))
    order = np.argsort(bound[trims, rows], kind="stable")
    trims, rows = trims[order], rows[order]
    for start in range(0, len(rows), _BATCH):
        part = slice(start, start + _BATCH)
        bar = stage.threshold(top, group)
        here = bound[trims[part], rows[part]] <= _within(bar, reach)
        if not here.any():
            break
        _solve(stage, rows[part][here], trims[part][here], way, trim_in)


def step_reach(target: Target) -> float:
    """How far a club moves at most, in score, over a tip trim of 0.25 in.

    Parameters
    ----------
    target : Target
        What it is held against: the narrower its units, the further.
    """
    usual = Tolerances.default().absolute(np.nan_to_num(target.value))
    counts = target.weight > 0
    steps = STEP_UNITS[counts] * usual[counts] / target.unit[counts]
    weight = target.weight[counts]
    return float(np.sqrt((weight * steps**2).sum() / weight.sum())) if counts.any() else 0.0


def _within(bar: float, reach: float) -> float:
    return float(np.sqrt(bar**2 + reach**2 / 4.0)) if np.isfinite(bar) else bar


def _solve(stage: ExactStage, rows: IntArray, trims: IntArray, way: npt.NDArray[np.int16], trim_in: FloatArray) -> None:
    stage.solve(
        [int(r) for r in rows],
        [float(trim_in[t]) for t in trims],
        [int(way[t, r]) for t, r in zip(trims, rows, strict=True)],
    )


def _refine(
    stage: ExactStage,
    bound: npt.NDArray[np.float32],
    way: npt.NDArray[np.int16],
    trim_in: FloatArray,
    top: int,
    group: npt.NDArray[np.bool_],
    refine_in: float,
) -> None:
    bar = stage.threshold(top, group)
    step = float(trim_in[1] - trim_in[0]) if len(trim_in) > 1 else 0.0
    fractions = np.arange(refine_in, step - 1e-9, refine_in)
    reach = step_reach(stage.target) * step / 0.25
    rows: list[int] = []
    trims: list[float] = []
    ways: list[int] = []
    candidates = {v.row for v in stage.solved.values() if group[v.row]}
    for row in sorted(candidates):
        for k in range(len(trim_in) - 1):
            number = int(way[k, row])
            if number < 0 or way[k + 1, row] != number:
                continue
            near = [_known(stage, bound, row, j, float(trim_in[j])) for j in (k, k + 1)]
            half_way = (near[0] ** 2 + near[1] ** 2) / 2.0 - reach**2 / 4.0
            if half_way > bar**2:
                continue
            rows += [row] * len(fractions)
            trims += [float(trim_in[k] + f) for f in fractions]
            ways += [number] * len(fractions)
    stage.solve(rows, trims, ways)


def _known(stage: ExactStage, bound: npt.NDArray[np.float32], row: int, k: int, trim: float) -> float:
    held = stage.solved.get((row, trim))
    return float(bound[k, row]) if held is None else held.total
