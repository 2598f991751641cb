"""The journal: what was changed, when, by whom, why, and the rows before and after."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue.tables import JOURNAL, column_list, first_row, quoted
from specdb.errors import FieldError
from specdb.schema import load_schema

if TYPE_CHECKING:
    import duckdb

UNDO = "undo"


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One row that a change touched; fields that were unknown are left out of ``before`` and ``after``."""

    change_no: int
    row_no: int
    at: dt.datetime
    by: str | None
    why: str | None
    done: str | None
    kind: str
    key: str
    action: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None
    undoes: int | None

    def differences(self) -> dict[str, tuple[Any, Any]]:
        """Fields that differ, with the value before and after."""
        old, new = self.before or {}, self.after or {}
        names = [*new, *(n for n in old if n not in new)]
        return {n: (old.get(n), new.get(n)) for n in names if old.get(n) != new.get(n)}


@dataclass(frozen=True, slots=True)
class ChangeSummary:
    """One change as a whole: ``rows`` are counted by kind, ``undone_by`` is the change that took it back."""

    change_no: int
    at: dt.datetime
    by: str | None
    why: str | None
    done: str | None
    undoes: int | None
    rows: Mapping[str, int]
    undone_by: int | None


@dataclass(frozen=True, slots=True)
class Stamp:
    """What all journal rows of one change share."""

    change_no: int
    at: dt.datetime
    by: str | None
    why: str | None
    done: str | None
    undoes: int | None = None

    @property
    def parameters(self) -> list[object]:
        """Values for the placeholders of :func:`journal_sql`."""
        return [self.change_no, self.at, self.by, self.why, self.done, self.undoes]


def shortened(done: str) -> str:
    """What was done, as far as the journal holds it: it may name keys that are longer than its place.

    Parameters
    ----------
    done : str
        In a few words.
    """
    most = load_schema().table(JOURNAL).field("done").max_length
    return done if most is None or len(done) <= most else f"{done[: most - 1]}…"


def check_stamp(by: str | None, why: str | None) -> None:
    """Refuse who and why that the journal cannot hold.

    Raises
    ------
    FieldError
        If a text is too long.
    """
    table = load_schema().table(JOURNAL)
    for name, text in (("by", by), ("why", why)):
        field = table.field(name)
        if text and field.max_length and len(text) > field.max_length:
            raise FieldError(
                f"'{name}' has {len(text)} characters; allowed is {field.allowed()}",
                kind=JOURNAL,
                field=name,
                value=text,
                allowed=field.allowed(),
            )


def journal_sql(select: str) -> str:
    """SQL that journals the rows of a query.

    Parameters
    ----------
    select : str
        Query with the columns row_no, kind, item_key, action, before, after. The parameters of
        :class:`Stamp` come before those of the query.
    """
    names = ("change_no", "at", "by", "why", "done", "undoes", "row_no", "kind", "item_key", "action")
    columns = column_list((*names, "before", "after"))
    return f"INSERT INTO {quoted(JOURNAL)} ({columns}) SELECT ?, ?, ?, ?, ?, ?, q.* FROM ({select}) q"


def last_change(con: duckdb.DuckDBPyConnection) -> int:
    """Number of the latest change; 0 in a new catalogue."""
    row = first_row(con, f"SELECT max(change_no) FROM {quoted(JOURNAL)}")
    return int(row[0]) if row and row[0] is not None else 0


def history(
    con: duckdb.DuckDBPyConnection,
    kind: str | None,
    key: str | None,
    change_no: int | None,
    limit: int | None,
) -> list[ChangeRow]:
    """Journal rows, latest first.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind, key : str or None
        Only rows of this kind, and of this key.
    change_no : int or None
        Only rows of this change.
    limit : int or None
        How many at most.
    """
    wanted = {"kind": kind, "item_key": key, "change_no": change_no}
    given = {name: value for name, value in wanted.items() if value is not None}
    where = " AND ".join(f"{quoted(n)} = ?" for n in given) or "TRUE"
    names = ("change_no", "row_no", "at", "by", "why", "done", "kind", "item_key", "action")
    rows = con.execute(
        f"SELECT {column_list((*names, 'before', 'after', 'undoes'))} FROM {quoted(JOURNAL)} WHERE {where} "
        f"ORDER BY change_no DESC, row_no DESC" + (f" LIMIT {int(limit)}" if limit is not None else ""),
        list(given.values()),
    ).fetchall()
    return [_change_row(*r) for r in rows]


def _change_row(*row: Any) -> ChangeRow:  # noqa: ANN401 - a row of DuckDB
    *head, before, after, undoes = row
    names = ("change_no", "row_no", "at", "by", "why", "done", "kind", "key", "action")
    facts: dict[str, Any] = dict(zip(names, head, strict=True))
    return ChangeRow(**facts, before=_image(before), after=_image(after), undoes=undoes)


def _image(text: str | None) -> Mapping[str, Any] | None:
    return None if text is None else json.loads(text)


def changes(con: duckdb.DuckDBPyConnection, limit: int | None) -> list[ChangeSummary]:
    """Changes as a whole, latest first.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    limit : int or None
        How many at most.
    """
    rows = con.execute(
        f"""
        WITH wanted AS (
            SELECT DISTINCT change_no FROM {quoted(JOURNAL)} ORDER BY 1 DESC
            {f"LIMIT {int(limit)}" if limit is not None else ""}
        ), counted AS (
            SELECT change_no, kind, count(DISTINCT item_key) AS n, min("at") AS "at", min("by") AS "by",
                min(why) AS why, min(done) AS done, min(undoes) AS undoes
            FROM {quoted(JOURNAL)} WHERE change_no IN (SELECT change_no FROM wanted) GROUP BY ALL
        )
        SELECT change_no, min("at"), min("by"), min(why), min(done), min(undoes), list(kind ORDER BY kind),
            list(n ORDER BY kind)
        FROM counted GROUP BY change_no ORDER BY change_no DESC
        """
    ).fetchall()
    undone = undone_by(con)
    return [
        ChangeSummary(no, at, by, why, done, undoes, dict(zip(kinds, counts, strict=True)), undone.get(no))
        for no, at, by, why, done, undoes, kinds, counts in rows
    ]


def standing_change(con: duckdb.DuckDBPyConnection, kind: str, key: str) -> int:
    """Number of the latest change of a row that was not taken back and takes none back; 0 where there is none.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind, key : str
        The row.
    """
    rows = con.execute(
        f"SELECT DISTINCT change_no FROM {quoted(JOURNAL)} WHERE kind = ? AND item_key = ? AND undoes IS NULL",
        [kind, key],
    ).fetchall()
    back = undone_by(con)
    return max((int(no) for (no,) in rows if no not in back), default=0)


def undone_by(con: duckdb.DuckDBPyConnection) -> dict[int, int]:
    """Which change took which back, where that stands (an undo that was itself undone does not count)."""
    rows = con.execute(
        f"SELECT DISTINCT change_no, undoes FROM {quoted(JOURNAL)} WHERE undoes IS NOT NULL ORDER BY 1 DESC"
    ).fetchall()
    standing: dict[int, int] = {}
    for change_no, undoes in rows:  # latest first: whether the undo itself stands is known by then
        if change_no not in standing:
            standing[undoes] = change_no
    return standing
