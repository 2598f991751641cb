"""Stand-ins for many clubs and sets, looked for by two processes at once: this one, and a child where there is enough.

The array calls of one search are too short for threads to run side by side, so a second processor core is of use only
to a second process. It reads the same copy of the catalogue, and is given the next question whenever it has answered.
"""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from specdb.catalogue import Catalogue
from specdb.child import Child, ChildGoneError, answering
from specdb.orders.demand import PlanRules
from specdb.verbs.orders.allocation_search import Answer, Ask, StandIns
from specdb.verbs.orders.orders import read_book

FEWEST = 30
"""Questions from which on a child pays: it takes some seconds to read the catalogue and prepare the shafts."""

_AHEAD = 2  # questions a child has at once, so that it never waits for the next
_LOOK_SECONDS = 0.05
_PATIENCE_SECONDS = 60.0  # without any answer, before a child counts as lost: one question takes seconds at worst


@dataclass(frozen=True, slots=True)
class Searching:
    """What stand-ins are looked for with; see :class:`StandIns`.

    Attributes
    ----------
    path : Path
        A catalogue that nobody changes.
    top : int
        Stand-ins for a club, models for a set.
    most : float
        Largest score that is proposed.
    rules : PlanRules
        Today, and the last day whose arrivals count.
    """

    path: Path
    top: int
    most: float
    rules: PlanRules


def look_up(
    stand_ins: StandIns, asks: Sequence[Ask], how: Searching, tell: Callable[[int, int], None], fewest: int = FEWEST
) -> None:
    """Work out the answers to many questions.

    Parameters
    ----------
    stand_ins : StandIns
        Takes the answers.
    asks : sequence of Ask
        The questions.
    how : Searching
        The same that ``stand_ins`` was made with.
    tell : callable
        Told how many of how many are answered; what it raises ends the work.
    fewest : int
        Questions from which on a child helps.
    """
    # what takes longest comes first, so that none is left with it at the end
    todo = deque(sorted({stand_ins.same(a): a for a in asks}.values(), key=lambda a: -len(a.clubs)))
    total = len(todo)
    flying: deque[Ask] = deque()
    child = Child.start(__name__, serve.__name__) if total >= fewest and (os.cpu_count() or 1) > 1 else None
    heard = time.monotonic()
    try:
        tell(0, total)
        while todo or flying:
            if child is not None:
                answered = _with_child(child, how, stand_ins, todo, flying)
                heard = time.monotonic() if answered else heard
                if answered is None or time.monotonic() - heard > _PATIENCE_SECONDS:
                    todo.extend(flying)
                    flying.clear()
                    child.end()
                    child = None
            if todo:
                ask = todo.popleft()
                stand_ins.take(ask, stand_ins.work_out(ask))
            tell(total - len(todo) - len(flying), total)
    finally:
        if child is not None:
            child.end()


def _with_child(child: Child, how: Searching, stand_ins: StandIns, todo: deque[Ask], flying: deque[Ask]) -> int | None:
    """Take what the child has answered, and give it more; how many it answered, None where it is gone."""
    answered = 0
    try:
        while flying and (found := child.answer(0.0 if todo else _LOOK_SECONDS)) is not None:
            stand_ins.take(flying.popleft(), found[0])
            answered += 1
        while todo and len(flying) < _AHEAD:
            child.ask((how, todo[0]))
            flying.append(todo.popleft())
    except ChildGoneError:
        return None
    return answered


def serve() -> None:
    """Answer questions until standard input ends; what the child does."""
    with ExitStack() as stack:
        made: list[StandIns] = []

        def answer(question: tuple[Searching, Ask]) -> Answer:
            how, ask = question
            if not made:
                reader = stack.enter_context(Catalogue(how.path).read())
                made.append(StandIns(reader, read_book(reader), how.top, how.most, how.rules))
            return made[0].work_out(ask)

        answering(answer)
