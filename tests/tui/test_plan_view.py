"""The plan of all orders by keyboard: made, stopped, made otherwise; stand-ins decided about; its parts kept."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import specdb
from specdb.orders.allocation import allocate
from specdb.orders.plan import Outcome
from specdb.tui.plan.view import PlanScreen
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.orders import allocation
from specdb.verbs.orders.orders import order_of
from specdb.verbs.orders.parts import reserve_parts
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])
TODAY = dt.date(2026, 11, 25)


@pytest.fixture(autouse=True)
def _that_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("specdb.tui.widgets.days.shop_day", lambda: TODAY)
    monkeypatch.setenv("SPECDB_BY", "Robin")


async def _plan(pilot: AppPilot) -> PlanScreen:
    await settled(pilot)
    await pilot.press("p")
    await settled(pilot)
    screen = pilot.app.screen
    assert isinstance(screen, PlanScreen)
    return screen


def _text(pilot: AppPilot) -> str:
    return " ".join(on_screen(pilot.app).replace("│", " ").split())  # type: ignore[arg-type]


@SIZES
def test_the_plan_looks_as_it_did(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    async def act(pilot: AppPilot) -> None:
        await _plan(pilot)
        await pilot.press("down", "down")
        await settled(pilot)

    assert snap_compare(make(start="orders"), terminal_size=size, run_before=act)


@SIZES
def test_the_stand_ins_to_approve_look_as_they_did(
    snap_compare: Compare, make: AppFactory, size: tuple[int, int]
) -> None:
    async def act(pilot: AppPilot) -> None:
        await _plan(pilot)
        await pilot.press("2")
        await settled(pilot)

    assert snap_compare(make(start="orders"), terminal_size=size, run_before=act)


async def test_all_orders_are_planned_and_the_proof_is_told(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=WIDE) as pilot:
        screen = await _plan(pilot)
        shown = _text(pilot)
        assert "4 of 5 open orders can be built in full: 4 today, 0 later; 1 left short" in shown
        assert "Proved: no plan is better." in shown
        screen.query_one(PagedTable).show_row("o-1042")
        await settled(pilot)
        assert "none on the shelf; none on order" in _text(pilot)
        await pilot.press("3")
        await settled(pilot)
        assert "stand-ins to approve 3 3 proved" in _text(pilot)
        await pilot.press("escape")
        await settled(pilot)
        assert "can be built in full" not in on_screen(pilot.app)  # type: ignore[arg-type]


async def test_approved_planned_again_and_kept(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    async with make(start="orders").run_test(size=SMALL) as pilot:
        screen = await _plan(pilot)
        await pilot.press("2")
        await settled(pilot)
        shown = _text(pilot)
        assert "Instead: hollin-reach-holm-60-s, score 0.66" in shown
        assert "hollin-reach-sker-60-s is short: 6 expected 19 Feb." in shown
        assert "The work: tip trim 1.625 in." in shown
        for why in ("same feel", ""):  # the last reason is offered for the next
            await pilot.press("c")
            await settled(pilot)
            await pilot.press(*why, "enter")
            await settled(pilot)
        # a new plan was made by itself
        assert screen.plan is not None
        order = next(o for o in screen.plan.answer.plan.orders if o.order_id == "o-1041")
        assert (order.outcome, order.to_approve) == (Outcome.TODAY, ())
        await pilot.press("k")
        await settled(pilot)
        shown = _text(pilot)
        assert "o-1041 (8)" in shown
        assert "Not o-1046: a stand-in is still to be approved." in shown
        await pilot.press("y")
        await settled(pilot)
    with shop.read() as reader:
        chosen = {c.club_id: c for c in reader.rows("choice") if c.decision == "chosen"}
    assert (chosen["ashby-driver"].why, chosen["ashby-driver"].by) == ("same feel", "Robin")
    assert chosen["ashby-hybrid"].why == "same feel"
    assert chosen["ashby-driver"].tip_trim_in == 1.625
    kept = order_of(shop, "o-1041")
    assert all(s.open == 0 for s in kept.states)
    assert kept.units[0].stand_in == "hollin-reach-holm-60-s"
    assert not any(s.reserved for s in order_of(shop, "o-1046").states)


async def test_keeping_waits_for_the_plan_that_an_approval_asks_for(
    make: AppFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole, goes_on, begun = allocation.plan_orders, threading.Event(), threading.Event()

    def slow(shop: Any, options: allocation.AllocationOptions, **more: Any) -> allocation.AllocationAnswer:
        answer = whole(shop, options, **more)
        begun.set()
        goes_on.wait(60.0)
        return answer

    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _plan(pilot)
        monkeypatch.setattr(allocation, "plan_orders", slow)
        await pilot.press("2")
        await settled(pilot)
        for _ in range(2):
            begun.clear()
            await pilot.press("c")
            await until(pilot, lambda: "Approve for" in _text(pilot), 60.0)
            await pilot.press(*"fits", "enter")
            await until(pilot, begun.is_set, 60.0)
        assert "decided about since this plan was made: a new one is being made" in _text(pilot)
        await pilot.press("k")
        told = pilot.app._notifications
        await until(pilot, lambda: any("asked about once it is there" in n.message for n in told), 60.0)
        assert "Keep the parts as planned" not in _text(pilot)
        goes_on.set()
        await settled(pilot)
        shown = _text(pilot)
        assert "Keep the parts as planned" in shown
        assert "o-1041 (8)" in shown  # the order of both approvals
        assert "Not o-1046: a stand-in is still to be approved." in shown


async def test_what_is_turned_down_is_not_proposed_again(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        screen = await _plan(pilot)
        await pilot.press("2", "x")
        await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        assert "Say why" in _text(pilot)  # nobody is turned down without a reason
        await pilot.press(*"too light", "enter")
        await settled(pilot)
        assert screen.plan is not None
        driver = next(p for p in screen.plan.proposals if p.what == "ashby-driver")
        assert driver.stand_in != "hollin-reach-holm-60-s"
    with specdb.open(demo).read() as reader:
        found = next(c for c in reader.rows("choice") if c.shaft_id == "hollin-reach-holm-60-s")
    assert (found.decision, found.why) == ("rejected", "too light")


async def test_approved_only_and_until_a_day_and_first(make: AppFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[allocation.AllocationOptions] = []
    whole = allocation.plan_orders

    def plan(shop: Any, options: allocation.AllocationOptions, **more: Any) -> allocation.AllocationAnswer:
        asked.append(options)
        return whole(shop, options, **more)

    monkeypatch.setattr(allocation, "plan_orders", plan)
    async with make(start="orders").run_test(size=WIDE) as pilot:
        screen = await _plan(pilot)
        await pilot.press("a")
        await settled(pilot)
        assert "approved stand-ins only" in _text(pilot)
        assert screen.plan is not None
        assert not screen.plan.proposals
        assert {o.order_id: o.day for o in screen.plan.answer.plan.orders}["o-1041"] == dt.date(2027, 2, 19)
        await pilot.press("u")
        await settled(pilot)
        await pilot.press(*"31/31", "enter")
        await settled(pilot)
        assert "31/31" in _text(pilot)  # told that this is no day, and still asked
        await pilot.press("ctrl+u", *"31 Dec")
        await settled(pilot)
        assert "Thu 31 Dec 2026" in _text(pilot)  # how it is understood, before it is taken
        await pilot.press("enter")
        await settled(pilot)
        assert "what comes by 31 Dec 2026" in _text(pilot)
        assert {o.order_id: o.outcome for o in screen.plan.answer.plan.orders}["o-1041"] is Outcome.SHORT
        screen.query_one(PagedTable).show_row("o-1046")
        await pilot.press("f")
        await settled(pilot)
        assert "first o-1046" in _text(pilot)
    assert [(o.propose, o.until, o.first) for o in asked] == [
        (True, None, ()),
        (False, None, ()),
        (False, dt.date(2026, 12, 31), ()),
        (False, dt.date(2026, 12, 31), ("o-1046",)),
    ]


async def test_planning_never_blocks_and_can_be_stopped(make: AppFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    whole, goes_on = allocation.plan_orders, threading.Event()

    def slow(
        shop: Any, options: allocation.AllocationOptions, *, progress: Any, stopped: Any
    ) -> allocation.AllocationAnswer:
        progress("looking for stand-ins", 3, 10)
        goes_on.wait(20.0)
        return whole(shop, options, progress=progress, stopped=stopped)

    monkeypatch.setattr(allocation, "plan_orders", slow)
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await settled(pilot)
        await pilot.press("p")
        await until(pilot, lambda: "looking for stand-ins 3 of 10" in _text(pilot), 5.0)
        await pilot.press("escape")
        await until(pilot, lambda: "The planning was stopped" in _text(pilot), 5.0)
        await pilot.press("escape")  # and one can go on with something else meanwhile
        await until(pilot, lambda: "keep parts" in _text(pilot) and "plan all" in _text(pilot), 5.0)
        goes_on.set()
        await settled(pilot)
        assert "4 of 5 open orders" not in _text(pilot)


async def test_stopped_in_the_solver_the_best_plan_so_far_is_shown(
    make: AppFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = threading.Event()

    def slow(demands: Any, shelf: Any, rules: Any, holders: Any, *, stopped: Any) -> Any:
        begun.set()
        end = threading.Event()
        while not stopped():
            end.wait(0.02)
        return replace(allocate(demands, shelf, rules, holders, stopped=stopped), stopped=True)

    monkeypatch.setattr("specdb.verbs.orders.allocation.allocate", slow)
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await settled(pilot)
        await pilot.press("p")
        await until(pilot, lambda: "planning" in _text(pilot) and begun.is_set(), 60.0)
        await pilot.press("escape")
        await until(pilot, lambda: "open orders can be built in full" in _text(pilot), 60.0)
        screen = pilot.app.screen
        assert isinstance(screen, PlanScreen)
        assert not screen.running
        assert screen.plan is not None
        assert screen.plan.answer.plan.stopped


async def test_another_process_takes_a_part_meanwhile(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await _plan(pilot)
        # somebody keeps the heads of the wedge order for another one, and takes the rest away
        with shop.write() as w:
            w.put("stock_move", {"kind": "head", "item_id": "brackwater-groyne-6-rh", "quantity": -3,
                                 "reason": "damaged"})  # fmt: skip
        await until(pilot, lambda: "The catalogue has changed since this plan" in _text(pilot), 5.0)
        await pilot.press("k")
        await settled(pilot)
        await pilot.press("y")
        await settled(pilot)
        assert not any(s.reserved for s in order_of(shop, "o-1043").states)  # nothing is half kept
        await pilot.press("p")
        await settled(pilot)
        assert "3 of 5 open orders" in _text(pilot)


async def test_to_the_stand_ins_of_a_club_and_to_its_order(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _plan(pilot)
        await pilot.press("2", "down", "s")
        await settled(pilot)
        assert pilot.app.current_mode == "standins"
        assert "ashby-hybrid" in _text(pilot)
        await pilot.press("f7")
        await settled(pilot)
        assert isinstance(pilot.app.screen, PlanScreen)  # the plan is still there
        await pilot.press("o")
        await settled(pilot)
        assert pilot.app.screen.query_one(PagedTable).cursor_key == "o-1041"


async def test_nothing_to_plan(make: AppFactory, demo: Path) -> None:
    from specdb.verbs.orders.changes import set_order_state

    shop = specdb.open(demo)
    for order in ("o-1041", "o-1042", "o-1043", "o-1045", "o-1046"):
        set_order_state(shop, order, "cancelled")
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert "No order is open" in _text(pilot)
        await _plan(pilot)
        assert "No order is open." in _text(pilot)
        await pilot.press("k")
        await settled(pilot)
        assert isinstance(pilot.app.screen, PlanScreen)  # nothing is asked where nothing is to be kept


async def test_parts_that_are_kept_already_are_not_kept_twice(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _plan(pilot)
        reserve_parts(shop, "o-1043")
        await pilot.press("k")
        await settled(pilot)
        await pilot.press("y")
        await settled(pilot)
        assert sum(s.reserved for s in order_of(shop, "o-1043").states) == 12


async def test_a_set_is_approved_as_a_whole(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    with shop.write() as w:
        there = w.stock("shaft")["stavely-tenter-parallel-115-s"]
        w.put("stock_move", {"kind": "shaft", "item_id": "stavely-tenter-parallel-115-s", "quantity": -there,
                             "reason": "damaged"})  # fmt: skip
        before = w.change_no or 0
    async with make(start="orders").run_test(size=SMALL) as pilot:
        screen = await _plan(pilot)
        await pilot.press("2")
        await settled(pilot)
        assert screen.plan is not None
        one = next(p for p in screen.plan.proposals if p.what == "set tansley-irons")
        assert len({u.option.shaft_id for u in one.units}) >= 1
        assert [u.key.club_id for u in one.units] == ["tansley-6-iron", "tansley-8-iron", "tansley-pw"]
        screen.query_one(PagedTable).show_row(one.key)
        await settled(pilot)
        await pilot.press("s")
        await settled(pilot)
        assert "tansley-irons" in _text(pilot)
        assert not isinstance(pilot.app.screen, PlanScreen)
        await pilot.press("escape")
        await settled(pilot)
        await pilot.press("c")
        await settled(pilot)
        await pilot.press(*"all there", "enter")
        await settled(pilot)
        order = next(o for o in screen.plan.answer.plan.orders if o.order_id == "o-1043")
        assert (order.outcome, order.to_approve) == (Outcome.TODAY, ())
    with shop.read() as reader:
        chosen = [c for c in reader.rows("choice") if c.why == "all there"]
        assert {c.club_id for c in chosen} == {"tansley-6-iron", "tansley-8-iron", "tansley-pw"}
        assert reader.last_change() == before + 1
