"""Two people change one row: the second to save is shown the difference and decides; and undoing from the form."""

from __future__ import annotations

from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.tui.app import SpecdbApp
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.dialogs.differs import DiffersDialog
from specdb.tui.dialogs.take_back import TakeBackDialog
from specdb.tui.forms.row_form import RowForm
from specdb.verbs.catalogue.changing import remove_row, set_fields
from specdb.verbs.catalogue.journal import history
from tests.tui.conftest import SMALL, AppFactory, AppPilot, on_screen, settled, until
from tests.tui.test_form import SHAFT, entry, form, opened, row, typed


def flat(app: SpecdbApp) -> str:
    """What the screen shows, without line breaks and frames."""
    return " ".join(on_screen(app).replace("│", " ").split())


async def both_change(app: SpecdbApp, pilot: AppPilot, demo: Path) -> None:
    """Open a form, type in it, have someone else change the row, and save."""
    await opened(pilot, "shaft", SHAFT)
    await typed(pilot, "weight_g", "61")
    await typed(pilot, "torque_deg", "3.9")
    set_fields(Catalogue(demo), "shaft", SHAFT, ["weight_g=66", "flex=SR"], by="Petra Osk", why="weighed three")
    await pilot.press("ctrl+s")
    await until(pilot, lambda: isinstance(app.screen, DiffersDialog))
    await settled(pilot)


@pytest.mark.parametrize(
    ("keys", "weight", "flex"),
    [
        (("ctrl+s",), 61.0, "SR"),  # what only the other changed stays theirs, what both changed is mine
        (("t", "ctrl+s"), 66.0, "SR"),
        (("space", "down", "space", "ctrl+s"), 66.0, "S"),  # field by field, the other way round
    ],
)
async def test_the_second_to_save_decides_field_by_field(
    make: AppFactory, demo: Path, keys: tuple[str, ...], weight: float, flex: str
) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await both_change(app, pilot, demo)
        assert row(demo, "shaft", SHAFT)["weight_g"] == 66.0, "nothing is written before it is decided"
        shown = flat(app)
        assert "Petra Osk changed this shaft" in shown
        assert "changed by Petra Osk" in shown
        assert ": weighed three" in shown
        assert "theirs 66 g" in shown
        assert "mine 61 g" in shown
        await pilot.press(*keys)
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        await settled(pilot)
    now = row(demo, "shaft", SHAFT)
    assert (now["weight_g"], now["flex"], now["torque_deg"]) == (weight, flex, 3.9)


async def test_going_back_from_the_difference_saves_nothing_and_loses_nothing(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await both_change(app, pilot, demo)
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, RowForm))
        assert entry(app, "weight_g").text == "61"
        assert row(demo, "shaft", SHAFT)["torque_deg"] != 3.9
        await pilot.press("ctrl+s")
        await until(pilot, lambda: isinstance(app.screen, DiffersDialog))


async def test_a_change_by_another_process_is_shown_in_the_open_form_within_two_seconds(
    make: AppFactory, demo: Path
) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        set_fields(Catalogue(demo), "shaft", SHAFT, ["weight_g=66"])
        # nothing was typed here: the form simply shows it
        await until(pilot, lambda: entry(app, "weight_g").text == "66", seconds=2.0)
        assert not form(app).is_changed
        await typed(pilot, "flex", "SR")
        set_fields(Catalogue(demo), "shaft", SHAFT, ["weight_g=67"])
        await until(pilot, lambda: "has just changed Weight" in on_screen(app), seconds=2.0)
        assert entry(app, "weight_g").text == "66", "what stands in a form that is being typed in is not moved"


async def test_a_row_taken_away_meanwhile_is_told_and_may_be_added_again(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).write() as writer:
        writer.put("shaft", {"id": "veer", "club_type": "wood", "weight_g": 62.0})
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", "veer")
        await typed(pilot, "weight_g", "63")
        remove_row(Catalogue(demo), "shaft", "veer")
        await pilot.press("ctrl+s")
        await until(pilot, lambda: "took away this shaft" in flat(app))
        await pilot.press("a")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        await settled(pilot)
    assert row(demo, "shaft", "veer")["weight_g"] == 63.0


async def test_the_last_change_is_undone_after_it_was_said_what_it_was(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "weight_g", "61")
        await pilot.press("ctrl+s")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        await settled(pilot)
        await pilot.press("ctrl+z")
        await until(pilot, lambda: isinstance(app.screen, TakeBackDialog))
        await settled(pilot)
        shown = flat(app)
        assert f"'set shaft {SHAFT}'" in shown
        assert "Weight: 61 g → 63.5 g" in shown
        await pilot.press("n")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        assert row(demo, "shaft", SHAFT)["weight_g"] == 61.0
        await pilot.press("ctrl+z")
        await until(pilot, lambda: isinstance(app.screen, TakeBackDialog))
        await pilot.press("y")
        await until(pilot, lambda: row(demo, "shaft", SHAFT)["weight_g"] == 63.5)
    assert history(Catalogue(demo), "shaft", SHAFT, limit=1)[0].undoes == 2


async def test_an_item_is_retired_after_asking_and_a_reading_taken_away(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert isinstance(app.screen, CatalogueScreen)
        app.screen.table.show_row(SHAFT)
        await pilot.press("x")
        await until(pilot, lambda: f"Retire shaft {SHAFT}" in on_screen(app))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        assert row(demo, "shaft", SHAFT)["status"] == "active"
        await pilot.press("x")
        await until(pilot, lambda: f"Retire shaft {SHAFT}" in on_screen(app))
        await pilot.press("y")
        await until(pilot, lambda: row(demo, "shaft", SHAFT)["status"] == "retired")
