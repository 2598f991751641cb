"""The question put and answered: which shafts play nearest to the fitted one in that same build, and how."""

from __future__ import annotations

import time

import numpy as np
import numpy.typing as npt

from specdb.matching.exclude import Gate
from specdb.matching.index import MatchIndex
from specdb.matching.question import SubstituteQuestion
from specdb.matching.reference import Reference, solve_reference
from specdb.matching.refine import ExactStage, exact_best
from specdb.matching.result import SubstituteReport
from specdb.matching.screen import Screened, screen
from specdb.matching.show import describe, doubts_of
from specdb.matching.ways import Ways, ways_of
from specdb.mechanics.constants import IN

FloatArray = npt.NDArray[np.float64]


def find_substitutes(index: MatchIndex, question: SubstituteQuestion) -> SubstituteReport:
    """Find the nearest buildable alternatives.

    Parameters
    ----------
    index : MatchIndex
        The shafts of the catalogue.
    question : SubstituteQuestion
        The fitted club and the limits.

    Returns
    -------
    SubstituteReport
        At most ``question.top`` results, best first; the same question on the same catalogue gives the same answer.

    Raises
    ------
    BuildError, MissingDataError
        If the fitted club itself cannot be computed.
    """
    start = time.perf_counter()
    reference = solve_reference(question.club)
    gate = Gate.before_search(index, question)
    trims = trim_grid(index, question, gate.open)
    ways = ways_of(index, question, reference, trims)
    target = reference.target(question.tolerances)
    stage = ExactStage(index, ways.ways, target)
    screened = screen(index, ways, trims, target, gate.open)
    best = exact_best(stage, screened, trims, question.top, question.refine_in)
    note_unbuildable(index, gate, screened, ways, trims)
    results = describe(index, question, reference, stage, best)
    return SubstituteReport(
        reference=reference.to_json(),
        results=tuple(results),
        excluded=gate.excluded(lambda row: least_raw_in(index, ways, trims, row)),
        elapsed_ms=1000.0 * (time.perf_counter() - start),
        weighting=question.tolerances.name,
        notes=tuple(_notes(question, reference)),
        doubts=doubts_of(index, reference, stage, best, results),
    )


def trim_grid(index: MatchIndex, question: SubstituteQuestion, open_rows: npt.NDArray[np.bool_]) -> FloatArray:
    """Tip trims to search: every step from 0 to the largest limit of the shafts in question, in.

    Parameters
    ----------
    index : MatchIndex
        The shafts.
    question : SubstituteQuestion
        Gives the step.
    open_rows : ndarray of bool, shape (N,)
        Shafts in question.
    """
    most = float(index.trim_limit_in[open_rows].max(initial=0.0))
    count = int(most / question.trim_step_in + 1e-9) + 1
    return np.arange(count, dtype=np.float64) * question.trim_step_in


def least_raw_in(index: MatchIndex, ways: Ways, trims: FloatArray, row: int) -> float:
    """Least raw length of a shaft whose tip goes in: its tip trim and the cut length of the way it then takes, in.

    Parameters
    ----------
    index, ways, trims
        Of the search.
    row : int
        Row of the shaft.
    """
    taken = ways.chosen[:, index.tip_of[row]]
    may = (taken >= 0) & (trims <= index.trim_limit_in[row] + 1e-9)
    return min(float(trims[k]) + ways.ways[int(taken[k])].build.cut_length_m / IN for k in np.flatnonzero(may))


def note_unbuildable(index: MatchIndex, gate: Gate, screened: Screened, ways: Ways, trims: FloatArray) -> None:
    """Tell the gate which of the searched shafts cannot be built.

    Parameters
    ----------
    index, gate, screened, ways, trims
        Of the search.
    """
    goes_in = np.zeros(len(index), dtype=bool)
    for k, trim in enumerate(trims):
        goes_in |= (ways.chosen[k, index.tip_of] >= 0) & (index.trim_limit_in >= trim - 1e-9)
    gate.after_search(np.asarray(np.isfinite(screened.bound).any(axis=0)), goes_in)


def _notes(question: SubstituteQuestion, reference: Reference) -> list[str]:
    limit = reference.head_add_limit_g(question.max_head_add_g)
    notes = [f"weight at the head: up to {limit:.1f} g may be added to restore the swingweight"]
    excess = float(reference.state.head_excess_g[0])
    if excess > 0.05:
        notes.append(f"the fitted club itself is {excess:.1f} g at the head over the swingweight asked for")
    return notes
