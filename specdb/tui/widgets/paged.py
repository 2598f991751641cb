"""A list over an Arrow table: only the rows that are seen are ever written out, so its length costs nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.binding import Binding, BindingType
from textual.events import Click, MouseMove
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from specdb.tui.widgets.columns import Column, ColumnSpec, fitted, measured

if TYPE_CHECKING:
    import pyarrow as pa

_HEAD = 2  # most lines of the heading
_GAP = 2
_PAD = 1
_LEAST = 4  # a column is never cut to less
_BLOCK = 64  # rows that are written out at once
_BLOCKS_KEPT = 24


class PagedTable(ScrollView, can_focus=True):
    """A list with a cursor.

    Attributes
    ----------
    cursor_row : int
        Row of the cursor, from 0; -1 where the list is empty.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "Row up", show=False),
        Binding("down", "move(1)", "Row down", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown", "page(1)", "Page down", show=False),
        Binding("home,ctrl+home", "to_end(False)", "First row", show=False),
        Binding("end,ctrl+end", "to_end(True)", "Last row", show=False),
        Binding("left", "sideways(-1)", "Columns to the left", show=False),
        Binding("right", "sideways(1)", "Columns to the right", show=False),
        Binding("enter", "pick", "Open", show=False),
    ]
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "paged--heading",
        "paged--sorted",
        "paged--cursor",
        "paged--cursor-away",
        "paged--quiet",
    }
    DEFAULT_CSS = """
    PagedTable {
        height: 1fr;
        background: $background;
        color: $foreground;
        scrollbar-size-vertical: 1;
        scrollbar-size-horizontal: 1;
        overflow-x: hidden;
    }
    PagedTable > .paged--heading { color: $quiet; background: $background; }
    PagedTable > .paged--sorted { color: $accent; background: $background; text-style: bold; }
    PagedTable > .paged--cursor { background: $picked; color: $foreground; text-style: bold; }
    PagedTable > .paged--cursor-away { background: $panel; color: $foreground; }
    PagedTable > .paged--quiet { color: $quiet; }
    """

    cursor_row: reactive[int] = reactive(-1, repaint=False)

    class RowMessage(Message):
        """About a row.

        Attributes
        ----------
        table : PagedTable
            The list.
        row : int
            Which row of the list, from 0.
        key : str
            Its key; parts of a composite one are joined by ``/``.
        """

        def __init__(self, table: PagedTable, row: int, key: str) -> None:
            super().__init__()
            self.table = table
            self.row = row
            self.key = key

        @property
        def control(self) -> PagedTable:
            """The list."""
            return self.table

    class RowPicked(RowMessage):
        """A row was opened, with enter or the mouse."""

    class RowHighlighted(RowMessage):
        """The cursor is on another row."""

    class HeadingPicked(Message):
        """The heading of a column was clicked."""

        def __init__(self, table: PagedTable, name: str) -> None:
            super().__init__()
            self.table = table
            self.name = name

        @property
        def control(self) -> PagedTable:
            """The list."""
            return self.table

    def __init__(
        self,
        *,
        key: Sequence[str] = ("id",),
        empty: str = "",
        followed: bool = False,
        id: str | None = None,  # noqa: A002 (as Textual's)
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self._key = tuple(key)
        self._empty = empty
        self._followed = followed  # the cursor looks alive although the keys go elsewhere
        self._table: pa.Table | None = None
        self._order: pa.Array | None = None
        self._columns: list[Column] = []
        self._sorted: tuple[str, bool] | None = None
        self._first = 0  # column the list begins with, after the one that stays
        self._blocks: dict[int, list[tuple[str, ...]]] = {}

    # ---- what is shown

    def set_table(
        self,
        table: pa.Table,
        columns: Sequence[ColumnSpec | Column],
        *,
        order: pa.Array | None = None,
        key: Sequence[str] | None = None,
        sorted_by: tuple[str, bool] | None = None,
        keep: bool = True,
    ) -> None:
        """Show a table.

        Parameters
        ----------
        table : pyarrow.Table
            The rows.
        columns : sequence of ColumnSpec or Column
            What is shown; measure them in a job (:func:`specdb.tui.widgets.columns.measured`) where the table is long.
        order : pyarrow.Array of int or None
            Which rows, in which order; all where None.
        key : sequence of str or None
            Columns of the key; as before where None.
        sorted_by : tuple of str and bool or None
            Column the rows are sorted by, and whether they fall.
        keep : bool
            Whether the cursor stays on the row it is on, where that is still shown.
        """
        held = self.row_key(self.cursor_row) if keep else None
        self._key = self._key if key is None else tuple(key)
        self._table = table
        self._order = order
        fresh = iter(measured(table, [c for c in columns if isinstance(c, ColumnSpec)]))
        self._columns = [next(fresh) if isinstance(c, ColumnSpec) else c for c in columns]
        self._sorted = sorted_by
        self._first = min(self._first, max(len(self._columns) - 2, 0))
        self._blocks.clear()
        row = None if held is None else self.row_of(held)
        if row is None:
            row = min(max(self.cursor_row, 0), self.row_count - 1) if keep else min(0, self.row_count - 1)
        self.virtual_size = Size(1, self.row_count + self.head_lines)
        self.set_reactive(PagedTable.cursor_row, row)
        self._see_cursor()
        self.refresh()
        self._tell()

    def set_empty(self, text: str) -> None:
        """Say why the list is empty.

        Parameters
        ----------
        text : str
            A sentence.
        """
        self._empty = text
        self.refresh()

    @property
    def row_count(self) -> int:
        """How many rows there are."""
        if self._order is not None:
            return len(self._order)
        return 0 if self._table is None else int(self._table.num_rows)

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns."""
        return tuple(self._columns)

    @property
    def cursor_key(self) -> str | None:
        """Key of the row the cursor is on."""
        return self.row_key(self.cursor_row)

    def row_key(self, row: int) -> str | None:
        """Key of a row; None where there is no such row.

        Parameters
        ----------
        row : int
            Which row of the list, from 0.
        """
        at = self._stored_row(row)
        if at is None or self._table is None:
            return None
        return "/".join(str(self._table[name][at].as_py()) for name in self._key)

    def row_values(self, row: int) -> dict[str, object] | None:
        """All values of a row of the list; None where there is no such row.

        Parameters
        ----------
        row : int
            Which row of the list, from 0.
        """
        at = self._stored_row(row)
        if at is None or self._table is None:
            return None
        return dict(self._table.slice(at, 1).to_pylist()[0])

    def row_of(self, key: str) -> int | None:
        """Which row of the list has a key; None where none has.

        Parameters
        ----------
        key : str
            The key.
        """
        import pyarrow as pa
        import pyarrow.compute as pc

        if self._table is None or not self.row_count:
            return None
        found = None
        parts = key.split("/", len(self._key) - 1) if len(self._key) > 1 else [key]
        if len(parts) != len(self._key):
            return None
        for name, part in zip(self._key, parts, strict=True):
            same = pc.equal(self._table[name].cast(pa.string()), part)
            found = same if found is None else pc.and_(found, same)
        at = pc.index(found, True).as_py()
        if at < 0 or self._order is None:
            return None if at < 0 else int(at)
        row = pc.index(self._order, pa.scalar(at, self._order.type)).as_py()
        return None if row < 0 else int(row)

    def show_row(self, key: str) -> bool:
        """Move the cursor to a row; False where it is not in the list.

        Parameters
        ----------
        key : str
            Its key.
        """
        row = self.row_of(key)
        if row is None:
            return False
        self.cursor_row = row
        return True

    def _stored_row(self, row: int) -> int | None:
        if not 0 <= row < self.row_count:
            return None
        return row if self._order is None else int(self._order[row].as_py())

    def _cells(self, row: int) -> tuple[str, ...]:
        number = row // _BLOCK
        block = self._blocks.get(number)
        if block is None:
            if len(self._blocks) >= _BLOCKS_KEPT:
                self._blocks.clear()
            block = self._written(number * _BLOCK)
            self._blocks[number] = block
        return block[row - number * _BLOCK]

    def _written(self, start: int) -> list[tuple[str, ...]]:
        if self._table is None:
            return []
        some = self._table.select([c.spec.name for c in dict.fromkeys(self._columns)])
        part = some.slice(start, _BLOCK) if self._order is None else some.take(self._order.slice(start, _BLOCK))
        columns = [[column.cell(value) for value in part[column.spec.name].to_pylist()] for column in self._columns]
        return list(zip(*columns, strict=True))

    # ---- moving

    @property
    def _page(self) -> int:
        return max(self.size.height - self.head_lines, 1)

    def validate_cursor_row(self, row: int) -> int:
        """Keep the cursor in the list."""
        return min(max(row, 0), self.row_count - 1)

    def watch_cursor_row(self, old: int, new: int) -> None:
        """Follow the cursor."""
        if old != new:
            self._see_cursor()
            self._repaint_row(old)
            self._repaint_row(new)
            self._tell()

    def _tell(self) -> None:
        key = self.cursor_key
        if key is not None:
            self.post_message(self.RowHighlighted(self, self.cursor_row, key))

    def _repaint_row(self, row: int) -> None:
        y = row - self.scroll_offset.y + self.head_lines
        if self.head_lines <= y < self.size.height:
            self.refresh(Region(0, y, self._width, 1))

    def _see_cursor(self) -> None:
        top = self.scroll_offset.y
        row = self.cursor_row
        if row < 0:
            self.scroll_to(0, 0, animate=False)
        elif row < top:
            self.scroll_to(0, row, animate=False, force=True)
        elif row >= top + self._page:
            self.scroll_to(0, row - self._page + 1, animate=False, force=True)

    def on_resize(self) -> None:
        """Keep the cursor in sight."""
        self._see_cursor()
        self.refresh()

    def action_move(self, rows: int) -> None:
        """Move the cursor by rows."""
        self.cursor_row += rows

    def action_page(self, pages: int) -> None:
        """Move the cursor by pages."""
        self.cursor_row += pages * self._page

    def action_to_end(self, last: bool) -> None:
        """Move the cursor to the first or last row."""
        self.cursor_row = self.row_count - 1 if last else 0

    def action_sideways(self, columns: int) -> None:
        """Move the list sideways, by columns."""
        most = max(len(self._columns) - 2, 0)
        if columns > 0 and not self.more(1):
            return
        self._first = min(max(self._first + columns, 0), most)
        self.refresh()

    def more(self, step: int) -> bool:
        """Whether there are columns out of sight on one side.

        Parameters
        ----------
        step : int
            Above zero for the right, below for the left.
        """
        return self._more()[step > 0]

    def action_pick(self) -> None:
        """Open the row of the cursor."""
        key = self.cursor_key
        if key is not None:
            self.post_message(self.RowPicked(self, self.cursor_row, key))

    def on_mouse_move(self, event: MouseMove) -> None:
        """Nothing follows the mouse; a repaint for each move would be wasted."""
        event.stop()

    def on_click(self, event: Click) -> None:
        """Move the cursor to a row, open the one it is on, or tell of a heading."""
        if event.y < self.head_lines:
            self._heading_clicked(event.x, last=event.y == self.head_lines - 1)
            return
        row = event.y - self.head_lines + self.scroll_offset.y
        if row >= self.row_count:
            return
        if row == self.cursor_row or event.chain > 1:
            self.cursor_row = row
            self.action_pick()
        else:
            self.cursor_row = row

    def _heading_clicked(self, x: int, *, last: bool) -> None:
        """Move sideways where a sign says that there is more, else tell which heading it was."""
        left, right = self._more()
        if last and right and x == self._width - 1:
            self.action_sideways(1)
        elif last and left and x == 0:
            self.action_sideways(-1)
        elif (name := self._column_at(x)) is not None:
            self.post_message(self.HeadingPicked(self, name))

    def on_mouse_scroll_right(self) -> None:
        """Show columns further to the right."""
        self.action_sideways(1)

    def on_mouse_scroll_left(self) -> None:
        """Show columns further to the left."""
        self.action_sideways(-1)

    def _column_at(self, x: int) -> str | None:
        at = _PAD
        for _, column, taken in self._seen():
            if at <= x < at + taken + _GAP:
                return column.spec.name
            at += taken + _GAP
        return None

    # ---- drawing

    @property
    def _width(self) -> int:
        return int(self.scrollable_content_region.width)

    @property
    def head_lines(self) -> int:
        """Lines of the heading."""
        return max((n + 1 for c in self._columns for n in range(_HEAD) if c.heading[_HEAD - 1 - n]), default=0)

    def _seen(self) -> list[tuple[int, Column, int]]:
        """The columns that fit whole, with their widths: the first always, the others from where the list was moved to.

        Where not even the first two fit, they are cut.
        """
        if not self._columns:
            return []
        room = max(self._width - 2 * _PAD, 1)
        shown = [(0, self._columns[0], min(self._columns[0].width, room))]
        room -= shown[0][2]
        for i in range(1 + self._first, len(self._columns)):
            width = self._columns[i].width
            room -= width + _GAP
            if room < 0 and i == 1 + self._first and room + width >= _LEAST:
                width += room
            elif room < 0:
                break
            shown.append((i, self._columns[i], width))
        return shown

    def _more(self) -> tuple[bool, bool]:
        """Whether there are columns to the left and to the right that are not seen."""
        seen = self._seen()
        return self._first > 0, bool(seen) and seen[-1][0] < len(self._columns) - 1

    def render_line(self, y: int) -> Strip:
        """One line of the list.

        Parameters
        ----------
        y : int
            Line, from the top of the list as seen.
        """
        width = self._width
        ground = self.rich_style
        head = self.head_lines
        if y < head:
            return self._heading_line(y + _HEAD - head, width)
        row = y - head + self.scroll_offset.y
        if row >= self.row_count:
            text = f" {self._empty}" if not self.row_count and y == head + (1 if head else 0) else ""
            return Strip([Segment(fitted(text, width), ground)], width)
        style = ground
        if row == self.cursor_row:
            alive = self.has_focus or self._followed
            style = self.get_component_rich_style("paged--cursor" if alive else "paged--cursor-away")
        cells = self._cells(row)
        written = (
            cells[i] if taken == column.width else fitted(cells[i].strip(), taken, right=column.spec.right)
            for i, column, taken in self._seen()
        )
        text = " " * _PAD + (" " * _GAP).join(written)
        return Strip([Segment(text, style)]).adjust_cell_length(width, style)

    def _heading_line(self, y: int, width: int) -> Strip:
        plain = self.get_component_rich_style("paged--heading")
        strong = self.get_component_rich_style("paged--sorted")
        left, right = self._more()
        last = y == _HEAD - 1
        segments = [Segment("‹" if left and last else " ", strong)]
        for _, column, taken in self._seen():
            text = column.heading[y]
            style: Style = plain
            if self._sorted is not None and self._sorted[0] == column.spec.name:
                style = strong
                if last:
                    sign = "▼" if self._sorted[1] else "▲"
                    text = f"{sign}{text}" if column.spec.right else f"{text}{sign}"
            segments.append(Segment(fitted(text, taken, right=column.spec.right), style))
            segments.append(Segment(" " * _GAP, plain))
        strip = Strip(segments).adjust_cell_length(width, plain)
        if right and last:
            strip = Strip([*strip.crop(0, width - 1), Segment("›", strong)], width)
        return strip
