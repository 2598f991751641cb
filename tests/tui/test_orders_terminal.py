"""Orders in a real terminal: typed at once, without waiting for any dialog."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

import specdb
from specdb.verbs.orders.changes import add_order
from specdb.verbs.orders.checks import Wanted
from specdb.verbs.orders.orders import order_of
from tests.tui.test_terminal import NEEDS_TMUX, SPECDB, Tmux


@pytest.fixture
def tmux(demo: Path, tmp_path: Path) -> Iterator[Tmux]:
    """The interface on the demonstration, in tmux."""
    held = Tmux(tmp_path, f"{SPECDB} ui --catalogue {demo}")
    yield held
    held.kill()


@NEEDS_TMUX
def test_in_tmux_an_order_is_entered_planned_and_its_parts_kept(tmux: Tmux, demo: Path) -> None:
    tmux.shows("Drugget 50")
    tmux.keys("F7", "n", "A. Wren", "Tab", "2031-12-24", "Tab", "Tab", "Enter", "tansley-8", "Enter", "Enter")
    tmux.shows("8 iron (Bram Tansley)")
    tmux.keys("C-s")
    tmux.shows("o-1047  A. Wren, open")
    tmux.keys("p")
    tmux.shows("open orders can be built in full")
    tmux.resize(120, 40)
    tmux.keys("k")
    tmux.shows("Keep the parts as planned for")
    tmux.keys("y")
    tmux.shows("Kept as planned: o-1043")
    found = order_of(specdb.open(demo), "o-1047")
    assert (found.order.customer, found.order.wanted_on) == ("A. Wren", dt.date(2031, 12, 24))
    assert all(s.open == 0 for s in order_of(specdb.open(demo), "o-1043").states)
    tmux.keys("Escape")
    tmux.shows("plan all")
    add_order(specdb.open(demo), "o-7777", [Wanted(club_id="ashby-wedge")])  # as another process would
    tmux.shows("o-7777", 5.0)
    tmux.keys("C-q")
    assert tmux.ended() == 0
    assert "Traceback" not in tmux.screen()
