"""Work off the interface's thread: threads of our own, one for each group of jobs that has something to do.

Within a group jobs run one after another. A job that has not begun when a newer one of its group comes is left out,
unless it changes something: changes are all done, in order. The threads do not keep the program from ending; whoever
ends it waits for changes that are under way (:meth:`Jobs.finish_changes`).
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Hashable
from dataclasses import dataclass

_LOOK_SECONDS = 0.02


@dataclass(frozen=True, slots=True)
class Job:
    """Something to do in a thread.

    Attributes
    ----------
    run : callable
        The work; must raise nothing.
    what : str
        What it does, in words.
    changes : bool
        Whether it may change something that is kept.
    """

    run: Callable[[], None]
    what: str
    changes: bool


class Jobs:
    """Runs jobs by group."""

    def __init__(self) -> None:
        self._lock = threading.Condition()
        self._queues: dict[Hashable, list[Job]] = {}
        self._running: dict[Hashable, Job] = {}

    def start(self, group: Hashable, job: Job) -> None:
        """Have a job done.

        Parameters
        ----------
        group : hashable
            Jobs of one group run one after another.
        job : Job
            The job.
        """
        with self._lock:
            queue = self._queues.setdefault(group, [])
            if not job.changes:
                queue[:] = [waiting for waiting in queue if waiting.changes]
            queue.append(job)
            if group in self._running:
                return
            self._running[group] = job
        threading.Thread(target=self._drain, args=(group,), name=f"specdb {job.what}", daemon=True).start()

    def under_way(self) -> list[str]:
        """What is being done now, in words."""
        with self._lock:
            return [job.what for job in self._running.values()]

    def changes_under_way(self) -> list[str]:
        """Which changes are being made or wait for their turn, in words."""
        with self._lock:
            waiting = [job for queue in self._queues.values() for job in queue]
            return list(dict.fromkeys(job.what for job in (*self._running.values(), *waiting) if job.changes))

    def finish_changes(self, seconds: float) -> bool:
        """Wait for the changes under way; False if they took longer.

        Parameters
        ----------
        seconds : float
            How long to wait at most, s.
        """
        end = time.monotonic() + seconds
        with self._lock:
            return self._lock.wait_for(lambda: not self._has_changes(), timeout=max(end - time.monotonic(), 0.0))

    def finish(self, seconds: float, waiting: Callable[[], int] = lambda: 0) -> bool:
        """Drop what has not begun and changes nothing, and wait for what has begun; False if it took longer.

        A thread that is cut off within the database or a number library brings the whole program down with it.

        Parameters
        ----------
        seconds : float
            How long to wait at most, s.
        waiting : callable
            How many of them only wait for another program; these are not waited for.
        """
        end = time.monotonic() + seconds
        with self._lock:
            for queue in self._queues.values():
                queue[:] = [job for job in queue if job.changes]
            while len(self._running) > waiting() and time.monotonic() < end:
                self._lock.wait(_LOOK_SECONDS)
            return not self._running

    def _has_changes(self) -> bool:
        return any(job.changes for job in self._running.values()) or any(
            job.changes for queue in self._queues.values() for job in queue
        )

    def _drain(self, group: Hashable) -> None:
        while True:
            with self._lock:
                queue = self._queues[group]
                if not queue:
                    del self._queues[group], self._running[group]
                    self._lock.notify_all()
                    return
                job = queue.pop(0)
                self._running[group] = job
            job.run()
            with self._lock:
                self._lock.notify_all()
