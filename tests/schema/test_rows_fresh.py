"""The generated records follow the schema."""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path

import pytest
from frictionless import Schema as FrictionlessSchema

from specdb.paths import data_schema_folder
from specdb.records import rows
from specdb.records.generate import rows_source
from specdb.schema import load_schema
from specdb.schema.fieldguide import FILE, field_guide

KINDS = tuple(load_schema().tables)


def test_rows_file_is_up_to_date() -> None:
    assert Path(rows.__file__).read_text(encoding="utf-8") == rows_source(load_schema())


@pytest.mark.parametrize("kind", KINDS)
def test_record_has_exactly_the_fields_of_the_table(kind: str) -> None:
    record = rows.RECORDS[kind]
    assert {f.name for f in fields(record)} == set(load_schema().table(kind).field_names)


@pytest.mark.parametrize("kind", KINDS)
def test_frictionless_accepts_the_table_schema(kind: str) -> None:
    """Reference: the Table Schema standard as the frictionless library reads it."""
    raw = json.loads((data_schema_folder() / f"{kind}.json").read_text(encoding="utf-8"))
    assert FrictionlessSchema.metadata_validate(raw) is not None
    assert not list(FrictionlessSchema.metadata_validate(raw))
    assert len(FrictionlessSchema.from_descriptor(raw).fields) == len(load_schema().table(kind).fields)


def test_field_guide_is_up_to_date() -> None:
    assert (data_schema_folder() / FILE).read_text(encoding="utf-8") == field_guide(load_schema())
