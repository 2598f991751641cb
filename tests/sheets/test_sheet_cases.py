"""Builds that a builder would cut wrongly if the sheet said too little: sleeves, adapters, doubts, refusals, weight."""

from __future__ import annotations

import datetime as dt
import itertools
import re
import shutil
from pathlib import Path

import pytest

import specdb
from specdb.catalogue import Catalogue
from specdb.mechanics import swingweight
from specdb.sheets.content import ClubSheet, WorkStep
from specdb.sheets.pdf import sheets_pdf
from specdb.sheets.text import club_text
from specdb.verbs.building.as_built import Finished
from specdb.verbs.building.build_sheet import SheetRequest, club_sheet, set_sheet
from specdb.verbs.building.expected_build import expected_of
from specdb.verbs.building.prepared_build import prepared_build
from specdb.verbs.building.sheet_weight import dry_moment_in_oz
from tests.support.copies import demo_copy

DAY = dt.date(2026, 3, 2)
HYBRID = "hollin-reach-sker-hybrid-85-s"
HYBRID_HEAD = "brackwater-breakwater-h-4-rh"


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cases") / "demo.duckdb"
    demo_copy(path)
    return path


@pytest.fixture
def demo(demo_file: Path, tmp_path: Path) -> Catalogue:
    path = tmp_path / "demo.duckdb"
    shutil.copy(demo_file, path)
    return specdb.open(path)


def sheet(shop: Catalogue, club: str) -> ClubSheet:
    """The sheet of a club, which takes one page."""
    found = club_sheet(shop, SheetRequest(club), today=DAY)
    assert len(re.findall(rb"/Type\s*/Page\b", sheets_pdf([found]))) == 1
    return found


def step(found: ClubSheet, title: str) -> WorkStep:
    """A step by its title."""
    return next(s for s in found.steps if s.title == title)


def titles(found: ClubSheet) -> list[str]:
    """Titles of the steps."""
    return [s.title for s in found.steps]


def sleeved(shop: Catalogue) -> None:
    """A 0.335 in tip in a 0.370 in bore takes a sleeve (common practice, no source)."""
    specdb.set_fields(shop, "shaft", HYBRID, ["tip_dia_in=0.335"])
    specdb.set_fields(shop, "club", "ashby-hybrid", ["sleeve_id=sleeve-335-370", "ferrule_id=ferrule-335-490"])


def test_a_sleeve_of_the_fitted_club_is_cut_and_bonded(demo: Catalogue) -> None:
    sleeved(demo)
    found = sheet(demo, "ashby-hybrid")
    assert found.verdict == "The tip goes in with sleeve sleeve-335-370."
    order = [t for t in titles(found) if t in ("Tip trim", "Sleeve", "Abrade and dry-fit", "Glue")]
    assert order == ["Tip trim", "Sleeve", "Abrade and dry-fit", "Glue"]
    cut = step(found, "Sleeve")
    assert "cut to the insertion, 1 1/4 in" in cut.detail  # the bore of the head is 1.25 in deep
    assert "both sides" in cut.detail
    assert "repair-grade" in cut.caution
    assert "sleeve sleeve-335-370 bonded on both sides" in step(found, "Glue").detail
    assert any(part.item_id == "sleeve-335-370" for part in found.parts)


def test_a_sleeve_that_is_planned_stands_once_and_is_named_where_it_is_glued(demo: Catalogue) -> None:
    sleeved(demo)
    specdb.set_fields(demo, "club", "ashby-hybrid", ["sleeve_id="])
    found = sheet(demo, "ashby-hybrid")
    assert titles(found).count("Sleeve") == 1
    assert found.verdict == "The tip goes in with sleeve sleeve-335-370 and the preparation below."
    assert "sleeve-335-370" in step(found, "Glue").detail
    assert "score" not in club_text(found)


def test_the_tip_trim_that_was_fitted_is_cut_or_the_club_is_refused(demo: Catalogue) -> None:
    """1 in off a tip of 1.3 in parallel leaves 0.3 in, and a steep growth behind it binds in the bore."""
    specdb.set_fields(demo, "shaft", HYBRID, ["tip_parallel_in=1.3", "tip_growth_in_per_in=0.02"])
    specdb.set_fields(demo, "head", HYBRID_HEAD, ["max_ream_dia_in="])
    asked = specdb.ClubRequest(club="ashby-hybrid")
    assert "tip_trim" in [str(s.operation) for s in specdb.fitup_of(demo, asked).preparation]  # less of it would do
    found = sheet(demo, "ashby-hybrid")
    assert found.verdict.startswith("DOES NOT FIT")
    assert "Tip trim" not in titles(found)
    assert any("1 in as it is" in reason for reason in found.reasons)


def test_a_refused_club_says_why_and_orders_no_work(demo: Catalogue) -> None:
    specdb.set_fields(demo, "head", "orrin-vale-coulter-5-rh", ["max_bend_deg=1"])
    specdb.set_fields(demo, "club", "quilter-5-iron", ["loft_deg=29"])
    found = sheet(demo, "quilter-5-iron")
    assert found.verdict.startswith("DOES NOT FIT")
    assert "needs bending loft by +3.00°" in found.reasons[0]
    assert "the head allows 1°" in found.reasons[0]
    assert titles(found) == ["Not to be built"]
    assert found.targets == ()
    text = club_text(found, 100)
    assert text.index("the head allows 1°") < text.index("PULL")
    chart, _ = set_sheet(demo, "quilter-irons", today=DAY)
    row = next(r for r in chart.rows if r.club == "5 iron")
    assert (row.tip_trim, row.butt_trim, row.cut_length) == ("NOT TO BE BUILT", "-", "-")
    assert any("quilter-5-iron: DOES NOT FIT" in note for note in chart.notes)


def test_a_head_is_not_bent_while_its_limit_is_unknown(demo: Catalogue) -> None:
    specdb.set_fields(demo, "head", "orrin-vale-coulter-5-rh", ["max_bend_deg="])
    specdb.set_fields(demo, "club", "quilter-5-iron", ["loft_deg=27.5"])
    found = sheet(demo, "quilter-5-iron")
    assert found.verdict == "NOT KNOWN whether loft and lie can be had: to be found out first."
    assert "bore" not in found.verdict
    assert "Bend the head" not in titles(found)
    first = titles(found).index("Find out first")
    assert first == 1
    assert "ask the head's maker" in found.steps[first].detail
    specdb.set_fields(demo, "head", "orrin-vale-coulter-5-rh", ["max_bend_deg=2"])
    known = sheet(demo, "quilter-5-iron")
    assert known.reasons == ()
    assert "loft by +1.5°" in step(known, "Bend the head").detail


@pytest.mark.parametrize(
    ("kind", "key", "change", "said"),
    [
        ("head", HYBRID_HEAD, "bore_dia_in=", "whether the tip goes in the bore"),
        ("adhesive", "epoxy-long", "shear_mpa=", "whether the bond holds the head"),
    ],
)
def test_what_is_not_known_is_named(demo: Catalogue, kind: str, key: str, change: str, said: str) -> None:
    specdb.set_fields(demo, kind, key, [change])
    found = sheet(demo, "ashby-hybrid")
    assert found.verdict == f"NOT KNOWN {said}: to be found out first."
    assert any(change.rstrip("=") in reason for reason in found.reasons)


def test_with_an_adapter_the_butt_is_measured_from_what_is_seen(demo: Catalogue) -> None:
    """By hand: 45.25 in playing length, less 0.10 in of grip cap and 2.15 in from seat to ground, is 43.00 in."""
    with demo.read() as reader:
        club, adapter = reader.get("club", "ashby-driver"), reader.get("adapter", "vale-eight-eight-335")
        head, grip = reader.get("head", club.head_id), reader.get("grip", club.grip_id)
    assert (club.playing_length_in, grip.cap_in, head.seat_to_ground_in) == (45.25, 0.10, 2.15)
    cut = step(sheet(demo, "ashby-driver"), "Cut the butt")
    assert "from the top of adapter vale-eight-eight-335, 43 in (1092 mm) from its seat" in cut.detail
    assert "hosel to the butt" not in cut.figures[0].where
    assert [f.value for f in cut.figures if "SEAT" in f.where] == ["43 in"]
    # the same bore 0.5 in further down: its mouth lies in the hosel, and the seat alone is to be measured from
    specdb.set_fields(demo, "adapter", adapter.id, [f"bore_to_seat_in={adapter.bore_to_seat_in - 0.5}"])
    sunk = step(sheet(demo, "ashby-driver"), "Cut the butt")
    assert "43 in (1092 mm) from the seat of adapter vale-eight-eight-335" in sunk.detail
    assert "top of adapter" not in sunk.detail
    assert ["SEAT" in f.where for f in sunk.figures] == [True, False]


def test_weight_goes_in_before_the_glue_and_much_of_it_is_cautioned_of(demo: Catalogue) -> None:
    found = sheet(demo, "ashby-hybrid")
    order = [t for t in titles(found) if t in ("Abrade and dry-fit", "Head weight", "Glue", "Cut the butt")]
    assert order == ["Abrade and dry-fit", "Head weight", "Glue", "Cut the butt"]
    assert step(found, "Head weight").caution == ""
    specdb.set_fields(demo, "head", HYBRID_HEAD, ["weight_g=200"])
    heavy = step(sheet(demo, "ashby-hybrid"), "Head weight")
    assert re.search(r"add 4\d\.\d g", heavy.detail)
    assert "more than the 20 g" in heavy.caution
    specdb.set_fields(demo, "club", "ashby-hybrid", ["head_add_g=41"])  # the fitted club is known to take as much
    assert step(sheet(demo, "ashby-hybrid"), "Head weight").caution == ""


@pytest.mark.parametrize("club", ["ashby-driver", "quilter-7-iron"])
def test_the_dry_swingweight_by_statics(demo: Catalogue, club: str) -> None:
    """Masses times arms about 14 in from the butt end; the piece that is still to be cut off as a uniform rod."""
    with demo.read() as reader:
        built = prepared_build(reader, SheetRequest(club))
    parts, values = built.club, built.values
    off, cut = values["butt_trim_in"], values["cut_length_in"]
    assert parts.head.weight_g is not None
    assert parts.head.cg_below_mouth_in is not None
    rod = values["shaft_weight_g"] * off / cut
    mouth = sum(p.weight_g or 0.0 for p in (parts.adapter, parts.sleeve, parts.ferrule) if p is not None)
    arm = off + values["exposed_length_in"]
    # the adapter's seat rests on the mouth of the hosel, from where the head's centre of gravity is told
    beyond = parts.head.cg_below_mouth_in
    if parts.adapter is not None:
        assert parts.adapter.bore_depth_in is not None
        assert parts.adapter.bore_to_seat_in is not None
        beyond += parts.adapter.bore_depth_in + parts.adapter.bore_to_seat_in
    added = values["head_add_g"]
    moment = (
        values["shaft_weight_g"] * (off + values["shaft_balance_from_butt_in"] - 14.0)
        + rod * (off / 2.0 - 14.0)
        + (parts.head.weight_g + added) * (arm + beyond - 14.0)
        + mouth * (arm - 14.0)
    ) / 28.349523125  # g to the ounce
    # a tenth of a point, for a piece that is somewhat heavier than the rest
    assert dry_moment_in_oz(parts, values, added) == pytest.approx(moment, abs=0.2)
    reads = swingweight.from_moment_in_oz(dry_moment_in_oz(parts, values, added))
    assert f"{reads} with it" in step(sheet(demo, club), "Head weight").detail


def test_the_swingweight_on_the_sheet_is_the_one_that_is_judged(demo: Catalogue) -> None:
    specdb.set_fields(demo, "head", HYBRID_HEAD, ["weight_g=270"])
    found = sheet(demo, "ashby-hybrid")
    target = next(t.target for t in found.targets if t.name == "swingweight")
    aims, _ = expected_of(demo, Finished(club="ashby-hybrid"))
    judged = aims["swingweight"].target
    assert judged is not None
    assert target.startswith(f"{swingweight.from_moment_in_oz(judged)} (comes out at D")
    assert "tell the fitter before the glue" in step(found, "Head weight").detail


def test_what_was_taken_is_said_of_a_prepared_build_too(demo: Catalogue) -> None:
    """A stand-in with a thinner tip is sleeved; its tip trim was not given."""
    specdb.set_fields(demo, "shaft", HYBRID, ["tip_dia_in=0.335"])
    found = club_sheet(demo, SheetRequest("ashby-hybrid", shaft="hollin-reach-sker-60-s"), today=DAY)
    assert "preparation below" in found.verdict
    assert any("tip trim of hollin-reach-sker-60-s not given: 0 in taken" in note for note in found.notes)


def test_the_trim_chart_is_that_of_the_prepared_clubs(demo: Catalogue) -> None:
    """Behind 1.15 in of parallel tip the shaft binds at the mouth, so it sits higher and is cut shorter by as much."""
    for club in ("ashby-hybrid", "tansley-3-wood"):
        specdb.set_fields(demo, "club", club, ["set_id=pair"])
    plain, _ = set_sheet(demo, "pair", today=DAY)
    specdb.set_fields(demo, "shaft", HYBRID, ["tip_parallel_in=2.15", "tip_growth_in_per_in=0.05"])
    specdb.set_fields(demo, "head", HYBRID_HEAD, ["max_ream_dia_in="])
    chart, sheets = set_sheet(demo, "pair", today=DAY)
    assert [s.club_id for s in sheets if "Shallower insertion" in titles(s)] == ["ashby-hybrid"]
    for row, own in zip(chart.rows, sheets, strict=True):
        cut = step(own, "Cut the butt").detail
        assert f"{row.cut_length} from the cut tip end" in cut
        assert f"{row.butt_trim} comes off" in cut
    changed = [row.club for row, was in zip(chart.rows, plain.rows, strict=True) if row.cut_length != was.cut_length]
    assert changed == ["Hybrid"]


def test_no_fraction_is_torn_over_two_lines(demo: Catalogue) -> None:
    found = sheet(demo, "ashby-driver")
    for width in range(40, 121):
        lines = club_text(found, width).splitlines()
        torn = [a for a, b in itertools.pairwise(lines) if re.match(r"\s*\d+/\d+ in", b) and a[-1:].isdigit()]
        assert torn == [], width


def test_grip_solvent_is_cautioned_of_where_a_grip_goes_on(demo: Catalogue) -> None:
    found = sheet(demo, "ashby-driver")
    assert any("solvent" in text and "fire" in text for text in step(found, "Grip").hazards)
    assert "no flame, spark" in " ".join(club_text(found, 100).split())
