"""The interface on a copy of the demonstration catalogue, with a memory of its own."""

from __future__ import annotations

import asyncio
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import duckdb
import pytest
from textual import _wait
from textual.app import App
from textual.pilot import Pilot
from textual.widgets import Input

from specdb.tui.app import SpecdbApp, make_app
from tests.support.copies import demo_copy

# how long the pilot sleeps to see whether it is idle; as it comes, a test spends most of its time asleep
_wait.SLEEP_GRANULARITY = 1 / 250
_wait.SLEEP_IDLE = _wait.SLEEP_GRANULARITY / 4

SMALL, WIDE = (80, 24), (120, 40)
AppFactory = Callable[..., SpecdbApp]
AppPilot = Pilot[Any]


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demonstration catalogue that no test changes."""
    path = tmp_path_factory.mktemp("demo") / "demo.duckdb"
    demo_copy(path)
    with duckdb.connect(str(path)) as con:
        con.execute("UPDATE change SET \"at\" = TIMESTAMP '2026-03-02 09:30:00'")
    return path


@pytest.fixture
def demo(demo_file: Path, tmp_path: Path) -> Path:
    """A copy of the demonstration catalogue to change."""
    path = tmp_path / "demo.duckdb"
    shutil.copy(demo_file, path)
    return path


@pytest.fixture(autouse=True)
def _quiet_surroundings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("SPECDB_CATALOGUE", "SPECDB_BY", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("TZ", "UTC")


@pytest.fixture
def make(demo: Path, tmp_path: Path) -> Iterator[AppFactory]:
    """Make the app; on the demonstration, unless another file is named."""
    made: list[SpecdbApp] = []

    def factory(path: Path = demo, *, start: str = "catalogue", state: Path = tmp_path / "remembered") -> SpecdbApp:
        made.append(make_app(path, state_folder=state, start=start))
        return made[-1]

    yield factory
    for app in made:
        app.close_down()


async def settled(pilot: AppPilot, seconds: float = 40.0) -> None:
    """Wait until no job is under way and what they brought is shown."""
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    end = time.monotonic() + seconds
    quiet = 0
    while quiet < 2:
        await pilot.pause()
        quiet = quiet + 1 if not app.jobs.under_way() and _nothing_queued(app) else 0
        await asyncio.sleep(0.002)
        assert time.monotonic() < end, f"still at work: {app.jobs.under_way()}"


def _nothing_queued(app: SpecdbApp) -> bool:
    """Whether keys and messages have all been dealt with; a machine that is busy only looks idle."""
    if app._keys or (app._dealing is not None and not app._dealing.done()):
        return False
    pumps = [app, *(node for screen in app.screen_stack for node in screen.walk_children(with_self=True))]
    return all(pump._message_queue.empty() for pump in pumps)


async def typed(pilot: AppPilot, text: str) -> None:
    """Type a text into the line that has the focus; the last letter as a key, the others at once."""
    line = pilot.app.focused
    assert isinstance(line, Input)
    line.insert_text_at_cursor(text[:-1])
    await pilot.press(text[-1])
    await settled(pilot)


async def until(pilot: AppPilot, true: Callable[[], bool], seconds: float = 40.0) -> None:
    """Wait until something is true and whatever screen is up is painted."""
    end = time.monotonic() + seconds
    while not (true() and _is_painted(pilot.app)):
        assert time.monotonic() < end, "it never came true"
        await pilot.pause(0.02)


def _is_painted(app: App[Any]) -> bool:
    """Whether the screen has been laid out; one that has just come up is blank on a busy machine. No screen counts."""
    # only its size is looked at: to render it too early would keep what lies behind a dialog as it was then
    return not app._screen_stack or app.screen._compositor.size.area > 0


def on_screen(app: SpecdbApp) -> str:
    """What the screen shows, as text."""
    lines = app.screen._compositor.render_strips()
    return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in lines)
