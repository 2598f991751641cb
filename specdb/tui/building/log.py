"""How far the work on each club has come: the step it is at, and when each step was ticked off.

One small file a club beside what else is remembered, written whole or not at all, and read anew each time: nothing is
lost with the program, and another terminal goes on where this one is.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import uuid
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.verbs.building.sheet_code import UnitMeant, code_of

if TYPE_CHECKING:
    from specdb.sheets.content import WorkStep
    from specdb.tui.memory import Memory

_MOST = 300  # clubs that are remembered


@dataclass(frozen=True, slots=True)
class Work:
    """How far the work on a club has come.

    Attributes
    ----------
    at : int
        Number of the step, from 0.
    done : mapping of str to str
        When each step was ticked off, as ISO 8601, by its mark.
    """

    at: int = 0
    done: Mapping[str, str] = field(default_factory=dict)


def mark_of(step: WorkStep) -> str:
    """The mark of a step: another one as soon as anything in it is changed, so that its tick no longer counts.

    Parameters
    ----------
    step : WorkStep
        The step.
    """
    return hashlib.sha256(f"{step.title}\n{step.detail}".encode()).hexdigest()[:12]


def ticked(work: Work, steps: Sequence[WorkStep], number: int, when: dt.datetime | None) -> Work:
    """The work with a step ticked off, at the next one; or with its tick taken back.

    Parameters
    ----------
    work : Work
        How far it has come.
    steps : sequence of WorkStep
        The steps.
    number : int
        The step, from 0.
    when : datetime or None
        When it was done; its tick is taken back where None.
    """
    marks = {mark_of(step) for step in steps}
    done = {mark: at for mark, at in work.done.items() if mark in marks}
    mark = mark_of(steps[number])
    if when is None:
        done.pop(mark, None)
    else:
        done.setdefault(mark, when.isoformat(timespec="seconds"))
    return Work(number if when is None else min(number + 1, len(steps) - 1), done)


class WorkLog:
    """The work on all clubs of a catalogue.

    Parameters
    ----------
    memory : Memory
        What else is remembered of it.
    """

    def __init__(self, memory: Memory) -> None:
        self.folder = memory.folder / f"{memory.path.stem}-build"

    def read(self, meant: UnitMeant) -> Work:
        """How far the work on a club has come.

        Parameters
        ----------
        meant : UnitMeant
            The club.
        """
        try:
            found = json.loads(self._path(meant).read_text(encoding="utf-8"))
            return Work(int(found["at"]), {str(k): str(v) for k, v in dict(found["done"]).items()})
        except (OSError, ValueError, KeyError, TypeError):
            return Work()  # not begun, or a file that somebody spoilt

    def keep(self, meant: UnitMeant, work: Work) -> None:
        """Remember how far it has come.

        Parameters
        ----------
        meant : UnitMeant
            The club.
        work : Work
            Where it is.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        path = self._path(meant)
        fresh = path.with_suffix(f".{uuid.uuid4().hex[:8]}.new")
        text = json.dumps({"club": code_of(meant), "at": work.at, "done": dict(work.done)}, indent=1)
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_CLOEXEC", 0), 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
        self._forget_old()

    def tick(self, meant: UnitMeant, steps: Sequence[WorkStep], number: int, when: dt.datetime | None) -> None:
        """Tick a step off, or take its tick back, beside whatever another terminal ticked.

        Parameters
        ----------
        meant : UnitMeant
            The club.
        steps : sequence of WorkStep
            Its steps.
        number : int
            The step, from 0.
        when : datetime or None
            When it was done; its tick is taken back where None.
        """
        self.keep(meant, ticked(self.read(meant), steps, number, when))

    def go(self, meant: UnitMeant, number: int) -> None:
        """Remember the step one is at.

        Parameters
        ----------
        meant : UnitMeant
            The club.
        number : int
            The step, from 0.
        """
        self.keep(meant, replace(self.read(meant), at=number))

    def _path(self, meant: UnitMeant) -> Path:
        return self.folder / f"{hashlib.sha256(code_of(meant).encode()).hexdigest()[:16]}.json"

    def _forget_old(self) -> None:
        files = list(self.folder.glob("*.json"))
        if len(files) <= _MOST:
            return
        with suppress(OSError):  # another terminal may be forgetting them, too
            for path in sorted(files, key=lambda p: p.stat().st_mtime)[: len(files) - _MOST]:
                path.unlink(missing_ok=True)
