"""The list over an Arrow table: cursor, columns, long lists, and the picker made of it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pytest
from textual.app import App, ComposeResult
from textual.widgets import Input

from specdb.catalogue import Catalogue
from specdb.catalogue.arrow_where import rows_meeting
from specdb.schema import load_schema
from specdb.tui.catalogue.lists import Asked, Lists
from specdb.tui.dialogs.picker import Picker
from specdb.tui.themes import themes
from specdb.tui.widgets.columns import ColumnSpec, decimals_of, fitted, measured, spec_of
from specdb.tui.widgets.paged import PagedTable
from tests.support.random_catalogue import random_shafts
from tests.tui.conftest import SMALL, AppFactory, on_screen, settled, typed

MANY = 100_000
SPECS = (ColumnSpec("id", "Id"), ColumnSpec("weight_g", "Weight", "g", right=True), ColumnSpec("model", "Model"))


@pytest.fixture(scope="module")
def many() -> pa.Table:
    """A hundred thousand shafts."""
    return random_shafts(MANY, stations=1)[0]


class ListApp(App[None]):
    """A list and nothing else."""

    def __init__(self, rows: pa.Table, order: pa.Array | None = None) -> None:
        super().__init__()
        self._rows, self._order = rows, order
        self.told: list[str] = []
        for theme in themes():
            self.register_theme(theme)
        self.theme = themes()[0].name

    def compose(self) -> ComposeResult:
        yield PagedTable()

    def on_mount(self) -> None:
        self.table.set_table(self._rows, SPECS, order=self._order)
        self.table.focus()

    @property
    def table(self) -> PagedTable:
        return self.query_one(PagedTable)

    def on_paged_table_row_picked(self, message: PagedTable.RowPicked) -> None:
        self.told.append(f"picked {message.key}")


def shown(app: App[None]) -> list[str]:
    """Lines of the screen."""
    strips = app.screen._compositor.render_strips()
    return ["".join(segment.text for segment in strip).rstrip() for strip in strips]


async def test_all_keys_move_in_a_hundred_thousand_rows(many: pa.Table) -> None:
    app = ListApp(many)
    async with app.run_test(size=SMALL) as pilot:
        table = app.table
        assert table.row_count == MANY
        page = 24 - table.head_lines
        for key, row in (
            ("down", 1),
            ("pagedown", 1 + page),
            ("end", MANY - 1),
            ("down", MANY - 1),
            ("pageup", MANY - 1 - page),
            ("up", MANY - 2 - page),
            ("home", 0),
            ("up", 0),
        ):
            await pilot.press(key)
            assert table.cursor_row == row, key
            assert table.cursor_key == many["id"][row].as_py()
            assert any(str(table.cursor_key) in line for line in shown(app)), f"the cursor is out of sight after {key}"
        await pilot.press("end", "enter")
        assert app.told == [f"picked {many['id'][MANY - 1].as_py()}"]


async def test_rows_stand_in_the_order_they_are_given(many: pa.Table) -> None:
    order = pc.sort_indices(many["weight_g"], sort_keys=[("", "descending")]).cast(pa.int64())
    app = ListApp(many, order)
    async with app.run_test(size=SMALL):
        table = app.table
        for row in (0, 1, 77, MANY - 1):
            assert table.row_key(row) == many["id"][order[row].as_py()].as_py()
        heaviest = max(w for w in many["weight_g"].to_pylist())
        assert f"{heaviest:.1f}" in shown(app)[table.head_lines]


async def test_a_row_is_found_by_its_key_in_any_order(many: pa.Table) -> None:
    order = pa.array(list(range(MANY - 1, -1, -2)), pa.int64())
    app = ListApp(many, order)
    async with app.run_test(size=SMALL):
        there, gone = many["id"][MANY - 1 - 2 * 4321].as_py(), many["id"][MANY - 2].as_py()
        assert app.table.row_of(there) == 4321
        assert app.table.row_of(gone) is None
        assert app.table.show_row(there)
        assert any(there in line for line in shown(app))


async def test_the_mouse_moves_the_cursor_and_opens_a_row(many: pa.Table) -> None:
    app = ListApp(many)
    async with app.run_test(size=SMALL) as pilot:
        y = app.table.head_lines + 5
        await pilot.click(offset=(4, y))
        assert app.table.cursor_row == 5
        assert app.told == []
        await pilot.click(offset=(4, y))
        assert app.told == [f"picked {many['id'][5].as_py()}"]


async def test_an_empty_list_has_no_cursor_and_says_why(many: pa.Table) -> None:
    app = ListApp(many.slice(0, 0))
    async with app.run_test(size=SMALL) as pilot:
        app.table.set_empty("There is nothing.")
        await pilot.press("down", "end", "enter")
        assert app.table.cursor_row == -1
        assert app.told == []
        assert any("There is nothing." in line for line in shown(app))


async def test_columns_that_do_not_fit_are_left_out_whole_and_reached_sideways(many: pa.Table) -> None:
    app = ListApp(many)
    async with app.run_test(size=(30, 24)) as pilot:
        first = shown(app)[app.table.head_lines]
        assert "Random" not in first
        assert "›" in shown(app)[app.table.head_lines - 1]
        await pilot.press("right")
        assert "Random" in shown(app)[app.table.head_lines]
        assert "‹" in shown(app)[app.table.head_lines - 1]
        await pilot.press("left")
        assert shown(app)[app.table.head_lines] == first


@pytest.mark.parametrize(
    ("values", "decimals"),
    [([1.0, 2.0], 0), ([0.335, 0.37], 3), ([0.335, 0.3355], 4), ([1 / 3], 4), ([None], 0), ([], 0), ([45.5, None], 1)],
)
def test_numbers_get_the_decimals_that_none_of_them_is_rounded_by(values: list[float | None], decimals: int) -> None:
    assert decimals_of(pa.chunked_array([pa.array(values, pa.float64())])) == decimals


def test_one_number_typed_in_other_units_gives_the_others_no_decimals() -> None:
    """2.3 oz are 65.2039 g by the avoirdupois ounce of 28.349523125 g."""
    weights = [60.0] * 15 + [62.5] * 5 + [2.3 * 28.349523125]
    column = measured(pa.table({"weight_g": weights}), [spec_of(load_schema().table("shaft").field("weight_g"))])[0]
    assert [column.cell(w).strip() for w in (60.0, 62.5, weights[-1])] == ["60.0", "62.5", "65.2"]
    lengths = [46.0] * 20 + [1156 / 25.4]
    spec = spec_of(load_schema().table("shaft").field("raw_length_in"))
    column = measured(pa.table({"raw_length_in": lengths}), [spec])[0]
    assert [column.cell(n)[-7:] for n in (46.0, lengths[-1])] == ["46     ", "45.5118"]


@pytest.mark.parametrize("text", ["plain", "ünï", "日本語の名前", "e\u0301clair", "a" * 50, "日" * 30])
@pytest.mark.parametrize("width", [1, 2, 7, 20])
@pytest.mark.parametrize("right", [True, False])
def test_a_cell_is_exactly_as_wide_as_its_column(text: str, width: int, right: bool) -> None:
    from rich.cells import cell_len

    assert cell_len(fitted(text, width, right=right)) == width


def test_nothing_in_a_value_can_steer_the_terminal() -> None:
    table = pa.table({"name": ["evil\x1b[2Jname\nnext\tline\x07"]})
    (column,) = measured(table, [ColumnSpec("name", "Name")])
    text = column.cell(table["name"][0].as_py())
    assert text.isprintable()
    assert "evil" in text


@pytest.mark.parametrize(
    "where",
    [
        "weight_g < 2.3 oz",
        "tip_dia_in = .335 and not tip_form = taper",
        "torque_deg is empty or torque_deg > 5",
        "maker like '%reach%' and weight_g != 65",
        "raw_length_in in (46, 45 1/2)",
        "not (torque_deg < 4)",
    ],
)
def test_a_condition_on_rows_in_memory_answers_as_the_file_does(demo_file: Path, where: str) -> None:
    with Catalogue(demo_file).read() as reader:
        everything = reader.arrow("shaft", order_by=("id",))
        by_file = {s.id for s in reader.rows("shaft", where=where)}
    met = rows_meeting("shaft", everything, where)
    assert set(everything.filter(met)["id"].to_pylist()) == by_file
    assert by_file


def test_a_list_asks_the_file_again_only_when_told_to(make: AppFactory, demo: Path) -> None:
    desk = make().desk
    lists = Lists(desk)
    asked = Asked("grip", ("id",))
    before = lists.find(asked, fresh=True).order
    with Catalogue(demo).write(done="set") as writer:
        writer.put("grip", {"id": "zz-new", "weight_g": 50.0}, mode="add")
    assert len(lists.find(asked, fresh=False).order) == len(before)
    assert len(lists.find(asked, fresh=True).order) == len(before) + 1


async def test_picker_gives_the_key_of_what_was_typed(make: AppFactory, demo: Path) -> None:
    app = make()
    picked: list[str | None] = []
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.push_screen(Picker("head", where="club_type = wood and hand = right"), picked.append)
        await settled(pilot)
        await typed(pilot, "gannet 10.5")
        assert "gannet" in on_screen(app).lower()
        await pilot.press("enter")
        await settled(pilot)
    assert len(picked) == 1
    with Catalogue(demo).read() as reader:
        head = reader.get("head", str(picked[0]))
    assert (head.club_type, head.hand) == ("wood", "right")
    assert "gannet" in head.id


async def test_the_very_key_that_was_typed_is_taken_though_it_stands_within_another(
    make: AppFactory, demo: Path
) -> None:
    with Catalogue(demo).write() as writer:
        known = asdict(writer.get("club", "ashby-driver"))
        writer.put("club", {**known, "id": "aa-ashby-driver"}, mode="add")
    app = make()
    picked: list[str | None] = []
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.push_screen(Picker("club"), picked.append)
        await settled(pilot)
        await typed(pilot, "ashby-driver")
        table = app.screen.query_one(PagedTable)
        assert {table.row_key(row) for row in range(table.row_count)} >= {"ashby-driver", "aa-ashby-driver"}
        await pilot.press("enter")
        await settled(pilot)
        app.push_screen(Picker("club"), picked.append)
        await pilot.press(*"ashby-driver", "enter")  # faster than the list
        await settled(pilot)
    assert picked == ["ashby-driver", "ashby-driver"]


async def test_of_adapters_those_that_go_with_the_head_are_offered(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).read() as reader:
        head = next(h for h in reader.rows("head") if h.connection and h.hand == "left")
        adapters = [a for a in reader.rows("adapter") if a.status != "retired"]
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        for key, fits in (
            (head.id, {a.id for a in adapters if a.connection == head.connection and a.hand in ("left", "either")}),
            ("no-such-head", {a.id for a in adapters}),
        ):
            app.push_screen(Picker.for_part("adapter", key))
            await settled(pilot)
            table = app.screen.query_one(PagedTable)
            assert {table.row_key(row) for row in range(table.row_count)} == fits
            assert "Choose an adapter" in on_screen(app)
            await pilot.press("escape")
            await settled(pilot)


async def test_picker_offers_nothing_retired_and_gives_none_on_escape(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).read() as reader:
        retired = [s.id for s in reader.rows("shaft", where="status = retired")]
    app = make()
    picked: list[str | None] = []
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.push_screen(Picker("shaft"), picked.append)
        await settled(pilot)
        table = app.screen.query_one(PagedTable)
        keys = {table.row_key(row) for row in range(table.row_count)}
        assert not keys & set(retired)
        await typed(pilot, retired[0])
        assert table.row_count == 0
        await pilot.press("enter")
        assert picked == []  # there is nothing to take
        await pilot.press("escape")
        await settled(pilot)
    assert picked == [None]


async def test_at_80_columns_a_shaft_is_told_from_its_kin_and_its_stock_is_seen(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).read() as reader:
        shafts = {s.id: s for s in reader.rows("shaft") if s.model == "Tenter 105"}
        on_hand, held = reader.stock("shaft"), reader.held()
    assert len({(s.flex, s.club_number) for s in shafts.values()}) == len(shafts) > 10
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.push_screen(Picker("shaft"))
        await settled(pilot)
        await typed(pilot, "tenter-105")
        table = app.screen.query_one(PagedTable)
        assert table.row_count == len(shafts)
        for row in range(table.row_count):
            seen = "".join(segment.text for segment in table.render_line(row + table.head_lines))
            shaft = shafts[str(table.row_key(row))]
            free = on_hand.get(shaft.id, 0) - held.get(("shaft", shaft.id), 0)
            assert seen.split()[:6] == ["Tenter", "105", shaft.flex, shaft.club_number, f"{shaft.weight_g:.1f}",
                                        f"{shaft.tip_dia_in:.3f}"]  # fmt: skip
            assert f" {free} free " in seen if free > 0 else " none" in seen or " expected " in seen
            maker = seen.split()[-1]
            assert (maker[:4], maker[-3:]) == ("Stav", "rks")


async def test_sideways_keys_move_the_list_at_the_end_of_what_is_typed_and_the_line_else(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.push_screen(Picker("shaft"))
        await settled(pilot)
        await typed(pilot, "holm")
        line = app.screen.query_one(Input)
        assert "Flex" in on_screen(app)
        assert "‹" not in on_screen(app)
        await pilot.press("right")
        assert "Flex" not in on_screen(app)
        assert line.cursor_position == len("holm")
        await pilot.press("left")
        assert "Flex" in on_screen(app)
        await pilot.press("left")  # the list stands at its begin, so the line has the key
        assert line.cursor_position == len("hol")
        await pilot.press("right")
        assert line.cursor_position == len("holm")
        assert "Flex" in on_screen(app)
