"""Looking: lists, one item, fields; what stands on standard output and what does not."""

from __future__ import annotations

import getpass
import json
from pathlib import Path

import pytest

import specdb as package
from specdb.cli import look
from specdb.schema import load_schema
from tests.cli.conftest import Command, in_own_process
from tests.cli.shop import MAKER, SHAFTS
from tests.support.copies import demo_copy


def test_list_names_every_active_shaft_and_says_how_many_are_hidden(filled: Path, specdb: Command) -> None:
    ran = specdb("list", "shaft", "--catalogue", str(filled))
    assert ran.status == 0
    for key in SHAFTS:
        assert key in ran.out
    assert "old-60-s" not in ran.out
    assert "10 shafts; 1 retired not shown" in ran.err
    assert "old-60-s" in specdb("list", "shaft", "--all", "--catalogue", str(filled)).out


@pytest.mark.parametrize("kind", ["shaft", "shafts", "Shaft", "SHAFTS"])
def test_kinds_as_people_write_them(kind: str, filled: Path, specdb: Command) -> None:
    assert len(specdb("list", kind, "--json", "--catalogue", str(filled)).json) == 10


@pytest.mark.parametrize("kind", ["shaft-reading", "readings", "shaft_readings", "reading"])
def test_short_names_of_kinds(kind: str, filled: Path, specdb: Command) -> None:
    first = specdb("list", kind, "--json", "--limit", "1", "--catalogue", str(filled)).json[0]
    assert set(first) == set(load_schema().table("shaft_reading").field_names)


def test_where_and_columns(filled: Path, specdb: Command) -> None:
    words = ("list", "shaft", "--where", "weight_g < 62 g and tip_dia_in = 0.335", "--columns", "weight_g,id")
    rows = specdb(*words, "--json", "--catalogue", str(filled)).json
    assert rows == [{"weight_g": 54.0, "id": "rush-50-s"}, {"weight_g": 61.0, "id": "sedge-60-r"}]
    table = specdb(*words, "--catalogue", str(filled)).out.splitlines()
    assert table[0].split() == ["weight_g", "id"]
    assert [line.split() for line in table[2:]] == [["54", "rush-50-s"], ["61", "sedge-60-r"]]


@pytest.mark.parametrize("where", ["weight_g <", "weight_g < 62 mm", "nofield = 3", "1; drop table shaft", "'", "("])
def test_a_condition_that_makes_no_sense_is_wrong_use(where: str, filled: Path, specdb: Command) -> None:
    ran = specdb("list", "shaft", "--where", where, "--catalogue", str(filled))
    assert ran.status == 2
    assert ran.out == ""


def test_an_empty_answer(filled: Path, specdb: Command) -> None:
    ran = specdb("list", "ferrule", "--catalogue", str(filled))
    assert (ran.status, ran.out) == (0, "")
    assert ran.err == "0 ferrules.\n"
    assert specdb("list", "ferrule", "--json", "--catalogue", str(filled)).json == []


def test_limit_is_said(filled: Path, specdb: Command) -> None:
    ran = specdb("list", "shaft_reading", "--limit", "3", "--catalogue", str(filled))
    assert len(ran.out.splitlines()) >= 3
    assert "3 of 89 shaft readings shown" in ran.err.replace("\n", " ")


def test_json_has_every_field_with_its_type(filled: Path, specdb: Command) -> None:
    ran = specdb("list", "shaft", "--json", "--catalogue", str(filled))
    assert ran.err == ""
    row = next(r for r in ran.json if r["id"] == "label-only-60-s")
    assert list(row) == list(load_schema().table("shaft").field_names)
    assert row["torque_deg"] is None
    assert row["maker"] == MAKER


@pytest.mark.parametrize("columns", ["40", "80", "200"])
def test_tables_fit_the_terminal(columns: str, filled: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    for words in (
        ["list", "shaft"],
        ["list", "head"],
        ["list", "club"],
        ["show", "shaft", "bulrush-65-s"],
        ["history"],
        ["stock", "list"],
        ["supply", "list"],
        ["weighting", "show"],
        ["mechanics", "--club", "fit-driver"],
        ["substitutes", "--club", "fit-driver"],
        ["fitup", "--club", "fit-driver"],
        ["fields", "shaft_reading"],
    ):
        ran = specdb(*words, "--catalogue", str(filled))
        assert ran.status in (0, 1)
        # at 40 columns the columns that are always shown may be wider than the terminal
        widest = int(columns) if columns != "40" else 80
        assert max(len(line) for line in ran.out.splitlines()) <= widest, words


def test_preferred_columns_are_fields() -> None:
    for kind, names in look._FIRST.items():
        table = load_schema().table(kind)
        assert set(names.split()) <= set(table.field_names)


def test_show_tells_published_from_measured(filled: Path, specdb: Command) -> None:
    answer = specdb("show", "shaft", "bulrush-65-s", "--json", "--catalogue", str(filled)).json
    assert answer["values"]["weight_g"] == 66.0
    readings = {(r["quantity"], r["source"]): r for r in answer["readings"]}
    assert readings["ei", "published"]["readings"] == readings["ei", "measured"]["readings"] == 8
    assert readings["weight", "measured"] | {"low": 65.8, "high": 66.3, "pieces": 2} == readings["weight", "measured"]
    used = {u["name"]: u for u in answer["used"]}
    assert 65.8 < used["weight"]["value"] < 66.3
    assert used["weight"]["origin"] == "the published figure and 2 readings"
    assert used["stiffness profile"]["origin"] == "measured stations"


def test_show_tells_stock_supply_and_who_refers(filled: Path, specdb: Command) -> None:
    answer = specdb("show", "shaft", "reed-60-s", "--json", "--catalogue", str(filled)).json
    assert answer["stock"]["on_hand"] == 0
    assert answer["stock"]["backordered"] is True
    assert {r["kind"]: r["count"] for r in answer["referred_by"]} == {"shaft_reading": 8, "supply": 1, "club": 1}
    text = specdb("show", "shaft", "reed-60-s", "--catalogue", str(filled)).out
    assert "0 on hand, backordered" in text
    assert "1 club: fit-driver" in text
    assert "Last change: 1" in text


def test_show_of_every_kind(filled: Path, specdb: Command) -> None:
    for kind in load_schema().kinds:
        rows = specdb("list", kind, "--json", "--all", "--catalogue", str(filled)).json
        table = load_schema().table(kind)
        for row in rows[:2]:
            key = "/".join(str(row[n]) for n in table.primary_key)
            answer = specdb("show", kind, key, "--json", "--catalogue", str(filled)).json
            assert answer["values"] == row
            assert specdb("show", kind, key, "--catalogue", str(filled)).status == 0


def test_show_of_an_adapter_lists_its_settings(filled: Path, specdb: Command) -> None:
    answer = specdb("show", "adapter", "plume-335", "--json", "--catalogue", str(filled)).json
    assert [s["setting"] for s in answer["settings"]] == ["+1", "STD"]


def test_fields_come_from_the_schema(specdb: Command) -> None:
    kinds = {row["kind"] for row in specdb("fields", "--json").json}
    assert kinds == set(load_schema().kinds)
    for kind in kinds:
        names = [row["field"] for row in specdb("fields", kind, "--json").json]
        assert names == list(load_schema().table(kind).field_names)


def test_no_colour_reaches_a_pipe(filled: Path) -> None:
    ran = in_own_process("show", "shaft", "reed-60-s", "--catalogue", str(filled))
    assert "\x1b" not in ran.out + ran.err


def test_json_is_all_there_is_on_standard_output(filled: Path) -> None:
    for words in (
        ["list", "shaft"],
        ["show", "club", "fit-driver"],
        ["history"],
        ["stock", "list"],
        ["supply", "list"],
        ["weighting", "show", "soft-hands"],
        ["mechanics", "--club", "fit-driver"],
        ["fitup", "--club", "fit-driver"],
        ["substitutes", "--club", "fit-driver"],
        ["fields"],
        ["check"],
    ):
        ran = in_own_process(*words, "--json", "--catalogue", str(filled))
        assert ran.status == 0, ran.err
        json.loads(ran.out, parse_constant=_refuse)
        assert ran.err == ""


def _refuse(word: str) -> None:
    raise AssertionError(f"{word} is no JSON")


def test_groups_show_what_there_is_where_nothing_else_is_said(filled: Path, specdb: Command) -> None:
    here = ("--catalogue", str(filled))
    for group, usual in (("stock", "list"), ("supply", "list"), ("weighting", "show")):
        assert specdb(group, *here).out == specdb(group, usual, *here).out != ""


def test_a_list_shows_no_digits_that_were_never_measured(shop: Path, specdb: Command) -> None:
    here = ("--catalogue", str(shop))
    # 8.5 mm is 0.33464566... in, 2.3 oz is 65.2038... g (NIST SP 811, appendix B)
    specdb("set", "shaft", "reed-60-s", "tip_dia_in=8.5 mm", "weight_g=2.3 oz", *here)
    names = ("list", "shaft", "--columns", "id,tip_dia_in,weight_g", *here)
    row = next(line for line in specdb(*names).out.splitlines() if line.startswith("reed-60-s"))
    assert row.split() == ["reed-60-s", "0.3346", "65.2"]
    exact = next(r for r in specdb(*names, "--json").json if r["id"] == "reed-60-s")
    assert exact["tip_dia_in"] == pytest.approx(8.5 / 25.4, rel=1e-12)


def test_a_key_that_is_worked_out_is_not_called_needed(specdb: Command) -> None:
    lines = specdb("fields", "grip").out
    assert "(needed)" not in lines
    assert "(needed)" in specdb("fields", "club").out  # head, shaft and length are


def test_fitted_sets_are_listed_with_their_clubs_and_player(specdb: Command, tmp_path: Path) -> None:
    path = tmp_path / "demo.duckdb"
    demo_copy(path)
    with package.open(path).read() as reader:
        of = [c for c in reader.rows("club") if c.set_id == "quilter-irons"]
    for word in ("set", "sets"):
        lines = specdb("list", word, "--catalogue", str(path)).out.splitlines()
        (line,) = [t for t in lines if t.startswith("quilter-irons")]
        assert line.split()[1] == str(len(of))
        assert of[0].player in line
    found = specdb("list", "sets", "--json", "--catalogue", str(path)).json
    assert {c.id for c in of} == set(next(s for s in found if s["set_id"] == "quilter-irons")["clubs"])


def test_a_mistyped_kind_is_answered_with_the_one_that_was_meant(specdb: Command, tmp_path: Path) -> None:
    path = tmp_path / "demo.duckdb"
    demo_copy(path)
    assert specdb("show", "shft", "x", "--catalogue", str(path)).err.strip().endswith("did you mean shaft?")
    assert "adapter_setting" in specdb("list", "xyzzy", "--catalogue", str(path)).err


def test_a_swingweight_is_kept_in_capitals_and_a_decision_has_who_made_it(specdb: Command, tmp_path: Path) -> None:
    path = tmp_path / "demo.duckdb"
    demo_copy(path)
    own = ("--catalogue", str(path))
    assert specdb("set", "club", "ashby-driver", "swingweight=d3", *own).status == 0
    assert specdb("reject", "--club", "ashby-driver", "--shaft", "ambrel-lyde-60-s", *own).status == 0
    file = tmp_path / "clubs.csv"
    file.write_text("id,swingweight\nashby-wedge,c8\n", encoding="utf-8")
    specdb("import", "club", str(file), *own)
    with package.open(path).read() as reader:
        assert reader.get("club", "ashby-driver").swingweight == "D3"
        assert reader.get("club", "ashby-wedge").swingweight == "C8"
        (choice,) = [c for c in reader.rows("choice") if c.shaft_id == "ambrel-lyde-60-s"]
    assert choice.by == getpass.getuser()
