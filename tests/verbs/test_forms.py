"""What a form needs from the table descriptions: fields in sections, one value as typed, the whole row."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.errors import UsageError
from specdb.schema import load_schema
from specdb.units import parse_quantity, quantity_as_typed
from specdb.verbs.catalogue.forms import (
    as_typed,
    check_row,
    copy_of,
    derived_key,
    form_of,
    read_all,
    read_value,
    texts_of,
    titled,
)

SHAFT = form_of("shaft")
READING = form_of("shaft_reading")


@pytest.mark.parametrize("kind", load_schema().kinds)
def test_every_kind_has_a_form_with_all_its_fields_in_titled_sections(kind: str) -> None:
    form = form_of(kind)
    names = [f.name for f in form.fields]
    typed_key = form.table.key_style != "digest"
    assert sorted(names) == sorted(n for n in form.table.field_names if typed_key or n not in form.table.primary_key)
    assert all(s.title and s.fields for s in form.sections)
    for section in form.sections:
        labels = [f.label for f in section.fields]
        assert len(set(labels)) == len(labels), f"two fields of {section.title} look alike"
        assert all(f.help for f in section.fields)


def test_a_label_says_what_it_is_and_the_unit_stands_apart() -> None:
    # the unit in the name of a field is for files; people see it beside the value
    assert SHAFT.field("raw_length_in").label == "Raw length"
    assert titled(SHAFT, "raw_length_in") == "Raw length, in"
    assert titled(SHAFT, "tip_ei_n_m2") == "Tip EI, N·m²"


def test_the_journal_has_no_form() -> None:
    with pytest.raises(UsageError, match="written by the catalogue"):
        form_of("change")


@pytest.mark.parametrize(
    ("text", "value", "meaning"),
    [
        # 1 in is 25.4 mm, 1 oz is 28.349523125 g, both exactly (NIST SP 811, appendix B)
        ("45 1/2", 45.5, "45.5 in"),
        ("1156 mm", 1156 / 25.4, "45.5118 in"),
        ("3' 9 1/2\"", 45.5, "45.5 in"),
        ("45.5", 45.5, ""),
        ("", None, ""),
        ("  ", None, ""),
    ],
)
def test_lengths_as_people_type_them(text: str, value: float | None, meaning: str) -> None:
    read = read_value(SHAFT, "raw_length_in", text)
    assert (read.error, read.meaning) == ("", meaning)
    assert read.value == (None if value is None else pytest.approx(value, rel=1e-12))


def test_a_weight_in_ounces() -> None:
    read = read_value(SHAFT, "weight_g", "2.3 oz")
    assert read.value == pytest.approx(2.3 * 28.349523125, rel=1e-12)
    assert read.meaning == "65.2 g"


@pytest.mark.parametrize(
    ("field", "text", "told"),
    [
        ("raw_length_in", "500", r"'500' is out of range; it takes 10 to 60 in\."),
        ("raw_length_in", "65 g", "is in g, which is no unit of this kind; a quantity in inches is wanted here"),
        ("weight_g", "60 gr", "can be meant in two ways: write 'g' for grams or 'grains'"),
        ("club_type", "driver", "'driver' is not a word it takes; it takes one of wood, hybrid, iron, wedge, putter"),
        ("id", "Tallow Veer", "'Tallow Veer' has not the form it takes; it takes a short key of lower-case letters"),
        ("price", "cheap", "'cheap' is no number"),
    ],
)
def test_what_cannot_be_taken_is_told_in_one_sentence_that_does_not_name_the_field(
    field: str, text: str, told: str
) -> None:
    read = read_value(SHAFT, field, text)
    assert read.value is None
    import re

    assert re.search(told, read.error), read.error
    assert field not in read.error
    assert read.error.endswith(".")


def test_words_are_taken_in_any_case_and_codes_in_capitals() -> None:
    assert read_value(SHAFT, "club_type", "Wood").value == "wood"
    assert read_value(SHAFT, "currency", "eur").value == "EUR"


def test_the_value_of_a_reading_is_in_the_unit_of_what_was_read() -> None:
    assert read_value(READING, "value", "4.2 Hz", {"quantity": "frequency"}).value == pytest.approx(252.0)
    assert read_value(READING, "value", "2 oz", {"quantity": "weight"}).value == pytest.approx(56.69904625)
    assert "no unit of this kind" in read_value(READING, "value", "2 oz", {"quantity": "frequency"}).error


def test_needed_fields_and_fields_that_do_not_go_together_are_told_beside_the_field() -> None:
    errors = check_row(SHAFT, {"maker": "Tallow", "raw_length_in": 11.0, "max_tip_trim_in": 12.0, "price": 90.0})
    assert errors["club_type"] == "This is needed: one of wood, hybrid, iron, wedge, putter."
    assert errors["max_tip_trim_in"] == "Most tip trim is 12.0; it must be less than Raw length."
    assert errors["currency"].startswith("Currency is empty; it must be given with price")
    assert "id" not in errors, "the key is worked out from the maker"


def test_a_row_that_says_nothing_needs_a_key() -> None:
    errors = check_row(SHAFT, {"club_type": "wood", "weight_g": None})
    assert "id" in errors
    assert "Maker, Model, Flex" in errors["id"]


def test_a_sound_row_is_sound() -> None:
    values = {"maker": "Tallow", "model": "Veer", "club_type": "wood", "raw_length_in": 46.0, "weight_g": 62.0}
    assert check_row(SHAFT, values) == {}
    assert derived_key(SHAFT, values) == "tallow-veer-62"


def test_a_reading_needs_its_conditions() -> None:
    values = {"shaft_id": "a", "sample": "one", "quantity": "frequency", "value": 250.0}
    assert set(check_row(READING, values)) == {"free_length_in"}
    assert check_row(READING, {**values, "free_length_in": 41.0}) == {}
    assert "value" in check_row(READING, {**values, "free_length_in": 41.0, "value": 9000.0})


def test_references_follow_the_kind_that_is_named() -> None:
    move = form_of("stock_move")
    assert move.kind_referred_to("item_id", {"kind": "grip"}) == "grip"
    assert move.kind_referred_to("item_id", {"kind": ""}) is None
    assert form_of("club").kind_referred_to("head_id", {}) == "head"
    assert SHAFT.kind_referred_to("maker", {}) is None


def test_a_copy_takes_over_what_two_shafts_may_share() -> None:
    values = {"id": "a", "maker": "Tallow", "weight_g": 62.0, "supplier_code": "T-1", "status": "retired"}
    copy = copy_of(SHAFT, values)
    assert copy["maker"] == "Tallow"
    assert copy["weight_g"] == 62.0
    assert not {"id", "supplier_code", "status"} & set(copy)
    assert "value" not in copy_of(READING, {"value": 250.0, "sample": "one"})
    assert "frequency_cpm" not in copy_of(form_of("club"), {"frequency_cpm": 250.0, "player": "A"})


def test_all_fields_at_once() -> None:
    values, errors = read_all(SHAFT, {"raw_length_in": "46", "weight_g": "heavy", "maker": " Tallow ", "flex": ""})
    assert values == {"raw_length_in": 46.0, "maker": "Tallow", "flex": None}
    assert set(errors) == {"weight_g"}


@given(st.floats(min_value=10, max_value=60))
def test_a_stored_number_shown_and_read_again_is_the_same_to_a_millionth(value: float) -> None:
    text = as_typed(value)
    assert read_value(SHAFT, "raw_length_in", text).value == pytest.approx(value, abs=1e-6)


def test_other_stored_values_are_read_again_as_they_were() -> None:
    supply = form_of("supply")
    for name, value in (("backordered", True), ("backordered", False), ("expected_on", dt.date(2027, 2, 19))):
        assert read_value(supply, name, as_typed(value)).value == value


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("weight_g", "2.3 oz"),
        ("weight_g", "62.5"),
        ("weight_g", "2.24 oz"),
        ("raw_length_in", "1156 mm"),
        ("raw_length_in", "45.5"),
        ("tip_dia_in", "8.5 mm"),
        ("tip_dia_in", "0.335"),
        ("tip_ei_n_m2", "14000 lbf·in²"),
        ("torque_deg", "3.25"),
    ],
)
def test_what_was_typed_in_another_unit_is_shown_as_it_was_typed(field: str, typed: str) -> None:
    """1 oz is 28.349523125 g, 1 lb 453.59237 g, 1 in 25.4 mm, all exactly (NIST SP 811, appendix B)."""
    stored = read_value(SHAFT, field, typed).value
    shown = texts_of(SHAFT, {field: stored})[field]
    assert shown == typed
    assert read_value(SHAFT, field, shown).value == stored


def test_a_reading_is_shown_in_the_unit_of_what_was_read() -> None:
    values = {
        "quantity": "frequency",
        "value": read_value(READING, "value", "4.15 Hz", {"quantity": "frequency"}).value,
    }
    assert texts_of(READING, values)["value"] == "249"
    values = {"quantity": "weight", "value": 2.3 * 28.349523125}
    assert texts_of(READING, values)["value"] == "2.3 oz"


@given(st.floats(min_value=0.5, max_value=500), st.sampled_from(["g", "in", "cpm", "n_m2", "", "no unit"]))
def test_any_stored_number_is_shown_in_few_letters_and_read_again_to_a_millionth(value: float, unit: str) -> None:
    text = quantity_as_typed(value, unit)
    assert len(text) <= 20
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-6)
