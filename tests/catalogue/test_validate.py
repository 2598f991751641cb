"""Validation of one row and of whole tables, against the descriptions and against the tables of DuckDB."""

import math
from typing import Any

import duckdb
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.catalogue.tables import arrow_schema, create_table_sql, quoted
from specdb.catalogue.validate import check_values, validate_table
from specdb.errors import UnknownFieldError, UsageError
from specdb.schema import Field, load_schema
from tests.catalogue.samples import HEAD, READING, SHAFT


def fields_at_fault(kind: str, values: dict[str, Any]) -> Any:
    return sorted({e.field for e in check_values(kind, values)[1]})


@pytest.mark.parametrize(
    ("kind", "values", "fields"),
    [
        ("shaft", SHAFT, []),
        ("shaft", {}, ["club_type", "id"]),
        ("shaft", {**SHAFT, "weight_g": 19.9}, ["weight_g"]),
        ("shaft", {**SHAFT, "weight_g": 20}, []),
        ("shaft", {**SHAFT, "weight_g": math.nan}, ["weight_g"]),
        ("shaft", {**SHAFT, "weight_g": 1e308}, ["weight_g"]),
        ("shaft", {**SHAFT, "weight_g": True}, ["weight_g"]),
        ("shaft", {**SHAFT, "weight_g": "heavy"}, ["weight_g"]),
        ("shaft", {**SHAFT, "weight_g": "62.5"}, []),
        ("shaft", {**SHAFT, "maker": 7}, ["maker"]),
        ("shaft", {**SHAFT, "maker": "x" * 121}, ["maker"]),
        ("shaft", {**SHAFT, "maker": "nul\x00"}, ["maker"]),
        ("shaft", {**SHAFT, "maker": "half \ud800"}, ["maker"]),
        ("shaft", {**SHAFT, "id": "Trine"}, ["id"]),
        ("shaft", {**SHAFT, "id": "trine\n"}, []),  # trimmed, as a spreadsheet's stray line break
        ("shaft", {**SHAFT, "id": "a\nb"}, ["id"]),
        ("shaft", {**SHAFT, "material": "wood", "club_type": "driver"}, ["club_type", "material"]),
        ("shaft", {**SHAFT, "max_tip_trim_in": 11, "raw_length_in": 10.5}, ["max_tip_trim_in"]),
        ("shaft", {**SHAFT, "tip_ei_at_in": 30, "butt_ei_at_in": 10}, ["tip_ei_at_in"]),
        ("shaft", {**SHAFT, "butt_ei_at_in": 46.5}, ["butt_ei_at_in"]),
        ("shaft", {**SHAFT, "balance_from_tip_in": 47}, ["balance_from_tip_in"]),
        ("shaft", {**SHAFT, "price": 30}, ["currency"]),
        ("shaft", {**SHAFT, "price": 30, "currency": "EUR"}, []),
        ("head", {**HEAD, "bore_dia_in": 0.37, "hosel_outer_dia_in": 0.36}, ["bore_dia_in"]),
        ("weighting", {"id": "a", "frequency_unit": 0}, ["frequency_unit"]),
        ("shaft_reading", {**READING, "id": "a"}, []),
        ("shaft_reading", {**READING, "id": "a", "value": 2.9}, ["value"]),
        ("shaft_reading", {**READING, "id": "a", "position_in": None}, ["position_in"]),
        ("shaft_reading", {**READING, "id": "a", "quantity": "frequency", "value": 250}, ["free_length_in"]),
        ("shaft_reading", {**READING, "id": "a", "taken_on": "2026-02-30"}, ["taken_on"]),
        ("shaft_reading", {**READING, "id": "a", "taken_on": "2026-02-28"}, []),
        ("supply", {"id": "a", "kind": "shaft", "item_id": "b", "ordered": 2.5}, ["ordered"]),
        ("supply", {"id": "a", "kind": "shaft", "item_id": "b", "backordered": "maybe"}, ["backordered"]),
        ("stock_move", {"id": "a", "kind": "shaft", "item_id": "b", "quantity": 2, "reason": "used"}, ["quantity"]),
        (
            "stock_move",
            {"id": "a", "kind": "shaft", "item_id": "b", "quantity": -2, "reason": "received"},
            ["quantity"],
        ),
        ("stock_move", {"id": "a", "kind": "shaft", "item_id": "b", "quantity": 0, "reason": "counted"}, []),
        ("stock_move", {"id": "a", "kind": "club", "item_id": "b", "quantity": 1, "reason": "received"}, ["kind"]),
    ],
)
def test_one_row(kind: str, values: dict[str, Any], fields: list[str]) -> None:
    assert fields_at_fault(kind, values) == fields


def test_an_error_names_field_value_and_what_is_allowed() -> None:
    _, (error,) = check_values("shaft", {**SHAFT, "weight_g": 900})
    assert (error.kind, error.field, error.value, error.allowed) == ("shaft", "weight_g", 900.0, "20 to 250 g")
    assert str(error) == "shaft: weight_g is 900.0; it must be 20 to 250 g"


def test_part_of_a_row_needs_only_what_it_has() -> None:
    assert check_values("shaft", {"id": "a", "price": 3}, partial=True)[1] == []
    assert [e.field for e in check_values("shaft", {"id": "a", "price": -3}, partial=True)[1]] == ["price"]


def test_a_table_gets_a_verdict_a_row_and_every_reason() -> None:
    rows = pa.table(
        {
            "id": ["a", "B", "c", None],
            "club_type": ["wood", "wood", "spoon", "iron"],
            "weight_g": [60.0, 5.0, None, 900.0],
        }
    )
    good, problems = validate_table("shaft", rows)
    assert good.to_pylist() == [True, False, False, False]
    assert [(p.row, p.field, p.value) for p in problems] == [
        (1, "id", "B"),
        (1, "weight_g", 5.0),
        (2, "club_type", "spoon"),
        (3, "id", None),
        (3, "weight_g", 900.0),
    ]
    assert problems[1].allowed == "20 to 250 g"


def test_an_empty_table_is_good() -> None:
    assert validate_table("shaft", arrow_schema(load_schema().table("shaft")).empty_table())[1] == []


def test_columns_must_be_fields_of_the_right_type() -> None:
    with pytest.raises(UnknownFieldError):
        validate_table("shaft", pa.table({"wieght": [1.0]}))
    with pytest.raises(UsageError, match="types"):
        validate_table("shaft", pa.table({"weight_g": ["heavy"]}))


def values_of(field: Field) -> Any:
    """Values around the edges of what a field allows."""
    if field.enum:
        return st.sampled_from([*field.enum, "other", None])
    if field.is_number:
        edges = [field.minimum, field.maximum, field.exclusive_minimum, 0, 1]
        numbers = sorted({float(e) for e in edges if e is not None})
        near = [n + d for n in numbers for d in (-1.0, 0.0, 1.0)]
        if field.type == "integer":
            return st.sampled_from([int(n) for n in near] + [None])
        return st.sampled_from([*near, math.inf, math.nan, None])
    if field.type == "string":
        return st.sampled_from(["a", "a-1", "B c", "EUR", "D2.5", "é", "", "x" * 81, None])
    if field.type == "boolean":
        return st.sampled_from([True, False, None])
    return st.none()


KINDS = load_schema().kinds


@settings(max_examples=120, deadline=None)
@given(st.data(), st.sampled_from(KINDS))
def test_the_tables_take_exactly_what_the_single_fields_allow(data: st.DataObject, kind: str) -> None:
    """What validation passes, DuckDB takes; what DuckDB's constraints refuse, validation has refused."""
    table = load_schema().table(kind)
    row = {f.name: data.draw(values_of(f), f.name) for f in table.fields}
    if any(v == "" for v in row.values()):
        row = {n: None if v == "" else v for n, v in row.items()}
    good, _ = validate_table(kind, pa.Table.from_pylist([row], arrow_schema(table)))
    with duckdb.connect() as con:
        con.execute(create_table_sql(table))
        try:
            con.execute(f"INSERT INTO {quoted(kind)} VALUES ({', '.join('?' * len(row))})", list(row.values()))
            taken = True
        except duckdb.ConstraintException:
            taken = False
    assert taken or not good[0].as_py()


@settings(max_examples=40, deadline=None)
@given(st.data(), st.sampled_from(KINDS))
def test_a_table_is_judged_as_its_rows_one_by_one(data: st.DataObject, kind: str) -> None:
    table = load_schema().table(kind)
    count = data.draw(st.integers(1, 4))
    rows = [{f.name: data.draw(values_of(f)) for f in table.fields} for _ in range(count)]
    rows = [{n: None if v == "" else v for n, v in r.items()} for r in rows]
    good, problems = validate_table(kind, pa.Table.from_pylist(rows, arrow_schema(table)))
    for number, row in enumerate(rows):
        finite = {n: v for n, v in row.items() if not (isinstance(v, float) and not math.isfinite(v))}
        if finite != row:
            assert not good[number].as_py()
            continue
        fields = sorted({p.field for p in problems if p.row == number})
        assert fields == fields_at_fault(kind, row)
        assert good[number].as_py() == (not fields)
