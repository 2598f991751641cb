"""Benchmarks of the terminal interface: ``python -m tests.bench.tui [SIZE …] [--write]``.

The interface runs as a process of its own in a pseudo-terminal of 120 by 40, as a person has it. Measured are the time
from its start to the first rows on the screen, and from a key to the last byte of the repaint that it causes, while
the list is scrolled by rows, by pages, from end to end, and while a search is typed. ``--write`` keeps the table in
``tests/bench/RESULTS_TUI.md``.
"""

from __future__ import annotations

import argparse
import fcntl
import os
import platform
import pty
import select
import signal
import statistics
import struct
import sys
import tempfile
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from specdb.verbs.catalogue.demonstration import demo_catalogue
from tests.bench.references import add_fixed_parts
from tests.support.random_catalogue import random_shafts

SIZES = (10_000, 100_000)
RESULTS = Path(__file__).with_name("RESULTS_TUI.md")
LINES, COLUMNS = 40, 120
DOWN, HOME, END = b"\x1b[B", b"\x1b[H", b"\x1b[F"
PAGE_DOWN, PAGE_UP = b"\x1b[6~", b"\x1b[5~"
_QUIET_SECONDS = 0.03  # a repaint is over when nothing has come for so long
_STARTS = 7


class Terminal:
    """A process in a pseudo-terminal."""

    def __init__(self, *words: str, state: Path) -> None:
        self._began = time.perf_counter()
        self.process, self._master = pty.fork()
        if self.process == 0:
            env = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor", "XDG_STATE_HOME": str(state)}
            os.execve(sys.executable, [sys.executable, "-m", "specdb", *words], env)
        fcntl.ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", LINES, COLUMNS, 0, 0))

    def read_until(self, text: bytes, seconds: float = 30.0) -> float:
        """Time from the start to when a text has come, s."""
        seen = b""
        end = time.perf_counter() + seconds
        while text not in seen:
            if time.perf_counter() > end:
                raise TimeoutError(seen[-500:].decode(errors="replace"))
            seen += self._read(0.05)
        return time.perf_counter() - self._began

    def key(self, key: bytes) -> float:
        """Send a key; time to the last byte of its repaint, ms."""
        began = time.perf_counter()
        os.write(self._master, key)
        last = began
        waited = 1.0
        while self._read(waited):
            last = time.perf_counter()
            waited = _QUIET_SECONDS
        return 1000.0 * (last - began)

    def settle(self, seconds: float = 0.5) -> None:
        """Read what comes until nothing does."""
        while self._read(seconds):
            pass

    def _read(self, seconds: float) -> bytes:
        ready, _, _ = select.select([self._master], [], [], seconds)
        return os.read(self._master, 1 << 16) if ready else b""

    def close(self) -> None:
        """End the process."""
        os.kill(self.process, signal.SIGKILL)
        os.waitpid(self.process, 0)
        os.close(self._master)


@contextmanager
def interface(catalogue: Path, state: Path) -> Iterator[Terminal]:
    """The interface on a catalogue."""
    terminal = Terminal("ui", "--catalogue", str(catalogue), state=state)
    try:
        yield terminal
    finally:
        terminal.close()


def filled(folder: Path, size: int) -> Path:
    """A catalogue of random shafts."""
    import pyarrow.csv as pacsv

    from specdb.catalogue import Catalogue
    from specdb.catalogue.importing import import_file

    path = folder / f"bench-{size}.duckdb"
    add_fixed_parts(path)
    shafts, _ = random_shafts(size, seed=size, stations=2)
    pacsv.write_csv(shafts, folder / "shaft.csv")
    import_file(Catalogue(path), "shaft", folder / "shaft.csv")
    return path


def _p95(times: list[float]) -> float:
    return statistics.quantiles(times, n=20)[-1]


def bench(catalogue: Path, first_row: bytes, state: Path) -> dict[str, Any]:
    """All figures of one catalogue."""
    starts = []
    for _ in range(_STARTS):
        with interface(catalogue, state) as terminal:
            starts.append(terminal.read_until(first_row))
    with interface(catalogue, state) as terminal:
        terminal.read_until(first_row)
        terminal.settle()
        rows = [terminal.key(DOWN) for _ in range(100)]
        terminal.key(HOME)
        # down and up again, as the demonstration has few pages
        pages = [terminal.key(key) for _ in range(50) for key in (PAGE_DOWN, PAGE_UP)]
        ends = [terminal.key(key) for _ in range(10) for key in (END, HOME)]
        terminal.key(b"/")
        terminal.settle()
        words = [terminal.key(letter) for letter in (b"7", b"7", b"\x7f", b"3", b"\x7f", b"\x7f") * 5]
    return {
        "start_s": statistics.median(starts),
        "start_worst_s": max(starts),
        "rows_p95_ms": _p95(rows),
        "pages_p95_ms": _p95(pages),
        "ends_p95_ms": _p95(ends),
        "search_p95_ms": _p95(words),
    }


def main() -> None:
    """Run the benchmarks."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.tui", description=__doc__)
    parser.add_argument("size", nargs="*", type=int, default=SIZES)
    parser.add_argument("--write", action="store_true", help="write the table to RESULTS_TUI.md")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        demo = folder / "demo.duckdb"
        demo_catalogue(demo)
        results = [("demonstration", bench(demo, b"Drugget", folder / "state"))]
        results += [(f"{n:,} shafts", bench(filled(folder, n), b"Random 0", folder / "state")) for n in options.size]
    text = _written(results)
    print(text)
    if options.write:
        machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
        RESULTS.write_text(
            "# Benchmark results of the interface\n\nMade by `python -m tests.bench.tui --write`; a process of its own "
            f"in a pseudo-terminal of {COLUMNS} by {LINES}, files in the page cache.\nMachine: {machine}.\n\n{text}",
            encoding="utf-8",
        )


def _written(results: list[tuple[str, dict[str, Any]]]) -> str:
    head = (
        f"| catalogue | start to first rows (worst of {_STARTS}) | key to repaint: a row, p95 | a page, p95 | "
        "end to end, p95 | a letter of a search, p95 |\n|---|---|---|---|---|---|\n"
    )
    return head + "".join(
        f"| {what} | {r['start_s']:.2f} s ({r['start_worst_s']:.2f} s) | {r['rows_p95_ms']:.0f} ms | "
        f"{r['pages_p95_ms']:.0f} ms | {r['ends_p95_ms']:.0f} ms | {r['search_p95_ms']:.0f} ms |\n"
        for what, r in results
    )


if __name__ == "__main__":
    main()
