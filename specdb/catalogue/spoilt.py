"""Parts of orders that were spoilt at the bench, as the journal has them."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue.journal import undone_by
from specdb.catalogue.tables import JOURNAL, quoted

if TYPE_CHECKING:
    import duckdb

_DONE = "spoilt for"


@dataclass(frozen=True, slots=True)
class SpoiltPart:
    """A part of a club of an order that was spoilt.

    Attributes
    ----------
    change_no : int
        The change that booked it.
    at : datetime
        When.
    order_id, line, unit, club_id : str, int, int, str
        The club.
    kind, item_id : str
        The part.
    why : str or None
        What happened.
    """

    change_no: int
    at: dt.datetime
    order_id: str
    line: int
    unit: int
    club_id: str
    kind: str
    item_id: str
    why: str | None


def spoilt_for(order_id: str) -> str:
    """What the journal calls a change that books parts of an order as spoilt.

    Parameters
    ----------
    order_id : str
        The order.
    """
    return f"{_DONE} {order_id}"


def spoilt_parts(con: duckdb.DuckDBPyConnection, order_id: str | None = None) -> list[SpoiltPart]:
    """Parts that were spoilt, the latest first; a change that was taken back does not count.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    order_id : str or None
        Only of this order.
    """
    rows = con.execute(
        f'SELECT change_no, "at", why, "before" FROM {quoted(JOURNAL)} '
        "WHERE kind = 'reservation' AND \"after\" IS NULL AND undoes IS NULL AND starts_with(done, ?) "
        "ORDER BY change_no DESC, row_no",
        [spoilt_for(order_id or "")],
    ).fetchall()
    if not rows:
        return []
    back = undone_by(con)
    found = []
    for change_no, at, why, before in rows:
        row = json.loads(before)
        if change_no in back or order_id not in (None, row["order_id"]):
            continue
        found.append(
            SpoiltPart(
                change_no, at, row["order_id"], row["line"], row["unit"], row["club_id"], row["kind"], row["item_id"],
                why,
            )
        )  # fmt: skip
    return found
