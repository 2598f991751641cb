"""Keeping estimates up to date: only what changed is done again, and nothing is estimated that needs no estimate."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

import specdb
from specdb.catalogue import Catalogue
from specdb.verbs.stiffness import estimates
from specdb.verbs.stiffness.estimates import kept_columns, kept_population, refresh, state_of
from tests.cli.shop import PROFILE, STATIONS_IN, fill


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("estimates") / "shop.duckdb"
    shop = fill(path)
    sheet: dict[str, Any] = {
        "club_type": "wood",
        "material": "graphite",
        "raw_length_in": 46.0,
        "tip_dia_in": 0.335,
        "tip_form": "parallel",
    }
    sheet["tip_parallel_in"] = 4.0
    with shop.write() as writer:
        for key in ("leaflet-a", "leaflet-b", "leaflet-c"):
            writer.put("shaft", {"id": key, "weight_g": 62.0, "torque_deg": 4.0, **sheet}, mode="add")
    refresh(shop)
    return path


@pytest.fixture
def shop(filled: Path, tmp_path: Path) -> Catalogue:
    path = tmp_path / "shop.duckdb"
    shutil.copy(filled, path)
    return specdb.open(path)


def kept(catalogue: Catalogue) -> list[str]:
    with catalogue.read() as reader:
        return kept_columns(reader).shaft_ids


def count_estimates(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """What is estimated from now on, by call."""
    done: list[list[str]] = []
    plain = estimates._estimate_and_keep

    def watched(catalogue: Catalogue, wanted: Any, *rest: Any) -> int:
        done.append(list(wanted))
        return plain(catalogue, wanted, *rest)

    monkeypatch.setattr(estimates, "_estimate_and_keep", watched)
    return done


def test_only_shafts_without_a_complete_table_are_estimated(shop: Catalogue) -> None:
    assert {"leaflet-a", "leaflet-b", "leaflet-c"} <= set(kept(shop))
    assert "reed-60-s" not in kept(shop)
    again = refresh(shop)
    assert (again.estimated, again.learned, again.left) == (0, False, 0)
    assert state_of(shop).missing == 0


def test_a_change_redoes_its_own_shaft_and_no_other(shop: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    with shop.read() as reader:
        before = kept_columns(reader)
    done = count_estimates(monkeypatch)
    specdb.set_fields(shop, "shaft", "leaflet-b", ["weight_g=75"])
    assert done == [["leaflet-b"]]
    with shop.read() as reader:
        after = kept_columns(reader)
    assert after.shaft_ids == before.shaft_ids
    moved = [k for k, a, b in zip(after.shaft_ids, before.state, after.state, strict=True) if (a != b).any()]
    assert moved == ["leaflet-b"]


def test_changes_that_bear_on_no_shaft_estimate_nothing(shop: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    done = count_estimates(monkeypatch)
    specdb.set_fields(shop, "head", "wren-460-10", ["weight_g=201"])
    specdb.move_stock(shop, "received", "shaft", "leaflet-a", 3)
    assert done == []


def test_a_frequency_makes_an_estimate_of_a_tabled_shaft_and_undo_takes_it_back(shop: Catalogue) -> None:
    words = [
        "shaft_id=reed-60-s",
        "sample=p1",
        "quantity=frequency",
        "value=250",
        "free_length_in=41",
        "tip_mass_g=205",
    ]
    specdb.add_row(shop, "shaft_reading", None, words)
    assert "reed-60-s" in kept(shop)
    specdb.undo(shop)
    assert "reed-60-s" not in kept(shop)


def test_a_complete_table_ends_the_estimate(shop: Catalogue) -> None:
    with shop.write() as writer:
        for place, ei in zip(STATIONS_IN, PROFILE, strict=True):
            row = {"shaft_id": "leaflet-a", "sample": "published", "quantity": "ei", "position_in": place, "value": ei}
            writer.put("shaft_reading", row, mode="add")
    assert "leaflet-a" not in kept(shop)
    assert "leaflet-b" in kept(shop)


def test_the_population_is_learned_anew_when_a_tenth_more_teach(shop: Catalogue) -> None:
    with shop.read() as reader:
        first = estimates.population_facts(reader)
        assert kept_population(reader) is not None
    assert first is not None
    with shop.write() as writer:
        for number in range(2):
            key = f"more-{number}"
            sheet = {"club_type": "wood", "raw_length_in": 46.0, "weight_g": 60.0, "material": "graphite"}
            writer.put("shaft", {"id": key, **sheet}, mode="add")
            for place, ei in zip(STATIONS_IN, PROFILE, strict=True):
                row = {"shaft_id": key, "sample": "published", "quantity": "ei", "position_in": place, "value": ei}
                writer.put("shaft_reading", row, mode="add")
    with shop.read() as reader:
        second = estimates.population_facts(reader)
    assert second is not None
    assert second.number == first.number + 1
    assert second.teachers == first.teachers + 2
    with shop.read() as reader:
        numbers = set(reader.arrow("profile_estimate", ["population_no"])["population_no"].to_pylist())
    assert numbers == {second.number}


def test_shafts_on_the_bench_show_how_far_shafts_depart_from_what_was_learned(shop: Catalogue) -> None:
    """Read as far softer than their leaflets lead to expect, they make others of their kind less sure too."""

    def doubt(number: int) -> tuple[int, float]:
        with shop.write() as writer:
            for k in range(number):
                key = f"bench-{k}"
                sheet = {"club_type": "wood", "raw_length_in": 46.0, "weight_g": 62.0, "material": "graphite"}
                writer.put("shaft", {"id": key, **sheet}, mode="add")
                for free, value in ((41.0, 190.0), (32.0, 240.0), (23.0, 345.0)):
                    row = {"shaft_id": key, "sample": "p1", "quantity": "frequency", "value": value + k}
                    writer.put("shaft_reading", {**row, "free_length_in": free, "tip_mass_g": 200.0}, mode="add")
        with shop.read() as reader:
            facts, columns = estimates.population_facts(reader), kept_columns(reader)
        assert facts is not None
        variance = columns.covariance_of(columns.shaft_ids.index("leaflet-b")).diagonal()[:16]
        return facts.number, float(variance.mean())

    before, after = doubt(0), doubt(5)
    assert after[0] == before[0] + 1  # learned anew, though nobody more teaches
    assert after[1] > 1.2 * before[1]


def test_too_many_at_once_are_left_to_the_command(shop: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(estimates, "AT_ONCE", 0)
    specdb.set_fields(shop, "shaft", "leaflet-b", ["weight_g=75"])
    assert "leaflet-b" not in kept(shop)
    assert state_of(shop).missing == 1
    assert "run 'specdb estimate'" in " ".join(state_of(shop).sentences())
    assert refresh(shop).estimated == 1
    assert state_of(shop).missing == 0


def test_an_estimated_shaft_is_ranked_and_says_so(shop: Catalogue) -> None:
    answer = specdb.substitutes_of(shop, specdb.ClubRequest(club="fit-driver"), specdb.SearchOptions(top=50))
    found = {r.shaft_id: r for r in answer.report.results}
    assert "leaflet-a" in found
    assert any("stiffness estimated" in n for n in found["leaflet-a"].notes)
    tabled = found["sedge-60-s"]
    assert found["leaflet-a"].noise_floor > 1.5 * tabled.noise_floor
