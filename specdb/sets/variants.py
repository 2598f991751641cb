"""Every way in which a model could supply the set, with a lower bound of its score.

A shaft for all clubs: first trim and step, the trim of a club being ``first + step × clubs from the first one``.
Shafts by number: plain, or every club's shaft one number up or down, at no tip trim.

The bound of the set's score follows from those of its clubs, as the root mean square grows with each of them; the term
for the slope is bounded from the fast frequencies less ``SLOPE_MARGIN``, what they may put the slope wrong.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.sets.models import ShaftModels
from specdb.sets.question import REFINED_IN, SLOPE_COST, SLOPE_UNIT, TRIM_STEP_IN
from specdb.sets.sides import Grid, Side, grid_of

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]
IntArray = npt.NDArray[np.int64]

SLOPE_MARGIN = 0.20  # cpm per half inch; the tests measure less than half of it
STEPPED = (0, -1, 1)
STEPPED_WORDS = {0: "by club number", -1: "soft-stepped", 1: "hard-stepped"}


@dataclass(frozen=True, slots=True)
class SetVariant:
    """One way in which a model supplies the set.

    Attributes
    ----------
    rows : tuple of int
        Row of the index for each club.
    trims_in : tuple of float
        Tip trim of each club, in.
    first_in, step_in : float
        Of a shaft for all clubs; 0 for shafts by number.
    stepped : int or None
        Numbers up for shafts by number; None for a shaft for all clubs.
    """

    rows: tuple[int, ...]
    trims_in: tuple[float, ...]
    first_in: float
    step_in: float
    stepped: int | None

    @property
    def order(self) -> tuple[float, float, int]:
        """What equal scores are ordered by."""
        return self.first_in, self.step_in, abs(self.stepped or 0) * 2 + int((self.stepped or 0) > 0)


@dataclass(frozen=True, slots=True)
class Variants:
    """All variants of all models. A candidate is a row of the index, or N plus the number of a numbered model.

    Attributes
    ----------
    candidate : ndarray of int, shape (V,)
        Which model each variant is of.
    bound : ndarray of float32, shape (V,)
        Lower bound of the score; finite.
    """

    candidate: IntArray
    bound: Float32Array
    _first: IntArray
    _step: IntArray
    _stepped: IntArray
    _steps: tuple[int, ...]
    _unit_in: float
    _numbered: dict[tuple[int, int], tuple[int, ...]]

    def __len__(self) -> int:
        return len(self.candidate)

    def variant(self, number: int) -> SetVariant:
        """One of them in full.

        Parameters
        ----------
        number : int
            From 0 to V.
        """
        candidate, stepped = int(self.candidate[number]), int(self._stepped[number])
        rows = self._numbered.get((candidate, stepped))
        if rows is not None:
            return SetVariant(rows, (0.0,) * len(rows), 0.0, 0.0, stepped)
        first, step = int(self._first[number]), int(self._step[number])
        trims = tuple((first + step * k) * self._unit_in for k in self._steps)
        return SetVariant((candidate,) * len(trims), trims, first * self._unit_in, step * self._unit_in, None)


@dataclass(frozen=True, slots=True)
class _SlopeBound:
    """Bound of the term for the slope."""

    coefficient: FloatArray | None
    fitted: float

    def term(self, cpm: Sequence[Float32Array]) -> Float32Array:
        """Bound for fast frequencies of each club."""
        if self.coefficient is None:
            return np.zeros_like(cpm[0])
        slope = np.zeros_like(cpm[0])
        for c, values in zip(self.coefficient, cpm, strict=True):
            slope += np.float32(c) * values
        off = np.abs(slope - np.float32(self.fitted)) - np.float32(SLOPE_MARGIN)
        return np.asarray(np.maximum(off, 0.0) * np.float32(SLOPE_COST / SLOPE_UNIT), dtype=np.float32)


def progressions(count: int, reach: int) -> Iterator[tuple[int, int]]:
    """First trims and steps, in units of the grid, whose last trim still lies on it.

    Parameters
    ----------
    count : int
        Trims of the grid.
    reach : int
        Clubs from the first to the last one.
    """
    step = 0
    while step * reach < count:
        for first in range(count - step * reach):
            yield first, step
        step += 1


def all_variants(
    sides: Sequence[Side],
    models: ShaftModels,
    steps: tuple[int, ...],
    coefficient: FloatArray | None,
    *,
    refine: bool,
    pieces: IntArray | None = None,
) -> Variants:
    """Bound everything that could supply the set.

    Parameters
    ----------
    sides : sequence of Side
        The clubs, screened.
    models : ShaftModels
        The models.
    steps : tuple of int
        Clubs from the first one.
    coefficient : ndarray, shape (clubs,), or None
        What each frequency counts in the slope.
    refine : bool
        Whether trims on the eighth of an inch are wanted.
    pieces : ndarray of int, shape (N,), or None
        Pieces of every row that must be enough for the set; None: pieces are not looked at.
    """
    fitted = 0.0 if coefficient is None else float(coefficient @ np.array([s.frequency_cpm for s in sides]))
    slope = _SlopeBound(coefficient, fitted)
    parts = [_single(sides, models, steps, slope, refine, pieces)]
    numbered, rows_of = _numbered(sides, models, slope, pieces)
    parts.append(numbered)
    candidate, bound, first, step, stepped = (np.concatenate([p[i] for p in parts]) for i in range(5))
    return Variants(
        candidate,
        bound.astype(np.float32),
        first,
        step,
        stepped,
        steps,
        REFINED_IN if refine else TRIM_STEP_IN,
        rows_of,
    )


_Columns = tuple[npt.NDArray[np.generic], ...]


def _single(
    sides: Sequence[Side],
    models: ShaftModels,
    steps: tuple[int, ...],
    slope: _SlopeBound,
    refine: bool,
    pieces: IntArray | None,
) -> _Columns:
    """Shafts for all clubs, cut in a progression."""
    may = models.single if pieces is None else models.single & (pieces >= len(sides))
    for side in sides:
        may = may & np.isfinite(side.screened.bound).any(axis=0)
    rows = np.flatnonzero(may)
    grids: list[Grid] = [grid_of(side, rows, refine=refine) for side in sides]
    squares = [g.bound**2 for g in grids]
    found: list[tuple[npt.NDArray[np.generic], ...]] = []
    for first, step in progressions(len(squares[0]), steps[-1]):
        at = [first + step * k for k in steps]
        total = squares[0][at[0]].copy()
        for square, t in zip(squares[1:], at[1:], strict=True):
            total += square[t]
        here = np.flatnonzero(np.isfinite(total))
        if not len(here):
            continue
        bound = np.sqrt(total[here] / len(sides))
        bound += slope.term([g.frequency[t, here] for g, t in zip(grids, at, strict=True)])
        whole = np.ones(len(here), dtype=np.int64)
        found.append((rows[here], bound, first * whole, step * whole, 0 * whole))
    return _joined(found)


def _numbered(
    sides: Sequence[Side], models: ShaftModels, slope: _SlopeBound, pieces: IntArray | None
) -> tuple[_Columns, dict[tuple[int, int], tuple[int, ...]]]:
    """Shafts by club number, plain and stepped."""
    n = len(models.single)
    places = [side.member.place for side in sides]
    rows_of: dict[tuple[int, int], tuple[int, ...]] = {}
    for number, model in enumerate(models.numbered):
        for stepped in STEPPED:
            rows = model.rows(places, stepped)
            if rows is not None and (pieces is None or on_hand(pieces, rows)):
                rows_of[n + number, stepped] = rows
    if not rows_of:
        return _joined([]), rows_of
    table = np.array(list(rows_of.values()), dtype=np.int64)
    grids = [grid_of(side, table[:, c], refine=False) for c, side in enumerate(sides)]
    squares = np.sum([g.bound[0] ** 2 for g in grids], axis=0)
    total = np.sqrt(squares / len(sides)) + slope.term([g.frequency[0] for g in grids])
    here = np.isfinite(total)
    keys = np.array(list(rows_of), dtype=np.int64)[here]
    zero = np.zeros(len(keys), dtype=np.int64)
    return (keys[:, 0], total[here], zero, zero, keys[:, 1]), rows_of


def on_hand(pieces: IntArray, rows: Sequence[int]) -> bool:
    """Whether all pieces of a set are on hand.

    Parameters
    ----------
    pieces : ndarray of int, shape (N,)
        Pieces of every row.
    rows : sequence of int
        Row for each club.
    """
    return all(pieces[r] >= k for r, k in Counter(rows).items())


def _joined(found: Sequence[_Columns]) -> _Columns:
    if not found:
        whole = np.zeros(0, dtype=np.int64)
        return whole, np.zeros(0, dtype=np.float32), whole, whole, whole
    return tuple(np.concatenate([f[i] for f in found]) for i in range(5))
