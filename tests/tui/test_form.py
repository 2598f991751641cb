"""The form of a row, by keyboard alone: typing with units, errors beside the field, saving, copying, choosing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.schema import load_schema
from specdb.tui.app import SpecdbApp
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.dialogs.ask import WaysDialog, WordDialog
from specdb.tui.dialogs.picker import Picker
from specdb.tui.forms.body import FormBody
from specdb.tui.forms.row_form import RowForm
from specdb.tui.forms.screen import form_screen
from specdb.tui.widgets.entry import EntryInput, FieldEntry
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.catalogue.forms import as_typed, form_of, read_all
from specdb.verbs.catalogue.journal import history
from tests.tui.conftest import SMALL, WIDE, AppFactory, AppPilot, on_screen, settled, until

SHAFT = "hollin-reach-sker-60-s"


def form(app: SpecdbApp) -> RowForm:
    """The form, which must be the screen shown."""
    screen = app.screen
    assert isinstance(screen, RowForm), screen
    return screen


def entry(app: SpecdbApp, name: str) -> FieldEntry:
    """A field of the form shown."""
    return form(app).query_one(FormBody).entries[name]


def here(app: SpecdbApp) -> str:
    """Name of the field that is being typed in."""
    return next(name for name, e in form(app).query_one(FormBody).entries.items() if e.input.has_focus)


def is_ready(app: SpecdbApp) -> bool:
    """Whether a form is the screen shown, with its fields."""
    return isinstance(app.screen, RowForm) and any(body.entries for body in app.screen.query(FormBody))


async def opened(pilot: AppPilot, kind: str, key: str | None = None, **more: str) -> None:
    """Open a form and wait for its fields."""
    await settled(pilot)
    pilot.app.push_screen(form_screen(kind, key, **more))
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    await until(pilot, lambda: is_ready(app))
    await settled(pilot)


async def go_to(pilot: AppPilot, name: str) -> None:
    """Go to a field with the arrow keys."""
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    for _ in range(60):
        if here(app) == name:
            return
        await pilot.press("down")
    raise AssertionError(f"the arrow never came to {name}")


async def typed(pilot: AppPilot, name: str, text: str) -> None:
    """Go to a field and type over what stands in it."""
    app = pilot.app
    assert isinstance(app, SpecdbApp)
    entry(app, name).input.focus()
    entry(app, name).input.value = text[:-1]
    await pilot.press("end", text[-1])
    await settled(pilot)


async def saved(pilot: AppPilot) -> None:
    """Save, and wait until the form is closed."""
    await pilot.press("ctrl+s")
    await until(pilot, lambda: not isinstance(pilot.app.screen, RowForm))
    await settled(pilot)


def row(path: Path, kind: str, key: str) -> dict[str, object]:
    """A row as the catalogue has it."""
    with Catalogue(path).read() as reader:
        record = reader.get(kind, key)
        return {name: getattr(record, name) for name in load_schema().table(kind).field_names}


async def test_a_row_is_changed_with_units_as_typed_and_why(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        before = row(demo, "shaft", SHAFT)
        await typed(pilot, "raw_length_in", "45 1/2")
        assert "= 45.5 in, was 46" in on_screen(app)
        await typed(pilot, "weight_g", "2.3 oz")
        # 1 oz is 28.349523125 g exactly (NIST SP 811, appendix B)
        assert "= 65.2 g" in on_screen(app)
        form(app).query_one("#why").focus()
        await pilot.press(*"weighed three")
        await saved(pilot)
    after = row(demo, "shaft", SHAFT)
    assert after["raw_length_in"] == pytest.approx(45.5)
    assert after["weight_g"] == pytest.approx(2.3 * 28.349523125)
    line = history(Catalogue(demo), "shaft", SHAFT, limit=1)[0]
    assert set(line.differences) == {"raw_length_in", "weight_g"}, "what was not touched is not written"
    assert line.why == "weighed three"
    untouched = [n for n in before if n not in line.differences]
    assert {n: before[n] for n in untouched} == {n: after[n] for n in untouched}


async def test_what_cannot_be_taken_is_said_beside_the_field_while_typing_and_not_saved(
    make: AppFactory, demo: Path
) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "tip_dia_in", "99 kg")
        await until(pilot, lambda: bool(entry(app, "tip_dia_in").error))
        shown = " ".join(on_screen(app).split())
        assert "! '99 kg' is in kg, which is no unit of this kind; a quantity in inches is wanted here." in shown
        await typed(pilot, "butt_dia_in", "0.6")
        await pilot.press("ctrl+s")
        await settled(pilot)
        assert here(app) == "tip_dia_in", "it goes to the field that is at fault"
        assert "Not saved: look at Tip diameter." in on_screen(app)
        await typed(pilot, "tip_dia_in", "0.335")
        await until(pilot, lambda: "Not saved" not in on_screen(app))
    assert not [h for h in history(Catalogue(demo), "shaft", SHAFT) if h.action == "changed"]


async def test_fields_that_do_not_go_together_are_told_without_saving(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "tip_dia_in", "0.65")
        # the butt is 0.600 in
        await until(pilot, lambda: "at most Butt diameter" in entry(app, "tip_dia_in").error)
        await typed(pilot, "tip_dia_in", "0.35")
        await until(pilot, lambda: not entry(app, "tip_dia_in").error)


async def test_a_new_row_needs_only_what_is_needed_and_gets_its_key(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        await pilot.press("n")
        await until(pilot, lambda: is_ready(app))
        await pilot.press(*"Tallow", "down", *"Veer", "down", "down")
        await until(pilot, lambda: "will be tallow-veer" in on_screen(app))
        assert "needed" in on_screen(app)
        await pilot.press("ctrl+s")
        await until(pilot, lambda: "This is needed" in on_screen(app))
        assert here(app) == "club_type"
        # the first letter of a word it takes is enough, once the field is left
        await pilot.press("h", "down")
        assert entry(app, "club_type").text == "hybrid"
        await saved(pilot)
        assert isinstance(app.screen, CatalogueScreen)
        await until(pilot, lambda: app.screen.table.cursor_key == "tallow-veer")  # type: ignore[attr-defined]
    assert row(demo, "shaft", "tallow-veer")["club_type"] == "hybrid"


async def test_a_row_is_added_by_copying_a_similar_one(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        assert isinstance(app.screen, CatalogueScreen)
        app.screen.table.show_row(SHAFT)
        await pilot.press("l")
        await until(pilot, lambda: is_ready(app))
        assert f"New shaft, like {SHAFT}" in on_screen(app)
        assert entry(app, "id").text == ""
        assert entry(app, "supplier_code").text == "", "the order code belongs to the one that was copied"
        await typed(pilot, "flex", "X")
        await typed(pilot, "weight_g", "66")
        await saved(pilot)
    new, old = row(demo, "shaft", "hollin-reach-sker-60-x-66"), row(demo, "shaft", SHAFT)
    differing = {n for n in new if new[n] != old[n]}
    assert differing == {"id", "flex", "weight_g", "supplier_code", "status"}


async def test_words_are_chosen_from_a_list_and_items_by_typing_a_part_of_their_name(
    make: AppFactory, demo: Path
) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft_reading")
        assert here(app) == "shaft_id"
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, Picker))
        await settled(pilot)
        await pilot.press(*"sker 60-s")
        await settled(pilot)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, RowForm))
        assert entry(app, "shaft_id").text == SHAFT
        await typed(pilot, "sample", "a")
        await go_to(pilot, "quantity")
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, WordDialog))
        await pilot.press("t", "enter")
        await until(pilot, lambda: isinstance(app.screen, RowForm))
        assert entry(app, "quantity").text == "torque"
        await typed(pilot, "value", "0.07 rad")
        assert "= 4.01 deg" in on_screen(app), "the unit goes with what was read"
        await saved(pilot)
    with Catalogue(demo).read() as reader:
        torques = [r.value for r in reader.readings_of(SHAFT) if r.quantity == "torque" and r.sample == "a"]
    assert torques == [pytest.approx(0.07 * 180 / 3.141592653589793)]


async def test_a_reference_that_points_at_nothing_is_told_with_what_is_near(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await opened(pilot, "shaft_reading")
        await pilot.press(*"hollin-reach-sker-60")
        await until(pilot, lambda: "did you mean" in entry(app, "shaft_id").error)


async def test_pages_go_by_section_and_every_field_can_be_come_to(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        visited = []
        for _ in range(5):
            visited.append(here(app))
            await pilot.press("pagedown")
        assert visited == ["maker", "raw_length_in", "torque_deg", "supplier", "status"]
        await pilot.press("ctrl+home")
        assert here(app) == "maker", "the key of a row that is there is never typed in"
        await pilot.press("down", "down", "up")
        assert here(app) == "model"
        inputs = {e.input: name for name, e in form(app).body.entries.items()}
        chain = [inputs[w] for w in app.screen.focus_chain if isinstance(w, EntryInput) and w in inputs]
        await go_to(pilot, "torque_deg")
    assert chain == [f.name for s in form_of("shaft").sections for f in s.fields if f.name != "id"]


@pytest.mark.parametrize(("key", "kept"), [("t", False), ("s", True)])
async def test_leaving_asks_about_what_is_not_saved(make: AppFactory, demo: Path, key: str, kept: bool) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "flex", "SR")
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, WaysDialog))
        assert "Typed and not saved: Flex" in on_screen(app)
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, RowForm))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, WaysDialog))
        await pilot.press(key)
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        await settled(pilot)
        assert app.memory.drafts() == ()
    assert (row(demo, "shaft", SHAFT)["flex"] == "SR") is kept


async def test_where_values_come_from_is_said(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).write(by="Petra Osk", why="weighed three", done="set") as writer:
        writer.put("shaft", {"id": SHAFT, "weight_g": 64.0}, mode="update")
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await opened(pilot, "shaft", SHAFT)
        shown = on_screen(app)
        assert "Unless said otherwise: imported by specdb demo" in shown
        weight = next(line for line in shown.splitlines() if line.strip().startswith("Weight"))
        assert "measured" in weight
        await go_to(pilot, "weight_g")
        await settled(pilot)
        told = " ".join(on_screen(app).split())
        assert "Typed by Petra Osk" in told
        assert "change 2" in told


async def test_a_ledger_entry_is_shown_and_not_changed(make: AppFactory, demo: Path) -> None:
    with Catalogue(demo).read() as reader:
        key = reader.rows("stock_move", limit=1)[0].id
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "stock_move", key)
        assert all(e.input.disabled for e in form(app).body.entries.values())
        assert form(app).check_action("save", ()) is False


def firsts(path: Path) -> dict[str, tuple[str, dict[str, Any]]]:
    """Key and values of the first row of every kind that has one."""
    found = {}
    with Catalogue(path).read() as reader:
        for kind in load_schema().kinds:
            table = load_schema().table(kind)
            for record in reader.rows(kind, limit=1):
                values = {name: getattr(record, name) for name in table.field_names}
                found[kind] = ("/".join(str(values[n]) for n in table.primary_key), values)
    return found


def test_a_row_of_every_kind_is_read_back_from_its_form_as_it_is_stored(demo_file: Path) -> None:
    found = firsts(demo_file)
    assert len(found) > 10
    for kind, (_, stored) in found.items():
        kept, errors = read_all(form_of(kind), {f.name: as_typed(stored[f.name]) for f in form_of(kind).fields})
        assert errors == {}, kind
        assert kept == pytest.approx({n: stored[n] for n in kept}), kind


async def test_rows_of_every_make_open_in_their_form_unchanged(make: AppFactory, demo: Path) -> None:
    rows = firsts(demo)
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        # a composite key, a key that nobody types, days, and a form of its own
        for kind in ("adapter_setting", "shaft_reading", "supply", "club"):
            key, stored = rows[kind]
            await opened(pilot, kind, key)
            values, errors = form(app).body.values()
            assert errors == {}, kind
            assert values == {n: stored[n] for n in values}, kind
            assert not form(app).is_changed
            await pilot.press("escape")
            await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))


async def test_signs_that_could_steer_the_terminal_are_not_shown_and_stay_as_they_are(
    make: AppFactory, demo: Path
) -> None:
    notes, maker = "first line\nsecond\x1b[2J line", "[red]Tallow[/red] \x07"
    with Catalogue(demo).write(by="Petra\x1b[2J", why="[b]why\x1b") as writer:
        writer.put("shaft", {"id": SHAFT, "notes": notes, "maker": maker}, mode="update")
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await opened(pilot, "shaft", SHAFT)
        for name in ("notes", "maker"):
            entry(app, name).input.focus()
            await settled(pilot)
            shown = on_screen(app)
            assert not {"\x1b", "\x07"} & set(shown)
        assert "[red]Tallow[/red]" in on_screen(app)
        await typed(pilot, "flex", "SR")
        await saved(pilot)
    after = row(demo, "shaft", SHAFT)
    assert (after["flex"], after["notes"], after["maker"]) == ("SR", notes, maker)


@pytest.mark.parametrize("new", [True, False])
async def test_what_is_typed_while_the_saving_waits_for_another_is_not_lost(
    make: AppFactory, demo: Path, new: bool
) -> None:
    key = "tallow-veer" if new else SHAFT
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", None if new else SHAFT)
        for name, text in {"maker": "Tallow", "model": "Veer", "club_type": "wood"}.items() if new else ():
            await typed(pilot, name, text)
        await typed(pilot, "material", "steel")
        with Catalogue(demo).write(done="hold"):
            await pilot.press("ctrl+s")
            await pilot.pause(0.3)
            entry(app, "notes").input.focus()
            await pilot.press(*"more")
        await until(pilot, lambda: "Saved. What was typed since then is not saved yet." in on_screen(app))
        assert row(demo, "shaft", key)["material"] == "steel"
        assert entry(app, "notes").text.startswith("more")
        assert [e.name_ for e in form(app).body.changed] == ["notes"]
        await settled(pilot)
        await saved(pilot)
        assert app.memory.drafts() == ()
    assert str(row(demo, "shaft", key)["notes"]).startswith("more")


async def test_a_word_it_does_not_take_is_not_told_as_missing(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await go_to(pilot, "club_type")
        entry(app, "club_type").input.value = "spoon"
        await pilot.press("down")
        await pilot.pause(1.0)
        await settled(pilot)
        assert "'spoon' is not a word it takes" in entry(app, "club_type").error


async def test_the_list_of_a_field_opens_on_what_was_typed_in_it(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "club")
        await typed(pilot, "head_id", "breakwater-f")
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, Picker))
        await settled(pilot)
        table = app.screen.query_one(PagedTable)
        keys = [str(table.row_key(row)) for row in range(table.row_count)]
        assert keys
        assert all("breakwater-f" in key for key in keys)


async def test_a_key_is_shown_whole_and_its_adapters_are_those_that_go_with_the_head(make: AppFactory) -> None:
    head = "orrin-vale-escarp-460-10.5-lh"
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "club", "ashby-driver")
        entry(app, "head_id").put(head)
        await go_to(pilot, "adapter_id")
        assert head in on_screen(app)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, Picker))
        await settled(pilot)
        shown = on_screen(app)
        assert "vale-eight" in shown
        assert "halfturn" not in shown
        assert "right" not in shown
