"""The Python package offers the same verbs."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pytest

import specdb
from specdb.errors import NotFoundError
from tests.cli.conftest import Command


def test_every_name_is_there() -> None:
    for name in specdb.__all__:
        assert name == "__version__" or callable(getattr(specdb, name)), name
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        specdb.nothing  # noqa: B018


def test_the_verbs_answer_as_the_command_does(filled: Path, specdb_command: Command) -> None:
    shop = specdb.open(filled)
    club = specdb.ClubRequest(club="fit-driver")
    here = ("--club", "fit-driver", "--json", "--catalogue", str(filled))
    assert specdb.mechanics_of(shop, club).to_json() == specdb_command("mechanics", *here).json
    assert specdb.fitup_of(shop, club).to_json() == specdb_command("fitup", *here).json
    found = specdb.substitutes_of(shop, club).to_json()
    asked = specdb_command("substitutes", *here).json
    assert found["results"] == asked["results"]


def test_lists_are_arrow_tables(filled: Path) -> None:
    rows = specdb.list_rows(specdb.open(filled), "shaft", where="weight_g < 62").rows
    assert isinstance(rows, pa.Table)
    assert rows["id"].to_pylist() == ["rush-50-s", "sedge-60-r"]


def test_errors_keep_their_fields(filled: Path) -> None:
    with pytest.raises(NotFoundError) as caught:
        specdb.details_of(specdb.open(filled), "shaft", "reed-60s")
    assert caught.value.near[0] == "reed-60-s"


def test_a_catalogue_is_made_and_filled(tmp_path: Path) -> None:
    shop = specdb.create(tmp_path / "own.duckdb")
    done = specdb.add_row(shop, "grip", "first", ["weight_g=1.75 oz"], by="notebook")
    assert done.action == "added"
    assert done.after["weight_g"] == pytest.approx(49.61, abs=0.01)
    assert specdb.history(shop)[0].by == "notebook"
