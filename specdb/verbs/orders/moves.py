"""Moves of parts for clubs of orders, within a change: kept on the shelf, and taken off it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from specdb.catalogue import Reader, Writer
from specdb.orders.needs import HELD, USED, Need, UnitKey
from specdb.records.rows import Reservation
from specdb.verbs.catalogue.values import today
from specdb.verbs.orders.working import begin_work

__all__ = ["book_use", "hold", "leave"]


def hold(writer: Writer, wishes: Iterable[tuple[UnitKey, Need]], *, by: str | None = None) -> int:
    """Keep parts on the shelf for clubs of orders, within a change; all of them or the change is given up.

    Parameters
    ----------
    writer : Writer
        The change.
    wishes : iterable of (UnitKey, Need)
        Which parts for which clubs.
    by : str or None
        Who, for the record.

    Returns
    -------
    int
        Pieces.

    Raises
    ------
    RowsRejectedError
        If there are not so many free, or an order does not ask for the club.
    """
    import pyarrow as pa

    from specdb.catalogue.keys import derive_key

    day, rows, taken = today(), [], set()
    for unit, need in wishes:
        row: dict[str, Any] = {
            "order_id": unit.order_id,
            "line": unit.line,
            "unit": unit.unit,
            "club_id": unit.club_id,
            "kind": need.kind,
            "item_id": need.item_id,
            "quantity": need.quantity,
            "state": HELD,
            "on": day,
            "by": by,
        }
        first = str(derive_key("reservation", row))
        key, number = first, 1
        while key in taken or writer.find("reservation", key) is not None:
            number += 1
            key = f"{first}-{number}"
        taken.add(key)
        rows.append({"id": key, **row})
    if rows:
        from specdb.catalogue.tables import arrow_schema
        from specdb.schema import load_schema

        schema = arrow_schema(load_schema().table("reservation"), list(rows[0]))
        writer.put_many("reservation", pa.Table.from_pylist(rows, schema=schema))
    return sum(int(row["quantity"]) for row in rows)


def book_use(writer: Writer, rows: Sequence[Reservation], *, by: str | None = None) -> tuple[str, ...]:
    """Book parts that are kept as built in, within a change; orders that are open are at the bench with it.

    Parameters
    ----------
    writer : Writer
        The change.
    rows : sequence of Reservation
        Of any orders.
    by : str or None
        Who, for the record.

    Returns
    -------
    tuple of str
        Which orders went to the bench, in plain sentences.
    """
    import pyarrow as pa

    if not rows:
        return ()
    day = today()
    ids = [r.id for r in rows]
    table = {"id": ids, "state": [USED] * len(ids), "on": [day] * len(ids)}
    writer.put_many("reservation", pa.table(table))
    leave(writer, rows, "used", by=by)
    return begin_work(writer, (r.order_id for r in rows))


def leave(writer: Writer, rows: Sequence[Reservation], reason: str, *, by: str | None = None) -> None:
    """Book parts off the shelf, one move a part, order and place.

    Parameters
    ----------
    writer : Writer
        The change.
    rows : sequence of Reservation
        The parts, kept for any orders until now.
    reason : str
        ``used`` or ``damaged``.
    by : str or None
        Who, for the record.
    """
    pieces: dict[tuple[str, str, str], int] = {}
    for r in rows:
        part = (r.kind, r.item_id, r.order_id)
        pieces[part] = pieces.get(part, 0) + r.quantity
    for (kind, item, order_id), count in pieces.items():
        for place, some in _places(writer, kind, item, count):
            move = {
                "kind": kind,
                "item_id": item,
                "location": place,
                "quantity": -some,
                "reason": reason,
                "on": today(),
                "by": by,
                "order_ref": order_id,
            }
            writer.put("stock_move", move, mode="add")


def _places(reader: Reader, kind: str, item: str, count: int) -> list[tuple[str | None, int]]:
    """Where so many pieces of a part are taken from: the fullest place first."""
    there: dict[str | None, int] = {}
    for move in reader.rows("stock_move", where=f"kind = '{kind}' and item_id = '{item}'"):
        there[move.location] = there.get(move.location, 0) + move.quantity
    taken: list[tuple[str | None, int]] = []
    for place in sorted(there, key=lambda p: (-there[p], p or "")):
        some = min(count, there[place])
        if some > 0:
            taken.append((place, some))
            count -= some
    if count:  # more than any place is said to hold
        taken.append((None, count))
    return taken
