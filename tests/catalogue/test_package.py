"""Export and import of the whole catalogue. Outside reference: the frictionless library finds the package valid."""

from __future__ import annotations

import csv
import datetime as dt
import errno
import json
import re
from pathlib import Path

import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq
import pytest
from frictionless import Package

from specdb.catalogue import Catalogue, exporting
from specdb.catalogue.importing import import_file
from specdb.catalogue.package import DESCRIPTOR, export_package, import_package
from specdb.errors import CatalogueError, ImportFileError, UsageError
from specdb.schema import load_schema
from tests.support.random_catalogue import random_shafts

KINDS = load_schema().kinds
ROWS: list[tuple[str, dict[str, object]]] = [
    ("head", {"id": "h1", "club_type": "wood", "hand": "left", "weight_g": 0.1 + 200.2, "notes": 'a "b"\nc, =1+1'}),
    ("adapter", {"id": "ad", "connection": "K3"}),
    ("adapter_setting", {"adapter_id": "ad", "setting": "1 / A", "loft_change_deg": 1.0}),
    # texts that a spreadsheet would take for formulas, and one that has an apostrophe of its own
    ("adapter_setting", {"adapter_id": "ad", "setting": "+1", "loft_change_deg": -1.5}),
    ("grip", {"id": "g1", "maker": "@work", "notes": "=1+1"}),
    ("grip", {"id": "g2", "maker": "'=x", "notes": "'quoted'"}),
    ("grip", {"id": "g3", "maker": "# 3", "notes": "-"}),
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
    assert {r.name for r in resources} == {t.name for t in load_schema().tables.values() if not t.worked_out}


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


def test_no_text_of_a_package_is_a_formula_to_a_spreadsheet(filled: Catalogue, tmp_path: Path) -> None:
    folder = export_package(filled, tmp_path / "out").parent
    cells = [
        cell
        for path in sorted(folder.glob("*.csv"))
        for row in csv.reader(path.read_text("utf-8").splitlines())
        for cell in row
    ]
    formulas = [c for c in cells if c[:1] in tuple("=+-@\t\r") and not re.fullmatch(r"-?[\d.]+(e-?\d+)?", c)]
    assert formulas == []
    assert "'=1+1" in cells


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_a_table_of_a_package_imported_by_its_kind_changes_nothing(
    filled: Catalogue, tmp_path: Path, form: str
) -> None:
    export_package(filled, tmp_path / "out", format=form)  # type: ignore[arg-type]
    for kind in KINDS:
        report = import_file(filled, kind, tmp_path / "out" / f"{kind}.{form}")
        assert (report.added, report.changed, report.rejected) == (0, 0, [])


def test_the_journal_of_a_package_has_the_exact_times(filled: Catalogue, tmp_path: Path) -> None:
    folder = export_package(filled, tmp_path / "out").parent
    with filled.read() as reader:
        stored = sorted(set(reader.arrow("change", ["at"]).column("at").to_pylist()))
    with (folder / "change.csv").open(encoding="utf-8", newline="") as file:
        # Table Schema: days with times as in XML Schema, fractions of a second allowed
        written = sorted({dt.datetime.fromisoformat(r["at"]).replace(tzinfo=None) for r in csv.DictReader(file)})
    assert written == stored


def test_what_else_lies_in_an_earlier_export_is_not_lost(filled: Catalogue, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    export_package(filled, folder)
    (folder / ".DS_Store").write_text("litter of a desktop")
    export_package(filled, folder)
    for name in ("shaft-rejected.csv", ".git"):
        mine = folder / name
        if name.startswith("."):
            mine.mkdir()
        else:
            mine.write_text("half corrected")
        before = {p.name: p.stat().st_mtime_ns for p in folder.iterdir()}
        with pytest.raises(UsageError, match=re.escape(name)):
            export_package(filled, folder)
        assert {p.name: p.stat().st_mtime_ns for p in folder.iterdir()} == before
        mine.rmdir() if mine.is_dir() else mine.unlink()


def test_the_folder_one_stands_in_is_not_taken_away(
    filled: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    with pytest.raises(UsageError, match="you are in"):
        export_package(filled, Path())
    assert export_package(filled, Path("out")).is_file()
    assert [p.name for p in here.iterdir()] == ["out"]


def test_an_export_that_fails_leaves_the_earlier_one(
    filled: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    export_package(filled, folder)
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    beside = {p.name for p in tmp_path.iterdir()}
    move = Path.replace

    def refuse(self: Path, target: Path) -> Path:
        if self.name == "export":
            raise OSError(errno.ENOSPC, "no space left")
        return move(self, target)

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "no space left")

    for owner, name, failing in ((Path, "replace", refuse), (exporting, "_write_table", full)):
        with monkeypatch.context() as patched:
            patched.setattr(owner, name, failing)
            with pytest.raises(CatalogueError):
                export_package(filled, folder)
        assert {p.name: p.read_bytes() for p in folder.iterdir()} == before
        assert {p.name for p in tmp_path.iterdir()} == beside


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_columns_of_a_package_are_neither_dropped_nor_made_up(filled: Catalogue, tmp_path: Path, form: str) -> None:
    folder = export_package(filled, tmp_path / "out", format=form).parent  # type: ignore[arg-type]
    before = _content(filled)

    def write(columns: dict[str, list[object]]) -> None:
        table = pa.table(columns)
        path = folder / f"head.{form}"
        pacsv.write_csv(table, path) if form == "csv" else pq.write_table(table, path)

    for name, said in (("weight_gg", "did you mean weight_g"), ("colour", "no field of a head")):
        write({"id": ["h1"], name: [1.0]})
        with pytest.raises(ImportFileError, match=said):
            import_package(filled, folder)
    write({"notes": ["no key"]})
    with pytest.raises(ImportFileError, match="no column id"):
        import_package(filled, folder)
    assert _content(filled) == before
    write({"id": ["h1"], "weight_g": [201.0]})
    import_package(filled, folder)
    with filled.read() as reader:
        head = reader.get("head", "h1")
    assert (head.weight_g, head.hand, head.lie_deg) == (201.0, "left", 58.5)
    (folder / "head.csv").write_text("id,notes,notes\nh1,a,b\n")
    if form == "csv":
        with pytest.raises(ImportFileError, match="twice"):
            import_package(filled, folder)


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
