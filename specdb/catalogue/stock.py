"""The stock ledger and what is on order.

Stock on hand is the sum of an item's moves. A move may not take out more than there is; only a count
(``counted``), which says what a person saw on the shelf, may leave a sum below zero, and the integrity check
reports it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue.faults import RowProblem
from specdb.catalogue.relations import ROW
from specdb.catalogue.tables import first_row
from specdb.errors import ConflictError, UsageError
from specdb.schema import load_schema

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True, slots=True)
class SupplyState:
    """What the suppliers say about an item.

    Attributes
    ----------
    ordered : int
        Pieces on order, over all suppliers.
    expected_on : date or None
        The earliest day that any are expected.
    backordered : bool or None
        True if every supplier who was asked has none, False if one has some, None if nobody was asked. Of one
        supplier the latest answer counts.
    """

    ordered: int
    expected_on: dt.date | None
    backordered: bool | None


def _check_kind(kind: str) -> None:
    words = load_schema().table("stock_move").field("kind").enum
    if kind not in words:
        raise UsageError(f"stock is kept of {', '.join(words)}, not of '{kind}'")


def on_hand(con: duckdb.DuckDBPyConnection, kind: str, item_id: str | None) -> dict[str, int]:
    """Pieces on hand, by item.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of part.
    item_id : str or None
        Only this one.

    Raises
    ------
    UsageError
        If no stock is kept of that kind.
    """
    _check_kind(kind)
    rows = con.execute(
        "SELECT item_id, sum(quantity)::BIGINT FROM stock_move WHERE kind = ? AND (? IS NULL OR item_id = ?) "
        "GROUP BY item_id ORDER BY item_id",
        [kind, item_id, item_id],
    ).fetchall()
    return {str(item): int(total) for item, total in rows}


def supply(con: duckdb.DuckDBPyConnection, kind: str, item_id: str | None) -> dict[str, SupplyState]:
    """What is on order, by item.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of part.
    item_id : str or None
        Only this one.

    Raises
    ------
    UsageError
        If no stock is kept of that kind.
    """
    _check_kind(kind)
    rows = con.execute(
        """
        WITH mine AS (
            SELECT * FROM supply WHERE kind = ? AND (? IS NULL OR item_id = ?)
        ), answers AS (
            SELECT item_id, supplier,
                arg_max(backordered, (coalesce(asked_on, DATE '0001-01-01'), id)) AS backordered
            FROM mine WHERE backordered IS NOT NULL GROUP BY item_id, supplier
        ), said AS (
            SELECT item_id, bool_and(backordered) AS backordered FROM answers GROUP BY item_id
        )
        SELECT m.item_id, coalesce(sum(m.ordered), 0)::BIGINT, min(m.expected_on), any_value(s.backordered)
        FROM mine m LEFT JOIN said s USING (item_id) GROUP BY m.item_id ORDER BY m.item_id
        """,
        [kind, item_id, item_id],
    ).fetchall()
    return {str(r[0]): SupplyState(int(r[1]), r[2], r[3]) for r in rows}


def overdrawn(con: duckdb.DuckDBPyConnection, relation: str) -> list[RowProblem]:
    """Moves, not yet in the ledger, that would take out more than there is.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    relation : str
        Name of a table or view with the moves to come and their number as ``__row``.
    """
    rows = con.execute(
        f"""
        WITH coming AS (
            SELECT kind, item_id, sum(quantity) AS total,
                max(CASE WHEN quantity < 0 AND reason <> 'counted' THEN {ROW} END) AS taken_by
            FROM {relation} GROUP BY kind, item_id
        ), there AS (
            SELECT kind, item_id, sum(quantity) AS total FROM stock_move
            SEMI JOIN coming USING (kind, item_id) GROUP BY kind, item_id
        )
        SELECT c.taken_by, c.kind, c.item_id, coalesce(t.total, 0), c.total
        FROM coming c LEFT JOIN there t USING (kind, item_id)
        WHERE c.taken_by IS NOT NULL AND c.total < 0 AND coalesce(t.total, 0) + c.total < 0 ORDER BY 1
        """
    ).fetchall()
    return [
        RowProblem(
            row,
            "quantity",
            int(change),
            f"not more than the {there} on hand",
            f"{-int(change)} {kind} '{item}' would leave the shelf, but there are {there}; "
            "if a count says so, enter it as 'counted'",
        )
        for row, kind, item, there, change in rows
    ]


def refuse_if_negative(con: duckdb.DuckDBPyConnection, relation: str) -> None:
    """Raise if moves that were taken back leave an item below zero.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue, the moves taken back already.
    relation : str
        Name of a table or view with the kind and item_id concerned.

    Raises
    ------
    ConflictError
        Naming the first such item.
    """
    row = first_row(
        con,
        f"SELECT kind, item_id, sum(quantity) AS total FROM stock_move SEMI JOIN {relation} USING (kind, item_id) "
        "GROUP BY kind, item_id HAVING total < 0 ORDER BY ALL LIMIT 1",
    )
    if row is not None:
        raise ConflictError(
            f"that would leave {row[2]} of {row[0]} '{row[1]}' on hand: some were used since; correct with a count"
        )
