"""The place Stand-ins by keyboard: from a backordered shaft to a decision that is kept."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input

from specdb.catalogue import Catalogue
from specdb.tui.app import SpecdbApp
from specdb.tui.dialogs.words import WordsDialog
from specdb.tui.fitup.place import FitUpScreen
from specdb.tui.standins.asked import TOP
from specdb.tui.standins.place import CLUBS, RANKING, StandInsScreen
from specdb.tui.standins.weights import WeightsPane
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.catalogue.changing import move_stock, set_fields
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.matching.substitutes import SearchOptions, substitutes_of
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

CLUB = "ashby-driver"
FITTED = "hollin-reach-sker-60-s"
DAY = dt.date(2026, 11, 20)  # of the demonstration


@pytest.fixture(autouse=True)
def _on_one_day(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("standins.place", "standins.acts"):
        monkeypatch.setattr(f"specdb.tui.{module}.today", lambda: DAY)


def screen_of(app: SpecdbApp) -> StandInsScreen:
    screen = app.screen
    assert isinstance(screen, StandInsScreen), screen
    return screen


async def press(pilot: AppPilot, *keys: str) -> None:
    """Press keys one after the other; what they bring is waited for after the last one, and where a word is one."""
    for i, key in enumerate(keys):
        await pilot.press(key)
        if len(key) > 1 or i == len(keys) - 1:
            await settled(pilot)


def told(app: SpecdbApp) -> str:
    """What notices say."""
    return "\n".join(str(n.message) for n in app._notifications)


async def ranked(pilot: AppPilot, club: str = CLUB) -> StandInsScreen:
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    app.open_place("standins", club=club)
    await pilot.pause()
    await settled(pilot)
    return screen_of(app)


def shafts(screen: StandInsScreen) -> list[str]:
    table = screen.query_one("#ranked", PagedTable)
    return [str(table.row_key(i)) for i in range(table.row_count)]


def text(screen: StandInsScreen, name: str) -> str:
    return screen.query_one(name, LinesView).text


@pytest.mark.parametrize("size", [SMALL, (200, 60)])
async def test_a_stand_in_for_a_backordered_shaft_in_at_most_six_keys(make: AppFactory, size: tuple[int, int]) -> None:
    app = make()
    keys = ["f4", "enter", "enter"]
    assert len(keys) <= 6
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        await press(pilot, *keys)
        seen = on_screen(app)
        assert CLUB in seen
        assert "backordered" in seen
        first = substitutes_of(app.desk.catalogue, ClubRequest(club=CLUB), SearchOptions(top=1)).report.results[0]
        assert f"1. {first.shaft_id}" in seen
        assert "tip stiffness N·m²" in seen
        assert "± doubt" in seen


async def test_clubs_whose_shaft_cannot_be_had_stand_first_and_say_why(make: AppFactory) -> None:
    app = make(start="standins")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        table = screen_of(app).query_one("#club-list", PagedTable)
        supply = [str((table.row_values(i) or {})["supply"]) for i in range(table.row_count)]
        kinds = [0 if s.startswith("backordered") else 1 if s.startswith("none") else 2 for s in supply]
        assert kinds == sorted(kinds)
        assert set(kinds) == {0, 1, 2}
        assert "expected 2027-02-19" in on_screen(app)


async def test_filters_by_key(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        everything = shafts(screen)
        answer = substitutes_of(app.desk.catalogue, ClubRequest(club=CLUB), SearchOptions(top=TOP))
        assert everything == [r.shaft_id for r in answer.report.results]
        await press(pilot, "s")
        assert app.memory.get("standins.filters") == {"in_stock": True}
        held = shafts(screen)
        assert held != everything
        with app.desk.catalogue.read() as reader:
            stock = reader.stock("shaft")
        assert all(stock[s] > 0 for s in held)
        assert "only in stock" in on_screen(app)
        await press(pilot, "p", "1", "0", "0", "enter")
        assert set(shafts(screen)) < set(held)
        await press(pilot, "w", "6", "0", "enter")
        light = shafts(screen)
        with app.desk.catalogue.read() as reader:
            records = {s.id: s for s in reader.rows("shaft")}
        assert light
        assert all((records[s].price or 0) <= 100 for s in light)
        assert all((records[s].weight_g or 0) <= 63 for s in light)  # readings of a piece may lower the published one
        await press(pilot, "a")
        assert shafts(screen) == everything
        assert "all shafts" in on_screen(app)
        await press(pilot, "t")
        tip = records[FITTED].tip_dia_in
        assert {records[s].tip_dia_in for s in shafts(screen)} == {tip}
        await press(pilot, "t", "n")
        assert "without reaming" in on_screen(app)


@pytest.mark.parametrize("size", [SMALL, WIDE])
async def test_every_tab_by_its_number(make: AppFactory, size: tuple[int, int]) -> None:
    app = make()
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "1")
        assert "frequency cpm" in on_screen(app)
        assert "The doubt comes, by variance, from" in text(screen, "#differences-text")
        await press(pilot, "2")
        assert "in from hosel or adapter" in on_screen(app)
        drawn = screen.query_one(CurvesView).text
        assert any(0x2800 < ord(sign) < 0x2900 for sign in drawn)
        assert "fitted" in drawn
        assert "stand-in" in drawn
        await press(pilot, "d")
        assert "against the fitted shaft, %" in on_screen(app)
        await press(pilot, "3")
        assert "Preparation, in order of work" in on_screen(app)
        work = text(screen, "#work-text")
        assert "Epoxy: gloves and eye protection" in work
        assert "come before anything said here" in work.replace("\n  ", " ")
        await press(pilot, "4")
        assert "one unit" in on_screen(app)
        second = shafts(screen)[1]
        await press(pilot, "full_stop")
        assert f"2. {second}" in on_screen(app)
        await press(pilot, "comma", "5")
        assert "the tip does not go in" in on_screen(app)
        assert "why it is" in on_screen(app)


async def test_what_was_left_out_says_the_whole_reason_of_the_row(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "5", "end")
        answer = substitutes_of(app.desk.catalogue, ClubRequest(club=CLUB), SearchOptions(top=TOP))
        key = screen.query_one("#left-list", PagedTable).cursor_key
        assert key is not None
        said = " ".join(text(screen, "#left-why").split())
        assert said == f"{key}: {answer.report.excluded.why(key)}."


async def test_escape_leads_back_step_by_step(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await press(pilot, "f4", "enter", "enter")
        screen = screen_of(app)
        assert not screen.query_one("#ranked").display
        await press(pilot, "escape")
        assert screen.query_one("#ranked").has_focus
        await press(pilot, "escape")
        assert screen._page == CLUBS
        await press(pilot, "enter")
        assert screen._page == RANKING
        await press(pilot, "escape", "escape")
        assert not isinstance(app.screen, StandInsScreen)


async def test_a_stand_in_is_handed_on_to_the_other_places(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        found = screen._found
        assert found is not None
        await press(pilot, "f")
        fitup = app.screen
        assert isinstance(fitup, FitUpScreen)
        assert (fitup.asked.shaft, fitup.asked.tip_trim_in) == (found.shaft_id, found.tip_trim_in)
        await press(pilot, "f4", "b")
        assert app.current_mode == "bench"
        await until(pilot, lambda: found.shaft_id in on_screen(app))


async def test_weights_change_the_ranking_at_once_and_are_kept_under_a_name(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        before = shafts(screen)
        await press(pilot, "4")
        assert screen.query_one(WeightsPane).has_focus
        await press(pilot, "enter", "9", "enter")  # frequency counts nine times
        assert "own weights, not saved" in on_screen(app)
        after = shafts(screen)
        assert after != before
        await press(pilot, "k")
        assert isinstance(app.screen, WordsDialog)
        await press(pilot, *"feel", "ctrl+s")
        assert "weighting feel" in on_screen(app)
        kept = substitutes_of(app.desk.catalogue, ClubRequest(club=CLUB), SearchOptions(top=TOP, weighting="feel"))
        assert [r.shaft_id for r in kept.report.results] == after == shafts(screen)
        await press(pilot, "g", "home", *"default", "enter")
        assert shafts(screen) == before


async def test_choosing_is_kept_with_who_and_why_and_can_be_taken_back(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "down", "c")
        dialog = app.screen
        assert isinstance(dialog, WordsDialog)
        await press(pilot, "ctrl+s")
        assert "Say why" in on_screen(app)
        dialog.query_one("#word-by", Input).value = "Robin"
        dialog.query_one("#word-why", Input).focus()
        await press(pilot, *"on", "space", *"the", "space", *"shelf", "enter")
        await until(pilot, lambda: "chosen: " in text(screen, "#head"))
        shaft = shafts(screen)[1]
        found = next(
            r for r in substitutes_of(app.desk.catalogue, ClubRequest(club=CLUB)).report.results if r.shaft_id == shaft
        )
        with Catalogue(demo).read() as reader:
            kept = next(c for c in reader.rows("choice") if (c.club_id, c.shaft_id) == (CLUB, shaft))
        assert (kept.decision, kept.by, kept.why) == ("chosen", "Robin", "on the shelf")
        assert kept.tip_trim_in == pytest.approx(found.tip_trim_in)
        assert kept.score == pytest.approx(found.score, abs=1e-6)
        await press(pilot, "ctrl+z", "y")
        await until(pilot, lambda: "chosen: " not in text(screen, "#head"))


async def test_a_shaft_turned_down_is_not_proposed_again_and_the_reason_is_told(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        shaft = shafts(screen)[0]
        await press(pilot, "x")
        await press(pilot, *"harsh", "enter")
        await until(pilot, lambda: shaft not in shafts(screen))
        answer = substitutes_of(app.desk.catalogue, ClubRequest(club=CLUB))
        assert answer.report.excluded.why(shaft) == "turned down for this club: harsh"


def flat(app: SpecdbApp) -> str:
    """What the screen shows, without line breaks and frames."""
    return " ".join(on_screen(app).replace("│", " ").split())


async def test_turning_down_the_chosen_one_says_that_the_choice_is_given_up(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "c", *"same", "enter")
        await until(pilot, lambda: "chosen: " in on_screen(app))
        await press(pilot, "x")
        assert "that choice is given up" in flat(app)
        await press(pilot, "escape", "down", "c")
        assert f"Chosen before: {shafts(screen)[0]}" in flat(app)


async def test_a_reason_half_typed_comes_back(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "c", *"same", "escape", "s")
        held = shafts(screen)
    app.close_down()
    again = make()
    async with again.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        assert shafts(screen) == held  # the filters are remembered as well
        await press(pilot, "c")
        assert again.screen.query_one("#word-why", Input).value == "same"


async def test_a_decision_begins_at_why_where_who_is_known(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.memory.put("by", "Robin")
        screen = await ranked(pilot)
        # begun by somebody who did not say who they are
        app.memory.keep_draft(f"standins.chosen/{CLUB}/{shafts(screen)[0]}", {"by": "", "why": ""})
        await press(pilot, "c")
        by, why = (app.screen.query_one(f"#word-{name}", Input) for name in ("by", "why"))
        assert by.value == "Robin"
        assert why.has_focus
        assert "e.g. same feel" in on_screen(app)


async def test_a_club_made_on_the_spot(make: AppFactory, demo: Path) -> None:
    app = make(start="standins")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await press(pilot, "m", "ctrl+s")
        assert "Needed: shaft, head, playing length" in on_screen(app)
        with Catalogue(demo).read() as reader:
            club = reader.get("club", CLUB)
        for name in ("shaft_id", "head_id", "adapter_id", "grip_id", "swingweight"):
            app.screen.query_one(f"#field-{name} EntryInput", Input).value = getattr(club, name)
        app.screen.query_one("#field-playing_length_in EntryInput", Input).value = "45 1/4"
        app.screen.query_one("#field-tip_trim_in EntryInput", Input).value = "12.7 mm"
        await press(pilot, "ctrl+s")
        screen = screen_of(app)
        assert "club made on the spot" in on_screen(app)
        same = substitutes_of(app.desk.catalogue, ClubRequest(club=CLUB), SearchOptions(top=TOP))
        assert shafts(screen)[:5] == [r.shaft_id for r in same.report.results[:5]]
        await press(pilot, "c")
        assert isinstance(app.screen, StandInsScreen)
        assert "keep it under Clubs (F3) first" in told(app)


async def test_what_cannot_be_worked_out_is_said_in_a_sentence(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).read() as reader:
        head = reader.get("club", CLUB).head_id
    set_fields(Catalogue(demo), "head", head, ["weight_g="])
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        assert "weight of head" in text(screen, "#head")
        assert shafts(screen) == []


async def test_a_change_by_another_program_is_seen_within_two_seconds(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "s")
        first = shafts(screen)[0]
        with Catalogue(demo).read() as reader:
            held = reader.stock("shaft")[first]
        move_stock(Catalogue(demo), "use", "shaft", first, held)
        await until(pilot, lambda: first not in shafts(screen), seconds=2.0)


async def test_the_comparison_is_saved_as_text_never_written_over_or_printed(
    make: AppFactory, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "o", "enter")
        shaft = shafts(screen)[0]
        path = tmp_path / f"stand-in-{CLUB}-{shaft}.txt"
        await until(pilot, path.exists)
        kept = path.read_text(encoding="utf-8")
        heads = ("± doubt", "Cautions", "Preparation", "in from hosel or adapter")
        for needed in (CLUB, FITTED, shaft, *heads, "2026-11-20"):
            assert needed in kept
        assert max(len(line) for line in kept.split("\n")) <= 78
        await press(pilot, "o", "enter")
        assert "already" in on_screen(app)
        assert isinstance(app.screen, WordsDialog)
        assert path.read_text(encoding="utf-8") == kept
        monkeypatch.setattr("specdb.tui.standins.saving.shutil.which", lambda _: None)
        await press(pilot, "escape", "P")
        assert "no printer command" in told(app)


async def test_why_not_names_the_reason_of_a_shaft(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        await ranked(pilot)
        await press(pilot, "y")
        await press(pilot, *"sker-60-s")
        await press(pilot, "enter")
        assert "the fitted shaft itself" in told(app)


async def test_without_colour_everything_is_still_there(make: AppFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        await press(pilot, "2")
        strips = screen._compositor.render_strips()
        assert all(segment.style is not None for strip in strips for segment in strip)
        assert "fitted" in screen.query_one(CurvesView).text
        await press(pilot, "1")
        assert "●" in on_screen(app)


async def test_the_size_may_change_at_any_time(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await ranked(pilot)
        for size in ((200, 60), (60, 15), (180, 24)):
            await pilot.resize_terminal(*size)
            await settled(pilot)
            for key in "12345":
                await press(pilot, key)
        assert shafts(screen)


CASES = {
    "clubs": ["f4"],
    "list": ["f4", "enter", "down"],
    "differences": ["f4", "enter", "down", "enter"],
    "weights": ["f4", "enter", "4", "plus"],
}


@pytest.mark.parametrize("size", [SMALL, WIDE])
@pytest.mark.parametrize("case", CASES)
def test_stand_ins_look_as_they_did(make: AppFactory, snap_compare: Any, size: tuple[int, int], case: str) -> None:
    async def before(pilot: AppPilot) -> None:
        await settled(pilot)
        await press(pilot, *CASES[case])
        for typed in pilot.app.screen.query(Input):
            typed.cursor_blink = False

    assert snap_compare(make(), terminal_size=size, run_before=before)
