"""The screens of this part as they look, at two sizes: a change of them is looked at before it is taken."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.tui.app import SpecdbApp
from specdb.tui.catalogue.history_view import HistoryScreen
from specdb.tui.catalogue.import_view import ImportScreen
from specdb.tui.catalogue.parts_view import PartsScreen
from specdb.tui.catalogue.stock_dialog import StockDialog
from specdb.tui.dialogs.ask import WaysDialog, WordDialog
from specdb.tui.dialogs.differs import DiffersDialog
from specdb.tui.dialogs.take_back import TakeBackDialog
from specdb.verbs.catalogue.changing import set_fields
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until
from tests.tui.test_form import SHAFT, entry, opened, typed
from tests.tui.test_import_view import SHAFTS

Case = Callable[[AppPilot, SpecdbApp, Path], Awaitable[None]]


@pytest.fixture(autouse=True)
def _someone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SPECDB_BY", "Wilmot Dray")


def two_changes(path: Path) -> None:
    """Two changes on a known day, so that the pictures stay the same."""
    set_fields(Catalogue(path), "shaft", SHAFT, ["weight_g=64", "flex=SR"], by="Petra Osk", why="weighed three")
    set_fields(Catalogue(path), "shaft", SHAFT, ["weight_g=65"], by="Wilmot Dray")
    # behind the gate: the interface may just be reading
    with Catalogue(path).open_file(write=True, what="a test") as con:
        con.execute("UPDATE change SET \"at\" = TIMESTAMP '2026-03-05 10:15:00' WHERE change_no > 1")


async def changed_form(pilot: AppPilot, app: SpecdbApp, _: Path) -> None:
    """A form with units as typed, and something wrong."""
    await opened(pilot, "shaft", SHAFT)
    await typed(pilot, "raw_length_in", "1156 mm")
    await typed(pilot, "weight_g", "2.3 oz")
    await typed(pilot, "tip_dia_in", "99 kg")
    await until(pilot, lambda: bool(entry(app, "tip_dia_in").error))


async def new_form(pilot: AppPilot, app: SpecdbApp, _: Path) -> None:
    """An empty form after one tried to save it."""
    await opened(pilot, "head")
    await pilot.press("ctrl+s")
    await settled(pilot)
    await until(pilot, lambda: bool(entry(app, "hand").error))


async def words(pilot: AppPilot, app: SpecdbApp, _: Path) -> None:
    """The words a field takes."""
    await opened(pilot, "shaft", SHAFT)
    entry(app, "club_type").input.focus()
    await pilot.press("enter")
    await until(pilot, lambda: isinstance(app.screen, WordDialog))


async def differs(pilot: AppPilot, app: SpecdbApp, path: Path) -> None:
    """The difference, shown to the second to save."""
    await opened(pilot, "shaft", SHAFT)
    await typed(pilot, "weight_g", "61")
    two_changes(path)
    # so that the picture does not depend on which of the two is first, the watch or the save
    await until(pilot, lambda: "has just changed" in on_screen(app))
    await pilot.press("ctrl+s")
    await until(pilot, lambda: isinstance(app.screen, DiffersDialog))


async def leaving(pilot: AppPilot, app: SpecdbApp, _: Path) -> None:
    """What to do with what is not saved."""
    await opened(pilot, "shaft", SHAFT)
    await typed(pilot, "flex", "SR")
    await pilot.press("escape")
    await until(pilot, lambda: isinstance(app.screen, WaysDialog))


async def of_a_row(pilot: AppPilot, app: SpecdbApp, path: Path) -> None:
    """The history of a row."""
    two_changes(path)
    await settled(pilot)
    app.push_screen(HistoryScreen("shaft", SHAFT))
    await until(pilot, lambda: isinstance(app.screen, HistoryScreen))
    await settled(pilot)
    await pilot.press("down")


async def undoing(pilot: AppPilot, app: SpecdbApp, path: Path) -> None:
    """Whether to undo."""
    await of_a_row(pilot, app, path)
    await pilot.press("up")
    await settled(pilot)
    await pilot.press("u")
    await until(pilot, lambda: isinstance(app.screen, TakeBackDialog))


async def importing(pilot: AppPilot, app: SpecdbApp, path: Path) -> None:
    """A file looked at."""
    file = path.parent / "shafts.csv"
    file.write_text(SHAFTS, encoding="utf-8")
    await settled(pilot)
    app.push_screen(ImportScreen("shaft", str(file)))
    await until(pilot, lambda: isinstance(app.screen, ImportScreen))


async def moving(pilot: AppPilot, app: SpecdbApp, _: Path) -> None:
    """Stock."""
    await settled(pilot)
    app.push_screen(StockDialog("shaft", "ambrel-drugget-50-r", "use"))
    await until(pilot, lambda: isinstance(app.screen, StockDialog))
    await settled(pilot)
    await pilot.press("9")


async def readings(pilot: AppPilot, app: SpecdbApp, _: Path) -> None:
    """Readings of a shaft."""
    await settled(pilot)
    app.push_screen(PartsScreen("shaft", SHAFT))
    await until(pilot, lambda: isinstance(app.screen, PartsScreen))


SCREENS = (changed_form, new_form, of_a_row, importing, readings)
DIALOGS = (words, differs, leaving, undoing, moving)  # as large at any size


@pytest.mark.parametrize(
    ("case", "size"),
    [(case, SMALL) for case in (*SCREENS, *DIALOGS)] + [(case, WIDE) for case in (*SCREENS, differs)],
    ids=lambda part: f"{part[0]}x{part[1]}" if isinstance(part, tuple) else part.__name__,
)
def test_it_looks_as_it_did(make: AppFactory, demo: Path, snap_compare: Any, size: tuple[int, int], case: Case) -> None:
    async def before(pilot: AppPilot) -> None:
        app = pilot.app
        assert isinstance(app, SpecdbApp)
        await case(pilot, app, demo)
        await settled(pilot)
        for widget in app.screen.query("Input"):
            widget.cursor_blink = False  # type: ignore[attr-defined]

    assert snap_compare(make(), terminal_size=size, run_before=before)
