"""The tables of DuckDB hold what the table descriptions say, also against writers that go round the package."""

from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.tables import create_schema_sql, quoted
from specdb.schema import load_schema


@pytest.fixture
def bare() -> Iterator[duckdb.DuckDBPyConnection]:
    con = duckdb.connect()
    for statement in create_schema_sql(load_schema()):
        con.execute(statement)
    yield con
    con.close()


def test_every_table_has_the_fields_of_the_schema_in_order(bare: duckdb.DuckDBPyConnection) -> None:
    for table in load_schema().tables.values():
        columns = [r[0] for r in bare.execute(f"DESCRIBE {quoted(table.name)}").fetchall()]
        assert tuple(columns) == table.field_names


@pytest.mark.parametrize(
    ("statement", "what"),
    [
        ("INSERT INTO shaft (id, club_type) VALUES ('Upper', 'wood')", "pattern of a key"),
        ("INSERT INTO shaft (id, club_type) VALUES ('a', 'spoon')", "word of a list"),
        ("INSERT INTO shaft (id) VALUES ('a')", "required field"),
        ("INSERT INTO shaft (id, club_type, weight_g) VALUES ('a', 'wood', 900)", "maximum"),
        ("INSERT INTO shaft (id, club_type, weight_g) VALUES ('a', 'wood', 'nan'::DOUBLE)", "not a number"),
        ("INSERT INTO shaft (id, club_type, weight_g) VALUES ('a', 'wood', '-inf'::DOUBLE)", "infinite"),
        ("INSERT INTO shaft (id, club_type, maker) VALUES ('a', 'wood', '')", "empty text, which is unknown"),
        ("INSERT INTO shaft (id, club_type, currency) VALUES ('a', 'wood', 'euro')", "pattern"),
        ("INSERT INTO weighting (id, frequency_unit) VALUES ('a', 0)", "exclusive minimum"),
        ("INSERT INTO adapter_setting (adapter_id, setting) VALUES ('a', NULL)", "part of a key"),
    ],
)
def test_the_tables_refuse(bare: duckdb.DuckDBPyConnection, statement: str, what: str) -> None:
    with pytest.raises(duckdb.ConstraintException):
        bare.execute(statement)


def test_keys_are_unique(bare: duckdb.DuckDBPyConnection) -> None:
    bare.execute("INSERT INTO adapter_setting (adapter_id, setting) VALUES ('a', 'n'), ('a', 'u'), ('b', 'n')")
    with pytest.raises(duckdb.ConstraintException):
        bare.execute("INSERT INTO adapter_setting (adapter_id, setting) VALUES ('a', 'n')")


def test_a_new_catalogue_states_its_version_and_an_id_of_its_own(tmp_path: Path) -> None:
    stated = []
    for name in ("a.duckdb", "b.duckdb"):
        Catalogue.create(tmp_path / name)
        with duckdb.connect(str(tmp_path / name), read_only=True) as con:
            stated.append(dict(con.execute("SELECT name, value FROM catalogue_meta").fetchall()))
    assert stated[0]["schema_version"] == stated[1]["schema_version"] == str(load_schema().version)
    assert stated[0]["catalogue_id"] != stated[1]["catalogue_id"]
