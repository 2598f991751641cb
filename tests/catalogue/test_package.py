"""Export and import of the whole catalogue. Outside reference: the frictionless library finds the package valid."""

from __future__ import annotations

import json
from pathlib import Path

import pyarrow as pa
import pytest
from frictionless import Package

from specdb.catalogue import Catalogue
from specdb.catalogue.package import DESCRIPTOR, export_package, import_package
from specdb.errors import ImportFileError, UsageError
from specdb.schema import load_schema
from tests.support.random_catalogue import random_shafts

KINDS = load_schema().kinds
ROWS: list[tuple[str, dict[str, object]]] = [
    ("head", {"id": "h1", "club_type": "wood", "hand": "left", "weight_g": 0.1 + 200.2, "notes": 'a "b"\nc, =1+1'}),
    ("adapter", {"id": "ad", "connection": "K3"}),
    ("adapter_setting", {"adapter_id": "ad", "setting": "1 / A", "loft_change_deg": 1.0}),
    (
        "stock_move",
        {"kind": "shaft", "item_id": "invented-000001", "quantity": 3, "reason": "received", "on": "2026-05-04"},
    ),
    ("supply", {"kind": "head", "item_id": "h1", "backordered": True, "expected_on": "2026-12-01"}),
    ("club", {"id": "c1", "head_id": "h1", "shaft_id": "invented-000001", "playing_length_in": 45.125}),
]


@pytest.fixture
def filled(tmp_path: Path) -> Catalogue:
    catalogue = Catalogue.create(tmp_path / "shop.duckdb")
    shafts, readings = random_shafts(30, seed=2)
    with catalogue.write(by="Robin", why='first day; with "quotes", commas,\nand a new line') as writer:
        writer.put_many("shaft", shafts)
        ids = [f"r{i}" for i in range(readings.num_rows)]
        writer.put_many("shaft_reading", readings.set_column(0, "id", pa.array(ids)))
        for kind, values in ROWS:
            writer.put(kind, values, mode="add")
    with catalogue.write() as writer:
        writer.put("head", {"id": "h1", "lie_deg": 58.5}, mode="update")
    return catalogue


def _content(catalogue: Catalogue) -> dict[str, list[object]]:
    with catalogue.read() as reader:
        return {k: reader.rows(k) for k in KINDS}


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_a_package_read_back_gives_an_equal_catalogue(filled: Catalogue, tmp_path: Path, form: str) -> None:
    folder = tmp_path / "out"
    export_package(filled, folder, format=form)  # type: ignore[arg-type]
    again = Catalogue.create(tmp_path / "again.duckdb")
    counts = import_package(again, folder)
    assert counts["shaft"].added == 30
    assert _content(again) == _content(filled)
    before = _content(again)
    second = import_package(again, folder)
    assert all(c.added == c.changed == 0 for c in second.values())
    assert _content(again) == before


def test_frictionless_finds_the_package_valid(filled: Catalogue, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    export_package(filled, folder)
    report = Package(str(folder / DESCRIPTOR)).validate()
    assert report.valid, report.flatten(["type", "note"])[:5]
    resources = Package(str(folder / DESCRIPTOR)).resources
    assert {r.name for r in resources} == set(load_schema().tables)


def test_an_earlier_export_is_replaced_and_a_foreign_folder_is_left_alone(filled: Catalogue, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    export_package(filled, folder)
    export_package(filled, folder, format="parquet")
    assert not list(folder.glob("*.csv"))
    foreign = tmp_path / "letters"
    foreign.mkdir()
    (foreign / "a.txt").write_text("dear")
    with pytest.raises(UsageError, match="no earlier export"):
        export_package(filled, foreign)
    assert [p.name for p in foreign.iterdir()] == ["a.txt"]
    with pytest.raises(UsageError, match="is a file"):
        export_package(filled, foreign / "a.txt")
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".out")] == []


def test_damaged_packages_are_refused_and_change_nothing(filled: Catalogue, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    export_package(filled, folder)
    target = Catalogue.create(tmp_path / "t.duckdb")
    empty = _content(target)
    descriptor = folder / DESCRIPTOR
    whole = json.loads(descriptor.read_text())
    for change in (
        {"schemaVersion": 99},
        {"resources": [{"name": "shaft", "path": "../shop.duckdb"}]},
        {"resources": [{"name": "bicycle", "path": "bicycle.csv"}]},
        {"resources": [{"name": "shaft", "path": "gone.csv"}]},
        {"resources": "none"},
    ):
        descriptor.write_text(json.dumps({**whole, **change}))
        with pytest.raises(ImportFileError):
            import_package(target, folder)
    descriptor.write_text("{")
    with pytest.raises(ImportFileError, match="Data Package"):
        import_package(target, folder)
    descriptor.write_text(json.dumps(whole))
    (folder / "head.csv").write_text("id,club_type,hand\nhead-1,wood,sideways\n")
    with pytest.raises(Exception, match="hand"):
        import_package(target, folder)
    assert _content(target) == empty
