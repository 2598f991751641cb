"""The shell: places, welcome, waiting, what goes wrong, ending, undo, palette, help."""

from __future__ import annotations

import shutil
import threading
import time
from pathlib import Path
from typing import Self

import duckdb
import pytest
from textual.command import CommandPalette
from textual.events import Key
from textual.widgets import Input

from specdb.catalogue import Catalogue
from specdb.errors import CatalogueDamagedError, CatalogueTooNewError
from specdb.schema import load_schema
from specdb.tui import places
from specdb.tui.actions import EVERYWHERE, actions_of, all_key_names
from specdb.tui.app import SpecdbApp
from specdb.tui.base import Dialog, PlaceScreen
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.dialogs.undo import AskDialog
from specdb.tui.frame import WaitingLine
from specdb.tui.help import HelpDialog
from specdb.tui.welcome import WelcomeScreen
from tests.tui.conftest import SMALL, AppFactory, on_screen, settled, typed, until


def told(app: SpecdbApp) -> str:
    """All notices that are shown."""
    return " ".join(n.message for n in app._notifications)


async def test_every_offered_place_opens_with_its_key_and_comes_back(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        for place in places.offered():
            await pilot.press(place.key)
            await settled(pilot)
            assert app.current_mode == place.name
            assert isinstance(app.screen, PlaceScreen)
            assert place.title in on_screen(app).splitlines()[0]
        assert not app._notifications, told(app)
        await pilot.press("f2")
        await settled(pilot)
        assert isinstance(app.screen, CatalogueScreen)


async def test_places_are_opened_by_the_mouse_too(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        line = on_screen(app).splitlines()[0]
        for place in places.offered():
            await pilot.click(offset=(line.index(place.title) + 1, 0))
            await settled(pilot)
            assert app.current_mode == place.name


def test_the_word_that_another_works_comes_also_before_any_screen_is_there(make: AppFactory) -> None:
    # the timer may tick before the first screen and after the last one
    app = make()
    app._say_waiting()
    assert not app._screen_stack


async def test_escape_goes_back_to_the_place_one_came_from(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.open_place("fitup")
        await settled(pilot)
        app.go_back()
        await settled(pilot)
        assert app.current_mode == "catalogue"


async def test_a_place_takes_what_it_is_opened_with(make: AppFactory) -> None:
    app = make(start="fitup")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.open_place("catalogue", kind="grip", words="a")
        await settled(pilot)
        assert isinstance(app.screen, CatalogueScreen)
        assert app.screen.kind.name == "grip"
        assert "grips" in on_screen(app)


@pytest.mark.parametrize(("key", "club"), [("e", False), ("d", True)])
async def test_without_a_catalogue_one_is_offered_and_made(
    make: AppFactory, tmp_path: Path, key: str, club: bool
) -> None:
    path = tmp_path / "new" / "shop.duckdb"
    app = make(path)
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert isinstance(app.screen, WelcomeScreen)
        assert not path.exists()
        await pilot.press("f4")  # there is nothing to look for yet
        await pilot.press(key)
        await settled(pilot, 60.0)
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        await settled(pilot)
    with Catalogue(path).read() as reader:
        assert bool(reader.rows("club", limit=1)) is club


@pytest.mark.parametrize("content", [b"", b"this is no catalogue, but a text of some length"])
async def test_a_damaged_file_ends_it_with_a_sentence(make: AppFactory, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "damaged.duckdb"
    path.write_bytes(content)
    app = make(path)
    async with app.run_test(size=SMALL) as pilot:
        await until(pilot, lambda: app.return_value is not None)
    assert isinstance(app.return_value, CatalogueDamagedError)
    assert app.return_code == 3


async def test_a_newer_file_ends_it_with_a_sentence(make: AppFactory, demo: Path) -> None:
    with duckdb.connect(str(demo)) as con:
        con.execute(
            "UPDATE catalogue_meta SET value = ? WHERE name = 'schema_version'", [str(load_schema().version + 1)]
        )
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await until(pilot, lambda: app.return_value is not None)
    assert isinstance(app.return_value, CatalogueTooNewError)
    assert "newer specdb" in str(app.return_value)


class Writing:
    """Another program that writes to the catalogue until it is told to stop."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._begun, self._stop = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._write)

    def _write(self) -> None:
        with Catalogue(self._path).write(done="import") as writer:
            writer.put("grip", {"id": "while-busy", "weight_g": 50.0}, mode="add")
            self._begun.set()
            self._stop.wait(30)

    def __enter__(self) -> Self:
        self._thread.start()
        assert self._begun.wait(10)
        return self

    def stop(self) -> None:
        """Let it come to its end."""
        self._stop.set()
        self._thread.join(10)

    def __exit__(self, *_: object) -> None:
        self.stop()


async def test_a_busy_catalogue_is_waited_for_with_a_word_and_without_blocking(make: AppFactory, demo: Path) -> None:
    app = make()
    with Writing(demo) as other:
        async with app.run_test(size=SMALL) as pilot:
            line = app.screen.query_one(WaitingLine)
            await until(pilot, lambda: line.display and "is writing." in on_screen(app))
            assert "'import'" in on_screen(app)
            await pilot.press("f1")  # answered while the other still writes
            assert isinstance(app.screen, HelpDialog)
            await pilot.press("escape")
            other.stop()
            await until(pilot, lambda: not line.display)
            await settled(pilot)
            assert " shafts" in on_screen(app)


async def test_search_works_while_another_program_writes(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        with Writing(demo):
            await pilot.press("slash")
            assert app.focused is not None
            await pilot.press(*"gloam")
            await until(pilot, lambda: " of " in on_screen(app).splitlines()[-2])


async def test_ends_at_once_while_another_program_writes(make: AppFactory, demo: Path) -> None:
    app = make()
    with Writing(demo):
        async with app.run_test(size=SMALL) as pilot:
            await until(pilot, lambda: app.screen.query_one(WaitingLine).display)
            await pilot.press("ctrl+q")
        assert app.close_down() is False  # while the other still writes


async def test_a_change_under_way_is_finished_before_it_ends(make: AppFactory) -> None:
    app = make()
    done = threading.Event()

    def slow() -> None:
        time.sleep(0.6)
        done.set()

    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert isinstance(app.screen, PlaceScreen)
        app.screen.work(slow, lambda _: None, group="save", what="save the row", changes=True)
        await pilot.press("ctrl+q")
        assert "Finishing first: save the row" in told(app)
        await until(pilot, lambda: not app.is_running)
    assert done.is_set()


async def test_an_error_within_a_job_is_told_and_kept_and_the_interface_stays(make: AppFactory, tmp_path: Path) -> None:
    app = make()

    def broken() -> None:
        raise ZeroDivisionError("by nothing at all")

    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert isinstance(app.screen, PlaceScreen)
        app.screen.work(broken, lambda _: None, group="g", what="divide")
        await settled(pilot)
        assert "specdb itself failed to divide" in told(app)
        app.screen.work(lambda: 1, lambda _: broken(), group="g", what="divide again")
        await settled(pilot)
        assert app.is_running
    log = (tmp_path / "remembered" / "failures.log").read_text(encoding="utf-8")
    assert log.count("by nothing at all") >= 2


async def test_a_newer_question_supersedes_and_changes_never_do(make: AppFactory) -> None:
    app = make()
    gate = threading.Event()
    ran: list[str] = []
    shown: list[str] = []

    def job(name: str) -> str:
        gate.wait(10)
        ran.append(name)
        return name

    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = app.screen
        assert isinstance(screen, PlaceScreen)
        for name in "abc":
            screen.work(lambda n=name: job(n), shown.append, group="ask", what="ask")  # type: ignore[misc]
        for name in "xyz":
            screen.work(lambda n=name: job(n), shown.append, group="keep", what="keep", changes=True)  # type: ignore[misc]
        gate.set()
        await settled(pilot)
    assert [n for n in ran if n in "abc"] == ["a", "c"]  # b had not begun when c came
    assert [n for n in shown if n in "abc"] == ["c"]
    assert [n for n in shown if n in "xyz"] == ["x", "y", "z"]


async def test_keys_that_come_all_at_once_go_where_the_one_before_led(make: AppFactory) -> None:
    app = make()

    def at_once(*keys: str) -> None:
        assert app._driver is not None
        for key in keys:
            event = Key(key, {"space": " "}.get(key, key if len(key) == 1 else None))
            event.set_sender(app)
            app._driver.send_message(event)

    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = app.screen
        assert isinstance(screen, CatalogueScreen)
        table = screen.table
        at_once("slash", *"gloam", "space", *"60", "down")
        await settled(pilot)
        assert app.screen is screen
        assert screen.query_one("#words", Input).value == "gloam 60"
        assert app.focused is table
        at_once("escape", "s", *"weight", "enter", "f1", "escape", "down", "down")
        await settled(pilot)
        assert app.screen is screen
        assert "by weight" in on_screen(app)
        assert table.cursor_row >= 2


async def test_undo_asks_first_and_then_takes_the_last_change_back(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).write(done="set", why="a slip") as writer:
        writer.put("grip", {"id": "slip", "weight_g": 50.0}, mode="add")
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("ctrl+z")
        await settled(pilot)
        assert isinstance(app.screen, AskDialog)
        assert "grip slip" in on_screen(app)
        await pilot.press("n")
        await settled(pilot)
        with Catalogue(demo).read() as reader:
            assert reader.find("grip", "slip") is not None
        await pilot.press("ctrl+z")
        await settled(pilot)
        await pilot.press("y")
        await settled(pilot)
        assert "undone" in told(app)
    with Catalogue(demo).read() as reader:
        assert reader.find("grip", "slip") is None


@pytest.mark.parametrize("key", ["c", "k", "s", "i"])
async def test_f1_in_a_dialog_shows_its_help_and_goes_back_to_it(make: AppFactory, key: str) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press(key)
        await until(pilot, lambda: isinstance(app.screen, Dialog))
        dialog = app.screen
        assert isinstance(dialog, Dialog)
        await settled(pilot)
        await pilot.press("f1")
        await until(pilot, lambda: isinstance(app.screen, HelpDialog))
        await settled(pilot)
        assert " ".join(dialog.ACTIONS[0].help.split()) in " ".join(on_screen(app).replace("│", " ").split())
        await pilot.press("f1")
        await until(pilot, lambda: app.screen is dialog)


async def test_help_tells_every_key_of_the_screen(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=(100, 80)) as pilot:
        await settled(pilot)
        screen = app.screen
        assert isinstance(screen, PlaceScreen)
        await pilot.press("question_mark")
        await settled(pilot)
        box = app.screen.query_one(".dialog").content_region
        lines = on_screen(app).splitlines()[box.y : box.bottom]
        shown = " ".join(" ".join(line[box.x : box.right] for line in lines).split())
        for action in (*screen.ACTIONS, *actions_of(EVERYWHERE)):
            if action.keys:
                assert " ".join(action.help.split()) in shown, action
        await pilot.press("escape")
        assert app.screen is screen


async def test_palette_finds_actions_by_name(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        before = app.theme
        await pilot.press("ctrl+p")
        await settled(pilot)
        assert isinstance(app.screen, CommandPalette)
        await typed(pilot, "theme")
        await until(pilot, lambda: "light and the dark" in on_screen(app))
        await pilot.press("enter")
        await until(pilot, lambda: app.theme != before)


async def test_theme_is_remembered(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        before = app.theme
        app.action_change_theme()
        changed = app.theme
    app.close_down()
    assert changed != before
    assert make().theme == changed


async def test_every_action_runs_a_method_that_is_there(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        for place in places.offered():
            app.open_place(place.name)
            await settled(pilot)
            screen = app.screen
            assert isinstance(screen, PlaceScreen)
            for action in screen.ACTIONS:
                assert hasattr(screen, f"action_{action.id.partition('(')[0]}"), action
            keys = [key for action in screen.ACTIONS for key in action.keys.split(",") if key]
            assert len(keys) == len(set(keys)), f"{place.name}: a key does two things"


async def test_a_storm_of_resizes_leaves_it_whole(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        for n in range(30):
            await pilot.resize_terminal(40 + 7 * n, 10 + 2 * n)
        await pilot.resize_terminal(*SMALL)
        await settled(pilot)
        lines = on_screen(app).splitlines()
        assert len(lines) <= 24
        assert "shafts" in lines[-2]
        assert app.is_running


async def test_the_file_may_vanish_and_come_back(make: AppFactory, demo: Path, tmp_path: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        shutil.move(demo, tmp_path / "aside")
        await pilot.press("s", "enter")
        await settled(pilot)
        assert app.is_running
        shutil.move(tmp_path / "aside", demo)
        await settled(pilot)
        assert " shafts" in on_screen(app)


def test_every_key_of_every_screen_has_a_name_that_stands_on_it() -> None:
    """A keyboard shows { and }, not left_curly_bracket."""
    for place in places.offered():
        for action in (*places.screen_class(place).ACTIONS, *actions_of(EVERYWHERE)):
            assert "_" not in all_key_names(action.keys), action
    assert all_key_names("left_curly_bracket,right_curly_bracket") == "{ }"
