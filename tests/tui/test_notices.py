"""Notices lie over no dialog and not over the line that is typed in, and nothing of them is lost."""

from __future__ import annotations

from functools import partial

import pytest
from textual.geometry import Region
from textual.widgets import Input

from specdb.tui.app import SpecdbApp
from specdb.tui.dialogs.ask import Way, WaysDialog
from tests.tui.conftest import SMALL, WIDE, AppFactory, on_screen, settled, until

SAID = "Loft: Petra has kept 34.5 meanwhile; what is typed here is not kept yet. Look before anything more is typed."


def notice(app: SpecdbApp) -> Region:
    """Where the notice is on the screen."""
    (toast,) = app.screen.query("Toast")
    return toast.region


def apart(app: SpecdbApp, line: Input) -> bool:
    """Whether a line has the focus and is seen."""
    return line.has_focus and not notice(app).overlaps(line.region)


@pytest.mark.parametrize("size", [SMALL, WIDE])
async def test_a_notice_waits_until_the_dialog_is_closed(make: AppFactory, size: tuple[int, int]) -> None:
    app = make()
    async with app.run_test(size=size, notifications=True) as pilot:
        await settled(pilot)
        app.push_screen(WaysDialog("Keep it?", "A question.", (Way("yes", "y", "Keep it"),)))
        await settled(pilot)
        app.notify(SAID, title="Measured elsewhere", severity="warning", markup=False, timeout=60)
        await settled(pilot)
        assert "Measured elsewhere" not in on_screen(app)
        await pilot.press("escape")
        await until(pilot, lambda: bool(app.screen.query("Toast")))
        assert "Measured elsewhere" in on_screen(app)


@pytest.mark.parametrize("size", [SMALL, WIDE])
async def test_an_error_is_told_under_the_dialog_it_comes_from(make: AppFactory, size: tuple[int, int]) -> None:
    app = make()
    async with app.run_test(size=size, notifications=True) as pilot:
        await settled(pilot)
        app.push_screen(WaysDialog("Keep it?", "A question.\n" * 40, (Way("yes", "y", "Keep it"),)))
        await settled(pilot)
        app.notify("The catalogue is busy.", title="Busy", severity="error", markup=False)
        await until(pilot, lambda: bool(app.screen.query("Toast")))
        assert "Busy: The catalogue is busy." in on_screen(app)
        assert not notice(app).overlaps(app.screen.query_one(".dialog").region)


@pytest.mark.parametrize("size", [SMALL, WIDE])
async def test_a_notice_keeps_away_from_the_line_that_is_typed_in(make: AppFactory, size: tuple[int, int]) -> None:
    app = make()
    async with app.run_test(size=size, notifications=True) as pilot:
        await settled(pilot)
        await pilot.press("n")  # the form of a new shaft, with why and by in its last lines
        await settled(pilot)
        app.notify(SAID, title="Measured elsewhere", severity="warning", timeout=60, markup=False)
        await until(pilot, lambda: bool(app.screen.query("Toast")))
        low = app.screen.query_one("#why", Input)
        high = next(i for i in app.screen.query(Input) if i.region.y < size[1] // 2)
        for line in (low, high, low):
            line.focus()
            await until(pilot, partial(apart, app, line))
            assert not notice(app).overlaps(app.screen.query_one("KeyLine").region)


async def test_where_there_is_little_room_all_of_a_notice_is_read_on_the_bottom_lines(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await settled(pilot)
        app.notify(SAID, title="Measured elsewhere", severity="warning", markup=False, timeout=60)
        await until(pilot, lambda: bool(app.screen.query("Toast")))
        assert notice(app).height <= 2
        assert notice(app).bottom == SMALL[1] - 1
        seen = " ".join(line.strip(" ▌") for line in on_screen(app).splitlines())
        assert f"Measured elsewhere: {SAID}" in seen
