"""The place Orders by keyboard, and its pictures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

import specdb
from specdb.catalogue import Catalogue
from specdb.orders.tolerances import TOLERANCES
from specdb.tui.orders.place import OrdersScreen
from specdb.tui.standins.heads_screen import HeadsScreen
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.building.as_built import Finished
from specdb.verbs.building.finished_clubs import Measured, keep_built
from specdb.verbs.orders.changes import add_order, set_order_state
from specdb.verbs.orders.checks import Wanted
from specdb.verbs.orders.orders import order_of
from specdb.verbs.orders.parts import release_parts, reserve_parts
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, typed, until

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])
TODAY = dt.date(2026, 11, 25)


@pytest.fixture(autouse=True)
def _that_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("specdb.tui.widgets.days.shop_day", lambda: TODAY)


async def _at(pilot: AppPilot, order: str) -> OrdersScreen:
    await settled(pilot)
    screen = pilot.app.screen
    assert isinstance(screen, OrdersScreen)
    screen.query_one(PagedTable).show_row(order)
    await settled(pilot)
    return screen


def _measured(shop: Catalogue, order: str) -> None:
    """Say of every club of an order that nothing of it needs measuring; its kept parts are booked with it."""
    for unit in order_of(shop, order).units:
        key = unit.key
        meant = Finished(club=key.club_id, order=order, line=key.line, unit=key.unit)
        keep_built(shop, meant, Measured(waived={q: "a test" for q, t in TOLERANCES.items() if t.required}))


@SIZES
def test_orders_look_as_they_did(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    async def act(pilot: AppPilot) -> None:
        await _at(pilot, "o-1041")

    assert snap_compare(make(start="orders"), terminal_size=size, run_before=act)


async def test_the_list_says_how_late_and_what_is_short(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    add_order(shop, "o-900", [Wanted(club_id="ashby-wedge")], wanted_on=dt.date(2026, 11, 22))
    add_order(shop, "o-901", [Wanted(club_id="ashby-wedge")], wanted_on=TODAY)
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await settled(pilot)
        shown = on_screen(pilot.app)  # type: ignore[arg-type]
        assert "22 Nov, 3 days late" in shown
        assert "25 Nov, today" in shown
        assert "2 shafts short, 19 Feb too late" in shown


async def test_a_short_part_says_who_has_it_and_when_it_comes(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    # two more of the same club take the heads that are there: one keeps its parts, one is wanted sooner
    for order, day in (("o-800", dt.date(2026, 11, 27)), ("o-801", dt.date(2026, 11, 28))):
        add_order(shop, order, [Wanted(club_id="ashby-hybrid", quantity=1)], wanted_on=day)
    reserve_parts(shop, "o-800")
    with shop.write() as w:
        w.put("stock_move", {"kind": "head", "item_id": "brackwater-breakwater-h-4-rh", "quantity": -1,
                             "reason": "damaged"})  # fmt: skip
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await _at(pilot, "o-1041")
        shown = on_screen(pilot.app)  # type: ignore[arg-type]
        assert "3 expected 17 Dec; for this order 6 days too late; wanted sooner by o-800, o-801" in shown
        assert "1 short  head brackwater-breakwater-h-4-rh" in shown
        assert "none on order; kept for o-800; wanted sooner by o-801" in shown


async def test_parts_are_kept_and_given_free(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1043")
        await pilot.press("k")
        await settled(pilot)
        assert all(s.open == 0 for s in order_of(specdb.open(demo), "o-1043").states)
        await until(pilot, lambda: "all kept" in on_screen(pilot.app))  # type: ignore[arg-type]
        await pilot.press("g")
        await settled(pilot)
        assert not any(s.reserved for s in order_of(specdb.open(demo), "o-1043").states)


async def test_one_club_is_booked_as_built_in(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1043")
        await pilot.press("k")
        await settled(pilot)
        await pilot.press("u")
        await settled(pilot)
        assert "all 3 clubs" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("down", "enter")
        await settled(pilot)
        units = order_of(specdb.open(demo), "o-1043").units
        assert [u.built for u in units] == [True, False, False]


async def test_a_part_is_spoilt_and_needed_anew(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1045")
        await pilot.press("z")
        await settled(pilot)
        await pilot.press(*"grip", "enter")
        await settled(pilot)
        await pilot.press(*"cut through", "enter")
        await settled(pilot)
    grip = next(s for s in order_of(specdb.open(demo), "o-1045").states if s.need.kind == "grip")
    assert (grip.reserved, grip.used) == (0, 0)
    with specdb.open(demo).read() as reader:
        move = reader.rows("stock_move", where=f"reason = 'damaged' and item_id = '{grip.need.item_id}'")[-1]
    assert (move.quantity, move.order_ref) == (-1, "o-1045")


async def test_an_order_goes_only_where_it_can(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1046")
        await pilot.press("t")
        await settled(pilot)
        shown = on_screen(pilot.app)  # type: ignore[arg-type]
        assert "o-1046 is open; it becomes" in shown
        assert "collected" not in shown
        await pilot.press("enter")
        await settled(pilot)
        assert order_of(specdb.open(demo), "o-1046").order.state == "at_bench"


async def test_searching_by_customer_and_club(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("slash", *"quilter-putter")
        await settled(pilot)
        table = pilot.app.screen.query_one(PagedTable)
        assert table.row_count == 1
        assert table.cursor_key == "o-1042"
        await pilot.press("escape")
        await settled(pilot)
        assert table.row_count == 5


async def test_what_another_process_does_is_seen(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await _at(pilot, "o-1043")
        shop = specdb.open(demo)
        reserve_parts(shop, "o-1043")
        await until(pilot, lambda: "all kept" in _row(pilot, "o-1043"), 5.0)
        release_parts(shop, "o-1043")
        pilot.app.screen.query_one(PagedTable).show_row("o-1041")  # the order of the cursor would stay
        set_order_state(shop, "o-1043", "cancelled")
        await until(pilot, lambda: pilot.app.screen.query_one(PagedTable).row_of("o-1043") is None, 5.0)


def _row(pilot: AppPilot, order: str) -> str:
    lines = on_screen(pilot.app).splitlines()  # type: ignore[arg-type]
    return next((line for line in lines if line.strip().startswith(order)), "")


async def test_reading_the_whole_order_and_back(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1042")
        await pilot.press("enter")
        await settled(pilot)
        assert "stavely-tenter-105-s-7" in on_screen(pilot.app)  # type: ignore[arg-type]
        assert not pilot.app.screen.query_one(PagedTable).display
        await pilot.press("full_stop")
        await settled(pilot)
        assert "o-1046" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("escape")
        await settled(pilot)
        assert pilot.app.screen.query_one(PagedTable).has_focus


async def test_from_a_short_shaft_to_its_stand_ins(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1041")
        await pilot.press("s")
        await settled(pilot)
        assert "Find stand-ins for" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("enter")
        await settled(pilot)
        assert pilot.app.current_mode == "standins"
        assert "ashby-driver" in on_screen(pilot.app)  # type: ignore[arg-type]


async def test_from_a_short_head_to_the_heads(make: AppFactory, demo: Path) -> None:
    with specdb.open(demo).write() as w:
        w.put("stock_move", {"kind": "head", "item_id": "brackwater-breakwater-h-4-rh", "quantity": -2,
                             "reason": "damaged"})  # fmt: skip
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1041")
        await pilot.press("h")
        await settled(pilot)
        screen = pilot.app.screen
        assert isinstance(screen, HeadsScreen)  # only one of its clubs is short of its head
        shown = on_screen(pilot.app)  # type: ignore[arg-type]
        assert "ashby-hybrid" in shown
        assert "brackwater-breakwater-h-4-rh" in shown
        await pilot.press("escape")
        await settled(pilot)
        assert isinstance(pilot.app.screen, OrdersScreen)


async def test_an_order_that_is_finished_stays_under_the_cursor(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    _measured(shop, "o-1045")
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1045")
        table = pilot.app.screen.query_one(PagedTable)
        await pilot.press("t", "enter")
        await settled(pilot)
        assert order_of(shop, "o-1045").order.state == "finished"
        assert table.cursor_key == "o-1045"
        assert "finished" in _row(pilot, "o-1045")
        await pilot.press("t")  # asks again, about the same order
        await settled(pilot)
        assert "o-1045 is finished; it becomes" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("escape", "down")
        await settled(pilot)
        set_order_state(shop, "o-1046", "at_bench")
        await until(pilot, lambda: "at bench" in _row(pilot, "o-1046"), 5.0)
        assert table.row_of("o-1045") is not None  # it stays where the cursor is elsewhere, too
        await pilot.press("f3", "f7")  # until the list is left
        await settled(pilot)
        assert table.row_of("o-1045") is None


async def test_a_club_outside_its_tolerance_is_named_and_a_reason_asked_for(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    unit = Finished(club="wexcombe-7-iron", order="o-1045", line=1, unit=1)
    rest = {q: "a test" for q, t in TOLERANCES.items() if t.required and q != "length"}
    keep_built(shop, unit, Measured(values={"length": 38.0}, waived=rest))
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1045")
        await pilot.press("t", "enter")
        named = "wexcombe-7-iron (playing length 1 in"
        await until(pilot, lambda: named in on_screen(pilot.app))  # type: ignore[arg-type]
        await pilot.press("enter")  # without a reason
        await settled(pilot)
        assert order_of(shop, "o-1045").order.state == "at_bench"
        await pilot.press(*"wanted so", "enter")
        await settled(pilot)
    assert order_of(shop, "o-1045").order.state == "finished"
    with shop.read() as reader:
        assert reader.history("order", "o-1045", limit=1)[0].why == "wanted so"


async def test_a_click_on_a_heading_sorts_and_is_remembered(make: AppFactory) -> None:
    def keys() -> list[str | None]:
        table = app.screen.query_one(PagedTable)
        return [table.row_key(n) for n in range(table.row_count)]

    app = make(start="orders")
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        assert keys() == ["o-1045", "o-1043", "o-1041", "o-1042", "o-1046"]  # by the day they are wanted
        await _click_heading(pilot, "order")
        assert keys() == ["o-1041", "o-1042", "o-1043", "o-1045", "o-1046"]
        await _click_heading(pilot, "order")
        assert keys() == ["o-1046", "o-1045", "o-1043", "o-1042", "o-1041"]
        await _click_heading(pilot, "for")
        assert [k for k in keys() if k != "o-1046"] == ["o-1043", "o-1042", "o-1045", "o-1041"]
    app.close_down()
    app = make(start="orders")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert keys()[0] == "o-1043"
        await pilot.press("o")
        await settled(pilot)
        assert "Sort by" in on_screen(app)
        await pilot.press(*"wanted", "enter")
        await settled(pilot)
        assert keys()[0] == "o-1045"
        assert keys()[-1] == "o-1046"  # which nobody wants by a day


async def _click_heading(pilot: AppPilot, title: str) -> None:
    lines = on_screen(pilot.app).splitlines()  # type: ignore[arg-type]
    y = next(n for n, line in enumerate(lines) if " wanted" in line and " parts" in line)
    await pilot.click(offset=(lines[y].index(f" {title}") + 1, y))
    await settled(pilot)


@pytest.mark.parametrize(("words", "kind"), [("plan all", "PlanScreen"), ("reports", "ReportsScreen")])
async def test_plan_and_reports_are_found_wherever_one_is(make: AppFactory, words: str, kind: str) -> None:
    app = make(start="catalogue")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("ctrl+p")
        await settled(pilot)
        await typed(pilot, words)
        await until(pilot, lambda: words in on_screen(app).lower())
        await until(pilot, lambda: app.screen.query_one("CommandList").highlighted == 0)  # type: ignore[attr-defined]
        await pilot.press("enter")
        await until(pilot, lambda: type(app.screen).__name__ == kind)
        assert app.current_mode == "orders"
        await pilot.press("escape")
        await settled(pilot)


async def test_what_counts_is_readable_at_80_columns(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1041")
        row = _row(pilot, "o-1041")
        for words in ("11 Dec, in 16 d", "2 shafts, 19 Feb late", "open", "Rowan Ashby (inv"):
            assert words in row


async def test_from_the_order_to_the_bench(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _at(pilot, "o-1043")
        await pilot.press("b")
        await settled(pilot)
        await pilot.press("down", "enter")
        await settled(pilot)
        assert pilot.app.current_mode == "build"
        assert "tansley-8-iron" in on_screen(pilot.app)  # type: ignore[arg-type]
