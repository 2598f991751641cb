"""What a list of the catalogue shows: searched, filtered, sorted rows of a kind, worked out from rows in memory.

Everything slow is kept for as long as the rows are the same, so that each letter typed costs a few milliseconds even
with a hundred thousand rows. For jobs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from specdb.schema import Table
from specdb.tui.catalogue.kinds import as_listed
from specdb.tui.catalogue.search import haystack, nearest_rows_first, rows_with
from specdb.tui.widgets.columns import Column, measured, spec_of

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.tui.desk import Desk

RETIRED = "retired"
_KEPT = 3  # kinds whose search texts and orders are kept


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be listed.

    Attributes
    ----------
    kind : str
        The kind.
    columns : tuple of str
        Fields to show.
    words : str
        Words that must occur.
    where : str
        Condition; empty for none.
    sort : tuple of str and bool
        Field to sort by, and whether it falls.
    retired : bool
        Whether retired rows are listed too.
    """

    kind: str
    columns: tuple[str, ...]
    words: str = ""
    where: str = ""
    sort: tuple[str, bool] = ("id", False)
    retired: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """What is listed.

    Attributes
    ----------
    asked : Asked
        The question.
    rows : pyarrow.Table
        All rows of the kind.
    columns : list of Column
        The columns, measured.
    order : pyarrow.Array of int
        Which rows are listed, in which order.
    retired_hidden : int
        How many rows are left out only because they are retired.
    """

    asked: Asked
    rows: pa.Table
    columns: list[Column]
    order: pa.Array
    retired_hidden: int


@dataclass(slots=True)
class _Kept:
    rows: pa.Table
    texts: pa.ChunkedArray | None = None
    orders: dict[tuple[str, bool], pa.Array] = field(default_factory=dict)
    columns: dict[str, Column] = field(default_factory=dict)
    where: dict[str, Any] = field(default_factory=dict)


class Lists:
    """Lists of one catalogue.

    Parameters
    ----------
    desk : Desk
        The catalogue.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._kept: dict[str, _Kept] = {}

    def find(self, asked: Asked, *, fresh: bool) -> Found:
        """Work a list out.

        Parameters
        ----------
        asked : Asked
            What is to be listed.
        fresh : bool
            Whether the file is looked at; otherwise rows that are in memory will do.

        Raises
        ------
        WhereError
            If the condition cannot be understood.
        CatalogueError
            If the file cannot be read.
        """
        import pyarrow.compute as pc

        table = as_listed(asked.kind)
        rows = None if fresh else self._desk.held(asked.kind)
        kept = self._kept_of(asked.kind, self._desk.listed(asked.kind) if rows is None else rows)
        order = self._order(kept, table, asked.sort)
        mask = None
        if asked.words.strip():
            if kept.texts is None:
                kept.texts = haystack(kept.rows, table)
            mask = rows_with(asked.words, kept.texts)
        if asked.where.strip():
            mask = _both(mask, self._meeting(kept, table, asked.where.strip()))
        hidden = 0
        if not asked.retired and "status" in table.field_names:
            standing = pc.fill_null(pc.not_equal(kept.rows["status"], RETIRED), True)
            shown = _both(mask, standing)
            before = kept.rows.num_rows if mask is None else pc.sum(mask).as_py() or 0
            hidden = before - (pc.sum(shown).as_py() or 0)
            mask = shown
        if mask is not None:
            order = order.filter(pc.take(mask, order))
        if asked.sort == (table.primary_key[0], False) and table.key_style != "digest":
            order = nearest_rows_first(asked.words, kept.rows[table.primary_key[0]], order)
        return Found(asked, kept.rows, self._columns(kept, table, asked.columns), order, hidden)

    def _kept_of(self, kind: str, rows: pa.Table) -> _Kept:
        kept = self._kept.get(kind)
        if kept is None or kept.rows is not rows:
            kept = _Kept(rows)
            self._kept.pop(kind, None)
            self._kept[kind] = kept
            while len(self._kept) > _KEPT:
                del self._kept[next(iter(self._kept))]
        return kept

    @staticmethod
    def _order(kept: _Kept, table: Table, sort: tuple[str, bool]) -> pa.Array:
        import pyarrow as pa
        import pyarrow.compute as pc

        found = kept.orders.get(sort)
        if found is None:
            name, falling = sort
            if (name,) == table.primary_key and not falling:
                return _all_rows(kept.rows)  # they come by key
            values = kept.rows[name]
            if pa.types.is_string(values.type):
                values = pc.utf8_lower(values)
            numbered = pa.table({"value": values, "row": _all_rows(kept.rows)})
            keys = [("value", "descending" if falling else "ascending"), ("row", "ascending")]
            found = pc.sort_indices(numbered, sort_keys=keys)  # unknown values last.cast(pa.int64())
            kept.orders[sort] = found
        return found

    @staticmethod
    def _meeting(kept: _Kept, table: Table, where: str) -> pa.Array:
        found = kept.where.get(where)
        if found is None:
            from specdb.catalogue.arrow_where import rows_meeting

            found = rows_meeting(table, kept.rows, where)
            kept.where = {where: found}
        return found

    @staticmethod
    def _columns(kept: _Kept, table: Table, names: tuple[str, ...]) -> list[Column]:
        for name in names:
            if name not in kept.columns:
                kept.columns[name] = measured(kept.rows, [spec_of(table.field(name))])[0]
        return [kept.columns[name] for name in names]


def _all_rows(rows: pa.Table) -> pa.Array:
    import numpy as np
    import pyarrow as pa

    return pa.array(np.arange(rows.num_rows, dtype=np.int64))


def _both(one: Any, other: Any) -> Any:  # noqa: ANN401 (Arrow arrays)
    import pyarrow.compute as pc

    return other if one is None else pc.and_(one, other)
