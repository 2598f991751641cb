"""The place Fitted clubs by keyboard: the list with its numbers, the form with live numbers, two clubs compared."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.widgets import Input, Static

from specdb.catalogue import Catalogue
from specdb.tui.app import SpecdbApp
from specdb.tui.clubs.compare import CompareScreen, curves_of, pair_lines
from specdb.tui.clubs.form import ClubForm
from specdb.tui.clubs.place import ClubScreen
from specdb.tui.clubs.words import figure_of, number_grid, number_lines, recorded_words, rows_of_pair
from specdb.tui.dialogs.differs import DiffersDialog
from specdb.tui.fitup.place import FitUpScreen
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.entry import EntryInput
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import Line
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.clubs.fitted import Recorded, compare_clubs, numbers_of, numbers_of_typed
from specdb.verbs.clubs.mechanics import mechanics_of
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

LARGE = (200, 60)


def text_of(lines: list[Line]) -> str:
    return "\n".join("".join(text for text, _ in line) for line in lines)


async def listed(pilot: AppPilot, words: str = "") -> ClubScreen:
    """The list, with the cursor on the first club that has some words."""
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    app.open_place("clubs")
    await pilot.pause()
    await settled(pilot)
    screen = app.screen
    assert isinstance(screen, ClubScreen)
    if words:
        await pilot.press("slash", *words, "enter")
    await pilot.pause(0.15)
    await settled(pilot)
    return screen


async def in_form(pilot: AppPilot, words: str) -> ClubForm:
    await listed(pilot, words)
    await pilot.press("enter")
    await settled(pilot)
    form = pilot.app.screen
    assert isinstance(form, ClubForm)
    return form


async def worked_out(pilot: AppPilot) -> None:
    """Wait for the pause in the typing, and for the numbers."""
    await pilot.pause(0.2)
    await settled(pilot)


def put(form: ClubForm, field: str, text: str) -> None:
    form.body.entries[field].put(text)


def numbers_shown(screen: ClubForm | ClubScreen) -> str:
    name = "#live Static" if isinstance(screen, ClubForm) else "#numbers Static"
    return str(screen.query_one(name, Static).visual)


# ---- the list


@pytest.mark.parametrize("size", [SMALL, LARGE])
async def test_the_list_shows_clubs_and_the_numbers_of_the_one_of_the_cursor(
    make: AppFactory, demo: Path, size: tuple[int, int]
) -> None:
    values = mechanics_of(Catalogue(demo), ClubRequest(club="ashby-driver")).values
    app = make()
    async with app.run_test(size=size) as pilot:
        screen = await listed(pilot, "ashby-driver")
        seen = on_screen(app)
        assert screen.club == "ashby-driver"
        for text in ("Rowan Ashby", "Driver", "hollin-reach-sker-60-s", "orrin-vale-escarp-460", "FITS"):
            assert text in seen
        for key, decimals in (("cut_length_in", 2), ("frequency_cpm", 1), ("total_weight_g", 1), ("torque_deg", 2)):
            assert f"{values[key]:.{decimals}f}" in seen, key
        assert values["swingweight"] in seen


async def test_numbers_follow_the_cursor_and_searching_narrows_the_list(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await listed(pilot)
        first, everything = numbers_shown(screen), screen.query_one(PagedTable).row_count
        await pilot.press("down")
        await pilot.pause(0.15)
        await settled(pilot)
        assert numbers_shown(screen) != first
        await pilot.press("slash", *"quilter")
        await settled(pilot)
        assert 0 < screen.query_one(PagedTable).row_count < everything
        await pilot.press("escape")
        await settled(pilot)
        assert screen.query_one(PagedTable).row_count == everything


async def test_letters_typed_ahead_of_the_search_are_words_and_no_actions(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        for sign in "/sorley 7":
            app.post_message(events.Key({"/": "slash", " ": "space"}.get(sign, sign), sign))
        await pilot.pause(0.2)
        await settled(pilot)
        screen = app.screen
        assert isinstance(screen, ClubScreen)
        assert screen.query_one("#words", Input).value == "sorley 7"
        assert screen.club == "sorley-7-iron"


async def test_the_cursor_comes_back_to_the_last_club(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await listed(pilot, "wexcombe-7")
    app.close_down()
    again = make(start="clubs")
    async with again.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = again.screen
        assert isinstance(screen, ClubScreen)
        assert screen.club == "wexcombe-7-iron"


async def test_from_the_list_to_the_fit_up(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await listed(pilot, "ashby-driver")
        await pilot.press("f")
        await pilot.pause()
        await settled(pilot)
        screen = app.screen
        assert isinstance(screen, FitUpScreen)
        assert screen.asked.shaft == "hollin-reach-sker-60-s"


async def test_from_the_list_to_the_stand_ins(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await listed(pilot, "ashby-driver")
        await pilot.press("s")
        await pilot.pause()
        await settled(pilot)
        assert app.current_mode == "standins"


async def test_all_numbers_and_cautions_are_one_key_away(make: AppFactory, demo: Path) -> None:
    set_fields(Catalogue(demo), "club", "ashby-driver", ["swingweight=C1"])  # lighter than it can be built
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await listed(pilot, "ashby-driver")
        await pilot.press("i")
        await settled(pilot)
        text = " ".join(str(app.screen.query(Static).first().visual).split())
        numbers = numbers_of(Catalogue(demo), "ashby-driver")
        assert numbers.values is not None
        assert numbers.values["cautions"]
        for said in (*numbers.values["cautions"], *numbers.values["assumed"]):
            assert said[1:] in text
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, ClubScreen)


# ---- the form


async def test_numbers_change_as_one_types(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        form = await in_form(pilot, "ashby-driver")
        assert form.numbers is not None
        before = form.numbers.values
        form.body.entries["tip_trim_in"].input.focus()
        await pilot.press("end", *["backspace"] * 5, *"1", "space", "1", "slash", "2")
        await worked_out(pilot)
        assert form.numbers.values is not None
        assert before is not None
        assert form.numbers.values["tip_trim_in"] == 1.5
        assert form.numbers.values["frequency_cpm"] > before["frequency_cpm"], "tipping stiffens"
        wanted = mechanics_of(Catalogue(demo), ClubRequest(club="ashby-driver", tip_trim_in=1.5)).values
        assert form.numbers.values["frequency_cpm"] == pytest.approx(wanted["frequency_cpm"])
        assert f"{wanted['frequency_cpm']:.1f}" in on_screen(app)


async def test_what_cannot_be_read_leaves_the_numbers_of_before_and_says_so(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        form = await in_form(pilot, "ashby-driver")
        before = form.numbers
        put(form, "tip_trim_in", "half an inch or so")
        await worked_out(pilot)
        assert form.numbers is before
        assert "As before, until it can be read: Tip trim" in numbers_shown(form)
        put(form, "tip_trim_in", "0.75")
        await worked_out(pilot)
        assert "As before" not in numbers_shown(form)


async def test_what_is_missing_is_said_in_place_of_numbers(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await listed(pilot)
        await pilot.press("n")
        await settled(pilot)
        form = app.screen
        assert isinstance(form, ClubForm)
        assert "Name the shaft." in numbers_shown(form)
        put(form, "shaft_id", "hollin-reach-sker-60-s")
        put(form, "head_id", "orrin-vale-escarp-460-10.5-rh")
        await worked_out(pilot)
        assert "Name the playing length." in numbers_shown(form)
        put(form, "playing_length_in", "1150 mm")
        await worked_out(pilot)
        assert "adapter" in numbers_shown(form).lower()
        put(form, "adapter_id", "vale-eight-eight-335")
        await worked_out(pilot)
        assert form.numbers is not None
        assert form.numbers.values is not None
        assert "frequency" in numbers_shown(form)


async def test_a_club_is_entered_by_keyboard_and_saved(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await listed(pilot)
        await pilot.press("n")
        await settled(pilot)
        assert isinstance(app.focused, EntryInput)
        await pilot.press(*"Hollis", "space", *"Vane", "tab", *"Driver")
        form = app.screen
        assert isinstance(form, ClubForm)
        for field, text in (
            ("head_id", "orrin-vale-escarp-460-10.5-rh"),
            ("adapter_id", "vale-eight-eight-335"),
            ("shaft_id", "hollin-reach-sker-60-s"),
            ("grip_id", "pellow-reed-50-600"),
        ):
            put(form, field, text)
        form.body.entries["playing_length_in"].input.focus()
        await pilot.press(*"45", "space", "1", "slash", "4")
        form.body.entries["swingweight"].input.focus()
        await pilot.press("D", "3")
        await worked_out(pilot)
        await pilot.press("ctrl+s")
        await until(pilot, lambda: app.screen is screen)
        await settled(pilot)
        assert screen.club == "hollis-vane-driver"
    with Catalogue(demo).read() as reader:
        club = reader.get("club", "hollis-vane-driver")
    assert (club.player, club.playing_length_in, club.swingweight) == ("Hollis Vane", 45.25, "D3")


async def test_what_is_half_typed_comes_back(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        form = await in_form(pilot, "ashby-driver")
        put(form, "tip_trim_in", "1.125")
        await pilot.pause(0.6)
    app.close_down()
    again = make()
    async with again.run_test(size=SMALL) as pilot:
        await settled(pilot)
        if not isinstance(again.screen, ClubForm):  # forms come back by themselves, or when opened again
            form = await in_form(pilot, "ashby-driver")
        else:
            form = again.screen
        await worked_out(pilot)
        assert form.body.entries["tip_trim_in"].text == "1.125"
        assert form.numbers is not None
        assert form.numbers.values is not None
        assert form.numbers.values["tip_trim_in"] == 1.125


async def test_the_second_to_save_is_shown_the_difference(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        form = await in_form(pilot, "ashby-driver")
        put(form, "tip_trim_in", "1.25")
        await worked_out(pilot)
        set_fields(Catalogue(demo), "club", "ashby-driver", ["tip_trim_in=0.75"], by="Wilmot Dray")
        await pilot.press("ctrl+s")
        await until(pilot, lambda: isinstance(app.screen, DiffersDialog))
        await until(pilot, lambda: "0.75" in on_screen(app))
        assert "1.25" in on_screen(app)
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen is form
    with Catalogue(demo).read() as reader:
        assert reader.get("club", "ashby-driver").tip_trim_in == 0.75, "nothing is written over silently"


async def test_a_change_of_a_part_by_another_program_changes_the_numbers(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        form = await in_form(pilot, "ashby-driver")
        assert form.numbers is not None
        before = form.numbers.values
        set_fields(Catalogue(demo), "head", "orrin-vale-escarp-460-10.5-rh", ["weight_g=205"])
        await until(pilot, lambda: form.numbers is not None and form.numbers.values != before, seconds=3.0)


async def test_the_fit_up_is_asked_with_what_is_typed_and_not_saved(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        form = await in_form(pilot, "ashby-driver")
        put(form, "tip_trim_in", "1.75")
        await worked_out(pilot)
        await pilot.press("ctrl+g")
        await pilot.pause()
        await settled(pilot)
        screen = app.screen
        assert isinstance(screen, FitUpScreen)
        assert screen.asked.tip_trim_in == 1.75
        await pilot.press("f3")
        await settled(pilot)
        assert app.screen is form, "the form still stands"


# ---- two clubs


@pytest.mark.parametrize("size", [SMALL, LARGE])
async def test_two_clubs_are_compared_with_bars_and_curves(make: AppFactory, demo: Path, size: tuple[int, int]) -> None:
    pair = compare_clubs(Catalogue(demo), "ashby-driver", "wexcombe-driver")
    app = make()
    async with app.run_test(size=size) as pilot:
        await listed(pilot, "ashby-driver")
        await pilot.press("c", *"wexcombe", "space", *"driver")
        await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        screen = app.screen
        assert isinstance(screen, CompareScreen)
        seen = on_screen(app)
        for feature in pair.features:
            assert feature.title in seen
            assert feature.difference is not None
            assert f"{abs(feature.difference):.{feature.decimals}f}" in seen
        picture = screen.query_one(CurvesView).text
        assert "ashby-driver" in picture
        assert "wexcombe-driver" in picture
        await pilot.press("x")
        await settled(pilot)
        assert screen.pair is not None
        assert screen.pair.features[0].difference == pytest.approx(-(pair.features[0].difference or 0.0))
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, ClubScreen)


def test_the_summary_says_which_club_is_the_heavier(demo: Path) -> None:
    pair = compare_clubs(Catalogue(demo), "ashby-driver", "quilter-5-iron")
    text = " ".join(text_of(pair_lines(pair, ("ashby-driver", "quilter-5-iron"), 104)).split())
    assert f"quilter-5-iron against ashby-driver: {pair.summary}." in text
    assert "heavier" in pair.summary, "an iron weighs more than a driver (common practice, no source)"


def test_lines_of_a_pair_stand_under_each_other(demo: Path) -> None:
    pair = compare_clubs(Catalogue(demo), "ashby-driver", "wexcombe-driver")
    for width in (74, 104):
        text = text_of(pair_lines(pair, ("ashby-driver", "wexcombe-driver"), width)).splitlines()
        assert max(len(line.rstrip()) for line in text) <= width
        bars = [line for line in text if "│" in line]
        assert len(bars) == len(pair.features)
        assert len({line.index("│") for line in bars}) == 1, "the middle of every bar is in one column"


def test_curves_have_a_band_of_ninety_percent(demo: Path) -> None:
    pair = compare_clubs(Catalogue(demo), "ashby-driver", "wexcombe-driver")
    one, other = curves_of(pair, ("ashby-driver", "wexcombe-driver"))
    assert one.stroke != other.stroke, "told apart without colour"
    profile = pair.profiles[0]
    # 90 % of a normal distribution lies within 1.645 standard deviations (table of the normal distribution)
    assert one.high[10] - one.y[10] == pytest.approx(1.645 * float(profile.sd_n_m2[10]))


# ---- the words


def test_every_number_has_its_doubt_and_unit(demo: Path) -> None:
    numbers = numbers_of(Catalogue(demo), "ashby-driver")
    assert numbers.values is not None
    text = text_of(number_lines(numbers, 46))
    for key, unit in (("frequency_cpm", "cpm"), ("torque_deg", "deg"), ("total_weight_g", "g")):
        line = next(row for row in text.splitlines() if f"{numbers.values[key]:.1f}"[:4] in row and unit in row)
        assert "±" in line
    assert "Recorded of the fitted club" in text


@pytest.mark.parametrize("club", ["ashby-driver", "quilter-putter", "tansley-pw", "sorley-7-iron"])
@pytest.mark.parametrize("width", [76, 100])
def test_the_grid_stays_within_a_small_screen(demo: Path, club: str, width: int) -> None:
    numbers = numbers_of(Catalogue(demo), club)
    lines = text_of(number_grid(numbers, width)).splitlines()
    assert len(lines) <= 7
    assert max(len(line.rstrip()) for line in lines) <= width


def test_a_record_far_off_is_marked_in_words() -> None:
    near = Recorded("frequency", "cpm", 253.0, 252.2, 2.2)
    far = Recorded("frequency", "cpm", 263.0, 252.2, 2.2)
    assert "within its doubt" in recorded_words(near)
    assert "look at both" in recorded_words(far)
    assert "10.8 cpm more" in recorded_words(far)


def test_no_doubt_is_written_where_there_is_none(demo: Path) -> None:
    values = numbers_of(Catalogue(demo), "ashby-driver").values
    assert values is not None
    rows = {row.key: figure_of(values, row) for row, _, _ in rows_of_pair(values, values)}
    assert rows["tip_trim_in"] == ("0.50", "")
    assert not math.isnan(float(rows["cut_length_in"][1]))


def test_nothing_named_says_what_to_name(demo: Path) -> None:
    text = text_of(number_grid(numbers_of_typed(Catalogue(demo), {}), 76))
    for words in ("Name the shaft.", "Name the head.", "Name the playing length."):
        assert words in text


# ---- as it looks


@pytest.mark.parametrize("size", [SMALL, WIDE])
@pytest.mark.parametrize("case", ["list", "form", "compare"])
def test_fitted_clubs_look_as_they_did(
    make: AppFactory, snap_compare: Any, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], case: str
) -> None:
    monkeypatch.setattr("specdb.tui.widgets.words.day", lambda _: "3 Nov 2026")  # the demonstration was imported today

    async def before(pilot: AppPilot) -> None:
        await listed(pilot, "ashby-driver")
        if case == "form":
            await pilot.press("enter")
            await settled(pilot)
            pilot.app.screen.query_one("#by", Input).value = "Robin"
            for typed in pilot.app.screen.query(Input):
                typed.cursor_blink = False
        if case == "compare":
            await pilot.press("c", *"wexcombe", "space", *"driver")
            await settled(pilot)
            await pilot.press("enter")
        await pilot.pause(0.15)
        await settled(pilot)

    assert snap_compare(make(), terminal_size=size, run_before=before)
