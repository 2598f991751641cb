"""What happened to a row, or at all: before and after, and any change taken back from there."""

from __future__ import annotations

from pathlib import Path

from specdb.catalogue import Catalogue
from specdb.tui.app import SpecdbApp
from specdb.tui.catalogue.history_view import HistoryScreen
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.dialogs.take_back import TakeBackDialog
from specdb.verbs.catalogue.changing import decide, set_fields
from specdb.verbs.catalogue.journal import history
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, settled, until
from tests.tui.test_form import SHAFT, is_ready, row
from tests.tui.test_form_differs import flat


async def opened(app: SpecdbApp, pilot: AppPilot) -> None:
    """Open the history of a shaft from the list."""
    await settled(pilot)
    assert isinstance(app.screen, CatalogueScreen)
    app.screen.table.show_row(SHAFT)
    await pilot.press("h")
    await until(pilot, lambda: isinstance(app.screen, HistoryScreen))
    await settled(pilot)


def told(app: SpecdbApp) -> str:
    """What the last notice says."""
    return " ".join([*app._notifications][-1].message.split())


def change_twice(demo: Path) -> None:
    """Two changes of one shaft, by two people."""
    set_fields(Catalogue(demo), "shaft", SHAFT, ["weight_g=64", "flex=SR"], by="Petra Osk", why="weighed three")
    set_fields(Catalogue(demo), "shaft", SHAFT, ["weight_g=65"], by="Wilmot Dray")


async def test_every_change_of_a_row_with_before_and_after_the_latest_first(make: AppFactory, demo: Path) -> None:
    change_twice(demo)
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(app, pilot)
        shown = flat(app)
        assert f"History of shaft {SHAFT}" in shown
        assert "Change 3, 'set shaft" in shown
        assert "Weight: 64 g → 65 g" in shown
        await pilot.press("down")
        await settled(pilot)
        shown = flat(app)
        assert "by Petra Osk. Why: weighed three" in shown
        assert "Flex: S → SR" in shown
        assert "Weight: 63.5 g → 64 g" in shown
        await pilot.press("down")
        await settled(pilot)
        assert "The change touched" in flat(app), "an import is not shown whole in the history of one row"


async def test_a_change_is_undone_from_there_and_an_older_one_only_after_the_newer(
    make: AppFactory, demo: Path
) -> None:
    change_twice(demo)
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(app, pilot)
        await pilot.press("down", "u")
        await until(pilot, lambda: isinstance(app.screen, TakeBackDialog))
        await pilot.press("y")
        await settled(pilot)
        # the weight was changed again since
        assert "was changed since, in change 3" in told(app)
        assert row(demo, "shaft", SHAFT)["weight_g"] == 65.0
        await pilot.press("up", "u")
        await until(pilot, lambda: isinstance(app.screen, TakeBackDialog))
        await settled(pilot)
        assert "Weight: 65 g → 64 g" in flat(app)
        await pilot.press("y")
        await until(pilot, lambda: row(demo, "shaft", SHAFT)["weight_g"] == 64.0)
        await settled(pilot)
        await until(pilot, lambda: "undo of 3" in flat(app))
        await pilot.press("u")  # the cursor has stayed on change 3
        await settled(pilot)
        assert "taken back already, by change 4" in told(app)
    assert history(Catalogue(demo), "shaft", SHAFT, limit=1)[0].undoes == 3


async def test_all_changes_of_the_catalogue_and_the_row_behind_one(make: AppFactory, demo: Path) -> None:
    change_twice(demo)
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        await app.screen.run_action("all_changes")
        await until(pilot, lambda: isinstance(app.screen, HistoryScreen))
        await settled(pilot)
        assert f"set shaft {SHAFT}" in flat(app)
        await pilot.press("end")
        await settled(pilot)
        assert "more rows" in flat(app)
        await pilot.press("o")
        await settled(pilot)
        assert "touched several rows" in told(app)
        await pilot.press("home", "o")
        await until(pilot, lambda: is_ready(app))


async def test_rows_are_counted_in_words_and_a_choice_is_named_by_its_shaft_and_club(
    make: AppFactory, demo: Path
) -> None:
    decide(Catalogue(demo), "ashby-driver", "hollin-reach-holm-60-s", "chosen", by="Petra Osk", why="same feel")
    with Catalogue(demo).write(done="new prices", by="Petra Osk") as writer:
        for key in (SHAFT, "hollin-reach-holm-60-s"):
            writer.put("shaft", {"id": key, "price": 111.0}, mode="update")
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        await pilot.press("ctrl+z")
        await until(pilot, lambda: "'new prices' (2 shafts)" in flat(app))
        await pilot.press("y")
        await until(pilot, lambda: bool(app._notifications) and "undone, as change" in told(app))
        await settled(pilot)
        await pilot.press("ctrl+z")
        await until(pilot, lambda: "ashby-driver is taken away" in flat(app))
        assert isinstance(app.screen, TakeBackDialog)
        assert "(1 choice)" in app.screen._text
        assert "choice hollin-reach-holm-60-s for ashby-driver is taken away" in flat(app)
        with Catalogue(demo).read() as reader:
            key = reader.rows("choice", where="club_id = 'ashby-driver'")[-1].id
        assert key not in flat(app)
        await pilot.press("n")
        app.push_screen(HistoryScreen("choice", key))
        await until(pilot, lambda: "History of choice hollin-reach-holm-60-s for ashby-driver" in flat(app))
