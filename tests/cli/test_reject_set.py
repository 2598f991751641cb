"""``specdb reject --set``: a model turned down for a whole set."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import Command
from tests.support.copies import demo_copy

SET = "tansley-irons"


@pytest.fixture
def here(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    kept = tmp_path_factory.getbasetemp() / "reject-set.duckdb"
    if not kept.exists():
        demo_copy(kept)
    path = tmp_path / "demo.duckdb"
    shutil.copy(kept, path)
    return "--catalogue", str(path)


def test_a_model_is_turned_down_for_the_whole_set_and_brought_back(specdb: Command, here: tuple[str, str]) -> None:
    def proposed() -> list[str]:
        answer = specdb("substitutes", "--set", SET, "--json", *here).json
        return [r["clubs"][0]["shaft_id"] for r in answer["results"]]

    before = proposed()
    ran = specdb("reject", "--set", SET, "--shaft", before[0], "--why", "too heavy", *here)
    assert ran.status == 0, ran.err
    assert "turned down for 3 clubs of set tansley-irons" in ran.out
    assert before[0] not in proposed()
    again = specdb("reject", "--set", SET, "--shaft", before[0], "--why", "too heavy", *here)
    assert again.status == 2
    assert "turned down" in again.err
    assert specdb("undo", *here).status == 0
    assert proposed() == before


def test_club_or_set_must_be_named(specdb: Command, here: tuple[str, str]) -> None:
    for words in ((), ("--set", SET, "--club", "tansley-pw")):
        ran = specdb("reject", *words, "--shaft", "ambrel-lyde-60-s", *here)
        assert ran.status == 2
        assert "name one of --club or --set" in ran.err
