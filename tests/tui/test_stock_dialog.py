"""Stock moves in two keys from a row: received, used, counted; with quantity, location and order."""

from __future__ import annotations

from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.tui.app import SpecdbApp
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.catalogue.stock_dialog import StockDialog
from specdb.verbs.catalogue.holdings import latest_moves
from tests.tui.conftest import SMALL, AppFactory, AppPilot, on_screen, settled, until
from tests.tui.test_form_differs import flat

SHAFT = "ambrel-drugget-50-r"  # two on hand in the demonstration


async def on_row(app: SpecdbApp, pilot: AppPilot, key: str = SHAFT, kind: str = "shaft") -> None:
    """Put the cursor on a row."""
    await settled(pilot)
    assert isinstance(app.screen, CatalogueScreen)
    app.screen.opened(kind=kind, key=key)
    await settled(pilot)
    assert app.screen.table.cursor_key == key


async def booked(app: SpecdbApp, pilot: AppPilot, *keys: str) -> None:
    """Press keys, and wait until the move is booked."""
    for key in keys:
        await pilot.press(key)
        await settled(pilot)
    await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))


def on_hand(demo: Path, key: str = SHAFT, kind: str = "shaft") -> int:
    """Pieces on hand, by the catalogue itself."""
    with Catalogue(demo).read() as reader:
        return reader.stock(kind, key).get(key, 0)


@pytest.mark.parametrize(("key", "change", "reason"), [("plus", 1, "received"), ("minus", -1, "used")])
async def test_one_piece_in_or_out_is_two_keys(
    make: AppFactory, demo: Path, key: str, change: int, reason: str
) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await on_row(app, pilot)
        await booked(app, pilot, key, "enter")
        await until(pilot, lambda: on_hand(demo) == 2 + change)
    move = latest_moves(Catalogue(demo), "shaft", SHAFT)[0]
    assert (move.quantity, move.reason) == (change, reason)
    assert move.location == "shaft rack", "where it lay before"


async def test_a_count_says_how_many_there_are_and_books_the_difference(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await on_row(app, pilot)
        await pilot.press("equals_sign")
        await until(pilot, lambda: "2 on hand, then 2" in on_screen(app))
        await booked(app, pilot, "5", "enter")
        await until(pilot, lambda: on_hand(demo) == 5)
    move = latest_moves(Catalogue(demo), "shaft", SHAFT)[0]
    assert (move.quantity, move.reason) == (3, "counted")


async def test_quantity_location_and_order_are_kept(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await on_row(app, pilot, "pellow-reed-50-600", "grip")
        before = on_hand(demo, "pellow-reed-50-600", "grip")
        await pilot.press("plus")
        await settled(pilot)
        await pilot.press("1", "2", "down", "home", "shift+end", *"drawer", "down", *"R27")
        assert f"{before} on hand, then {before + 12}" in on_screen(app)
        await booked(app, pilot, "enter")
        await until(pilot, lambda: on_hand(demo, "pellow-reed-50-600", "grip") == before + 12)
    move = latest_moves(Catalogue(demo), "grip", "pellow-reed-50-600")[0]
    assert (move.quantity, move.location, move.order_ref) == (12, "drawer", "R27")


async def test_more_than_there_is_cannot_leave_and_it_is_said_at_once(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await on_row(app, pilot)
        await pilot.press("minus")
        await settled(pilot)
        await pilot.press("9")
        await settled(pilot)
        assert "! There are 2 on hand, so 9 cannot leave" in flat(app)
        await pilot.press("enter")
        await settled(pilot)
        assert isinstance(app.screen, StockDialog)
        await pilot.press("backspace", "x")
        assert "is no number" in flat(app)
        await pilot.press("escape")
        await settled(pilot)
    assert on_hand(demo) == 2


async def test_another_move_is_chosen_by_its_letter(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await on_row(app, pilot)
        await pilot.press("minus")
        await settled(pilot)
        await pilot.press("up", "d")
        await settled(pilot)
        assert "[damaged]" in on_screen(app)
        await booked(app, pilot, "enter")
        await until(pilot, lambda: on_hand(demo) == 1)
    assert latest_moves(Catalogue(demo), "shaft", SHAFT)[0].reason == "damaged"


async def test_no_stock_is_moved_of_what_none_is_kept_of(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await on_row(app, pilot, "ashby-driver", "club")
        await pilot.press("plus")
        await settled(pilot)
        assert isinstance(app.screen, CatalogueScreen)
