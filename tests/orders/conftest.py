"""A shop for every test."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from tests.orders.shop import fill


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A catalogue that no test changes."""
    path = tmp_path_factory.mktemp("orders") / "shop.duckdb"
    fill(path)
    return path


@pytest.fixture
def shop(filled: Path, tmp_path: Path) -> Catalogue:
    """A copy to change."""
    path = tmp_path / "shop.duckdb"
    shutil.copy(filled, path)
    return Catalogue(path)
