"""Choosing one item of a kind by typing a part of its maker, model or id."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from textual.widgets import Input

from specdb.errors import indefinite
from specdb.schema import load_schema
from specdb.tui.catalogue.kinds import STOCK, short_specs
from specdb.tui.catalogue.search import haystack, nearest_rows_first, rows_with
from specdb.tui.dialogs.chooser import ChoosingDialog
from specdb.tui.widgets.columns import Column, measured
from specdb.tui.widgets.days import shop_day
from specdb.tui.widgets.fitting import made_to_fit
from specdb.tui.widgets.words import free_words

if TYPE_CHECKING:
    from collections.abc import Callable

    import pyarrow as pa

    from specdb.tui.desk import Desk

# names give way, so that what tells variants apart and the stock are seen; what stands after the first of the last two
# may be out of sight to the right
_NAMES = ("model", "maker", "id")
_LEAST = (("maker", 10), ("model", 15), ("id", 14), ("maker", 4))


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
    where : str, callable or None
        Only rows that meet this condition (the language of ``--where``); a function is called off the interface's
        thread to work it out.
    title : str or None
        Title of the dialog.

    Attributes
    ----------
    begin : str
        Stands in the line when it opens, as if typed.
    """

    place = "chooser"
    DEFAULT_CSS = """
    Picker > .dialog { width: 110; height: 90%; }
    """

    def __init__(
        self, kind: str, *, where: str | Callable[[Desk], str | None] | None = None, title: str | None = None
    ) -> None:
        self._kind = load_schema().table(kind)
        super().__init__(title or f"Choose {indefinite(self._kind.title.lower())}", "part of maker, model or id")
        self._where = where
        self.begin = ""
        self._held: _Held | None = None
        self._shown: str | None = None
        self._picked_early = False

    @classmethod
    def for_part(cls, kind: str, head: str) -> Picker:
        """Choose a part of a club; of adapters, those that go with its head, where that says which.

        Parameters
        ----------
        kind : str
            Kind of the part.
        head : str
            Key of the head; empty while there is none.
        """
        if kind != "adapter" or not head:
            return cls(kind)
        return cls(kind, where=partial(_going_with, head=head), title=f"Choose an adapter that goes with {head}")

    def on_mount(self) -> None:
        """Get the rows."""
        if self.begin:
            self.query_one(Input).value = self.begin
        self.work(self._load, self._loaded, group="load", what=f"list every {self._kind.title.lower()}")

    def _load(self) -> _Held:
        from specdb.catalogue.arrow_where import rows_meeting

        rows = self.desk.table(self._kind.name)
        condition = self._where(self.desk) if callable(self._where) else self._where
        if "status" in self._kind.field_names:
            standing = "status != 'retired' or status is empty"
            condition = standing if condition is None else f"({condition}) and ({standing})"
        allowed = None if condition is None else rows_meeting(self._kind.name, rows, condition)
        texts = haystack(rows, self._kind)
        stock = self._stock_of(rows) if "id" in rows.column_names else None
        if stock is not None:
            rows = rows.append_column(STOCK, stock)
        specs = short_specs(self._kind, stock=stock is not None)
        return _Held(rows, texts, measured(rows, specs), allowed)

    def _stock_of(self, rows: pa.Table) -> pa.Array | None:
        """What is free of each row, in words; None where no stock is kept of the kind."""
        import pyarrow as pa

        from specdb.verbs.catalogue.holdings import free_parts

        with self.desk.catalogue.read() as reader:
            free = free_parts(reader, self._kind.name)
        if free is None:
            return None
        today = shop_day()
        said = {key: free_words(found, today) for key, found in free.items()}
        return pa.array([said.get(key, free_words(None, today)) for key in rows["id"].to_pylist()], pa.string())

    def on_resize(self) -> None:
        """Make the columns fit."""
        if self._held is not None:
            self.search(self.query_one(Input).value)

    def _loaded(self, held: _Held) -> None:
        self._held = held
        self.search(self.query_one(Input).value)

    def action_pick(self) -> None:
        """Close with the row of the cursor; once what was typed is looked up, where the keys were faster."""
        self._picked_early = self._shown != self.query_one(Input).value
        if not self._picked_early:
            super().action_pick()

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
            found = pa.array(range(held.rows.num_rows)) if mask is None else pc.indices_nonzero(mask)
            return nearest_rows_first(words, held.rows[self._kind.primary_key[0]], found)

        def show(order: pa.Array) -> None:
            self.table.set_empty(f"No {self._kind.title.lower()} has that in its maker, model or id.")
            columns = _fitting(held.columns, self.table.size.width)
            self.table.set_table(held.rows, columns, order=order, key=self._kind.primary_key, keep=False)
            self._shown = words
            if self._picked_early:
                self.action_pick()

        self.work(look, show, group="search", what="search")


def _fitting(columns: list[Column], width: int) -> list[Column]:
    """Columns up to the maker, or the id, made to fit, the others as they are."""
    names = [c.spec.name for c in columns]
    needed = next((i + 1 for i, name in enumerate(names) if i and name in ("maker", "id")), len(names))
    least = [(name, cells) for name, cells in _LEAST if name in names[:needed]]
    return [*made_to_fit(columns[:needed], width, least, names=_NAMES), *columns[needed:]]


def _going_with(desk: Desk, *, head: str) -> str | None:
    """Condition on adapters that go with a head; None where it does not say which."""
    import pyarrow.compute as pc

    heads = desk.table("head")
    found = heads.filter(pc.equal(heads["id"], head)).select(["connection", "hand"]).to_pylist()
    if not found or not found[0]["connection"]:
        return None
    connection, hand = found[0]["connection"].replace("'", "''"), found[0]["hand"]
    condition = f"connection = '{connection}'"
    return f"{condition} and (hand in (either, {hand}) or hand is empty)" if hand else condition
