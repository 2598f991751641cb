"""Build as a process of its own: opened at a club by the command line, killed, and opened again."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest

from tests.tui.test_terminal import NEEDS_TMUX, SPECDB, Tmux

UNIT = "--club wexcombe-7-iron --order o-1045 --line 1 --unit 1"


@NEEDS_TMUX
@pytest.mark.crash
def test_after_kill_9_the_step_and_what_was_half_typed_are_there(demo: Path, tmp_path: Path) -> None:
    pid = tmp_path / "pid"
    command = f"sh -c 'echo $$ >{pid}; exec {SPECDB} ui --catalogue {demo} {UNIT}'"
    held = Tmux(tmp_path, command)
    try:
        held.shows("CHECK THE PARTS")
        held.keys("Right", "Right")
        held.shows("3 of ")
        held.keys("m")
        held.shows("PLAYING LENGTH")
        held.keys("-l", "37 1/16")
        held.shows("AS WANTED")
        time.sleep(0.6)  # what is typed is on the disk within half a second
        held.keys("Enter")
        os.kill(int(pid.read_text()), signal.SIGKILL)
        assert held.ended() == 128 + signal.SIGKILL
    finally:
        held.kill()
    held.status.unlink()
    again = Tmux(tmp_path, f"{SPECDB} ui --catalogue {demo} --club wexcombe-7-iron --order o-1045")
    try:
        seen = again.shows("3 of ")
        assert "1 typed, not kept" in seen
        again.keys("m")
        assert "37 1/16" in again.shows("playing length")
        again.keys("C-q")
        assert again.ended() == 0
    finally:
        again.kill()


@NEEDS_TMUX
def test_a_wrong_club_is_told_and_another_may_be_scanned(demo: Path, tmp_path: Path) -> None:
    held = Tmux(tmp_path, f"{SPECDB} ui --catalogue {demo} --club ashby-drivr", NO_COLOR="1")
    try:
        assert "No club is on the bench" in held.shows("ashby-driver")  # the near match is named
        held.keys("-l", "specdb:club/ashby-driver")  # a scanner types faster than anybody
        held.keys("Enter")
        held.shows("CHECK THE PARTS")
    finally:
        held.kill()
