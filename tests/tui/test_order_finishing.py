"""An order that is finished from the place Orders although a club of it is outside a tolerance."""

from __future__ import annotations

from pathlib import Path

import specdb
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.building.as_built import Finished
from specdb.verbs.building.finished_clubs import Measured, keep_built
from tests.tui.conftest import SMALL, AppFactory, on_screen, settled

# a lie 1.5° upright is outside ± 0.5° (build tolerance of the trade: common practice, no source)
OFF = {"length": 37.0, "weight": 393.0, "swingweight": 213.5, "frequency": 284.0, "loft": 31.0, "lie": 64.0}


def _state(demo: Path) -> str:
    with specdb.open(demo).read() as reader:
        return str(reader.get("order", "o-1045").state)


async def test_it_is_told_and_finished_with_a_reason_only(make: AppFactory, demo: Path) -> None:
    keep_built(specdb.open(demo), Finished(club="wexcombe-7-iron", order="o-1045"), Measured(values=OFF))
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await settled(pilot)
        pilot.app.screen.query_one(PagedTable).show_row("o-1045")
        await settled(pilot)
        for reason in ("", "agreed with the customer"):
            await pilot.press("t")
            await settled(pilot)
            await pilot.press("ctrl+u", *"finished", "enter")
            await settled(pilot)
            shown = " ".join(on_screen(pilot.app).replace("│", " ").split())  # type: ignore[arg-type]
            assert "outside tolerance: wexcombe-7-iron (lie 1.5° upright)" in shown, shown
            assert _state(demo) == "at_bench"
            await pilot.press(*reason, "enter")
            await settled(pilot)
            if not reason:
                assert _state(demo) == "at_bench"  # nothing is no reason
                await pilot.press("escape")
                await settled(pilot)
    assert _state(demo) == "finished"
