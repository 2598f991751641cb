"""The ledger of stock and what is on order."""

import datetime as dt
from typing import Any

import pytest

from specdb.catalogue import Catalogue, Writer
from specdb.catalogue.stock import SupplyState
from specdb.errors import ConflictError, UsageError
from tests.catalogue.samples import move


def test_stock_is_the_sum_of_the_moves(shop: Catalogue) -> None:
    with shop.write() as w:
        assert w.stock("shaft") == {}
        for quantity, reason in ((5, "received"), (-2, "used"), (-1, "damaged"), (1, "returned"), (-1, "counted")):
            assert w.put("stock_move", move(quantity, reason), mode="add") == "added"
        assert w.stock("shaft") == {"trine": 2}
        assert w.stock("shaft", "none") == {}
        assert w.stock("head") == {}
        with pytest.raises(UsageError, match="not of 'club'"):
            w.stock("club")


def test_two_equal_moves_on_a_day_are_two_moves(shop: Catalogue) -> None:
    with shop.write() as w:
        for _ in range(3):
            w.put("stock_move", move(1, on="2026-03-31"), mode="add")
        assert w.stock("shaft") == {"trine": 3}


def test_nobody_takes_more_than_there_is(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put("stock_move", move(2), mode="add")
        with pytest.raises(ConflictError, match="3 shaft 'trine' would leave the shelf, but there are 2"):
            w.put("stock_move", move(-3, "used"), mode="add")
        w.put("stock_move", move(-2, "used"), mode="add")
        with pytest.raises(ConflictError, match="there are 0"):
            w.put("stock_move", move(-1, "damaged"), mode="add")


def test_a_count_is_believed_even_below_zero(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put("stock_move", move(-1, "counted"), mode="add")
        assert w.stock("shaft") == {"trine": -1}
        w.put("stock_move", move(-1, "counted"), mode="add")
        w.put("stock_move", move(1), mode="add")  # still below zero, but on the way up
        assert w.stock("shaft") == {"trine": -1}


def test_a_ledger_in_any_order_is_judged_by_its_end(shop: Catalogue) -> None:
    import pyarrow as pa

    with shop.write() as w:
        rows = [move(-4, "used", id="a"), move(3, id="b"), move(2, id="c")]
        w.put_many("stock_move", pa.Table.from_pylist(rows))
        assert w.stock("shaft") == {"trine": 1}


def supply(w: Writer, **values: Any) -> None:
    w.put("supply", {"kind": "shaft", "item_id": "trine", **values})


def test_supply_sums_orders_and_takes_the_earliest_day(shop: Catalogue) -> None:
    with shop.write() as w:
        supply(w, supplier="Hollin", ordered=4, expected_on="2026-05-01", asked_on="2026-03-01")
        supply(w, supplier="Marsh", ordered=6, expected_on="2026-04-20", asked_on="2026-03-02")
        assert w.supply("shaft") == {"trine": SupplyState(10, dt.date(2026, 4, 20), None)}
        assert w.supply("shaft", "none") == {}


def test_backordered_only_if_no_supplier_has_any(shop: Catalogue) -> None:
    with shop.write() as w:
        supply(w, supplier="Hollin", backordered=False, asked_on="2026-03-01")
        assert w.supply("shaft")["trine"].backordered is False
        supply(w, supplier="Hollin", backordered=True, asked_on="2026-03-05")  # the later answer counts
        assert w.supply("shaft")["trine"].backordered is True
        supply(w, supplier="Marsh", backordered=False, asked_on="2026-02-01")
        assert w.supply("shaft")["trine"].backordered is False


def test_undoing_a_delivery_that_was_used_is_refused(shop: Catalogue) -> None:
    for quantity, reason in ((2, "received"), (-1, "used")):
        with shop.write() as w:
            w.put("stock_move", move(quantity, reason), mode="add")
    with pytest.raises(ConflictError, match="-1 of shaft 'trine' on hand"), shop.write() as w:
        w.undo(2)
    with shop.write() as w:
        w.undo(3)
    with shop.write() as w:
        w.undo(2)
        assert w.stock("shaft") == {}
