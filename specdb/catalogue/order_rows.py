"""Rows that belong to some orders, read at once: their lines, the parts kept for them, the clubs they ask for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from specdb.catalogue.tables import column_list, literal, quoted, record
from specdb.errors import UsageError
from specdb.records.rows import Club
from specdb.schema import load_schema

if TYPE_CHECKING:
    import duckdb

OF_ORDERS = ("order_line", "reservation", "as_built")


def rows_of_orders(
    con: duckdb.DuckDBPyConnection, kind: str, states: Sequence[str] | None, also: str | Sequence[str] | None = None
) -> list[Any]:
    """Records of a kind that belong to orders in some states, by key.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        ``order``, ``order_line``, ``reservation`` or ``as_built``.
    states : sequence of str
        The states; all where None.
    also : str or sequence of str, optional
        An order, or some, wanted whatever the state.

    Raises
    ------
    UsageError
        If rows of that kind belong to no order.
    """
    if kind != "order" and kind not in OF_ORDERS:
        raise UsageError(f"rows of {kind} belong to no order")
    table = load_schema().table(kind)
    field = "id" if kind == "order" else "order_id"
    rows = con.execute(
        f"SELECT {column_list(table.field_names)} FROM {quoted(kind)} {_of_orders(field, states, also)} "
        f"ORDER BY {column_list(table.primary_key)}"
    ).fetchall()
    return [record(kind, table.field_names, r) for r in rows]


def _of_orders(field: str, states: Sequence[str] | None, also: str | Sequence[str] | None) -> str:
    if states is None:
        return ""
    known = load_schema().table("order").field("state").enum
    words = ", ".join(literal(s) for s in states if s in known) or "''"
    named = ", ".join(literal(key) for key in ((also,) if isinstance(also, str) else also or ()))
    some = f" OR id IN ({named})" if named else ""
    return f"WHERE {field} IN (SELECT id FROM {quoted('order')} WHERE state IN ({words}){some})"


def clubs_of_orders(
    con: duckdb.DuckDBPyConnection, states: Sequence[str] | None, also: str | Sequence[str] | None = None
) -> list[Club]:
    """Fitted clubs that orders in some states ask for, alone or in a set.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    states : sequence of str
        The states; all where None.
    also : str or sequence of str, optional
        An order, or some, whose clubs are wanted whatever the state.
    """
    table = load_schema().table("club")
    lines = f"SELECT * FROM order_line {_of_orders('order_id', states, also)}"
    rows = con.execute(
        f"WITH asked AS ({lines}) SELECT {column_list(table.field_names)} FROM club "
        "WHERE id IN (SELECT club_id FROM asked) OR set_id IN (SELECT set_id FROM asked) ORDER BY id"
    ).fetchall()
    return [record("club", table.field_names, r) for r in rows]


def retired_parts(con: duckdb.DuckDBPyConnection, kind: str) -> set[str]:
    """Keys of the parts of a kind that are retired.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of part.
    """
    load_schema().table(kind)
    return {key for (key,) in con.execute(f"SELECT id FROM {quoted(kind)} WHERE status = 'retired'").fetchall()}
