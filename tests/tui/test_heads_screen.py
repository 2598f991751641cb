"""The nearest heads by keyboard: for a head and for a fitted club, what each takes, and where one goes from there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from specdb.tui.app import SpecdbApp
from specdb.tui.clubs.form import ClubForm
from specdb.tui.fitup.place import FitUpScreen
from specdb.tui.standins.heads_screen import HeadsScreen
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.matching.heads import HeadOptions, heads_of
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, typed

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])
CLUB = "quilter-7-iron"
HEAD = "orrin-vale-coulter-7-rh"
DAY = dt.date(2026, 11, 20)  # of the demonstration


@pytest.fixture(autouse=True)
def _on_one_day(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("specdb.tui.standins.heads_screen.today", lambda: DAY)
    (tmp_path / "bench").mkdir()
    monkeypatch.chdir(tmp_path / "bench")


async def press(pilot: AppPilot, *keys: str) -> None:
    for key in keys:
        await pilot.press(key)
        await settled(pilot)


async def heads_of_club(pilot: AppPilot, club: str = CLUB) -> HeadsScreen:
    await settled(pilot)
    pilot.app.screen.query_one(PagedTable).show_row(club)
    await settled(pilot)
    await press(pilot, "h")
    screen = pilot.app.screen
    assert isinstance(screen, HeadsScreen)
    return screen


async def heads_in_catalogue(pilot: AppPilot, words: str = "coulter 7") -> HeadsScreen:
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    await settled(pilot)
    app.open_place("catalogue", kind="head")
    await settled(pilot)
    await press(pilot, "slash")
    await typed(pilot, words)
    await press(pilot, "enter", "a")
    screen = app.screen
    assert isinstance(screen, HeadsScreen)
    return screen


def ranked(screen: HeadsScreen) -> list[str]:
    table = screen.query_one("#ranked", PagedTable)
    return [str(table.row_key(i)) for i in range(table.row_count)]


def text(screen: HeadsScreen, name: str) -> str:
    return " ".join(screen.query_one(name, LinesView).text.split())


def told(app: SpecdbApp) -> str:
    return "\n".join(str(n.message) for n in app._notifications)


@pytest.mark.parametrize("size", [SMALL, WIDE, (200, 60)])
async def test_heads_for_a_fitted_club(make: AppFactory, size: tuple[int, int]) -> None:
    app = make(start="clubs")
    async with app.run_test(size=size) as pilot:
        screen = await heads_of_club(pilot)
        found = heads_of(app.desk.catalogue, club=CLUB, options=HeadOptions(top=30)).report.results
        assert ranked(screen) == [r.head_id for r in found]
        seen = on_screen(app)
        assert HEAD in seen
        assert "on hand" in seen
        assert "loft 34°" in seen
        await press(pilot, "down")
        own = found[1]
        assert own.club is not None
        differences = text(screen, "#differences-text")
        assert f"The club becomes {own.club.values['frequency_cpm']:.1f} cpm" in differences
        assert f"bend loft {own.bends['loft']:.1f}° weaker" in differences
        await press(pilot, "2")
        work = text(screen, "#work-text")
        assert f"bend loft by {own.bends['loft']:.1f}° weaker" in work
        assert "The fitted shaft in it: FITS WITH PREPARATION" in work
        assert "eye protection" in work
        await press(pilot, "3")
        assert "for the other hand" in on_screen(app)
        assert screen.query_one("#left-list", PagedTable).row_count > 20


async def test_heads_for_a_head_of_the_catalogue(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await heads_in_catalogue(pilot)
        found = heads_of(app.desk.catalogue, HEAD, options=HeadOptions(top=30)).report.results
        assert ranked(screen) == [r.head_id for r in found]
        assert "for no club" in text(screen, "#head")
        # what goes in it is told once the club is named
        await press(pilot, "f")
        await press(pilot, *"quilter-7", "enter")
        assert f"of {CLUB}" in text(screen, "#head")
        assert ranked(screen) == [r.head_id for r in heads_of(app.desk.catalogue, club=CLUB).report.results]


async def test_only_heads_have_alternatives_in_the_catalogue(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        before = app.screen
        await press(pilot, "a")
        assert app.screen is before
        assert "alternatives" not in on_screen(app)


async def test_filters_of_heads(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await heads_of_club(pilot)
        everything = ranked(screen)
        await press(pilot, "w", "3", "enter")
        assert "with up to 3 g added" in text(screen, "#head")
        found = heads_of(app.desk.catalogue, club=CLUB, options=HeadOptions(top=30, max_head_add_g=3.0)).report.results
        assert ranked(screen) == [r.head_id for r in found] != everything
        await press(pilot, "s")
        assert "only in stock" in text(screen, "#head")
        await press(pilot, "a")
        assert ranked(screen) == everything


async def test_fit_up_of_the_fitted_shaft_in_another_head(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await heads_of_club(pilot)
        await press(pilot, "down")
        found = screen._found
        assert found is not None
        assert found.club is not None
        await press(pilot, "f")
        fit = app.screen
        assert isinstance(fit, FitUpScreen)
        assert fit.asked.head == found.head_id
        assert fit.asked.shaft == "stavely-tenter-105-s-7"
        assert fit.asked.sleeve == found.club.parts["sleeve"]


async def test_a_copy_of_the_fitted_club_with_another_head(make: AppFactory) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        screen = await heads_of_club(pilot)
        first = ranked(screen)[0]
        await press(pilot, "l")
        form = app.screen
        assert isinstance(form, ClubForm)
        values, errors = form.body.values()
        assert not errors
        assert values["head_id"] == first
        assert values["set_id"] is None
        assert "stays in quilter-irons" in told(app)
        await press(pilot, "ctrl+s")
        with app.desk.catalogue.read() as reader:
            copies = [c for c in reader.rows("club") if c.head_id == first and c.player == "Ines Quilter"]
            own = reader.get("club", CLUB)
        assert len(copies) == 1
        assert copies[0].shaft_id == own.shaft_id
        assert copies[0].playing_length_in == own.playing_length_in
        assert own.head_id == HEAD  # the fitted one is as it was


async def test_why_not_and_save(make: AppFactory, tmp_path: Path) -> None:
    app = make(start="clubs")
    async with app.run_test(size=SMALL) as pilot:
        await heads_of_club(pilot)
        await press(pilot, "y", *"gannet", "enter")
        assert "a wood head, wanted is an iron head" in told(app)
        await press(pilot, "o", "enter")
        (path,) = (tmp_path / "bench").glob("*.txt")
        words = path.read_text()
        assert "STAND-IN FOR A HEAD" in words
        assert "made on 2026-11-20" in words
        assert all(len(line) <= 78 for line in words.splitlines())


async def test_from_stand_ins_and_back(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.open_place("standins", club=CLUB)
        await settled(pilot)
        before = app.screen
        await press(pilot, "h")
        assert isinstance(app.screen, HeadsScreen)
        await press(pilot, "enter", "escape", "escape")
        assert app.screen is before


def after(*pressed: str) -> Callable[[AppPilot], object]:
    async def act(pilot: AppPilot) -> None:
        await heads_of_club(pilot)
        await press(pilot, *pressed)

    return act


@SIZES
@pytest.mark.parametrize("pressed", [("down",), ("2",)], ids=" ".join)
def test_heads_look_as_they_did(
    snap_compare: Compare, make: AppFactory, size: tuple[int, int], pressed: tuple[str, ...]
) -> None:
    assert snap_compare(make(start="clubs"), terminal_size=size, run_before=after(*pressed))
