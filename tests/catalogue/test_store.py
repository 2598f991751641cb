"""Single rows in and out."""

import datetime as dt
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.errors import (
    ConflictError,
    FieldError,
    NotFoundError,
    UnknownFieldError,
    UnknownKindError,
    UsageError,
)
from specdb.records.rows import AdapterSetting, Shaft
from specdb.schema import load_schema
from tests.catalogue.samples import CLUB, HEAD, READING, SHAFT


def test_what_is_put_in_comes_out(shop: Catalogue) -> None:
    with shop.read() as r:
        assert r.get("shaft", "trine") == Shaft(**SHAFT)
        assert r.find("shaft", "none") is None
        assert r.count("shaft") == 1


def test_every_kind_can_be_listed(empty: Catalogue) -> None:
    with empty.read() as r:
        for kind in load_schema().kinds:
            assert r.rows(kind) == []
            assert r.arrow(kind).num_rows == 0


def test_all_types_survive(shop: Catalogue) -> None:
    taken = {**READING, "taken_on": dt.date(2026, 3, 31), "notes": "dried at 20 °C;\n'quoted' \"twice\""}
    with shop.write() as w:
        w.put("shaft_reading", taken)
        w.put("supply", {"kind": "shaft", "item_id": "trine", "backordered": True, "ordered": 3})
    with shop.read() as r:
        (reading,) = r.readings_of("trine")
        assert (reading.taken_on, reading.notes) == (taken["taken_on"], taken["notes"])
        (supply,) = r.rows("supply")
        assert (supply.backordered, supply.ordered) == (True, 3)


def test_modes(shop: Catalogue) -> None:
    with shop.write() as w:
        assert w.put("shaft", SHAFT) == "unchanged"
        assert w.put("shaft", {"id": "trine", "weight_g": 63}, mode="update") == "changed"
        assert w.put("shaft", {"id": "other", "club_type": "iron"}, mode="add") == "added"
        with pytest.raises(ConflictError, match="already"):
            w.put("shaft", {"id": "other", "club_type": "iron"}, mode="add")
        with pytest.raises(NotFoundError, match="did you mean trine"):
            w.put("shaft", {"id": "trime", "weight_g": 63}, mode="update")


def test_fields_left_out_stay_and_none_clears(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put("shaft", {"id": "trine", "flex": None, "weight_g": 70})
        found = w.get("shaft", "trine")
    assert (found.flex, found.weight_g, found.maker) == (None, 70.0, "Northfold")


def test_text_is_trimmed_and_empty_text_is_unknown(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put("shaft", {"id": "trine", "flex": "  ", "maker": " Northfold "})
        found = w.get("shaft", "trine")
    assert (found.flex, found.maker) == (None, "Northfold")


def test_a_required_field_cannot_be_cleared(shop: Catalogue) -> None:
    with shop.write() as w, pytest.raises(FieldError, match="club_type"):
        w.put("shaft", {"id": "trine", "club_type": None})


def test_a_key_is_worked_out(empty: Catalogue) -> None:
    with empty.write() as w:
        w.put("shaft", {k: v for k, v in SHAFT.items() if k != "id"})
        assert [s.id for s in w.rows("shaft")] == ["northfold-trine-s-62.5"]
        with pytest.raises(FieldError, match="needs its id"):
            w.put("shaft", {"club_type": "wood"})


def test_composite_keys(empty: Catalogue) -> None:
    with empty.write() as w:
        w.put("adapter", {"id": "ring", "connection": "r4"})
        for setting in ("up", "n/a"):
            w.put("adapter_setting", {"adapter_id": "ring", "setting": setting, "loft_change_deg": 1})
        assert w.get("adapter_setting", "ring/n/a") == AdapterSetting(
            adapter_id="ring", setting="n/a", loft_change_deg=1.0
        )
        assert [s.setting for s in w.settings_of("ring")] == ["n/a", "up"]
        with pytest.raises(UsageError, match="ADAPTER_ID/SETTING"):
            w.get("adapter_setting", "ring")


def test_unknown_names(shop: Catalogue) -> None:
    with shop.read() as r:
        with pytest.raises(UnknownKindError):
            r.get("spoon", "a")
        with pytest.raises(UnknownFieldError):
            r.rows("shaft", order_by=["wieght_g"])
        with pytest.raises(UnknownFieldError):
            r.arrow("shaft", ["id", 'id" FROM shaft; DROP TABLE shaft; --'])
    with shop.write() as w, pytest.raises(UnknownFieldError):
        w.put("shaft", {"id": "trine", "wieght_g": 3})


def test_the_journal_cannot_be_written_by_hand(shop: Catalogue) -> None:
    with shop.write() as w, pytest.raises(UsageError, match="catalogue itself"):
        w.put(
            "change", {"change_no": 9, "row_no": 1, "at": "2026-01-01", "kind": "a", "item_key": "b", "action": "added"}
        )


def test_references_must_exist(shop: Catalogue) -> None:
    with shop.write() as w:
        with pytest.raises(FieldError, match="no such shaft"):
            w.put("club", {**CLUB, "shaft_id": "gone"})
        with pytest.raises(FieldError, match="no such head"):
            w.put("stock_move", {"kind": "head", "item_id": "trine", "quantity": 1, "reason": "received"})
        w.put("adapter", {"id": "ring", "connection": "r4"})
        w.put("adapter_setting", {"adapter_id": "ring", "setting": "up"})
        with pytest.raises(FieldError, match="ring/down"):
            w.put("club", {**CLUB, "adapter_id": "ring", "adapter_setting": "down"})
        assert w.put("club", {**CLUB, "adapter_id": "ring", "adapter_setting": "up"}) == "added"


def test_a_reading_beyond_the_shaft_is_refused(shop: Catalogue) -> None:
    with shop.write() as w, pytest.raises(FieldError, match="46 in long"):
        w.put("shaft_reading", {**READING, "position_in": 46.5})


def test_retired_items_stay_for_those_who_refer(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put("club", CLUB)
        assert w.retire("shaft", "trine") == "changed"
        assert w.retire("shaft", "trine") == "unchanged"
        assert w.get("shaft", "trine").status == "retired"
        assert w.rows("shaft", include_retired=False) == []
        assert w.arrow("shaft", ["id"], include_retired=False).num_rows == 0
        with pytest.raises(UsageError, match="no status"):
            w.retire("stock_move", "a")


def test_only_what_nothing_refers_to_is_removed(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put("club", CLUB)
        with pytest.raises(ConflictError, match="club 'ada-driver'; retire it"):
            w.remove("shaft", "trine")
        w.remove("club", "ada-driver")
        w.remove("shaft", "trine")
        assert w.count("shaft") == 0
        w.put("shaft", SHAFT, mode="add")  # the key is free again, within the same change too
    with shop.write() as w:
        w.put("stock_move", {"kind": "shaft", "item_id": "trine", "quantity": 1, "reason": "received", "id": "m"})
        with pytest.raises(ConflictError, match="correcting"):
            w.remove("stock_move", "m")
        with pytest.raises(ConflictError, match="stock_move 'm'"):
            w.remove("shaft", "trine")
        with pytest.raises(NotFoundError):
            w.remove("shaft", "none")


def test_an_error_keeps_nothing_of_the_change(shop: Catalogue) -> None:
    def failing() -> None:
        with shop.write() as w:
            w.put("shaft", {"id": "trine", "weight_g": 99})
            raise RuntimeError

    with pytest.raises(RuntimeError):
        failing()
    with shop.read() as r:
        assert r.get("shaft", "trine").weight_g == 62.5
        assert r.last_change() == 1


def test_a_refused_row_leaves_the_rest_of_the_change(shop: Catalogue) -> None:
    with shop.write() as w:
        with pytest.raises(FieldError):
            w.put("shaft", {"id": "trine", "weight_g": 9999})
        w.put("shaft", {"id": "trine", "weight_g": 80})
    with shop.read() as r:
        assert r.get("shaft", "trine").weight_g == 80


def test_a_dry_run_keeps_nothing(shop: Catalogue) -> None:
    with shop.write(dry_run=True) as w:
        assert w.put("shaft", {"id": "trine", "weight_g": 80}) == "changed"
        assert w.change_no == 2
    with shop.read() as r:
        assert (r.get("shaft", "trine").weight_g, r.last_change()) == (62.5, 1)


def test_a_change_that_differs_in_nothing_is_no_change(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put("shaft", SHAFT)
        assert w.change_no is None
    with shop.read() as r:
        assert r.last_change() == 1


def test_rows_and_arrow_select_order_and_limit(shop: Catalogue) -> None:
    with shop.write() as w:
        for number, weight in enumerate((50.0, None, 90.0)):
            w.put("shaft", {"id": f"s{number}", "club_type": "iron", "weight_g": weight})
        assert [s.id for s in w.rows("shaft", order_by=["-weight_g"])] == ["s2", "trine", "s0", "s1"]
        assert [s.id for s in w.rows("shaft", order_by=["weight_g"], limit=2)] == ["s0", "trine"]
        found = w.arrow("shaft", ["weight_g", "id"], where="weight_g is not empty", order_by=["id"])
        assert found.to_pydict() == {"weight_g": [50.0, 90.0, 62.5], "id": ["s0", "s2", "trine"]}


def test_the_catalogue_is_one_at_a_time_within_a_thread(shop: Catalogue) -> None:
    with shop.read() as outer, shop.read() as inner:
        assert outer.count("shaft") == inner.count("shaft")
        with pytest.raises(UsageError, match="finish reading"), shop.write():
            pass
    with shop.write(), pytest.raises(UsageError, match="through the change"), shop.read():
        pass
    with shop.write() as w:  # and nothing of that is left behind
        assert w.put("head", {**HEAD, "loft_deg": 9.5}) == "changed"


def test_creating_refuses_a_file_that_is_there(shop: Catalogue) -> None:
    with pytest.raises(ConflictError, match="already"):
        Catalogue.create(shop.path)
    with shop.read() as r:
        assert r.count("shaft") == 1


def test_creating_makes_the_folder_and_leaves_no_half_made_file(tmp_path: Path) -> None:
    made = Catalogue.create(tmp_path / "new" / "folder" / "shop.duckdb")
    assert made.exists
    assert sorted(p.suffix for p in made.path.parent.iterdir()) == [".duckdb", ".gate", ".turn"]


def test_who_and_why_have_a_length(shop: Catalogue) -> None:
    with pytest.raises(FieldError, match="'why' has 5000"), shop.write(why="x" * 5000):
        pass


def test_what_was_done_is_shortened_where_the_keys_in_it_are_long(shop: Catalogue) -> None:
    done = f"chosen {'a' * 70} for {'b' * 70}"
    with shop.write(done=done) as w:
        w.put("shaft", {"id": "trine", "weight_g": 71})
    with shop.read() as r:
        kept = r.changes(limit=1)[0].done or ""
    assert (len(kept), kept[:-1], kept[-1]) == (60, done[:59], "…")
