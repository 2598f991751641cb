"""What holds between orders, their lines, the clubs of a set, and the parts kept for them.

The steps from one state of an order to the next stand here (:data:`STEPS`); an order that is done keeps no part back
on the shelf, and no line may lose a club that parts are kept for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from specdb.catalogue.faults import RowProblem
from specdb.catalogue.relations import ROW
from specdb.catalogue.tables import JOURNAL, first_row
from specdb.errors import ConflictError
from specdb.units.writing import listed

if TYPE_CHECKING:
    import duckdb

BEARING = ("order", "order_line", "reservation", "club")
NEEDING_PARTS = ("open", "at_bench")
STEPS: Mapping[str, tuple[str, ...]] = {
    "open": ("at_bench", "cancelled"),
    "at_bench": ("finished", "open", "cancelled"),
    "finished": ("collected", "at_bench"),
    "collected": ("at_bench",),
    "cancelled": ("open",),
}
"""States that may follow each state: back to the bench for work to be done again, open again when taken up again."""

_NEEDING = ", ".join(f"'{s}'" for s in NEEDING_PARTS)


def step_refused(order_id: str, old: str, new: str) -> str:
    """Why an order cannot go from one state to another; empty where it can.

    Parameters
    ----------
    order_id : str
        The order.
    old, new : str
        States.
    """
    if old == new or new in STEPS[old]:
        return ""
    words = [w.replace("_", " ") for w in STEPS[old]]
    return (
        f"order {order_id} is {old.replace('_', ' ')}, so it cannot become {new.replace('_', ' ')}; "
        f"from there it can become {listed(words, 'or')}"
    )


def problems(con: duckdb.DuckDBPyConnection, kind: str, relation: str) -> list[RowProblem]:
    """Lines that ask for nothing, or for a club and a set at once.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of the rows.
    relation : str
        Name of a table or view with the rows and their number as ``__row``.
    """
    if kind != "order_line":
        return []
    rows = con.execute(
        f"SELECT {ROW}, club_id, set_id FROM {relation} WHERE (club_id IS NULL) = (set_id IS NULL) ORDER BY 1"
    ).fetchall()
    allowed = "a club or a set, one of them"
    return [
        RowProblem(
            row,
            "club_id",
            club,
            allowed,
            "the line asks for neither a club nor a set"
            if club is None
            else f"the line asks for club {club} and set {group} at once; give one of them",
        )
        for row, club, group in rows
    ]


def conflicts(con: duckdb.DuckDBPyConnection, kind: str, coming: str, changed: str) -> list[RowProblem]:
    """Rows, not yet stored, that contradict what is stored about orders, so that each can be named.

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
    if kind == "order":
        return [*_wrong_steps(con, changed), *_done_but_held(con, changed)]
    if kind == "order_line":
        return list(_cut_off(con, changed))
    return list(_misplaced(con, coming)) if kind == "reservation" else []


def _wrong_steps(con: duckdb.DuckDBPyConnection, changed: str) -> Iterator[RowProblem]:
    rows = con.execute(
        f'SELECT n.{ROW}, n.id, t.state, n.state FROM {changed} n JOIN "order" t ON t.id = n.id '
        "WHERE n.state <> t.state ORDER BY 1"
    ).fetchall()
    for row, order_id, old, new in rows:
        why = step_refused(order_id, old, new)
        if why:
            yield RowProblem(row, "state", new, f"one of {', '.join((old, *STEPS[old]))}", why)


def _done_but_held(con: duckdb.DuckDBPyConnection, changed: str) -> Iterator[RowProblem]:
    rows = con.execute(
        f"SELECT n.{ROW}, n.id, n.state, sum(r.quantity)::BIGINT FROM {changed} n JOIN reservation r "
        f"ON r.order_id = n.id AND r.state = 'held' WHERE n.state NOT IN ({_NEEDING}) GROUP BY ALL ORDER BY 1"
    ).fetchall()
    for row, order_id, state, pieces in rows:
        yield RowProblem(
            row, "state", state, "a state in which parts may be held", _still_held(order_id, state, pieces)
        )


def _still_held(order_id: str, state: str, pieces: int) -> str:
    still = f"{pieces} part{' is' if pieces == 1 else 's are'} still held for order {order_id}"
    if state == "cancelled":
        return f"{still}; 'specdb order state {order_id} cancelled' releases them too"
    return f"{still}; before it is {state} book them as used ('specdb order use') or release them"


def _cut_off(con: duckdb.DuckDBPyConnection, changed: str) -> Iterator[RowProblem]:
    rows = con.execute(
        f"SELECT n.{ROW}, n.order_id, n.line, n.quantity, r.unit, r.club_id FROM {changed} n JOIN reservation r "
        "ON r.order_id = n.order_id AND r.line = n.line AND r.state = 'held' "
        "WHERE r.unit > n.quantity OR r.club_id <> n.club_id ORDER BY ALL"
    ).fetchall()
    told = set()
    for row, order_id, line, quantity, unit, club in rows:
        if row not in told:
            told.add(row)
            yield RowProblem(
                row, "quantity", quantity, "what covers the parts held", _unasked(order_id, line, unit, club)
            )


def _unasked(order_id: str, line: int, unit: int, club: str) -> str:
    return (
        f"parts are held for club {club} ({unit}) of order {order_id}, line {line}, which it would no longer ask for; "
        "release them first"
    )


def _misplaced(con: duckdb.DuckDBPyConnection, coming: str) -> Iterator[RowProblem]:
    rows = con.execute(
        f"SELECT n.{ROW}, n.order_id, n.line, n.unit, n.club_id, o.state, l.quantity, "
        "coalesce(l.club_id = n.club_id, l.set_id = c.set_id, FALSE) "
        f'FROM {coming} n JOIN "order" o ON o.id = n.order_id '
        "JOIN order_line l ON l.order_id = n.order_id AND l.line = n.line JOIN club c ON c.id = n.club_id "
        "WHERE n.state = 'held' ORDER BY 1"
    ).fetchall()
    for row, order_id, line, unit, club, state, quantity, asked in rows:
        if state not in NEEDING_PARTS:
            why = f"order {order_id} is {state}, so no part is kept for it"
            yield RowProblem(row, "order_id", order_id, f"an order that is {' or '.join(NEEDING_PARTS)}", why)
        elif not asked or unit > quantity:
            why = f"line {line} of order {order_id} does not ask for club {club} ({unit})"
            yield RowProblem(row, "club_id", club, "a club that the line asks for", why)


def settle(con: duckdb.DuckDBPyConnection, change_no: int) -> None:
    """Look at the orders that a change touched, before it is kept.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue, the change journalled.
    change_no : int
        The change.

    Raises
    ------
    ConflictError
        If an order that needs no parts any more has some held, if parts are held for what a line does not ask for or
        twice for one club, or if a set that an order asks for loses a club.
    """
    touched = con.execute(
        f"SELECT DISTINCT kind FROM {JOURNAL} WHERE change_no = ? AND kind IN {BEARING!r}", [change_no]
    ).fetchall()
    kinds = {kind for (kind,) in touched}
    if kinds & {"order", "order_line", "reservation"}:
        _refuse_held_for_nothing(con, change_no)
    if "reservation" in kinds:
        _refuse_two_for_one(con, change_no)
    if "club" in kinds:
        _refuse_broken_sets(con, change_no)


def _refuse_held_for_nothing(con: duckdb.DuckDBPyConnection, change_no: int) -> None:
    # orders that the change only released parts of may still have more to release
    touched = (
        "SELECT DISTINCT CASE kind WHEN 'order' THEN item_key ELSE after ->> '$.order_id' END "
        f"FROM {JOURNAL} WHERE change_no = ? AND kind IN ('order', 'order_line', 'reservation') AND after IS NOT NULL"
    )
    row = first_row(
        con,
        f'SELECT o.id, o.state, sum(r.quantity)::BIGINT FROM reservation r JOIN "order" o ON o.id = r.order_id '
        f"WHERE r.state = 'held' AND o.state NOT IN ({_NEEDING}) AND o.id IN ({touched}) "
        "GROUP BY ALL ORDER BY ALL LIMIT 1",
        [change_no],
    )
    if row is not None:
        raise ConflictError(_still_held(*row))
    row = first_row(
        con,
        "SELECT r.order_id, r.line, r.unit, r.club_id FROM reservation r JOIN order_line l "
        "ON l.order_id = r.order_id AND l.line = r.line WHERE r.state = 'held' "
        f"AND (r.unit > l.quantity OR r.club_id <> l.club_id) AND r.order_id IN ({touched}) ORDER BY ALL LIMIT 1",
        [change_no],
    )
    if row is not None:
        raise ConflictError(_unasked(*row))


def _refuse_two_for_one(con: duckdb.DuckDBPyConnection, change_no: int) -> None:
    # whatever a club needs, it needs one of a kind
    row = first_row(
        con,
        f"""
        WITH touched AS (
            SELECT DISTINCT after ->> '$.order_id' AS order_id, after ->> '$.club_id' AS club_id,
                after ->> '$.kind' AS kind
            FROM {JOURNAL} WHERE change_no = ? AND kind = 'reservation' AND after IS NOT NULL
        )
        SELECT order_id, line, unit, club_id, kind, string_agg(DISTINCT item_id, ' and ' ORDER BY item_id)
        FROM reservation SEMI JOIN touched USING (order_id, club_id, kind)
        GROUP BY order_id, line, unit, club_id, kind HAVING sum(quantity) > 1 ORDER BY ALL LIMIT 1
        """,
        [change_no],
    )
    if row is not None:
        raise ConflictError(
            f"club {row[3]} ({row[2]}) of order {row[0]}, line {row[1]}, would have more than one {row[4]} ({row[5]}); "
            "release what is kept for it first"
        )


def _refuse_broken_sets(con: duckdb.DuckDBPyConnection, change_no: int) -> None:
    # taken back, the change that brought the club in leaves the orders as they were before it, as long as nothing was
    # done since to their lines, kept for the club or measured on it
    row = first_row(
        con,
        f"""
        WITH lost AS (
            SELECT item_key, undoes, "before" ->> '$.set_id' AS set_id FROM {JOURNAL}
            WHERE change_no = ? AND kind = 'club' AND "before" ->> '$.set_id' IS NOT NULL
                AND "before" ->> '$.set_id' IS DISTINCT FROM (after ->> '$.set_id')
        )
        SELECT x.item_key, x.set_id, l.order_id FROM lost x JOIN order_line l ON l.set_id = x.set_id
        JOIN "order" o ON o.id = l.order_id LEFT JOIN club c ON c.id = x.item_key
        WHERE o.state IN ({_NEEDING}) AND c.set_id IS DISTINCT FROM x.set_id AND (
            x.undoes IS NULL
            OR EXISTS (SELECT 1 FROM {JOURNAL} j WHERE j.kind = 'order_line' AND j.change_no > x.undoes
                AND j.item_key = l.order_id || '/' || l.line)
            OR EXISTS (SELECT 1 FROM reservation r
                WHERE r.order_id = l.order_id AND r.line = l.line AND r.club_id = x.item_key)
            OR EXISTS (SELECT 1 FROM as_built b
                WHERE b.order_id = l.order_id AND b.line = l.line AND b.club_id = x.item_key)
        ) ORDER BY ALL LIMIT 1
        """,
        [change_no],
    )
    if row is not None:
        raise ConflictError(
            f"order {row[2]} asks for set {row[1]}, which would lose club {row[0]}; no order loses a club silently: "
            "change or cancel the order first"
        )


def held_for_nothing(con: duckdb.DuckDBPyConnection) -> list[tuple[str, str]]:
    """Parts held for orders that need none any more, or for clubs that their line does not ask for.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.

    Returns
    -------
    list of tuple
        Key of the reservation, and why, in a sentence.
    """
    rows = con.execute(
        f"""
        SELECT r.id, r.kind, r.item_id, r.order_id, o.state, o.state IN ({_NEEDING})
        FROM reservation r JOIN "order" o ON o.id = r.order_id
            LEFT JOIN order_line l ON l.order_id = r.order_id AND l.line = r.line LEFT JOIN club c ON c.id = r.club_id
        WHERE r.state = 'held' AND (o.state NOT IN ({_NEEDING}) OR coalesce(r.unit > l.quantity, TRUE)
            OR NOT coalesce(l.club_id = r.club_id, l.set_id = c.set_id, FALSE))
        ORDER BY 1
        """
    ).fetchall()
    return [
        (
            key,
            f"{kind} '{item}' is held for order {order_id}, "
            + ("which does not ask for that club" if needing else f"which is {state}")
            + "; release it ('specdb order release')",
        )
        for key, kind, item, order_id, state, needing in rows
    ]
