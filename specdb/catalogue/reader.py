"""Reading an open catalogue: records, Arrow tables, stock, history."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from specdb.catalogue import journal, kept, order_rows, promises, spoilt, stock
from specdb.catalogue.journal import ChangeRow, ChangeSummary
from specdb.catalogue.kept import TeacherCounts
from specdb.catalogue.promises import Beyond
from specdb.catalogue.spoilt import SpoiltPart
from specdb.catalogue.stock import SupplyState
from specdb.catalogue.tables import column_list, first_row, key_match, key_parts, key_sql, quoted, record
from specdb.errors import NotFoundError
from specdb.records.rows import AdapterSetting, Club, ShaftReading
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import duckdb
    import pyarrow as pa

    from specdb.catalogue.remembering import RememberingReader

_NEAR_ENOUGH = 0.8
_NEAR_COUNT = 3


class Reader:
    """An open catalogue to read from; made by :meth:`specdb.catalogue.Catalogue.read`.

    Attributes
    ----------
    path : Path
        The catalogue file.
    """

    def __init__(self, path: Path, con: duckdb.DuckDBPyConnection) -> None:
        self.path = path
        self._con = con

    def find(self, kind: str, key: str) -> Any | None:  # noqa: ANN401 - a record class a kind
        """Record of a key, or None.

        Parameters
        ----------
        kind : str
            Kind of the row.
        key : str
            Its key; composite keys are written ``part/part``.

        Raises
        ------
        UnknownKindError, UsageError
            If there is no such kind, or a composite key lacks a part.
        """
        table = load_schema().table(kind)
        row = first_row(
            self._con,
            f"SELECT {column_list(table.field_names)} FROM {quoted(kind)} WHERE {key_match(table)}",
            list(key_parts(table, key)),
        )
        return None if row is None else record(kind, table.field_names, row)

    def get(self, kind: str, key: str) -> Any:  # noqa: ANN401 - a record class a kind
        """Record of a key.

        Parameters
        ----------
        kind : str
            Kind of the row.
        key : str
            Its key; composite keys are written ``part/part``.

        Raises
        ------
        NotFoundError
            If there is none; it names keys that look alike.
        UnknownKindError, UsageError
            If there is no such kind, or a composite key lacks a part.
        """
        found = self.find(kind, key)
        if found is None:
            raise NotFoundError(kind, key, self.near(kind, key))
        return found

    def near(self, kind: str, key: str) -> list[str]:
        """Up to three keys that look like one that is not there, the likest first."""
        text = key_sql(load_schema().table(kind))
        likeness = f"greatest(jaro_winkler_similarity({text}, ?), contains({text}, ?)::DOUBLE)"
        rows = self._con.execute(
            f"SELECT {text}, {likeness} AS likeness FROM {quoted(kind)} WHERE likeness >= {_NEAR_ENOUGH} "
            f"ORDER BY likeness DESC, 1 LIMIT {_NEAR_COUNT}",
            [key.lower(), key.lower()],
        ).fetchall()
        return [r[0] for r in rows]

    def rows(
        self,
        kind: str,
        *,
        where: str | None = None,
        order_by: Sequence[str] = (),
        limit: int | None = None,
        include_retired: bool = True,
    ) -> list[Any]:
        """Records of a kind.

        Parameters
        ----------
        kind : str
            Kind of the rows.
        where : str, optional
            Condition such as ``weight_g < 70 and tip_dia_in = 0.335``.
        order_by : sequence of str
            Fields to order by, ``-field`` for falling; the key where empty.
        limit : int, optional
            How many at most.
        include_retired : bool
            Whether retired items are wanted too.

        Raises
        ------
        UnknownKindError, UnknownFieldError, UsageError, UnitError
            If the kind, a field or the condition makes no sense.
        """
        table = load_schema().table(kind)
        order = order_by or table.primary_key
        sql, values = _query(table, table.field_names, where, order, limit, include_retired=include_retired)
        found = self._con.execute(sql, values).fetchall()
        return [record(kind, table.field_names, r) for r in found]

    def arrow(
        self,
        kind: str,
        columns: Sequence[str] | None = None,
        *,
        where: str | None = None,
        order_by: Sequence[str] = (),
        include_retired: bool = True,
    ) -> pa.Table:
        """Rows of a kind as an Arrow table.

        Parameters
        ----------
        kind : str
            Kind of the rows.
        columns : sequence of str, optional
            Only these fields, in this order.
        where : str, optional
            Condition such as ``weight_g < 70``.
        order_by : sequence of str
            Fields to order by, ``-field`` for falling; as stored where empty.
        include_retired : bool
            Whether retired items are wanted too.

        Raises
        ------
        UnknownKindError, UnknownFieldError, UsageError, UnitError
            If the kind, a field or the condition makes no sense.
        """
        table = load_schema().table(kind)
        names = table.field_names if columns is None else [table.field(c).name for c in columns]
        sql, values = _query(table, names, where, order_by, None, include_retired=include_retired)
        return self._con.sql(sql, params=values).to_arrow_table()

    def readings_of(self, shaft_id: str) -> list[ShaftReading]:
        """Readings of a shaft, ordered by sample, quantity and station."""
        table = load_schema().table("shaft_reading")
        found = self._con.execute(
            f"SELECT {column_list(table.field_names)} FROM shaft_reading WHERE shaft_id = ? "
            "ORDER BY sample, quantity, position_in, free_length_in, id",
            [shaft_id],
        ).fetchall()
        return [record("shaft_reading", table.field_names, r) for r in found]

    def settings_of(self, adapter_id: str) -> list[AdapterSetting]:
        """Settings of an adapter, by name."""
        table = load_schema().table("adapter_setting")
        found = self._con.execute(
            f"SELECT {column_list(table.field_names)} FROM adapter_setting WHERE adapter_id = ? ORDER BY setting",
            [adapter_id],
        ).fetchall()
        return [record("adapter_setting", table.field_names, r) for r in found]

    def stock(self, kind: str, item_id: str | None = None) -> dict[str, int]:
        """Pieces on hand, by item; items that never moved are left out.

        Parameters
        ----------
        kind : str
            Kind of part.
        item_id : str, optional
            Only this one.
        """
        return stock.on_hand(self._con, kind, item_id)

    def supply(self, kind: str, item_id: str | None = None) -> dict[str, SupplyState]:
        """What is on order or known to be backordered, by item.

        Parameters
        ----------
        kind : str
            Kind of part.
        item_id : str, optional
            Only this one.
        """
        return stock.supply(self._con, kind, item_id)

    def held(self) -> dict[tuple[str, str], int]:
        """Pieces that are held for orders, by kind and key of the part."""
        return promises.held(self._con)

    def beyond_stock(self) -> list[Beyond]:
        """Parts of which more is held for orders than there is, with the orders."""
        return promises.beyond(self._con)

    def of_orders(
        self, kind: str, states: Sequence[str] | None = None, also: str | Sequence[str] | None = None
    ) -> list[Any]:
        """Orders in some states, or the rows of a kind that belong to them, by key.

        Parameters
        ----------
        kind : str
            ``order``, ``order_line``, ``reservation`` or ``as_built``.
        states : sequence of str, optional
            The states; all where None.
        also : str or sequence of str, optional
            An order, or some, wanted whatever the state.
        """
        return order_rows.rows_of_orders(self._con, kind, states, also)

    def clubs_of_orders(
        self, states: Sequence[str] | None = None, also: str | Sequence[str] | None = None
    ) -> list[Club]:
        """Fitted clubs that orders in some states ask for, alone or in a set.

        Parameters
        ----------
        states : sequence of str, optional
            The states; all where None.
        also : str or sequence of str, optional
            An order, or some, whose clubs are wanted whatever the state.
        """
        return order_rows.clubs_of_orders(self._con, states, also)

    def spoilt_parts(self, order_id: str | None = None) -> list[SpoiltPart]:
        """Parts of orders that were spoilt at the bench, the latest first.

        Parameters
        ----------
        order_id : str, optional
            Only of this order.
        """
        return spoilt.spoilt_parts(self._con, order_id)

    def standing_change(self, kind: str, key: str) -> int:
        """Number of the latest change of a row that was not taken back and takes none back; 0 where there is none.

        Parameters
        ----------
        kind, key : str
            The row.
        """
        return journal.standing_change(self._con, kind, key)

    def retired(self, kind: str) -> set[str]:
        """Keys of the parts of a kind that are retired.

        Parameters
        ----------
        kind : str
            Kind of part.
        """
        return order_rows.retired_parts(self._con, kind)

    def remembering(self) -> RememberingReader:
        """A reader of the same open catalogue that asks for the same thing only once; not for use within a change."""
        from specdb.catalogue.remembering import RememberingReader

        return RememberingReader(self.path, self._con)

    def count(self, kind: str) -> int:
        """Number of rows of a kind."""
        load_schema().table(kind)
        row = first_row(self._con, f"SELECT count(*) FROM {quoted(kind)}")
        return int(row[0]) if row else 0

    def last_change(self) -> int:
        """Number of the latest change; 0 in a new catalogue."""
        return journal.last_change(self._con)

    def estimates(self, shaft_id: str | None = None) -> pa.Table:
        """Kept stiffness estimates, one row a shaft that has one, as in ``profile_estimate``.

        Parameters
        ----------
        shaft_id : str, optional
            Only of this shaft.
        """
        return kept.estimates(self._con, shaft_id)

    def population(self) -> dict[str, object] | None:
        """The kept population model as a row of ``population_model``, or None."""
        return kept.population(self._con)

    def kept_edition(self) -> int:
        """A number that changes whenever the kept estimates or the population do."""
        return kept.edition(self._con)

    def seen_change(self) -> int:
        """Changes up to this number have been looked at for estimates to be made anew."""
        return kept.seen_change(self._con)

    def touched_since(self, change_no: int) -> list[str]:
        """Shafts that changes after the given one bear upon.

        Parameters
        ----------
        change_no : int
            The change.
        """
        return kept.touched_since(self._con, change_no)

    def teacher_counts(self, *, stations: int, of_a_maker: int) -> TeacherCounts:
        """How many shafts could teach a population.

        Parameters
        ----------
        stations : int
            EI readings that make a teacher.
        of_a_maker : int
            Teachers of one material that make a maker known.
        """
        return kept.teacher_counts(self._con, stations=stations, of_a_maker=of_a_maker)

    def history(
        self,
        kind: str | None = None,
        key: str | None = None,
        *,
        change_no: int | None = None,
        limit: int | None = None,
    ) -> list[ChangeRow]:
        """What happened to a row, to a kind, in a change or at all; the latest first.

        Parameters
        ----------
        kind, key : str, optional
            Only this kind, only this row.
        change_no : int, optional
            Only this change.
        limit : int, optional
            How many rows at most.

        Raises
        ------
        UnknownKindError
            If there is no such kind.
        """
        if kind is not None:
            load_schema().table(kind)
        return journal.history(self._con, kind, key, change_no, limit)

    def changes(self, *, limit: int | None = None) -> list[ChangeSummary]:
        """Changes as a whole, the latest first.

        Parameters
        ----------
        limit : int, optional
            How many at most.
        """
        return journal.changes(self._con, limit)


def _query(
    table: Table,
    names: Sequence[str],
    where: str | None,
    order_by: Sequence[str],
    limit: int | None,
    *,
    include_retired: bool,
) -> tuple[str, list[object]]:
    conditions: list[str] = []
    values: list[object] = []
    if where:
        from specdb.catalogue.where import parse_where

        condition = parse_where(table.name, where)
        conditions.append(f"({condition.sql})")
        values += condition.parameters
    if not include_retired and "status" in table.field_names:
        conditions.append("status IS DISTINCT FROM 'retired'")
    sql = f"SELECT {column_list(names)} FROM {quoted(table.name)}"
    if conditions:
        sql += " WHERE " + " AND ".join(conditions)
    if order_by:
        sql += " ORDER BY " + ", ".join(_order(table, name) for name in order_by)
    if limit is not None:
        sql += f" LIMIT {max(int(limit), 0)}"
    return sql, values


def _order(table: Table, name: str) -> str:
    falling = name.startswith("-")
    field = table.field(name.removeprefix("-"))
    return quoted(field.name) + (" DESC NULLS LAST" if falling else " ASC NULLS LAST")
