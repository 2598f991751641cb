"""Choosing the columns of a list, and their order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rich.segment import Segment
from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.geometry import Region, Size
from textual.scroll_view import ScrollView
from textual.strip import Strip

from specdb.schema import Table
from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.catalogue.kinds import first_columns
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.columns import fitted
from specdb.units import unit_label


class FieldList(ScrollView, can_focus=True):
    """Fields with a mark at those that are chosen; these stand first, in their order.

    Parameters
    ----------
    table : Table
        The kind.
    chosen : sequence of str
        Fields that are chosen.
    """

    DEFAULT_CSS = """
    FieldList { height: auto; max-height: 1fr; background: $surface; color: $foreground; scrollbar-size-vertical: 1; }
    FieldList > .fieldlist--cursor { background: $picked; color: $foreground; text-style: bold; }
    FieldList > .fieldlist--quiet { color: $quiet; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {"fieldlist--cursor", "fieldlist--quiet"}

    def __init__(self, table: Table, chosen: Sequence[str]) -> None:
        super().__init__()
        self._kind = table
        self._names: list[str] = []
        self._chosen: set[str] = set()
        self._cursor = 0
        self.choose(chosen)

    @property
    def chosen(self) -> tuple[str, ...]:
        """The chosen fields, in order."""
        return tuple(name for name in self._names if name in self._chosen)

    def choose(self, chosen: Sequence[str]) -> None:
        """Choose these fields, in this order.

        Parameters
        ----------
        chosen : sequence of str
            The fields.
        """
        known = [name for name in chosen if name in self._kind.field_names]
        self._chosen = set(known)
        self._names = [*known, *(name for name in self._kind.field_names if name not in self._chosen)]
        self.virtual_size = Size(1, len(self._names))
        self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 (as Textual's)
        """As many lines as fields."""
        return len(self._names)

    def move(self, rows: int) -> None:
        """Move the cursor."""
        self._cursor = min(max(self._cursor + rows, 0), len(self._names) - 1)
        self.scroll_to_region(Region(0, self._cursor, 1, 1), animate=False, force=True)
        self.refresh()

    def shift(self, rows: int) -> None:
        """Move the field of the cursor among the chosen ones."""
        name, to = self._names[self._cursor], self._cursor + rows
        if name in self._chosen and 0 <= to < len(self._names) and self._names[to] in self._chosen:
            self._names[self._cursor], self._names[to] = self._names[to], name
            self.move(rows)

    def toggle(self) -> None:
        """Choose the field of the cursor, or no more; one is always chosen."""
        name = self._names[self._cursor]
        if name not in self._chosen:
            self._chosen.add(name)
        elif len(self._chosen) > 1:
            self._chosen.remove(name)
        self.choose(self.chosen)
        self._cursor = self._names.index(name)
        self.move(0)

    def on_click(self, event: events.Click) -> None:
        """Choose what was clicked."""
        row = event.y + self.scroll_offset.y
        if row < len(self._names):
            self._cursor = row
            self.toggle()

    def render_line(self, y: int) -> Strip:
        """One field."""
        row, width = y + self.scroll_offset.y, self.size.width
        if row >= len(self._names):
            return Strip.blank(width, self.rich_style)
        field = self._kind.field(self._names[row])
        unit = f" ({unit_label(field.unit)})" if field.unit else ""
        mark = "[x]" if field.name in self._chosen else "[ ]"
        style = self.get_component_rich_style("fieldlist--cursor") if row == self._cursor else self.rich_style
        quiet = style + self.get_component_rich_style("fieldlist--quiet", partial=True)
        if row == self._cursor:
            quiet = style
        left = f" {mark} {field.title}{unit}"
        segments = [Segment(fitted(left, 36), style), Segment(fitted(field.description, max(width - 37, 1)), quiet)]
        return Strip(segments).adjust_cell_length(width, style)


class ColumnsDialog(Dialog[tuple[str, ...] | None]):
    """Choose the columns of a list; closes with them, or None.

    Parameters
    ----------
    table : Table
        The kind.
    chosen : sequence of str
        The columns it has.
    """

    place = "columns"
    ACTIONS = (
        Action("mark", "space", "show or not", "Show the field of the cursor as a column, or no more."),
        Action("accept", "enter", "done", "Show these columns from now on."),
        Action("give_up", "escape", "back", "Leave the columns as they were."),
        Action("shift(-1)", "minus,shift+up", "left", "Move the column to the left."),
        Action("shift(1)", "plus,shift+down", "right", "Move the column to the right."),
        Action("first", "r", "as at first", "Show the columns that were there at first."),
        Action("move(-1)", "up", "up", "Move up.", shown=False),
        Action("move(1)", "down", "down", "Move down.", shown=False),
        Action("move(-10)", "pageup,home", "page up", "Move up a page.", shown=False),
        Action("move(10)", "pagedown,end", "page down", "Move down a page.", shown=False),
    )
    DEFAULT_CSS = """
    ColumnsDialog > .dialog { width: 100; max-height: 90%; }
    """

    def __init__(self, table: Table, chosen: Sequence[str]) -> None:
        super().__init__()
        self._kind = table
        self._begun_with = tuple(chosen)

    def compose(self) -> ComposeResult:
        """The fields and the keys."""
        with Vertical(classes="dialog") as box:
            box.border_title = f"Columns: {self._kind.title}"
            yield FieldList(self._kind, self._begun_with)
            yield KeyLine(self.place)

    @property
    def fields(self) -> FieldList:
        """The fields."""
        return self.query_one(FieldList)

    def action_mark(self) -> None:
        """Choose the field of the cursor, or no more."""
        self.fields.toggle()

    def action_shift(self, rows: int) -> None:
        """Move the field of the cursor."""
        self.fields.shift(rows)

    def action_move(self, rows: int) -> None:
        """Move the cursor."""
        self.fields.move(rows)

    def action_first(self) -> None:
        """Choose what was chosen at first."""
        self.fields.choose(first_columns(self._kind))

    def action_accept(self) -> None:
        """Close with the columns."""
        self.dismiss(self.fields.chosen)

    def action_give_up(self) -> None:
        """Close without."""
        self.dismiss(None)
