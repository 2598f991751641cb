"""Importing a file: what it would add, change and what is refused, before anything is written; and the way back."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.message import Message
from textual.widgets import Static

from specdb.errors import ImportFileError, SpecdbError
from specdb.schema import load_schema
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.catalogue.import_words import (
    alike_table,
    changed_table,
    count_words,
    new_table,
    refused_table,
    stage_words,
    what_now,
)
from specdb.tui.catalogue.kinds import plural
from specdb.tui.dialogs.take_back import ask_to_take_back
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.tab_line import TabLine
from specdb.tui.widgets.words import who
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.catalogue.importing import ImportReport
    from specdb.tui.catalogue.import_words import Shown

_REFUSED, _CHANGED, _NEW, _ALIKE = range(4)
_TOLD_SECONDS = 0.1


class ImportStoppedError(SpecdbError):
    """The import was stopped by whoever started it."""


class Told(Message):
    """How far an import is."""

    def __init__(self, run: int, stage: str, done: int, total: int) -> None:
        super().__init__()
        self.run = run
        self.stage = stage
        self.done = done
        self.total = total


class ImportScreen(PlaceScreen):
    """Import rows of a kind from a file.

    Parameters
    ----------
    kind : str
        The kind to begin with.
    file : str or None
        The file; asked for where None.
    """

    place = "import"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("take", "ctrl+s", "take it all", "Add and change what the file says."),
        Action("take_good", "g", "take the good ones", "Take the rows that are good; the others go to a file."),
        Action("undo_import", "u", "undo the import", "Take the import back, after asking."),
        Action("file", "o", "other file", "Choose another file."),
        Action("kind", "k", "kind", "Choose what the rows of the file are."),
        Action("sheet", "t", "sheet", "Choose the sheet of a spreadsheet."),
        Action("again", "a", "look again", "Look at the file again, after it was corrected.", shown=False),
        Action("tab(0)", "1", "refused", "Show what is refused, and why.", shown=False),
        Action("tab(1)", "2", "changed", "Show which values would change.", shown=False),
        Action("tab(2)", "3", "new", "Show which rows would be added.", shown=False),
        Action(
            "tab(3)", "4", "worth a look", "Show new rows that may be there already under another key.", shown=False
        ),
        Action("leave", "escape", "back", "Stop what is under way; else go back."),
    )
    DEFAULT_CSS = """
    ImportScreen .import--title { height: 1; padding: 0 1; text-style: bold; }
    ImportScreen .import--counts { height: 1; padding: 0 1; }
    ImportScreen .import--now { height: auto; padding: 0 1; background: $surface; color: $foreground; dock: bottom;
        margin-bottom: 1; }
    ImportScreen PagedTable { height: 1fr; }
    ImportScreen .import--row { height: auto; max-height: 8; padding: 0 1; border-top: solid $panel; }
    """

    def __init__(self, kind: str, file: str | None = None) -> None:
        super().__init__()
        self._kind = load_schema().table(kind)
        self._file = None if file is None else Path(file)
        self._sheet: str | None = None
        self._sheets: tuple[str, ...] = ()
        self._report: ImportReport | None = None
        self._taken = False
        self._run = 0
        self._working = ""
        self._began = 0.0
        self._stop = threading.Event()
        self._shown: dict[int, Shown] = {}

    def compose(self) -> ComposeResult:
        """What the file would do."""
        yield Static(self._title(), classes="import--title", markup=False)
        yield Static("", classes="import--counts", markup=False)
        yield TabLine(("Refused", "Changed", "New", "Worth a look"))
        yield PagedTable(key=("number",), empty="")
        yield Static("", classes="import--row", markup=False)
        yield Static("", classes="import--now", markup=False)

    def _title(self) -> str:
        if self._file is None:
            return "Import"
        sheet = f", sheet {self._sheet}" if self._sheet else ""
        return f"Import of {plural(self._kind).lower()} from {self._file.name}{sheet}"

    def on_mount(self) -> None:
        """Ask for the file."""
        self.query_one(PagedTable).focus()
        if self._file is None:
            self.action_file()
        else:
            self._look()

    # ---- choosing

    def action_file(self) -> None:
        """Choose a file."""
        from specdb.tui.dialogs.file_picker import FilePicker

        self.app.push_screen(FilePicker(), self._file_chosen)

    def _file_chosen(self, file: str | None) -> None:
        from specdb.verbs.catalogue.importing import kind_by_name

        if file is None:
            if self._file is None:
                self.action_back()
            return
        self._file, self._sheet, self._sheets = Path(file), None, ()
        self._kind = load_schema().table(kind_by_name(self._file) or self._kind.name)
        self._look()

    def action_kind(self) -> None:
        """Choose what the rows are."""
        from specdb.tui.dialogs.ask import WordDialog

        kinds = load_schema().kinds
        titles = [plural(load_schema().table(kind)) for kind in kinds]

        def chosen(title: str | None) -> None:
            if title:
                self._kind = load_schema().table(kinds[titles.index(title)])
                self._look()

        self.app.push_screen(WordDialog("The rows are", titles, plural(self._kind), may_clear=False), chosen)

    def action_sheet(self) -> None:
        """Choose the sheet."""
        from specdb.tui.dialogs.ask import WordDialog

        def chosen(sheet: str | None) -> None:
            if sheet:
                self._sheet = sheet
                self._look()

        self.app.push_screen(WordDialog("Sheet", self._sheets, self._sheet or "", may_clear=False), chosen)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What can be done depends on what was found."""
        report = self._report
        ready = report is not None and not self._working and not self._taken
        good = report is not None and bool(report.added + report.changed)
        if action == "take":
            return ready and good and not (report and report.rejected)
        if action == "take_good":
            return ready and good and bool(report and report.rejected)
        if action == "undo_import":
            return self._taken and report is not None and report.change_no is not None and not self._working
        if action in ("file", "kind", "again"):
            return not self._working and (action == "file" or (self._file is not None and not self._taken))
        if action == "sheet":
            return not self._working and not self._taken and len(self._sheets) > 1
        return super().check_action(action, parameters)

    # ---- looking and taking

    def action_again(self) -> None:
        """Look at the file again."""
        self._look()

    def _look(self) -> None:
        self._start(dry_run=True, accept_good=True)

    def action_take(self) -> None:
        """Take all rows."""
        self._start(dry_run=False, accept_good=False)

    def action_take_good(self) -> None:
        """Take the good rows."""
        self._start(dry_run=False, accept_good=True)

    def _start(self, *, dry_run: bool, accept_good: bool) -> None:
        file = self._file
        if file is None or self._working:
            return
        self._run += 1
        self._stop = threading.Event()
        self._working = "looking at the file" if dry_run else "taking the rows"
        self._began = time.monotonic()
        self._taken = False
        if dry_run:
            self._report = None
            self._shown = {}
        run, stop, sheet = self._run, self._stop, self._sheet
        by = who(self.memory) or None
        last = 0.0

        def tell(stage: str, done: int, total: int) -> None:
            nonlocal last
            if stop.is_set():
                raise ImportStoppedError("the import was stopped; nothing was written")
            if done in (0, total) or time.monotonic() - last > _TOLD_SECONDS:
                last = time.monotonic()
                self.post_message(Told(run, stage, done, total))

        def job() -> tuple[ImportReport, tuple[str, ...], dict[int, Shown]]:
            from specdb.verbs.catalogue.importing import sheets_of

            sheets = sheets_of(file)
            self._sheets = sheets
            report, shown = self._import(file, sheet, tell, dry_run=dry_run, accept_good=accept_good, by=by)
            return report, sheets, shown

        self._say_now(stage_words("", 0, 0, 0.0))
        self._show_head()
        self.work(
            job,
            lambda found: self._found(run, *found, taken=not dry_run),
            group="import",
            what="look at the file" if dry_run else "import the file",
            failed=lambda error: self._failed(run, error),
            changes=not dry_run,
        )

    def _import(
        self,
        file: Path,
        sheet: str | None,
        tell: Callable[[str, int, int], None],
        *,
        dry_run: bool,
        accept_good: bool,
        by: str | None,
    ) -> tuple[ImportReport, dict[int, Shown]]:
        """Look at the file or take it; in a thread."""
        from specdb.verbs.catalogue.importing import import_rows

        table, catalogue = self._kind, self.desk.catalogue
        report = import_rows(
            catalogue, table.name, file, sheet=sheet, dry_run=dry_run, accept_good=accept_good, by=by, progress=tell
        )
        return report, {
            _REFUSED: refused_table(table, report),
            _CHANGED: changed_table(table, report),
            _NEW: new_table(table, report),
            _ALIKE: alike_table(report),
        }

    def on_told(self, message: Told) -> None:
        """Show how far it is."""
        message.stop()
        if message.run == self._run and self._working:
            seconds = time.monotonic() - self._began
            stopping = "Stopping. " if self._stop.is_set() else ""
            self._say_now(f"{stopping}{stage_words(message.stage, message.done, message.total, seconds)}  esc stops")

    def _found(
        self, run: int, report: ImportReport, sheets: tuple[str, ...], shown: dict[int, Shown], *, taken: bool
    ) -> None:
        if run != self._run:
            return
        self._working, self._report, self._sheets, self._shown = "", report, sheets, shown
        # a row that turned out bad between looking and taking is told, and nothing was written
        self._taken = taken and (report.change_no is not None or not report.rejected)
        self._show_head()
        first = _REFUSED if report.rejected else _ALIKE if report.remarks else _CHANGED if report.changes else _NEW
        self.action_tab(first)
        self._say_now(what_now(report, taken=self._taken))

    def _failed(self, run: int, error: SpecdbError) -> None:
        if run != self._run:
            return
        self._working = ""
        self._report = None
        self._shown = {}
        self._show_head()
        self.action_tab(_REFUSED)
        text = str(error)
        self._say_now(f"{begun(text)}.")
        if isinstance(error, ImportFileError) and len(self._sheets) > 1 and self._sheet is None:
            self.action_sheet()

    def _show_head(self) -> None:
        self.query_one(".import--title", Static).update(self._title())
        counts = "" if self._report is None else count_words(self._report, taken=self._taken)
        self.query_one(".import--counts", Static).update(counts)
        self.actions_changed()

    def _say_now(self, text: str) -> None:
        self.query_one(".import--now", Static).update(text)

    # ---- what is shown

    def action_tab(self, number: int) -> None:
        """Show what is refused, changed, new or worth a look."""
        self.query_one(TabLine).opened = number
        table = self.query_one(PagedTable)
        shown = self._shown.get(number)
        self._tell_row(None)
        if shown is None:
            import pyarrow as pa

            table.set_empty("")
            table.set_table(pa.table({"number": pa.array([], pa.string())}), (), keep=False)
            return
        table.set_empty(shown.empty)
        table.set_table(shown.rows, shown.fitted(self.size.width), keep=False)
        self._tell_row(table.cursor_key)

    def on_resize(self) -> None:
        """Give the reasons the room there is."""
        shown = self._shown.get(self.query_one(TabLine).opened)
        if shown is not None and shown.wide:
            self.query_one(PagedTable).set_table(shown.rows, shown.fitted(self.size.width))

    def _tell_row(self, key: str | None) -> None:
        """All of the row of the cursor, where the list has no room for it."""
        shown = self._shown.get(self.query_one(TabLine).opened)
        row = self.query_one(".import--row", Static)
        row.display = shown is not None and key is not None
        row.update(shown.told(int(key)) if shown is not None and key is not None else "")

    @on(TabLine.Chosen)
    def _tab_clicked(self, message: TabLine.Chosen) -> None:
        self.action_tab(message.number)

    @on(PagedTable.RowHighlighted)
    def _moved(self, message: PagedTable.RowHighlighted) -> None:
        self._tell_row(message.key)

    # ---- the way back

    def action_undo_import(self) -> None:
        """Take the import back, after asking."""
        if self._report is not None and self._report.change_no is not None:
            ask_to_take_back(self, self._report.change_no, self._look)

    def action_leave(self) -> None:
        """Stop what is under way; else go back."""
        if self._working:
            self._stop.set()
            self._say_now("Stopping …")
        else:
            self.action_back()
