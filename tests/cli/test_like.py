"""What a shaft of the demonstration is like."""

from __future__ import annotations

import datetime as dt
import re
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.package import import_package
from specdb.paths import demo_catalog_folder
from specdb.verbs.stiffness.estimates import refresh
from specdb.verbs.stiffness.like import like
from tests.cli.conftest import Command

TABLE, LABELS, BENCH = "hollin-reach-sker-50-r", "ambrel-drugget-55-s", "quern-withy-65-s"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("like") / "demo.duckdb"
    catalogue = Catalogue.create(path)
    import_package(catalogue, demo_catalog_folder())
    refresh(catalogue)
    return path


def _answer(specdb: Command, demo: Path, *words: str) -> Any:
    ran = specdb("like", *words, "--json", "--catalogue", str(demo))
    assert ran.status == 0
    assert ran.err == ""
    return ran.json


@pytest.mark.parametrize("shaft", [TABLE, LABELS, BENCH])
@pytest.mark.parametrize("columns", ["80", "60"])
def test_for_a_person(shaft: str, columns: str, demo: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    ran = specdb("like", shaft, "--catalogue", str(demo))
    assert ran.status == 0
    lines = ran.out.splitlines()
    assert max(map(len, lines)) <= int(columns)
    rows = [m for line in lines if (m := re.match(r" ?\d+  ([a-z0-9.-]+) +(\d+\.\d\d) +(\d+\.\d\d)", line))]
    assert len(rows) == 10
    distances = [float(m[2]) for m in rows]
    assert distances == sorted(distances)
    assert all(float(m[3]) <= float(m[2]) for m in rows)
    assert shaft not in [m[1] for m in rows]
    said = " ".join(ran.out.split())
    assert "in units of 5 % stiffness, 4 g, 0.3 deg torque, 0.9 % of the raw length" in said
    assert "left out: sold for another kind of club" in said


def test_answer_as_json(demo: Path, specdb: Command) -> None:
    answer = _answer(specdb, demo, TABLE, "--top", "4")
    assert answer["shaft"] == TABLE
    assert answer["known_from"] == "published table"
    assert answer["one_unit"]["weight_g"] == 4.0
    assert [r["rank"] for r in answer["results"]] == [1, 2, 3, 4]
    for r in answer["results"]:
        assert r["distance"] ** 2 == pytest.approx(r["distance_without_doubt"] ** 2 + r["doubt"] ** 2)
        assert r["club_type"] == answer["club_type"] == "wood"
        weight = next(d for d in r["differences"] if d["key"] == "weight_g")
        assert weight["other"] - weight["reference"] == pytest.approx(weight["difference"])
        assert weight["units_off"] == pytest.approx(weight["difference"] / 4.0)
    with Catalogue(demo).read() as reader:
        every = reader.rows("shaft")
    alike = [s for s in every if s.club_type == "wood" and s.id != TABLE]
    left = answer["left_out"]
    assert answer["looked_at"] + left["retired"] + left.get("raw length or stiffness unknown", 0) == len(alike)
    assert answer["looked_at"] + sum(left.values()) == len(every) - 1


def test_known_badly_is_marked(demo: Path, specdb: Command) -> None:
    """A shaft of which only the leaflet's figures are known, beside one with a table and one from the bench."""
    assert _answer(specdb, demo, LABELS)["known_roughly"]
    assert not _answer(specdb, demo, TABLE)["known_roughly"]
    answer = _answer(specdb, demo, TABLE, "--top", "60")
    rough = [r for r in answer["results"] if r["known_roughly"]]
    surely = [r for r in answer["results"] if r["known_from"] == "published table"]
    assert rough
    assert surely
    assert min(r["doubt"] for r in rough) > max(r["doubt"] for r in surely)
    ran = specdb("like", TABLE, "--top", "60", "--catalogue", str(demo))
    assert "?: known only roughly." in " ".join(ran.out.split())
    assert ran.out.count(" ?  ") == len(rough)
    assert "known only roughly itself" in specdb("like", LABELS, "--catalogue", str(demo)).out


def test_the_nearest_are_of_its_own_kind_more_often_than_not(demo: Path) -> None:
    """Shafts of one model, or within 7 g, play more alike than others (common practice, no source)."""
    catalogue = Catalogue(demo)
    with catalogue.read() as reader:
        shafts = {s.id: s for s in reader.rows("shaft") if s.club_type == "wood" and s.status != "retired"}

    def akin(a: str, b: str) -> bool:
        one, other = shafts[a], shafts[b]
        family = (one.maker, one.model) == (other.maker, other.model)
        return family or abs((one.weight_g or 0.0) - (other.weight_g or 999.0)) <= 7.0

    found = [akin(key, n.shaft_id) for key in list(shafts)[::4] for n in like(catalogue, key, top=3).results]
    by_chance = np.mean([akin(a, b) for a in shafts for b in shafts if a != b])
    assert np.mean(found) > 0.6
    assert np.mean(found) > by_chance + 0.2


def test_other_kinds_of_club_only_where_asked(demo: Path, specdb: Command) -> None:
    same = _answer(specdb, demo, TABLE)
    every = _answer(specdb, demo, TABLE, "--any-club-type", "--top", "150")
    assert every["looked_at"] > same["looked_at"]
    assert {r["club_type"] for r in every["results"]} > {"wood"}
    assert not any("another kind" in reason for reason in every["left_out"])
    first = {r["shaft_id"]: r["distance"] for r in every["results"]}
    assert all(first[r["shaft_id"]] == pytest.approx(r["distance"]) for r in same["results"])


def test_in_stock_is_on_hand(demo: Path, specdb: Command) -> None:
    answer = _answer(specdb, demo, TABLE, "--in-stock")
    assert all(r["in_stock"] > 0 for r in answer["results"])
    assert answer["left_out"]["none free"] > 0


def test_the_same_every_time_and_ties_in_key_order(demo: Path, tmp_path: Path, specdb: Command) -> None:
    copy = tmp_path / "twins.duckdb"
    shutil.copy(demo, copy)
    catalogue = Catalogue(copy)
    with catalogue.read() as reader:
        shaft = reader.get("shaft", TABLE)
        readings = reader.readings_of(TABLE)
    fields = {name: getattr(shaft, name) for name in ("maker", "club_type", "raw_length_in", "weight_g", "torque_deg")}
    fields["balance_from_tip_in"] = shaft.balance_from_tip_in
    with catalogue.write(by="tests", why="made for the tests", done="twins") as w:
        for key in ("twin-c", "twin-a", "twin-b"):
            w.put("shaft", {"id": key, **fields})
            for r in readings:
                row = {"shaft_id": key, "sample": r.sample, "quantity": r.quantity, "value": r.value}
                w.put("shaft_reading", {**row, "position_in": r.position_in})
    one, two = (specdb("like", TABLE, "--json", "--catalogue", str(copy)) for _ in range(2))
    assert one.out == two.out
    first = one.json["results"][:3]
    assert [r["shaft_id"] for r in first] == ["twin-a", "twin-b", "twin-c"]
    assert {r["distance_without_doubt"] for r in first} == {0.0}
    assert len({r["distance"] for r in first}) == 1


def test_readings_count_as_corrected_for_their_instrument(tmp_path: Path, specdb: Command) -> None:
    """A scale that reads 1.5 g too much on a known mass: what it read 61.5 g is like what a true one read 60 g."""
    path = tmp_path / "scale.duckdb"
    day = dt.date(2026, 3, 2)
    with Catalogue.create(path).write(by="tests", why="made for the tests", done="fill") as w:
        for key, grams, scale in (("a", 61.5, "old scale"), ("b", 61.5, "new scale"), ("c", 60.0, "new scale")):
            shaft = {"club_type": "wood", "raw_length_in": 46.0, "tip_ei_n_m2": 20.0, "butt_ei_n_m2": 60.0}
            w.put("shaft", {"id": key, "torque_deg": 4.0, "balance_from_tip_in": 23.6, **shaft})
            reading = {"shaft_id": key, "sample": "p1", "quantity": "weight", "value": grams}
            w.put("shaft_reading", {**reading, "instrument": scale, "taken_on": day})
        for repeat in range(1, 6):
            known = {"instrument": "old scale", "reference": "mass", "quantity": "weight", "true_value": 60.0}
            w.put("reference_reading", {**known, "true_sd": 0.0, "value": 61.5, "taken_on": day, "repeat": repeat})
    answer = specdb("like", "a", "--json", "--catalogue", str(path)).json
    assert [r["shaft_id"] for r in answer["results"]] == ["c", "b"]
    weight = next(d for d in answer["results"][0]["differences"] if d["key"] == "weight_g")
    assert abs(weight["difference"]) < 0.3


def test_one_that_is_alone(tmp_path: Path, specdb: Command) -> None:
    path = tmp_path / "lone.duckdb"
    with Catalogue.create(path).write(by="tests", why="made for the tests", done="fill") as w:
        shaft = {"club_type": "wood", "weight_g": 60.0, "tip_ei_n_m2": 20.0, "butt_ei_n_m2": 60.0}
        w.put("shaft", {"id": "lone", "raw_length_in": 46.0, **shaft})
        w.put("shaft", {"id": "lengthless", **shaft})
    ran = specdb("like", "lone", "--catalogue", str(path))
    assert ran.status == 1
    assert "no shaft to compare" in ran.out
    assert "1  left out: raw length or stiffness unknown" in ran.out
    ran = specdb("like", "lengthless", "--catalogue", str(path))
    assert ran.status == 1
    assert ran.out == ""
    assert "raw_length_in" in ran.err


def test_unknown_shaft_names_near_ones(demo: Path, specdb: Command) -> None:
    ran = specdb("like", "ambrel-drugget-55-z", "--catalogue", str(demo))
    assert ran.status == 2
    assert ran.out == ""
    assert LABELS in ran.err
