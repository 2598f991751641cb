"""More is kept for orders than there is, after a count: who has what is there, who is short, and what comes of it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.errors import ConflictError
from specdb.orders.plan import Outcome
from specdb.verbs.catalogue.changing import decide, move_stock
from specdb.verbs.orders.allocation import AllocationOptions, plan_orders, reserve_plan
from specdb.verbs.orders.changes import Wanted, add_order, today
from specdb.verbs.orders.orders import order_of, orders_of, parts_of
from specdb.verbs.orders.parts import Which, release_parts, reserve_parts
from specdb.verbs.orders.waits import orders_seen
from specdb.verbs.reports.reorder import reorder_report
from specdb.verbs.reports.reports import open_report, shortage_report

DRIVER = Wanted(club_id="driver")
PLAIN = AllocationOptions(propose=False)


def _day(number: int) -> dt.date:
    return today() + dt.timedelta(days=number)


@pytest.fixture
def short(shop: Catalogue) -> Catalogue:
    """Two drivers with all parts kept, then one of their two shafts is not to be found; the second is wanted first."""
    move_stock(shop, "receive", "shaft", "reed", 1)
    for order, wanted in (("o-1", 20), ("o-2", 5)):
        add_order(shop, order, [DRIVER], wanted_on=_day(wanted))
        reserve_parts(shop, order)
    move_stock(shop, "count", "shaft", "reed", 1)
    return shop


def _shaft(shop: Catalogue, order: str) -> tuple[int, int, int]:
    state = next(s for s in order_of(shop, order).states if s.need.kind == "shaft")
    return state.reserved, state.gone, state.waiting


def _plan(shop: Catalogue, **more: Any) -> dict[str, tuple[str, dt.date | None]]:
    plan = plan_orders(shop, AllocationOptions(propose=False, **more)).plan
    return {o.order_id: (str(o.outcome), o.day) for o in plan.orders}


def _expected(shop: Catalogue, pieces: int, day: int) -> None:
    row = {"kind": "shaft", "item_id": "reed", "ordered": pieces, "expected_on": _day(day), "supplier": "x"}
    with shop.write() as w:
        w.put("supply", row)


def test_the_order_wanted_first_has_what_is_there_and_the_other_is_short(short: Catalogue) -> None:
    assert _shaft(short, "o-2") == (1, 0, 0)
    assert _shaft(short, "o-1") == (0, 1, 1)
    views = {v.order.id: v for v in orders_of(short)}
    assert views["o-2"].buildable_now
    assert not views["o-2"].problems
    assert not views["o-1"].buildable_now
    said = "shaft reed: 2 kept for orders, but 1 on hand (they go to o-2, wanted first); 1 kept for this order is not"
    assert views["o-1"].problems == (f"{said} there: receive or release it",)
    line = next(p for p in parts_of(short, "o-1")[1] if p.kind == "shaft")
    assert (line.reserved, line.gone, line.short, line.available) == (0, 1, 1, 0)
    wait = orders_seen(short).waits["o-1"][0]
    assert (wait.item_id, wait.short, wait.gone, wait.kept_for) == ("reed", 1, 1, (("o-2", 1),))
    with short.read() as r:  # nothing is given free by that
        assert sum(k.quantity for k in r.rows("reservation") if k.item_id == "reed") == 2


def test_of_two_wanted_on_one_day_the_lower_number_has_it(shop: Catalogue) -> None:
    move_stock(shop, "receive", "shaft", "reed", 1)
    for order in ("o-7", "o-3"):
        add_order(shop, order, [DRIVER], wanted_on=_day(9))
        reserve_parts(shop, order)
    move_stock(shop, "count", "shaft", "reed", 1)
    assert (_shaft(shop, "o-3"), _shaft(shop, "o-7")) == ((1, 0, 0), (0, 1, 1))


def test_plan_and_reports_count_the_order_that_is_held_up(short: Catalogue) -> None:
    assert _plan(short) == {"o-2": ("today", today()), "o-1": ("short", None)}
    planned = next(o for o in plan_orders(short, PLAIN).plan.orders if o.order_id == "o-1")
    assert planned.reasons[0] == (
        "1 shaft reed for driver short (1 on the shelf; kept for it, but not there: receive or release it; kept for "
        "o-2; none on order)"
    )
    report = shortage_report(short)
    assert [(x.item_id, x.short, x.on_hand, x.held, x.orders) for x in report.lines] == [
        ("reed", 1, 1, 2, (f"o-1 ({_day(20).isoformat()})",))
    ]
    assert report.said[0] == "1 part holds 1 order up."
    assert [(x.order_id, x.kept, x.short, x.ready) for x in open_report(short).lines] == [
        ("o-2", 4, 0, True),
        ("o-1", 3, 1, False),
    ]
    # one is to be ordered for the two that are kept, not two
    assert [(x.item_id, x.held, x.needed, x.order) for x in reorder_report(short).lines if x.kind == "shaft"] == [
        ("reed", 2, 0, 1)
    ]


def test_what_arrives_goes_to_the_order_that_has_it_kept(short: Catalogue) -> None:
    add_order(short, "o-0", [DRIVER], wanted_on=_day(1))  # wanted before both, but it has no shaft kept
    move_stock(short, "receive", "head", "wren", 2)
    _expected(short, 1, 10)
    assert _plan(short) == {"o-0": ("short", None), "o-2": ("today", today()), "o-1": ("later", _day(10))}
    days = {v.order.id: v.expected_on for v in orders_of(short)}
    assert days == {"o-0": None, "o-2": None, "o-1": _day(10)}
    move_stock(short, "receive", "shaft", "reed", 1)
    assert (_shaft(short, "o-1"), _shaft(short, "o-0")) == ((1, 0, 0), (0, 0, 1))


def test_released_it_is_the_others_to_want(short: Catalogue) -> None:
    release_parts(short, "o-1", Which(parts=("reed",)))
    assert (_shaft(short, "o-2"), _shaft(short, "o-1")) == ((1, 0, 0), (0, 0, 1))
    assert not order_of(short, "o-1").problems


def test_an_approved_stand_in_goes_in_and_the_shaft_that_is_gone_is_no_longer_kept(short: Catalogue) -> None:
    decide(short, "driver", "sedge", "chosen", tip_trim_in=0.5, score=0.4)
    view = order_of(short, "o-1")
    assert view.units[0].stand_in == "sedge"
    assert any(
        "reed is kept for club driver (1/1), but that club no longer needs it: release it" in p for p in view.problems
    )
    answer = plan_orders(short, PLAIN)
    assert {o.order_id: o.outcome for o in answer.plan.orders} == {"o-2": Outcome.TODAY, "o-1": Outcome.TODAY}
    assert [(unit.order_id, part) for unit, part in answer.given_up] == [("o-1", ("shaft", "reed"))]
    assert reserve_plan(short, answer) == {"o-1": 1}
    with short.read() as r:
        shafts = {(k.order_id, k.item_id) for k in r.rows("reservation") if k.kind == "shaft"}
    assert shafts == {("o-2", "reed"), ("o-1", "sedge")}
    assert all(v.buildable_now for v in orders_of(short))


def test_a_shaft_that_was_found_again_meanwhile_stays_kept(short: Catalogue) -> None:
    decide(short, "driver", "sedge", "chosen", tip_trim_in=0.5, score=0.4)
    answer = plan_orders(short, PLAIN)
    move_stock(short, "count", "shaft", "reed", 2)
    with pytest.raises(ConflictError, match="more than one shaft"):
        reserve_plan(short, answer)
    assert _shaft(short, "o-1") == (1, 0, 0)


def test_a_count_below_nothing_owes_the_shelf_first(short: Catalogue) -> None:
    with short.write() as w:
        w.put("stock_move", {"kind": "shaft", "item_id": "reed", "quantity": -2, "reason": "counted"}, mode="add")
    _expected(short, 2, 10)  # one of the two makes good what the count is short of
    assert (_shaft(short, "o-2"), _shaft(short, "o-1")) == ((0, 1, 1), (0, 1, 1))
    assert {v.order.id: v.expected_on for v in orders_of(short)} == {"o-2": _day(10), "o-1": None}
    assert _plan(short) == {"o-2": ("later", _day(10)), "o-1": ("short", None)}
