"""Orders from a list by keyboard: what it would do first, then taken, then undone."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

import specdb
from specdb.tui.orders.import_list import OrderImportScreen
from specdb.verbs.orders.orders import order_of
from tests.tui.conftest import SMALL, AppFactory, AppPilot, on_screen, settled, typed

_HEAD = "order,customer,wanted_on,club,quantity\n"


async def _open(pilot: AppPilot, file: Path) -> OrderImportScreen:
    await settled(pilot)
    await pilot.press("i")
    await settled(pilot)
    line = pilot.app.focused
    line.value = ""  # type: ignore[union-attr]
    await typed(pilot, str(file))
    await pilot.press("enter")
    await settled(pilot)
    screen = pilot.app.screen
    assert isinstance(screen, OrderImportScreen)
    return screen


async def test_a_list_is_looked_at_then_taken_then_undone(make: AppFactory, demo: Path, tmp_path: Path) -> None:
    file = tmp_path / "orders.csv"
    file.write_text(_HEAD + "o-2001,A. Wren,2027-01-09,tansley-irons,1\no-2001,,,ashby-wedge,2\n", encoding="utf-8")
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _open(pilot, file)
        shown = on_screen(pilot.app)  # type: ignore[arg-type]
        assert "2 new" in shown
        assert "set tansley-irons" in shown
        assert "Nothing is written yet" in shown
        with specdb.open(demo).read() as reader:
            assert reader.find("order", "o-2001") is None
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert len(order_of(specdb.open(demo), "o-2001").units) == 5
        await pilot.press("u")
        await settled(pilot)
        await pilot.press("y")
        await settled(pilot)
    with specdb.open(demo).read() as reader:
        assert reader.find("order", "o-2001") is None


async def test_bad_rows_are_told_and_the_good_orders_taken(make: AppFactory, demo: Path, tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (
        ("Order no", "Customer", "Wanted by", "Club", "Qty"),
        ("o-3001", "A. Wren", "2027-01-09", "ashby-wedge", 1),
        ("o-3002", "B. Tern", "2027-01-09", "no-such-club", 1),
    ):
        sheet.append(row)
    file = tmp_path / "orders.xlsx"
    book.save(file)
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _open(pilot, file)
        shown = on_screen(pilot.app)  # type: ignore[arg-type]
        assert "1 refused" in shown
        assert "no-such-club" in shown
        await pilot.press("g")
        await settled(pilot)
    with specdb.open(demo).read() as reader:
        assert reader.find("order", "o-3001") is not None
        assert reader.find("order", "o-3002") is None


async def test_what_changes_is_shown(make: AppFactory, tmp_path: Path) -> None:
    file = tmp_path / "orders.csv"
    file.write_text(_HEAD + "o-1041,,2026-12-24,ashby-driver,3\n", encoding="utf-8")
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _open(pilot, file)
        await pilot.press("2")
        await settled(pilot)
        shown = on_screen(pilot.app)  # type: ignore[arg-type]
        assert "2026-12-24" in shown
        assert "quantity" in shown
        assert "o-1041/1" in shown


@pytest.mark.parametrize("text", ["no,such,columns\n1,2,3\n", ""])
async def test_what_is_no_list_is_told(make: AppFactory, tmp_path: Path, text: str) -> None:
    file = tmp_path / "orders.csv"
    file.write_text(text, encoding="utf-8")
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _open(pilot, file)
        shown = " ".join(on_screen(pilot.app).split())  # type: ignore[arg-type]
        assert "The fields are: order, customer" in shown or "empty" in shown
