"""What is measured on finished clubs tells of their shafts: kept, changed and taken back; never of the club itself."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import specdb
from specdb.catalogue import Catalogue
from specdb.mechanics import defaults
from specdb.orders.as_built import BuiltUnit
from specdb.verbs.building.as_built import Finished, built_answer
from specdb.verbs.building.expected_build import expectation, expected_of
from specdb.verbs.building.finished_clubs import Measured, keep_built
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.orders.changes import Wanted, add_order
from specdb.verbs.stiffness.estimates import cases_of, kept_columns, refresh
from specdb.verbs.stiffness.finished import finished_clubs
from specdb.verbs.stiffness.profiles import profile_of
from tests.orders.shop import fill
from tests.support.copies import demo_copy

FIRST, SECOND = (Finished(club="driver", order="o-1", line=1, unit=n) for n in (1, 2))
READ_G, WRONG_CPM = 207.0, 60.0


@pytest.fixture
def shop(tmp_path: Path) -> Catalogue:
    path = tmp_path / "shop.duckdb"
    with fill(path).write() as w:
        leaflet = {"weight_g": 62.0, "butt_dia_in": 0.6, "material": "graphite"}
        for key in ("reed", "sedge"):
            w.put("shaft", {"id": key, **leaflet}, mode="update")
        w.put("head", {"id": "wren", "cg_below_mouth_in": 1.3}, mode="update")
    found = specdb.open(path)
    add_order(found, "o-1", [Wanted(club_id="driver", quantity=2)])
    refresh(found)
    return found


def kept(shop: Catalogue, shaft: str = "reed") -> list[float]:
    """The kept estimate of a shaft; empty where there is none."""
    with shop.read() as reader:
        columns = kept_columns(reader, shaft)
    return columns.state[0].tolist() if len(columns) else []


def predicted(shop: Catalogue, unit: Finished) -> tuple[float, float]:
    aim = expected_of(shop, unit)[0]["frequency"]
    return float(aim.target or 0.0), aim.sd


def counted(shop: Catalogue, but: BuiltUnit | None = None) -> list[tuple[str, float]]:
    with shop.read() as reader:
        return [(c.name, c.cpm) for c in finished_clubs(reader, ["reed"], but=but).get("reed", [])]


def test_a_kept_frequency_makes_the_estimate_anew_and_taking_it_back_too(shop: Catalogue) -> None:
    before, other = kept(shop), kept(shop, "sedge")
    wanted, sd = predicted(shop, SECOND)
    answer = keep_built(shop, FIRST, Measured(values={"frequency": wanted + 8.0}))
    after = kept(shop)
    assert after != before
    assert kept(shop, "sedge") == other
    now, now_sd = predicted(shop, SECOND)
    assert wanted + 4.0 < now < wanted + 8.0
    assert now_sd < 0.6 * sd
    with shop.read() as reader:
        (row,) = reader.rows("as_built")
    # bore 1.25 in deep, its bottom 1 in from the ground, cap 0.1 in: 45 - 0.1 - 1 in
    assert (row.tip_trim_in, row.insertion_in, row.head_g, row.head_cg_in, row.mouth_g) == (0.0, 1.25, 200.0, 1.3, 0.0)
    assert row.cut_length_in == pytest.approx(43.9)
    set_fields(shop, "as_built", row.id, [f"value={wanted - 8.0:.3f}"])
    assert predicted(shop, SECOND)[0] < wanted
    specdb.undo(shop)
    assert kept(shop) == pytest.approx(after, abs=1e-6)
    specdb.undo(shop, answer.change_no)
    assert kept(shop) == pytest.approx(before, abs=1e-6)


def test_the_estimate_is_forgotten_in_the_very_transaction(shop: Catalogue) -> None:
    bare = Catalogue(shop.path)  # makes nothing anew by itself
    keep_built(bare, FIRST, Measured(values={"frequency": 250.0}))
    assert kept(bare) == []
    assert kept(bare, "sedge") != []


def test_a_club_of_another_shaft_than_was_written_forgets_both(shop: Catalogue) -> None:
    keep_built(shop, FIRST, Measured(values={"frequency": 250.0}))
    bare = Catalogue(shop.path)
    with bare.write() as w:
        row = w.rows("as_built")[0]
        w.put("as_built", {"id": row.id, "shaft_id": "sedge"}, mode="update")
    assert kept(bare) == kept(bare, "sedge") == []


def test_no_club_is_judged_against_itself(shop: Catalogue) -> None:
    expected = predicted(shop, FIRST)
    keep_built(shop, FIRST, Measured(values={"frequency": expected[0] + 20.0}))
    assert predicted(shop, FIRST) == pytest.approx(expected, rel=1e-6)
    (judged,) = built_answer(shop, FIRST).judged
    assert judged.off == pytest.approx(20.0, abs=0.01)
    # measured again with another meter: still held against what is known without it
    keep_built(shop, replace(FIRST, instrument="meter 2"), Measured(values={"frequency": expected[0] + 19.0}))
    with shop.read() as reader:
        rows = reader.rows("as_built")
    assert [r.expected for r in rows] == pytest.approx([expected[0]] * 2, rel=1e-6)
    # the second club is told by the first, and then tells of it
    by_first = predicted(shop, SECOND)[0]
    assert by_first > expected[0] + 10.0
    keep_built(shop, SECOND, Measured(values={"frequency": by_first}))
    assert predicted(shop, SECOND)[0] == pytest.approx(by_first, rel=1e-6)
    assert predicted(shop, FIRST)[0] > expected[0] + 10.0
    # a named piece is told by nothing else than the club it is in
    with shop.write() as w:
        for row in w.rows("as_built"):
            w.put("as_built", {"id": row.id, "shaft_sample": f"p{row.unit}"}, mode="update")
    assert predicted(shop, SECOND)[0] == pytest.approx(by_first, rel=0.02)
    assert built_answer(shop, SECOND).expected is not None


def test_the_newest_value_counts_with_what_else_was_measured(shop: Catalogue) -> None:
    keep_built(shop, FIRST, Measured(values={"frequency": 250.0}))
    keep_built(shop, FIRST, Measured(values={"frequency": 251.0}))
    keep_built(shop, SECOND, Measured(values={"frequency": 249.0, "head_weight": READ_G, "length": 45.0625}))
    assert counted(shop) == [("driver of o-1", 251.0), ("driver of o-1, line 1, no. 2", 249.0)]
    assert counted(shop, BuiltUnit("driver", "o-1", 1, 2)) == [("driver of o-1", 251.0)]
    assert counted(shop, BuiltUnit("driver", "o-1")) == []
    with shop.read() as reader:
        plain, whole = finished_clubs(reader)["reed"]
    assert (plain.head_g, plain.head_weighed) == (200.0, False)
    assert plain.cut_length_in == pytest.approx(43.9)
    assert (whole.head_g, whole.head_weighed) == (READ_G, True)
    assert whole.cut_length_in == pytest.approx(43.9625)
    keep_built(shop, FIRST, Measured(waived={"frequency": "the meter was off"}))
    assert counted(shop) == [("driver of o-1, line 1, no. 2", 249.0)]


def test_the_profile_lists_it_and_asks_about_one_that_cannot_be(shop: Catalogue) -> None:
    bench = {"shaft_id": "reed", "quantity": "frequency", "tip_mass_g": 205.0, "free_length_in": 40.0}
    right = predicted(shop, FIRST)[0]
    with shop.write() as w:
        for n, cpm in enumerate((238.0, 239.0, 238.5)):
            w.put("shaft_reading", {**bench, "sample": f"p{n}", "value": cpm}, mode="add")
    keep_built(shop, FIRST, Measured(values={"frequency": predicted(shop, FIRST)[0]}))
    found = profile_of(shop, "reed")
    assert found.known[-1].name == "finished clubs"
    assert found.known[-1].known == ("1 frequency",)
    (club,) = [e for e in found.estimate.evidence if e.in_club]
    assert (club.name, club.unit, club.outlier) == ("frequency of the finished club driver of o-1", "cpm", False)
    assert abs(club.off) < 1.0
    assert club.sd > right * defaults.CLUB_FREQUENCY_REL
    keep_built(shop, FIRST, Measured(values={"frequency": right + WRONG_CPM}), sure=True)
    wrong = profile_of(shop, "reed").estimate
    assert [e.in_club for e in wrong.outliers] == [True]
    assert wrong.outliers[0].weight < 0.5
    # what was kept before clubs kept their build says nothing, and why is told
    with shop.write() as w:
        w.put("as_built", {"id": w.rows("as_built")[0].id, "cut_length_in": None}, mode="update")
    silent = profile_of(shop, "reed")
    assert [r.reason for r in silent.estimate.refused] == [
        "what it was built to was not kept with it: enter the frequency again"
    ]
    assert "finished clubs" not in [s.name for s in silent.known]


def test_the_meter_is_corrected_and_its_calibration_bears_on_the_shaft(shop: Catalogue) -> None:
    unit = Finished(club="driver", order="o-1", line=1, unit=1, instrument="Meter  1")
    keep_built(shop, unit, Measured(values={"frequency": 254.0}))
    before = kept(shop)
    with shop.write() as w:
        for n, true in enumerate((220.0, 240.0, 260.0, 280.0)):
            row = {"instrument": "meter 1", "quantity": "frequency", "reference": f"rod {n}", "true_value": true}
            w.put("reference_reading", {**row, "value": true + 4.0, "true_sd": 0.1}, mode="add")
    assert kept(shop) != before
    ((_, cpm),) = counted(shop)
    assert cpm == pytest.approx(250.0, abs=0.5)
    with shop.read() as reader:
        (case,) = cases_of(reader, ["reed"])
    assert [r.value * 60.0 for r in case.readings if r.in_club] == [pytest.approx(cpm)]
    (told,) = profile_of(shop, "reed").corrected
    assert told.name == "frequency, finished club driver of o-1"
    assert told.reading.value == 254.0
    assert told.value == pytest.approx(cpm)


def test_the_head_hangs_as_far_beyond_the_bore_as_the_adapter_holds_it(tmp_path: Path) -> None:
    """By hand: told 1.20 in beyond the hosel's mouth; the bore, 1.30 in deep, ends 0.95 in below the seat on it."""
    demo_copy(tmp_path / "demo.duckdb")
    with specdb.open(tmp_path / "demo.duckdb").read() as reader:
        built = expectation(reader, Finished(club="ashby-driver")).built
    assert built["head_cg_in"] == pytest.approx(1.20 + 1.30 - 0.95)
