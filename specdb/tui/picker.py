"""Choosing one item of a kind by typing a part of its maker, model or id."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.widgets import Input

from specdb.schema import load_schema
from specdb.tui.chooser import ChoosingDialog
from specdb.tui.columns import Column, measured, spec_of
from specdb.tui.kinds import short_columns
from specdb.tui.search import haystack, rows_with

if TYPE_CHECKING:
    import pyarrow as pa


@dataclass(frozen=True, slots=True)
class _Held:
    rows: pa.Table
    texts: pa.ChunkedArray
    columns: list[Column]
    allowed: pa.ChunkedArray | None


class Picker(ChoosingDialog):
    """Choose one item of a kind; closes with its key, or None. Retired items are not offered.

    Parameters
    ----------
    kind : str
        The kind.
    where : str or None
        Only rows that meet this condition (the language of ``--where``).
    title : str or None
        Title of the dialog.
    """

    place = "chooser"
    DEFAULT_CSS = """
    Picker > .dialog { width: 96; height: 90%; }
    """

    def __init__(self, kind: str, *, where: str | None = None, title: str | None = None) -> None:
        self._kind = load_schema().table(kind)
        super().__init__(title or f"Choose a {self._kind.title.lower()}", "part of maker, model or id")
        self._where = where
        self._held: _Held | None = None

    def on_mount(self) -> None:
        """Get the rows."""
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
        self.search(self.query_one(Input).value)

    def search(self, words: str) -> None:
        """Show the rows that have the words typed.

        Parameters
        ----------
        words : str
            As typed.
        """
        held = self._held
        if held is None:
            return

        def look() -> pa.Array:
            import pyarrow as pa
            import pyarrow.compute as pc

            mask = rows_with(words, held.texts)
            if held.allowed is not None:
                mask = held.allowed if mask is None else pc.and_(mask, held.allowed)
            return pa.array(range(held.rows.num_rows)) if mask is None else pc.indices_nonzero(mask)

        def show(order: pa.Array) -> None:
            self.table.set_empty(f"No {self._kind.title.lower()} has that in its maker, model or id.")
            self.table.set_table(held.rows, held.columns, order=order, key=self._kind.primary_key, keep=False)

        self.work(look, show, group="search", what="search")
