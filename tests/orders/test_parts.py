"""Parts of an order kept, given free, built in and spoilt, one after the other.

What is promised and what is on the shelf are counted here from the stored rows, not from the answers.
"""

from __future__ import annotations

import datetime as dt
import re
from contextlib import suppress
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.exporting import export_package
from specdb.catalogue.integrity import check_catalogue
from specdb.catalogue.package import import_package
from specdb.catalogue.promises import Beyond
from specdb.errors import ConflictError, FieldError, NotFoundError, UsageError
from specdb.verbs.catalogue.changing import decide, move_stock, retire, set_fields, set_supply
from specdb.verbs.matching.substitutes import choose
from specdb.verbs.orders.allocation import plan_orders
from specdb.verbs.orders.changes import Wanted, add_order, set_order_state
from specdb.verbs.orders.orders import order_json, order_of, orders_of
from specdb.verbs.orders.parts import SeveralPartsError, Which, release_parts, reserve_parts, spoil_parts, use_parts

DRIVER, IRONS = Wanted(club_id="driver"), Wanted(set_id="irons")


def on_hand(shop: Catalogue, kind: str, item: str) -> int:
    with shop.read() as r:
        return sum(m.quantity for m in r.rows("stock_move") if (m.kind, m.item_id) == (kind, item))


def kept(shop: Catalogue, state: str = "held") -> dict[tuple[str, str], int]:
    found: dict[tuple[str, str], int] = {}
    with shop.read() as r:
        for row in r.rows("reservation"):
            if row.state == state:
                found[row.kind, row.item_id] = found.get((row.kind, row.item_id), 0) + row.quantity
    return found


def test_an_order_is_kept_built_in_and_finished(shop: Catalogue) -> None:
    taken = add_order(shop, "o-1", [DRIVER, IRONS], customer="R. Vetch (invented)", wanted_on=dt.date(2031, 5, 1))
    assert (taken.lines, taken.clubs) == (2, 4)
    done = reserve_parts(shop, "o-1")
    assert done.short == ()
    assert done.pieces == 4 * 4  # shaft, head, ferrule, grip each; adhesive is not counted
    assert kept(shop)["shaft", "rush"] == 3
    assert reserve_parts(shop, "o-1").pieces == 0  # nothing twice
    set_order_state(shop, "o-1", "at bench")
    with pytest.raises(ConflictError, match=r"16 parts are still held for order o-1; before it is finished book them"):
        set_order_state(shop, "o-1", "finished")
    first = use_parts(shop, "o-1", Which(club_id="driver"))
    assert {n.kind for _, n in first.done} == {"shaft", "head", "ferrule", "grip"}
    assert on_hand(shop, "shaft", "reed") == 0
    use_parts(shop, "o-1")
    assert on_hand(shop, "shaft", "rush") == 3
    assert kept(shop) == {}
    assert kept(shop, "used")["grip", "moss"] == 4
    with shop.read() as r:
        moves = [m for m in r.rows("stock_move") if m.reason == "used"]
    assert {m.order_ref for m in moves} == {"o-1"}
    assert {m.location for m in moves} == {"rack"}
    assert set_order_state(shop, "o-1", "finished").notes == ()
    assert check_catalogue(shop.path) == []


def test_what_is_short_is_said_and_the_rest_is_kept(shop: Catalogue) -> None:
    for number in ("o-1", "o-2"):
        add_order(shop, number, [DRIVER], wanted_on=dt.date(2031, 5, 1))
    set_supply(shop, "shaft", "reed", {"ordered": 2, "expected_on": dt.date(2031, 6, 2)})
    reserve_parts(shop, "o-1")
    done = reserve_parts(shop, "o-2")
    assert [(s.need.kind, s.need.item_id, s.short, s.expected_on) for s in done.short] == [
        ("shaft", "reed", 1, dt.date(2031, 6, 2))
    ]
    assert {n.kind for _, n in done.done} == {"head", "ferrule", "grip"}
    assert reserve_parts(shop, "o-2", whole=True).done == ()
    move_stock(shop, "receive", "shaft", "reed", 1)
    assert [n.item_id for _, n in reserve_parts(shop, "o-2", Which(parts=("shaft",))).done] == ["reed"]


def test_all_or_nothing_keeps_nothing(shop: Catalogue) -> None:
    move_stock(shop, "count", "shaft", "reed", 0)
    add_order(shop, "o-1", [DRIVER])
    done = reserve_parts(shop, "o-1", whole=True)
    assert done.done == ()
    assert len(done.short) == 1
    assert kept(shop) == {}


def test_a_held_part_is_not_taken_by_hand(shop: Catalogue) -> None:
    add_order(shop, "o-1", [DRIVER])
    reserve_parts(shop, "o-1")
    with pytest.raises(ConflictError, match=r"of 1 on hand 1 are held for o-1; book them for their order"):
        move_stock(shop, "use", "shaft", "reed", 1)
    release_parts(shop, "o-1", Which(parts=("shaft/reed",)))
    move_stock(shop, "use", "shaft", "reed", 1)
    assert on_hand(shop, "shaft", "reed") == 0


@pytest.mark.parametrize("action", ["count", "damage"])
def test_a_count_below_what_is_held_is_kept_told_and_shown(action: str, shop: Catalogue) -> None:
    told: list[Beyond] = []
    shop.when_beyond = told.extend
    add_order(shop, "o-1", [IRONS])
    reserve_parts(shop, "o-1")
    move_stock(shop, action, "shaft", "rush", 2 if action == "count" else 4)
    assert on_hand(shop, "shaft", "rush") == 2
    assert [(b.item_id, b.on_hand, b.held, b.missing, b.orders) for b in told] == [("rush", 2, 3, 1, ("o-1",))]
    assert "2 on hand, but 3 held for order o-1; 1 cannot be had" in told[0].message
    view = order_of(shop, "o-1")
    assert view.problems == (
        "shaft rush: 3 kept for orders, but 2 on hand; 1 kept for this order is not there: receive or release it",
    )
    assert [f.message for f in check_catalogue(shop.path)] == [told[0].detail]
    told.clear()
    move_stock(shop, "receive", "shaft", "rush", 1)  # less wrong is no news
    assert told == []
    assert order_of(shop, "o-1").problems == ()


def test_stock_below_zero_is_told_although_nothing_is_held(shop: Catalogue) -> None:
    told: list[Beyond] = []
    shop.when_beyond = told.extend
    with shop.write() as w:
        w.put("stock_move", {"kind": "shaft", "item_id": "reed", "quantity": -3, "reason": "counted"}, mode="add")
    assert [b.message for b in told] == ["shaft 'reed': -2 on hand: more left the shelf than came; count them"]
    with pytest.raises(ConflictError, match="3 shaft 'sedge' would leave"), shop.write() as w:
        w.put("stock_move", {"kind": "shaft", "item_id": "sedge", "quantity": -3, "reason": "used"}, mode="add")


def test_a_change_that_is_given_up_tells_nothing(shop: Catalogue) -> None:
    told: list[Beyond] = []
    shop.when_beyond = told.extend
    add_order(shop, "o-1", [DRIVER])
    reserve_parts(shop, "o-1")
    gone = {"kind": "shaft", "item_id": "reed", "quantity": -1, "reason": "damaged"}
    with shop.write(dry_run=True) as w:
        w.put("stock_move", gone, mode="add")
    with suppress(UsageError), shop.write() as w:
        w.put("stock_move", gone, mode="add")
        raise UsageError("given up")
    assert told == []
    assert on_hand(shop, "shaft", "reed") == 1


def test_a_package_brings_orders_and_promises_along(shop: Catalogue, tmp_path: Path) -> None:
    add_order(shop, "o-1", [DRIVER, IRONS])
    reserve_parts(shop, "o-1")
    export_package(shop, tmp_path / "old")
    use_parts(shop, "o-1", Which(club_id="driver"))
    export_package(shop, tmp_path / "new")
    copy = Catalogue.create(tmp_path / "copy.duckdb")
    import_package(copy, tmp_path / "old")
    import_package(copy, tmp_path / "new")  # stock and promise go down together
    assert kept(copy) == kept(shop)
    assert on_hand(copy, "shaft", "reed") == 0
    assert check_catalogue(copy.path) == []


def test_undo_never_promises_a_part_twice(shop: Catalogue) -> None:
    for number in ("o-1", "o-2"):
        add_order(shop, number, [DRIVER])
    reserve_parts(shop, "o-1")
    release_parts(shop, "o-1")
    with shop.read() as r:
        released = r.last_change()
    reserve_parts(shop, "o-2")
    with pytest.raises(ConflictError, match="2 shaft 'reed' would be held for o-1, o-2, but there are 1 on hand"):
        _undo(shop, released)
    assert kept(shop)["shaft", "reed"] == 1
    release_parts(shop, "o-2")
    _undo(shop, released)
    assert kept(shop)["shaft", "reed"] == 1


def test_undo_of_a_delivery_that_is_held_is_refused(shop: Catalogue) -> None:
    move_stock(shop, "receive", "shaft", "bulrush", 1)
    with shop.read() as r:
        received = r.last_change()
    set_fields(shop, "club", "driver", ["shaft_id=bulrush"])
    add_order(shop, "o-1", [DRIVER])
    reserve_parts(shop, "o-1")
    with pytest.raises(ConflictError, match="that would leave 0 shaft 'bulrush' on hand, but 1 are held for o-1"):
        _undo(shop, received)


def test_undo_of_building_in_puts_part_and_promise_back(shop: Catalogue) -> None:
    add_order(shop, "o-1", [DRIVER])
    reserve_parts(shop, "o-1")
    use_parts(shop, "o-1")
    with shop.read() as r:
        used = r.last_change()
    assert on_hand(shop, "shaft", "reed") == 0
    _undo(shop, used)
    assert on_hand(shop, "shaft", "reed") == 1
    assert kept(shop)["shaft", "reed"] == 1
    assert kept(shop, "used") == {}


def _undo(shop: Catalogue, change: int) -> None:
    with shop.write(done="undo") as w:
        w.undo(change)


def test_cancelling_gives_the_parts_free_and_undo_takes_them_back(shop: Catalogue) -> None:
    add_order(shop, "o-1", [DRIVER])
    reserve_parts(shop, "o-1")
    with pytest.raises(ConflictError, match="'specdb order state o-1 cancelled' releases them too"):
        set_fields(shop, "order", "o-1", ["state=cancelled"])
    done = set_order_state(shop, "o-1", "cancelled")
    assert sum(r.quantity for r in done.released) == 4
    assert kept(shop) == {}
    with shop.read() as r:
        cancelled = r.last_change()
    _undo(shop, cancelled)
    assert kept(shop)["shaft", "reed"] == 1
    assert order_of(shop, "o-1").order.state == "open"


def test_states_that_make_no_sense_are_refused_with_a_sentence(shop: Catalogue) -> None:
    add_order(shop, "o-1", [DRIVER])
    with pytest.raises(
        ConflictError, match="order o-1 is open, so it cannot become finished; from there it can become at"
    ):
        set_order_state(shop, "o-1", "finished")
    with pytest.raises(ConflictError, match="order o-1 is open, so it cannot become collected"):
        set_fields(shop, "order", "o-1", ["state=collected"])
    with pytest.raises(UsageError, match="'ready' is no state of an order; there are: open, at_bench"):
        set_order_state(shop, "o-1", "ready")
    for state in ("at_bench", "finished", "collected", "at_bench", "cancelled", "open"):
        set_order_state(shop, "o-1", state)
    with pytest.raises(NotFoundError):
        set_order_state(shop, "o-9", "cancelled")


def test_an_approved_stand_in_goes_in_where_the_fitted_shaft_is_not_to_be_had(shop: Catalogue) -> None:
    decide(shop, "driver", "sedge", "chosen", tip_trim_in=0.5)
    for number in ("o-1", "o-2"):
        add_order(shop, number, [DRIVER], wanted_on=dt.date(2031, 5, 1))
    reserve_parts(shop, "o-1")
    assert kept(shop)["shaft", "reed"] == 1
    view = order_of(shop, "o-2")
    assert view.units[0].stand_in == "sedge"
    assert len(view.said) == 1
    assert (
        "the fitted reed is not to be had (none free on the shelf; it is not expected on a known day)" in view.said[0]
    )
    assert view.said[0].endswith("so the approved stand-in sedge goes in")
    assert reserve_parts(shop, "o-2").said == view.said
    assert kept(shop)["shaft", "sedge"] == 1
    # once kept it stays, also when the fitted one is there again
    move_stock(shop, "receive", "shaft", "reed", 3)
    assert order_of(shop, "o-2").units[0].stand_in == "sedge"
    # turned down since: what is kept is named, and the fitted one is needed
    decide(shop, "driver", "sedge", "rejected")
    again = order_of(shop, "o-2")
    assert again.units[0].stand_in is None
    assert any(
        "1 shaft sedge is kept for club driver (1/1), but that club no longer needs it" in p for p in again.problems
    )


def test_the_fitted_shaft_that_comes_in_time_is_waited_for(shop: Catalogue) -> None:
    decide(shop, "driver", "sedge", "chosen")
    move_stock(shop, "count", "shaft", "reed", 0)
    set_supply(shop, "shaft", "reed", {"ordered": 2, "expected_on": dt.date(2031, 4, 20)})
    add_order(shop, "late", [DRIVER], wanted_on=dt.date(2031, 5, 1))
    add_order(shop, "soon", [DRIVER], wanted_on=dt.date(2031, 4, 1))
    assert order_of(shop, "late").units[0].stand_in is None
    assert order_of(shop, "late").expected_on == dt.date(2031, 4, 20)
    assert order_of(shop, "soon").units[0].stand_in == "sedge"


def test_a_stand_in_with_another_tip_brings_what_its_preparation_takes(shop: Catalogue) -> None:
    """A 0.335 in tip in a 0.370 in bore takes a sleeve (common practice, no source)."""
    set_fields(shop, "head", "wren", ["bore_dia_in=0.372", "max_ream_dia_in="])
    set_fields(shop, "club", "driver", ["shaft_id=thick"])
    move_stock(shop, "receive", "sleeve", "shim", 3)
    decide(shop, "driver", "sedge", "chosen")
    add_order(shop, "o-1", [DRIVER])
    needs = {n.kind: n.item_id for n in order_of(shop, "o-1").units[0].needs}
    assert needs["shaft"] == "sedge"
    assert needs.get("sleeve") == "shim"


def test_a_stand_in_goes_in_with_the_tip_trim_that_was_chosen_or_not_at_all(shop: Catalogue) -> None:
    """Trimmed by 2.5 in, 0.5 in of parallel tip is left, and 0.5 in of growth by 0.0075 in an inch has no room."""
    set_fields(shop, "shaft", "sedge", ["tip_parallel_in=3.0", "tip_growth_in_per_in=0.0075", "max_tip_trim_in=2.5"])
    set_fields(shop, "head", "wren", ["bore_dia_in=0.337"])
    set_fields(shop, "club", "driver", ["shaft_id=thick"])
    decide(shop, "driver", "sedge", "chosen", tip_trim_in=2.5)
    add_order(shop, "o-1", [DRIVER])
    assert any("makes it go in: tip in the bore" in text for text in order_of(shop, "o-1").problems)
    decide(shop, "driver", "sedge", "chosen", tip_trim_in=1.5)
    assert order_of(shop, "o-1").problems == ()


def test_orders_have_their_turn_by_the_day_they_are_wanted(shop: Catalogue) -> None:
    set_supply(shop, "shaft", "reed", {"ordered": 1, "expected_on": dt.date(2031, 6, 2)})
    for number, day in (("c", 20), ("a", 10), ("b", 15)):
        add_order(shop, number, [DRIVER], wanted_on=dt.date(2031, 5, day))
    found = orders_of(shop)
    assert [v.order.id for v in found] == ["a", "b", "c"]
    shafts = [next(s for s in v.states if s.need.kind == "shaft") for v in found]
    assert [(s.available, s.in_turn, s.ahead, s.expected_on) for s in shafts] == [
        (1, 1, 0, None),
        (1, 0, 1, dt.date(2031, 6, 2)),
        (1, 0, 2, None),  # the one on its way is spoken for
    ]
    heads = [next(s for s in v.states if s.need.kind == "head") for v in found]
    assert [(s.in_turn, s.ahead) for s in heads] == [(1, 0), (1, 1), (0, 2)]
    assert [v.buildable_now for v in found] == [True, False, False]
    assert [v.expected_on for v in found] == [None, dt.date(2031, 6, 2), None]


def test_spoilt_at_the_bench_is_needed_anew(shop: Catalogue) -> None:
    add_order(shop, "o-1", [DRIVER])
    reserve_parts(shop, "o-1")
    use_parts(shop, "o-1", Which(parts=("shaft",)))
    spoil_parts(shop, "o-1", Which(parts=("shaft", "grip")), why="split")
    assert on_hand(shop, "shaft", "reed") == 0  # had left the shelf already
    assert on_hand(shop, "grip", "moss") == 9
    open_ = {s.need.kind: s.open for s in order_of(shop, "o-1").states}
    assert open_ == {"shaft": 1, "head": 0, "ferrule": 0, "grip": 1}
    move_stock(shop, "receive", "shaft", "reed", 1)
    assert {n.kind for _, n in reserve_parts(shop, "o-1").done} == {"shaft", "grip"}
    use_parts(shop, "o-1")
    assert kept(shop, "used")["shaft", "reed"] == 1
    with pytest.raises(UsageError, match="say which part"):
        spoil_parts(shop, "o-1", Which())


def test_a_spoilt_part_is_named_where_more_than_one_may_be_meant(shop: Catalogue) -> None:
    add_order(shop, "o-1", [IRONS])
    reserve_parts(shop, "o-1")
    use_parts(shop, "o-1", Which(club_id="iron-5"))
    before = kept(shop), kept(shop, "used"), on_hand(shop, "shaft", "rush")
    with pytest.raises(SeveralPartsError) as refused:
        spoil_parts(shop, "o-1", Which(parts=("shaft",)), why="split")
    assert "shaft rush for iron-5 (1.1), built in; shaft rush for iron-7 (1.1), kept;" in str(refused.value)
    assert (kept(shop), kept(shop, "used"), on_hand(shop, "shaft", "rush")) == before
    # one of them, and two kinds of one club
    assert spoil_parts(shop, "o-1", Which(("shaft", "grip"), club_id="iron-7"), why="split").pieces == 2
    assert spoil_parts(shop, "o-1", Which(("shaft",)), every=True, why="wrong batch").pieces == 2


def test_what_cannot_be_ordered_is_refused_whole(shop: Catalogue) -> None:
    with pytest.raises(NotFoundError, match="there is no club 'divver' in the catalogue; did you mean driver"):
        add_order(shop, "o-1", [IRONS, Wanted(club_id="divver")])
    with pytest.raises(NotFoundError, match="there is no set 'iron'"):
        add_order(shop, "o-1", [Wanted(set_id="iron")])
    retire(shop, "club", "iron-7")
    with pytest.raises(UsageError, match="set irons has a club missing: iron-7 is retired"):
        add_order(shop, "o-1", [DRIVER, IRONS])
    move_stock(shop, "count", "shaft", "reed", 0)
    retire(shop, "shaft", "reed")
    with pytest.raises(UsageError, match="shaft reed of club driver was retired since, and none is free on the shelf"):
        add_order(shop, "o-1", [DRIVER])
    set_fields(shop, "club", "driver", ["shaft_id=stub"])
    with pytest.raises(UsageError, match="shaft stub cannot be cut to the length of club driver: it is 30 in long"):
        add_order(shop, "o-1", [DRIVER])
    with pytest.raises(UsageError, match="an order needs a line"):
        add_order(shop, "o-1", [])
    with shop.read() as r:
        assert (r.count("order"), r.count("order_line")) == (0, 0)


def test_the_last_pieces_of_a_retired_shaft_can_be_ordered_and_kept(shop: Catalogue) -> None:
    retire(shop, "shaft", "reed")
    add_order(shop, "o-1", [DRIVER])
    add_order(shop, "o-2", [DRIVER])
    assert reserve_parts(shop, "o-1").short == ()
    assert reserve_parts(shop, "o-2").said == (
        "shaft reed of club driver is retired and none is free on the shelf; choose a stand-in for driver",
    )


def test_lines_and_sets_keep_what_parts_are_held_for(shop: Catalogue) -> None:
    add_order(shop, "o-1", [Wanted(club_id="driver", quantity=1), IRONS])
    set_fields(shop, "order_line", "o-1/1", ["quantity=2"])
    move_stock(shop, "receive", "shaft", "reed", 1)
    reserve_parts(shop, "o-1")
    with pytest.raises(ConflictError, match=r"parts are held for club driver \(2\) of order o-1, line 1"):
        set_fields(shop, "order_line", "o-1/1", ["quantity=1"])
    with pytest.raises(ConflictError, match="which would lose club iron-7"):
        set_fields(shop, "club", "iron-7", ["set_id="])
    with pytest.raises(ConflictError, match="referred to"), shop.write() as w:
        w.remove("order_line", "o-1/2")
    with pytest.raises(FieldError, match="no club belongs to it"), shop.write() as w:
        w.put("order_line", {"order_id": "o-1", "line": 3, "set_id": "woods", "quantity": 1})
    with pytest.raises(FieldError, match="neither a club nor a set"), shop.write() as w:
        w.put("order_line", {"order_id": "o-1", "line": 3, "quantity": 1})
    with pytest.raises(FieldError, match="club driver and set irons at once"), shop.write() as w:
        w.put("order_line", {"order_id": "o-1", "line": 3, "club_id": "driver", "set_id": "irons", "quantity": 1})


def test_a_reservation_by_hand_keeps_the_rules(shop: Catalogue) -> None:
    add_order(shop, "o-1", [DRIVER])
    row = {
        "order_id": "o-1", "line": 1, "unit": 1, "club_id": "driver", "kind": "shaft", "item_id": "reed",
        "quantity": 1, "state": "held",
    }  # fmt: skip
    for changed, why in (
        ({"quantity": 2}, "2 shaft 'reed' would be held, but there are 1 on hand; no part is promised twice"),
        ({"unit": 2}, r"line 1 of order o-1 does not ask for club driver \(2\)"),
        ({"club_id": "iron-5"}, "does not ask for club iron-5"),
    ):
        with pytest.raises(ConflictError, match=why), shop.write() as w:
            w.put("reservation", {**row, **changed}, mode="add")
    with pytest.raises(FieldError, match="there is no such order line"), shop.write() as w:
        w.put("reservation", {**row, "line": 7}, mode="add")
    with shop.write() as w:
        w.put("reservation", row, mode="add")
    key = next(iter(_keys(shop)))
    with pytest.raises(ConflictError, match="together with its move off the shelf"):
        set_fields(shop, "reservation", key, ["state=used"])


def _keys(shop: Catalogue) -> list[str]:
    with shop.read() as r:
        return [row.id for row in r.rows("reservation")]


def test_names_that_mean_nothing_are_refused(shop: Catalogue) -> None:
    add_order(shop, "o-1", [DRIVER])
    with pytest.raises(UsageError, match="order o-1 has no part 'sedge'; it has: ferrule/plain, grip/moss, head/wren"):
        reserve_parts(shop, "o-1", Which(parts=("sedge",)))
    with pytest.raises(UsageError, match="order o-1 has no such club; it has: driver"):
        reserve_parts(shop, "o-1", Which(club_id="iron-5"))
    with pytest.raises(NotFoundError, match="did you mean o-1"):
        reserve_parts(shop, "o-11")
    set_order_state(shop, "o-1", "cancelled")
    with pytest.raises(ConflictError, match="order o-1 is cancelled"):
        reserve_parts(shop, "o-1")


def test_kinds_without_stock_are_not_called_short(tmp_path_factory: pytest.TempPathFactory) -> None:
    from tests.orders.shop import fill

    shop = fill(tmp_path_factory.mktemp("bare") / "shop.duckdb", stock={("shaft", "reed"): 1})
    add_order(shop, "o-1", [DRIVER])
    done = reserve_parts(shop, "o-1")
    assert [n.kind for _, n in done.done] == ["shaft"]
    assert done.short == ()
    assert done.said == ("no stock is booked of any ferrule or grip or head, so none is kept",)
    assert order_of(shop, "o-1").buildable_now


def _stub_chosen(shop: Catalogue) -> None:
    """The stub is 30 in long and the driver 45 in: chosen all the same, for an order that finds no fitted shaft."""
    choose(shop, "driver", "stub", sure=True)
    move_stock(shop, "count", "shaft", "reed", 0)
    move_stock(shop, "receive", "shaft", "stub", 3)
    add_order(shop, "o-1", [DRIVER])


@pytest.mark.parametrize(
    ("shaft", "trim", "why"),
    [
        ("stub", None, "the shaft is short by"),
        ("thick", None, "no preparation on the shelf makes it go in"),
        ("sedge", 2.0, r"1\.500 in more than the maker allows \(0\.5 in\)"),
    ],
)
def test_what_cannot_be_built_is_chosen_for_sure_only(
    shop: Catalogue, shaft: str, trim: float | None, why: str
) -> None:
    set_fields(shop, "shaft", "sedge", ["max_tip_trim_in=0.5"])
    with pytest.raises(UsageError, match=why):
        choose(shop, "driver", shaft, tip_trim_in=trim)
    with shop.read() as reader:
        assert reader.rows("choice") == []
    choose(shop, "driver", shaft, tip_trim_in=trim, sure=True)
    move_stock(shop, "count", "shaft", "reed", 0)
    add_order(shop, "o-1", [DRIVER])
    assert any(re.search(why, text) for text in order_of(shop, "o-1").problems)


def test_a_choice_that_cannot_be_built_is_told_everywhere_and_taken_nowhere(shop: Catalogue) -> None:
    _stub_chosen(shop)
    view = order_of(shop, "o-1")
    assert view.units[0].stand_in is None  # so the parts that are short are those of the fitted shaft
    assert ["cannot be built" in text for text in view.problems] == [True]
    assert order_json(view)["buildable_now"] is False
    done = reserve_parts(shop, "o-1")
    assert [s.need.item_id for s in done.short] == ["reed"]
    assert any("cannot be built" in text for text in done.said)
    planned = plan_orders(shop).plan.orders[0]
    assert all("stub" not in u.option.shaft_id for u in planned.units)
    assert any("stub cannot be built" in text for text in planned.reasons)


def test_a_choice_that_cannot_be_built_and_is_kept_stands_against_the_order(shop: Catalogue) -> None:
    """Nobody could keep it since, but it may have been kept before its length was put right."""
    set_fields(shop, "shaft", "stub", ["raw_length_in=46"])
    _stub_chosen(shop)
    reserve_parts(shop, "o-1")
    assert order_of(shop, "o-1").problems == ()
    set_fields(shop, "shaft", "stub", ["raw_length_in=30"])
    view = order_of(shop, "o-1")
    assert view.units[0].stand_in == "stub"
    assert "short by" in view.problems[0]
    assert "short by" in plan_orders(shop).plan.orders[0].reasons[0]


def test_a_second_choice_takes_the_place_of_one_that_cannot_be_built(shop: Catalogue) -> None:
    choose(shop, "driver", "sedge")
    _stub_chosen(shop)
    view = order_of(shop, "o-1")
    assert (view.units[0].stand_in, view.problems) == ("sedge", ())
    assert "passed over: driver: the chosen stand-in stub cannot be built" in view.said[0]


def test_a_retired_shaft_that_is_on_order_and_a_club_without_a_grip_are_told(shop: Catalogue) -> None:
    move_stock(shop, "count", "shaft", "reed", 0)
    set_supply(shop, "shaft", "reed", {"ordered": 1, "expected_on": dt.date(2031, 4, 20)})
    set_fields(shop, "club", "driver", ["grip_id="])
    add_order(shop, "o-1", [DRIVER])
    assert order_of(shop, "o-1").said == ("driver names no grip, so none is counted among its parts",)
    retire(shop, "shaft", "reed")
    view = order_of(shop, "o-1")
    assert view.problems == ()
    assert any("shaft reed is retired and none is free" in text for text in view.said)
