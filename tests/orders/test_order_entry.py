"""An order with its lines kept as one change: merged with what another changed, nothing kept for nothing."""

from __future__ import annotations

import datetime as dt

import pytest

from specdb.catalogue import Catalogue
from specdb.errors import UsageError
from specdb.verbs.catalogue.changing import decide, move_stock, retire
from specdb.verbs.orders.changes import add_order, set_order_state
from specdb.verbs.orders.checks import Wanted
from specdb.verbs.orders.entry import EntryLine, OpenedOrder, OrderEntry, keep_order, open_order, read_lines
from specdb.verbs.orders.parts import release_parts, reserve_parts
from specdb.verbs.orders.waits import orders_seen

DAY = dt.date(2031, 5, 1)


@pytest.fixture
def order(shop: Catalogue) -> OpenedOrder:
    """An order for a driver and a set."""
    add_order(shop, "o-1", [Wanted(club_id="driver"), Wanted(set_id="irons")], customer="R. Vetch", wanted_on=DAY)
    return open_order(shop, "o-1")


def _entry(order: OpenedOrder, *lines: EntryLine, **head: object) -> OrderEntry:
    own = lines or tuple(EntryLine(n, w) for n, w in order.wanted.items())
    values = {n: order.head(n) for n in ("customer", "wanted_on", "notes")}
    return OrderEntry(lines=own, **{**values, **head})  # type: ignore[arg-type]


def test_a_new_order_gets_the_next_number(shop: Catalogue) -> None:
    kept = keep_order(shop, OrderEntry(customer="A. Wren", lines=(EntryLine(None, Wanted(club_id="driver")),)))
    assert (kept.action, kept.order_id) == ("added", "o-1001")
    with shop.read() as r:
        assert kept.change_no == r.last_change()
    with pytest.raises(UsageError, match="already"):
        keep_order(shop, OrderEntry(order_id="o-1001", lines=(EntryLine(None, Wanted(club_id="driver")),)))


def test_a_line_that_cannot_be_is_named_and_nothing_is_written(shop: Catalogue) -> None:
    retire(shop, "club", "iron-7")
    lines = (EntryLine(None, Wanted(club_id="driver")), EntryLine(None, Wanted(set_id="irons")))
    kept = keep_order(shop, OrderEntry(lines=lines))
    assert kept.action == "refused"
    assert kept.refused is not None
    assert "has a club missing: iron-7 is retired" in kept.refused[1]
    with shop.read() as r:
        assert r.count("order") == 0


def test_lines_change_come_and_go_in_one_change(shop: Catalogue, order: OpenedOrder) -> None:
    entry = _entry(
        order, EntryLine(1, Wanted(club_id="driver", quantity=2)), EntryLine(None, Wanted(club_id="iron-7")),
        notes="Call first.",
    )  # fmt: skip
    before = _last(shop)
    kept = keep_order(shop, entry, order)
    assert (kept.action, kept.change_no) == ("changed", before + 1)
    now = open_order(shop, "o-1")
    assert now.wanted == {1: Wanted("driver", None, 2), 3: Wanted("iron-7", None, 1)}
    assert now.order.notes == "Call first."
    assert keep_order(shop, _entry(now), now).action == "unchanged"
    assert _last(shop) == before + 1


def _later(days: int) -> dt.date:
    return DAY + dt.timedelta(days)


def _last(shop: Catalogue) -> int:
    with shop.read() as r:
        return r.last_change()


def test_what_both_changed_is_asked_about_and_what_only_one_changed_is_merged(
    shop: Catalogue, order: OpenedOrder
) -> None:
    theirs = _entry(order, EntryLine(1, Wanted(club_id="driver", quantity=3)), EntryLine(2, Wanted(set_id="irons")),
                    customer="Theirs", notes="Theirs.")  # fmt: skip
    keep_order(shop, theirs, order)
    mine = _entry(order, EntryLine(1, Wanted(club_id="driver", quantity=2)), EntryLine(2, Wanted(set_id="irons")),
                  customer="Mine")  # fmt: skip
    asked = keep_order(shop, mine, order)
    assert asked.action == "differs"
    assert {d.what: d.contested for d in asked.differences} == {"customer": True, "notes": False, "line 1": True}
    assert open_order(shop, "o-1").order.customer == "Theirs"
    assert keep_order(shop, mine, order, whose="theirs").action == "unchanged"
    assert keep_order(shop, mine, order, whose="mine").action == "changed"
    now = open_order(shop, "o-1")
    assert (now.order.customer, now.order.notes, now.wanted[1].quantity) == ("Mine", "Theirs.", 2)


def test_a_line_that_another_added_stays(shop: Catalogue, order: OpenedOrder) -> None:
    keep_order(shop, _entry(order, *_entry(order).lines, EntryLine(None, Wanted(club_id="iron-9"))), order)
    kept = keep_order(shop, _entry(order, customer="Mine"), order)
    assert kept.action == "changed"
    assert [d.what for d in kept.differences] == ["line 3"]
    assert open_order(shop, "o-1").wanted[3] == Wanted("iron-9", None, 1)


@pytest.mark.parametrize("lines", [
    (EntryLine(1, Wanted(club_id="iron-7")), EntryLine(2, Wanted(set_id="irons"))),
    (EntryLine(2, Wanted(set_id="irons")),),
])  # fmt: skip
def test_no_part_is_kept_for_what_no_line_asks_for(
    shop: Catalogue, order: OpenedOrder, lines: tuple[EntryLine, ...]
) -> None:
    reserve_parts(shop, "o-1")
    kept = keep_order(shop, _entry(order, *lines), order)
    assert kept.action == "refused"
    assert "kept for a club of line 1" in " ".join((kept.refused or {}).values())
    assert open_order(shop, "o-1") == order
    release_parts(shop, "o-1")
    assert keep_order(shop, _entry(order, *lines), order).action == "changed"


def test_an_order_that_is_done_keeps_its_lines(shop: Catalogue, order: OpenedOrder) -> None:
    set_order_state(shop, "o-1", "cancelled")
    kept = keep_order(shop, _entry(order, EntryLine(1, Wanted(club_id="driver"))), order)
    assert kept.refused == {-1: "The order is cancelled, so its lines are changed no more."}
    assert keep_order(shop, _entry(order, notes="Gave it up."), order).action == "changed"


def test_an_order_that_is_gone_is_told(shop: Catalogue, order: OpenedOrder) -> None:
    with shop.write() as w:
        for line in order.lines:
            w.remove("order_line", f"o-1/{line.line}")
        w.remove("order", "o-1")
    assert keep_order(shop, _entry(order, notes="x"), order).action == "gone"


def test_what_is_typed_is_understood_line_by_line(shop: Catalogue) -> None:
    found = read_lines(shop, [("driver", 1), ("irons", 1), ("drivr", 1), ("", 1)])
    assert [f.wanted for f in found] == [Wanted(club_id="driver"), Wanted(set_id="irons"), None, None]
    assert found[0].said == "driver; all parts free"
    assert found[1].said.startswith("set of 3")
    assert "driver" in found[2].error
    twice = read_lines(shop, [("iron-7", 1), ("iron-7", 1), ("irons", 2)])
    assert twice[1].said == "iron-7; all parts free"  # there are two heads of it
    assert "head coot-7 (none expected)" in twice[2].said
    assert (found[3].said, found[3].error) == ("", "")


def test_who_has_what_an_order_waits_for(shop: Catalogue) -> None:
    add_order(shop, "o-1", [Wanted(club_id="driver")], wanted_on=DAY)
    add_order(shop, "o-2", [Wanted(club_id="driver")], wanted_on=_later(1))
    add_order(shop, "o-3", [Wanted(club_id="driver")], wanted_on=_later(2))
    reserve_parts(shop, "o-3")
    assert "not free: shaft reed (none expected)" in read_lines(shop, [("driver", 1)])[0].said
    # the only shaft goes to the one that is wanted last
    with shop.write() as w:
        w.put("supply", {"kind": "shaft", "item_id": "reed", "ordered": 1, "expected_on": _later(5)})
    seen = orders_seen(shop)
    assert {v.order.id for v in seen.views} == {"o-1", "o-2", "o-3"}
    assert set(seen.waits) == {"o-1", "o-2"}
    first = next(w for w in seen.waits["o-1"] if w.kind == "shaft")
    second = next(w for w in seen.waits["o-2"] if w.kind == "shaft")
    assert (first.kept_for, first.sooner, first.comes_on) == ((("o-3", 1),), (), _later(5))
    assert (second.kept_for, second.sooner, second.comes_on) == ((("o-3", 1),), (("o-1", 1),), None)
    assert second.expected == ((_later(5), 1),)


def test_what_an_order_keeps_already_is_there_for_it_and_for_nobody_else(shop: Catalogue) -> None:
    add_order(shop, "o-1", [Wanted(club_id="driver")], wanted_on=DAY)
    reserve_parts(shop, "o-1")  # the only shaft
    assert read_lines(shop, [("driver", 1)], "o-1")[0].said == "driver; all parts kept or free"
    assert "not free: shaft reed" in read_lines(shop, [("driver", 2)], "o-1")[0].said
    assert "not free: shaft reed" in read_lines(shop, [("driver", 1)])[0].said


def test_an_approved_stand_in_on_the_shelf_is_what_a_new_line_takes(shop: Catalogue) -> None:
    move_stock(shop, "count", "shaft", "reed", 0)
    decide(shop, "driver", "sedge", "chosen")
    found = [read.said for read in read_lines(shop, [("driver", 2), ("driver", 1)])]
    assert found[0] == "driver; all parts free, with the approved stand-in sedge"
    assert "head wren" in found[1]  # of which, as of the stand-in, there are two
    assert "shaft sedge" in found[1]
