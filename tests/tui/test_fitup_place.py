"""The place Fit-up by keyboard: drawing and verdict follow every change; what is missing and what to do is shown."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Static

from specdb.fitup.report import Check, CheckVerdict, FitReport, Operation, Step, Verdict
from specdb.tui.app import SpecdbApp
from specdb.tui.fitup.asked import from_memory, to_memory, with_insertion, with_part, with_trim
from specdb.tui.fitup.place import FitUpScreen
from specdb.tui.fitup.words import check_lines, field_in_words, figure, report_lines, verdict_line
from specdb.tui.widgets.prose import Line, sentence
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.catalogue.opening import open as open_catalogue
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.clubs.fitup import adapter_for, fit_inputs, fitup_of
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

DRIVER: dict[str, Any] = {"shaft": "hollin-reach-sker-60-s", "head": "orrin-vale-escarp-460-10.5-rh"}


def screen_of(app: SpecdbApp) -> FitUpScreen:
    screen = app.screen
    assert isinstance(screen, FitUpScreen)
    return screen


async def opened(pilot: AppPilot, **arguments: Any) -> FitUpScreen:
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    app.open_place("fitup", **arguments)
    await pilot.pause()
    await settled(pilot)
    return screen_of(app)


def text_of(lines: list[Line]) -> str:
    return "\n".join("".join(text for text, _ in line) for line in lines)


def shown(screen: FitUpScreen, name: str) -> str:
    return str(screen.query_one(name, Static).visual)


@pytest.mark.parametrize("size", [SMALL, WIDE])
async def test_a_fitted_club_is_taken_over_with_three_keys_and_its_name(
    make: AppFactory, size: tuple[int, int]
) -> None:
    app = make()
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        await pilot.press("f5")
        await settled(pilot)
        assert "Choose a shaft" in on_screen(app)
        await pilot.press("c", *"ashby", "space", *"dri")
        await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        seen = on_screen(app)
        assert "FITS" in seen
        assert "Hollin Reach Sker 60 S" in seen
        assert "vale-eight-eight-335" in seen
        assert "tip at mouth" in seen
        assert "bore 1.300 in deep" in seen


async def test_the_verdict_is_the_verbs_own(make: AppFactory, demo: Path) -> None:
    asked = ClubRequest(**DRIVER, adapter="vale-eight-eight-350", tip_trim_in=1.0)
    report = fitup_of(open_catalogue(demo), asked)
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        screen = await opened(pilot, **DRIVER, adapter="vale-eight-eight-350", tip_trim_in=1.0)
        assert screen.judged is not None
        assert screen.judged.report.to_json() == report.to_json()
        text = shown(screen, "#report").replace("\n", " ")
        for step in report.preparation:
            assert step.detail.split(";")[0] in " ".join(text.split())
        for check in report.checks:
            assert check.name.replace("_", " ") in text
        for caution in report.cautions:
            assert " ".join(caution.split()) in " ".join(text.split()), "cautions are written in full"


async def test_trim_by_key_changes_figures_and_verdict_at_once(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await opened(pilot, club="ashby-driver")
        assert screen.asked.tip_trim_in == 0.5
        assert "FITS " in shown(screen, "#verdict")
        before = shown(screen, "#drawing")
        await pilot.press("right")
        await settled(pilot)
        assert screen.asked.tip_trim_in == 0.75
        await pilot.press("shift+left", "plus", "minus", "full_stop")
        await settled(pilot)
        assert screen.asked.tip_trim_in == pytest.approx(0.5625), (
            "a sixteenth less, to the next quarters, a sixteenth more"
        )
        await pilot.press(*["right"] * 12)
        await settled(pilot)
        assert screen.asked.tip_trim_in == pytest.approx(3.5)
        assert "PREPARATION" in shown(screen, "#verdict")
        assert shown(screen, "#drawing") != before
        assert "tight" in shown(screen, "#drawing")
        assert " tight" in on_screen(app), "the word is not cut at 80 columns"
        assert "╳" in shown(screen, "#drawing")


async def test_insertion_by_key_leaves_a_gap_under_the_tip(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await opened(pilot, club="ashby-driver")
        await pilot.press("left_square_bracket")
        await settled(pilot)
        # 1.300 in is no whole sixteenth: the next one below is 1.250 in
        assert screen.asked.insertion_in == pytest.approx(1.25)
        assert "0.050 in under the tip" in shown(screen, "#drawing")
        await pilot.press(*["left_square_bracket"] * 5)
        await settled(pilot)
        assert "does not fit".upper() in shown(screen, "#verdict") or "PREPARATION" in shown(screen, "#verdict")
        await pilot.press(*["right_square_bracket"] * 6)
        await settled(pilot)
        assert screen.asked.insertion_in is None
        assert "tip on the bottom" in shown(screen, "#drawing")


async def test_a_trim_is_typed_as_people_write_it(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await opened(pilot, club="ashby-driver")
        await pilot.press("t", "ctrl+u", *"1", "space", *"1/")
        await pilot.press("x", "enter")
        await settled(pilot)
        assert app.screen is not screen, "what cannot be read is not taken"
        await pilot.press("backspace", "4")
        await settled(pilot)
        assert "1.25 in" in on_screen(app)
        await pilot.press("enter")
        await settled(pilot)
        assert screen.asked.tip_trim_in == 1.25


async def test_a_head_with_a_connection_brings_an_adapter_and_says_so(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        screen = await opened(pilot, **DRIVER)
        assert screen.asked.adapter == "vale-eight-eight-335", "right-handed, bored for a 0.335 in tip"
        assert "taken" in shown(screen, "#report")
        await pilot.press("e")
        await settled(pilot)
        assert screen.asked.setting is not None
        await pilot.press("A")
        await settled(pilot)
        # without one the fit cannot be told: the best is taken again
        assert screen.asked.adapter == "vale-eight-eight-335"
    inputs = fit_inputs(open_catalogue(demo), ClubRequest(**{**DRIVER, "head": "orrin-vale-escarp-460-10.5-lh"}))
    taken = adapter_for(inputs)
    assert taken is not None
    assert taken.hand in ("left", "either")


async def test_the_prepared_build_is_drawn_on_request(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await opened(pilot, shaft=DRIVER["shaft"], head="brackwater-slipway-420-10.5-rh")
        assert "loose" in shown(screen, "#drawing")
        await pilot.press("p")
        await settled(pilot)
        drawn = shown(screen, "#drawing")
        assert "PREPARED" in drawn
        assert "loose" not in drawn
        assert "sleeve at mouth" in drawn


async def test_what_is_missing_is_named(make: AppFactory, demo: Path) -> None:
    set_fields(open_catalogue(demo), "head", "brackwater-slipway-420-10.5-rh", ["bore_dia_in="])
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        screen = await opened(pilot, shaft=DRIVER["shaft"], head="brackwater-slipway-420-10.5-rh")
        assert "UNKNOWN" in shown(screen, "#verdict")
        assert "No drawing without head.bore_dia_in" in shown(screen, "#drawing")
        assert "What is missing" in shown(screen, "#report")
        assert "head.bore_dia_in" in shown(screen, "#report")


async def test_a_change_by_another_program_is_seen(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await opened(pilot, shaft=DRIVER["shaft"], head="brackwater-slipway-420-10.5-rh", tip_trim_in=0.25)
        set_fields(open_catalogue(demo), "head", "brackwater-slipway-420-10.5-rh", ["bore_dia_in=.339"])
        await until(pilot, lambda: "0.3390" in shown(screen, "#drawing"), seconds=2.5)
        assert screen.asked.tip_trim_in == 0.25, "what was typed here stays"


async def test_the_last_question_is_remembered(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, club="ashby-driver")
        await pilot.press("right")
        await settled(pilot)
    app.close_down()
    again = make(start="fitup")
    async with again.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = screen_of(again)
        assert screen.asked.shaft == DRIVER["shaft"]
        assert screen.asked.tip_trim_in == 0.75
        assert screen.judged is not None


async def test_a_part_that_is_not_there_is_said_beside_the_parts(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await opened(pilot, shaft="no-such-shaft", head=DRIVER["head"])
        assert "There is no shaft 'no-such-shaft'" in shown(screen, "#verdict")


@pytest.mark.parametrize("size", [SMALL, (200, 60)])
async def test_parts_can_be_clicked(make: AppFactory, size: tuple[int, int]) -> None:
    app = make()
    async with app.run_test(size=size) as pilot:
        screen = await opened(pilot, club="ashby-driver")
        lines = [line.rstrip() for line in on_screen(app).splitlines()]
        row = next(i for i, line in enumerate(lines) if "h head" in line)
        await pilot.click(offset=(lines[row].index("h head") + 3, row))
        await settled(pilot)
        assert app.screen is not screen


# ---- the parts without a screen


@pytest.mark.parametrize(
    ("value", "step", "wanted"),
    [(0.5, 0.25, 0.75), (0.6, 0.25, 0.75), (0.6, -0.25, 0.5), (0.0, -0.25, 0.0), (0.3, 0.0625, 0.3125)],
)
def test_steps_of_trim_come_to_the_marks_of_a_rule(value: float, step: float, wanted: float) -> None:
    assert with_trim(ClubRequest(tip_trim_in=value), step).tip_trim_in == pytest.approx(wanted)


def test_the_full_depth_is_no_insertion_given() -> None:
    assert with_insertion(ClubRequest(insertion_in=1.25), 0.0625, 1.3).insertion_in is None
    assert with_insertion(ClubRequest(), -0.0625, 1.3).insertion_in == pytest.approx(1.25)
    assert with_insertion(ClubRequest(), -0.0625, None).insertion_in is None, "no depth, nothing to step from"


def test_another_shaft_keeps_no_trim_of_the_one_before() -> None:
    asked = ClubRequest(shaft="a", head="h", tip_trim_in=1.0, sleeve="s", adapter="x", setting="mid")
    other = with_part(asked, "shaft", "b")
    assert (other.tip_trim_in, other.sleeve, other.adapter) == (None, None, "x")
    head = with_part(asked, "head", "g")
    assert (head.adapter, head.setting, head.tip_trim_in) == (None, None, 1.0)


def test_a_question_is_remembered_whole_and_a_spoilt_one_in_part() -> None:
    asked = ClubRequest(shaft="a", head="h", tip_trim_in=1.25, swingweight="D2")
    assert from_memory(to_memory(asked)) == asked
    assert from_memory({"shaft": 3, "head": "h", "tip_trim_in": "x", "other": 1}) == ClubRequest(head="h")


def test_figures_carry_their_units() -> None:
    assert figure("clearance_at_mouth_in", 0.0035) == "clearance at mouth 0.0035 in"
    assert figure("bonded_area_in2", 1.25) == "bonded area 1.25 in²"
    assert figure("pull_n", 817.0) == "pull 817 N"
    assert figure("margin_1", 6.6) == "margin 6.6"


def test_a_missing_field_is_said_in_words() -> None:
    assert field_in_words("head.bore_depth_in").startswith("Bore depth")
    assert "head.bore_depth_in" in field_in_words("head.bore_depth_in")
    assert field_in_words("adapter") == "the adapter"


def test_sentences_hang_under_their_beginning() -> None:
    lines = sentence("one two three four five six", 24, before=(("NO  ", "bad"),))
    assert [len(text_of([line])) <= 24 for line in lines] == [True] * len(lines)
    assert all(text_of([line]).startswith("    ") for line in lines[1:])


def test_what_stands_against_the_build_comes_first_and_figures_on_request() -> None:
    checks = (
        Check("hand", CheckVerdict.FITS, "head for the right hand"),
        Check("tip_in_bore", CheckVerdict.DOES_NOT_FIT, "too tight", {"too_tight_by_in": 0.002}),
    )
    step = Step(Operation.REAM, "ream it", None, None, None, "Mind the wall.", 0.2)
    report = FitReport(Verdict.FITS_WITH_PREPARATION, checks, (step,), (), ("Epoxy.",))
    text = text_of(report_lines(report, 70, figures=True))
    assert text.index("ream it") < text.index("Mind the wall.") < text.index("too tight") < text.index("right hand")
    assert "too tight by 0.002 in" in text
    assert "0.002" not in text_of(check_lines(checks[1], 70, figures=False))
    assert text.index("Cautions") < text.index("Epoxy.")
    assert "first ream" in text_of(verdict_line(report, 70))


@pytest.mark.parametrize("width", [60, 78, 118])
def test_the_verdict_takes_two_lines_whatever_it_says(width: int) -> None:
    check = Check("tip_in_bore", CheckVerdict.DOES_NOT_FIT, "a long sentence about the fit " * 12)
    lines = verdict_line(FitReport(Verdict.DOES_NOT_FIT, (check,)), width)
    assert len(lines) == 2
    assert all(len(text_of([line])) <= width for line in lines)


@pytest.mark.parametrize("size", [SMALL, WIDE])
@pytest.mark.parametrize("case", ["fits", "prepared"])
def test_fit_up_looks_as_it_did(make: AppFactory, snap_compare: Any, size: tuple[int, int], case: str) -> None:
    arguments: dict[str, Any] = {"club": "ashby-driver"}
    if case == "prepared":
        arguments = {"shaft": DRIVER["shaft"], "head": "brackwater-slipway-420-10.5-rh", "ferrule": "ferrule-350-510"}

    async def before(pilot: AppPilot) -> None:
        await opened(pilot, **arguments)
        if case == "prepared":
            await pilot.press("p")
        await settled(pilot)

    assert snap_compare(make(), terminal_size=size, run_before=before)
