"""Taking a change back, as a change of its own, from the images in the journal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue import stock
from specdb.catalogue.journal import UNDO, Stamp, journal_sql, undone_by
from specdb.catalogue.relations import ROW, dangling, referrers
from specdb.catalogue.tables import (
    JOURNAL,
    column_list,
    create_table_sql,
    first_row,
    image_sql,
    image_struct,
    key_sql,
    literal,
    quoted,
)
from specdb.errors import ConflictError, NotFoundError
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import duckdb

_WAS = "undo_was"
_BACK = "undo_back"
_GONE = "undo_gone"
_MANY = 20_000


@dataclass(frozen=True, slots=True)
class UndoSummary:
    """What an undo did: the change it took back, its own number, and rows by what happened to them."""

    undone: int
    change_no: int
    added: int
    changed: int
    removed: int


def latest_to_undo(con: duckdb.DuckDBPyConnection) -> int:
    """The latest change that is no undo and has not been taken back.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    standing = undone_by(con)
    rows = con.execute(
        f"SELECT DISTINCT change_no FROM {quoted(JOURNAL)} WHERE undoes IS NULL ORDER BY 1 DESC"
    ).fetchall()
    for (change_no,) in rows:
        if change_no not in standing:
            return int(change_no)
    raise NotFoundError("change", "to undo")


def take_back(con: duckdb.DuckDBPyConnection, change_no: int, stamp: Stamp) -> UndoSummary:
    """Put every row that a change touched back to what it was before.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue, within a transaction that is given up if this raises.
    change_no : int
        The change to take back.
    stamp : Stamp
        Number and reason of the undo itself.

    Raises
    ------
    NotFoundError
        If there is no such change.
    ConflictError
        If a row was changed since, is referred to, or refers to what is no longer there.
    """
    names = con.execute(f"SELECT DISTINCT kind FROM {quoted(JOURNAL)} WHERE change_no = ?", [change_no]).fetchall()
    touched = {name for (name,) in names}
    if not touched:
        raise NotFoundError("change", str(change_no))
    tables = [t for t in load_schema().tables.values() if t.name in touched]
    done = {"added": 0, "changed": 0, "removed": 0}
    row_no = 1
    for table in tables:
        _collect(con, table, change_no)
        _refuse_if_changed_since(con, table, change_no)
        row_no = _put_back(con, table, stamp, row_no, done)
    for table in tables:
        _check_relations(con, table)
        for name in (_WAS, _BACK, _GONE):
            con.execute(f"DROP TABLE {_named(name, table)}")
    return UndoSummary(change_no, stamp.change_no, done["added"], done["changed"], done["removed"])


def _named(name: str, table: Table) -> str:
    return f"{name}_{table.name}"


def _collect(con: duckdb.DuckDBPyConnection, table: Table, change_no: int) -> None:
    """Rows as the change left them (``is`` is null where removed) and as they were before (``was``)."""
    struct = literal(image_struct(table))
    con.execute(
        f"CREATE TEMP TABLE {_named(_WAS, table)} AS SELECT item_key, "
        f'from_json(arg_min("before", row_no) FILTER (row_no = first_no), {struct}) AS was, '
        f"from_json(arg_max(after, row_no) FILTER (row_no = last_no), {struct}) AS became FROM ("
        f"SELECT *, min(row_no) OVER (PARTITION BY item_key) AS first_no, "
        f"max(row_no) OVER (PARTITION BY item_key) AS last_no "
        f"FROM {quoted(JOURNAL)} WHERE change_no = ? AND kind = {literal(table.name)}) GROUP BY item_key",
        [change_no],
    )


def _current(table: Table, alias: str) -> str:
    packed = ", ".join(f"{quoted(n)} := {alias}.{quoted(n)}" for n in table.field_names)
    return f"struct_pack({packed})"


def _refuse_if_changed_since(con: duckdb.DuckDBPyConnection, table: Table, change_no: int) -> None:
    there = f"t.{quoted(table.primary_key[0])} IS NOT NULL"
    current = f"CASE WHEN {there} THEN {_current(table, 't')} END"
    row = first_row(
        con,
        f"SELECT w.item_key FROM {_named(_WAS, table)} w LEFT JOIN {quoted(table.name)} t "
        f"ON {key_sql(table, 't')} = w.item_key WHERE {current} IS DISTINCT FROM w.became ORDER BY 1 LIMIT 1",
    )
    if row is None:
        return
    later = first_row(
        con,
        f'SELECT change_no, "by", done FROM {quoted(JOURNAL)} WHERE kind = ? AND item_key = ? AND change_no > ? '
        "ORDER BY change_no DESC LIMIT 1",
        [table.name, row[0], change_no],
    )
    if later is None:
        raise ConflictError(
            f"change {change_no} cannot be undone: {table.name} '{row[0]}' is not as the journal says; "
            "run 'specdb check'"
        )
    who = f" by {later[1]}" if later[1] else ""
    raise ConflictError(
        f"change {change_no} cannot be undone: {table.name} '{row[0]}' was changed since, "
        f"in change {later[0]} ({later[2]}{who}); undo that one first"
    )


def _fields(table: Table, image: str) -> str:
    return ", ".join(f"{image}.{quoted(n)} AS {quoted(n)}" for n in table.field_names)


def _put_back(con: duckdb.DuckDBPyConnection, table: Table, stamp: Stamp, row_no: int, done: dict[str, int]) -> int:
    was, back, gone = (_named(n, table) for n in (_WAS, _BACK, _GONE))
    number = f"row_number() OVER (ORDER BY item_key) - 1 AS {ROW}"
    con.execute(
        f"CREATE TEMP TABLE {back} AS SELECT {number}, became IS NULL AS is_new, {_fields(table, 'was')} FROM {was} "
        "WHERE was IS NOT NULL AND was IS DISTINCT FROM became"
    )
    con.execute(
        f"CREATE TEMP TABLE {gone} AS SELECT {number}, {_fields(table, 'became')} FROM {was} "
        "WHERE was IS NULL AND became IS NOT NULL"
    )
    same_key = " AND ".join(f"n.{quoted(k)} = t.{quoted(k)}" for k in table.primary_key)
    joined = f"JOIN {quoted(table.name)} t ON {same_key}"
    before, after = image_sql(table, "t"), image_sql(table, "n")
    for action, source, old, new in (
        ("removed", f"{gone} n {joined}", before, "NULL"),
        ("changed", f"{back} n {joined} WHERE NOT n.is_new", before, after),
        ("added", f"{back} n WHERE n.is_new", "NULL", after),
    ):
        row = first_row(con, f"SELECT count(*), max(n.{ROW}) FROM {source}")
        if not row or not row[0]:
            continue
        done[action] += int(row[0])
        select = (
            f"SELECT n.{ROW} + {row_no}, {literal(table.name)}, {key_sql(table, 'n')}, '{action}', {old}, {new} "
            f"FROM {source}"
        )
        con.execute(journal_sql(select), stamp.parameters)
        row_no += int(row[1]) + 1
    going = first_row(con, f"SELECT count(*) FROM {gone}")
    if going and going[0] > _MANY:
        _rebuild_without(con, table, gone)
    else:
        con.execute(f"DELETE FROM {quoted(table.name)} t USING {gone} n WHERE {same_key}")
    fields = [n for n in table.field_names if n not in table.primary_key]
    changes = ", ".join(f"{quoted(f)} = n.{quoted(f)}" for f in fields)
    con.execute(f"UPDATE {quoted(table.name)} t SET {changes} FROM {back} n WHERE {same_key} AND NOT n.is_new")
    names = column_list(table.field_names)
    con.execute(f"INSERT INTO {quoted(table.name)} ({names}) SELECT {names} FROM {back} WHERE is_new ORDER BY {ROW}")
    return row_no


def _rebuild_without(con: duckdb.DuckDBPyConnection, table: Table, gone: str) -> None:
    """Take very many rows away; deleting 1.6 million from a table with a key takes 20 s when it is committed."""
    fresh, names = f"fresh_{table.name}", column_list(table.field_names)
    keys = column_list(table.primary_key)
    con.execute(create_table_sql(table, fresh))
    con.execute(
        f"INSERT INTO {quoted(fresh)} ({names}) SELECT {names} FROM {quoted(table.name)} "
        f"ANTI JOIN (SELECT {keys} FROM {gone}) g USING ({keys}) ORDER BY rowid"
    )
    con.execute(f"DROP TABLE {quoted(table.name)}")
    con.execute(f"ALTER TABLE {quoted(fresh)} RENAME TO {quoted(table.name)}")


def _check_relations(con: duckdb.DuckDBPyConnection, table: Table) -> None:
    back, gone = _named(_BACK, table), _named(_GONE, table)
    for key, kind, other in referrers(con, table.name, gone, limit=1):
        raise ConflictError(
            f"{table.name} '{key}' cannot be taken away: {kind} '{other}' refers to it; undo or remove that first"
        )
    for problem in dangling(con, table.name, back, set(table.field_names)):
        raise ConflictError(f"a {table.name} cannot be put back: {problem.message}")
    if table.name == "stock_move":
        stock.refuse_if_negative(con, gone)
        stock.refuse_if_negative(con, back)


__all__ = ["UNDO", "UndoSummary", "latest_to_undo", "take_back"]
