"""Kept estimates and the population: stored, forgotten when what they rest on changes, never exported."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from specdb.schema import load_schema

SHAFTS = ("a", "b", "c")


def rows(*shafts: str, readings: int = 3) -> pa.Table:
    table = load_schema().table("profile_estimate")
    count = len(shafts)
    length = {f.name: f.length for f in table.fields if f.length}
    columns = {
        "shaft_id": pa.array(shafts, pa.string()),
        "population_no": pa.array([1] * count, pa.int64()),
        "group_no": pa.array([0] * count, pa.int64()),
        **{n: pa.array([[0.5] * k] * count, pa.list_(pa.float32(), k)) for n, k in length.items()},
        "piece_sd": pa.array([0.02] * count, pa.float64()),
        "readings": pa.array([readings] * count, pa.int64()),
        "outliers": pa.array([0] * count, pa.int64()),
    }
    return pa.table(columns)


@pytest.fixture
def shop(tmp_path: Path) -> Catalogue:
    catalogue = Catalogue.create(tmp_path / "shop.duckdb")
    with catalogue.write(by="Robin") as writer:
        for key in SHAFTS:
            writer.put("shaft", {"id": key, "club_type": "wood", "raw_length_in": 46.0, "weight_g": 60.0}, mode="add")
        reading = {"sample": "p1", "quantity": "weight", "value": 61.0, "instrument": "scale-1"}
        writer.put("shaft_reading", {"shaft_id": "b", **reading}, mode="add")
        writer.put("head", {"id": "h", "club_type": "wood", "hand": "right"}, mode="add")
    return catalogue


def keep(catalogue: Catalogue, *shafts: str) -> int:
    with catalogue.read() as reader:
        made_at = reader.last_change()
    with catalogue.keep() as keeper:
        return keeper.keep_estimates(rows(*shafts), made_at)


def kept(catalogue: Catalogue) -> list[str]:
    with catalogue.read() as reader:
        return list(reader.estimates()["shaft_id"].to_pylist())


def test_what_is_stored_comes_back_and_storing_again_replaces(shop: Catalogue) -> None:
    assert keep(shop, *SHAFTS) == 3
    assert keep(shop, "b") == 1
    assert kept(shop) == ["a", "b", "c"]
    with shop.read() as reader:
        one = reader.estimates("b").to_pylist()
        assert len(one) == 1
        assert one[0]["state"] == [0.5] * 22
        assert len(one[0]["covariance"]) == 253
        assert reader.last_change() == 1  # no change of the journal


def test_a_changed_shaft_or_reading_forgets_only_its_own(shop: Catalogue) -> None:
    keep(shop, *SHAFTS)
    with shop.read() as reader:
        before = reader.kept_edition()
    with shop.write() as writer:
        writer.put("shaft", {"id": "a", "weight_g": 59.0}, mode="update")
    assert kept(shop) == ["b", "c"]
    with shop.write() as writer:
        writer.put("shaft_reading", {"shaft_id": "b", "sample": "p2", "quantity": "weight", "value": 62.0}, mode="add")
    assert kept(shop) == ["c"]
    with shop.write() as writer:
        writer.put("head", {"id": "h", "weight_g": 200.0}, mode="update")
    assert kept(shop) == ["c"]
    with shop.read() as reader:
        assert reader.kept_edition() > before
        assert reader.touched_since(1) == ["a", "b"]


def test_undo_forgets_too_and_a_change_given_up_does_not(shop: Catalogue) -> None:
    keep(shop, *SHAFTS)
    with shop.write(dry_run=True) as writer:
        writer.put("shaft", {"id": "a", "weight_g": 59.0}, mode="update")
    assert kept(shop) == ["a", "b", "c"]
    with shop.write() as writer:
        writer.put("shaft", {"id": "a", "weight_g": 59.0}, mode="update")
    keep(shop, "a")
    with shop.write() as writer:
        writer.undo()
    assert kept(shop) == ["b", "c"]


def test_an_estimate_made_from_what_was_changed_meanwhile_is_not_kept(shop: Catalogue) -> None:
    with shop.read() as reader:
        made_at = reader.last_change()
    with shop.write() as writer:
        writer.put("shaft", {"id": "a", "weight_g": 59.0}, mode="update")
    with shop.keep() as keeper:
        assert keeper.keep_estimates(rows("a", "b", "gone"), made_at) == 1
    assert kept(shop) == ["b"]


def test_a_population_replaces_the_one_before(shop: Catalogue) -> None:
    row: dict[str, object] = {"recipe": 1, "teachers": 12, "known_makers": 1, "error_tip_pct": 7.5, "content": "AA=="}
    with shop.keep() as keeper:
        assert keeper.keep_population(row) == 1
        assert keeper.keep_population({**row, "teachers": 20}) == 2
        keeper.looked_at(1)
    with shop.read() as reader:
        found = reader.population()
        assert found is not None
        assert (found["population_no"], found["teachers"], found["error_tip_pct"]) == (2, 20, 7.5)
        assert found["error_mid_pct"] is None
        assert reader.seen_change() == 1
        assert reader.count("population_model") == 1


def test_teachers_are_counted_by_stations_and_maker(shop: Catalogue) -> None:
    with shop.write() as writer:
        for key, count in (("a", 5), ("b", 4), ("c", 6)):
            writer.put("shaft", {"id": key, "maker": "Invented", "material": "steel"}, mode="update")
            for place in range(count):
                station = {"quantity": "ei", "value": 40.0, "position_in": 5.0 + place}
                writer.put("shaft_reading", {"shaft_id": key, "sample": "p1", **station}, mode="add")
    with shop.read() as reader:
        assert (reader.teacher_counts(stations=5, of_a_maker=2).shafts, 2) == (2, 2)
        assert reader.teacher_counts(stations=5, of_a_maker=2).makers == 1
        assert reader.teacher_counts(stations=5, of_a_maker=3).makers == 0
        assert reader.teacher_counts(stations=5, of_a_maker=3).benched == 0
    with shop.write() as writer:
        for key in ("a", "b"):
            bench = {"quantity": "frequency", "value": 250.0, "free_length_in": 40.0, "tip_mass_g": 200.0}
            writer.put("shaft_reading", {"shaft_id": key, "sample": "p1", **bench}, mode="add")
    with shop.read() as reader:
        assert reader.teacher_counts(stations=5, of_a_maker=3).benched == 1  # the other one teaches


def test_kept_things_leave_the_catalogue_sound(shop: Catalogue) -> None:
    keep(shop, *SHAFTS)
    assert check_catalogue(shop.path) == []
