"""Build sheets: figures of the mechanics and the fit-up, cuts from a named end, one page a club."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import time
from pathlib import Path
from typing import Any

import pytest

import specdb
from specdb.catalogue import Catalogue
from specdb.errors import BuildError, NotFoundError, UsageError
from specdb.sheets.pdf import sheets_pdf
from specdb.sheets.text import club_text, set_text
from specdb.units.lengths import cut_length, depth_at_most
from specdb.verbs.building.as_built import Finished
from specdb.verbs.building.build_sheet import SheetRequest, club_sheet, order_sheets, set_sheet, write_pdf
from specdb.verbs.building.expected_build import expected_of
from specdb.verbs.orders.parts import reserve_parts
from tests.support.copies import demo_copy

DAY = dt.date(2026, 3, 2)


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sheets") / "demo.duckdb"
    demo_copy(path)
    return path


@pytest.fixture
def demo(demo_file: Path, tmp_path: Path) -> Catalogue:
    path = tmp_path / "demo.duckdb"
    shutil.copy(demo_file, path)
    return specdb.open(path)


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def test_the_sheet_carries_the_numbers_of_the_club(demo: Catalogue) -> None:
    sheet = club_sheet(demo, SheetRequest("ashby-driver"), today=DAY)
    numbers = specdb.mechanics_of(demo, specdb.ClubRequest(club="ashby-driver")).values
    text = " ".join(club_text(sheet, 100).split())
    assert f"{cut_length(numbers['cut_length_in'])} from the cut tip end" in text
    assert f"{cut_length(numbers['exposed_length_in'])} from the top of adapter vale-eight-eight-335" in text
    assert f"cut {cut_length(numbers['tip_trim_in'])} off the raw tip end" in text
    assert f"abrade {depth_at_most(numbers['insertion_in'])} from the cut tip end" in text
    assert "in from the mouth of the adapter" in sheet.picture
    assert f"add {numbers['head_add_g']:.1f} g at the head for D3.5" in text
    assert f"{numbers['frequency_cpm']:.1f} ± {numbers['sd']['frequency_cpm']:.1f} cpm" in text
    assert "playing length 45 1/4 in (1149 mm) ± 1/16 in" in text
    for caution in ("respirator", "let it cure fully", "maker"):
        assert caution in text
    assert sheet.code == "specdb:club/ashby-driver"
    shaft = next(p for p in sheet.parts if p.kind == "shaft")
    assert (shaft.item_id, shaft.on_hand) == ("hollin-reach-sker-60-s", "0")
    head = next(p for p in sheet.parts if p.kind == "head")
    assert head.place == "head drawer"


def test_it_is_built_with_the_chosen_stand_in(demo: Catalogue) -> None:
    specdb.decide(
        demo, "ashby-driver", "hollin-reach-holm-60-s", "chosen", tip_trim_in=1.625, by="Robin", why="same feel"
    )
    sheet = club_sheet(demo, SheetRequest("ashby-driver"), today=DAY)
    shaft = next(p for p in sheet.parts if p.kind == "shaft")
    assert (shaft.item_id, shaft.note) == ("hollin-reach-holm-60-s", "stand-in for hollin-reach-sker-60-s")
    assert any("1 5/8 in (41 mm) off the raw tip end" in s.detail for s in sheet.steps)
    assert any("chosen by Robin: same feel" in n for n in sheet.notes)
    other = club_sheet(demo, SheetRequest("ashby-driver", shaft="ambrel-selvedge-65-s", tip_trim_in=0.0), today=DAY)
    assert next(p for p in other.parts if p.kind == "shaft").item_id == "ambrel-selvedge-65-s"


@pytest.mark.parametrize("last", [0, 1])
def test_of_two_choices_of_one_day_the_later_is_built(demo: Catalogue, last: int) -> None:
    both_of = ("hollin-reach-holm-60-s", "ambrel-selvedge-65-s")
    for shaft in (both_of[1 - last], both_of[last]):
        specdb.decide(demo, "ashby-driver", shaft, "chosen", tip_trim_in=0.0)
    sheet = club_sheet(demo, SheetRequest("ashby-driver"), today=DAY)
    assert next(p for p in sheet.parts if p.kind == "shaft").item_id == both_of[last]
    assert any(f"chosen for this club too: {both_of[1 - last]}" in note for note in sheet.notes)


def test_the_shaft_comes_out_of_an_adapter_only_where_one_is_fitted(demo: Catalogue) -> None:
    text = club_text(club_sheet(demo, SheetRequest("quilter-5-iron"), today=DAY), 100)
    assert "mouth of the hosel" in text.replace("\n", " ")
    assert "adapter" not in text


def test_the_raw_weight_has_its_box_at_the_step_that_asks_for_it(demo: Catalogue) -> None:
    sheet = club_sheet(demo, SheetRequest("ashby-driver"), today=DAY)
    lines = club_text(sheet, 80).splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith(" 1. Check the parts"))
    until = next(i for i, line in enumerate(lines) if line.startswith(" 2. "))
    assert "    Raw shaft weighs [          ] g   Piece [          ]" in lines[at:until]
    assert [s.asks for s in sheet.steps if s.asks] == ["raw_weight", "measured"]


def test_work_comes_in_an_order_that_can_be_done(demo: Catalogue) -> None:
    titles = [s.title for s in club_sheet(demo, SheetRequest("quilter-5-iron"), today=DAY).steps]
    order = ["Check the parts", "Bend the head", "Abrade and dry-fit", "Head weight", "Glue", "Cut the butt", "Grip"]
    assert [t for t in titles if t in order] == order
    assert titles[-1] == "Measure"


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_demonstration_club_takes_one_page(demo: Catalogue, paper: str) -> None:
    with demo.read() as reader:
        clubs = [c.id for c in reader.rows("club")]
    made = 0
    for club in clubs:
        try:
            sheet = club_sheet(demo, SheetRequest(club), today=DAY)
        except BuildError:
            continue
        assert _pages(sheets_pdf([sheet], paper=paper)) == 1, club
        made += 1
    assert made >= 12


def test_a_set_has_its_chart_first_and_then_its_clubs(demo: Catalogue, tmp_path: Path) -> None:
    chart, sheets = set_sheet(demo, "quilter-irons", today=DAY)
    assert [s.club_id for s in sheets] == ["quilter-5-iron", "quilter-7-iron", "quilter-9-iron", "quilter-pw"]
    assert [r.playing_length.split(" in")[0] for r in chart.rows] == ["38", "37", "36", "35 1/2"]
    rise = re.search(r"rises by (\d+\.\d) cpm for each half inch", chart.slope)
    assert rise is not None
    # about 4 cpm a half inch with rising head weight, ± 35 % and the doubt of both (common practice, no source)
    assert 2.6 <= float(rise[1]) <= 7.0
    line = specdb.set_mechanics_of(demo, "quilter-irons").numbers.line
    assert line is not None
    assert rise[1] == f"{line.slope:.1f}"  # as the set itself is told
    target = tmp_path / "set.pdf"
    write_pdf(target, sheets, chart)
    assert _pages(target.read_bytes()) == 5
    assert "TRIM CHART" in set_text(chart, 200)
    narrow = set_text(chart, 60)
    assert max(len(line) for line in narrow.splitlines()) <= 60


def test_a_retired_club_of_a_set_is_said(demo: Catalogue) -> None:
    specdb.retire(demo, "club", "quilter-7-iron")
    chart, sheets = set_sheet(demo, "quilter-irons", today=DAY)
    assert len(sheets) == 3
    assert chart.notes[0] == "set quilter-irons has a club missing: quilter-7-iron is retired"


def test_files_are_not_overwritten_unasked(demo: Catalogue, tmp_path: Path) -> None:
    sheet = club_sheet(demo, SheetRequest("ashby-driver"), today=DAY)
    target = tmp_path / "sheet.pdf"
    target.write_text("mine", encoding="utf-8")
    for path, said in ((target, "--force"), (tmp_path / "sheet.txt", ".pdf"), (tmp_path / "no" / "a.pdf", "no folder")):
        with pytest.raises(UsageError, match=re.escape(said)):
            write_pdf(path, [sheet])
    assert target.read_text(encoding="utf-8") == "mine"
    write_pdf(target, [sheet], force=True)
    assert target.read_bytes().startswith(b"%PDF-")
    assert sorted(p.name for p in tmp_path.iterdir() if "part" in p.name) == []


def test_the_same_sheet_is_the_same_file(demo: Catalogue) -> None:
    sheet = club_sheet(demo, SheetRequest("ashby-driver"), today=DAY)
    first = sheets_pdf([sheet])
    time.sleep(1.1)  # beyond the second that a PDF's date is given to
    assert sheets_pdf([sheet]) == first


def test_what_cannot_be_built_is_told_and_nothing_is_written(demo: Catalogue) -> None:
    with pytest.raises(NotFoundError):
        club_sheet(demo, SheetRequest("no-such-club"), today=DAY)
    with pytest.raises(NotFoundError, match="set"):
        set_sheet(demo, "no-such-set", today=DAY)
    specdb.set_fields(demo, "club", "ashby-driver", ["playing_length_in=47.9"])
    with pytest.raises(BuildError, match="too short by"):
        club_sheet(demo, SheetRequest("ashby-driver"), today=DAY)


def test_an_order_has_a_sheet_for_every_club_it_asks_for(demo: Catalogue) -> None:
    with demo.write() as writer:
        writer.put("order", {"id": "o-1", "customer": "R. Ashby (invented)", "state": "open"}, mode="add")
        line: dict[str, Any] = {"order_id": "o-1", "line": 1, "club_id": "ashby-driver", "quantity": 2}
        writer.put("order_line", line, mode="add")
        writer.put("order_line", {"order_id": "o-1", "line": 2, "set_id": "quilter-irons", "quantity": 1}, mode="add")
        writer.put("order", {"id": "o-2", "state": "open"}, mode="add")
    sheets = order_sheets(demo, "o-1", today=DAY)
    assert [s.club_id for s in sheets][:3] == ["ashby-driver", "ashby-driver", "quilter-5-iron"]
    assert len(sheets) == 6
    # each code means its own club of the order
    assert [s.code for s in sheets[:3]] == [
        f"specdb:club/{club}" for club in ("ashby-driver/o-1/1/1", "ashby-driver/o-1/1/2", "quilter-5-iron/o-1/2/1")
    ]
    # one shaft of the fitted kind comes in and is kept for the first club; the second is built with what was chosen
    specdb.move_stock(demo, "receive", "shaft", "hollin-reach-sker-60-s", 1)
    specdb.decide(demo, "ashby-driver", "hollin-reach-holm-60-s", "chosen", tip_trim_in=1.625)
    reserve_parts(demo, "o-1")
    shafts = [next(p.item_id for p in s.parts if p.kind == "shaft") for s in order_sheets(demo, "o-1", today=DAY)]
    assert shafts[:2] == ["hollin-reach-sker-60-s", "hollin-reach-holm-60-s"]
    assert {s.customer for s in sheets} == {"R. Ashby (invented)"}
    with pytest.raises(UsageError, match="has no lines"):
        order_sheets(demo, "o-2", today=DAY)


def test_loft_and_lie_are_those_of_the_adapters_setting(demo: Catalogue) -> None:
    """What a setting changes is taken to be added to the head's own angle (common practice, no source)."""
    with demo.read() as reader:
        club = reader.get("club", "ashby-driver")
        head = reader.get("head", club.head_id)
        settings = {s.setting: s for s in reader.settings_of(club.adapter_id)}
    changed = {name: s.loft_change_deg for name, s in settings.items() if s.loft_change_deg}
    assert changed
    for name, change in changed.items():
        specdb.set_fields(demo, "club", "ashby-driver", [f"adapter_setting={name}", "loft_deg="])
        sheet = club_sheet(demo, SheetRequest("ashby-driver"), today=DAY)
        assert next(t.target for t in sheet.targets if t.name.startswith("loft")) == f"{head.loft_deg + change:g}°"
        aims, _ = expected_of(demo, Finished(club="ashby-driver"))
        assert aims["loft"].target == pytest.approx(head.loft_deg + change)
    specdb.set_fields(demo, "club", "ashby-driver", ["loft_deg=11.5"])  # what was recorded goes before
    assert expected_of(demo, Finished(club="ashby-driver"))[0]["loft"].target == 11.5
