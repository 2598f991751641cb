"""Choosing one item of a kind by typing a part of its maker, model or id."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key
from textual.widgets import Input

from specdb.schema import load_schema
from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.columns import Column, measured, spec_of
from specdb.tui.frame import KeyLine
from specdb.tui.kinds import short_columns
from specdb.tui.paged import PagedTable
from specdb.tui.search import haystack, rows_with

if TYPE_CHECKING:
    import pyarrow as pa

_IN_LIST = {"up", "down", "pageup", "pagedown"}


@dataclass(frozen=True, slots=True)
class _Held:
    rows: pa.Table
    texts: pa.ChunkedArray
    columns: list[Column]
    allowed: pa.Array | None


class Picker(Dialog[str | None]):
    """Choose one item of a kind; closes with its key, or None.

    Parameters
    ----------
    kind : str
        The kind.
    where : str or None
        Only rows that meet this condition (the language of ``--where``).
    title : str or None
        Title of the dialog.
    """

    place = "picker"
    ACTIONS = (
        Action("pick", "enter", "choose", "Take the row of the cursor.", priority=True),
        Action("give_up", "escape", "back", "Close without choosing.", priority=True),
    )
    DEFAULT_CSS = """
    Picker > .dialog { width: 100; height: 90%; }
    Picker Input { border: none; height: 1; padding: 0; background: $panel; margin-bottom: 1; }
    """

    def __init__(self, kind: str, *, where: str | None = None, title: str | None = None) -> None:
        super().__init__()
        self._kind = load_schema().table(kind)
        self._where = where
        self._heading = title or f"Choose a {self._kind.title.lower()}"
        self._held: _Held | None = None

    def compose(self) -> ComposeResult:
        """A line to type in, and the list."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._heading
            yield Input(placeholder="part of maker, model or id")
            yield PagedTable(key=self._kind.primary_key, empty="Loading …")
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Get the rows."""
        self.query_one(PagedTable).can_focus = False
        self.query_one(Input).focus()
        self.work(self._load, self._loaded, group="load", what=f"list every {self._kind.title.lower()}")

    def _load(self) -> _Held:
        from specdb.catalogue.arrow_where import rows_meeting

        rows = self.desk.table(self._kind.name)
        condition = self._where
        if "status" in self._kind.field_names:
            standing = "status != 'retired' or status is empty"
            condition = standing if condition is None else f"({condition}) and ({standing})"
        allowed = None if condition is None else rows_meeting(self._kind.name, rows, condition)
        specs = [spec_of(self._kind.field(name)) for name in short_columns(self._kind)]
        return _Held(rows, haystack(rows, self._kind), measured(rows, specs), allowed)

    def _loaded(self, held: _Held) -> None:
        self._held = held
        self._search(self.query_one(Input).value)

    @on(Input.Changed)
    def _typed(self, message: Input.Changed) -> None:
        self._search(message.value)

    def _search(self, words: str) -> None:
        held = self._held
        if held is None:
            return

        def look() -> pa.Array:
            import pyarrow as pa
            import pyarrow.compute as pc

            everything = held.allowed if held.allowed is not None else pa.array(range(held.rows.num_rows))
            mask = rows_with(words, held.texts)
            return everything if mask is None else everything.filter(pc.take(mask, everything))

        def show(order: pa.Array) -> None:
            table = self.query_one(PagedTable)
            table.set_empty(f"No {self._kind.title.lower()} has that in its maker, model or id.")
            table.set_table(held.rows, held.columns, order=order, keep=False)

        self.work(look, show, group="search", what="search")

    def on_key(self, event: Key) -> None:
        """Hand the keys that move in the list to it, while typing."""
        if event.key in _IN_LIST:
            table = self.query_one(PagedTable)
            step = 1 if event.key.endswith("down") else -1
            if event.key.startswith("page"):
                table.action_page(step)
            else:
                table.action_move(step)
            event.stop()

    @on(PagedTable.RowPicked)
    def _clicked(self, message: PagedTable.RowPicked) -> None:
        self.dismiss(message.key)

    def action_pick(self) -> None:
        """Close with the row of the cursor."""
        key = self.query_one(PagedTable).cursor_key
        if key is not None:
            self.dismiss(key)

    def action_give_up(self) -> None:
        """Close without choosing."""
        self.dismiss(None)
