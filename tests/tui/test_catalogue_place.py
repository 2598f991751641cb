"""The list of the catalogue: search, filter, sort, columns, kinds, retired items; by keyboard alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.widgets import Input

from specdb.catalogue import Catalogue
from specdb.tui.app import SpecdbApp
from specdb.tui.catalogue.details_view import DetailsScreen
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.dialogs.columns import FieldList
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.catalogue.changing import move_stock
from tests.tui.conftest import SMALL, WIDE, AppFactory, on_screen, settled, typed, until


def place(app: SpecdbApp) -> CatalogueScreen:
    """The place, which must be the screen shown."""
    screen = app.screen
    assert isinstance(screen, CatalogueScreen)
    return screen


def listed(app: SpecdbApp) -> list[str]:
    """Keys of the rows in the list, in order."""
    table = place(app).table
    return [str(table.row_key(row)) for row in range(table.row_count)]


def shafts(path: Path, where: str | None = None) -> set[str]:
    """Keys of the shafts in the catalogue that are not retired, by the catalogue itself."""
    with Catalogue(path).read() as reader:
        return {s.id for s in reader.rows("shaft", where=where, include_retired=False)}


async def test_starts_on_the_shafts_with_the_cursor_in_the_list(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert set(listed(app)) == shafts(demo)
        assert isinstance(app.focused, PagedTable)
        assert "shafts" in on_screen(app)


async def test_search_as_you_type_over_maker_model_and_id(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("slash")
        await typed(pilot, "reach HOLM 60")
        found = listed(app)
        assert found
        assert set(found) == shafts(demo, "maker like '%reach%' and model like '%holm 60%'")
        await pilot.press("escape", "escape")
        await settled(pilot)
        assert set(listed(app)) == shafts(demo)


async def test_filter_takes_units_and_filters_while_typing(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("w")
        await typed(pilot, "weight_g < 2.3 oz and tip_dia_in = .350")
        # an ounce is 28.349523125 g (NIST Handbook 44, appendix C)
        assert set(listed(app)) == shafts(demo, "weight_g < 65.2039 and tip_dia_in = 0.35") != set()
        await pilot.press("enter")
        assert isinstance(app.focused, PagedTable)
        assert "where" in on_screen(app)


async def test_what_is_wrong_with_a_filter_is_said_beside_it(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("w")
        await typed(pilot, "weight_g < heavy")
        assert "is no number" not in on_screen(app)  # one is still typing
        await pilot.press("enter")
        await settled(pilot)
        assert "weight_g: 'heavy' is no number" in " ".join(on_screen(app).split())
        assert isinstance(app.focused, Input)
        assert set(listed(app)) == shafts(demo)


async def test_field_names_are_offered_and_completed(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("w")
        await typed(pilot, "tip_d")
        assert "tip_dia_in (in)" in on_screen(app)
        await pilot.press("right")
        await settled(pilot)
        assert isinstance(app.focused, Input)
        assert app.focused.value == "tip_dia_in"


async def test_sorts_by_any_field_and_turns_round(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)

        async def sort(word: str) -> list[float | None]:
            await pilot.press("s")
            await settled(pilot)
            await typed(pilot, word)
            await pilot.press("enter")
            await settled(pilot)
            table = place(app).table
            values = [(table.row_values(row) or {})["weight_g"] for row in range(table.row_count)]
            assert all(v is None or isinstance(v, float) for v in values)
            return values  # type: ignore[return-value]

        rising = [w for w in await sort("weight") if w is not None]
        assert rising == sorted(rising)
        falling = [w for w in await sort("weight") if w is not None]
        assert falling == sorted(falling, reverse=True)
        assert "▼" in on_screen(app)


async def test_unknown_values_come_last_whichever_way_it_is_sorted(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        for _ in range(2):
            await pilot.press("s")
            await settled(pilot)
            await typed(pilot, "torque")
            await pilot.press("enter")
            await settled(pilot)
            table = place(app).table
            values = [(table.row_values(row) or {})["torque_deg"] for row in range(table.row_count)]
            known = [v is not None for v in values]
            assert not all(known)
            assert known == sorted(known, reverse=True)


async def test_columns_are_chosen_and_remembered(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        before = [c.spec.name for c in place(app).table.columns]
        assert before[1] == "flex"
        await pilot.press("c")
        await settled(pilot)
        await pilot.press("down", "space", "enter")
        await settled(pilot)
        after = [c.spec.name for c in place(app).table.columns]
        assert after == [name for name in before if name != "flex"]
    app.close_down()
    again = make()
    async with again.run_test(size=WIDE) as pilot:
        await settled(pilot)
        assert [c.spec.name for c in place(again).table.columns] == after


async def test_every_kind_can_be_listed(make: AppFactory, demo: Path) -> None:
    from specdb.schema import load_schema

    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        for kind in load_schema().kinds:
            assert place(app).kind.name == kind
            with Catalogue(demo).read() as reader:
                expected = len(reader.rows(kind, include_retired=False))
            assert place(app).table.row_count == expected
            await pilot.press("right_square_bracket")
            await settled(pilot)
        assert place(app).kind.name == "shaft"


async def test_kind_is_chosen_by_typing_and_remembered(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("k")
        await settled(pilot)
        await typed(pilot, "grips")
        await pilot.press("enter")
        await settled(pilot)
        assert place(app).kind.name == "grip"
    app.close_down()
    again = make()
    async with again.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert place(again).kind.name == "grip"


async def test_retired_items_are_hidden_until_asked_for(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).read() as reader:
        retired = {s.id for s in reader.rows("shaft", where="status = retired")}
    assert retired
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        assert not retired & set(listed(app))
        assert f"{len(retired)} retired hidden" in on_screen(app)
        await pilot.press("r")
        await settled(pilot)
        assert retired <= set(listed(app))
        assert "status" in [c.spec.name for c in place(app).table.columns]


async def test_v_shows_all_of_the_row_and_escape_comes_back_to_it(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("down", "down")
        key = place(app).table.cursor_key
        await pilot.press("v")
        await settled(pilot)
        assert isinstance(app.screen, DetailsScreen)
        assert str(key) in on_screen(app)
        await pilot.press("escape")
        await settled(pilot)
        assert place(app).table.cursor_key == key


async def test_a_change_by_another_process_is_seen_within_two_seconds(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        key = listed(app)[3]
        await pilot.press("down", "down", "down")
        with Catalogue(demo).write(done="set") as writer:  # as another process would
            writer.put("shaft", {"id": key, "weight_g": 47.3}, mode="update")

        def seen() -> bool:
            return (place(app).table.row_values(3) or {}).get("weight_g") == 47.3

        await until(pilot, seen, seconds=2.0)
        assert place(app).table.cursor_key == key  # the cursor stays where it was


@pytest.mark.parametrize("size", [SMALL, WIDE])
async def test_a_row_added_above_does_not_move_the_cursor_off_its_row(
    make: AppFactory, demo: Path, size: tuple[int, int]
) -> None:
    app = make()
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        await pilot.press("end")
        key, count = place(app).table.cursor_key, place(app).table.row_count
        with Catalogue(demo).write(done="set") as writer:
            writer.put("shaft", {"id": "aaa-first", "club_type": "wood"}, mode="add")
        await until(pilot, lambda: place(app).table.row_count == count + 1, seconds=3.0)
        assert place(app).table.cursor_key == key
        assert place(app).table.cursor_row == count


async def test_on_hand_is_a_column_that_is_filtered_sorted_and_follows_the_shelf(make: AppFactory, demo: Path) -> None:
    app = make()
    with Catalogue(demo).read() as reader:
        held = reader.stock("shaft")
    some = {key for key, count in held.items() if count > 4} & shafts(demo)
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        assert "On hand" in " ".join(c.spec.title for c in place(app).table.columns), "of shafts it is there at first"
        await pilot.press("w")
        await typed(pilot, "on_hand > 4")
        assert set(listed(app)) == some != set()
        await pilot.press("enter", "s")
        await settled(pilot)
        await typed(pilot, "on hand")
        await pilot.press("enter")
        await settled(pilot)
        assert [held[key] for key in listed(app)] == sorted(held[key] for key in some)
        key = listed(app)[0]
        move_stock(Catalogue(demo), "count", "shaft", key, 97)
        await until(pilot, lambda: listed(app)[-1] == key)
        assert " 97 " in " ".join(on_screen(app).split())


async def test_on_hand_can_be_chosen_for_every_part_of_which_stock_is_kept(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        for kind, there in (("head", True), ("adapter", True), ("grip", True), ("club", False)):
            app.open_place("catalogue", kind=kind)
            await settled(pilot)
            titles = [c.spec.title for c in place(app).table.columns]
            assert "On hand" not in titles
            await pilot.press("c")
            await settled(pilot)
            fields = app.screen.query_one(FieldList)
            assert ("on_hand" in fields._names) is there
            if there:
                fields.choose(["on_hand", "model"])
                await pilot.press("enter")
                await settled(pilot)
                with Catalogue(demo).read() as reader:
                    held = reader.stock(kind)
                table = place(app).table
                cells = {str(table.row_key(row)): table._cells(row)[0].strip() for row in range(table.row_count)}
                assert cells == {key: str(held[key]) if key in held else "" for key in cells}
            else:
                await pilot.press("escape")
