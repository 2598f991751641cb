"""The main flows by mouse alone: what can be seen can be clicked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from textual.command import CommandPalette
from textual.events import MouseScrollDown, MouseScrollRight
from textual.screen import Screen
from textual.widgets import Input

from specdb.catalogue import Catalogue
from specdb.tui.app import SpecdbApp
from specdb.tui.bench.entries import ReadingInput
from specdb.tui.bench.place import BenchScreen
from specdb.tui.catalogue.import_view import ImportScreen
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.catalogue.stock_dialog import StockDialog
from specdb.tui.clubs.compare import CompareScreen
from specdb.tui.clubs.place import ClubScreen
from specdb.tui.dialogs.chooser import Chooser
from specdb.tui.dialogs.columns import ColumnsDialog, FieldList
from specdb.tui.dialogs.file_picker import FilePicker
from specdb.tui.dialogs.picker import Picker
from specdb.tui.dialogs.take_back import TakeBackDialog
from specdb.tui.dialogs.words import WordsDialog
from specdb.tui.fitup.place import FitUpScreen
from specdb.tui.forms.row_form import RowForm
from specdb.tui.help import HelpDialog
from specdb.tui.standins.place import RANKING, StandInsScreen
from specdb.tui.standins.weights import WeightsPane
from specdb.tui.widgets.paged import PagedTable
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until
from tests.tui.test_form import SHAFT, entry, is_ready
from tests.tui.test_form_differs import flat


async def click(pilot: AppPilot, text: str, *, last: bool = False, into: int = 0) -> None:
    """Click on a text where it stands on the screen."""
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    lines = on_screen(app).splitlines()
    rows = [y for y, line in enumerate(lines) if text in line]
    assert rows, f"{text!r} is not on the screen:\n" + "\n".join(lines)
    y = rows[-1 if last else 0]
    x = lines[y].rindex(text) if last else lines[y].index(text)
    await pilot.click(offset=(x + into, y))
    await settled(pilot)


async def key(pilot: AppPilot, label: str) -> None:
    """Click on what stands in the line of keys."""
    await click(pilot, f" {label}", last=True, into=1)


async def pick(pilot: AppPilot, text: str) -> None:
    """Click on a row, and again to open it."""
    table = pilot.app.screen.query_one(PagedTable)
    lines = on_screen(pilot.app).splitlines()  # type: ignore[arg-type]
    y = next(y for y, line in enumerate(lines) if text in line and table.region.y + table.head_lines <= y)
    if y - table.region.y - table.head_lines + table.scroll_offset.y != table.cursor_row:
        await pilot.click(offset=(table.region.x + 3, y))
        await pilot.pause()
    await pilot.click(offset=(table.region.x + 3, y))
    await settled(pilot)


def shows(app: SpecdbApp, screen: type[Screen[Any]]) -> None:
    """Make sure that a screen of a class is the one shown."""
    assert isinstance(app.screen, screen), app.screen


async def begun(pilot: AppPilot, place: str = "") -> None:
    """Wait for the first list, and go to a place by its name in the top line."""
    await settled(pilot)
    if place:
        await click(pilot, place)


async def test_a_list_is_sorted_by_its_headings_moved_sideways_and_a_row_opened(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await begun(pilot)
        screen = app.screen
        assert isinstance(screen, CatalogueScreen)
        table = screen.table
        await click(pilot, "Torque")
        assert "by torque" in on_screen(app).splitlines()[-2]
        await click(pilot, "Torque")
        assert "by torque, falling" in on_screen(app)
        before = [c.spec.title for _, c, _ in table._seen()]
        await click(pilot, "›")
        assert [c.spec.title for _, c, _ in table._seen()] != before
        await click(pilot, "‹")
        assert [c.spec.title for _, c, _ in table._seen()] == before
        await pilot._post_mouse_events([MouseScrollRight], table, offset=(5, 5))
        await settled(pilot)
        assert [c.spec.title for _, c, _ in table._seen()] != before
        await pilot._post_mouse_events([MouseScrollDown], table, offset=(5, 5))
        await settled(pilot)
        assert table.scroll_offset.y > 0
        row = table.row_key(table.scroll_offset.y + 3)
        await pilot.click(table, offset=(5, table.head_lines + 3))
        assert table.cursor_key == row
        await pilot.click(table, offset=(5, table.head_lines + 3))
        await until(pilot, lambda: is_ready(app))
        assert isinstance(app.screen, RowForm)
        assert app.screen.key == row


async def test_kind_filter_columns_and_search_of_a_list(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await begun(pilot)
        await click(pilot, "Shafts ▾")
        shows(app, Chooser)
        await pick(pilot, "Heads")
        assert "Heads ▾" in on_screen(app)
        await key(pilot, "filter")
        assert isinstance(app.focused, Input)
        await pilot.press(*"loft_deg < 11")
        await settled(pilot)
        await key(pilot, "columns")
        shows(app, ColumnsDialog)
        chosen = app.screen.query_one(FieldList).chosen
        await click(pilot, "[x] Loft")
        assert "loft_deg" not in app.screen.query_one(FieldList).chosen
        assert "loft_deg" in chosen
        await key(pilot, "done")
        assert "Loft" not in on_screen(app).split("where")[-1]
        await click(pilot, "/ search maker", into=4)
        assert isinstance(app.focused, Input)
        assert app.focused.id == "words"


async def test_a_row_is_changed_and_the_change_taken_back(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await begun(pilot)
        app.open_row("shaft", SHAFT)
        await until(pilot, lambda: is_ready(app))
        await settled(pilot)
        field = entry(app, "club_type")
        await click(pilot, "Club type", into=22)
        assert field.input.has_focus
        await pilot.click(field, offset=(field.input.region.right - field.region.x + 1, 0))
        await settled(pilot)
        await click(pilot, "hybrid", last=True)
        assert field.text == "hybrid"
        await key(pilot, "save")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        with Catalogue(demo).read() as reader:
            assert reader.get("shaft", SHAFT).club_type == "hybrid"
        # what has no room in the line of keys is found through the help
        await key(pilot, "help")
        shows(app, HelpDialog)
        await key(pilot, "all commands")
        await until(pilot, lambda: isinstance(app.screen, CommandPalette))
        await pilot.press(*"undo the")
        await until(pilot, lambda: "Undo the last change" in on_screen(app))
        await click(pilot, "Undo the last change")
        await until(pilot, lambda: isinstance(app.screen, TakeBackDialog))
        await settled(pilot)
        await key(pilot, "yes")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        await settled(pilot)
        with Catalogue(demo).read() as reader:
            assert reader.get("shaft", SHAFT).club_type == "wood"


async def test_pieces_are_booked(make: AppFactory, demo: Path) -> None:
    app = make()
    with Catalogue(demo).read() as reader:
        before = reader.stock("shaft", SHAFT).get(SHAFT, 0)
    async with app.run_test(size=(140, 40)) as pilot:
        await begun(pilot)
        screen = app.screen
        assert isinstance(screen, CatalogueScreen)
        screen.table.show_row(SHAFT)
        await settled(pilot)
        await key(pilot, "used")
        shows(app, StockDialog)
        await click(pilot, "received [used]")
        await key(pilot, "book it")
        await until(pilot, lambda: app.screen is screen)
        await settled(pilot)
    with Catalogue(demo).read() as reader:
        assert reader.stock("shaft", SHAFT)[SHAFT] == before + 1


async def test_a_stand_in_is_found_compared_weighed_and_chosen(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await begun(pilot, "Stand-ins")
        screen = app.screen
        assert isinstance(screen, StandInsScreen)
        await pick(pilot, "ashby-driver")
        assert screen._page == RANKING
        ranked = screen.query_one("#ranked", PagedTable)
        second = ranked.row_key(1)
        for _ in range(2):
            await pilot.click(ranked, offset=(6, ranked.head_lines + 1))
            await settled(pilot)
        assert str(second) in on_screen(app)
        await click(pilot, " Profiles")
        assert "installed stiffness" in flat(app)
        await click(pilot, " Weights", into=1)
        pane = screen.query_one(WeightsPane)
        assert pane.weights is not None
        kept = list(pane.weights.values[1])
        x = pane.region.x + 45
        await pilot.click(offset=(x, pane.region.y + 2))
        await click(pilot, "+ - change")
        assert pane.weights.values[1] != kept
        await click(pilot, "del as it was")
        assert pane.weights.values[1] == kept
        await click(pilot, " Differences", into=1)
        await key(pilot, "choose")
        shows(app, WordsDialog)
        await click(pilot, "e.g. same feel, on the shelf")
        await pilot.press(*"same")
        await key(pilot, "keep")
        await until(pilot, lambda: app.screen is screen)
        await settled(pilot)
        await key(pilot, "back")
        assert ranked.has_focus
    with Catalogue(demo).read() as reader:
        assert [c.shaft_id for c in reader.rows("choice", where="club_id = 'ashby-driver' and why = same")] == [second]


async def test_clubs_are_sorted_and_two_are_compared(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await begun(pilot, "Clubs")
        screen = app.screen
        assert isinstance(screen, ClubScreen)
        table = screen.query_one(PagedTable)
        await click(pilot, "Shaft")
        shafts = [str((table.row_values(row) or {})["shaft_id"]) for row in range(table.row_count)]
        assert shafts == sorted(shafts)
        await click(pilot, "Shaft")
        turned = [str((table.row_values(row) or {})["shaft_id"]) for row in range(table.row_count)]
        assert turned == sorted(shafts, reverse=True)
        await key(pilot, "compare")
        shows(app, Picker)
        await pick(pilot, "wexcombe-driver")
        shows(app, CompareScreen)
        await key(pilot, "swap")
        assert "first  wexcombe-driver" in on_screen(app)
        await key(pilot, "back")
        assert app.screen is screen


async def test_a_fit_up_is_trimmed_and_given_another_shaft(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await begun(pilot, "Fit-up")
        screen = app.screen
        assert isinstance(screen, FitUpScreen)
        app.open_place("fitup", club="ashby-driver")
        await settled(pilot)
        trim, insertion = screen.asked.tip_trim_in, screen.asked.insertion_in
        await click(pilot, "→")
        assert screen.asked.tip_trim_in == pytest.approx((trim or 0.0) + 0.25)
        await click(pilot, "←")
        assert screen.asked.tip_trim_in == pytest.approx(trim or 0.0)
        await click(pilot, "[")
        assert screen.asked.insertion_in != insertion
        await click(pilot, "s shaft", into=3)
        shows(app, Picker)
        await pick(pilot, "Lyde 70")
        assert screen.asked.shaft is not None
        assert "lyde-70" in screen.asked.shaft


async def test_a_reading_is_typed_at_the_bench(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await begun(pilot, "Bench")
        screen = app.screen
        assert isinstance(screen, BenchScreen)
        await key(pilot, "shaft")
        shows(app, Picker)
        await pick(pilot, "Lyde 70")
        await until(pilot, lambda: bool(screen.query(ReadingInput)))
        await settled(pilot)
        third = list(screen.query(ReadingInput))[2]
        await pilot.click(third)
        assert third.has_focus
        await pilot.press(*"250")
        assert third.value == "250"


async def test_a_file_is_looked_at(make: AppFactory, tmp_path: Path) -> None:
    folder = tmp_path / "lists"
    folder.mkdir()
    (folder / "shafts.csv").write_text("id,maker,model,club_type\nnew-one,Tallow,Veer,wood\n", encoding="utf-8")
    app = make()
    async with app.run_test(size=(200, 40)) as pilot:
        await begun(pilot)
        app.memory.put("import/folder", str(folder))
        await key(pilot, "import")
        shows(app, FilePicker)
        await pick(pilot, "shafts.csv")
        shows(app, ImportScreen)
        await click(pilot, " Changed")
        assert "No value of a row that is there changes." in on_screen(app)
        await click(pilot, " New", into=1)
        assert "new-one" in on_screen(app)
        await key(pilot, "take it all")
        await until(pilot, lambda: "Taken as change" in flat(app))
        await key(pilot, "back")
        shows(app, CatalogueScreen)
