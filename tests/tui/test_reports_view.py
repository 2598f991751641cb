"""The reports by keyboard: each seen, each saved as a table and as a page."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest
from textual.widgets import Input

import specdb
from specdb.tui.reports.view import ReportsScreen
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.orders.changes import set_order_state
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])
TODAY = dt.date(2026, 11, 25)
TITLES = ("Open orders", "Shortages by part", "What to reorder", "Stand-ins used", "Predicted against built")


@pytest.fixture(autouse=True)
def _that_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("specdb.tui.widgets.days.shop_day", lambda: TODAY)


async def _open(pilot: AppPilot) -> ReportsScreen:
    await settled(pilot)
    await pilot.press("r")
    await settled(pilot)
    screen = pilot.app.screen
    assert isinstance(screen, ReportsScreen)
    return screen


@SIZES
def test_shortages_look_as_they_did(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    async def act(pilot: AppPilot) -> None:
        await _open(pilot)
        await pilot.press("2")
        await settled(pilot)

    assert snap_compare(make(start="orders"), terminal_size=size, run_before=act)


async def test_the_column_after_what_fits_is_cut_and_the_explanation_leaves_room(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _open(pilot)
        for number in ("2", "3", "5"):
            await pilot.press(number)
            await settled(pilot)
            screen = pilot.app.screen
            assert isinstance(screen, ReportsScreen)
            assert screen.query_one("#head").size.height <= 3, "its title and two lines"
            table = screen.query_one(PagedTable)
            seen = "".join(segment.text for segment in table.render_line(table.head_lines)).rstrip()
            assert len(seen) > 60, "no empty columns at the right"


async def test_every_report_is_there_and_the_last_one_is_remembered(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _open(pilot)
        for number, title in enumerate(TITLES, start=1):
            await pilot.press(str(number))
            await settled(pilot)
            assert title in on_screen(pilot.app)  # type: ignore[arg-type]
            assert pilot.app.screen.query_one(PagedTable).row_count > 0
        await pilot.press("escape", "r")
        await settled(pilot)
        assert TITLES[-1] in on_screen(pilot.app)  # type: ignore[arg-type]


async def test_a_report_is_saved_as_table_and_page(make: AppFactory, tmp_path: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _open(pilot)
        await pilot.press("2", "v")
        await settled(pilot)
        await _to(pilot, tmp_path / "short.html")
        assert "must end in .csv" in on_screen(pilot.app)  # type: ignore[arg-type]
        await _to(pilot, tmp_path / "short.csv")
        await pilot.press("h")
        await settled(pilot)
        line = pilot.app.screen.query_one(Input)
        assert Path(line.value) == tmp_path / "shortages-2026-11-25.html"  # the folder is remembered
        await _to(pilot, tmp_path / "short.html")
    with (tmp_path / "short.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {r["item_id"] for r in rows} >= {"hollin-reach-sker-60-s", "stavely-tenter-105-s-7"}
    page = (tmp_path / "short.html").read_text(encoding="utf-8")
    assert "o-1042 (2026-12-18)" in page
    assert "<svg" in page


async def _to(pilot: AppPilot, path: Path) -> None:
    pilot.app.screen.query_one(Input).value = str(path)
    await pilot.press("enter")
    await settled(pilot)


async def test_to_the_order_of_a_line(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        screen = await _open(pilot)
        screen.query_one(PagedTable).show_row("3")
        await settled(pilot)
        await pilot.press("o")
        await settled(pilot)
        assert pilot.app.screen.query_one(PagedTable).cursor_key == "o-1042"


async def test_it_follows_what_another_process_does(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _open(pilot)
        set_order_state(specdb.open(demo), "o-1046", "cancelled")
        await until(pilot, lambda: "o-1046" not in on_screen(pilot.app), 5.0)  # type: ignore[arg-type]
