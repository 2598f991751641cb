"""Pictures of the shell and of the catalogue, at two sizes; ``pytest --snapshot-update`` takes them anew."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, settled, typed

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])


def after(*keys: str, text: str = "", then: str = "", last: str = "") -> Callable[[AppPilot], Awaitable[None]]:
    """Press keys, type a text, press one or two more."""

    async def act(pilot: AppPilot) -> None:
        await settled(pilot)
        for key in keys:
            await pilot.press(key)
            await settled(pilot)
        if text:
            await typed(pilot, text)
        for key in filter(None, (then, last)):
            await pilot.press(key)
            await settled(pilot)
        # a cursor that blinks would make every picture another one
        for line in pilot.app.screen.query("Input"):
            line.cursor_blink = False  # type: ignore[attr-defined]
        await settled(pilot)

    return act


@SIZES
def test_list(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    assert snap_compare(make(), terminal_size=size, run_before=after("down", "down"))


@SIZES
def test_filter_that_is_wrong(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    assert snap_compare(make(), terminal_size=size, run_before=after("w", text="weight_g < heavy", then="enter"))


@SIZES
def test_columns(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    assert snap_compare(make(), terminal_size=size, run_before=after("c", "down", "space"))


@SIZES
def test_kinds(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    assert snap_compare(make(), terminal_size=size, run_before=after("k", "down"))


@SIZES
def test_search(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    assert snap_compare(make(), terminal_size=size, run_before=after("slash", text="holm 60", then="down"))


@SIZES
def test_all_of_a_row(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    assert snap_compare(
        make(), terminal_size=size, run_before=after("slash", text="bracken 40 a", then="enter", last="v")
    )


@SIZES
def test_help(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    assert snap_compare(make(), terminal_size=size, run_before=after("f1"))


@SIZES
def test_no_catalogue_yet(
    snap_compare: Compare, make: AppFactory, size: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert snap_compare(make(Path("shop.duckdb")), terminal_size=size, run_before=after())


def test_row_beside_the_list_where_there_is_room(snap_compare: Compare, make: AppFactory) -> None:
    async def act(pilot: AppPilot) -> None:
        await after("down")(pilot)
        await pilot.pause(0.3)
        await settled(pilot)

    assert snap_compare(make(), terminal_size=(200, 60), run_before=act)
