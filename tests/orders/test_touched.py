"""A change that touches open orders says so, and a club that joined their set can be taken out again."""

from __future__ import annotations

from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.errors import ConflictError
from specdb.verbs.catalogue.changing import add_row, remove_row, retire, set_fields
from specdb.verbs.catalogue.journal import undo
from specdb.verbs.orders.changes import Wanted, add_order, set_order_state
from specdb.verbs.orders.entry import EntryLine, OrderEntry, keep_order, open_order
from specdb.verbs.orders.orders import order_of
from specdb.verbs.orders.parts import reserve_parts
from specdb.verbs.orders.touched import joining_set, wanted_by
from specdb.verbs.sets.lists import assign_set

IRONS, DRIVER = Wanted(set_id="irons"), Wanted(club_id="driver")
FOURTH = ("set_id=irons", "head_id=coot-7", "shaft_id=rush", "playing_length_in=36.5", "grip_id=moss")


def _join(shop: Catalogue) -> tuple[str, ...]:
    return add_row(shop, "club", "iron-8", FOURTH).notes


def _rows(shop: Catalogue) -> list[Any]:
    with shop.read() as r:
        return [r.rows(kind) for kind in ("order", "order_line", "reservation", "club")]


def test_a_club_that_joins_a_set_names_the_open_orders_and_is_taken_back_as_if_nothing_was(shop: Catalogue) -> None:
    add_order(shop, "o-1", [IRONS])
    reserve_parts(shop, "o-1")
    add_order(shop, "o-2", [IRONS])
    add_order(shop, "o-3", [DRIVER])
    add_order(shop, "gone", [IRONS])
    set_order_state(shop, "gone", "cancelled")
    before = _rows(shop)
    assert joining_set(shop, "iron-8", "irons").startswith("orders o-1 and o-2 ask for set irons")
    assert joining_set(shop, "iron-7", "irons") == ""  # which belongs to it already
    assert "orders o-1 and o-2 ask for set irons, and with it for iron-8, too" in _join(shop)
    assert len(order_of(shop, "o-1").units) == 4
    assert "Orders o-1 and o-2 ask for set irons, and no longer with it for iron-8." in undo(shop)
    assert _rows(shop) == before


def test_a_club_that_was_there_before_is_taken_out_of_the_set_by_an_undo(shop: Catalogue) -> None:
    set_fields(shop, "club", "iron-9", ["set_id="])
    add_order(shop, "o-1", [IRONS])
    set_fields(shop, "club", "iron-9", ["set_id=irons"])
    with pytest.raises(ConflictError, match="no order loses a club silently"):
        set_fields(shop, "club", "iron-9", ["set_id="])
    undo(shop)
    assert len(order_of(shop, "o-1").units) == 2


def test_no_order_loses_a_club_by_an_undo_that_it_was_taken_with_or_that_parts_are_kept_for(shop: Catalogue) -> None:
    add_order(shop, "o-1", [IRONS])
    _join(shop)
    with shop.read() as r:
        joined = r.last_change()
    reserve_parts(shop, "o-1")
    with pytest.raises(ConflictError, match="iron-8"):
        undo(shop, joined)
    undo(shop)  # the keeping
    add_order(shop, "o-2", [IRONS])
    with pytest.raises(ConflictError, match="order o-2 asks for set irons, which would lose club iron-8"):
        undo(shop, joined)
    undo(shop)  # the second order
    opened = open_order(shop, "o-1")
    keep_order(shop, OrderEntry(lines=(EntryLine(1, Wanted(set_id="irons", quantity=2)),)), opened)
    with pytest.raises(ConflictError, match="order o-1 asks for set irons, which would lose club iron-8"):
        undo(shop, joined)


def test_a_set_put_together_anew_names_the_orders_that_grow(shop: Catalogue) -> None:
    add_order(shop, "o-1", [IRONS])
    done = assign_set(shop, "irons", ["iron-5", "iron-7", "iron-9", "driver"])
    assert done.touched == ("order o-1 asks for set irons, and with it for driver, too",)


def test_a_day_to_come_that_is_past_is_said(shop: Catalogue) -> None:
    add_order(shop, "o-1", [IRONS])
    assert "days ago" in set_fields(shop, "order", "o-1", ["wanted_on=2020-01-01"]).notes[0]
    assert set_fields(shop, "order", "o-1", ["wanted_on=tomorrow"]).notes == ()


def test_the_last_clubs_of_a_set_stay_as_long_as_an_order_asks_for_it(shop: Catalogue) -> None:
    add_order(shop, "o-1", [IRONS])
    for club in ("iron-5", "iron-7", "iron-9"):
        with pytest.raises(ConflictError, match="would lose club"):
            remove_row(shop, "club", club)


def test_retiring_names_the_open_orders_that_want_it(shop: Catalogue) -> None:
    add_order(shop, "o-1", [IRONS])
    add_order(shop, "o-2", [DRIVER])
    add_order(shop, "o-3", [DRIVER])
    set_order_state(shop, "o-3", "cancelled")
    assert wanted_by(shop, "adhesive", "epoxy") == "open orders o-1 and o-2 want it"
    assert retire(shop, "shaft", "rush") == "open order o-1 wants it"
    assert retire(shop, "club", "driver") == "open order o-2 wants it"
    assert retire(shop, "shaft", "stub") == ""


def test_a_club_that_cannot_be_worked_out_is_said_to_be_so(shop: Catalogue) -> None:
    words = ("head_id=wren", "shaft_id=stub", "playing_length_in=45")
    (said,) = add_row(shop, "club", "new", words).notes
    assert said.startswith("club new cannot be worked out yet: ")
