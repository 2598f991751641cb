"""What screens share that rank what can stand in: the list, one of it in tabs under or beside it, the way back."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.events import Resize, ScreenResume

from specdb.errors import SpecdbError
from specdb.tui.base import PlaceScreen
from specdb.tui.standins.detail_tabs import DetailTabs
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import sentence
from specdb.tui.widgets.tab_line import TabLine
from specdb.units.writing import begun

_TALL = 34  # from which list and detail stand under each other


class RankedScreen(PlaceScreen):
    """A ranked list ``#ranked`` and the :class:`DetailTabs` of one of it, within ``#both``, under a ``#head``.

    Attributes
    ----------
    BROAD : int
        Columns from which list and detail stand beside each other.
    """

    BROAD: ClassVar[int] = 172
    DEFAULT_CSS = """
    RankedScreen #head { height: 3; padding: 0 1; background: $surface; }
    RankedScreen #both { height: 1fr; }
    RankedScreen #ranked { height: 2fr; }
    RankedScreen #detail { height: 3fr; }
    RankedScreen.beside #both { layout: horizontal; }
    RankedScreen.beside #ranked { width: 92; height: 1fr; }
    RankedScreen.beside #detail { width: 1fr; height: 1fr; border-left: solid $panel; }
    RankedScreen.switch #detail { display: none; }
    RankedScreen.switch.looking #ranked { display: none; }
    RankedScreen.switch.looking #detail { display: block; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._stale = False
        self._changes = 0

    def _ask(self) -> None:
        """Look for stand-ins with what is asked now."""
        raise NotImplementedError

    def _fit(self) -> None:
        """Write everything again, as wide as there is room."""
        raise NotImplementedError

    def _show_left_out(self) -> None:
        """Show what was left out, where its tab is open."""
        raise NotImplementedError

    @property
    def _list(self) -> PagedTable:
        return self.query_one("#ranked", PagedTable)

    @property
    def _detail(self) -> DetailTabs:
        return self.query_one(DetailTabs)

    @property
    def _width(self) -> int:
        return max(self.size.width - 2, 40)

    def _clear_list(self) -> None:
        import pyarrow as pa

        self._list.set_table(pa.table({"id": pa.array([], pa.string())}), [], keep=False)

    def _say_failed(self, error: SpecdbError) -> str:
        """Say above an empty list why there is none; the sentence is for the detail, too."""
        text = str(error)
        said = f"{begun(text)}."
        self._list.set_empty("")
        self._clear_list()
        self.query_one("#head", LinesView).show(sentence(said, self._width, part="bad")[:3])
        return said

    # ---- between list and detail

    @on(PagedTable.RowPicked, "#ranked")
    def _picked(self) -> None:
        self.add_class("looking")
        self._detail.focus_page()

    def _back_to_list(self) -> bool:
        """Go back to the list; False where it has the keys already."""
        if not self.has_class("looking") and self._list.has_focus:
            return False
        self.remove_class("looking")
        self._list.focus()
        return True

    def action_back(self) -> None:
        """Back to the list, then to where we came from."""
        if not self._back_to_list():
            super().action_back()

    def action_step(self, step: int) -> None:
        """Look at another one."""
        self._list.action_move(step)

    def action_tab(self, number: int) -> None:
        """Open a tab."""
        self.add_class("looking")
        self._detail.open_tab(number)
        self._detail.focus_page()
        self._show_left_out()

    @on(TabLine.Chosen)
    def _tab_chosen(self, message: TabLine.Chosen) -> None:
        self.action_tab(message.number)

    # ---- changes and sizes

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Look again, now or when we are back."""
        self._changes += 1
        if self.is_current:
            self._look_again()
        else:
            self._stale = True

    def _look_again(self) -> None:
        self._stale = False
        self._ask()

    @on(ScreenResume)
    def _resumed(self) -> None:
        if self._stale:
            self._look_again()

    @on(Resize)
    def _resized(self) -> None:
        width, height = self.size
        layout = "beside" if width >= self.BROAD else "stacked" if height >= _TALL else "switch"
        for name in ("beside", "stacked", "switch"):
            self.set_class(name == layout, name)
        self.call_after_refresh(self._fit)
