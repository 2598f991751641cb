"""A row opened in a form and kept again: provenance, and the other who changed it meanwhile."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.errors import FieldError, NotFoundError, UsageError
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.catalogue.form_rows import differences, keep_row, missing_references, open_row, rebased
from specdb.verbs.catalogue.forms import form_of
from specdb.verbs.catalogue.journal import history, undo

VEER = {"id": "veer", "club_type": "wood", "maker": "Tallow", "model": "Veer", "raw_length_in": 46.0, "weight_g": 62.0}


@pytest.fixture
def shop(tmp_path: Path) -> Catalogue:
    catalogue = Catalogue.create(tmp_path / "shop.duckdb")
    with catalogue.write(by="Petra", done="import") as writer:
        writer.put("shaft", VEER)
    return catalogue


def form_values(shop: Catalogue, **typed: Any) -> dict[str, Any]:
    return {**open_row(shop, "shaft", "veer").values, **typed}


def test_every_value_knows_the_change_it_comes_from(shop: Catalogue) -> None:
    set_fields(shop, "shaft", "veer", ["weight_g=63"], by="Wilmot", why="weighed three")
    row = open_row(shop, "shaft", "veer")
    weight, length = row.origins["weight_g"], row.origins["raw_length_in"]
    assert (weight.change_no, weight.by, weight.why) == (2, "Wilmot", "weighed three")
    assert (length.change_no, length.by, length.done) == (1, "Petra", "import")
    assert "torque_deg" not in row.origins, "an unknown value comes from nowhere"


def test_what_the_bench_measured_stands_beside_what_is_published(shop: Catalogue) -> None:
    with shop.write() as writer:
        for sample, grams in (("a", 61.6), ("b", 62.0)):
            writer.put(
                "shaft_reading",
                {"shaft_id": "veer", "sample": sample, "quantity": "weight", "value": grams},
                mode="add",
            )
    row = open_row(shop, "shaft", "veer")
    assert row.values["weight_g"] == 62.0
    assert row.measured["weight_g"].mean == pytest.approx(61.8)
    assert (row.measured["weight_g"].pieces, row.readings) == (2, 2)


def test_only_what_was_changed_is_written(shop: Catalogue) -> None:
    opened = open_row(shop, "shaft", "veer")
    kept = keep_row(shop, "shaft", form_values(shop, torque_deg=3.8), opened=opened, by="Wilmot", why="leaflet")
    assert (kept.action, kept.change_no) == ("changed", 2)
    line = history(shop, "shaft", "veer", limit=1)[0]
    assert dict(line.differences) == {"torque_deg": (None, 3.8)}
    assert (line.by, line.why) == ("Wilmot", "leaflet")


def test_nothing_typed_is_no_change(shop: Catalogue) -> None:
    kept = keep_row(shop, "shaft", form_values(shop), opened=open_row(shop, "shaft", "veer"))
    assert (kept.action, kept.change_no) == ("unchanged", None)


def test_the_second_to_save_is_shown_the_difference_and_nothing_is_written_over(shop: Catalogue) -> None:
    opened = open_row(shop, "shaft", "veer")
    set_fields(shop, "shaft", "veer", ["weight_g=63", "flex=S"], by="Petra")
    typed = {**opened.values, "weight_g": 61.0, "torque_deg": 3.8}
    kept = keep_row(shop, "shaft", typed, opened=opened, by="Wilmot")
    assert (kept.action, kept.change_no) == ("differs", None)
    assert {(d.field, d.opened, d.now, d.typed, d.is_contested) for d in kept.differences} == {
        ("weight_g", 62.0, 63.0, 61.0, True),
        ("flex", None, "S", None, False),
    }
    assert [d.origin.by for d in kept.differences if d.origin is not None] == ["Petra", "Petra"]
    assert open_row(shop, "shaft", "veer").values["torque_deg"] is None, "nothing at all was written"
    # mine for the weight, theirs for the flex
    decided = {**typed, "flex": "S"}
    again = keep_row(shop, "shaft", decided, opened=rebased(opened, kept.now), by="Wilmot")
    assert again.action == "changed"
    now = open_row(shop, "shaft", "veer").values
    assert (now["weight_g"], now["flex"], now["torque_deg"]) == (61.0, "S", 3.8)


def test_a_third_change_between_looking_and_deciding_is_shown_too(shop: Catalogue) -> None:
    opened = open_row(shop, "shaft", "veer")
    set_fields(shop, "shaft", "veer", ["weight_g=63"])
    first = keep_row(shop, "shaft", {**opened.values, "weight_g": 61.0}, opened=opened)
    set_fields(shop, "shaft", "veer", ["weight_g=64"])
    second = keep_row(shop, "shaft", {**opened.values, "weight_g": 61.0}, opened=rebased(opened, first.now))
    assert [(d.opened, d.now, d.typed) for d in second.differences] == [(63.0, 64.0, 61.0)]


def test_the_same_change_by_both_is_no_difference(shop: Catalogue) -> None:
    opened = open_row(shop, "shaft", "veer")
    set_fields(shop, "shaft", "veer", ["weight_g=63"])
    assert keep_row(shop, "shaft", {**opened.values, "weight_g": 63.0}, opened=opened).action == "unchanged"
    assert differences({"a": 1}, {"a": 2}, {"a": 2}) == ()


def test_a_row_that_is_gone_is_told_and_not_brought_back(shop: Catalogue) -> None:
    opened = open_row(shop, "shaft", "veer")
    undo(shop, 1)
    assert keep_row(shop, "shaft", {**opened.values, "weight_g": 61.0}, opened=opened).action == "gone"
    with pytest.raises(NotFoundError):
        open_row(shop, "shaft", "veer")


def test_adding_works_the_key_out_and_never_takes_another_rows_place(shop: Catalogue) -> None:
    values = {"maker": "Tallow", "model": "Veer", "weight_g": 72.0, "club_type": "wood", "id": None}
    kept = keep_row(shop, "shaft", values, opened=None)
    assert (kept.action, kept.key) == ("added", "tallow-veer-72")
    with pytest.raises(FieldError, match="there is a shaft 'tallow-veer-72' already") as error:
        keep_row(shop, "shaft", values, opened=None)
    assert error.value.field == "id"
    with pytest.raises(FieldError, match="'veer' already"):
        keep_row(shop, "shaft", {**values, "id": "veer"}, opened=None)
    assert open_row(shop, "shaft", "veer").values["weight_g"] == 62.0


def test_two_equal_readings_are_two(shop: Catalogue) -> None:
    reading = {"shaft_id": "veer", "sample": "a", "quantity": "torque", "value": 3.9}
    first = keep_row(shop, "shaft_reading", reading, opened=None)
    second = keep_row(shop, "shaft_reading", reading, opened=None)
    assert first.key != second.key


def test_a_ledger_is_not_changed(shop: Catalogue) -> None:
    move = {"kind": "shaft", "item_id": "veer", "quantity": 2, "reason": "received"}
    key = keep_row(shop, "stock_move", move, opened=None).key
    opened = open_row(shop, "stock_move", key)
    with pytest.raises(UsageError, match="book another one"):
        keep_row(shop, "stock_move", {**opened.values, "quantity": 3}, opened=opened)


def test_references_that_point_at_nothing_are_told_with_what_is_near(shop: Catalogue) -> None:
    errors = missing_references(shop, form_of("shaft_reading"), {"shaft_id": "veeer", "sample": "a"})
    assert errors["shaft_id"] == "There is no shaft 'veeer' in the catalogue; did you mean veer?"
    assert missing_references(shop, form_of("shaft_reading"), {"shaft_id": "veer"}) == {}
