"""An order with its lines entered and changed by keyboard; nothing half typed is lost, nothing written over."""

from __future__ import annotations

import asyncio
import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest
from textual.widgets import Static

import specdb
from specdb.tui.clubs.form import ClubForm
from specdb.tui.orders.form import OrderForm
from specdb.tui.orders.place import OrdersScreen
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.orders.entry import EntryLine, OrderEntry, keep_order, open_order
from specdb.verbs.orders.orders import order_of
from specdb.verbs.orders.parts import reserve_parts
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])
TODAY = dt.date(2026, 11, 25)


@pytest.fixture(autouse=True)
def _that_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("specdb.tui.widgets.days.shop_day", lambda: TODAY)
    monkeypatch.setattr("specdb.verbs.catalogue.forms.today", lambda: TODAY)
    monkeypatch.setattr("specdb.verbs.catalogue.values.today", lambda: TODAY)
    monkeypatch.setenv("SPECDB_BY", "Robin")


async def _new(pilot: AppPilot) -> OrderForm:
    await settled(pilot)
    await pilot.press("n")
    await settled(pilot)
    return _form(pilot)


async def _edit(pilot: AppPilot, order: str) -> OrderForm:
    await settled(pilot)
    pilot.app.screen.query_one(PagedTable).show_row(order)
    await settled(pilot)
    await pilot.press("e")
    await settled(pilot)
    return _form(pilot)


def _form(pilot: AppPilot) -> OrderForm:
    screen = pilot.app.screen
    assert isinstance(screen, OrderForm)
    return screen


async def _checked(pilot: AppPilot) -> None:
    await asyncio.sleep(0.4)  # the lines are checked when the typing pauses
    await settled(pilot)


def _lines(demo: Path, order: str) -> list[tuple[int, str | None, str | None, int]]:
    return [(o.line, o.club_id, o.set_id, o.quantity) for o in order_of(specdb.open(demo), order).lines]


@SIZES
def test_the_form_looks_as_it_did(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    async def act(pilot: AppPilot) -> None:
        await _new(pilot)
        await pilot.press(*"A. Wren (invented)", "tab", *"2026-12-20", "tab", "tab", *"ashby-driver", "down", *"nope")
        await pilot.press("up", "up")
        await _checked(pilot)
        for line in pilot.app.screen.query("Input"):
            line.cursor_blink = False  # type: ignore[attr-defined]
        await settled(pilot)

    assert snap_compare(make(start="orders"), terminal_size=size, run_before=act)


async def test_an_order_is_entered_by_keyboard(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _new(pilot)
        await pilot.press(*"A. Wren (invented)", "enter", *"20 Dec 2026", "enter", "enter")
        await pilot.press("enter")  # the list of clubs and sets
        await settled(pilot)
        await pilot.press(*"tansley-irons", "enter")
        await settled(pilot)
        await pilot.press(*"2", "enter", *"ashby-wedge")
        await _checked(pilot)
        assert "set of 3: 6 iron, 8 iron, PW" in on_screen(pilot.app)  # type: ignore[arg-type]
        assert "will be o-1047" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert isinstance(pilot.app.screen, OrdersScreen)
        assert pilot.app.screen.query_one(PagedTable).cursor_key == "o-1047"
    found = order_of(specdb.open(demo), "o-1047").order
    assert (found.customer, found.wanted_on, found.taken_by) == ("A. Wren (invented)", dt.date(2026, 12, 20), "Robin")
    assert _lines(demo, "o-1047") == [(1, None, "tansley-irons", 2), (2, "ashby-wedge", None, 1)]


@SIZES
async def test_a_day_is_typed_as_it_is_said_and_shown_as_it_is_understood(
    make: AppFactory, demo: Path, size: tuple[int, int]
) -> None:
    async with make(start="orders").run_test(size=size) as pilot:
        form = await _new(pilot)
        wanted = form.field("wanted_on")
        wanted.input.focus()
        await pilot.press(*"in 2 weeks")
        await settled(pilot)
        assert "= Wed 9 Dec 2026, in 14 days" in on_screen(pilot.app)  # type: ignore[arg-type]
        wanted.input.value = ""
        await pilot.press(*"9/12")
        await _checked(pilot)
        assert "9 Dec or 12 Sep" in " ".join(on_screen(pilot.app).split())  # type: ignore[arg-type]
        wanted.input.value = ""
        await pilot.press(*"next friday", "tab")
        await settled(pilot)
        assert wanted.text == "2026-12-04"  # so that a draft means the same day tomorrow
        assert "Fri 4 Dec 2026" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("tab", *"ashby-wedge")
        await _checked(pilot)
        await pilot.press("ctrl+s")
        await settled(pilot)
    assert order_of(specdb.open(demo), "o-1047").order.wanted_on == dt.date(2026, 12, 4)


async def test_a_new_club_is_made_from_the_order_and_comes_onto_its_line(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        form = await _new(pilot)
        await pilot.press(*"A. Wren (invented)")
        form.lines[0].put("ashby-wedge")
        await _checked(pilot)
        form.lines[-1].what.focus()
        await pilot.press("ctrl+l")
        await settled(pilot)
        club = pilot.app.screen
        assert isinstance(club, ClubForm)
        texts = {
            "label": "Driver", "head_id": "orrin-vale-escarp-460-10.5-rh", "adapter_id": "vale-eight-eight-335",
            "shaft_id": "hollin-reach-sker-60-s", "grip_id": "pellow-reed-50-600", "playing_length_in": "45 1/4",
        }  # fmt: skip
        for name, text in texts.items():
            club.body.entries[name].put(text)
        assert club.body.entries["player"].text == "A. Wren (invented)"
        await settled(pilot)
        await pilot.press("ctrl+s")
        await until(pilot, lambda: pilot.app.screen is form)
        await _checked(pilot)
        assert form.field("customer").text == "A. Wren (invented)"  # what was half typed is still there
        fresh = form.lines[1].text
        assert [line.text for line in form.lines] == ["ashby-wedge", fresh, ""]
        assert form.lines[1].quantity.has_focus
        await pilot.press("ctrl+s")
        await until(pilot, lambda: isinstance(pilot.app.screen, OrdersScreen))
        await settled(pilot)
    assert [club for _, club, _, _ in _lines(demo, "o-1047")] == ["ashby-wedge", fresh]
    with specdb.open(demo).read() as reader:
        assert reader.get("club", fresh).player == "A. Wren (invented)"


async def test_what_is_wrong_stands_beside_its_field_and_nothing_is_written(make: AppFactory, demo: Path) -> None:
    with specdb.open(demo).read() as reader:
        before = reader.count("order")
    async with make(start="orders").run_test(size=WIDE) as pilot:
        form = await _new(pilot)
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert "An order needs a club or a set" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press(*"ashby-drivr")
        await _checked(pilot)
        assert "There is no club or set 'ashby-drivr'" in on_screen(pilot.app)  # type: ignore[arg-type]
        form.lines[0].put("ashby-driver")
        form.lines[0].quantity.value = "0"
        form.field("wanted_on").put("03/04/2027")
        await _checked(pilot)
        shown = on_screen(pilot.app)  # type: ignore[arg-type]
        assert "it takes 1 to 99" in shown
        assert "two ways" in " ".join(shown.split())
        form.lines[0].quantity.value = "1"
        form.lines[-1].put("ashby-driver")
        await _checked(pilot)
        assert "It stands 1 above already" in on_screen(pilot.app)  # type: ignore[arg-type]
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert pilot.app.screen is form
    with specdb.open(demo).read() as reader:
        assert reader.count("order") == before


async def test_lines_are_changed_and_removed(make: AppFactory, demo: Path) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        form = await _edit(pilot, "o-1041")
        form.lines[0].what.focus()
        await pilot.press("tab", "delete", *"2", "down", "ctrl+d")
        await settled(pilot)
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert isinstance(pilot.app.screen, OrdersScreen)
    assert _lines(demo, "o-1041") == [(1, "ashby-driver", None, 2)]


async def test_a_line_with_parts_kept_stays(make: AppFactory, demo: Path) -> None:
    reserve_parts(specdb.open(demo), "o-1043")
    async with make(start="orders").run_test(size=SMALL) as pilot:
        form = await _edit(pilot, "o-1043")
        form.lines[0].put("ashby-wedge")
        await _checked(pilot)
        await pilot.press("ctrl+s")
        await settled(pilot)
        said = " ".join(on_screen(pilot.app).split())  # type: ignore[arg-type]
        assert "parts are kept for a club of" in said
        assert pilot.app.screen is form
    assert _lines(demo, "o-1043") == [(1, None, "tansley-irons", 1)]


async def test_an_order_half_typed_comes_back_by_itself(make: AppFactory, tmp_path: Path) -> None:
    state = tmp_path / "kept"
    first = make(start="orders", state=state)
    async with first.run_test(size=SMALL) as pilot:
        await _new(pilot)
        await pilot.press(*"A. Wren", "tab", "tab", "tab", *"ashby-driver", "tab", "delete", *"3")
        await settled(pilot)
        first.memory.flush()
    first.close_down()
    async with make(start="orders", state=state).run_test(size=SMALL) as pilot:
        await settled(pilot)
        form = _form(pilot)
        assert form.field("customer").text == "A. Wren"
        assert [(e.text, e.quantity.value) for e in form.lines] == [("ashby-driver", "3"), ("", "1")]
        assert "not saved yet" in on_screen(pilot.app)  # type: ignore[arg-type]


async def test_what_is_kept_half_typed_is_one_key_away(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=SMALL) as pilot:
        await _new(pilot)
        await pilot.press(*"A. Wren", "escape")
        await settled(pilot)
        await pilot.press("k")
        await settled(pilot)
        assert isinstance(pilot.app.screen, OrdersScreen)
        await pilot.press("d")
        await settled(pilot)
        assert _form(pilot).field("customer").text == "A. Wren"
        await pilot.press("escape", "t")
        await settled(pilot)
        await pilot.press("d")
        await settled(pilot)
        assert isinstance(pilot.app.screen, OrdersScreen)


async def test_the_second_to_save_is_asked(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    async with make(start="orders").run_test(size=SMALL) as pilot:
        form = await _edit(pilot, "o-1041")
        form.field("customer").put("R. Ashby")
        other = open_order(shop, "o-1041")
        lines = tuple(EntryLine(n, w) for n, w in other.wanted.items())
        later = dt.date(2026, 12, 30)
        keep_order(shop, OrderEntry(customer="Someone", wanted_on=later, notes="Call first.", lines=lines), other)
        await until(pilot, lambda: "Somebody else has just changed" in on_screen(pilot.app), 5.0)  # type: ignore[arg-type]
        await pilot.press("ctrl+s")
        await settled(pilot)
        asked = str(pilot.app.screen.query(Static).first().content)
        assert "theirs is Someone; mine is R. Ashby" in asked
        await pilot.press("m")
        await settled(pilot)
        assert isinstance(pilot.app.screen, OrdersScreen)
    found = order_of(shop, "o-1041").order
    # what both changed is mine, what only the other changed is theirs
    assert (found.customer, found.wanted_on, found.notes) == ("R. Ashby", later, "Call first.")


async def test_by_mouse_too(make: AppFactory) -> None:
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await settled(pilot)
        await pilot.click("KeyLine", offset=(2, 0))  # the first of the keys: a new order
        await settled(pilot)
        form = _form(pilot)
        await pilot.click(form.lines[0].query_one("#sign"))
        await settled(pilot)
        table = pilot.app.screen.query_one(PagedTable)
        await pilot.click(table, offset=(4, 4))  # goes to the row
        await settled(pilot)
        await pilot.click(table, offset=(4, 4))  # takes it
        await settled(pilot)
        assert form.lines[0].text
        assert len(form.lines) == 2
