"""Changing: fields, retiring, history, undo, stock, supply, choices, weightings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Command


class Shop:
    """The command on one catalogue."""

    def __init__(self, path: Path, command: Command) -> None:
        self.path, self.command = path, command

    def __call__(self, *words: str, status: int = 0) -> str:
        ran = self.command(*words, "--catalogue", str(self.path))
        assert ran.status == status, ran.err
        return ran.out if status == 0 else ran.err

    def json(self, *words: str) -> Any:
        """An answer as JSON."""
        return self.command(*words, "--json", "--catalogue", str(self.path)).json


@pytest.fixture
def at(shop: Path, specdb: Command) -> Shop:
    """The command on a catalogue that may be changed."""
    return Shop(shop, specdb)


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        # 1 in is 25.4 mm exactly; 1 oz is 28.349523125 g (international yard and pound agreement, 1959)
        ("raw_length_in=46 1/8", 46.125),
        ("raw_length_in=46-1/8", 46.125),
        ("raw_length_in=46.5in", 46.5),
        ("raw_length_in=1143 mm", 45.0),
        ("raw_length_in=114.3cm", 45.0),
        ("tip_dia_in=.335", 0.335),
        ("tip_dia_in=8.5 mm", 8.5 / 25.4),
        ("weight_g=2 oz", 2 * 28.349523125),
        ("weight_g=65g", 65.0),
    ],
)
def test_values_are_taken_as_typed(typed: str, stored: float, at: Shop) -> None:
    at("set", "shaft", "reed-60-s", typed)
    name = typed.partition("=")[0]
    assert at.json("show", "shaft", "reed-60-s")["values"][name] == pytest.approx(stored, rel=1e-9)


def test_a_reading_is_taken_in_the_unit_of_its_quantity(at: Shop) -> None:
    words = (
        "shaft_id=reed-60-s",
        "sample=piece 9",
        "quantity=deflection",
        "value=5 in",
        "free_length_in=40",
        "load_n=9.8",
    )
    at("set", "--new", "shaft_reading", "r-9", *words)
    assert at.json("show", "reading", "r-9")["values"]["value"] == pytest.approx(127.0)


def test_the_unit_of_a_reading_is_that_of_its_stored_quantity(at: Shop) -> None:
    words = ("shaft_id=reed-60-s", "sample=piece 9", "quantity=weight", "value=64")
    at("set", "--new", "reading", "r-9", *words)
    at("set", "reading", "r-9", "value=2 oz")
    assert at.json("show", "reading", "r-9")["values"]["value"] == pytest.approx(2 * 28.349523125)


def test_a_key_is_worked_out_where_none_is_given(at: Shop) -> None:
    words = ("shaft_id=reed-60-s", "sample=piece 9", "quantity=weight", "value=64.3")
    first = at.json("set", "--new", "reading", "-", *words)
    second = at.json("set", "--new", "reading", "-", *words)
    assert first["key"] != second["key"]
    assert at.json("show", "reading", first["key"])["values"]["value"] == 64.3
    made = at.json("set", "--new", "shaft", "-", "maker=Quillback", "model=Alder", "flex=S", "club_type=wood")
    assert made["key"].startswith("quillback-alder-s")


def test_a_value_is_cleared_and_the_change_is_told(at: Shop) -> None:
    out = at("set", "shaft", "reed-60-s", "torque_deg=", "flex=TX", "--by", "Robin", "--why", "wrong leaflet")
    assert "torque_deg: 4 -> unknown" in out
    assert "flex: S -> TX" in out
    last = at.json("history", "shaft", "reed-60-s")[0]
    assert (last["by"], last["why"]) == ("Robin", "wrong leaflet")
    assert last["differences"] == {
        "flex": {"before": "S", "after": "TX"},
        "torque_deg": {"before": 4.0, "after": None},
    }


def test_setting_what_is_there_changes_nothing(at: Shop) -> None:
    before = at.json("history")
    assert "nothing to change" in at("set", "shaft", "reed-60-s", "weight_g=64 g")
    assert at.json("history") == before


def test_a_new_item_needs_the_word(at: Shop) -> None:
    said = at("set", "grip", "moss-52", "weight_g=52", status=2)
    assert "moss-50" in said
    at("set", "--new", "grip", "moss-52", "weight_g=52", "core_dia_in=.58")
    assert at.json("show", "grip", "moss-52")["values"]["core_dia_in"] == 0.58


def test_a_new_item_makes_a_catalogue_where_there_is_none(tmp_path: Path, specdb: Command) -> None:
    path = tmp_path / "new folder" / "catalogue.duckdb"
    ran = specdb("set", "--new", "grip", "first", "weight_g=50", "--catalogue", str(path))
    assert ran.status == 0
    assert str(path) in ran.err.replace("\n", "")
    assert specdb("list", "grip", "--json", "--catalogue", str(path)).json[0]["id"] == "first"


def test_unicode_is_kept(at: Shop) -> None:
    at("set", "shaft", "reed-60-s", "notes=Größe ½ — 東京 ☃")
    assert at.json("show", "shaft", "reed-60-s")["values"]["notes"] == "Größe ½ — 東京 ☃"
    assert "東京" in at("show", "shaft", "reed-60-s")


def test_retire_and_bring_back(at: Shop) -> None:
    at("retire", "shaft", "sedge-60-s", "--why", "no longer made")
    assert "sedge-60-s" not in at("list", "shaft")
    ranked = [r["shaft_id"] for r in at.json("substitutes", "--club", "fit-driver")["results"]]
    assert "sedge-60-s" not in ranked
    at("set", "shaft", "sedge-60-s", "status=active")
    assert "sedge-60-s" in at("list", "shaft")


def test_undo_brings_back_what_was_and_is_a_change_too(at: Shop) -> None:
    at("set", "shaft", "reed-60-s", "weight_g=70")
    said = at("undo", "--why", "typing error")
    assert "undone" in said
    assert at.json("show", "shaft", "reed-60-s")["values"]["weight_g"] == 64.0
    newest, changed, _ = at.json("history")
    assert newest["undoes"] == changed["change"]
    assert changed["undone_by"] == newest["change"]
    assert "undo of 2" in at("history")


def test_stock_is_the_sum_of_its_moves(at: Shop) -> None:
    at("stock", "receive", "shaft", "rush-50-s", "6", "--order", "PO-17", "--by", "Robin")
    at("stock", "receive", "shaft", "rush-50-s", "6", "--order", "PO-17", "--by", "Robin")
    at("stock", "use", "shaft", "rush-50-s", "2")
    at("stock", "damage", "shaft", "rush-50-s", "1")
    at("stock", "return", "shaft", "rush-50-s", "1")
    assert "10 on hand" in at("stock", "count", "shaft", "rush-50-s", "10")
    assert at.json("stock", "list", "shaft", "rush-50-s")[0]["on_hand"] == 10
    moves = [m for m in at.json("list", "stock_move") if m["item_id"] == "rush-50-s"]
    assert sorted(m["quantity"] for m in moves) == [-2, -1, 0, 1, 6, 6]
    assert sorted(m["reason"] for m in moves) == ["counted", "damaged", "received", "received", "returned", "used"]


def test_more_than_there_is_cannot_leave(at: Shop) -> None:
    said = at("stock", "use", "shaft", "rush-70-s", "2", status=1)
    assert "there are 1" in said
    assert at.json("stock", "list", "shaft", "rush-70-s")[0]["on_hand"] == 1


def test_supply_of_one_supplier_is_one_line(at: Shop) -> None:
    at("supply", "set", "shaft", "reed-60-x", "--ordered", "4", "--expected", "2027-02-03", "--supplier", "Hillside")
    at("supply", "set", "shaft", "reed-60-x", "--ordered", "6", "--supplier", "Hillside")
    lines = at.json("supply", "list", "shaft", "reed-60-x")
    assert len(lines) == 1
    assert (lines[0]["ordered"], lines[0]["expected_on"]) == (6, "2027-02-03")
    at("supply", "set", "shaft", "reed-60-x", "--backordered", "--supplier", "Otherside")
    assert len(at.json("supply", "list", "shaft", "reed-60-x")) == 2
    shelf = at.json("stock", "list", "shaft", "reed-60-x")[0]
    assert (shelf["ordered"], shelf["expected_on"]) == (6, "2027-02-03")


def test_a_rejected_stand_in_is_not_proposed_again_for_that_club(at: Shop) -> None:
    first = at.json("substitutes", "--club", "fit-driver")["results"][0]["shaft_id"]
    at("reject", "--club", "fit-driver", "--shaft", first, "--why", "too light for this player", "--by", "Robin")
    answer = at.json("substitutes", "--club", "fit-driver")
    assert first not in [r["shaft_id"] for r in answer["results"]]
    assert "too light for this player" in {e["shaft_id"]: e["reason"] for e in answer["excluded"]}[first]
    same_build = ("--shaft", "reed-60-s", "--head", "wren-460-10", "--length", "45", "--grip", "moss-50")
    free = at.json("substitutes", *same_build, "--tip-trim", "0.5", "--swingweight", "D3")
    assert first in [r["shaft_id"] for r in free["results"]]


def test_a_choice_is_kept_with_who_and_why_and_can_be_changed(at: Shop) -> None:
    at(
        "choose",
        "--club",
        "fit-driver",
        "--shaft",
        "sedge-60-s",
        "--tip-trim",
        "1/4",
        "--by",
        "Robin",
        "--why",
        "nearest in feel",
    )
    at(
        "choose",
        "--club",
        "fit-driver",
        "--shaft",
        "sedge-60-s",
        "--tip-trim",
        "1/2",
        "--by",
        "Robin",
        "--why",
        "nearest in feel",
    )
    kept = at.json("list", "choice")
    assert len(kept) == 1
    assert (kept[0]["decision"], kept[0]["tip_trim_in"], kept[0]["by"]) == ("chosen", 0.5, "Robin")
    assert at.json("substitutes", "--club", "fit-driver")["chosen"] == ["sedge-60-s"]
    at("choose", "--club", "fit-driver", "--shaft", "bulrush-65-s")
    proposed = at.json("substitutes", "--club", "fit-driver")["results"][0]
    own = next(c for c in at.json("list", "choice") if c["shaft_id"] == "bulrush-65-s")
    assert own["tip_trim_in"] == proposed["tip_trim_in"]
    assert own["score"] == pytest.approx(proposed["score"], abs=1e-6)
    at("choose", "--club", "nobody", "--shaft", "sedge-60-s", status=2)
    at("choose", "--club", "fit-driver", "--shaft", "nothing", status=2)


def test_weightings(at: Shop) -> None:
    at("weighting", "set", "only-weight", "shaft_weight_unit=2", "frequency_weight=0", "torque_weight=0")
    shown = {f["feature"]: f for f in at.json("weighting", "show", "only-weight")["features"]}
    assert shown["shaft_weight_g"]["one_unit"] == 2.0
    assert shown["frequency_cpm"]["weight"] == 0.0
    assert shown["moi_butt_kg_cm2"]["one_unit"] == 12.0
    default = at.json("substitutes", "--club", "fit-driver")
    own = at.json("substitutes", "--club", "fit-driver", "--weighting", "only-weight")
    assert own["weighting"] == "only-weight"
    assert own["results"][0]["score"] != default["results"][0]["score"]
    others = ("tip_ei", "mid_ei", "butt_ei", "shaft_weight", "balance", "kick_point", "total_weight", "moi")
    zeros = [f"{name}_weight=0" for name in others]
    assert "leaves every feature out" in at("weighting", "set", "only-weight", *zeros, status=2)
    assert at.json("weighting", "show", "only-weight")["features"][1]["weight"] == 1.0


def test_a_kind_is_called_by_its_name_however_it_was_typed(at: Shop) -> None:
    assert at("stock", "receive", "Shafts", "reed-60-x", "1").startswith("shaft reed-60-x: 2 -> 3")
    assert at("supply", "set", "shafts", "reed-60-x", "--ordered", "2").startswith("supply of shaft reed-60-x")
    assert at("retire", "shafts", "reed-60-x") == "shaft reed-60-x retired.\n"


@pytest.mark.parametrize("pieces", ["1.5", "NaN", "two", ""])
def test_pieces_are_whole(pieces: str, at: Shop) -> None:
    assert f"'{pieces}' is no whole number" in at("stock", "use", "shaft", "reed-60-x", pieces, status=2)


def test_only_what_changed_is_told(at: Shop) -> None:
    told = at("set", "club", "fit-driver", "playing_length_in=45", "swingweight=D4")
    assert "swingweight: D3 -> D4" in told
    assert "playing_length_in" not in told


def test_a_mistyped_field_is_led_to_the_right_one(at: Shop) -> None:
    assert "did you mean weight_g?" in at("set", "grip", "moss-50", "weigth_g=50", status=2)
    assert "an adapter has no field" in at("set", "adapter", "plume-335", "weigth_g=5", status=2)
