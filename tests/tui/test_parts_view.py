"""The readings of a shaft: listed, added from its form, taken away; and the settings of an adapter."""

from __future__ import annotations

from pathlib import Path

from specdb.catalogue import Catalogue
from specdb.tui.catalogue.parts_view import PartsScreen
from tests.tui.conftest import SMALL, AppFactory, on_screen, settled, until
from tests.tui.test_form import SHAFT, entry, is_ready, opened, saved, typed


async def test_readings_are_listed_and_added_from_the_form_of_their_shaft(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).read() as reader:
        before = reader.readings_of(SHAFT)
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await pilot.press("ctrl+r")
        await until(pilot, lambda: isinstance(app.screen, PartsScreen))
        await settled(pilot)
        assert f"{len(before)} shaft readings of shaft {SHAFT}" in on_screen(app)
        await pilot.press("n")
        await until(pilot, lambda: is_ready(app))
        assert entry(app, "shaft_id").text == SHAFT
        await typed(pilot, "sample", "c")
        await typed(pilot, "quantity", "frequency")
        await typed(pilot, "value", "4.2 Hz")
        await pilot.press("ctrl+s")
        await until(pilot, lambda: "must be given for a reading of frequency" in entry(app, "free_length_in").error)
        await typed(pilot, "free_length_in", "41")
        await saved(pilot)
        assert isinstance(app.screen, PartsScreen)
        await until(pilot, lambda: f"{len(before) + 1} shaft readings" in on_screen(app))
        await until(pilot, lambda: "252 cpm" in on_screen(app))
        # the next one at another length: all but the value is there already
        await pilot.press("l")
        await until(pilot, lambda: is_ready(app))
        assert entry(app, "quantity").text == "frequency"
        assert entry(app, "value").text == ""
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, PartsScreen))
        await pilot.press("x")
        await settled(pilot)
        assert "Take this shaft reading away" in on_screen(app)
        await pilot.press("y")
        await settled(pilot)
    with Catalogue(demo).read() as reader:
        assert reader.readings_of(SHAFT) == before


async def test_settings_of_an_adapter_are_listed_and_changed(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "adapter", "vale-eight-eight-335")
        await pilot.press("ctrl+r")
        await until(pilot, lambda: isinstance(app.screen, PartsScreen))
        await settled(pilot)
        await pilot.press("enter")
        await until(pilot, lambda: is_ready(app))
        key = app.screen.key  # type: ignore[attr-defined]
        await typed(pilot, "lie_change_deg", "0.75")
        await saved(pilot)
    with Catalogue(demo).read() as reader:
        assert reader.get("adapter_setting", key).lie_change_deg == 0.75
