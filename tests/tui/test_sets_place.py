"""Fitted sets by keyboard: what is shown, putting a set together, the next club down, sheets, stand-ins for it all."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.errors import SpecdbError
from specdb.sets.result import SetStandIn
from specdb.tui.app import SpecdbApp
from specdb.tui.clubs.form import ClubForm
from specdb.tui.clubs.place import ClubScreen
from specdb.tui.dialogs.words import WordsDialog
from specdb.tui.fitup.place import FitUpScreen
from specdb.tui.sets.members import SetMembersDialog
from specdb.tui.sets.place import SetsScreen
from specdb.tui.sets.standins import SetStandInsScreen
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.matching.substitutes import SearchOptions
from specdb.verbs.sets.sets import set_mechanics_of
from specdb.verbs.sets.substitutes import set_substitutes_of
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])
QUILTER = "quilter-irons"
DAY = dt.date(2026, 11, 20)  # of the demonstration


@pytest.fixture(autouse=True)
def _on_one_day(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for module in ("sets.standins", "sets.standins_acts"):
        monkeypatch.setattr(f"specdb.tui.{module}.today", lambda: DAY)
    (tmp_path / "bench").mkdir()
    monkeypatch.chdir(tmp_path / "bench")
    monkeypatch.setenv("SPECDB_BY", "Robin")


async def press(pilot: AppPilot, *keys: str) -> None:
    """Press keys one after the other; what each brings is waited for."""
    for key in keys:
        await pilot.press(key)
        await settled(pilot)


async def sets_of(pilot: AppPilot) -> SetsScreen:
    await settled(pilot)
    await press(pilot, "2")
    screen = pilot.app.screen
    assert isinstance(screen, SetsScreen)
    return screen


async def standins_of(pilot: AppPilot) -> SetStandInsScreen:
    await sets_of(pilot)
    await press(pilot, "s")
    screen = pilot.app.screen
    assert isinstance(screen, SetStandInsScreen)
    return screen


def parallel_one(found: Sequence[SetStandIn]) -> tuple[int, SetStandIn]:
    """The nearest model that is one shaft for all clubs, and its place."""
    return next((i, r) for i, r in enumerate(found) if r.way == "one shaft for all")


def shown(app: SpecdbApp) -> type[object]:
    return type(app.screen)


def told(app: SpecdbApp) -> str:
    return "\n".join(str(n.message) for n in app._notifications)


def text(screen: SetsScreen | SetStandInsScreen, name: str) -> str:
    return screen.query_one(name, LinesView).text


def keys(screen: SetsScreen | SetStandInsScreen, name: str) -> list[str]:
    table = screen.query_one(name, PagedTable)
    return [str(table.row_key(i)) for i in range(table.row_count)]


# ---- what is shown


@pytest.mark.parametrize("size", [SMALL, WIDE, (200, 60)])
async def test_a_set_in_numbers_picture_and_words(make: AppFactory, size: tuple[int, int]) -> None:
    app = make(start="clubs")
    async with app.run_test(size=size) as pilot:
        screen = await sets_of(pilot)
        assert keys(screen, "#set-list") == [QUILTER, "tansley-irons"]
        numbers = set_mechanics_of(app.desk.catalogue, QUILTER).numbers
        seen = on_screen(app)
        for club in numbers.clubs:
            assert club.club_id in seen
            assert f"{club.frequency_cpm:.1f}" in seen
        words = text(screen, "#set-text").replace("\n", " ")
        assert numbers.line is not None
        assert f"{numbers.line.slope:.1f} ± {numbers.line.slope_sd:.1f}" in words
        assert "Numbers 6 and 8 are missing between 5 and PW" in " ".join(words.split())
        assert "What deviates" in words
        await press(pilot, "v")
        drawn = screen.query_one(CurvesView)
        assert drawn.display
        for sign in "579P×":
            assert sign in drawn.text
        assert "playing length, in" in on_screen(app)
        await press(pilot, "escape")
        assert screen.query_one("#set-list").has_focus


async def test_without_colour_clubs_are_told_by_their_signs(make: AppFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = make(start="clubs")
    async with app.run_test(size=WIDE) as pilot:
        await sets_of(pilot)
        assert app.no_color
        seen = on_screen(app)
        assert "[2 Sets]" in seen
        assert "× measured" in seen


async def test_the_tabs_by_key_and_by_mouse(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.click("#club-tabs", offset=(12, 0))
        await settled(pilot)
        assert shown(app) is SetsScreen
        await press(pilot, "1")
        assert shown(app) is ClubScreen
        await press(pilot, "2", "escape")
        assert shown(app) is ClubScreen
        await press(pilot, "2")
        await pilot.click("#sets-tabs", offset=(3, 0))
        await settled(pilot)
        assert shown(app) is ClubScreen


async def test_another_place_opens_a_set(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.open_place("clubs", set_id="tansley-irons")
        await until(pilot, lambda: shown(app) is SetsScreen)
        await settled(pilot)
        screen = app.screen
        assert isinstance(screen, SetsScreen)
        assert keys(screen, "#set-clubs") == ["tansley-6-iron", "tansley-8-iron", "tansley-pw"]
        await press(pilot, "comma")
        await until(pilot, lambda: "quilter-pw" in keys(screen, "#set-clubs"))


async def test_models_by_mouse(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await standins_of(pilot)
        rows = screen.query_one("#ranked", PagedTable).head_lines
        for _ in range(2):  # the first click goes there, the second opens it
            await pilot.click("#ranked", offset=(6, rows + 2))
            await settled(pilot)
        assert screen._found is not None
        assert screen._found.rank == 3
        assert "tip trim" in on_screen(app)
        await pilot.click("#tabs", offset=(33, 0))
        await settled(pilot)
        assert "playing length, in" in on_screen(app)
        await pilot.click("KeyLine", offset=(2, 0))  # back
        await settled(pilot)
        assert screen.query_one("#ranked").display


async def test_a_set_that_cannot_be_worked_out_says_why(make: AppFactory, demo: Path) -> None:
    set_fields(Catalogue(demo), "club", "sorley-7-iron", ["set_id=lonely"])
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await sets_of(pilot)
        screen.show_set("lonely")
        await settled(pilot)
        assert "One club only: a set takes at least two" in text(screen, "#set-text").replace("\n", " ")
        assert keys(screen, "#set-clubs") == ["sorley-7-iron"]
        set_fields(Catalogue(demo), "club", "sorley-7-iron", ["playing_length_in=46"])
        set_fields(Catalogue(demo), "club", "wexcombe-7-iron", ["set_id=lonely"])
        screen.show_set("lonely")
        await settled(pilot)
        assert "sorley-7-iron" in " ".join(text(screen, "#set-text").split())
        assert "cannot be worked out" in " ".join(text(screen, "#set-text").split())


async def test_a_change_elsewhere_is_seen(make: AppFactory, demo: Path) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await sets_of(pilot)
        set_fields(Catalogue(demo), "club", "sorley-7-iron", ["set_id=sevens"])
        app.desk.look_now()
        await settled(pilot)
        await until(pilot, lambda: "sevens" in keys(screen, "#set-list"))


# ---- putting a set together


async def test_a_set_is_put_together_by_marking_clubs(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await sets_of(pilot)
        await press(pilot, "n", *"sevens", "enter")
        assert shown(app) is SetMembersDialog
        await press(pilot, *"sorley-7", "enter")
        assert "A set takes at least two" in on_screen(app)
        await press(pilot, *["backspace"] * 8, *"wexcombe-7", "enter")
        assert "2 clubs" in on_screen(app)
        await press(pilot, "ctrl+s")
        assert app.screen is screen
        assert "taken in" in told(app)
        assert set(keys(screen, "#set-clubs")) == {"sorley-7-iron", "wexcombe-7-iron"}
        with app.desk.catalogue.read() as reader:
            assert reader.get("club", "sorley-7-iron").set_id == "sevens"


async def test_a_set_without_a_name_is_refused_beside_the_field(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        await sets_of(pilot)
        await press(pilot, "n", "enter")
        assert "Name the set." in on_screen(app)
        assert isinstance(app.screen, WordsDialog)


async def test_an_order_for_the_set_is_told_and_nothing_is_written(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await sets_of(pilot)
        await press(pilot, "e", "enter", "ctrl+s")
        assert app.screen is screen
        assert "o-1042" in told(app)
        assert len(keys(screen, "#set-clubs")) == 4


async def test_the_next_club_down_is_copied_with_its_own_parts(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await sets_of(pilot)
        await press(pilot, "d")
        form = app.screen
        assert isinstance(form, ClubForm)
        values, errors = form.body.values()
        assert not errors
        assert values["head_id"] == "orrin-vale-coulter-6-rh"
        assert values["playing_length_in"] == pytest.approx(37.5)
        assert values["frequency_cpm"] is None
        assert "proposed" in on_screen(app)
        await press(pilot, "ctrl+s")
        assert "Order o-1042 asks for set quilter-irons" in " ".join(on_screen(app).split())
        await press(pilot, "s")
        while app.screen is not screen:
            await press(pilot, "escape")
        assert keys(screen, "#set-clubs")[1] == "quilter-6-iron"
        assert "Number 8 is missing" in " ".join(text(screen, "#set-text").split())


async def test_build_sheets_of_the_set_as_pdf(make: AppFactory, tmp_path: Path) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        await sets_of(pilot)
        await press(pilot, "x", "enter")
        path = tmp_path / "bench" / f"{QUILTER}.pdf"
        assert path.read_bytes().startswith(b"%PDF")
        assert "4 sheets" in told(app)
        await press(pilot, "x")
        assert f"{QUILTER}-2.pdf" in on_screen(app)  # the first one is not written over


# ---- stand-ins for the whole set


@pytest.mark.parametrize("size", [SMALL, WIDE, (200, 60)])
async def test_models_with_the_trim_chart(make: AppFactory, size: tuple[int, int]) -> None:
    app = make(start="clubs")
    async with app.run_test(size=size) as pilot:
        screen = await standins_of(pilot)
        found = set_substitutes_of(app.desk.catalogue, QUILTER, SearchOptions(top=20)).report.results
        assert len(keys(screen, "#ranked")) == len(found)
        assert "backordered" in on_screen(app)
        place, own = parallel_one(found)
        await press(pilot, *["down"] * place, "enter")
        seen = on_screen(app)
        assert f"{place + 1}. {own.model}, {own.way}" in seen
        for club in own.clubs:
            assert club.club_id in seen
            assert f"{club.cpm:.1f}" in seen
        words = " ".join(text(screen, "#chart-text").split())
        assert f"{own.first_trim_in:g} in off the tip of the first, {own.trim_step_in:g} in more" in words
        assert "pieces" in words.lower()
        await press(pilot, "2")
        assert "Stand-in less fitted, club by club." in text(screen, "#differences-text")
        await press(pilot, "3")
        assert "stand-in" in screen.query_one(CurvesView).text
        await press(pilot, "4")
        assert "Cautions" in text(screen, "#work-text")
        await press(pilot, "5")
        assert screen.query_one("#left-list", PagedTable).row_count > 50
        assert "sold for another kind of club" in on_screen(app)


async def test_filters_and_weighting_of_a_set(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await standins_of(pilot)
        everything = keys(screen, "#ranked")
        await press(pilot, "s")
        assert "only in stock" in on_screen(app)
        answer = set_substitutes_of(app.desk.catalogue, QUILTER, SearchOptions(top=20, in_stock=True))
        assert len(keys(screen, "#ranked")) == len(answer.report.results) < len(everything)
        assert all(r.sets_on_hand for r in answer.report.results)
        await press(pilot, "t", "n", "p", "6", "0", "enter", "w", *"110 g", "enter")
        head = text(screen, "#head")
        assert "only in stock, up to 60 in price, up to 110 g, the same tip" in head
        await press(pilot, "a")
        assert keys(screen, "#ranked") == everything
        await press(pilot, "g", *"feel", "enter")
        assert "weighting feel" in text(screen, "#head")


async def test_a_model_is_chosen_for_the_whole_set_and_taken_back_at_once(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await standins_of(pilot)
        await press(pilot, "c", "enter")
        assert "Say why" in on_screen(app)
        await press(pilot, *"on hand", "enter")
        assert "chosen for 4 clubs" in told(app)
        await until(pilot, lambda: text(screen, "#head").count("chosen:") == 1)
        with app.desk.catalogue.read() as reader:
            chosen = [c for c in reader.rows("choice") if c.decision == "chosen" and c.club_id.startswith("quilter-")]
        assert len(chosen) == 4
        assert {c.why for c in chosen} == {"on hand"}
        await press(pilot, "ctrl+z", "y")
        with app.desk.catalogue.read() as reader:
            left = [c for c in reader.rows("choice") if c.decision == "chosen" and c.club_id.startswith("quilter-")]
        assert not left


async def test_a_model_is_turned_down_for_the_whole_set(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await standins_of(pilot)
        first = keys(screen, "#ranked")[0]
        await press(pilot, "x", *"too stiff", "enter")
        # the list follows the watch of the file
        await until(pilot, lambda: first not in keys(screen, "#ranked"))
        assert "turned down for 4 clubs" in told(app)


async def test_chart_and_comparison_as_a_text_file(make: AppFactory, tmp_path: Path) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        await standins_of(pilot)
        place, _ = parallel_one(set_substitutes_of(app.desk.catalogue, QUILTER, SearchOptions(top=20)).report.results)
        await press(pilot, *["down"] * place, "o", "enter")
        (path,) = (tmp_path / "bench").glob("*.txt")
        words = path.read_text()
        assert all(len(line) <= 78 for line in words.splitlines())
        assert "tip trim" in words
        assert "one shaft for all" in words
        assert "frequency, cpm" in words
        assert "quilter-pw" in words
        assert "made on 2026-11-20" in words


async def test_why_not_and_fit_up_of_one_club(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await standins_of(pilot)
        await press(pilot, "y", *"ambrel", "space", *"lyde", "enter")
        assert "sold for a wood" in told(app)
        found = screen._found
        assert found is not None
        await press(pilot, "f", *"quilter-7", "enter")
        fit = app.screen
        assert isinstance(fit, FitUpScreen)
        assert fit.asked.shaft == found.clubs[1].substitute.shaft_id
        assert fit.asked.head == "orrin-vale-coulter-7-rh"


async def test_the_whole_set_from_the_stand_ins_of_one_club(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.open_place("standins", club="quilter-7-iron")
        await settled(pilot)
        await press(pilot, "W")
        assert isinstance(app.screen, SetStandInsScreen)
        await press(pilot, "escape")
        app.open_place("standins", club="ashby-driver")
        await settled(pilot)
        await press(pilot, "W")
        assert "belongs to no set" in told(app)


async def test_a_set_without_stand_ins_says_so(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await standins_of(pilot)
        await press(pilot, "p", "1", "enter")
        assert not keys(screen, "#ranked")
        await press(pilot, "enter", "5")
        assert "price" in text(screen, "#left-counts")
        await press(pilot, "c")
        assert "no model here" in told(app)


async def test_a_set_that_is_not_whole_has_a_sentence_for_it(make: AppFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise SpecdbError("club quilter-7-iron: its shaft cannot be cut to length")

    monkeypatch.setattr("specdb.tui.sets.standins.rank_models", broken)
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        await standins_of(pilot)
        assert "cannot be cut to length" in on_screen(app)


# ---- pictures


def after(*pressed: str) -> Callable[[AppPilot], object]:
    async def act(pilot: AppPilot) -> None:
        await settled(pilot)
        await press(pilot, *pressed)
        for line in pilot.app.screen.query("Input"):
            line.cursor_blink = False  # type: ignore[attr-defined]
        await settled(pilot)

    return act


@SIZES
@pytest.mark.parametrize("pressed", [("2",), ("2", "e"), ("2", "s"), ("2", "s", "3")], ids=" ".join)
def test_sets_look_as_they_did(
    snap_compare: Compare, make: AppFactory, size: tuple[int, int], pressed: tuple[str, ...]
) -> None:
    assert snap_compare(make(start="clubs"), terminal_size=size, run_before=after(*pressed))
