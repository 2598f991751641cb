"""Build by keyboard, and its pictures."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input

import specdb
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])


async def _still(pilot: AppPilot) -> None:
    await settled(pilot)
    for line in pilot.app.screen.query("Input"):
        line.cursor_blink = False  # type: ignore[attr-defined]
    await settled(pilot)


async def _type(pilot: AppPilot, *texts: str) -> None:
    for text in texts:
        await pilot.press(*text, "enter")
        await settled(pilot)


@SIZES
def test_build_looks_as_it_did(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    async def act(pilot: AppPilot) -> None:
        await settled(pilot)
        await pilot.press("b")
        await settled(pilot)
        await pilot.press("m")
        await _type(pilot, "37", "401")
        await _still(pilot)

    assert snap_compare(make(start="orders"), terminal_size=size, run_before=act)


async def test_from_the_order_to_the_measured_club(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("b")
        await settled(pilot)
        assert "Step 1 of" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("space", "space")
        await settled(pilot)
        assert "Step 3 of" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("backspace", "m")
        await _type(pilot, "37", "393", "D0", "284", "31", "62.5")
        await pilot.press("ctrl+s")
        await settled(pilot)
    rows = _rows(demo)
    assert {r.quantity for r in rows} == {"length", "weight", "swingweight", "frequency", "loft", "lie"}
    assert {(r.order_id, r.line, r.unit) for r in rows} == {("o-1045", 1, 1)}
    assert next(r.value for r in rows if r.quantity == "swingweight") == 213.5  # D0 (common practice, no source)


async def test_a_wrong_unit_is_told_beside_the_entry_and_nothing_is_kept(make: AppFactory, demo: Path) -> None:
    before = _rows(demo)
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await settled(pilot)
        await pilot.press("b")
        await settled(pilot)
        await pilot.press("m")
        await _type(pilot, "37 mm")
        assert "is the unit right?" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("ctrl+s")
        await settled(pilot)
    assert _rows(demo) == before


async def test_half_typed_values_come_back(make: AppFactory, tmp_path: Path) -> None:
    state = tmp_path / "kept"
    first = make(start="orders", state=state)
    async with first.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("b")
        await settled(pilot)
        await pilot.press("m", *"37.0625")
        await settled(pilot)
    first.close_down()
    async with make(start="build", state=state).run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert pilot.app.screen.query_one("#value-length", Input).value == "37.0625"


async def test_a_scanned_code_opens_its_club(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert "No club yet" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("ctrl+n")
        await settled(pilot)
        await _type(pilot, "specdb:club/ashby-wedge")
        assert "ashby-wedge" in on_screen(pilot.app)  # type: ignore[arg-type]
        assert "Step 1 of" in on_screen(pilot.app)  # type: ignore[arg-type]


def _rows(demo: Path) -> list[Any]:
    with specdb.open(demo).read() as reader:
        return [r for r in reader.rows("as_built") if r.order_id == "o-1045"]
