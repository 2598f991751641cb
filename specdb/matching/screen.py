"""The cheap stage: a lower bound of the score of every variant of every shaft.

The bound is the score from the fast features, less ``MARGIN`` for what they differ from the exact ones, plus the part
of the uncertainty that no cut can take away: an error of the whole stiffness profile shows in full in every zone and
by half in the frequency; independent errors of n stations average out to no less than an n-th of the smallest
variance, whatever the weights, and those of an estimate to no less than those of the best linear mean; the errors of
torque rating, weight and balance point show in theirs. What the exact stage adds to the uncertainty only raises the
score, so a variant whose bound lies above the best scores found cannot be among them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.matching.index import MatchIndex
from specdb.matching.target import Target
from specdb.matching.threads import for_each
from specdb.matching.ways import Ways
from specdb.mechanics import fast
from specdb.mechanics.cells import CELL_M
from specdb.mechanics.club import FEATURES
from specdb.mechanics.constants import IN

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]
BoolArray = npt.NDArray[np.bool_]

MARGIN = 0.03  # in score; the tests measure less than half of it on random shafts
_CHUNK = 4096
_TORQUE = FEATURES.index("torque_deg")
_BALANCE = FEATURES.index("balance_in")
_WEIGHT = FEATURES.index("shaft_weight_g")
_BALANCE_KEPT = 0.7  # of an error of the raw balance point that the cut shaft's shows at least; the tests measure more


@dataclass(frozen=True, slots=True)
class Screened:
    """Bounds of all variants.

    Attributes
    ----------
    bound : ndarray of float32, shape (trims, N)
        Lower bound of the total score (with the cost of the preparation); infinite where it cannot be built.
    way : ndarray of int16, shape (trims, N)
        Which way the tip goes in; -1 none.
    uncompared : ndarray of int8, shape (N,)
        How many features of weight the shaft has no data for.
    frequency : ndarray of float32, shape (trims, N), or None
        Fast frequencies, cpm, where they were asked for; 0 where it cannot be built.
    """

    bound: Float32Array
    way: npt.NDArray[np.int16]
    uncompared: npt.NDArray[np.int8]
    frequency: Float32Array | None = None


def screen(
    index: MatchIndex,
    ways: Ways,
    trim_in: FloatArray,
    target: Target,
    allowed: BoolArray,
    *,
    with_frequency: bool = False,
) -> Screened:
    """Bound the score of every variant.

    Parameters
    ----------
    index : MatchIndex
        The shafts.
    ways : Ways
        Ways of getting a tip in.
    trim_in : ndarray, shape (trims,)
        Tip trims, multiples of 0.25 in.
    target : Target
        The reference.
    allowed : ndarray of bool, shape (N,)
        Shafts that may be proposed at all.
    with_frequency : bool
        Whether the fast frequencies are kept.
    """
    n = len(index)
    cells = np.round(trim_in * IN / CELL_M).astype(int)
    queries = [fast.prepare(w.build) for w in ways.ways]
    bound = np.full((len(trim_in), n), np.inf, dtype=np.float32)
    way = np.full((len(trim_in), n), -1, dtype=np.int16)
    frequency = np.zeros((len(trim_in), n), dtype=np.float32) if with_frequency else None
    scorer = _Scorer(index, target)
    raw_in = index.table.raw_length_m / IN
    last_cell = index.fast.cells.cells

    def work(start: int) -> None:
        rows = slice(start, min(start + _CHUNK, n))
        may = allowed[rows]
        if not may.any():
            return
        for k, trim in enumerate(trim_in):
            chosen = np.where(may & (index.trim_limit_in[rows] >= trim - 1e-9), ways.chosen[k, index.tip_of[rows]], -1)
            for number in np.unique(chosen):
                if number < 0:
                    continue
                build = ways.ways[number].build
                end = build.cut_length_m / IN
                here = np.flatnonzero((chosen == number) & (raw_in[rows] >= trim + end - 1e-6))
                if len(here) == 0 or cells[k] + queries[number].weights.shape[0] > last_cell:
                    continue
                whole = 4 * len(here) > 3 * len(may)
                where = rows if whole else here + start
                got, _ = fast.features(index.fast, where, queries[number], int(cells[k]))
                value = scorer.bound(got, where) + np.float32(ways.ways[number].cost)
                bound[k, here + start] = value[here] if whole else value
                way[k, here + start] = number
                if frequency is not None:
                    frequency[k, here + start] = got[0, here] if whole else got[0]

    for_each(work, range(0, n, _CHUNK))
    return Screened(bound, way, scorer.uncompared, frequency)


class _Scorer:
    """Score bound of fast features against the target."""

    def __init__(self, index: MatchIndex, target: Target) -> None:
        known = np.isfinite(target.value)
        weight = np.where(known, target.weight, 0.0)
        self._value = np.where(known, target.value, 0.0).astype(np.float32)
        # the square root of weight over unit, so that squares need no further factor
        self._factor = (np.sqrt(weight) / target.unit).astype(np.float32)
        self._factor[~known] = 0.0
        lack_torque = ~np.isfinite(index.table.twist_rad_per_nm) & (weight[_TORQUE] > 0)
        lack_balance = ~np.isfinite(index.table.balance_m) & (weight[_BALANCE] > 0)
        self.uncompared = lack_torque.astype(np.int8) + lack_balance.astype(np.int8)
        total = weight.sum() - lack_torque * weight[_TORQUE] - lack_balance * weight[_BALANCE]
        with np.errstate(divide="ignore"):
            self._inverse_total = (1.0 / total).astype(np.float32)
        self._lack_torque, self._lack_balance = lack_torque, lack_balance
        with np.errstate(invalid="ignore"):
            relative = np.nan_to_num(index.table.twist_sd / index.table.twist_rad_per_nm)
        self._torque_sd = relative.astype(np.float32)
        self._ei_variance = index.ei_floor.astype(np.float32)
        with np.errstate(invalid="ignore"):
            self._mass_sd = np.nan_to_num(index.table.mass_sd_kg / index.table.mass_kg).astype(np.float32)
        self._balance_sd = (_BALANCE_KEPT * index.table.balance_sd_m / IN).astype(np.float32)
        sd = np.where(known, target.sd, 0.0)
        own = float(np.nansum((self._factor.astype(np.float64) * sd) ** 2))
        self._own = np.float32(own)
        self._own_torque = np.float32(np.nan_to_num(self._factor[_TORQUE] * sd[_TORQUE]) ** 2)
        self._own_balance = np.float32(np.nan_to_num(self._factor[_BALANCE] * sd[_BALANCE]) ** 2)

    def bound(self, got: Float32Array, rows: slice | npt.NDArray[np.int64]) -> Float32Array:
        f = self._factor
        total = np.full(got.shape[1], self._own, dtype=np.float32)
        for i in range(len(FEATURES)):
            if f[i] == 0.0 or i in (_TORQUE, _BALANCE):
                continue
            q = (got[i] - self._value[i]) * f[i]
            total += q * q
        floor = (np.float32(0.5) * f[0] * got[0]) ** 2
        for i in (1, 2, 3):
            floor += (f[i] * got[i]) ** 2
        total += floor * self._ei_variance[rows]
        total += (f[_WEIGHT] * got[_WEIGHT] * self._mass_sd[rows]) ** 2
        q = (got[_TORQUE] - self._value[_TORQUE]) * f[_TORQUE]
        own = got[_TORQUE] * f[_TORQUE] * self._torque_sd[rows]
        total += np.where(self._lack_torque[rows], -self._own_torque, q * q + own * own)
        q = (got[_BALANCE] - self._value[_BALANCE]) * f[_BALANCE]
        own = f[_BALANCE] * self._balance_sd[rows]
        total += np.where(self._lack_balance[rows], -self._own_balance, q * q + own * own)
        total *= self._inverse_total[rows]
        result: Float32Array = np.maximum(np.sqrt(np.maximum(total, 0.0)) - np.float32(MARGIN), 0.0)
        return result
