"""One club of a set in the search: its question, the ways its tips go in, bounds and exact numbers of variants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from specdb.matching.exclude import Gate, Reason
from specdb.matching.index import MatchIndex
from specdb.matching.question import SubstituteQuestion
from specdb.matching.reference import Reference
from specdb.matching.refine import ExactStage, Variant, step_reach
from specdb.matching.screen import Screened, screen
from specdb.matching.substitutes import note_unbuildable
from specdb.matching.ways import Ways, ways_of
from specdb.sets.members import SetMember
from specdb.sets.question import TRIM_STEP_IN, Filters, SetQuestion

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Side:
    """One club of the set.

    Attributes
    ----------
    member : SetMember
        The club.
    question : SubstituteQuestion
        As if it were asked about alone.
    reference : Reference
        The fitted club, computed.
    gate : Gate
        Why shafts are out.
    ways : Ways
        How tips go in.
    screened : Screened
        Bounds of all variants on the quarter-inch grid.
    stage : ExactStage
        Exact numbers.
    """

    member: SetMember
    question: SubstituteQuestion
    reference: Reference
    gate: Gate
    ways: Ways
    screened: Screened
    stage: ExactStage

    @property
    def frequency_cpm(self) -> float:
        """Frequency of the fitted club."""
        return float(self.reference.state.frequency_cpm[0])

    def solve(self, rows: Sequence[int], trims_in: Sequence[float]) -> None:
        """Compute variants exactly that are not computed yet.

        Parameters
        ----------
        rows, trims_in : sequence
            Row and tip trim of each.
        """
        todo = {
            pair: int(self.screened.way[int(pair[1] / TRIM_STEP_IN + 1e-9), pair[0]])
            for pair in zip(rows, trims_in, strict=True)
            if pair not in self.stage.solved
        }
        self.stage.solve([r for r, _ in todo], [t for _, t in todo], list(todo.values()))

    def exact(self, row: int, trim_in: float) -> tuple[float, float]:
        """Score and frequency (cpm) of a computed variant.

        Parameters
        ----------
        row : int
            Row of the shaft.
        trim_in : float
            Tip trim, in.
        """
        held = self.variant(row, trim_in)
        return held.total, float(self.stage.batches[held.batch].frequency_cpm[held.place])

    def variant(self, row: int, trim_in: float) -> Variant:
        """A computed variant.

        Parameters
        ----------
        row : int
            Row of the shaft.
        trim_in : float
            Tip trim, in.
        """
        return self.stage.solved[row, trim_in]


def open_side(
    index: MatchIndex, asked: SetQuestion, member: SetMember, reference: Reference
) -> tuple[SubstituteQuestion, Gate]:
    """The question about one club alone, and which shafts it leaves open.

    Parameters
    ----------
    index : MatchIndex
        The shafts.
    asked : SetQuestion
        The question about the set.
    member : SetMember
        The club.
    reference : Reference
        The club, computed.
    """
    own = asked.filters.get(member.club_id, Filters())
    question = SubstituteQuestion(
        club=member.parts,
        setting=member.setting,
        adhesive=member.adhesive,
        shelf=asked.shelf,
        limits=asked.limits,
        tolerances=asked.tolerances,
        trim_step_in=TRIM_STEP_IN,
        max_head_add_g=reference.head_add_limit_g(asked.max_head_add_g),
        only=own.only,
        only_reason=own.only_reason,
        filters=own.filters,
        without=asked.without,
        rejected=own.rejected,
    )
    gated = question
    if asked.fitted_too:
        gated = replace(question, club=replace(question.club, shaft=replace(question.club.shaft, id="")))
    return question, Gate.before_search(index, gated)


def make_side(
    index: MatchIndex,
    question: SubstituteQuestion,
    gate: Gate,
    member: SetMember,
    reference: Reference,
    trims_in: FloatArray,
    open_to_all: BoolArray,
) -> Side:
    """Screen all shafts for one club.

    Parameters
    ----------
    index : MatchIndex
        The shafts.
    question, gate
        From :func:`open_side`.
    member : SetMember
        The club.
    reference : Reference
        The club, computed.
    trims_in : ndarray, shape (trims,)
        The quarter-inch grid.
    open_to_all : ndarray of bool, shape (N,)
        Shafts that some variant of the set may use.
    """
    ways = ways_of(index, question, reference, trims_in)
    target = reference.target(question.tolerances)
    screened = screen(index, ways, trims_in, target, gate.open & open_to_all, with_frequency=True)
    passed_over = gate.open & ~open_to_all
    note_unbuildable(index, gate, screened, ways, trims_in)
    gate.code[passed_over] = Reason.NONE  # nothing was looked at: another club keeps them out
    return Side(member, question, reference, gate, ways, screened, ExactStage(index, ways.ways, target))


@dataclass(frozen=True, slots=True)
class Grid:
    """Bounds of some rows for one club on the grid that is searched.

    Attributes
    ----------
    bound, frequency : ndarray of float32, shape (trims, rows)
        Lower bound of the club's score (infinite where it cannot be built), and the fast frequency, cpm.
    """

    bound: Float32Array
    frequency: Float32Array


def grid_of(side: Side, rows: IntArray, *, refine: bool) -> Grid:
    """Bounds of rows on the quarter-inch grid, or with the eighths between.

    Between two trims that take the same way the score is bounded as for one club (``matching/refine.py``); the
    frequency is taken as their mean.

    Parameters
    ----------
    side : Side
        The club.
    rows : ndarray of int, shape (rows,)
        Rows of the index.
    refine : bool
        Whether the eighths are wanted.
    """
    bound, way = side.screened.bound[:, rows], side.screened.way[:, rows]
    if side.screened.frequency is None:
        raise AssertionError  # sides are screened with it
    frequency = side.screened.frequency[:, rows]
    if not refine or len(bound) < 2:
        return Grid(bound, frequency)
    cost = np.array([w.cost for w in side.ways.ways] or [0.0], dtype=np.float32)[np.maximum(way[:-1], 0)]
    one, other = bound[:-1], bound[1:]
    same = (way[:-1] >= 0) & (way[:-1] == way[1:]) & np.isfinite(one) & np.isfinite(other)
    reach = step_reach(side.stage.target)
    with np.errstate(invalid="ignore"):
        squares = ((one - cost) ** 2 + (other - cost) ** 2) / 2.0 - np.float32(reach**2 / 4.0)
        between = np.where(same, np.sqrt(np.maximum(squares, 0.0)) + cost, np.inf)
    shape = (2 * len(bound) - 1, len(rows))
    fine, fine_cpm = np.empty(shape, dtype=np.float32), np.empty(shape, dtype=np.float32)
    fine[0::2], fine[1::2] = bound, between
    fine_cpm[0::2], fine_cpm[1::2] = frequency, (frequency[:-1] + frequency[1:]) / 2.0
    return Grid(fine, fine_cpm)
