"""Planning in a thread: how far it is, stopping it, and what comes of it."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from specdb.catalogue import Catalogue
    from specdb.tui.plan.words import Proposal
    from specdb.verbs.orders.allocation import AllocationAnswer, AllocationOptions
    from specdb.verbs.orders.waits import Wait

_BAR = 24
_STAGES = {"reading the orders": (0.0, 0.05), "looking for stand-ins": (0.05, 0.7), "planning": (0.75, 0.25)}


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan, with what a person needs to decide.

    Attributes
    ----------
    answer : AllocationAnswer
        The plan.
    options : AllocationOptions
        How it was made.
    proposals : tuple of Proposal
        Stand-ins to approve.
    waits : mapping
        What each order waits for.
    seconds : float
        How long it took, s.
    """

    answer: AllocationAnswer
    options: AllocationOptions
    proposals: tuple[Proposal, ...]
    waits: Mapping[str, tuple[Wait, ...]]
    seconds: float


@dataclass(slots=True)
class Stage:
    """How far the planning is; written by its thread, read by the screen.

    Attributes
    ----------
    text : str
        What is being done.
    done, total : int
        How much of how much.
    stop : Event
        Set to have it stopped.
    """

    text: str
    done: int
    total: int
    stop: threading.Event

    def tell(self, text: str, done: int, total: int) -> None:
        """Take how far it is; in the thread.

        Parameters
        ----------
        text : str
            What is being done.
        done, total : int
            How much of how much.
        """
        self.text, self.done, self.total = text, done, total


def make_plan(catalogue: Catalogue, options: AllocationOptions, stage: Stage) -> Planned:
    """Plan all open orders; in a thread.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    options : AllocationOptions
        How.
    stage : Stage
        Told how far it is.

    Raises
    ------
    PlanStoppedError
        If it was stopped.
    """
    from specdb.tui.plan.words import proposals
    from specdb.verbs.orders.allocation import plan_orders
    from specdb.verbs.orders.waits import orders_seen

    begun = time.perf_counter()
    answer = plan_orders(catalogue, options, progress=stage.tell, stopped=stage.stop.is_set)
    waits = orders_seen(catalogue).waits
    return Planned(answer, options, tuple(proposals(answer.plan)), waits, time.perf_counter() - begun)


def progress_words(stage: Stage, seconds: float, most: float) -> str:
    """A bar and what is being done.

    Parameters
    ----------
    stage : Stage
        How far it is.
    seconds : float
        How long it has taken, s.
    most : float
        How long the solver may take, s.
    """
    begin, share = _STAGES.get(stage.text, (0.0, 0.05))
    part = begin + share * (min(stage.done / stage.total, 1.0) if stage.total else 0.0)
    full = round(part * _BAR)
    many = f" {stage.done} of {stage.total}" if stage.total > 1 else ""
    limit = f" (at most {most:.0f} s)" if stage.text == "planning" else ""
    if stage.stop.is_set():
        return f"{'█' * full}{'░' * (_BAR - full)} stopping, with the best plan found so far …"
    bar = f"{'█' * full}{'░' * (_BAR - full)}"
    return f"{bar} {stage.text or 'beginning'}{many}{limit}, {seconds:.0f} s  esc stops"
