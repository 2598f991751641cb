"""Choosing one of a handful of things by typing a part of its name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key
from textual.widgets import Input

from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.catalogue.search import nearest_first
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.paged import PagedTable

if TYPE_CHECKING:
    from specdb.tui.widgets.paged import PagedTable as _Table

_PAGE_KEYS = {"pageup": -1, "pagedown": 1}
_ROW_KEYS = {"up": -1, "down": 1}
_FRAME = 5  # lines of a dialog that are not rows


# left and right belong to the line only where there is something typed to move in
SIDEWAYS = (
    Action("sideways(1)", "right", "columns to the right", "Show columns further to the right, while the cursor "
           "stands at the end of what is typed.", shown=False, priority=True),
    Action("sideways(-1)", "left", "columns to the left", "Show columns further to the left again.", shown=False,
           priority=True),
)  # fmt: skip


class ChoosingDialog(Dialog[str | None]):
    """A line to type in over a list; closes with the key of a row, or None.

    Parameters
    ----------
    title : str
        Title of the dialog.
    hint : str
        Stands in the empty line.
    """

    place = "chooser"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("pick", "enter", "choose", "Take the row of the cursor.", priority=True),
        Action("give_up", "escape", "back", "Close without choosing.", priority=True),
        *SIDEWAYS,
    )
    KEY: ClassVar[tuple[str, ...]] = ("key",)
    DEFAULT_CSS = """
    ChoosingDialog Input.-textual-compact { padding: 0 1; background: $panel; margin-bottom: 1; }
    """

    def __init__(self, title: str, hint: str) -> None:
        super().__init__()
        self._title = title
        self._hint = hint

    def compose(self) -> ComposeResult:
        """A line to type in, and the list."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._title
            yield Input(placeholder=self._hint, compact=True)
            table = PagedTable(key=self.KEY, empty="Loading …", followed=True)
            table.can_focus = False
            yield table
            yield KeyLine(self.place)

    @property
    def table(self) -> _Table:
        """The list."""
        return self.query_one(PagedTable)

    def search(self, words: str) -> None:
        """Show the rows that have the words typed.

        Parameters
        ----------
        words : str
            As typed.
        """
        raise NotImplementedError

    @on(Input.Changed)
    def _typed(self, message: Input.Changed) -> None:
        self.search(message.value)

    def on_key(self, event: Key) -> None:
        """Hand the keys that move in the list to it, while typing."""
        if event.key in _ROW_KEYS:
            self.table.action_move(_ROW_KEYS[event.key])
            event.stop()
        elif event.key in _PAGE_KEYS:
            self.table.action_page(_PAGE_KEYS[event.key])
            event.stop()
        elif event.is_printable and event.character is not None:
            # typed before the line had the focus
            self.query_one(Input).insert_text_at_cursor(event.character)
            event.stop()

    @on(PagedTable.RowPicked)
    def _clicked(self, message: PagedTable.RowPicked) -> None:
        self.dismiss(message.key)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Sideways keys move the list where it can move and the line is at its end, and the cursor of the line else."""
        if action == "sideways":
            step = 1 if parameters and parameters[0] == 1 else -1
            return any(i.cursor_position == len(i.value) and self.table.more(step) for i in self.query(Input))
        return super().check_action(action, parameters)

    def action_sideways(self, step: int) -> None:
        """Move the list sideways."""
        self.table.action_sideways(step)

    def action_pick(self) -> None:
        """Close with the row of the cursor."""
        key = self.table.cursor_key
        if key is not None:
            self.dismiss(key)

    def action_give_up(self) -> None:
        """Close without choosing."""
        self.dismiss(None)


class Chooser(ChoosingDialog):
    """Choose one of a handful of things.

    Parameters
    ----------
    title : str
        Title of the dialog.
    columns : sequence of ColumnSpec
        What is shown of each; the first text column is searched too.
    rows : sequence of tuples
        The key of each, then its columns.
    chosen : str or None
        Key that the cursor begins at.
    """

    place = "chooser"
    DEFAULT_CSS = """
    Chooser > .dialog { width: 76; max-height: 90%; }
    """

    def __init__(
        self,
        title: str,
        columns: Sequence[ColumnSpec],
        rows: Sequence[tuple[str, ...]],
        *,
        chosen: str | None = None,
    ) -> None:
        super().__init__(title, "type a part of its name")
        self._columns = columns
        self._rows = rows
        self._chosen = chosen

    def on_mount(self) -> None:
        """Show all."""
        self.search("")
        self.query_one(".dialog").styles.height = len(self._rows) + self.table.head_lines + _FRAME
        if self._chosen is not None:
            self.table.show_row(self._chosen)

    def search(self, words: str) -> None:
        """Show the rows that have the words typed.

        Parameters
        ----------
        words : str
            As typed.
        """
        import pyarrow as pa

        wanted = words.lower().split()
        having = [row for row in self._rows if all(w in " ".join(row).lower() for w in wanted)]
        rows = nearest_first(words, having, lambda row: row[0])
        names = ["key", *(c.name for c in self._columns)]
        listed = {name: pa.array([row[i] for row in rows], pa.string()) for i, name in enumerate(names)}
        self.table.set_empty("None of them has that in its name.")
        self.table.set_table(pa.table(listed), self._columns, keep=False)
