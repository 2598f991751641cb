"""A child process of this package that answers questions one after the other, and can be ended on the spot.

Other than a pool of the standard library it does not run the caller's own script again, so it works from a script,
from a notebook and from the interface alike, on every system. Questions and answers are any values that can be
pickled; the child inherits nothing but the places that modules are found in.
"""

from __future__ import annotations

import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from queue import Empty, Queue
from typing import Any, Self

_PROGRAM = (
    "import pickle, signal, sys; signal.signal(signal.SIGINT, signal.SIG_IGN); "
    "sys.path[:] = pickle.load(sys.stdin.buffer); from {module} import {function}; {function}()"
)


class ChildGoneError(Exception):
    """The child ended by itself; whoever asked does the work."""


class Child:
    """A child process; see :meth:`start`.

    Parameters
    ----------
    process : subprocess.Popen
        The process, with pipes to and from it.
    """

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self._process = process
        self._answers: Queue[tuple[Any] | None] = Queue()
        threading.Thread(target=self._listen, daemon=True).start()

    @classmethod
    def start(cls, module: str, function: str, program: str = _PROGRAM) -> Self | None:
        """Start a child; None where the system has no room for one.

        Parameters
        ----------
        module, function : str
            What it runs: a function without arguments that calls :func:`answering`.
        program : str
            What it does before.
        """
        try:
            process = subprocess.Popen(  # noqa: S603 (ourselves)
                [sys.executable, "-c", program.format(module=module, function=function)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        except OSError:
            return None
        child = cls(process)
        try:
            child.ask(sys.path)
        except ChildGoneError:
            child.end()
            return None
        return child

    @property
    def pid(self) -> int:
        """Number of the process."""
        return self._process.pid

    def ask(self, question: object) -> None:
        """Put a question; it waits until those before it are answered.

        Parameters
        ----------
        question : object
            Anything that can be pickled.

        Raises
        ------
        ChildGoneError
            If the child is gone.
        """
        to_it = self._process.stdin
        try:
            if to_it is None:
                raise ChildGoneError
            pickle.dump(question, to_it)
            to_it.flush()
        except OSError as error:
            raise ChildGoneError from error

    def answer(self, seconds: float) -> tuple[Any] | None:
        """The next answer, as a tuple of one; None where there is none within some seconds.

        Parameters
        ----------
        seconds : float
            How long to wait, s.

        Raises
        ------
        ChildGoneError
            If the child is gone.
        """
        try:
            found = self._answers.get(timeout=seconds) if seconds > 0 else self._answers.get_nowait()
        except Empty:
            return None
        if found is None:
            raise ChildGoneError
        return found

    def end(self) -> None:
        """End it at once, whatever it is doing."""
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:  # it died with something unwritten
                    continue

    def _listen(self) -> None:
        from_it = self._process.stdout
        try:
            while from_it is not None:
                self._answers.put((pickle.load(from_it),))  # noqa: S301 (from our own child)
        except (EOFError, OSError, ValueError, pickle.UnpicklingError):
            self._answers.put(None)


def answering(answer: Callable[[Any], object]) -> None:
    """Answer questions from standard input on standard output until it ends; what a child does.

    Parameters
    ----------
    answer : callable
        Takes a question and gives its answer.
    """
    out = sys.stdout.buffer
    sys.stdout = sys.stderr  # a word that somebody prints is no answer
    while True:
        try:
            question = pickle.load(sys.stdin.buffer)  # noqa: S301 (from our own parent)
        except EOFError:
            return
        pickle.dump(answer(question), out)
        out.flush()
