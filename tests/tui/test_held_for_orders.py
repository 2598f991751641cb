"""A count that falls below what is held for orders is said at once, with the orders it hits."""

from __future__ import annotations

from pathlib import Path

from specdb.verbs.catalogue.changing import move_stock
from tests.tui.conftest import AppFactory, until

HELD = "hollin-reach-holm-iron-75-r"


async def test_a_count_below_what_is_held_is_said_at_once(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test() as pilot:
        catalogue = app.desk.catalogue
        app.run_worker(lambda: move_stock(catalogue, "count", "shaft", HELD, 0), thread=True)

        def told() -> bool:
            return any("1 held for order o-1045" in n.message for n in app._notifications)

        await until(pilot, told)
