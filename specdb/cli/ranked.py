"""How commands end that rank what can stand in: the ranked list, or why one thing is not in it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

from specdb.cli import output
from specdb.errors import ExitCode


class Report(Protocol):
    """What was ranked."""

    @property
    def results(self) -> Sequence[object]:
        """What can stand in, nearest first."""


class RankedAnswer(Protocol):
    """An answer with a ranked list."""

    @property
    def report(self) -> Report:
        """What was ranked."""

    def to_json(self) -> object:
        """The answer for machines."""


A = TypeVar("A", bound=RankedAnswer)


def write_ranked(answer: A, write: Callable[[A], None], *, as_json: bool) -> int:
    """Write a ranked answer, for a person or a machine.

    Parameters
    ----------
    answer : RankedAnswer
        The answer.
    write : callable
        Writes it for a person.
    as_json : bool
        Whether it is written as JSON.

    Returns
    -------
    int
        Exit status: 1 where nothing can stand in.
    """
    if as_json:
        output.emit_json(answer.to_json())
    else:
        write(answer)
    return int(ExitCode.DONE if answer.report.results else ExitCode.NO)


def write_reason(key: str, item: str, reason: str, *, as_json: bool) -> int:
    """Write why one thing is where it is in a ranking, or not in it.

    Parameters
    ----------
    key, item : str
        What it is called in JSON, and its id.
    reason : str
        Why.
    as_json : bool
        Whether it is written as JSON.

    Returns
    -------
    int
        Exit status.
    """
    if as_json:
        output.emit_json({key: item, "reason": reason})
    else:
        output.sentence(reason)
    return int(ExitCode.DONE)
