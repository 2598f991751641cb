"""Templates, imports and exports through the command."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from specdb.schema import load_schema
from tests.cli.conftest import Command

HEADINGS = "id,club_type,maker,raw_length_in,weight_g,tip_dia_in\n"
GOOD = "new-one,wood,Quillback,46 1/8,64.5 g,8.5 mm\n"
BAD = "bad-one,spoon,Quillback,460,heavy,.335\n"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A file with one good row."""
    path = tmp_path / "shafts.csv"
    path.write_text(HEADINGS + GOOD, encoding="utf-8")
    return path


def test_an_import_and_the_same_again(file: Path, shop: Path, specdb: Command) -> None:
    here = ("--json", "--catalogue", str(shop))
    first = specdb("import", "shaft", str(file), "--by", "Robin", "--why", "price list", *here)
    assert first.status == 0
    assert {k: first.json[k] for k in ("added", "changed", "unchanged")} == {"added": 1, "changed": 0, "unchanged": 0}
    values = specdb("show", "shaft", "new-one", *here).json["values"]
    assert values["raw_length_in"] == 46.125
    assert values["tip_dia_in"] == pytest.approx(8.5 / 25.4)
    assert specdb("history", "shaft", "new-one", *here).json[0]["why"] == "price list"
    changes = len(specdb("history", *here).json)
    again = specdb("import", "shaft", str(file), *here)
    assert (again.json["added"], again.json["changed"], again.json["unchanged"]) == (0, 0, 1)
    assert len(specdb("history", *here).json) == changes


def test_a_dry_run_writes_nothing_even_where_there_is_no_catalogue(file: Path, tmp_path: Path, specdb: Command) -> None:
    missing = tmp_path / "none.duckdb"
    ran = specdb("import", "shaft", str(file), "--dry-run", "--catalogue", str(missing))
    assert ran.status == 0
    assert "Dry run" in ran.out
    assert "1 added" in ran.out
    assert sorted(p.name for p in tmp_path.iterdir()) == ["shafts.csv"]


def test_an_import_makes_a_catalogue_where_there_is_none(file: Path, tmp_path: Path, specdb: Command) -> None:
    path = tmp_path / "new.duckdb"
    ran = specdb("import", "shaft", str(file), "--catalogue", str(path))
    assert ran.status == 0
    assert f"Made a new catalogue: {path}" in ran.err
    assert specdb("list", "shaft", "--json", "--catalogue", str(path)).json[0]["id"] == "new-one"


def test_an_update_is_shown_before_and_after(shop: Path, tmp_path: Path, specdb: Command) -> None:
    path = tmp_path / "update.csv"
    path.write_text("id,weight_g\nreed-60-s,70\n")
    ran = specdb("import", "shaft", str(path), "--dry-run", "--catalogue", str(shop))
    assert "reed-60-s weight_g: 64 -> 70" in ran.out
    assert specdb("show", "shaft", "reed-60-s", "--json", "--catalogue", str(shop)).json["values"]["weight_g"] == 64


def test_a_bad_row_stops_all_and_is_named(file: Path, shop: Path, specdb: Command) -> None:
    file.write_text(HEADINGS + GOOD + BAD)
    ran = specdb("import", "shaft", str(file), "--catalogue", str(shop))
    assert ran.status == 1
    assert "Nothing was imported" in ran.out
    for said in ("row 3", "club_type", "raw_length_in", "weight_g", "heavy"):
        assert said in ran.out
    assert specdb("show", "shaft", "new-one", "--catalogue", str(shop)).status == 2
    answer = specdb("import", "shaft", str(file), "--json", "--catalogue", str(shop))
    assert answer.status == 1
    assert {(r["row"], r["field"]) for r in answer.json["rejected"]} == {
        (3, "club_type"),
        (3, "raw_length_in"),
        (3, "weight_g"),
    }


def test_good_rows_are_taken_and_the_others_can_be_corrected(file: Path, shop: Path, specdb: Command) -> None:
    file.write_text(HEADINGS + GOOD + BAD)
    here = ("--catalogue", str(shop))
    ran = specdb("import", "shaft", str(file), "--accept-good", "--json", *here)
    assert ran.status == 1
    assert ran.json["added"] == 1
    rejected = Path(ran.json["rejected_file"])
    corrected = rejected.read_text(encoding="utf-8-sig")
    for wrong, right in (("spoon", "wood"), ("460", "46"), ("heavy", "64")):
        corrected = corrected.replace(wrong, right)
    rejected.write_text(corrected, encoding="utf-8")
    assert specdb("import", "shaft", str(rejected), *here).status == 0
    assert specdb("show", "shaft", "bad-one", *here).status == 0


@pytest.mark.parametrize("name", ["none.csv", "folder", "notes.pdf"])
def test_a_file_that_is_no_table(name: str, tmp_path: Path, shop: Path, specdb: Command) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "notes.pdf").write_bytes(b"%PDF-1.7 not a table")
    ran = specdb("import", "shaft", str(tmp_path / name), "--catalogue", str(shop))
    assert ran.status == 1
    assert ran.out == ""
    assert name in ran.err


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_a_template_filled_in_is_imported(ending: str, tmp_path: Path, shop: Path, specdb: Command) -> None:
    path = tmp_path / f"grips.{ending}"
    assert specdb("template", "grip", str(path)).status == 0
    if ending == "csv":
        with path.open("a", encoding="utf-8") as out:
            out.write("fern-47" + "," * (len(load_schema().table("grip").fields) - 1) + "\n")
    else:
        import openpyxl

        book = openpyxl.load_workbook(path)
        book.worksheets[0].append(["fern-47"])
        book.save(path)
    ran = specdb("import", "grip", str(path), "--json", "--catalogue", str(shop))
    assert ran.status == 0, ran.out + ran.err
    assert ran.json["added"] == 1


def test_a_template_never_overwrites(tmp_path: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert specdb("template", "shaft").out == "Template written: shaft.csv\n"
    before = Path("shaft.csv").read_bytes()
    ran = specdb("template", "shaft")
    assert ran.status == 2
    assert "there already" in ran.err
    assert Path("shaft.csv").read_bytes() == before


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_an_export_brought_back_is_equal(form: str, filled: Path, tmp_path: Path, specdb: Command) -> None:
    folder, copy = tmp_path / "export", tmp_path / "copy.duckdb"
    assert specdb("export", str(folder), "--format", form, "--catalogue", str(filled)).status == 0
    assert json.loads((folder / "datapackage.json").read_text())["resources"]
    assert specdb("import-package", str(folder), "--catalogue", str(copy)).status == 0
    for kind in load_schema().kinds:
        rows = [specdb("list", kind, "--all", "--json", "--catalogue", str(p)).json for p in (filled, copy)]
        assert rows[0] == rows[1]
    again = specdb("import-package", str(folder), "--json", "--catalogue", str(copy)).json
    assert all(c["added"] == c["changed"] == 0 for c in again.values())


def test_a_folder_that_is_no_package(tmp_path: Path, shop: Path, specdb: Command) -> None:
    ran = specdb("import-package", str(tmp_path), "--catalogue", str(shop))
    assert (ran.status, ran.out) == (1, "")
    assert "datapackage.json" in ran.err


def test_an_export_leaves_other_files_alone(tmp_path: Path, filled: Path, specdb: Command) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "notes.txt").write_text("mine")
    ran = specdb("export", str(folder), "--catalogue", str(filled))
    assert ran.status == 2
    assert [p.name for p in folder.iterdir()] == ["notes.txt"]


def test_a_dry_run_says_that_bad_rows_stop_all(file: Path, shop: Path, specdb: Command) -> None:
    file.write_text(HEADINGS + GOOD + BAD)
    words = ("import", "shaft", str(file), "--dry-run", "--catalogue", str(shop))
    assert "Nothing would be imported" in specdb(*words).out
    assert "It would be: 1 added" in specdb(*words, "--accept-good").out


def test_a_new_row_that_may_be_there_already_is_told(shop: Path, tmp_path: Path, specdb: Command) -> None:
    path = tmp_path / "list.csv"
    values = specdb("show", "shaft", "reed-60-s", "--json", "--catalogue", str(shop)).json["values"]
    names = ("maker", "model", "flex", "club_type")
    path.write_text(f"id,weight_g,{','.join(names)}\nreed-new,63,{','.join(str(values[n] or '') for n in names)}\n")
    ran = specdb("import", "shaft", str(path), "--dry-run", "--catalogue", str(shop))
    assert ran.status == 0
    assert "row 2: reed-new looks like reed-60-s, which is there already" in ran.out
    answer = specdb("import", "shaft", str(path), "--dry-run", "--json", "--catalogue", str(shop))
    assert [(r["row"], r["id"], r["like"]) for r in answer.json["remarks"]] == [(2, "reed-new", "reed-60-s")]
    assert specdb("import", "shaft", str(path), "--catalogue", str(shop)).status == 0
