"""The solver, where it can be stopped: a large programme is solved in a child process that is ended on the spot.

scipy gives no way to interrupt HiGHS once it runs, and a thread that is left to itself goes on until its time is up.
So a programme of few columns is solved here within a second, and what takes longer goes to a child, which is started
at the first such programme, kept for the rest of the plan, and costs half a second once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Self

import numpy as np
import numpy.typing as npt

from specdb.child import Child, ChildGoneError, answering

FloatArray = npt.NDArray[np.float64]

_HERE_COLUMNS = 1500
_HERE_SECONDS = 1.0
_LOOK_SECONDS = 0.05
_GRACE_SECONDS = 30.0  # over the time limit, before a child counts as lost


@dataclass(frozen=True, slots=True)
class Question:
    """One linear programme in whole numbers: least ``aim @ x`` with ``low <= matrix @ x <= high``, ``0 <= x <= upper``.

    Attributes
    ----------
    aim : ndarray, shape (columns,)
        What is sought to be least.
    matrix : scipy.sparse.csr_array, shape (rows, columns)
        Coefficients.
    low, high : ndarray, shape (rows,)
        Limits of the rows.
    upper : ndarray, shape (columns,)
        Largest values.
    seconds : float
        Longest time, s.
    """

    aim: FloatArray
    matrix: Any
    low: FloatArray
    high: FloatArray
    upper: FloatArray
    seconds: float


@dataclass(frozen=True, slots=True)
class Found:
    """What the solver found.

    Attributes
    ----------
    x : ndarray, shape (columns,), or None
        The best plan; None where none was found.
    bound : float or None
        What no plan gets below, as far as it is proved.
    proved : bool
        Whether no plan is better.
    in_time : bool
        Whether it ended before its time was up.
    """

    x: FloatArray | None
    bound: float | None
    proved: bool
    in_time: bool


def answer(question: Question) -> Found:
    """Solve in this process; it cannot be interrupted.

    Parameters
    ----------
    question : Question
        The programme.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp  # 0.3 s

    got: Any = milp(
        question.aim,
        integrality=np.ones(len(question.aim)),
        bounds=Bounds(0, question.upper),
        constraints=LinearConstraint(question.matrix, question.low, question.high),
        options={"time_limit": question.seconds, "mip_rel_gap": 0.0},
    )
    return Found(got.x, getattr(got, "mip_dual_bound", None), got.status == 0, got.status != 1)


class Solver:
    """Solves programmes until it is stopped; to be left in a ``with`` statement.

    Parameters
    ----------
    stopped : callable or None
        Whether it is to stop; asked many times a second. Without it everything is solved in this process.
    """

    def __init__(self, stopped: Callable[[], bool] | None = None) -> None:
        self._asked = stopped
        self._child: Child | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()

    @property
    def stopped(self) -> bool:
        """Whether it was stopped."""
        return self._asked is not None and self._asked()

    def solve(self, question: Question) -> Found | None:
        """Solve a programme; None where it is stopped first.

        Parameters
        ----------
        question : Question
            The programme.
        """
        if self.stopped:
            return None
        if self._asked is None:
            return answer(question)
        if len(question.aim) <= _HERE_COLUMNS:
            short = Question(*_parts(question), min(question.seconds, _HERE_SECONDS))
            found = answer(short)
            if found.in_time or question.seconds <= _HERE_SECONDS:
                return found
        return self._ask_child(question)

    def _ask_child(self, question: Question) -> Found | None:
        try:
            child = self._start()
            if child is None:
                return answer(question)
            child.ask(question)
            left = question.seconds + _GRACE_SECONDS
            while left > 0.0:
                found = child.answer(_LOOK_SECONDS)
                if found is not None:
                    given: Found = found[0]
                    return given
                left -= _LOOK_SECONDS
                if self.stopped:
                    break
        except ChildGoneError:
            self._end()
            return answer(question)
        self._end()
        return None

    def _start(self) -> Child | None:
        if self._child is None:
            self._child = Child.start(__name__, serve.__name__)
        return self._child

    def _end(self) -> None:
        child, self._child = self._child, None
        if child is not None:
            child.end()


def _parts(question: Question) -> tuple[FloatArray, Any, FloatArray, FloatArray, FloatArray]:
    return question.aim, question.matrix, question.low, question.high, question.upper


def serve() -> None:
    """Answer programmes until standard input ends; what the child does."""
    answering(answer)
