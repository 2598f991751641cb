"""Build by keyboard and by mouse, and its pictures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input

import specdb
from specdb.tui.building.chooser import UnitChooser
from specdb.tui.building.measures import MeasuresPane
from specdb.tui.building.place import BuildScreen
from specdb.tui.building.steps import StepsPane
from specdb.tui.desk import Desk
from specdb.tui.frame import WaitingLine
from specdb.verbs.building.as_built import Finished
from specdb.verbs.building.finished_clubs import Measured, keep_built
from specdb.verbs.orders.changes import set_order_state
from specdb.verbs.orders.orders import order_of
from specdb.verbs.orders.parts import Which
from specdb.verbs.orders.working import look_at_finishing
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

Compare = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [SMALL, WIDE], ids=["80x24", "120x40"])
KEPT_ORDER = "specdb:club/wexcombe-7-iron/o-1045/1/1"  # its parts are kept on the shelf
GOOD = ("37", "393", "D0", "284", "31", "62.5")
NEEDED = {"length", "weight", "swingweight", "frequency", "loft", "lie"}


async def _still(pilot: AppPilot) -> None:
    await settled(pilot)
    for line in pilot.app.screen.query("Input"):
        line.cursor_blink = False  # type: ignore[attr-defined]
    await settled(pilot)


async def _type(pilot: AppPilot, *texts: str) -> None:
    for text in texts:
        await pilot.press(*text, "enter")
        await settled(pilot)


async def _open(pilot: AppPilot, code: str) -> BuildScreen:
    """Scan a code at the place Build."""
    await settled(pilot)
    await pilot.press(*code, "enter")
    await settled(pilot)
    screen = pilot.app.screen
    assert isinstance(screen, BuildScreen)
    return screen


def _shown(pilot: AppPilot) -> str:
    return on_screen(pilot.app)  # type: ignore[arg-type]


def _words(pilot: AppPilot) -> str:
    return " ".join(_shown(pilot).replace("│", " ").split())


def _told(pilot: AppPilot) -> str:
    return " ".join(notice.message for notice in pilot.app._notifications)


def _rows(demo: Path, order: str | None = "o-1045") -> list[Any]:
    with specdb.open(demo).read() as reader:
        return [r for r in reader.rows("as_built") if r.order_id == order]


def _parts(demo: Path) -> tuple[set[str], int]:
    """States of the parts of the order, and how many of its shaft are on hand."""
    with specdb.open(demo).read() as reader:
        mine = [r for r in reader.rows("reservation") if r.order_id == "o-1045"]
        shaft = next(r.item_id for r in mine if r.kind == "shaft")
        return {r.state for r in mine}, reader.stock("shaft")[shaft]


# ---- pictures


@SIZES
def test_a_step_looks_as_it_did(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    async def act(pilot: AppPilot) -> None:
        await _open(pilot, "specdb:club/ashby-driver/o-1041/1/1")
        await pilot.press("right", "right", "right", "right")
        await _still(pilot)

    assert snap_compare(make(start="build"), terminal_size=size, run_before=act)


@SIZES
def test_build_looks_as_it_did(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    async def act(pilot: AppPilot) -> None:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("m")
        await _type(pilot, "37", "401")
        await pilot.press("up")
        await _still(pilot)

    assert snap_compare(make(start="build"), terminal_size=size, run_before=act)


@SIZES
def test_the_choice_looks_as_it_did(snap_compare: Compare, make: AppFactory, size: tuple[int, int]) -> None:
    async def act(pilot: AppPilot) -> None:
        await settled(pilot)
        await pilot.press("ctrl+n")
        await _still(pilot)

    assert snap_compare(make(start="build"), terminal_size=size, run_before=act)


# ---- which club


async def test_a_club_of_an_order_is_chosen_by_a_part_of_its_name(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert "No club is on the bench" in _shown(pilot)
        await pilot.press("ctrl+n")
        await settled(pilot)
        await pilot.press(*"tansley 8")
        await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        assert "tansley-8-iron o-1043 1.1" in _words(pilot)
        await pilot.press("c")
        await settled(pilot)
        assert "TRIM CHART" in _shown(pilot)
        await pilot.press("escape", "n")
        await settled(pilot)
        assert "tansley-pw o-1043 1.1" in _words(pilot)


async def test_a_code_is_scanned_wherever_one_is(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        # at a step: its first letter is the key that opens the entry for codes
        await _open(pilot, "specdb:club/ashby-wedge")
        assert "ashby-wedge" in _shown(pilot)
        assert "1 of" in _shown(pilot)
        # while measuring, over a value that is typed already
        await pilot.press("m", *"35", "enter", "up")
        await _open(pilot, KEPT_ORDER)
        assert "wexcombe-7-iron o-1045 1.1" in _words(pilot)
        # a code of something else is told, and is no value
        await pilot.press("m")
        await _type(pilot, "https://example.org")
        assert "is no code of a build sheet" in _words(pilot)
        assert pilot.app.screen.query_one("#value-length", Input).value == ""
        await pilot.press("escape")
        # what was typed for the other club is still there
        screen = await _open(pilot, "specdb:club/ashby-wedge")
        assert screen.query_one("#value-length", Input).value == "35"
        # in the list
        await pilot.press("ctrl+n")
        await settled(pilot)
        await _type(pilot, KEPT_ORDER)
        assert "wexcombe-7-iron o-1045 1.1" in _words(pilot)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("https://example.org/x", "is no code of a build sheet"),
        ("specdb:club/ashby-wedge/o-1041/", "is only a part of the code"),
        ("specdb:club/ashby-wegde", "ashby-wedge"),  # near matches are named
        ("specdb:club/ashby-driver/o-9/1/1", "o-9"),
        ("specdb:club/ashby-driver/o-1045/1/1", "does not ask for ashby-driver; it asks for: wexcombe-7-iron"),
        ("specdb:club/wexcombe-7-iron/o-1045/7/1", "was the order changed"),
        ("nobody's club", "cannot be the name of a club"),
    ],
)
async def test_a_wrong_code_is_told_in_a_sentence(code: str, said: str, make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("s")
        await settled(pilot)
        await _type(pilot, code)
        assert said in _words(pilot)
        assert "No club is on the bench" in _words(pilot)


async def test_a_club_named_alone_is_that_of_its_order(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("s")
        await _open(pilot, "ashby-driver")
        assert "ashby-driver o-1041 1.1" in _words(pilot)
        assert "Order o-1041 asks for ashby-driver" in _told(pilot)
        # chosen from the list as one without an order, it is that
        await pilot.press("ctrl+n")
        await settled(pilot)
        await _type(pilot, "ashby-driver no order")
        assert "ashby-driver o-1041" not in _words(pilot)


async def test_which_order_is_asked_where_several_ask_for_the_club(make: AppFactory, demo: Path) -> None:
    wanted = [specdb.Wanted(club_id="ashby-driver")]
    specdb.add_order(specdb.open(demo), "o-2001", wanted, wanted_on=dt.date(2020, 1, 1), customer="R. Vetch (invented)")
    async with make(start="build").run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("s")
        await _type(pilot, "ashby-driver")
        assert "For which order is ashby-driver?" in _shown(pilot)
        row = next(line for line in _shown(pilot).splitlines() if "o-2001" in line)
        assert "1 Jan 2020" in row  # far off, so with its year
        assert "R. Vetch" in row
        await _type(pilot, "1041")
        assert "ashby-driver o-1041 1.1" in _words(pilot)


async def test_a_question_is_no_sentence_that_ends_twice(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("s")
        await _open(pilot, "https://example.org/x")
        assert "set to this keyboard?" in _words(pilot)
        assert "?." not in _shown(pilot)


async def test_it_is_opened_at_a_club(demo: Path, tmp_path: Path) -> None:
    from specdb.tui.app import make_app

    app = make_app(demo, state_folder=tmp_path / "s", start="build", arguments={"code": "ashby-hybrid"})
    async with app.run_test(size=SMALL) as pilot:
        await until(pilot, lambda: "ashby-hybrid" in _shown(pilot))
        await settled(pilot)
        assert "CHECK THE PARTS" in _shown(pilot)
    app.close_down()


# ---- the steps


async def test_steps_are_ticked_off_with_the_time_and_remembered(make: AppFactory, tmp_path: Path) -> None:
    state = tmp_path / "kept"
    first = make(start="build", state=state)
    async with first.run_test(size=WIDE) as pilot:
        await _open(pilot, "specdb:club/ashby-driver")
        await pilot.press("space", "space")
        await settled(pilot)
        assert "3 of 8" in _shown(pilot)
        await pilot.press("left")
        await settled(pilot)
        assert "✓ done" in _shown(pilot)
        await pilot.press("u", "right", "right")
        await settled(pilot)
        assert "4 of 8" in _shown(pilot)
        await until(pilot, lambda: not first.memory._changed)  # it is written at most half a second later
    # not closed in good order: what was done is on the disk all the same
    async with make(start="build", state=state).run_test(size=WIDE) as pilot:
        await until(pilot, lambda: "4 of 8" in _shown(pilot))  # it comes once the catalogue was read
        await settled(pilot)
        await pilot.press("left", "left")
        await settled(pilot)
        assert "2 of 8" in _shown(pilot)
        assert "✓ done" not in _shown(pilot)
        await pilot.press("left")
        await settled(pilot)
        assert "✓ done" in _shown(pilot)


async def test_cautions_come_first_and_a_step_is_read_to_its_end(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        screen = await _open(pilot, "specdb:club/ashby-driver")
        pane = screen.query_one(StepsPane)
        assert pane.unread > 0
        assert "more lines below" in _shown(pilot)
        assert _shown(pilot).index("CAUTION") < _shown(pilot).index("weigh the raw shaft")
        await pilot.press("space")  # reads on, and ticks nothing off
        await settled(pilot)
        assert pane.unread == 0
        assert "a caution among them" in _shown(pilot)
        await pilot.press("space")
        await settled(pilot)
        assert "2 of 8" in _shown(pilot)
        assert "off the raw TIP end" in _shown(pilot)


async def test_a_caution_out_of_sight_is_said(make: AppFactory) -> None:
    async with make(start="build").run_test(size=(80, 11)) as pilot:
        await _open(pilot, "specdb:club/ashby-driver")
        assert "among them a CAUTION" in _shown(pilot)


async def test_steps_and_measurements_by_mouse(make: AppFactory) -> None:
    async with make(start="build").run_test(size=WIDE) as pilot:
        screen = await _open(pilot, "specdb:club/ashby-driver")
        await pilot.click("KeyLine", offset=(3, 0))
        await settled(pilot)
        assert "2 of 8" in _shown(pilot)
        await pilot.resize_terminal(200, 60)
        await settled(pilot)
        await pilot.click("#value-loft")
        await settled(pilot)
        assert screen.focused is screen.query_one("#value-loft")
        await _type(pilot, "10.5")
        assert "as wanted" in _shown(pilot)


# ---- the measurements


async def test_from_the_order_to_the_measured_club_and_back(make: AppFactory, demo: Path) -> None:
    before = _parts(demo)
    assert before[0] == {"held"}
    async with make(start="orders").run_test(size=WIDE) as pilot:
        await settled(pilot)
        await pilot.press("b")
        await settled(pilot)
        assert "wexcombe-7-iron o-1045 1.1" in _words(pilot)
        await pilot.press("m")
        await _type(pilot, *GOOD)
        assert "6 typed, not kept" in _shown(pilot)
        await pilot.press("ctrl+s")
        await settled(pilot)
        shown = _words(pilot)
        assert "DONE: it is the club that was fitted" in shown
        assert "Booked as built in" in shown
        rows = _rows(demo)
        assert {r.quantity for r in rows} == NEEDED
        assert {(r.order_id, r.line, r.unit) for r in rows} == {("o-1045", 1, 1)}
        assert next(r.value for r in rows if r.quantity == "swingweight") == 213.5  # D0 (common practice, no source)
        assert _parts(demo) == ({"used"}, before[1] - 1)
        # one change: taken back as one
        await pilot.press("escape")  # no next club yet
        await until(pilot, lambda: "Finish o-1045?" in _shown(pilot))
        await pilot.press("n")  # it stays at the bench
        await settled(pilot)
        assert "✓ done" in _shown(pilot)
        await pilot.press("ctrl+z")
        await settled(pilot)
        await pilot.press("y")
        await settled(pilot)
        assert _rows(demo) == []
        assert _parts(demo) == before
        await until(pilot, lambda: "not measured" in _shown(pilot))


async def test_a_wrong_unit_is_told_beside_the_entry_and_nothing_is_kept(make: AppFactory, demo: Path) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        screen = await _open(pilot, KEPT_ORDER)
        await pilot.press("m")
        await _type(pilot, "37 mm", "393")
        await pilot.press("up", "up")
        await settled(pilot)
        assert "is the unit right?" in _words(pilot)
        assert "! cannot be taken" in _shown(pilot)
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert screen.focused is screen.query_one("#value-length")
        assert _rows(demo) == []
        # as typed in another unit that is possible: 940 mm are 37.0 in
        await _type(pilot, "940 mm")
        await pilot.press("ctrl+s")
        await settled(pilot)
    assert next(r.value for r in _rows(demo) if r.quantity == "length") == pytest.approx(940 / 25.4)


async def test_what_is_outside_is_told_with_what_to_do(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await _open(pilot, "specdb:club/ashby-driver")
        await pilot.press("m", "down", "down", *"D2")
        await settled(pilot)
        shown = _words(pilot)
        assert "OUTSIDE: 1.5 points light" in shown
        assert "Add 2.5 g at the head." in shown


async def test_a_gross_slip_is_asked_about_before_it_is_kept(make: AppFactory, demo: Path) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        screen = await _open(pilot, KEPT_ORDER)
        await pilot.press("m")
        await _type(pilot, "45 1/4", "393")
        await pilot.press("up", "up")
        await settled(pilot)
        assert "45 1/4 in is 8 1/4 in more than ordered: measured again?" in _words(pilot)
        assert "off the butt" not in _words(pilot)
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert "Is it right?" in _words(pilot)
        await pilot.press("n")
        await settled(pilot)
        assert _rows(demo) == []
        assert screen.focused is screen.query_one("#value-length")
        await pilot.press("ctrl+s")
        await settled(pilot)
        await pilot.press("y")
        await settled(pilot)
        assert "Cut 8 1/4 in (210 mm) off the butt" in _words(pilot)
    assert {r.quantity: r.value for r in _rows(demo)} == {"length": 45.25, "weight": 393.0}


async def test_a_length_is_shown_as_it_was_typed(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await _open(pilot, "specdb:club/ashby-driver/-")
        await pilot.press("m")
        await _type(pilot, "1150 mm")
        await pilot.press("up")
        await settled(pilot)
        assert "= 1150 mm (45 9/32 in)" in _words(pilot)
        assert "1/32 in (0.7 mm) long" in _words(pilot)
        await pilot.press("ctrl+s")
        await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        assert "1150 mm kept ✓ as wanted" in _words(pilot)


async def test_a_waived_measurement_needs_a_reason_and_counts(make: AppFactory, demo: Path) -> None:
    async with make(start="build").run_test(size=WIDE) as pilot:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("m")
        await _type(pilot, *GOOD[:5])
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert "NOT DONE: still to be measured, or waived with a reason: lie" in _words(pilot)
        assert _parts(demo)[0] == {"held"}  # not done: nothing has left the shelf
        await pilot.press("enter")
        await settled(pilot)
        screen = pilot.app.screen
        screen.query_one("#value-lie", Input).focus()
        await pilot.press("ctrl+w")
        await settled(pilot)
        await _type(pilot, "")
        assert not _rows_of(demo, "lie")
        await pilot.press("ctrl+w")
        await settled(pilot)
        await _type(pilot, "gauge out for repair")
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert "DONE" in _shown(pilot)
    assert _rows_of(demo, "lie") == [(None, "gauge out for repair")]
    assert _parts(demo)[0] == {"used"}


def _rows_of(demo: Path, quantity: str) -> list[tuple[float | None, str | None]]:
    return [(r.value, r.waived) for r in _rows(demo) if r.quantity == quantity]


async def test_half_typed_values_come_back(make: AppFactory, tmp_path: Path) -> None:
    state = tmp_path / "kept"
    first = make(start="build", state=state)
    async with first.run_test(size=SMALL) as pilot:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("m", *"37.0625", "enter", "ctrl+w")
        await settled(pilot)
        await _type(pilot, "scale is out")
    first.close_down()
    async with make(start="build", state=state).run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert pilot.app.screen.query_one("#value-length", Input).value == "37.0625"
        await pilot.press("m")
        await settled(pilot)
        assert "not measured: scale is out" in _shown(pilot)


@pytest.mark.parametrize("answer", ["y", "n", "escape"])
async def test_another_terminal_s_measurement_is_seen_and_never_overwritten_silently(
    answer: str, make: AppFactory, demo: Path
) -> None:
    async with make(start="build").run_test(size=WIDE) as pilot:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("m")
        await _type(pilot, "37 1/16")
        other = Finished(club="wexcombe-7-iron", order="o-1045", line=1, unit=1)
        keep_built(specdb.open(demo), other, Measured(values={"length": 37.0, "loft": 31.0}), by="Robin")
        await until(pilot, lambda: "Robin has kept 37 in meanwhile" in _told(pilot))
        await settled(pilot)
        assert "31° kept" in _words(pilot)  # seen at once where nothing is typed here
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert "kept by Robin 37 in, typed here 37 1/16" in _words(pilot)
        await pilot.press(answer)
        await settled(pilot)
        # with no, theirs stands, and nothing is said to be typed and not kept; undecided, it stays typed
        left = "37 1/16" if answer == "escape" else ""
        if answer != "y":
            assert pilot.app.screen.query_one("#value-length", Input).value == left
            assert ("typed, not kept" in _shown(pilot)) == bool(left)
    assert _rows_of(demo, "length") == [(37.0625 if answer == "y" else 37.0, None)]


async def test_the_instrument_is_named_and_corrected(make: AppFactory, demo: Path) -> None:
    catalogue = specdb.open(demo)
    with catalogue.write(by="tests") as writer:
        for n, true in enumerate((220.0, 250.0, 280.0, 310.0) * 4):
            writer.put(
                "reference_reading",
                {"instrument": "meter 9", "quantity": "frequency", "reference": f"bar {true:g}", "true_value": true,
                 "value": true + 6.0, "taken_on": "2026-11-02", "repeat": n + 1},
            )  # fmt: skip
    async with make(start="build").run_test(size=WIDE) as pilot:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("m", "ctrl+e")
        await settled(pilot)
        pilot.app.screen.query_one("#word-frequency", Input).focus()
        await pilot.press(*"meter 9", "ctrl+s")
        await settled(pilot)
        pilot.app.screen.query_one("#value-frequency", Input).focus()
        await pilot.press(*"290")
        await settled(pilot)
        shown = _words(pilot)
        assert "with meter 9" in shown
        # what the bars say it reads too much: 6 cpm
        counts = float(shown.partition("corrected by its reference readings: ")[2].split()[0])
        assert counts == pytest.approx(284.0, abs=0.5)
        assert "OUTSIDE" not in shown
        await pilot.press("ctrl+s")
        await settled(pilot)
    (row,) = [r for r in _rows(demo) if r.quantity == "frequency"]
    assert (row.value, row.instrument) == (290.0, "meter 9")  # as read


async def test_the_raw_shaft_is_weighed_at_the_step_that_asks_for_it(make: AppFactory, demo: Path) -> None:
    async with make(start="build").run_test(size=WIDE) as pilot:
        screen = await _open(pilot, KEPT_ORDER)
        assert "Raw shaft: not weighed yet" in _words(pilot)
        expected = screen.bench.sheet.raw_weight_g if screen.bench else 0.0
        await pilot.press("w")
        await settled(pilot)
        await _type(pilot, f"{expected + 20:.1f}", "")
        await settled(pilot)
        assert "piece 1 weighs" in _words(pilot).lower()
        assert "20.0 g more than expected: tell the fitter before it is cut" in _words(pilot)
        # at another step the key is not offered
        await pilot.press("right")
        await settled(pilot)
        assert "weigh raw" not in _shown(pilot)
        shaft = screen.bench.answer.shaft if screen.bench else ""
    with specdb.open(demo).read() as reader:
        raw = [(r.sample, r.quantity) for r in reader.readings_of(shaft) if r.sample == "piece 1"]
    assert raw == [("piece 1", "weight")]


async def test_the_step_measure_is_done_by_measuring_alone(make: AppFactory) -> None:
    async with make(start="build").run_test(size=WIDE) as pilot:
        screen = await _open(pilot, KEPT_ORDER)
        await pilot.press(*["right"] * 12, "space")
        await settled(pilot)
        assert screen.has_class("-measuring")
        await pilot.press("f9")
        await settled(pilot)
        assert "MEASURE" in _shown(pilot)
        assert "✓ done" not in _shown(pilot)
        await pilot.press("m")
        await _type(pilot, *GOOD)
        await pilot.press("ctrl+s")
        await settled(pilot)
        await pilot.press("escape")
        await settled(pilot)
        title = next(line for line in _shown(pilot).splitlines() if " MEASURE" in line)
        assert "✓ done" in title


async def test_after_a_club_the_next_of_its_order_is_offered_then_the_next_order(make: AppFactory, demo: Path) -> None:
    waived = dict.fromkeys(NEEDED, "a test")
    # of the three irons of o-1043 one is measured already
    keep_built(specdb.open(demo), Finished(club="tansley-pw", order="o-1043"), Measured(waived=waived))
    async with make(start="build").run_test(size=WIDE) as pilot:
        screen = await _open(pilot, "specdb:club/tansley-6-iron/o-1043/1/1")
        for said, following in (
            ("Next of this order: tansley-8-iron (o-1043 1.1", "tansley-8-iron o-1043 1.1"),
            ("This order has no other club to measure. Next: wexcombe-7-iron", "wexcombe-7-iron o-1045 1.1"),
        ):
            await pilot.press("m")
            await settled(pilot)
            assert screen.typed is not None
            screen.typed.waived.update(waived)
            await pilot.press("ctrl+s")
            await settled(pilot)
            assert said in _words(pilot)
            await pilot.press("enter")
            await settled(pilot)
            if "Finish o-1043?" in _words(pilot):  # it was the last of its order
                await pilot.press("n")
                await settled(pilot)
            assert following in _words(pilot)


async def test_another_club_begins_at_its_first_entry_and_one_s_own_keeping_is_no_alarm(
    make: AppFactory, demo: Path
) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        screen = await _open(pilot, "specdb:club/tansley-6-iron/o-1043/1/1")
        await pilot.press("m")
        await _type(pilot, "37.5", "", "", "", "", "62")
        assert screen.query_one(MeasuresPane).at == "grip_size"
        await pilot.press("ctrl+s")
        await settled(pilot)
        await until(pilot, lambda: len(_rows(demo, "o-1043")) == 2)
        await settled(pilot)
        assert "Measured elsewhere" not in "".join(n.title for n in pilot.app._notifications)
        assert "meanwhile" not in _told(pilot)
        await pilot.press("escape")
        await settled(pilot)
        await pilot.press("escape", "n")
        await settled(pilot)
        await pilot.press("m")
        await settled(pilot)
        assert screen.bench is not None
        assert screen.bench.meant.club != "tansley-6-iron"
        assert screen.query_one(MeasuresPane).at == "length"


async def test_a_part_that_breaks_at_the_bench_is_booked_as_spoilt(make: AppFactory, demo: Path) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("z")
        await settled(pilot)
        await until(pilot, lambda: "Which part was spoilt?" in _shown(pilot))
        row = next(line for line in _shown(pilot).splitlines() if "grip" in line)
        assert "wexcombe-7-iron (1.1)  kept" in row
        await _type(pilot, "grip")
        assert "for wexcombe-7-iron (1.1), kept" in _words(pilot)
        await _type(pilot, "cut through")
    grip = next(s for s in order_of(specdb.open(demo), "o-1045").states if s.need.kind == "grip")
    assert (grip.reserved, grip.used) == (0, 0)


async def test_enter_opens_the_list_where_no_club_is_on_the_bench(make: AppFactory) -> None:
    async with make(start="build").run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(pilot.app.screen, UnitChooser))


async def test_a_club_whose_shaft_was_spoilt_says_so_on_the_bench(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    finished = Finished(club="wexcombe-7-iron", order="o-1045")
    keep_built(shop, finished, Measured(waived=dict.fromkeys(NEEDED, "a test")))
    specdb.spoil_parts(shop, "o-1045", Which(("shaft",)), why="it broke")
    async with make(start="build").run_test(size=SMALL) as pilot:
        await _open(pilot, KEPT_ORDER)
        said = "Its shaft was spoilt (it broke) after it was measured. What was measured before no longer counts."
        assert said in _words(pilot)
        assert "not measured" in _shown(pilot)


async def test_notices_leave_the_club_and_the_entries_in_sight(
    make: AppFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with make(start="build").run_test(size=SMALL, notifications=True) as pilot:
        screen = await _open(pilot, KEPT_ORDER)
        await pilot.press("m", "up")  # the last entry
        await settled(pilot)
        pilot.app.notify("Something is to be known.", timeout=60)
        await until(pilot, lambda: bool(screen.query("Toast")))
        await settled(pilot)
        club, waiting = screen.query_one("#head-club").region, screen.query_one(WaitingLine)
        assert screen.query_one("Toast").region.y >= club.bottom
        monkeypatch.setattr(Desk, "waiting", lambda _: "Waiting 1 s: another program has the catalogue open.")
        await until(pilot, lambda: waiting.region.height > 0)
        assert club.bottom <= waiting.region.y < screen.query_one(MeasuresPane).region.y


async def test_what_is_not_to_be_built_is_not_measured_either(make: AppFactory, demo: Path) -> None:
    specdb.set_fields(specdb.open(demo), "head", "orrin-vale-coulter-5-rh", ["max_bend_deg=1"])
    specdb.set_fields(specdb.open(demo), "club", "quilter-5-iron", ["loft_deg=29"])  # 3 degrees of bending
    async with make(start="build").run_test(size=WIDE) as pilot:
        screen = await _open(pilot, "specdb:club/quilter-5-iron/o-1042/1/1")
        assert "NOT TO BE BUILT" in _shown(pilot)
        await pilot.press("space")
        await settled(pilot)
        assert not screen.has_class("-measuring")


async def test_the_raw_piece_is_weighed_and_named(make: AppFactory, demo: Path) -> None:
    async with make(start="build").run_test(size=WIDE) as pilot:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("ctrl+r")
        await settled(pilot)
        await _type(pilot, "piece 4", "748")
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert "5 to 250 g is possible" in _words(pilot)  # no shaft weighs 748 g
        pilot.app.screen.query_one("#word-weight", Input).value = ""
        pilot.app.screen.query_one("#word-weight", Input).focus()
        await pilot.press(*"74.8", "ctrl+s")
        await settled(pilot)
        assert "Readings of piece 4 are kept" in _told(pilot)
        await pilot.press("m")
        await _type(pilot, "37")
        await pilot.press("ctrl+s")
        await settled(pilot)
    (row,) = _rows(demo)
    assert row.shaft_sample == "piece 4"
    with specdb.open(demo).read() as reader:
        raw = [r for r in reader.readings_of(row.shaft_id) if r.sample == "piece 4"]
    assert [(r.quantity, r.value) for r in raw] == [("weight", 74.8)]


async def test_the_bias_of_the_shop_is_shown_from_three_clubs_on(make: AppFactory, demo: Path) -> None:
    catalogue = specdb.open(demo)
    for club, off in (("ashby-driver", 2.0), ("sorley-driver", 2.4), ("tansley-driver", 1.6)):
        expected = specdb.mechanics_of(catalogue, specdb.ClubRequest(club=club)).values["total_weight_g"]
        keep_built(catalogue, Finished(club=club), Measured(values={"weight": expected + off}))
    async with make(start="build").run_test(size=WIDE) as pilot:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("m", "down", *"395", "ctrl+s")
        await settled(pilot)
        shown = _words(pilot)
        assert "total weight: +1.9 ± 0.2 g over 4 clubs, more than chance explains" in shown
        await pilot.press("enter", "f9", "i")
        await settled(pilot)
        assert "By month" in _shown(pilot)


async def test_parts_that_are_not_there_do_not_keep_a_measurement_back(make: AppFactory, demo: Path) -> None:
    with specdb.open(demo).read() as reader:
        shaft = next(r.item_id for r in reader.rows("reservation") if r.order_id == "o-1045" and r.kind == "shaft")
    specdb.move_stock(specdb.open(demo), "count", "shaft", shaft, 0)
    async with make(start="build").run_test(size=WIDE) as pilot:
        await _open(pilot, KEPT_ORDER)
        await pilot.press("m")
        await _type(pilot, *GOOD)
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert "Nothing is kept yet" in _words(pilot)
        assert _rows(demo) == []
        await pilot.press("y")
        await settled(pilot)
        assert "DONE" in _shown(pilot)
    assert len(_rows(demo)) == len(NEEDED)
    assert _parts(demo) == ({"held"}, 0)


async def test_the_order_follows_the_work_and_is_offered_as_finished(make: AppFactory, demo: Path) -> None:
    shop = specdb.open(demo)
    set_order_state(shop, "o-1045", "open")
    async with make(start="build").run_test(size=SMALL) as pilot:
        screen = await _open(pilot, KEPT_ORDER)
        for _ in range(20):  # reads on to the end of the step, then ticks it off
            await pilot.press("space")
            await settled(pilot)
            if screen._work.done:
                break
        assert order_of(shop, "o-1045").order.state == "at_bench"
        await pilot.press("left", "u")
        await settled(pilot)
        assert not screen._work.done
        assert order_of(shop, "o-1045").order.state == "open"
        await pilot.press("m")
        await _type(pilot, *GOOD)
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert order_of(shop, "o-1045").order.state == "at_bench"
        await pilot.press("escape")  # what was kept
        await until(pilot, lambda: "its club is built and measured" in _words(pilot))
        outside = look_at_finishing(shop, "o-1045").outside
        await pilot.press(*([*"wanted so", "enter"] if outside else ["y"]))
        await settled(pilot)
    assert order_of(shop, "o-1045").order.state == "finished"
