"""The place Bench by keyboard: readings row by row, the profile with each of them, kept at once and taken back."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input, Static

from specdb.catalogue import Catalogue
from specdb.mechanics.constants import IN
from specdb.profiles.estimate import Evidence
from specdb.records.rows import Shaft
from specdb.tui.app import SpecdbApp
from specdb.tui.bench.entries import ReadingInput
from specdb.tui.bench.place import BenchScreen
from specdb.tui.bench.readings import next_piece, read_slot
from specdb.tui.bench.setup import LINES, Slot, slots_of, usual_texts, wrong_with
from specdb.tui.bench.words import entry_words, outlier_words
from specdb.tui.dialogs.words import WordsDialog
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.lines_view import LinesView
from specdb.verbs.stiffness.bench import bench_shaft
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

SHAFT = "quern-teasel-60-s"
DAY = dt.date(2026, 11, 20)


@pytest.fixture(autouse=True)
def _on_one_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("specdb.tui.bench.place._today", lambda: DAY)
    monkeypatch.setenv("SPECDB_BY", "Robin")


def screen_of(app: SpecdbApp) -> BenchScreen:
    screen = app.screen
    assert isinstance(screen, BenchScreen), screen
    return screen


async def bench(pilot: AppPilot, shaft: str = SHAFT) -> BenchScreen:
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    app.open_place("bench", shaft=shaft)
    await pilot.pause()
    await until(pilot, lambda: screen_of(app)._judged is not None and screen_of(app).focused is not None)
    await settled(pilot)
    return screen_of(app)


async def typed(pilot: AppPilot, *keys: str) -> None:
    """Type, and wait until it was judged."""
    await pilot.press(*keys)
    screen = next(s for s in pilot.app.screen_stack if isinstance(s, BenchScreen))
    await until(pilot, lambda: screen._late is None)
    await settled(pilot)


def text(screen: BenchScreen, name: str) -> str:
    return screen.query_one(name, LinesView).text


def values(screen: BenchScreen) -> dict[str, str]:
    return {e.slot.id: e.value for e in screen._entries if e.value}


def fitting(path: Path, free: float) -> int:
    """What the estimated shaft would read, as the meter shows it."""
    from specdb.tui.bench.readings import judge, readings_of

    on_it = bench_shaft(Catalogue(path), SHAFT)
    slot = next(s for s in slots_of(usual_texts(on_it.shaft)) if s.id == f"frequency-{free:g}")
    (reading,) = readings_of([read_slot(slot, "250")], SHAFT, "x", DAY, "")
    return round(judge(on_it, [reading]).evidence[slot.id].model)


@pytest.mark.parametrize("size", [SMALL, (200, 60)])
async def test_readings_tighten_the_profile_as_they_are_typed(
    make: AppFactory, size: tuple[int, int], demo: Path
) -> None:
    app = make(start="bench")
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        assert "Choose a shaft (s)" in on_screen(app)
        screen = await bench(pilot)
        assert screen._judged is not None
        assert isinstance(screen.focused, ReadingInput)
        seen = on_screen(app)
        for needed in (SHAFT, "free length in", "station in", "weight g", "EI N·m²", "in from the raw tip"):
            assert needed in seen
        before = screen._judged.estimate.band([20 * IN])[1][0]
        await typed(pilot, *"240", "enter", *"284")
        assert list(values(screen).values()) == ["240", "284"]
        after = screen._judged.estimate.band([20 * IN])[1][0]
        assert after < before
        drawn = screen.query_one(CurvesView).text
        assert "now" in drawn
        assert "before" in drawn


async def test_walking_by_enter_and_arrows(make: AppFactory) -> None:
    app = make(start="bench")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await bench(pilot)

        def at() -> str:
            assert isinstance(screen.focused, ReadingInput)
            return screen.focused.slot.id

        first = at()
        await pilot.press("enter", "right")
        assert at() == screen._entries[2].slot.id
        await pilot.press("left", "left")
        assert at() == first
        await pilot.press("down")
        assert at().startswith("ei-")
        await pilot.press("down")
        assert at() == "weight"
        await pilot.press("down")
        assert at() == first
        await pilot.press("up", "enter")
        assert at() == "balance"


async def test_outliers_are_called_out_by_name_at_once(make: AppFactory) -> None:
    app = make(start="bench")
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        screen = await bench(pilot)
        assert "frequency at 41" not in text(screen, "#off")
        await typed(pilot, *"330")
        said = text(screen, "#off")
        assert "frequency at 41 in free length, piece 3" in said
        assert "sd above what all else leads to" in " ".join(said.split())
        assert screen._entries[0].has_class("off")
        await typed(pilot, "backspace", "backspace", "backspace")
        assert "piece 3" not in text(screen, "#off")


async def test_impossible_readings_are_refused_with_the_reason_beside_them(make: AppFactory, demo: Path) -> None:
    app = make(start="bench")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await bench(pilot)
        await typed(pilot, *"1900")
        assert "no golf shaft has that" in " ".join(on_screen(app).split())
        await typed(pilot, "backspace", "backspace", "backspace", "backspace", *"12")
        assert "a frequency is from 40 to 2000 cpm" in on_screen(app)
        await pilot.press("ctrl+s")
        await settled(pilot)
        with Catalogue(demo).read() as reader:
            assert not [r for r in reader.readings_of(SHAFT) if r.sample == "piece 3"]
        # a longer free length must read lower (Rayleigh's principle: a constraint removed lowers the frequency)
        await typed(pilot, "backspace", "backspace", *"280", "enter", *"250")
        assert set(screen._judged.refused) == {"frequency-41", "frequency-37"} if screen._judged else False
        assert "no positive stiffness explains it" in " ".join(on_screen(app).split())


async def test_all_is_kept_in_one_change_and_taken_back_in_one(make: AppFactory, demo: Path) -> None:
    app = make(start="bench")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await bench(pilot)
        good = [str(fitting(demo, free)) for free in (41, 37)]
        await typed(pilot, *good[0], "enter", *good[1], "down", *"27,5", "ctrl+s")
        await until(pilot, lambda: "7 readings kept" in text(screen, "#bench-head"))
        with Catalogue(demo).read() as reader:
            kept = [r for r in reader.readings_of(SHAFT) if r.sample == "piece 3"]
        assert sorted((r.quantity, r.value) for r in kept) == [
            ("ei", 27.5),
            *sorted(("frequency", float(v)) for v in good),
        ]
        assert {(r.taken_by, r.taken_on) for r in kept} == {("Robin", DAY)}
        assert values(screen) == {}
        await settled(pilot)
        await pilot.press("ctrl+z")
        await settled(pilot)
        await pilot.press("y")
        await until(pilot, lambda: "4 readings kept" in text(screen, "#bench-head"))


async def test_another_value_of_the_same_day_is_shown_before_it_replaces(make: AppFactory, demo: Path) -> None:
    app = make(start="bench")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await bench(pilot)
        for value in ("235", "236"):
            await pilot.press("p")
            await settled(pilot)
            app.screen.query_one("#word-piece", Input).value = "piece 9"
            await pilot.press("ctrl+s")
            await settled(pilot)
            screen._focus_first()
            await typed(pilot, *value, "ctrl+s")
            await settled(pilot)
        assert "kept 235, now 236" in on_screen(app)
        await pilot.press("y")
        await until(pilot, lambda: values(screen) == {})
        with Catalogue(demo).read() as reader:
            assert [r.value for r in reader.readings_of(SHAFT) if r.sample == "piece 9"] == [236.0]


async def test_what_is_typed_comes_back_after_the_terminal_is_closed(make: AppFactory) -> None:
    app = make(start="bench")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await bench(pilot)
        await typed(pilot, *"240", "enter", *"27")
    app.close_down()
    again = make(start="bench")
    async with again.run_test(size=SMALL) as pilot:
        await until(pilot, lambda: bool(screen_of(again)._entries))
        await settled(pilot)
        assert values(screen_of(again)) == {"frequency-41": "240", "frequency-37": "27"}
        await pilot.press("ctrl+e")
        assert values(screen_of(again)) == {}


async def test_the_set_up_gives_the_entries(make: AppFactory) -> None:
    app = make(start="bench")
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        screen = await bench(pilot)
        await pilot.press("e")
        await settled(pilot)
        assert isinstance(app.screen, WordsDialog)
        app.screen.query_one("#word-free_lengths", Input).value = "41 36 1/x"
        await pilot.press("ctrl+s")
        assert "free lengths" in str(app.screen.query_one("#wrong", Static).visual)
        app.screen.query_one("#word-free_lengths", Input).value = "36 41 30"
        app.screen.query_one("#word-bend_load", Input).value = "50"
        await pilot.press("ctrl+s")
        await settled(pilot)
        await pilot.pause()
        names = [e.slot.id for e in screen._entries]
        assert names[:3] == ["frequency-41", "frequency-36", "frequency-30"]
        # P·L³/(48·δ) with 50 N over 8 in and 0.3 mm: 29.1 N·m² (Timoshenko & Gere)
        entry = next(e for e in screen._entries if e.slot.quantity == "ei")
        assert read_slot(entry.slot, "0.3 mm").value == pytest.approx(50 * (8 * IN) ** 3 / (48 * 0.3e-3), rel=1e-4)


def test_usual_set_ups_are_right_for_every_kind_of_shaft() -> None:
    for kind, raw in (("wood", 46.0), ("hybrid", 42.0), ("iron", 37.0), ("wedge", 35.0), ("putter", 35.0)):
        texts = usual_texts(Shaft(id="s", club_type=kind, raw_length_in=raw))
        assert wrong_with(texts) == ""
        for slot in slots_of(texts):
            place, span = slot.fields.get("position_in"), slot.fields.get("span_in", 0.0)
            if place is not None:
                assert span / 2 <= place <= raw - span / 2
            assert slot.fields.get("free_length_in", 0.0) <= raw
    assert {line.field for line in LINES} <= {"free_length_in", "tip_mass_g", "instrument", "position_in", "span_in",
                                              "load_n"}  # fmt: skip


def test_what_is_wrong_with_a_set_up_is_said() -> None:
    texts = usual_texts(Shaft(id="s", club_type="wood", raw_length_in=46.0))
    assert "twice" in wrong_with(texts | {"stations": "5 9 5"})
    assert wrong_with(texts | {"tip_mass": "heavy"})
    assert wrong_with(texts | {"free_lengths": "410"})


def test_a_deflection_without_its_load_is_not_taken() -> None:
    slot = Slot("ei-9", "ei", "ei", "9", "EI at 9 in", {"position_in": 9.0, "span_in": 8.0})
    assert "load" in read_slot(slot, "0.3 mm").error
    assert read_slot(slot, "27,5").value == 27.5
    assert read_slot(slot, "0").error
    assert read_slot(slot, "").value is None


@pytest.mark.parametrize(
    ("pieces", "name"),
    [((), "piece 1"), (("piece 1", "piece 2"), "piece 3"), (("demo", "b-7", "b-12"), "b-13"), (("demo",), "piece 1")],
)
def test_a_new_piece_gets_a_name_of_its_own(pieces: tuple[str, ...], name: str) -> None:
    assert next_piece(pieces) == name


CASES: dict[str, list[str]] = {"typed": [*"240", "enter", *"284"], "off": [*"330"]}


@pytest.mark.parametrize("size", [SMALL, WIDE])
@pytest.mark.parametrize("case", CASES)
def test_the_bench_looks_as_it_did(make: AppFactory, snap_compare: Any, size: tuple[int, int], case: str) -> None:
    async def before(pilot: AppPilot) -> None:
        await settled(pilot)
        screen = await bench(pilot)
        await pilot.press(*CASES[case])
        await until(pilot, lambda: screen._late is None)
        await settled(pilot)
        for entry in pilot.app.screen.query(Input):
            entry.cursor_blink = False

    assert snap_compare(make(start="bench"), terminal_size=size, run_before=before)


def test_a_kick_word_is_told_without_the_figure_it_is_worked_with() -> None:
    word = Evidence("kick word 'low'", "ln EI", 0.4213, 0.1, 0.1, 3.4, True)
    for said in (outlier_words(word), entry_words(word)):
        assert "kick word 'low'" in said
        assert "3.4 sd" in said
        assert "ln" not in said.replace("'low'", "")
        assert "0.4213" not in said
    reading = Evidence("frequency at 41 in", "cpm", 250.0, 240.0, 1.0, 3.4, True)
    assert "reads 250 cpm" in outlier_words(reading)
