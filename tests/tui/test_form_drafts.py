"""A form half typed comes back: after a crash by itself, after it was put aside when one wants it."""

from __future__ import annotations

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.dialogs.ask import WaysDialog
from specdb.tui.dialogs.differs import DiffersDialog
from specdb.tui.forms import drafts
from specdb.tui.forms.row_form import RowForm
from specdb.tui.memory import Memory
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.catalogue.forms import form_of
from tests.tui.conftest import SMALL, AppFactory, on_screen, settled, until
from tests.tui.test_form import SHAFT, entry, is_ready, opened, row, typed

RUN = "import sys, pathlib; from specdb.tui.app import run; run(sys.argv[1], state_folder=pathlib.Path(sys.argv[2]))"
DOWN = b"\x1b[B"


class Terminal:
    """The interface in a process of its own, on a terminal of its own."""

    def __init__(self, catalogue: Path, state: Path) -> None:
        self._main, side = pty.openpty()
        self._shown = b""
        self.process = subprocess.Popen(
            [sys.executable, "-c", RUN, str(catalogue), str(state)],
            stdin=side,
            stdout=side,
            stderr=side,
            env={**os.environ, "TERM": "xterm-256color", "COLUMNS": "80", "LINES": "24"},
            start_new_session=True,
        )
        os.close(side)

    def read_until(self, text: bytes, seconds: float = 20.0) -> None:
        """Wait until a text is on the screen."""
        end = time.monotonic() + seconds
        while text not in self._shown:
            assert time.monotonic() < end, self._shown[-2000:]
            if select.select([self._main], [], [], 0.1)[0]:
                self._shown += os.read(self._main, 65536)

    def type(self, keys: bytes) -> None:
        """Type keys."""
        self._shown = b""
        os.write(self._main, keys)

    def kill(self) -> None:
        """End it without a chance to do anything."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        os.close(self._main)


def wait_for_draft(state: Path, text: str, seconds: float = 5.0) -> float:
    """Wait until a text is in what is remembered; how long it took, s."""
    begin = time.monotonic()
    while not any(text in file.read_text(encoding="utf-8") for file in state.glob("*.json")):
        assert time.monotonic() < begin + seconds, "it was never kept"
        time.sleep(0.02)
    return time.monotonic() - begin


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
async def test_a_form_half_typed_comes_back_after_the_process_was_killed(
    make: AppFactory, demo: Path, tmp_path: Path
) -> None:
    state = tmp_path / "remembered"
    terminal = Terminal(demo, state)
    try:
        terminal.read_until(b"Drugget")
        terminal.type(b"n")
        terminal.read_until(b"New shaft")
        terminal.read_until(b"Club type")
        terminal.type(b"Tallow" + DOWN + b"Veer 45 1/2")
        terminal.read_until(b"Veer 45 1/2")
        took = wait_for_draft(state, "Veer 45 1/2")
    finally:
        terminal.kill()
    assert took < 1.0, "what is typed is on the disk within half a second, and some for a busy machine"
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await until(pilot, lambda: is_ready(app))
        await settled(pilot)
        assert entry(app, "maker").text == "Tallow"
        assert entry(app, "model").text == "Veer 45 1/2"
        assert "has come back" in on_screen(app)
        await typed(pilot, "club_type", "wood")
        await pilot.press("ctrl+s")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        assert app.memory.drafts() == ()
    app.close_down()
    assert row(demo, "shaft", "tallow-veer-45-1-2")["club_type"] == "wood"


async def test_a_form_that_comes_back_still_knows_what_another_changed_meanwhile(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "weight_g", "61")
    app.close_down()  # the terminal is closed with the form open
    set_fields(Catalogue(demo), "shaft", SHAFT, ["weight_g=66"], by="Petra Osk")
    again = make()
    async with again.run_test(size=SMALL) as pilot:
        await until(pilot, lambda: is_ready(again))
        assert entry(again, "weight_g").text == "61"
        await settled(pilot)
        await pilot.press("ctrl+s")
        await until(pilot, lambda: isinstance(again.screen, DiffersDialog))
        await settled(pilot)
        shown = " ".join(on_screen(again).split())
        assert "Petra Osk changed this shaft" in shown
        assert "theirs 66 g" in shown
    assert row(demo, "shaft", SHAFT)["weight_g"] == 66.0


async def test_a_form_put_aside_waits_until_it_is_wanted(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "flex", "SR")
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, WaysDialog))
        await pilot.press("k")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
    app.close_down()
    again = make()
    async with again.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert isinstance(again.screen, CatalogueScreen), "it was put aside, so it does not come by itself"
        assert [n.message for n in again._notifications] == ["1 form is half typed; d goes on with it."]
        await pilot.press("d")
        await until(pilot, lambda: is_ready(again))
        assert entry(again, "flex").text == "SR"
    again.close_down()
    assert row(demo, "shaft", SHAFT)["flex"] == "S"


async def test_the_form_another_terminal_types_in_is_left_to_it(make: AppFactory, tmp_path: Path) -> None:
    first = make()
    async with first.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "flex", "SR")
        first.memory.flush()
        second = Memory(tmp_path / "remembered", first.desk.path)
        assert drafts.half_typed(second) == []
        second.close()
    first.close_down()
    third = Memory(tmp_path / "remembered", first.desk.path)
    assert [d.key for d in drafts.half_typed(third)] == [SHAFT]
    third.close()


def test_two_terminals_with_a_form_of_one_row_do_not_write_over_each_others_drafts() -> None:
    assert drafts.fresh_name("shaft", SHAFT) != drafts.fresh_name("shaft", SHAFT)


def test_what_is_remembered_of_a_form_that_no_longer_exists_is_passed_over(tmp_path: Path) -> None:
    memory = Memory(tmp_path, tmp_path / "shop.duckdb")
    memory.keep_draft("row form/no such kind/new/1", {"maker": "Tallow"})
    memory.keep_draft(drafts.fresh_name("shaft", None), {"maker": "Tallow", "no_such_field": "x"})
    memory.keep_draft(drafts.fresh_name("shaft", "a"), {"maker": "Tallow", "/opened": "{half"})
    found = drafts.half_typed(memory)
    assert [(d.kind, d.key, dict(d.texts)) for d in found] == [("shaft", None, {"maker": "Tallow"})]
    memory.close()


def test_the_row_as_it_was_opened_survives_the_disk_with_days_and_numbers_exact(tmp_path: Path) -> None:
    import datetime as dt

    opened_row = {"id": "a", "fitted_on": dt.date(2026, 11, 3), "playing_length_in": 1156 / 25.4, "player": None}
    memory = Memory(tmp_path, tmp_path / "shop.duckdb")
    name = drafts.fresh_name("club", "a")
    drafts.keep(memory, drafts.Draft(name, "club", "a", {"player": "Rowan"}, opened_row))
    memory.close()
    again = Memory(tmp_path, tmp_path / "shop.duckdb")
    draft = drafts.take_up(again, form_of("club"), "a")
    assert draft is not None
    assert draft.opened == opened_row
    assert draft.stands
    again.close()
    assert json.loads(next(tmp_path.glob("*.json")).read_text(encoding="utf-8"))


async def test_ending_with_a_form_open_loses_nothing(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "notes", "kept over the night")
        await pilot.press("ctrl+q")
    app.close_down()
    again = make()
    async with again.run_test(size=SMALL) as pilot:
        await until(pilot, lambda: isinstance(again.screen, RowForm) and is_ready(again))
        assert entry(again, "notes").text == "kept over the night"
    again.close_down()
