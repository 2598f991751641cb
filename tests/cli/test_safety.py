"""Copies, bringing back, checking."""

from __future__ import annotations

from pathlib import Path

from tests.cli.conftest import Command


def test_a_copy_brings_back_what_was(shop: Path, tmp_path: Path, specdb: Command) -> None:
    here = ("--catalogue", str(shop))
    copy = tmp_path / "copy.duckdb"
    made = specdb("backup", str(copy), "--json", *here)
    assert (made.status, made.json["rows"]["shaft"]) == (0, 11)
    specdb("set", "shaft", "reed-60-s", "weight_g=70", *here)
    back = specdb("restore", str(copy), "--json", *here)
    assert back.status == 0
    assert specdb("show", "shaft", "reed-60-s", "--json", *here).json["values"]["weight_g"] == 64.0
    kept = back.json["replaced"]
    old = specdb("show", "shaft", "reed-60-s", "--json", "--catalogue", kept)
    assert old.json["values"]["weight_g"] == 70.0


def test_a_copy_never_overwrites(shop: Path, tmp_path: Path, specdb: Command) -> None:
    there = tmp_path / "notes.txt"
    there.write_text("mine")
    ran = specdb("backup", str(there), "--catalogue", str(shop))
    assert (ran.status, ran.out) == (1, "")
    assert there.read_text() == "mine"


def test_a_restore_into_an_empty_place(filled: Path, tmp_path: Path, specdb: Command) -> None:
    path = tmp_path / "fresh" / "shop.duckdb"
    assert specdb("restore", str(filled), "--catalogue", str(path)).status == 0
    assert len(specdb("list", "shaft", "--json", "--catalogue", str(path)).json) == 10


def test_a_restore_from_what_is_no_copy_leaves_all_as_it_is(shop: Path, tmp_path: Path, specdb: Command) -> None:
    before = shop.read_bytes()
    wrong = tmp_path / "wrong.duckdb"
    wrong.write_bytes(b"no catalogue at all" * 1000)
    ran = specdb("restore", str(wrong), "--catalogue", str(shop))
    assert (ran.status, ran.out) == (3, "")
    assert specdb("restore", str(tmp_path / "none.duckdb"), "--catalogue", str(shop)).status == 3
    assert shop.read_bytes() == before


def test_a_sound_catalogue_and_one_that_is_not(shop: Path, specdb: Command) -> None:
    here = ("--catalogue", str(shop))
    ran = specdb("check", *here)
    missing = "Stiffness estimates still to be made: 1; run 'specdb estimate'.\n"
    assert (ran.status, ran.out) == (0, "The catalogue is whole and sound.\n" + missing)
    assert specdb("estimate", *here).out.startswith("1 estimate made; 1 kept in all.\n")
    said = " ".join(specdb("check", *here).out.split())
    assert said.startswith(
        "The catalogue is whole and sound. Stiffness estimates kept: 1. What shafts are usually like"
    )
    assert "with EI tables" in said
    assert "cross-validated" in said
    import duckdb

    with duckdb.connect(str(shop)) as con:  # behind the catalogue's back
        con.execute("DELETE FROM shaft WHERE id = 'reed-60-s'")
    ran = specdb("check", *here)
    assert ran.status == 1
    assert "reed-60-s" in ran.out
    assert any(f["severity"] == "error" for f in specdb("check", "--json", *here).json)
