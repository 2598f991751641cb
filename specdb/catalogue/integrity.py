"""Whether a catalogue is sound: every value, every reference, every sum, and the journal against the rows."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from specdb.catalogue import order_rules, promises
from specdb.catalogue.backup import read_through
from specdb.catalogue.faults import RowProblem
from specdb.catalogue.findings import Finding
from specdb.catalogue.journal_check import journal_findings
from specdb.catalogue.relations import ROW, beyond_the_shaft, dangling, unmeasured_pieces
from specdb.catalogue.store import DEFAULT_WAIT, Catalogue
from specdb.catalogue.tables import META_TABLE, column_list, key_sql, quoted, sql_type
from specdb.catalogue.validate import validate_table
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import duckdb

_NUMBERED = "checked_rows"


def check_catalogue(path: Path, *, wait_seconds: float = DEFAULT_WAIT) -> list[Finding]:
    """Check a catalogue wholly; errors come before warnings.

    Parameters
    ----------
    path : Path
        The file.
    wait_seconds : float
        How long to wait for others, s.

    Raises
    ------
    CatalogueError
        If it cannot be opened or cannot be read to the end.
    """
    with Catalogue(path, wait_seconds=wait_seconds).open_file(write=False, what="check") as con:
        found = list(findings(con))
    return sorted(found, key=lambda f: f.severity == "warning")


def findings(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Everything that is wrong with an open catalogue.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    """
    shape = list(_shape(con))
    yield from shape
    if shape:
        return  # the other checks rest on the columns
    read_through(con)
    for table in load_schema().tables.values():
        if not table.internal:
            yield from _rows(con, table)
            yield from _look_alikes(con, table)
    yield from _sums(con)
    yield from _promises(con)
    yield from journal_findings(con)


def _shape(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    columns = con.execute(
        "SELECT table_name, column_name, data_type FROM duckdb_columns() "
        "WHERE NOT internal AND database_name = current_database() ORDER BY ALL"
    ).fetchall()
    there = {(t, c): kind for t, c, kind in columns if t != META_TABLE}
    wanted = {(t.name, f.name): sql_type(f) for t in load_schema().tables.values() for f in t.fields}
    for table, column in sorted(wanted.keys() - there.keys()):
        yield Finding("error", table, "", column, f"the column {column} is missing")
    for table, column in sorted(there.keys() - wanted.keys()):
        yield Finding("error", table, "", column, f"the column {column} is not part of this version")
    for place in sorted(there.keys() & wanted.keys()):
        if there[place] != wanted[place]:
            table, column = place
            why = f"the column {column} is {there[place]}, not {wanted[place]}"
            yield Finding("error", table, "", column, why)


def _rows(con: duckdb.DuckDBPyConnection, table: Table) -> Iterator[Finding]:
    """Values, sense and references of all rows of a kind."""
    names = column_list(table.field_names)
    con.execute(f"CREATE OR REPLACE TEMP VIEW {_NUMBERED} AS SELECT rowid AS {ROW}, {names} FROM {quoted(table.name)}")
    rows = con.sql(f"SELECT {ROW}, {names} FROM {_NUMBERED}").to_arrow_table()
    numbers = rows.column(ROW)
    values = validate_table(table.name, rows.drop_columns([ROW]))[1]
    del rows
    yield from _located(con, table, "error", [(numbers[p.row].as_py(), p) for p in values])
    columns = set(table.field_names)
    missing = dangling(con, table.name, _NUMBERED, columns)
    yield from _located(con, table, "error", [(p.row, p) for p in missing])
    beyond = beyond_the_shaft(con, table.name, _NUMBERED, columns)
    yield from _located(con, table, "warning", [(p.row, p) for p in beyond])
    odd = order_rules.problems(con, table.name, _NUMBERED)
    yield from _located(con, table, "error", [(p.row, p) for p in odd])
    unmeasured = unmeasured_pieces(con, table.name, _NUMBERED)
    yield from _located(con, table, "warning", [(p.row, p) for p in unmeasured])


def _located(
    con: duckdb.DuckDBPyConnection,
    table: Table,
    severity: Literal["error", "warning"],
    problems: list[tuple[int, RowProblem]],
) -> Iterator[Finding]:
    if not problems:
        return
    wanted = ", ".join(str(int(number)) for number in {number for number, _ in problems})
    rows = con.execute(f"SELECT {ROW}, {key_sql(table, 'r')} FROM {_NUMBERED} r WHERE {ROW} IN ({wanted})").fetchall()
    keys = dict(rows)
    for number, problem in problems:
        yield Finding(severity, table.name, str(keys[number]), problem.field, problem.message)


def _look_alikes(con: duckdb.DuckDBPyConnection, table: Table) -> Iterator[Finding]:
    """Rows that say the same under two keys; moves of stock may well be alike."""
    fields = table.derive_key_from
    if not fields or table.append_only:
        return
    if table.value_units:
        fields = (*fields, "value")
    alike = ", ".join(f"lower(trim({quoted(n)}))" if table.field(n).type == "string" else quoted(n) for n in fields)
    something = " AND ".join(f"{quoted(n)} IS NOT NULL" for n in fields[:2])  # or there is little to be alike in
    key = key_sql(table)
    rows = con.execute(
        f"SELECT list({key} ORDER BY {key})[1:4], count(*) FROM {quoted(table.name)} WHERE {something} "
        f"GROUP BY {alike} HAVING count(*) > 1 ORDER BY 1"
    ).fetchall()
    for keys, count in rows:
        others = ", ".join(f"'{k}'" for k in keys[1:]) + (f" and {count - 4} more" if count > 4 else "")
        why = f"has the same {', '.join(fields)} as {others}; is it one and the same?"
        yield Finding("warning", table.name, keys[0], "", why)


def _sums(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Stock below zero, as a whole or at one place."""
    rows = con.execute(
        "SELECT kind, item_id, sum(quantity)::BIGINT AS total FROM stock_move "
        "GROUP BY ALL HAVING total < 0 ORDER BY ALL"
    ).fetchall()
    for kind, item, total in rows:
        why = f"{total} on hand: more left the shelf than came; count and enter it as 'counted'"
        yield Finding("warning", kind, item, "", why)
    short = {(kind, item) for kind, item, _ in rows}
    places = con.execute(
        "SELECT kind, item_id, location, sum(quantity)::BIGINT AS total FROM stock_move WHERE location IS NOT NULL "
        "GROUP BY ALL HAVING total < 0 ORDER BY ALL"
    ).fetchall()
    for kind, item, place, total in places:
        if (kind, item) not in short:
            yield Finding("warning", kind, item, "", f"{total} at '{place}', though there are more elsewhere")


def _promises(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Parts held for orders that are not there, or for orders that need none any more."""
    for found in promises.beyond(con):
        yield Finding("warning", found.kind, found.item_id, "", found.detail)
    for key, why in order_rules.held_for_nothing(con):
        yield Finding("warning", "reservation", key, "", why)


__all__ = ["Finding", "check_catalogue", "findings"]
