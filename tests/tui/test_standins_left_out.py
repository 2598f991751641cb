"""The tab of what was left out: what its keys act on, and that it follows the catalogue."""

from __future__ import annotations

import pytest
from textual.widget import Widget

from specdb.tui.dialogs.words import WordsDialog
from specdb.tui.fitup.place import FitUpScreen
from specdb.tui.standins.place import StandInsScreen
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from tests.tui.conftest import SMALL, AppFactory, on_screen, settled, until
from tests.tui.test_standins import press, ranked, shafts, told


def left_out(screen: StandInsScreen) -> list[str]:
    """Shafts listed as left out."""
    table = screen.query_one("#left-list", PagedTable)
    return [str(table.row_key(i)) for i in range(table.row_count)]


async def test_what_was_left_out_follows_an_undo(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        shaft = shafts(screen)[0]
        await press(pilot, "x", *"harsh", "enter")
        await until(pilot, lambda: shaft not in shafts(screen))
        await press(pilot, "5")
        assert shaft in left_out(screen)
        await press(pilot, "ctrl+z")
        await press(pilot, "y")
        await until(pilot, lambda: shaft in shafts(screen))
        await settled(pilot)
        assert shaft not in left_out(screen)


async def test_a_list_that_grew_is_painted_whole(make: AppFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """The framework makes its map of the widgets anew between two layouts, and then lost what had grown."""
    heights: list[int] = []
    resized = PagedTable.on_resize

    def noted(table: PagedTable) -> None:
        heights.append(table.size.height)
        resized(table)

    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "5")
        table, counts = screen.query_one("#left-list", PagedTable), screen.query_one("#left-counts", LinesView)
        before = table.size.height
        monkeypatch.setattr(PagedTable, "on_resize", noted)
        counts.show([(("one line", "plain"),)])
        # as when a widget that is not in sight is to be painted before the layout is due
        for widget in (counts, *counts.ancestors):
            if isinstance(widget, Widget):
                widget._clear_arrangement_cache()
        screen._compositor._full_map_invalidated = True
        assert table.size.height > before
        await settled(pilot)
        assert heights[-1:] == [table.size.height]


@pytest.mark.parametrize("size", [SMALL, (200, 60)])
async def test_keys_on_the_tab_of_what_was_left_out_act_on_the_row_shown_or_say_why_not(
    make: AppFactory, size: tuple[int, int]
) -> None:
    app = make()
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "5", "down")
        shaft = screen.query_one("#left-list", PagedTable).cursor_key
        assert shaft == left_out(screen)[1]
        assert shaft not in shafts(screen)
        for key in ("c", "x", "o"):
            app.clear_notifications()
            await press(pilot, key)
            assert app.screen is screen, f"{key} asks about a stand-in of another tab"
            # on a small screen a notice has its title on the same line
            assert told(app).startswith(f"Left out: {shaft}: " if size == SMALL else f"{shaft}: ")
            assert told(app).endswith("This can only be done with a stand-in that is proposed (tabs 1 to 3).")
        await press(pilot, "b")
        await until(pilot, lambda: type(app.screen).__name__ == "BenchScreen" and str(shaft) in on_screen(app))
        await press(pilot, "f4", "f")
        fitup = app.screen
        assert isinstance(fitup, FitUpScreen)
        assert fitup.asked.shaft == shaft
        await press(pilot, "f4", "1", "c")
        assert isinstance(app.screen, WordsDialog), "a stand-in can be chosen from its own tabs"
