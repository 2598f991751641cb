"""The interface as a process of its own: in tmux by its keys and what it shows, and in a bare pseudo-terminal."""

from __future__ import annotations

import os
import pty
import shutil
import signal
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from specdb.tui.memory import Memory

SPECDB = f"{sys.executable} -m specdb"
NEEDS_TMUX = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")


class Tmux:
    """A tmux server of its own with one window."""

    def __init__(self, folder: Path, command: str, *, size: tuple[int, int] = (80, 24), **env: str) -> None:
        self._server = f"specdb-{uuid.uuid4().hex[:12]}"
        self.status = folder / "status"
        words = " ".join(f"{name}={value}" for name, value in env.items())
        line = f"env XDG_STATE_HOME={folder / 'state'} {words} {command}; echo $? >{self.status}; sleep 60"
        self._run("-f", "/dev/null", "new-session", "-d", "-x", str(size[0]), "-y", str(size[1]), line)

    def _run(self, *words: str) -> str:
        done = subprocess.run(
            ["tmux", "-L", self._server, *words], capture_output=True, text=True, check=True, timeout=20
        )
        return done.stdout

    def keys(self, *keys: str) -> None:
        """Press keys."""
        self._run("send-keys", *keys)

    def screen(self, *, styled: bool = False) -> str:
        """What is shown."""
        return self._run("capture-pane", "-p", *(["-e"] if styled else []))

    def shows(self, text: str, seconds: float = 20.0) -> str:
        """Wait until a text is shown."""
        end = time.monotonic() + seconds
        while text not in (seen := self.screen()):
            assert time.monotonic() < end, f"no {text!r} in\n{seen}"
            time.sleep(0.05)
        return seen

    def resize(self, width: int, height: int) -> None:
        """Make the window larger or smaller."""
        self._run("resize-window", "-x", str(width), "-y", str(height))

    def ended(self, seconds: float = 20.0) -> int:
        """Wait for the end; the exit status."""
        end = time.monotonic() + seconds
        while not (self.status.exists() and self.status.read_text().strip()):
            assert time.monotonic() < end, self.screen()
            time.sleep(0.05)
        return int(self.status.read_text())

    def kill(self) -> None:
        """End the server."""
        subprocess.run(["tmux", "-L", self._server, "kill-server"], check=False, capture_output=True, timeout=20)


@pytest.fixture
def tmux(request: pytest.FixtureRequest, demo: Path, tmp_path: Path) -> Iterator[Tmux]:
    """The interface on the demonstration, in tmux; parameters are further words."""
    held = Tmux(tmp_path, f"{SPECDB} ui --catalogue {demo}", **getattr(request, "param", {}))
    yield held
    held.kill()


@NEEDS_TMUX
def test_in_tmux_it_lists_searches_helps_resizes_and_ends(tmux: Tmux) -> None:
    tmux.shows("Drugget 50")
    tmux.keys("/", "gloam 60", "Down")
    seen = tmux.shows("2 of ")
    assert "Drugget" not in seen
    tmux.keys("Escape")
    tmux.shows("172 shafts")
    tmux.keys("s", "weight", "Enter")  # faster than any dialog opens
    tmux.shows("by weight")
    tmux.keys("F1")
    tmux.shows("Search as you type")
    tmux.keys("Escape")
    for width, height in ((120, 40), (200, 60), (60, 15), (80, 24)):
        tmux.resize(width, height)
    seen = tmux.shows("by weight")
    assert len(seen.splitlines()) <= 24
    tmux.keys("C-q")
    assert tmux.ended() == 0
    assert "Traceback" not in tmux.screen()


@NEEDS_TMUX
@pytest.mark.parametrize("tmux", [{"NO_COLOR": "1"}], indirect=True)
def test_in_tmux_without_colour_there_is_none(tmux: Tmux) -> None:
    tmux.shows("Drugget 50")
    tmux.keys("Down")
    time.sleep(0.3)
    styled = tmux.screen(styled=True)
    assert "Drugget" in styled
    assert "\x1b[38;" not in styled
    assert "\x1b[48;" not in styled
    assert not any(f"\x1b[{n}m" in styled for n in (*range(30, 38), *range(40, 48), *range(90, 98)))


@NEEDS_TMUX
def test_in_tmux_a_damaged_file_gives_a_sentence_and_status_3(tmp_path: Path) -> None:
    bad = tmp_path / "bad.duckdb"
    bad.write_text("no catalogue at all, but long enough to be looked at", encoding="utf-8")
    held = Tmux(tmp_path, f"{SPECDB} --catalogue {bad}")
    try:
        assert held.ended() == 3
        seen = held.shows("restore a backup")
        assert "Traceback" not in seen
    finally:
        held.kill()


@NEEDS_TMUX
def test_in_tmux_bare_specdb_opens_the_interface(demo: Path, tmp_path: Path) -> None:
    held = Tmux(tmp_path, SPECDB, SPECDB_CATALOGUE=str(demo))
    try:
        held.shows("Drugget 50")
        held.keys("C-q")
        assert held.ended() == 0
    finally:
        held.kill()


@NEEDS_TMUX
@pytest.mark.crash
def test_a_terminal_that_is_closed_keeps_what_is_half_typed(demo: Path, tmp_path: Path) -> None:
    held = Tmux(tmp_path, f"{SPECDB} ui --catalogue {demo}")
    try:
        held.shows("Drugget 50")
        held.keys("n")
        held.shows("New shaft")
        held.keys("Halftyped")
        held.shows("Halftyped")
    finally:
        held.kill()  # as when the window is closed
    memory = Memory(tmp_path / "state" / "specdb", demo)
    end = time.monotonic() + 10
    while not memory.drafts() and time.monotonic() < end:
        time.sleep(0.05)
    assert len(memory.drafts()) == 1
    assert "Halftyped" in (memory.draft(memory.drafts()[0]) or {}).values()


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are of Unix")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_it_and_leaves_no_noise(demo: Path, tmp_path: Path, number: signal.Signals) -> None:
    process, master = pty.fork()
    if process == 0:
        env = {**os.environ, "TERM": "xterm-256color", "XDG_STATE_HOME": str(tmp_path / "state")}
        os.execve(sys.executable, [sys.executable, "-m", "specdb", "ui", "--catalogue", str(demo)], env)
    seen = b""
    end = time.monotonic() + 30
    while b"Drugget" not in seen:
        assert time.monotonic() < end
        seen += os.read(master, 1 << 16)
    os.kill(process, number)
    rest = b""
    try:
        while chunk := os.read(master, 1 << 16):
            rest += chunk
    except OSError:
        pass  # how Linux tells that the other side is closed
    _, status = os.waitpid(process, 0)
    assert b"Traceback" not in rest
    assert os.waitstatus_to_exitcode(status) == (0 if number == signal.SIGTERM else 128 + signal.SIGHUP)


def test_without_a_terminal_ui_says_so_and_bare_specdb_prints_the_help() -> None:
    told = subprocess.run(
        [sys.executable, "-m", "specdb", "ui"], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    assert told.returncode == 2
    assert "needs a terminal" in " ".join(told.stderr.split())
    helped = subprocess.run(
        [sys.executable, "-m", "specdb"], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    assert helped.returncode == 0
    assert "Usage: specdb" in helped.stdout
