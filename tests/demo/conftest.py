"""The demonstration catalogue, read as records and loaded as a catalogue."""

from __future__ import annotations

from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.package import import_package
from specdb.paths import demo_catalog_folder


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    catalogue = Catalogue.create(Path(tmp_path_factory.mktemp("demo")) / "demo.duckdb")
    import_package(catalogue, demo_catalog_folder())
    return catalogue
