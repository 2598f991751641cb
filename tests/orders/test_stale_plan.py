"""A plan is kept as it was made or not at all: what changed since it was made is said, and nothing is held."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.bulk import RowsRejectedError
from specdb.errors import ConflictError, SpecdbError
from specdb.verbs.catalogue.changing import decide, move_stock, set_fields
from specdb.verbs.orders.allocation import AllocationOptions, plan_orders, reserve_plan
from specdb.verbs.orders.changes import Wanted, add_order, set_order_state
from specdb.verbs.orders.parts import reserve_parts

PLAIN = AllocationOptions(propose=False)


def _held(shop: Catalogue) -> int:
    with shop.read() as reader:
        return sum(r.quantity for r in reader.rows("reservation"))


@pytest.fixture
def planned(shop: Catalogue) -> Catalogue:
    decide(shop, "driver", "sedge", "chosen", tip_trim_in=0.5)
    move_stock(shop, "count", "shaft", "reed", 0)
    add_order(shop, "o-1", [Wanted(club_id="driver"), Wanted(set_id="irons")])
    return shop


def test_a_plan_that_still_holds_is_kept_whole(planned: Catalogue) -> None:
    plan = plan_orders(planned, PLAIN)
    assert reserve_plan(planned, plan) == {"o-1": 16}  # four clubs of shaft, head, ferrule, grip
    assert _held(planned) == 16
    assert reserve_plan(planned, plan) == {}


@pytest.mark.parametrize(
    ("change", "error", "said"),
    [
        (lambda s: decide(s, "driver", "sedge", "rejected"), ConflictError, "sedge is neither fitted in driver nor"),
        (lambda s: set_order_state(s, "o-1", "cancelled"), ConflictError, "o-1 is not open any more"),
        (
            lambda s: set_fields(s, "order_line", "o-1/2", ["set_id=", "club_id=iron-7"]),
            ConflictError,
            "o-1 was changed",
        ),
        (lambda s: move_stock(s, "use", "shaft", "sedge", 2), RowsRejectedError, "sedge"),
    ],
)
def test_what_changed_since_is_said_and_nothing_is_kept(
    planned: Catalogue, change: Callable[[Catalogue], object], error: type[SpecdbError], said: str
) -> None:
    plan = plan_orders(planned, PLAIN)
    change(planned)
    with pytest.raises(error, match=said):
        reserve_plan(planned, plan)
    assert _held(planned) == 0


def test_a_shaft_of_an_order_that_is_kept_already_stays_though_turned_down_since(planned: Catalogue) -> None:
    reserve_parts(planned, "o-1")
    before = _held(planned)
    plan = plan_orders(planned, PLAIN)
    decide(planned, "driver", "sedge", "rejected")
    reserve_plan(planned, plan)
    assert _held(planned) == before


def test_nobody_waits_for_a_plan_that_is_being_made(planned: Catalogue) -> None:
    other = Catalogue(planned.path, wait_seconds=1.0)
    kept = []

    def meanwhile(text: str, done: int, _total: int) -> None:
        if text == "looking for stand-ins" and done == 0:
            kept.append(reserve_parts(other, "o-1").pieces)  # would give up after a second

    plan = plan_orders(planned, PLAIN, progress=meanwhile)
    assert kept == [16]
    # the plan is of what was there when it began, and nothing is kept twice
    assert plan.plan.built == 1
    assert reserve_plan(planned, plan) == {}
