"""Many rows at once: compared, counted, written only where they differ, all or nothing."""

from typing import Any

import pyarrow as pa
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.bulk import RowChange, RowsRejectedError
from specdb.errors import UnknownFieldError, UsageError
from tests.catalogue.samples import READING, move


def shafts(count: int, **columns: Any) -> Any:
    base = {
        "id": [f"s{n}" for n in range(count)],
        "club_type": ["iron"] * count,
        "weight_g": [60.0 + n for n in range(count)],
    }
    return pa.table({**base, **columns})


def test_the_same_rows_twice_change_nothing(shop: Catalogue) -> None:
    for expected in ((5, 0, 0), (0, 0, 5)):
        with shop.write(done="import") as w:
            counts = w.put_many("shaft", shafts(5))
            assert (counts.added, counts.changed, counts.unchanged) == expected
    with shop.read() as r:
        assert (r.count("shaft"), r.last_change()) == (6, 2)


def test_only_what_differs_is_written_and_journalled(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put_many("shaft", shafts(4))
    rows = shafts(6, weight_g=[60.0, 99.0, 62.0, None, 64.0, 65.0])
    with shop.write() as w:
        counts = w.put_many("shaft", rows, list_changes=10)
    assert (counts.added, counts.changed, counts.unchanged) == (2, 2, 2)
    assert counts.changes == [RowChange("s1", "weight_g", 61.0, 99.0), RowChange("s3", "weight_g", 63.0, None)]
    with shop.read() as r:
        journal = {(h.key, h.action): h.differences() for h in r.history(change_no=3)}
    assert set(journal) == {("s1", "changed"), ("s3", "changed"), ("s4", "added"), ("s5", "added")}
    assert journal["s1", "changed"] == {"weight_g": (61.0, 99.0)}
    assert journal["s3", "changed"] == {"weight_g": (63.0, None)}


def test_fields_that_are_no_columns_stay_as_they_are(shop: Catalogue) -> None:
    with shop.write() as w:
        counts = w.put_many("shaft", pa.table({"id": ["trine"], "price": [30.0], "currency": ["EUR"]}))
        assert counts.changed == 1
        found = w.get("shaft", "trine")
    assert (found.price, found.currency, found.maker, found.weight_g) == (30.0, "EUR", "Northfold", 62.5)


def test_a_price_list_may_not_bring_new_items_without_what_they_need(shop: Catalogue) -> None:
    prices = pa.table({"id": ["trine", "new"], "price": [30.0, 31.0], "currency": ["EUR", "EUR"]})
    with shop.write() as w, pytest.raises(RowsRejectedError) as caught:
        w.put_many("shaft", prices)
    assert [(p.row, p.field) for p in caught.value.problems] == [(1, "club_type")]


def test_sense_is_judged_on_the_row_as_it_will_be(shop: Catalogue) -> None:
    """The shaft is 46 in long; the incoming row speaks only of the balance point."""
    with shop.write() as w, pytest.raises(RowsRejectedError, match="balance_from_tip_in is 47"):
        w.put_many("shaft", pa.table({"id": ["trine"], "balance_from_tip_in": [47.0]}))
    with shop.write() as w, pytest.raises(RowsRejectedError, match="currency"):
        w.put_many("shaft", pa.table({"id": ["trine"], "price": [47.0]}))


def test_one_bad_row_keeps_all_out(shop: Catalogue) -> None:
    rows = shafts(5, weight_g=[60.0, 5.0, 62.0, 900.0, 64.0])
    with shop.write() as w:
        with pytest.raises(RowsRejectedError, match=r"row 2: weight_g is 5\.0.*1 more row") as caught:
            w.put_many("shaft", rows)
        assert w.change_no is None
        w.put("shaft", {"id": "trine", "weight_g": 70})
    assert [p.row for p in caught.value.problems] == [1, 3]
    with shop.read() as r:
        assert (r.count("shaft"), r.get("shaft", "trine").weight_g) == (1, 70.0)


def test_keys_must_be_there_once(shop: Catalogue) -> None:
    with shop.write() as w:
        found = w.compare_many("shaft", pa.table({"id": ["a", None, "b", "a"], "club_type": ["wood"] * 4}))
        assert [(p.row, p.value) for p in found.problems] == [(1, None), (3, "a")]
        assert "row 1 already" in found.problems[1].message
        with pytest.raises(UsageError, match="need id"):
            w.put_many("shaft", pa.table({"club_type": ["wood"]}))
        with pytest.raises(UnknownFieldError):
            w.put_many("shaft", pa.table({"id": ["a"], "wieght": [1.0]}))


def test_references_are_checked_for_all_rows(shop: Catalogue) -> None:
    rows = [
        {**READING, "id": "r0"},
        {**READING, "id": "r1", "shaft_id": "gone"},
        {**READING, "id": "r2", "position_in": 46.5},
    ]
    with shop.write() as w:
        found = w.compare_many("shaft_reading", pa.Table.from_pylist(rows))
    assert [(p.row, p.field) for p in found.problems] == [(1, "shaft_id"), (2, "position_in")]


def test_references_within_one_change(empty: Catalogue) -> None:
    with empty.write() as w:
        w.put_many("shaft", shafts(3))
        readings = pa.Table.from_pylist([{**READING, "id": f"r{n}", "shaft_id": f"s{n}"} for n in range(3)])
        assert w.put_many("shaft_reading", readings).added == 3
    with empty.read() as r:
        assert r.changes()[0].rows == {"shaft": 3, "shaft_reading": 3}


def test_a_ledger_takes_additions_only(shop: Catalogue) -> None:
    rows = [move(5, id="m0"), move(3, id="m1")]
    for expected in ((2, 0), (0, 2)):
        with shop.write() as w:
            counts = w.put_many("stock_move", pa.Table.from_pylist(rows))
            assert (counts.added, counts.unchanged) == expected
    with shop.write() as w, pytest.raises(RowsRejectedError, match="never altered") as caught:
        w.put_many("stock_move", pa.Table.from_pylist([rows[0], move(4, id="m1")]))
    assert [(p.row, p.value) for p in caught.value.problems] == [(1, "m1")]


def test_the_order_of_the_file_is_kept(shop: Catalogue) -> None:
    keys = [f"k{(n * 7919) % 1000}" for n in range(1000)]
    with shop.write() as w:
        w.put_many("shaft", pa.table({"id": keys[:500], "club_type": ["iron"] * 500}))
        w.put_many("shaft", pa.table({"id": keys, "club_type": ["iron"] * 1000}))
        assert w.arrow("shaft", ["id"])["id"].to_pylist() == ["trine", *keys]


def test_progress_is_told(shop: Catalogue) -> None:
    told = []
    with shop.write() as w:
        w.put_many("shaft", shafts(3), progress=lambda stage, done, all_: told.append((stage, done, all_)))
    assert told[0] == ("comparing", 0, 3)
    assert told[-1] == ("done", 3, 3)


def test_no_rows_at_all(shop: Catalogue) -> None:
    with shop.write() as w:
        assert w.put_many("shaft", shafts(0)).unchanged == 0
        assert w.change_no is None
