"""The one of a list that is looked at, in tabs under a line that names it; the last tab lists what was left out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widget import Widget
from textual.widgets import ContentSwitcher

from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import Line, sentence
from specdb.tui.widgets.tab_line import TabLine

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.tui.widgets.columns import Column, ColumnSpec

_LEAST = 40


class DetailTabs(Vertical):
    """Tabs about one of a list; a subclass says which.

    Attributes
    ----------
    TABS : tuple of str
        What the tabs are called, in order.
    IDS : tuple of str
        Names of their pages; the last is of what was left out.
    KEY, NAME : str
        Column of what was left out that tells its rows apart, and the one that names them.
    NONE_LEFT_OUT : str
        What is said where nothing was.
    """

    TABS: ClassVar[tuple[str, ...]] = ()
    IDS: ClassVar[tuple[str, ...]] = ()
    KEY: ClassVar[str] = "id"
    NAME: ClassVar[str] = "id"
    NONE_LEFT_OUT: ClassVar[str] = ""
    _HANGING: ClassVar[int] = 2  # indent of the lines of a reason after its first
    DEFAULT_CSS = """
    DetailTabs { height: 1fr; background: $background; }
    DetailTabs #which { height: 1; padding: 0 1; background: $surface; }
    DetailTabs #pages { height: 1fr; }
    DetailTabs #pages > * { height: 1fr; }
    DetailTabs VerticalScroll { padding: 0 1; scrollbar-size-vertical: 1; }
    DetailTabs #left-counts { height: auto; max-height: 8; padding: 0 1; }
    DetailTabs #left-why { height: 3; padding: 0 1; background: $surface; }
    """

    def __init__(self) -> None:
        super().__init__(id="detail")

    def compose(self) -> ComposeResult:
        """The tabs and what lies under each."""
        yield LinesView(id="which")
        yield TabLine(self.TABS, id="tabs")
        with ContentSwitcher(initial=self.IDS[0], id="pages"):
            for name in self.IDS[:-1]:
                yield self.page(name)
            with Vertical(id=self.IDS[-1]):
                yield LinesView(id="left-counts")
                yield PagedTable(key=(self.KEY,), empty=self.NONE_LEFT_OUT, id="left-list")
                yield LinesView(id="left-why")

    def page(self, name: str) -> Widget:
        """What lies under a tab: lines that scroll, unless the subclass has something else.

        Parameters
        ----------
        name : str
            Name of the page.
        """
        return VerticalScroll(LinesView(id=f"{name}-text"), id=name)

    # ---- tabs

    @property
    def opened(self) -> int:
        """Which tab is open."""
        return self.query_one(TabLine).opened

    @property
    def shows_left_out(self) -> bool:
        """Whether the tab of what was left out is open."""
        return self.opened == len(self.IDS) - 1

    def open_tab(self, number: int) -> None:
        """Open a tab.

        Parameters
        ----------
        number : int
            Which.
        """
        self.query_one(TabLine).opened = number
        self.query_one("#pages", ContentSwitcher).current = self.IDS[number]

    def focus_page(self) -> None:
        """Put the keys to what the tab shows."""
        self.query_one("#left-list" if self.shows_left_out else f"#{self.IDS[self.opened]}").focus()

    # ---- what is shown

    @property
    def room(self) -> int:
        """Columns there are for lines."""
        return max((self.size.width or self.screen.size.width) - 3, _LEAST)

    def lines_of(self, name: str) -> LinesView:
        """The lines of a page.

        Parameters
        ----------
        name : str
            Name of the page.
        """
        return self.query_one(f"#{name}-text", LinesView)

    def scroll_pages_home(self) -> None:
        """Show the begin of every page of lines."""
        for name in self.IDS:
            if self.query(f"#{name}-text"):
                self.query_one(f"#{name}", VerticalScroll).scroll_home(animate=False)

    def list_left_out(self, counts: Sequence[Line], table: pa.Table, columns: Sequence[ColumnSpec | Column]) -> None:
        """Show what was left out.

        Parameters
        ----------
        counts : sequence of Line
            How many by reason.
        table : pyarrow.Table
            Everything left out, with its reason.
        columns : sequence of ColumnSpec or Column
            Its columns.
        """
        self.query_one("#left-counts", LinesView).show(counts)
        self.query_one("#left-list", PagedTable).set_table(table, columns)

    @on(PagedTable.RowHighlighted, "#left-list")
    def _left_out_row(self, message: PagedTable.RowHighlighted) -> None:
        message.stop()
        values = message.table.row_values(message.row) or {}
        named = ((f"{values.get(self.NAME, '')}: ", "strong"),)
        lines = sentence(f"{values.get('reason', '')}.", self.room, before=named, hanging=self._HANGING)
        self.query_one("#left-why", LinesView).show(lines[:3])
