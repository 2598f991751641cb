"""The solver, where it can be stopped: a large programme is solved in a child process that is ended on the spot.

scipy gives no way to interrupt HiGHS once it runs, and a thread that is left to itself goes on until its time is up.
So a programme of few columns is solved here within a second, and what takes longer goes to a child, which is started
at the first such programme, kept for the rest of the plan, and costs half a second once.
"""

from __future__ import annotations

import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from queue import Empty, Queue
from types import TracebackType
from typing import Any, Self

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_HERE_COLUMNS = 1500
_HERE_SECONDS = 1.0
_LOOK_SECONDS = 0.05
_GRACE_SECONDS = 30.0  # over the time limit, before a child counts as lost
_CHILD = (
    "import pickle, signal, sys; signal.signal(signal.SIGINT, signal.SIG_IGN); "
    "sys.path[:] = pickle.load(sys.stdin.buffer); from specdb.orders.apart import serve; serve()"
)


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
        self._child: subprocess.Popen[bytes] | None = None
        self._answers: Queue[Found | None] = Queue()

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
        child = self._child or self._start()
        if child is None or child.stdin is None:
            return answer(question)
        try:
            pickle.dump(question, child.stdin)
            child.stdin.flush()
        except OSError:  # it is gone
            self._end()
            return answer(question)
        left = question.seconds + _GRACE_SECONDS
        while left > 0.0:
            try:
                found = self._answers.get(timeout=_LOOK_SECONDS)
            except Empty:
                left -= _LOOK_SECONDS
                if self.stopped:
                    break
                continue
            if found is None:  # it died
                self._end()
                return answer(question)
            return found
        self._end()
        return None

    def _start(self) -> subprocess.Popen[bytes] | None:
        try:
            child = subprocess.Popen(  # noqa: S603 (ourselves)
                [sys.executable, "-c", _CHILD], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
            )
        except OSError:
            return None
        if child.stdin is None:
            return None
        pickle.dump(sys.path, child.stdin)
        child.stdin.flush()
        self._child, self._answers = child, Queue()
        threading.Thread(target=_listen, args=(child, self._answers), daemon=True).start()
        return child

    def _end(self) -> None:
        child, self._child = self._child, None
        if child is not None:
            child.kill()
            child.wait()
            for pipe in (child.stdin, child.stdout):
                if pipe is not None:
                    try:
                        pipe.close()
                    except OSError:  # it died with something unwritten
                        continue


def _parts(question: Question) -> tuple[FloatArray, Any, FloatArray, FloatArray, FloatArray]:
    return question.aim, question.matrix, question.low, question.high, question.upper


def _listen(child: subprocess.Popen[bytes], answers: Queue[Found | None]) -> None:
    try:
        while child.stdout is not None:
            answers.put(pickle.load(child.stdout))  # noqa: S301 (from our own child)
    except (EOFError, OSError, ValueError, pickle.UnpicklingError):
        answers.put(None)


def serve() -> None:
    """Answer programmes from standard input on standard output until it ends; what the child does."""
    while True:
        try:
            question = pickle.load(sys.stdin.buffer)  # noqa: S301 (from our own parent)
        except EOFError:
            return
        pickle.dump(answer(question), sys.stdout.buffer)
        sys.stdout.buffer.flush()
