"""What the place Build is made of: large print, how far the work has come, what stands at each step."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import pytest

import specdb
from specdb.sheets.content import ClubSheet, WorkStep
from specdb.tui.building.log import Work, WorkLog, mark_of
from specdb.tui.building.print import large
from specdb.tui.building.steps import step_lines
from specdb.tui.memory import Memory
from specdb.verbs.building.build_sheet import SheetRequest, club_sheet
from specdb.verbs.building.sheet_code import UnitMeant

NOW = dt.datetime(2026, 11, 25, 14, 5, tzinfo=dt.UTC)
CLUB = UnitMeant("a-club", "o-1", 1, 1)
STEPS = tuple(WorkStep(f"Step {n}", f"do {n}") for n in range(4))


def _text(sheet: ClubSheet, at: int, width: int = 73) -> str:
    lines, _ = step_lines(sheet, Work(at=at), width)
    return "\n".join("".join(text for text, _ in line) for line in lines)


@pytest.mark.parametrize("twice", [False, True])
def test_large_print_is_even_and_tells_every_digit_apart(twice: bool) -> None:
    drawn = [tuple(large(sign, twice=twice)) for sign in "0123456789ABCDEFG"]
    assert len(set(drawn)) == len(drawn)
    for text in ("43 15/16", "D2.5", "1157 mm", "10.5°", "± 2", "…"):
        lines = large(text, twice=twice)
        assert len(lines) == (5 if twice else 3)
        assert len({len(line) for line in lines}) == 1


def test_a_fraction_is_not_read_as_a_whole_number() -> None:
    assert large("1 1/2") != large("11/2")
    assert len(large("1 1/2")[0]) > len(large("11/2")[0])


@pytest.mark.parametrize("club", ["ashby-driver", "quilter-7-iron", "wexcombe-driver", "tansley-pw", "sorley-7-iron"])
def test_every_caution_stands_at_a_step_in_full_and_before_it(club: str, demo_file: Path) -> None:
    sheet = club_sheet(specdb.open(demo_file), SheetRequest(club))
    told = {text for step in sheet.steps for text in step.hazards}
    assert set(sheet.cautions) <= told
    for at, step in enumerate(sheet.steps):
        lines, warned = step_lines(sheet, Work(at=at), 73)
        flat = " ".join(" ".join("".join(text for text, _ in line).split()) for line in lines)
        for text in step.hazards:
            assert text in flat.replace("CAUTION ", "")
            assert flat.index(text[:20]) < flat.index(step.detail[1:20])
        shown = " ".join("".join(text for text, _ in lines[i]) for i in warned).split()
        assert sum(len(text.split()) for text in step.hazards) + bool(step.hazards) == len(shown)
    # dust where it is cut and abraded, epoxy where it is glued
    by_title = {step.title: " ".join(step.hazards) for step in sheet.steps}
    assert "dust" in by_title["Cut the butt"]
    assert "dust" in by_title["Abrade and dry-fit"]
    assert "Epoxy" in by_title["Glue"]


def test_dimensions_are_in_inches_and_mm_from_a_named_end(demo_file: Path) -> None:
    sheet = club_sheet(specdb.open(demo_file), SheetRequest("ashby-driver"))
    figures = {step.title: step.figures for step in sheet.steps}
    (trim,) = figures["Tip trim"]
    assert (trim.value, trim.other) == ("1/2 in", "12.7 mm")
    assert "raw TIP end" in trim.where
    exposed, seat, cut = figures["Cut the butt"]
    assert ("TOP of the adapter" in exposed.where, "SEAT" in seat.where, "cut TIP end" in cut.where) == (
        True,
        True,
        True,
    )
    # 25.4 mm to the inch
    assert abs(float(cut.other.split()[0]) - 25.4 * (43 + 15 / 16)) < 1.0
    at = [step.title for step in sheet.steps].index("Cut the butt")
    assert "= 1116 mm" in _text(sheet, at)


def test_parts_stand_where_they_are_needed_with_their_places(demo_file: Path) -> None:
    sheet = club_sheet(specdb.open(demo_file), SheetRequest("ashby-driver"))
    first = " ".join(_text(sheet, 0).split())
    assert "shaft hollin-reach-sker-60-s: NONE ON HAND" in first
    assert "grip pellow-reed-50-600: grip wall, 24 on hand" in first
    grip = next(n for n, step in enumerate(sheet.steps) if step.title == "Grip")
    assert "grip wall" in _text(sheet, grip)
    assert "glue cupboard" not in _text(sheet, grip)


def test_a_club_that_does_not_fit_says_so_at_every_step(demo_file: Path) -> None:
    sheet = replace(
        club_sheet(specdb.open(demo_file), SheetRequest("ashby-driver")), verdict="DOES NOT FIT: not to be built."
    )
    for at in range(len(sheet.steps)):
        lines, warned = step_lines(sheet, Work(at=at), 73, said=(sheet.verdict,))
        assert warned[0] == 2
        assert "DOES NOT FIT" in "".join(text for text, _ in lines[2])


# ---- how far it has come


@pytest.fixture
def log(tmp_path: Path) -> WorkLog:
    return WorkLog(Memory(tmp_path / "state", tmp_path / "shop.duckdb"))


def test_ticks_are_kept_at_once_and_by_two_terminals(log: WorkLog, tmp_path: Path) -> None:
    assert log.read(CLUB) == Work()
    log.tick(CLUB, STEPS, 0, NOW)
    other = WorkLog(Memory(tmp_path / "state", tmp_path / "shop.duckdb"))
    assert other.read(CLUB).at == 1
    other.tick(CLUB, STEPS, 1, NOW + dt.timedelta(minutes=9))
    log.tick(CLUB, STEPS, 2, NOW + dt.timedelta(minutes=12))
    found = log.read(CLUB)
    assert found.at == 3
    assert [found.done[mark_of(step)] for step in STEPS[:3]] == [
        "2026-11-25T14:05:00+00:00", "2026-11-25T14:14:00+00:00", "2026-11-25T14:17:00+00:00",
    ]  # fmt: skip
    log.tick(CLUB, STEPS, 0, NOW + dt.timedelta(hours=1))  # ticked again: it was done when it was done
    assert log.read(CLUB).done[mark_of(STEPS[0])] == "2026-11-25T14:05:00+00:00"
    log.tick(CLUB, STEPS, 0, None)
    assert mark_of(STEPS[0]) not in log.read(CLUB).done
    assert log.read(UnitMeant("another")) == Work()


def test_a_step_that_has_changed_is_not_done(log: WorkLog) -> None:
    log.tick(CLUB, STEPS, 0, NOW)
    changed = (replace(STEPS[0], detail="do it with another shaft"), *STEPS[1:])
    assert mark_of(changed[0]) not in log.read(CLUB).done
    log.tick(CLUB, changed, 1, NOW)
    assert mark_of(STEPS[0]) not in log.read(CLUB).done


@pytest.mark.parametrize("spoilt", ["", "{", "[]", json.dumps({"at": "x", "done": {}}), json.dumps({"at": 1})])
def test_a_spoilt_file_is_work_not_begun(spoilt: str, log: WorkLog) -> None:
    log.go(CLUB, 2)
    (path,) = log.folder.glob("*.json")
    path.write_text(spoilt, encoding="utf-8")
    assert log.read(CLUB) == Work()
    log.go(CLUB, 1)
    assert log.read(CLUB).at == 1


def test_reaming_and_sleeves_bring_their_cautions_to_their_own_steps(demo_file: Path) -> None:
    # a .335 shaft in an iron whose bore is for another tip: the plan reams, sleeves and takes another ferrule
    sheet = club_sheet(specdb.open(demo_file), SheetRequest("quilter-7-iron", "ambrel-lyde-60-r", 0.0))
    by_title = {step.title: " ".join(step.hazards) for step in sheet.steps}
    assert "Reaming can crack a hosel" in by_title["Ream"]
    assert "Metal dust" in by_title["Ream"]
    assert "repair-grade measure" in by_title["Sleeve"]
    order = list(by_title)
    assert order.index("Ream") < order.index("Sleeve") < order.index("Glue") < order.index("Cut the butt")
    assert set(sheet.cautions) <= {text for step in sheet.steps for text in step.hazards}
