"""Which models can stand in for all shafts of a fitted set, nearest first.

As for one club: bounds of everything, then exact numbers in the order of the bounds until nothing left out can be
among the best. The score of a set is the root mean square of its clubs' scores (each with the cost of its
preparation) and a term for the slope of frequency against length (:func:`specdb.sets.question.slope_term`).
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from specdb.matching.index import MatchIndex
from specdb.sets.exclude import excluded_models
from specdb.sets.members import in_order, progression, solve_members
from specdb.sets.models import ShaftModels
from specdb.sets.question import TRIM_STEP_IN, SetQuestion, slope_term
from specdb.sets.result import SetReport
from specdb.sets.show import describe_set
from specdb.sets.sides import Side, make_side, open_side
from specdb.sets.slope import coefficients
from specdb.sets.variants import SetVariant, Variants, all_variants

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

_BATCH = 160  # fewer and larger ones: each costs some milliseconds however small it is


@dataclass(frozen=True, slots=True)
class Best:
    """A model with the best way in which it supplies the set.

    Attributes
    ----------
    candidate : int
        Row of the index, or N plus the number of a model by number.
    variant : SetVariant
        How.
    total, clubs, slope : float
        Score; root mean square of the clubs' scores; slope of the frequencies, cpm per half inch (NaN without one).
    others : tuple of (SetVariant, float)
        The other ways by number, with their scores.
    """

    candidate: int
    variant: SetVariant
    total: float
    clubs: float
    slope: float
    others: tuple[tuple[SetVariant, float], ...] = ()


@dataclass(slots=True)
class SetStage:
    """Computes variants of the set exactly, and remembers the best of each model."""

    sides: Sequence[Side]
    coefficient: FloatArray | None
    fitted_slope: float
    best: dict[int, Best] = field(default_factory=dict)

    def solve(self, candidates: Sequence[int], variants: Sequence[SetVariant]) -> None:
        """Compute variants.

        Parameters
        ----------
        candidates : sequence of int
            Which model each is of.
        variants : sequence of SetVariant
            The variants.
        """
        for c, side in enumerate(self.sides):
            side.solve([v.rows[c] for v in variants], [v.trims_in[c] for v in variants])
        for candidate, variant in zip(candidates, variants, strict=True):
            found = self.value(candidate, variant)
            held = self.best.get(candidate)
            if held is None or (found.total, variant.order) < (held.total, held.variant.order):
                self.best[candidate] = found

    def value(self, candidate: int, variant: SetVariant) -> Best:
        """Score of a variant whose clubs are computed.

        Parameters
        ----------
        candidate : int
            Its model.
        variant : SetVariant
            The variant.
        """
        pairs = [side.exact(r, t) for side, r, t in zip(self.sides, variant.rows, variant.trims_in, strict=True)]
        clubs = float(np.sqrt(np.mean([total**2 for total, _ in pairs])))
        if self.coefficient is None:
            return Best(candidate, variant, clubs, clubs, float("nan"))
        slope = float(self.coefficient @ np.array([cpm for _, cpm in pairs]))
        return Best(candidate, variant, clubs + slope_term(slope - self.fitted_slope), clubs, slope)


def find_set_substitutes(index: MatchIndex, models: ShaftModels, asked: SetQuestion) -> SetReport:
    """Find the models that can stand in for a set's shafts.

    Parameters
    ----------
    index : MatchIndex
        The shafts of the catalogue.
    models : ShaftModels
        The models they make up.
    asked : SetQuestion
        The fitted set and the limits.

    Raises
    ------
    UsageError
        If the set has fewer than two clubs.
    BuildError
        If a fitted club cannot be computed; the sentence names each and says why.
    """
    start = time.perf_counter()
    members = in_order(asked.members)
    references = solve_members(asked.set_id, members)
    counted = progression(members)
    opened = [open_side(index, asked, m, r) for m, r in zip(members, references, strict=True)]
    usable = _usable(models, [m.place for m in members], [gate.open for _, gate in opened])
    trims = _trims(index, usable & models.single)
    sides = [
        make_side(index, question, gate, member, reference, trims, usable)
        for (question, gate), member, reference in zip(opened, members, references, strict=True)
    ]
    lengths = np.array([m.parts.playing_length_in for m in members])
    variance = np.array([float(r.state.sd_total[0, 0]) ** 2 for r in references])
    coefficient = coefficients(lengths, variance)
    fitted = 0.0 if coefficient is None else float(coefficient @ np.array([s.frequency_cpm for s in sides]))
    stage = SetStage(sides, coefficient, fitted)
    pieces = asked.pieces if asked.all_on_hand else None
    variants = all_variants(sides, models, counted.steps, coefficient, refine=asked.refine, pieces=pieces)
    best = best_models(stage, variants, index, models, sides, asked.top)
    results = describe_set(index, models, asked, stage, best)
    excluded = excluded_models(index, models, asked, sides, variants, trims)
    return SetReport(
        set_id=asked.set_id,
        members=members,
        references=references,
        fitted_slope=fitted if coefficient is not None else float("nan"),
        results=tuple(results),
        excluded=excluded,
        elapsed_ms=1000.0 * (time.perf_counter() - start),
        weighting=asked.tolerances.name,
        notes=tuple(_notes(counted.said, coefficient is None)),
    )


def _notes(counted: str, one_length: bool) -> list[str]:
    notes = [counted] if counted else []
    if one_length:
        notes.append("all clubs have one length: there is no slope to compare")
    return notes


def _usable(models: ShaftModels, places: Sequence[int | None], open_rows: Sequence[BoolArray]) -> BoolArray:
    """Shafts that some variant of the set may use; the others need not be screened."""
    usable: BoolArray = models.single & np.logical_and.reduce(open_rows)
    for model in models.numbered:
        for stepped in (0, -1, 1):
            rows = model.rows(places, stepped)
            if rows is not None and all(o[r] for o, r in zip(open_rows, rows, strict=True)):
                usable[list(rows)] = True
    return usable


def _trims(index: MatchIndex, single: BoolArray) -> FloatArray:
    most = float(index.trim_limit_in[single].max(initial=0.0))
    return np.arange(int(most / TRIM_STEP_IN + 1e-9) + 1, dtype=np.float64) * TRIM_STEP_IN


def best_models(
    stage: SetStage, variants: Variants, index: MatchIndex, models: ShaftModels, sides: Sequence[Side], top: int
) -> list[Best]:
    """The best models, each with its best variant, in order.

    Models that were compared on more features come first, then the lower score, then the key.

    Parameters
    ----------
    stage : SetStage
        Computes them.
    variants : Variants
        All of them with their bounds.
    index, models, sides
        Of the search.
    top : int
        How many models.
    """
    lacking = _uncompared(variants, models, sides)
    n = len(index)

    def name(found: Best) -> str:
        return index.table.ids[found.variant.rows[0]] if found.candidate >= n else index.table.ids[found.candidate]

    out: list[Best] = []
    for count in np.unique(lacking):
        wanted = top - len(out)
        if wanted <= 0:
            break
        group = np.flatnonzero(lacking == count)
        _best_of_group(stage, variants, group, wanted)
        within = set(variants.candidate[group].tolist())
        some = [b for c, b in stage.best.items() if c in within]
        out += sorted(some, key=lambda b: (b.total, name(b)))[:wanted]
    return [_with_others(stage, variants, b) for b in out]


def _uncompared(variants: Variants, models: ShaftModels, sides: Sequence[Side]) -> npt.NDArray[np.int8]:
    """Most features that any club of a model lacks, by variant; one figure a model."""
    n = len(models.single)
    by_row = np.max([side.screened.uncompared for side in sides], axis=0)
    by_model = np.array(
        [max((int(by_row[r]) for r in m.row_by_place.values()), default=0) for m in models.numbered], dtype=np.int8
    )
    both: npt.NDArray[np.int8] = np.concatenate([by_row, by_model]).astype(np.int8)
    if n + len(by_model) != len(both):
        raise AssertionError
    return both[variants.candidate]


def _best_of_group(stage: SetStage, variants: Variants, group: IntArray, top: int) -> None:
    bound, candidate = variants.bound[group], variants.candidate[group]
    order = np.argsort(bound, kind="stable")
    # the best bound of every model first, so that there is a bar early
    _, leads = np.unique(candidate[order], return_index=True)
    leads = np.sort(leads)[: max(2 * top, 12)]
    _solve(stage, variants, group[order[leads]])
    within = set(candidate.tolist())
    for start in range(0, len(order), _BATCH):
        part = order[start : start + _BATCH]
        bar = _bar(stage, within, top)
        if bound[part[0]] > bar:
            break
        _solve(stage, variants, group[[i for i in part if bound[i] <= _own_bar(stage, int(candidate[i]), bar)]])


def _own_bar(stage: SetStage, candidate: int, bar: float) -> float:
    held = stage.best.get(candidate)
    return bar if held is None else min(bar, held.total)


def _bar(stage: SetStage, within: set[int], top: int) -> float:
    totals = sorted(b.total for c, b in stage.best.items() if c in within)
    return totals[top - 1] if len(totals) >= top else float("inf")


def _solve(stage: SetStage, variants: Variants, numbers: IntArray) -> None:
    todo = [int(i) for i in numbers]
    stage.solve([int(variants.candidate[i]) for i in todo], [variants.variant(i) for i in todo])


def _with_others(stage: SetStage, variants: Variants, best: Best) -> Best:
    """The other ways by number of a model beside its best one."""
    from dataclasses import replace

    if best.variant.stepped is None:
        return best
    own = [variants.variant(int(i)) for i in np.flatnonzero(variants.candidate == best.candidate)]
    rest = [v for v in own if v.stepped != best.variant.stepped]
    stage.solve([best.candidate] * len(rest), rest)
    return replace(best, others=tuple((v, stage.value(best.candidate, v).total) for v in rest))
