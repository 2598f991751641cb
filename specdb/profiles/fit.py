"""Fitting states twice: as expected, then with what the first fit tells of the shaft and of its readings.

A shaft that its readings show to be unlike the others gets a prior as wide as that; a reading that the others
contradict counts for less, by the probability that it is wrong. Nothing is dropped.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from specdb.profiles.judge import GROSS, SUSPECT, Verdict, judge, open_part
from specdb.profiles.readings import Kind, Reading
from specdb.profiles.solver import OFFSET_SD, OFFSETS, Evaluated, Problem, Solution, Task
from specdb.profiles.state import SIZE

FloatArray = npt.NDArray[np.float64]

_ROUNDS = 2  # times that wrong readings are looked for in one shaft beside those found
WORD = "ln EI"  # unit of what a word or likeness says
BENDING = (Kind.POINT, Kind.BEND, Kind.FREQUENCY, Kind.DEFLECTION)


@dataclass(frozen=True, slots=True)
class Fit:
    """One shaft with R readings.

    Attributes
    ----------
    solution : Solution
        With prior and readings counted as they deserve.
    weight : ndarray, shape (R,)
        What each reading counts, in parts of what its standard deviation says.
    scale : float
        Of the covariance of stiffness beforehand.
    evidence : ndarray, shape (G,)
        Log evidence of ``judge.LN_SCALES``.
    """

    solution: Solution
    weight: FloatArray
    scale: float
    evidence: FloatArray


def fit(tasks: Sequence[Task], usual: FloatArray) -> list[Fit]:
    """Fit shafts side by side.

    Parameters
    ----------
    tasks : sequence of Task
        The shafts, B of them.
    usual : ndarray, shape (B,)
        Expected ln scale of the covariance of each.

    Returns
    -------
    list of Fit
        In the order of the tasks.
    """
    return _fit(tasks, usual, [np.ones(len(t.readings)) for t in tasks], _ROUNDS) if tasks else []


def _fit(
    tasks: Sequence[Task], usual: FloatArray, kept: list[FloatArray], rounds: int, start: FloatArray | None = None
) -> list[Fit]:
    """Fit; readings whose weight is below one are settled and not judged again."""
    readings = [_weighted(t.readings, w) for t, w in zip(tasks, kept, strict=True)]
    problem = Problem.of([replace(t, readings=r) for t, r in zip(tasks, readings, strict=True)], None, OFFSET_SD)
    covariance = np.array([t.covariance for t in tasks])
    left = open_part(covariance)
    more = np.zeros((len(tasks), max(len(t.readings) for t in tasks)))
    doubtable = np.concatenate([_doubtable(t.readings) & (w == 1.0) for t, w in zip(tasks, kept, strict=True)])
    more[problem.owner, problem.slot] = np.where(doubtable, (GROSS / problem.sd) ** 2, 0.0)
    told = np.zeros_like(more)  # words say nothing of how unusual a shaft is
    told[problem.owner, problem.slot] = [float(r.unit != WORD) for t in tasks for r in t.readings]
    x, final, steps = problem.minimise(start)
    verdict = _judged(problem, x, final, (covariance, left), (told, more), usual)
    weight = 1.0 - verdict.wrong * more / (1.0 + more)
    wider = covariance + (verdict.scale - 1.0)[:, None, None] * left
    believed = problem.believing(wider, problem.sd / np.sqrt(weight[problem.owner, problem.slot]))
    x, final, more_steps = believed.minimise(x)
    solutions = believed.solutions(x, final, more_steps)
    out = []
    for i, (solution, task) in enumerate(zip(solutions, tasks, strict=True)):
        own = weight[i, : len(task.readings)] * kept[i]
        out.append(
            Fit(replace(solution, steps=solution.steps + steps), own, float(verdict.scale[i]), verdict.evidence[i])
        )
    again = [i for i, probability in enumerate(verdict.wrong) if probability.max(initial=0.0) > SUSPECT]
    if again and rounds > 1:
        settled = [np.where(verdict.wrong[i, : kept[i].size] > SUSPECT, out[i].weight, kept[i]) for i in again]
        odd = [tasks[i] for i in again]
        near = x[again, : SIZE + OFFSETS * max(len(t.pieces) for t in odd)]
        for i, better in zip(again, _fit(odd, usual[again], settled, rounds - 1, near), strict=True):
            out[i] = better
    return out


def _judged(
    problem: Problem,
    x: FloatArray,
    now: Evaluated,
    prior: tuple[FloatArray, FloatArray],
    readings: tuple[FloatArray, FloatArray],
    usual: FloatArray,
) -> Verdict:
    (covariance, left), (told, more) = prior, readings
    jacobian = now.jacobian * told[:, :, None]
    innovation = now.residual * told + (jacobian @ (x - problem.mean)[:, :, None])[:, :, 0]
    by_state, by_offset = jacobian[:, :, :SIZE], jacobian[:, :, SIZE:] * problem.scale[:, None, SIZE:]
    turned = by_state.transpose(0, 2, 1)
    fixed = by_state @ (covariance - left) @ turned + by_offset @ by_offset.transpose(0, 2, 1)
    return judge(innovation, fixed + np.eye(innovation.shape[1]), by_state @ left @ turned, more, usual)


def _weighted(readings: Sequence[Reading], weight: FloatArray) -> Sequence[Reading]:
    if (weight == 1.0).all():
        return readings
    return [replace(r, sd=r.sd / float(np.sqrt(w))) for r, w in zip(readings, weight, strict=True)]


def _doubtable(readings: Sequence[Reading]) -> npt.NDArray[np.bool_]:
    """Readings that others could contradict: of weight and the like only where there are two of the same.

    Alone, an unusual weight is just that; words and likeness to others never count as readings gone wrong.
    """
    same = Counter(_what(r) for r in readings)
    return np.array([r.kind in BENDING or (r.unit not in ("", WORD) and same[_what(r)] > 1) for r in readings], bool)


def _what(reading: Reading) -> tuple[Kind, int]:
    return reading.kind, -1 if reading.functional is None else int(np.flatnonzero(reading.functional)[0])
