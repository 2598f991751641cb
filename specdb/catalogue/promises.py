"""Parts kept for orders: never more than there are, whatever is done in whatever order.

A part is *held* by a reservation in that state. A change that would hold more than is on hand, or take away what is
held, is given up. Only a count, or damage, says what a person saw on the shelf: it is kept, and what it leaves short
(:class:`Beyond`) is handed to whoever made the change. The same rules hold for undoing, importing and restoring, as
they are looked at when a change ends.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue.faults import RowProblem
from specdb.catalogue.order_rules import NEEDING_PARTS
from specdb.catalogue.relations import ROW
from specdb.catalogue.tables import JOURNAL, first_row
from specdb.errors import ConflictError

if TYPE_CHECKING:
    import duckdb

BEARING = ("stock_move", "reservation")
HELD, USED = "held", "used"
SEEN = ("counted", "damaged")
"""Reasons that say what a person saw; they are never refused for what is held."""
_MOST_ORDERS = 6


@dataclass(frozen=True, slots=True)
class Beyond:
    """A part of which more is held for orders than there is, or of which there are fewer than none.

    Attributes
    ----------
    kind, item_id : str
        The part.
    on_hand, held : int
        Pieces there are, and pieces held for orders.
    orders : tuple of str
        The orders they are held for.
    short : tuple of str
        Those of them that come short: what is there goes to the one wanted first, then by number.
    """

    kind: str
    item_id: str
    on_hand: int
    held: int
    orders: tuple[str, ...]
    short: tuple[str, ...] = ()

    @property
    def missing(self) -> int:
        """How many pieces are held or gone that are not there."""
        return self.held - self.on_hand

    @property
    def message(self) -> str:
        """What is wrong, in a sentence."""
        return f"{self.kind} '{self.item_id}': {self.detail}"

    @property
    def detail(self) -> str:
        """The same without the part."""
        if not self.held:
            return f"{self.on_hand} on hand: more left the shelf than came; count them"
        hit = f"order{'s' if len(self.orders) > 1 else ''} {_listed(self.orders)}"
        it = "it" if self.missing == 1 else "them"
        short = f", so {_listed(self.short)} {'is' if len(self.short) == 1 else 'are'} short" if self.short else ""
        return (
            f"{self.on_hand} on hand, but {self.held} held for {hit}; {self.missing} cannot be had{short}: "
            f"receive {it}, or release {it} ('specdb order release')"
        )


def _listed(orders: Sequence[str]) -> str:
    more = len(orders) - _MOST_ORDERS
    return ", ".join(orders[:_MOST_ORDERS]) + (f" and {more} more" if more > 0 else "")


def held(con: duckdb.DuckDBPyConnection) -> dict[tuple[str, str], int]:
    """Pieces held for orders, by kind and key.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    """
    rows = con.execute(
        f"SELECT kind, item_id, sum(quantity)::BIGINT FROM reservation WHERE state = '{HELD}' GROUP BY ALL ORDER BY ALL"
    ).fetchall()
    return {(kind, item): int(pieces) for kind, item, pieces in rows}


def beyond(con: duckdb.DuckDBPyConnection) -> list[Beyond]:
    """Parts of which more is held than there is.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    """
    rows = con.execute(
        f"""
        WITH kept AS (SELECT kind, item_id, sum(quantity) AS held FROM reservation WHERE state = '{HELD}' GROUP BY ALL),
        there AS (SELECT kind, item_id, sum(quantity) AS total FROM stock_move
            SEMI JOIN kept USING (kind, item_id) GROUP BY ALL)
        SELECT k.kind, k.item_id, coalesce(t.total, 0)::BIGINT, k.held::BIGINT
        FROM kept k LEFT JOIN there t USING (kind, item_id) WHERE k.held > coalesce(t.total, 0) ORDER BY ALL
        """
    ).fetchall()
    return [_beyond(con, kind, item, there, kept) for kind, item, there, kept in rows]


def _beyond(con: duckdb.DuckDBPyConnection, kind: str, item: str, there: int, kept: int) -> Beyond:
    """One such part with its orders and those that come short; the turn is that of ``specdb.orders.keepings``."""
    needing = ", ".join(f"'{s}'" for s in NEEDING_PARTS)
    rows = con.execute(
        f"""
        WITH mine AS (SELECT order_id, sum(quantity) AS pieces FROM reservation
            WHERE kind = ? AND item_id = ? AND state = '{HELD}' GROUP BY ALL)
        SELECT m.order_id, sum(m.pieces) OVER (
            ORDER BY coalesce(o.state IN ({needing}), FALSE) DESC, o.wanted_on NULLS LAST, m.order_id
            ROWS UNBOUNDED PRECEDING)::BIGINT AS upto
        FROM mine m LEFT JOIN "order" o ON o.id = m.order_id ORDER BY m.order_id
        """,
        [kind, item],
    ).fetchall()
    orders = tuple(order for order, _ in rows)
    return Beyond(kind, item, there, kept, orders, tuple(order for order, upto in rows if upto > there))


def _orders(con: duckdb.DuckDBPyConnection, kind: str, item: str) -> tuple[str, ...]:
    rows = con.execute(
        f"SELECT DISTINCT order_id FROM reservation WHERE kind = ? AND item_id = ? AND state = '{HELD}' ORDER BY 1",
        [kind, item],
    ).fetchall()
    return tuple(order for (order,) in rows)


def settle(con: duckdb.DuckDBPyConnection, change_no: int, *, undo: bool) -> tuple[Beyond, ...]:
    """Look at the parts that a change touched, before it is kept.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue, the change journalled.
    change_no : int
        The change.
    undo : bool
        Whether it takes another one back; then a count is no excuse.

    Returns
    -------
    tuple of Beyond
        What a count or damage left short.

    Raises
    ------
    ConflictError
        If the change holds what is not there, takes what is held, or books a part as used for an order without taking
        it off the shelf.
    """
    kinds = ", ".join(f"'{k}'" for k in BEARING)
    if (
        first_row(con, f"SELECT 1 FROM {JOURNAL} WHERE change_no = {int(change_no)} AND kind IN ({kinds}) LIMIT 1")
        is None
    ):
        return ()
    _refuse_loose_use(con, change_no)
    noticed = []
    for kind, item, moved, seen, promised, there, kept in _effects(con, change_no):
        free = there - kept
        if free >= 0 or moved - promised >= 0:
            continue  # enough, or not made worse
        found = _beyond(con, kind, item, there, kept)
        excused = moved - promised - (0 if undo else seen) >= 0
        if kept and not excused:
            raise ConflictError(_refusal(found, more_held=promised > 0))
        noticed.append(found)
    return tuple(noticed)


def _refusal(found: Beyond, *, more_held: bool) -> str:
    orders = _listed(found.orders)
    if more_held:
        return (
            f"{found.held} {found.kind} '{found.item_id}' would be held for {orders}, but there are "
            f"{found.on_hand} on hand; no part is promised twice"
        )
    return (
        f"that would leave {found.on_hand} {found.kind} '{found.item_id}' on hand, but {found.held} are held for "
        f"{orders}; release them first ('specdb order release'), or correct with a count"
    )


def _effects(con: duckdb.DuckDBPyConnection, change_no: int) -> list[tuple[Any, ...]]:
    """By part: pieces moved, of them by counts and damage, pieces more held; pieces there and held now."""
    seen = ", ".join(f"'{r}'" for r in SEEN)

    def side(column: str, sign: str) -> str:
        image = f'"{column}"'
        number = f"{sign}CAST({image} ->> '$.quantity' AS BIGINT)"
        move, kept = "kind = 'stock_move'", f"kind = 'reservation' AND {image} ->> '$.state' = '{HELD}'"
        return (
            f"SELECT {image} ->> '$.kind' AS part, {image} ->> '$.item_id' AS item_id, "
            f"CASE WHEN {move} THEN {number} ELSE 0 END AS moved, "
            f"CASE WHEN {move} AND {image} ->> '$.reason' IN ({seen}) THEN {number} ELSE 0 END AS seen, "
            f"CASE WHEN {kept} THEN {number} ELSE 0 END AS promised "
            f"FROM mine WHERE {image} IS NOT NULL"
        )

    return con.execute(
        f"""
        WITH mine AS (SELECT * FROM {JOURNAL} WHERE change_no = ? AND kind IN ('stock_move', 'reservation')),
        effects AS ({side("after", "")} UNION ALL {side("before", "-")}),
        summed AS (SELECT part, item_id, sum(moved)::BIGINT AS moved, sum(seen)::BIGINT AS seen,
            sum(promised)::BIGINT AS promised FROM effects GROUP BY ALL),
        there AS (SELECT kind AS part, item_id, sum(quantity)::BIGINT AS total FROM stock_move
            SEMI JOIN summed ON part = kind AND summed.item_id = stock_move.item_id GROUP BY ALL),
        kept AS (SELECT kind AS part, item_id, sum(quantity)::BIGINT AS total FROM reservation
            WHERE state = '{HELD}' GROUP BY ALL)
        SELECT s.part, s.item_id, s.moved, s.seen, s.promised, coalesce(t.total, 0), coalesce(k.total, 0)
        FROM summed s LEFT JOIN there t USING (part, item_id) LEFT JOIN kept k USING (part, item_id) ORDER BY 1, 2
        """,
        [change_no],
    ).fetchall()


def _refuse_loose_use(con: duckdb.DuckDBPyConnection, change_no: int) -> None:
    """A part that was held is used only together with its move off the shelf."""
    row = first_row(
        con,
        f"""
        WITH mine AS (SELECT * FROM {JOURNAL} WHERE change_no = ?),
        used AS (
            SELECT after ->> '$.order_id' AS order_id, after ->> '$.kind' AS part, after ->> '$.item_id' AS item_id,
                sum(CAST(after ->> '$.quantity' AS BIGINT)) AS pieces
            FROM mine WHERE kind = 'reservation' AND "before" ->> '$.state' = '{HELD}'
                AND after ->> '$.state' = '{USED}' GROUP BY ALL
        ), moved AS (
            SELECT after ->> '$.order_ref' AS order_id, after ->> '$.kind' AS part, after ->> '$.item_id' AS item_id,
                -sum(CAST(after ->> '$.quantity' AS BIGINT)) AS pieces
            FROM mine WHERE kind = 'stock_move' AND "before" IS NULL AND after ->> '$.reason' = 'used' GROUP BY ALL
        )
        SELECT u.order_id, u.part, u.item_id FROM used u LEFT JOIN moved m USING (order_id, part, item_id)
        WHERE u.pieces > coalesce(m.pieces, 0) ORDER BY ALL LIMIT 1
        """,
        [change_no],
    )
    if row is not None:
        raise ConflictError(
            f"{row[1]} '{row[2]}' is held for order {row[0]}; it is booked as used together with its move off the "
            "shelf, by 'specdb order use'"
        )


def conflicts(con: duckdb.DuckDBPyConnection, kind: str, coming: str, changed: str) -> list[RowProblem]:
    """Rows, not yet stored, that would break a promise, so that each can be named.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of the rows.
    coming, changed : str
        Names of tables or views: all rows to be stored, and those of them that take the place of others, with their
        number as ``__row``.
    """
    if kind == "stock_move":
        return list(_takes_held(con, coming))
    return list(_holds_too_much(con, coming, changed)) if kind == "reservation" else []


def _takes_held(con: duckdb.DuckDBPyConnection, coming: str) -> Iterator[RowProblem]:
    seen = ", ".join(f"'{r}'" for r in SEEN)
    rows = con.execute(
        f"""
        WITH taken AS (
            SELECT kind, item_id, sum(quantity) AS total,
                max(CASE WHEN quantity < 0 AND reason NOT IN ({seen}) THEN {ROW} END) AS taken_by,
                sum(CASE WHEN reason IN ({seen}) THEN 0 ELSE quantity END) AS by_hand
            FROM {coming} GROUP BY ALL
        ), kept AS (
            SELECT kind, item_id, sum(quantity) AS held FROM reservation WHERE state = '{HELD}' GROUP BY ALL
        ), there AS (
            SELECT kind, item_id, sum(quantity) AS total FROM stock_move
            SEMI JOIN taken USING (kind, item_id) GROUP BY ALL
        )
        SELECT t.taken_by, t.kind, t.item_id, t.by_hand::BIGINT, coalesce(h.total, 0)::BIGINT, k.held::BIGINT
        FROM taken t JOIN kept k USING (kind, item_id) LEFT JOIN there h USING (kind, item_id)
        WHERE t.taken_by IS NOT NULL AND t.by_hand < 0 AND coalesce(h.total, 0) + t.total BETWEEN 0 AND k.held - 1
        ORDER BY 1
        """
    ).fetchall()
    for row, part, item, change, there, kept in rows:
        orders = _listed(_orders(con, part, item))
        yield RowProblem(
            row,
            "quantity",
            int(change),
            f"not more than the {max(there - kept, 0)} that are free",
            f"{-change} {part} '{item}' would leave the shelf, but of {there} on hand {kept} are held for {orders}; "
            "book them for their order ('specdb order use'), or release them first ('specdb order release')",
        )


def _holds_too_much(con: duckdb.DuckDBPyConnection, coming: str, changed: str) -> Iterator[RowProblem]:
    rows = con.execute(
        f"""
        WITH wanted AS (
            SELECT kind, item_id, sum(quantity) AS pieces, max({ROW}) AS last_row
            FROM {coming} WHERE state = '{HELD}' GROUP BY ALL
        ), kept AS (
            SELECT kind, item_id, sum(quantity) AS held FROM reservation
            WHERE state = '{HELD}' AND id NOT IN (SELECT id FROM {changed}) GROUP BY ALL
        ), there AS (
            SELECT kind, item_id, sum(quantity) AS total FROM stock_move
            SEMI JOIN wanted USING (kind, item_id) GROUP BY ALL
        ), before AS (
            SELECT r.kind, r.item_id, sum(r.quantity) AS held FROM reservation r
            WHERE r.state = '{HELD}' AND r.id IN (SELECT id FROM {changed}) GROUP BY ALL
        )
        SELECT w.last_row, w.kind, w.item_id, w.pieces::BIGINT,
            coalesce(t.total, 0)::BIGINT, coalesce(k.held, 0)::BIGINT
        FROM wanted w LEFT JOIN kept k USING (kind, item_id) LEFT JOIN there t USING (kind, item_id)
            LEFT JOIN before b USING (kind, item_id)
        WHERE w.pieces > coalesce(b.held, 0) AND w.pieces + coalesce(k.held, 0) > coalesce(t.total, 0) ORDER BY 1
        """
    ).fetchall()
    for row, part, item, pieces, there, kept in rows:
        others = f", of which {kept} are held for {_listed(_orders(con, part, item))}" if kept else ""
        yield RowProblem(
            row,
            "quantity",
            int(pieces),
            f"not more than the {max(there - kept, 0)} that are free",
            f"{pieces} {part} '{item}' would be held, but there are {there} on hand{others}; no part is promised twice",
        )


__all__ = ["BEARING", "HELD", "USED", "Beyond", "beyond", "conflicts", "held", "settle"]
