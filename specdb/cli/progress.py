"""Progress of long work, on standard error, and only where that is a terminal."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

_PATIENCE_SECONDS = 0.5
_BAR = 24
_EVERY_SECONDS = 0.1


@contextmanager
def steps() -> Iterator[Callable[[str], None]]:
    """Tell the steps of a work, one line that is wiped at the end; nothing in the first half second."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    began = time.monotonic()
    shown = False

    def tell(text: str) -> None:
        nonlocal shown
        if time.monotonic() - began >= _PATIENCE_SECONDS:
            shown = True
            sys.stderr.write(f"\r\x1b[K{text} ...")
            sys.stderr.flush()

    try:
        yield tell
    finally:
        if shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()


def tell_of_waiting() -> None:
    """Have it said when another program holds the catalogue for longer than a second."""
    if not sys.stderr.isatty():
        return
    from specdb.catalogue.gate import when_waiting
    from specdb.cli.output import note

    when_waiting(lambda: note("Waiting for another program that has the catalogue open ..."))


@contextmanager
def stoppable() -> Iterator[Callable[[], bool]]:
    """Whether Ctrl-C was pressed, for a work that ends by itself with what it has; pressed again, it ends at once."""
    pressed = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield pressed.is_set
        return

    def stop(number: int, frame: FrameType | None) -> None:
        if pressed.is_set():
            signal.default_int_handler(number, frame)
        pressed.set()

    before = signal.signal(signal.SIGINT, stop)
    try:
        yield pressed.is_set
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def bar() -> Iterator[Callable[[str, int, int], None] | None]:
    """A bar for a work that tells how much of it is done; None where nobody would see it."""
    if not sys.stderr.isatty():
        yield None
        return
    last = 0.0

    def tell(text: str, done: int, total: int) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last < _EVERY_SECONDS and done < total:
            return
        last = now
        share = min(done / total, 1.0) if total > 0 else 0.0
        filled = int(share * _BAR)
        sys.stderr.write(f"\r\x1b[K{text} [{'#' * filled}{'.' * (_BAR - filled)}] {100 * share:3.0f} %")
        sys.stderr.flush()

    try:
        yield tell
    finally:
        if last:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
