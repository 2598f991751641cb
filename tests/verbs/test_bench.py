"""Readings at the bench: the profile with what is not kept yet, and all of it kept in one change."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.errors import FieldError, MissingDataError, NotFoundError, UsageError
from specdb.profiles.population import builtin
from specdb.records.rows import ShaftReading
from specdb.verbs.catalogue.journal import undo
from specdb.verbs.stiffness.bench import ReadAgainError, bench_shaft, keep_readings
from specdb.verbs.stiffness.profiles import profile_of
from tests.cli.shop import fill

SHAFT = "reed-60-s"
DAY = dt.date(2026, 11, 20)


@pytest.fixture
def shop(tmp_path: Path) -> Catalogue:
    return fill(tmp_path / "shop.duckdb")


def reading(quantity: str, value: float, piece: str = "bench-1", **fields: Any) -> ShaftReading:
    return ShaftReading(
        id=f"{quantity}-{value}", shaft_id=SHAFT, sample=piece, quantity=quantity, value=value, taken_on=DAY, **fields
    )


def frequency(value: float, free: float = 41.0) -> ShaftReading:
    return reading("frequency", value, free_length_in=free, tip_mass_g=205.0)


def test_what_is_typed_counts_as_if_it_were_kept(shop: Catalogue) -> None:
    bench = bench_shaft(shop, SHAFT)
    typed = [frequency(247.0), frequency(268.0, 38.0), reading("weight", 63.8)]
    before = bench.with_readings(typed)
    assert profile_of(shop, SHAFT).estimate.ei == pytest.approx(bench.before.ei)
    keep_readings(shop, typed)
    after = bench_shaft(shop, SHAFT, bench.population).before
    assert after.ei == pytest.approx(before.ei)
    assert after.mass_kg == pytest.approx(before.mass_kg)


def test_a_reading_narrows_the_band(shop: Catalogue) -> None:
    # more readings cannot make a linear Gaussian estimate less sure (theory of least squares)
    bench = bench_shaft(shop, SHAFT, builtin())
    place = bench.before.node_m
    sure = bench.with_readings([frequency(bench_value(bench))])
    assert (sure.band(place)[1] <= bench.before.band(place)[1] + 1e-9).all()


def bench_value(bench: Any) -> float:
    """What a frequency reading of the shaft as estimated would be, so that it fits."""
    probe = bench.with_readings([frequency(250.0)])
    return next(float(e.model) for e in probe.evidence if e.name.startswith("frequency"))


def test_readings_are_kept_in_one_change_and_taken_back_in_one(shop: Catalogue) -> None:
    typed = [frequency(250.0), frequency(268.0, 38.0), reading("torque", 4.1, free_length_in=44.0)]
    kept = keep_readings(shop, typed, by="Robin", why="first piece")
    assert (kept.added, kept.changed, kept.unchanged) == (3, 0, 0)
    with shop.read() as reader:
        rows = [r for r in reader.readings_of(SHAFT) if r.sample == "bench-1"]
        change = reader.changes(limit=1)[0]
    assert len(rows) == 3
    assert (change.change_no, change.by, change.why) == (kept.change_no, "Robin", "first piece")
    undo(shop, kept.change_no)
    with shop.read() as reader:
        assert not [r for r in reader.readings_of(SHAFT) if r.sample == "bench-1"]


def test_the_same_again_changes_nothing(shop: Catalogue) -> None:
    keep_readings(shop, [frequency(250.0)])
    again = keep_readings(shop, [frequency(250.0)])
    assert (again.added, again.changed, again.unchanged, again.change_no) == (0, 0, 1, None)


def test_another_value_under_the_same_conditions_is_shown_before_it_replaces(shop: Catalogue) -> None:
    keep_readings(shop, [frequency(250.0)])
    with pytest.raises(ReadAgainError) as caught:
        keep_readings(shop, [frequency(252.0), frequency(268.0, 38.0)])
    (one,) = caught.value.again
    assert (one.before.value, one.after.value) == (250.0, 252.0)
    with shop.read() as reader:
        assert len([r for r in reader.readings_of(SHAFT) if r.sample == "bench-1"]) == 1  # all or nothing
    # somebody else corrects it in the meantime: what was seen is no longer what is there
    keep_readings(shop, [frequency(251.0)], may_replace=caught.value.again)
    with pytest.raises(ReadAgainError):
        keep_readings(shop, [frequency(252.0)], may_replace=caught.value.again)
    with pytest.raises(ReadAgainError) as seen:
        keep_readings(shop, [frequency(252.0)])
    kept = keep_readings(shop, [frequency(252.0), frequency(268.0, 38.0)], may_replace=seen.value.again)
    assert (kept.added, kept.changed) == (1, 1)


def test_a_reading_typed_again_counts_once(shop: Catalogue) -> None:
    keep_readings(shop, [frequency(250.0)])
    bench = bench_shaft(shop, SHAFT, builtin())
    names = [e.name for e in bench.with_readings([frequency(252.0)]).evidence if e.name.startswith("frequency")]
    assert len(names) == 1


def test_what_cannot_be_kept_is_said(shop: Catalogue) -> None:
    with pytest.raises(UsageError, match="no reading"):
        keep_readings(shop, [])
    with pytest.raises(UsageError, match="very same conditions"):
        keep_readings(shop, [frequency(250.0), frequency(251.0)])
    with pytest.raises(FieldError):
        keep_readings(shop, [reading("frequency", 5.0, free_length_in=41.0)])
    with pytest.raises(NotFoundError):
        bench_shaft(shop, "gone")
    with shop.write() as w:
        w.put("shaft", {"id": "no-length", "club_type": "wood"})
    with pytest.raises(MissingDataError, match="raw length"):
        bench_shaft(shop, "no-length")


def test_instruments_are_corrected_for_before_they_count(shop: Catalogue) -> None:
    with shop.write() as w:
        for n, true in enumerate((220.0, 240.0, 260.0, 280.0)):
            w.put(
                "reference_reading",
                {
                    "instrument": "meter",
                    "quantity": "frequency",
                    "reference": f"bar {n}",
                    "true_value": true,
                    "value": true - 10.0,
                    "taken_on": DAY,
                },
            )
    bench = bench_shaft(shop, SHAFT, builtin())
    plain = bench.with_readings([frequency(250.0)])
    low = bench.with_readings([reading("frequency", 240.0, free_length_in=41.0, tip_mass_g=205.0, instrument="meter")])
    assert low.ei == pytest.approx(plain.ei, rel=0.02)
    assert len(bench.corrections([frequency(250.0)])) == 0
