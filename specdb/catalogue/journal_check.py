"""The journal against the rows: what it says last of a row is what the row must be."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from specdb.catalogue.findings import Finding
from specdb.catalogue.tables import JOURNAL, image_struct, key_sql, literal, quoted
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import duckdb

_WORDS = {
    "missing": "the journal ends with a row that is not in the table",
    "unknown": "the row is in no change of the journal",
    "removed": "the row exists, but the journal says that it was removed",
    "differs": "the row is not as the journal says it was left",
}


def journal_findings(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Everything in which the journal contradicts itself or the rows.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    """
    yield from _numbers(con)
    known = {t.name for t in load_schema().tables.values() if not t.internal}
    for (kind,) in con.execute(f"SELECT DISTINCT kind FROM {quoted(JOURNAL)} ORDER BY 1").fetchall():
        if kind not in known:
            yield Finding("error", JOURNAL, kind, "kind", f"the journal speaks of '{kind}', which is no kind")
    for table in load_schema().tables.values():
        if not table.internal:
            yield from _last_images(con, table)


def _numbers(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    doubled = con.execute(
        f"SELECT change_no, row_no FROM {quoted(JOURNAL)} GROUP BY ALL HAVING count(*) > 1 ORDER BY ALL"
    ).fetchall()
    for change_no, row_no in doubled:
        yield Finding("error", JOURNAL, str(change_no), "row_no", f"row {row_no} of the change is there twice")
    gaps = con.execute(
        "SELECT change_no, previous FROM (SELECT change_no, lag(change_no, 1, 0) OVER (ORDER BY change_no) AS "
        f"previous FROM (SELECT DISTINCT change_no FROM {quoted(JOURNAL)})) WHERE change_no <> previous + 1 ORDER BY 1"
    ).fetchall()
    for change_no, before in gaps:
        yield Finding("error", JOURNAL, str(change_no), "change_no", f"it follows change {before}; some are missing")
    backwards = con.execute(
        f"SELECT DISTINCT change_no, undoes FROM {quoted(JOURNAL)} WHERE undoes >= change_no ORDER BY 1"
    ).fetchall()
    for change_no, undoes in backwards:
        yield Finding("error", JOURNAL, str(change_no), "undoes", f"it undoes change {undoes}, which comes later")


def _last_images(con: duckdb.DuckDBPyConnection, table: Table) -> Iterator[Finding]:
    """Compare every row with the last image of it in the journal."""
    kind, struct = literal(table.name), literal(image_struct(table))
    packed = ", ".join(f"{quoted(n)} := t.{quoted(n)}" for n in table.field_names)
    number = "change_no * 4294967296 + row_no"
    rows = con.execute(
        f"""
        WITH latest AS (
            SELECT item_key, max({number}) AS number FROM {quoted(JOURNAL)} WHERE kind = {kind} GROUP BY item_key
        ), images AS (
            SELECT c.item_key, from_json(c.after, {struct}) AS image FROM {quoted(JOURNAL)} c
            JOIN latest l ON l.item_key = c.item_key AND l.number = {number} WHERE c.kind = {kind}
        ), present AS (
            SELECT {key_sql(table, "t")} AS k, struct_pack({packed}) AS image FROM {quoted(table.name)} t
        ), judged AS (
            SELECT coalesce(k, item_key) AS k, CASE
                WHEN p.k IS NULL THEN CASE WHEN i.image IS NOT NULL THEN 'missing' END
                WHEN i.item_key IS NULL THEN 'unknown'
                WHEN i.image IS NULL THEN 'removed'
                WHEN p.image IS DISTINCT FROM i.image THEN 'differs' END AS fault
            FROM present p FULL JOIN images i ON p.k = i.item_key
        )
        SELECT k, fault FROM judged WHERE fault IS NOT NULL ORDER BY ALL
        """
    ).fetchall()
    for key, fault in rows:
        yield Finding("error", table.name, key, "", _WORDS[fault])
