"""A small invented catalogue for the tests of this layer."""

from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from tests.catalogue.samples import HEAD, SHAFT


@pytest.fixture
def empty(tmp_path: Path) -> Catalogue:
    return Catalogue.create(tmp_path / "shop.duckdb", wait_seconds=5)


@pytest.fixture
def shop(empty: Catalogue) -> Catalogue:
    """One shaft ('trine') and one head ('bluff'), put in as change 1."""
    with empty.write(by="ada", why="first stock", done="set") as w:
        w.put("shaft", SHAFT, mode="add")
        w.put("head", HEAD, mode="add")
    return empty
