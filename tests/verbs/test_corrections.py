"""Readings corrected for their instrument: the same by record and by column, and used wherever one computes."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from specdb.errors import FieldError
from specdb.verbs.catalogue.changing import add_row
from specdb.verbs.catalogue.details import details_of
from specdb.verbs.clubs.clubs import ClubRequest, find_club
from specdb.verbs.clubs.fitup import fit_question
from specdb.verbs.clubs.mechanics import mechanics_of
from specdb.verbs.matching.substitutes import index_of
from specdb.verbs.stiffness.corrections import corrected_columns, corrections_of, readings_of
from specdb.verbs.stiffness.profiles import profile_of
from tests.cli.shop import fill

DAY = dt.date(2026, 3, 2)
JIG = {"instrument": "Jig 1", "taken_on": DAY + dt.timedelta(days=3)}
COLUMNS = ("shaft_id", "sample", "quantity", "value", "position_in", "sd")


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    catalogue = fill(tmp_path_factory.mktemp("filled") / "shop.duckdb")
    with catalogue.write(by="tests") as w:
        for place, value in zip(range(5, 42, 4), range(22, 62, 4), strict=True):
            reading = {"shaft_id": "reed-60-s", "sample": "p1", "quantity": "ei", "value": float(value)}
            w.put("shaft_reading", {**reading, "position_in": float(place), **JIG})
        for sample, day, sd in (("p1", 3, None), ("p2", -9, 0.4), ("p3", None, None), ("p4", 50, 0.1)):
            taken = None if day is None else DAY + dt.timedelta(days=day)
            row = {"shaft_id": "reed-60-s", "sample": sample, "quantity": "weight", "value": 64.0, "sd": sd}
            w.put("shaft_reading", {**row, "instrument": "scale  A", "taken_on": taken})
        w.put("shaft_reading", {"shaft_id": "reed-60-s", "sample": "published", "quantity": "weight", "value": 64.0,
                                "instrument": "scale A"})  # fmt: skip
        w.put("shaft_reading", {"shaft_id": "rush-70-s", "sample": "p1", "quantity": "weight", "value": 70.0})
    return catalogue.path


@pytest.fixture
def shop(filled: Path, tmp_path: Path) -> Catalogue:
    return Catalogue(Path(shutil.copy(filled, tmp_path / "shop.duckdb")))


def calibrate(catalogue: Catalogue, quantity: str, instrument: str, true: float, value: float, **more: Any) -> None:
    with catalogue.write(by="tests") as w:
        for repeat in (1, 2, 3):
            row = {"instrument": instrument, "reference": "R", "quantity": quantity, "true_value": true, "value": value}
            w.put("reference_reading", {"true_sd": 0.0, "taken_on": DAY, "repeat": repeat, **row, **more})


def calibrated(catalogue: Catalogue) -> None:
    calibrate(catalogue, "ei", "jig 1", 45.0, 47.0)
    calibrate(catalogue, "weight", "Scale a", 60.0, 60.8)
    calibrate(catalogue, "weight", "scale A", 60.0, 60.4, taken_on=DAY + dt.timedelta(days=40))


def test_without_references_nothing_changes(shop: Catalogue) -> None:
    with shop.read() as reader:
        assert readings_of(reader, "reed-60-s") == reader.readings_of("reed-60-s")
        assert corrected_columns(reader, COLUMNS).equals(reader.arrow("shaft_reading", COLUMNS))


def test_by_record_and_by_column_it_is_the_same(shop: Catalogue) -> None:
    calibrated(shop)
    with shop.read() as reader:
        stored = reader.rows("shaft_reading")
        by_column = {
            tuple(row[n] for n in ("shaft_id", "sample", "quantity", "position_in")): (row["value"], row["sd"])
            for row in corrected_columns(reader, COLUMNS).to_pylist()
        }
        by_record = [r for shaft in {r.shaft_id for r in stored} for r in readings_of(reader, shaft)]
        one = corrected_columns(reader, ("value",), where="sample = 'p4'")
    assert len(by_record) == len(stored) == len(by_column)
    for r in by_record:
        value, sd = by_column[r.shaft_id, r.sample, r.quantity, r.position_in]
        assert value == pytest.approx(r.value, rel=1e-12), r
        assert sd == (None if r.sd is None else pytest.approx(r.sd, rel=1e-12)), r
    assert one.column_names == ["value"]
    changed = {(r.sample, r.quantity) for r in by_record if r not in stored}
    assert changed == {("p1", "ei"), ("p1", "weight"), ("p2", "weight"), ("p3", "weight"), ("p4", "weight")}


def test_both_values_stay_visible_and_the_stored_one_stays(shop: Catalogue) -> None:
    calibrated(shop)
    with shop.read() as reader:
        stored = reader.readings_of("reed-60-s")
        found = {(c.reading.sample, c.reading.quantity): c for c in corrections_of(reader, stored)}
    first, early, undated, later = (found[s, "weight"] for s in ("p1", "p2", "p3", "p4"))
    assert (first.reading.value, round(first.value, 1)) == (64.0, 63.2)
    assert first.calibrated_on == DAY
    assert first.told == f"read 64, corrected {first.value:.4g} g (Scale a of 2026-03-02)"
    assert "before the first calibration" in early.told
    assert "day is unknown" in undated.told
    assert undated.value == later.value
    assert later.calibrated_on == DAY + dt.timedelta(days=40)
    assert later.value == pytest.approx(63.6, abs=0.1)
    shown = details_of(shop, "shaft", "reed-60-s")
    assert {r.quantity: (r.low, r.high) for r in shown.readings if r.source == "measured"}["weight"] == (64.0, 64.0)
    assert len(shown.corrected) == 14
    used = next(u for u in shown.used if u.name == "weight")
    assert used.value is not None
    assert used.value < 63.9


def test_they_are_used_wherever_readings_are_computed_with(shop: Catalogue) -> None:
    asked = ClubRequest(club="fit-driver")

    def answers() -> tuple[float, float, float, float]:
        with shop.read() as reader:
            index = index_of(reader)
            question = fit_question(find_club(reader, asked))
        row = index.table.ids.index("reed-60-s")
        profile = profile_of(shop, "reed-60-s")
        return (
            float(index.table.mass_kg[row]),
            float(mechanics_of(shop, asked).values["frequency_cpm"]),
            profile.thirds["mid"].ei_n_m2,
            sum(r.value for r in question.readings),
        )

    before = answers()
    calibrated(shop)
    after = answers()
    assert all(b < a for b, a in zip(after, before, strict=True)), (before, after)
    # readings by a jig that reads too much by a twenty-third part: frequency goes with the root of stiffness
    assert after[1] / before[1] == pytest.approx((45.0 / 47.0) ** 0.5, abs=0.012)
    assert len(profile_of(shop, "reed-60-s").corrected) == 14


def test_the_common_error_does_not_average_out(shop: Catalogue) -> None:
    calibrate(shop, "ei", "jig 1", 45.0, 47.0, true_sd=2.0)  # the reference itself is known to 4 %
    with shop.read() as reader:
        one = [c for c in corrections_of(reader, reader.readings_of("reed-60-s")) if c.reading.quantity == "ei"]
        many = [r for r in readings_of(reader, "reed-60-s") if r.quantity == "ei" and r.sample == "p1"]
    weight = [1.0 / (r.sd / r.value) ** 2 for r in many if r.sd is not None]
    assert len(weight) == len(one) == 10
    of_mean = sum(weight) ** -0.5
    assert of_mean > 0.03
    assert of_mean == pytest.approx(
        sum((c.common_sd / c.value) ** 2 + (c.own_sd / c.value) ** 2 / 10 for c in one) ** 0.5 / 10**0.5, rel=0.05
    )


def test_reference_readings_are_entered_as_any_kind(shop: Catalogue) -> None:
    words = ["instrument=meter 2", "reference=rod", "quantity=frequency", "value=251.3 cpm", "true_value=249.9cpm"]
    done = add_row(shop, "reference_reading", None, words)
    assert done.after["true_value"] == 249.9
    with pytest.raises(FieldError, match="true_value"):
        add_row(shop, "reference_reading", None, [*words[:-1], "true_value=5"])
    with pytest.raises(FieldError, match="true_value"):
        add_row(shop, "reference_reading", None, words[:-1])
    assert check_catalogue(shop.path) == []


def test_a_calibration_bears_upon_the_shafts_read_with_it_however_it_is_spelled(shop: Catalogue) -> None:
    with shop.read() as reader:
        before = reader.last_change()
    calibrate(shop, "weight", "SCALE A", 60.0, 60.8)
    with shop.read() as reader:
        assert reader.touched_since(before) == ["reed-60-s"]
