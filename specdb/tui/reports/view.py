"""Reports: open orders, shortages, reorder, stand-ins used, prediction error; each saved as table or page."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.events import Resize

from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.reports.words import line_lines, report_table, said_lines
from specdb.tui.widgets import days
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import sentence
from specdb.tui.widgets.tab_line import TabLine

if TYPE_CHECKING:
    from specdb.catalogue import Catalogue
    from specdb.verbs.reports.types import Report

OPEN, SHORTAGES, REORDER, STAND_INS, ERRORS = range(5)
_NAMES = ("open", "shortages", "reorder", "stand-ins", "errors")
_TAB = "reports.tab"
_ENTRIES = "reports.everything"


class ReportsScreen(PlaceScreen):
    """The reports of the shop."""

    place = "reports"
    ACTIONS: ClassVar = (
        Action("save_table", "v", "save CSV", "Save the lines of this report as a .csv, .tsv or .xlsx file."),
        Action("save_page", "h", "save page", "Save this report as an HTML page with pictures that stands alone."),
        Action("go", "o", "go there", "Go to the order, the part or the club of this line."),
        Action("everything", "a", "all parts", "List also parts that need not be reordered, or no longer."),
        Action("tab(0)", "1", "open orders", "Show the open orders.", shown=False),
        Action("tab(1)", "2", "shortages", "Show what is short and the orders it holds up.", shown=False),
        Action("tab(2)", "3", "reorder", "Show what to reorder.", shown=False),
        Action("tab(3)", "4", "stand-ins", "Show the stand-ins that were used, and how they measured.", shown=False),
        Action("tab(4)", "5", "error", "Show predicted against built.", shown=False),
        Action("back", "escape", "back", "Go back."),
    )
    DEFAULT_CSS = """
    ReportsScreen #head { height: auto; padding: 0 1; background: $surface; }
    ReportsScreen #main { height: 1fr; }
    ReportsScreen #main PagedTable { height: 1fr; }
    ReportsScreen #detail { height: 40%; padding: 0 1; background: $surface; border-top: solid $panel;
        scrollbar-size-vertical: 1; }
    ReportsScreen #detail:focus { border-top: solid $accent; }
    ReportsScreen.-reading #main PagedTable { display: none; }
    ReportsScreen.-reading #detail { height: 1fr; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._reports: dict[int, Report] = {}
        self._everything = False
        self._then: Callable[[], None] | None = None  # what is to be done once the report is there

    def compose(self) -> ComposeResult:
        """Tabs, what must be known, list and detail."""
        yield TabLine(("Open orders", "Shortages", "Reorder", "Stand-ins", "Error"))
        yield LinesView(id="head")
        with Container(id="main"):
            yield PagedTable(key=("number",), empty="Working it out …")
            with VerticalScroll(id="detail"):
                yield LinesView(id="words")

    def on_mount(self) -> None:
        """Open the tab that was open last."""
        self._everything = bool(self.memory.get(_ENTRIES, False))
        last = self.memory.get(_TAB, 0)
        self.action_tab(last if isinstance(last, int) and 0 <= last < len(_NAMES) else 0)

    @property
    def _tab(self) -> int:
        return self.query_one(TabLine).opened

    @property
    def report(self) -> Report | None:
        """The report that is shown."""
        return self._reports.get(self._tab)

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Work the report out again."""
        self._reports = {self._tab: self._reports[self._tab]} if self._tab in self._reports else {}
        if self.is_mounted:
            self._load()

    @on(Resize)
    def _resized(self) -> None:
        self.call_after_refresh(self._write)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What can be done depends on the report."""
        if not super().check_action(action, parameters):
            return False
        if action == "everything":
            return self.is_mounted and self._tab == REORDER
        if action == "go":
            return self.is_mounted and self._tab != ERRORS
        return True

    # ---- working it out

    def _load(self) -> None:
        tab, catalogue, everything = self._tab, self.desk.catalogue, self._everything
        made = partial(self._made, tab)
        self.work(lambda: _make(tab, catalogue, everything), made, group=f"report {tab}", what="work the report out")

    def _made(self, tab: int, report: Report) -> None:
        self._reports[tab] = report
        if tab == self._tab:
            self._write()
            then, self._then = self._then, None
            if then is not None:
                then()

    def _write(self) -> None:
        report = self.report
        table = self.query_one(PagedTable)
        if report is None:
            return
        self.query_one("#head", LinesView).show(said_lines(report, days.shop_day(), max(self.size.width - 2, 40)))
        table.set_empty(report.nothing)
        table.set_table(*report_table(report, table.size.width or self.size.width), key=("number",))
        self._show()

    @property
    def line(self) -> object | None:
        """The line of the cursor."""
        key, report = self.query_one(PagedTable).cursor_key, self.report
        if key is None or report is None or int(key) >= len(report.lines):
            return None
        found: object = report.lines[int(key)]
        return found

    @on(PagedTable.RowHighlighted)
    def _highlighted(self) -> None:
        self.query_one("#detail", VerticalScroll).scroll_home(animate=False)
        self._show()

    def _show(self) -> None:
        report, line = self.report, self.line
        width = max((self.query_one("#detail").size.width or self.size.width) - 3, 40)
        lines = [] if report is None or line is None else line_lines(report, line, width)
        self.query_one("#words", LinesView).show(lines)

    @on(PagedTable.RowPicked)
    def _picked(self) -> None:
        self.add_class("-reading")
        self.query_one("#detail").focus()

    # ---- going about

    def action_tab(self, number: int) -> None:
        """Show a report."""
        self.query_one(TabLine).opened = number
        self._then = None
        self.memory.put(_TAB, number)
        self.remove_class("-reading")
        table = self.query_one(PagedTable)
        table.focus()
        if self.report is None:
            import pyarrow as pa

            table.set_empty("Working it out …")
            table.set_table(pa.table({"number": pa.array([], pa.string())}), (), keep=False)
            self.query_one("#head", LinesView).show(sentence("Working it out …", 40, part="quiet"))
            self.query_one("#words", LinesView).show([])
        else:
            self._write()
        self._load()
        self.actions_changed()

    @on(TabLine.Chosen)
    def _tab_clicked(self, message: TabLine.Chosen) -> None:
        self.action_tab(message.number)

    def action_everything(self) -> None:
        """List also what need not be reordered, or no longer."""
        self._everything = not self._everything
        self.memory.put(_ENTRIES, self._everything)
        self._load()

    def action_go(self) -> None:
        """Go to the order, the part or the club of this line."""
        line = self.line
        if line is None:
            return
        if self._tab == OPEN:
            self.specdb.open_place("orders", order=getattr(line, "order_id", None))
        elif self._tab in (SHORTAGES, REORDER):
            self.specdb.open_row(str(getattr(line, "kind", "")), str(getattr(line, "item_id", "")))
        elif self._tab == STAND_INS:
            self.specdb.open_place("standins", club=getattr(line, "club_id", None))

    def action_back(self) -> None:
        """Back to the list, else to where we came from."""
        if self.has_class("-reading"):
            self.remove_class("-reading")
            self.query_one(PagedTable).focus()
        else:
            super().action_back()

    # ---- saving

    def action_save_table(self) -> None:
        """Save the lines of this report."""
        from specdb.verbs.reports.html import TABLES, write_table

        self._save("Save the lines", TABLES, write_table)

    def action_save_page(self) -> None:
        """Save this report as a page."""
        from specdb.verbs.reports.html import PAGES, write_page

        self._save("Save as a page with pictures", PAGES, write_page)

    def _save(self, title: str, endings: tuple[str, ...], write: Callable[[Report, Path], None]) -> None:
        from specdb.tui.dialogs.save_as import ask_for_file

        report, tab = self.report, self._tab
        if report is None:  # asked for before it was worked out
            self._then = partial(self._save, title, endings, write)
            return

        def to(path: Path) -> None:
            def job() -> str:
                write(report, path)
                return f"Saved in {path}."

            self.work(
                job, lambda said: self.notify(said, markup=False), group="save", what="save the report", changes=True
            )

        ask_for_file(self, title, f"{_NAMES[tab]}-{days.shop_day().isoformat()}{endings[0]}", endings, to)


def _make(tab: int, catalogue: Catalogue, everything: bool) -> Report:
    from specdb.verbs.reports.built import errors_report, stand_in_report
    from specdb.verbs.reports.reorder import reorder_report
    from specdb.verbs.reports.reports import open_report, shortage_report

    today = days.shop_day()
    if tab == OPEN:
        return open_report(catalogue, day=today)
    if tab == SHORTAGES:
        return shortage_report(catalogue, day=today)
    if tab == REORDER:
        return reorder_report(catalogue, day=today, everything=everything)
    return stand_in_report(catalogue, day=today) if tab == STAND_INS else errors_report(catalogue, day=today)
