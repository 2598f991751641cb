"""Importing a file: a look at what it would do before anything is written, taking it, stopping it, the way back."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue, sheets
from specdb.tui.app import SpecdbApp
from specdb.tui.catalogue import import_view
from specdb.tui.catalogue.import_view import ImportScreen
from specdb.tui.catalogue.import_words import stage_words
from specdb.tui.catalogue.place import CatalogueScreen
from specdb.tui.dialogs.file_picker import ENDINGS, FilePicker, entries_in, size_words
from specdb.tui.dialogs.take_back import TakeBackDialog
from specdb.tui.widgets.paged import PagedTable
from specdb.verbs.catalogue.importing import kind_by_name
from specdb.verbs.catalogue.journal import changes
from tests.tui.conftest import SMALL, AppFactory, AppPilot, on_screen, settled, until
from tests.tui.test_form_differs import flat

SHAFTS = """id,maker,model,flex,club_type,weight_g,raw_length_in
hollin-reach-sker-60-s,Hollin Reach,Sker 60,S,wood,64.5,46
,Tallow,Veer,S,wood,2.3 oz,1156 mm
,Tallow,Veer,R,wood,58,500
,Tallow,Veer,X,driver,70,46
"""
VEER = "tallow-veer-s-65.2"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a file of shafts, two of them bad, and a file that is no table."""
    made = tmp_path / "lists"
    (made / "older").mkdir(parents=True)
    (made / "new shafts 2026.csv").write_text(SHAFTS, encoding="utf-8")
    (made / "letter.pdf").write_bytes(b"%PDF")
    return made


async def looked_at(app: SpecdbApp, pilot: AppPilot, file: Path, kind: str = "shaft") -> ImportScreen:
    """Open the import of a file, and wait until it was looked at."""
    await settled(pilot)
    screen = ImportScreen(kind, str(file))
    app.push_screen(screen)
    await until(pilot, lambda: screen.is_mounted)
    await settled(pilot)
    return screen


def cells(app: SpecdbApp) -> list[str]:
    """What the list of the import shows, line by line."""
    table = app.screen.query_one(PagedTable)
    lines = on_screen(app).splitlines()[table.region.y : table.region.bottom]
    return [" ".join(line.split()) for line in lines if line.strip()]


async def test_a_file_is_chosen_looked_at_and_its_good_rows_are_taken_and_taken_back(
    make: AppFactory, demo: Path, folder: Path
) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.memory.put("import/folder", str(folder))
        await pilot.press("i")
        await until(pilot, lambda: isinstance(app.screen, FilePicker))
        await settled(pilot)
        assert "letter.pdf" not in on_screen(app), "only what can be imported"
        await pilot.press(*"sha", "enter")
        await until(pilot, lambda: isinstance(app.screen, ImportScreen))
        await settled(pilot)
        assert "1 new · 1 changed · 0 as they are · 2 refused" in flat(app)
        assert "Nothing is written yet. 2 rows are refused" in flat(app)
        shown = cells(app)
        assert any(line.startswith("4 Raw length raw_length_in is 500.0; it must be 10 to 60") for line in shown)
        assert any(line.startswith("5 Club type club_type is driver") for line in shown)
        await pilot.press("2")
        assert "hollin-reach-sker-60-s Weight 63.5 g 64.5 g" in cells(app)
        await pilot.press("3")
        assert any(line.startswith(f"{VEER} Veer S wood 65.2") for line in cells(app)), cells(app)
        assert len(changes(Catalogue(demo))) == 1, "looking writes nothing"
        await pilot.press("g")
        await until(pilot, lambda: "Taken as change 2; u undoes it" in flat(app))
        with Catalogue(demo).read() as reader:
            assert reader.get("shaft", VEER).raw_length_in == pytest.approx(1156 / 25.4)
        rejected = (folder / "new shafts 2026-rejected.csv").read_text(encoding="utf-8-sig")
        assert rejected.count("Tallow") == 2
        await pilot.press("u")
        await until(pilot, lambda: isinstance(app.screen, TakeBackDialog))
        await pilot.press("y")
        await until(pilot, lambda: "1 new · 1 changed" in flat(app))
        with Catalogue(demo).read() as reader:
            assert reader.find("shaft", VEER) is None


async def test_a_whole_path_typed_behind_the_folder_counts_as_the_whole_path(
    make: AppFactory, folder: Path, tmp_path: Path
) -> None:
    file = folder / "shafts.csv"
    file.write_text("\n".join(SHAFTS.splitlines()[:3]), encoding="utf-8")
    picked: list[str | None] = []
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.memory.put("import/folder", str(tmp_path / "remembered"))
        app.push_screen(FilePicker(), picked.append)
        await settled(pilot)
        await pilot.press(*str(file), "enter")
        await settled(pilot)
        assert picked == [str(file)]


async def test_a_clean_file_is_taken_whole_and_again_changes_nothing(
    make: AppFactory, demo: Path, folder: Path
) -> None:
    file = folder / "shafts.csv"
    file.write_text("\n".join(SHAFTS.splitlines()[:3]), encoding="utf-8")
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await looked_at(app, pilot, file)
        assert screen.check_action("take_good", ()) is False, "nothing is refused"
        await pilot.press("ctrl+s")
        await until(pilot, lambda: "Taken as change 2" in flat(app))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, CatalogueScreen))
        again = await looked_at(app, pilot, file)
        assert "0 new · 0 changed · 2 as they are · 0 refused" in flat(app)
        assert "there is nothing to take" in flat(app)
        assert again.check_action("take", ()) is False


async def test_a_new_row_that_may_be_there_already_is_shown_before_it_is_taken(make: AppFactory, folder: Path) -> None:
    file = folder / "shafts.csv"
    file.write_text(
        "id,maker,model,flex,club_type,weight_g\nsker-new,Hollin Reach,Sker 60,S,wood,64\n", encoding="utf-8"
    )
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await looked_at(app, pilot, file)
        assert "1 new · 0 changed · 0 as they are · 0 refused · 1 worth a look (4)" in flat(app)
        assert "sker-new looks like hollin-reach-sker-60-s, which is there already" in flat(app)
        assert screen.check_action("take", ()) is True, "it is told and not refused"


async def test_a_bad_file_is_told_and_looked_at_again_once_it_was_corrected(make: AppFactory, folder: Path) -> None:
    file = folder / "shafts.csv"
    file.write_text("id,maker,heaviness\na,Tallow,62\n", encoding="utf-8")
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await looked_at(app, pilot, file)
        assert "a shaft has no field for the heading 'heaviness'" in flat(app)
        file.write_text("id,maker,club_type,weight_g\na,Tallow,wood,62\n", encoding="utf-8")
        await pilot.press("a")
        await until(pilot, lambda: "1 new · 0 changed" in flat(app))


async def test_the_sheet_is_asked_for_where_a_book_has_several(make: AppFactory, folder: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    book.active.title = "spring"
    for name in ("spring", "autumn"):
        sheet = book[name] if name in book.sheetnames else book.create_sheet(name)
        sheet.append(["id", "weight_g"])
        sheet.append([f"grip-{name}", 50])
    book.save(folder / "grips.xlsx")
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await settled(pilot)
        app.push_screen(ImportScreen("grip", str(folder / "grips.xlsx")))
        await until(pilot, lambda: "autumn" in on_screen(app) and "leave it" not in on_screen(app))
        await pilot.press("a", "enter")
        await until(pilot, lambda: "sheet autumn" in flat(app) and "1 new" in flat(app))
        assert any(line.startswith("grip-autumn") for line in cells(app))


async def test_an_import_is_stopped_and_nothing_is_written(
    make: AppFactory, demo: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = folder / "shafts.csv"
    file.write_text("\n".join(SHAFTS.splitlines()[:3]), encoding="utf-8")
    held, seen = threading.Event(), threading.Event()
    stages: list[str] = []

    def spoken(stage: str, done: int, total: int, seconds: float) -> str:
        stages.append(stage)
        return stage_words(stage, done, total, seconds)

    monkeypatch.setattr("specdb.tui.catalogue.import_view.stage_words", spoken)
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        screen = await looked_at(app, pilot, file)
        assert {"reading the file", "checking the rows", "comparing"} <= set(stages), "it says how far it is"
        real = screen.post_message

        def slow(message: Any) -> bool:
            # stands still half-way, as an import of many rows does for long
            if isinstance(message, import_view.Told) and message.stage == "adding":
                seen.set()
                held.wait(10)
            return real(message)

        monkeypatch.setattr(screen, "post_message", slow)
        await pilot.press("ctrl+s")
        await until(pilot, seen.is_set)
        # the interface goes on meanwhile
        await pilot.press("1", "2", "3")
        assert screen.query_one("TabLine").opened == 2  # type: ignore[attr-defined]
        await pilot.press("escape")
        assert "Stopping" in on_screen(app)
        held.set()
        await until(pilot, lambda: "The import was stopped; nothing was written." in flat(app))
    assert len(changes(Catalogue(demo))) == 1
    with Catalogue(demo).read() as reader:
        assert reader.find("shaft", VEER) is None


def test_only_files_that_can_be_read_are_offered() -> None:
    assert set(ENDINGS) == {*sheets.TEXT, *sheets.BOOKS, *sheets.PARQUET}


def test_a_folder_is_listed_files_first_and_by_a_part_of_their_name(folder: Path) -> None:
    assert [e.name for e in entries_in(folder, "")] == ["new shafts 2026.csv", "older/"]
    assert [e.name for e in entries_in(folder, "OLD")] == ["older/"]
    assert entries_in(folder / "not there", "") == []
    assert [size_words(n) for n in (None, 999, 1500, 2_500_000)] == ["", "999 B", "2 kB", "2.5 MB"]


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("shafts.csv", "shaft"),
        ("New shafts 2026.xlsx", "shaft"),
        ("shaft-readings.csv", "shaft_reading"),
        ("grips_spring.ods", "grip"),
        ("list.csv", None),
    ],
)
def test_the_kind_is_guessed_from_the_name_of_the_file(name: str, kind: str | None) -> None:
    assert kind_by_name(Path(name)) == kind
