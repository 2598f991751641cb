"""Turns at the catalogue file: readers share it, a writer has it alone, everybody waits only so long.

DuckDB lets one process write or several read and refuses the next at once. So each short connection first takes
an advisory lock on a gate file beside the catalogue (shared to read, exclusive to write). Before that, everyone
passes a turnstile lock, so that a stream of readers cannot keep a writer out. The kernel drops the locks of a
process that dies. The writer leaves its name in the gate file, for the message to those who wait in vain.

Where there is no ``flock`` (or the folder cannot be written and holds no gate file) the gate is open, and the
connection itself is tried again until the time is over.
"""

from __future__ import annotations

import errno
import json
import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from specdb.errors import CatalogueBusyError, UsageError

try:
    import fcntl
except ImportError:  # systems without flock
    HAS_FLOCK = False
else:
    HAS_FLOCK = True

_FIRST_PAUSE = 0.001
_LONGEST_PAUSE = 0.005
_PATIENCE_SECONDS = 1.0
_NO_LOCKS = (errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOSYS)


_LISTENERS: list[Callable[[], None]] = []


def when_waiting(tell: Callable[[], None] | None) -> None:
    """Name what is called once when a wait has lasted a second; None for nothing.

    Parameters
    ----------
    tell : callable or None
        Tells a person what is waited for.
    """
    _LISTENERS[:] = [] if tell is None else [tell]


class Deadline:
    """A bounded wait with growing pauses.

    Parameters
    ----------
    seconds : float
        How long to wait at most.
    """

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self._end = time.monotonic() + seconds
        self._pause = _FIRST_PAUSE
        self._told = False

    def pause(self) -> bool:
        """Sleep a little; False when the time is over."""
        left = self._end - time.monotonic()
        if left <= 0:
            return False
        if not self._told and self.seconds - left >= _PATIENCE_SECONDS:
            self._told = True
            for tell in _LISTENERS:
                tell()
        time.sleep(min(self._pause, left))
        self._pause = min(self._pause * 1.5, _LONGEST_PAUSE)
        return True


class _Held(threading.local):
    """What this thread holds already, by path: ``read`` or ``write``."""

    def __init__(self) -> None:
        self.modes: dict[str, str] = {}


_HELD = _Held()


def gate_path(catalogue: Path) -> Path:
    """Path of the gate file of a catalogue."""
    return catalogue.with_name(catalogue.name + ".gate")


def _turnstile_path(catalogue: Path) -> Path:
    return catalogue.with_name(catalogue.name + ".turn")


def _open(path: Path) -> int | None:
    """Open a lock file, made if need be; None where that cannot be done."""
    for flags in (os.O_RDWR | os.O_CREAT, os.O_RDONLY):
        try:
            return os.open(path, flags | getattr(os, "O_CLOEXEC", 0), 0o666)
        except OSError:
            continue
    return None


def _try_lock(handle: int, how: int) -> bool | None:
    """Lock without waiting: True if held now, False if another holds it, None where locks do not work."""
    try:
        fcntl.flock(handle, how | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EWOULDBLOCK, errno.EACCES):
            return False
        if error.errno in _NO_LOCKS:
            return None
        raise
    return True


def holder(catalogue: Path) -> str:
    """Who has the catalogue for writing, in words; empty if that is not known or no longer so."""
    try:
        note = json.loads(gate_path(catalogue).read_text(encoding="utf-8"))
        process, host = int(note["process"]), str(note["host"])
        what, since = str(note["what"]), float(note["since"])
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    if host == socket.gethostname() and not _alive(process):
        return ""  # left behind by a writer that was killed
    return f"process {process} on {host} ('{what}', for {max(time.time() - since, 0):.0f} s)"


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def busy(catalogue: Path, *, write: bool, seconds: float, who: str = "") -> CatalogueBusyError:
    """The error for a wait that was too long.

    Parameters
    ----------
    catalogue : Path
        File that was waited for.
    write : bool
        Whether it was to be written.
    seconds : float
        How long the wait was.
    who : str
        Who holds it, where the caller knows.
    """
    who = who or holder(catalogue)
    aim = "change" if write else "read"
    by = f"{who} is writing to it" if who else "another program has it open"
    return CatalogueBusyError(
        f"waited {seconds:g} s to {aim} the catalogue {catalogue}, but {by}; try again when that is done"
    )


@contextmanager
def passed(catalogue: Path, deadline: Deadline, *, write: bool, what: str) -> Iterator[None]:
    """Hold the gate, shared or alone, for the length of the block.

    Parameters
    ----------
    catalogue : Path
        The catalogue file.
    deadline : Deadline
        How long to wait.
    write : bool
        Alone (to write) or shared (to read).
    what : str
        What is done, for those who wait.

    Raises
    ------
    CatalogueBusyError
        If the gate was not free in time.
    UsageError
        If this thread is already within a change, or within a reading and now wants to change.
    """
    key = str(catalogue.absolute())
    held = _HELD.modes.get(key)
    if held == "write":
        raise UsageError("within a change, read and write through the change itself")
    if held == "read":
        if write:
            raise UsageError("finish reading the catalogue before changing it")
        yield  # a second reading in the same thread needs no second turn
        return
    handles = _enter(catalogue, deadline, write=write)
    _HELD.modes[key] = "write" if write else "read"
    try:
        if write and handles:
            _sign(handles[0], what)
        yield
    finally:
        del _HELD.modes[key]
        if write and handles:
            _sign(handles[0], "")
        for handle in handles:
            os.close(handle)


def _enter(catalogue: Path, deadline: Deadline, *, write: bool) -> list[int]:
    """Pass the turnstile and take the gate; the handle to close, or nothing where there are no locks."""
    if not HAS_FLOCK:
        return []
    gate, turnstile = _open(gate_path(catalogue)), _open(_turnstile_path(catalogue))
    handles = [h for h in (gate, turnstile) if h is not None]
    if gate is None or turnstile is None:
        for handle in handles:
            os.close(handle)
        return []
    entered = False
    try:
        how = fcntl.LOCK_EX if write else fcntl.LOCK_SH
        for handle, kind in ((turnstile, fcntl.LOCK_EX), (gate, how)):
            while (got := _try_lock(handle, kind)) is False:
                if not deadline.pause():
                    raise busy(catalogue, write=write, seconds=deadline.seconds)
            if got is None:
                return []
        entered = True
    finally:
        os.close(turnstile)
        if not entered:
            os.close(gate)
    return [gate]


def _sign(handle: int, what: str) -> None:
    note = {"process": os.getpid(), "host": socket.gethostname(), "what": what, "since": time.time()}
    try:
        os.ftruncate(handle, 0)
        if what:
            os.pwrite(handle, json.dumps(note).encode(), 0)
    except OSError:
        return  # only a courtesy: a full disk or a gate file of someone else must not stop the work
