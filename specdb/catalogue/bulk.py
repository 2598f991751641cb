"""Adding and updating many rows at once, in SQL over an Arrow table.

Incoming rows are compared with those that exist; only what differs is written and journalled. A field that is
no column of the incoming table stays as it is; an empty cell of a column that is there clears the field.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Self

from specdb.catalogue import order_rules, promises, stock
from specdb.catalogue.alike import Alike, alike
from specdb.catalogue.faults import RowProblem
from specdb.catalogue.journal import Stamp, journal_sql
from specdb.catalogue.relations import ROW, beyond_the_shaft, dangling
from specdb.catalogue.tables import (
    arrow_schema,
    as_columns,
    column_list,
    image_sql,
    key_sql,
    literal,
    quoted,
    sql_type,
)
from specdb.catalogue.validate import validate_table
from specdb.errors import ExitCode, SpecdbError, UsageError
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import duckdb
    import pyarrow as pa

Progress = Callable[[str, int, int], None]
MOST_NEW_LISTED = 1000
"""Of so many added rows the values are listed; more are counted only."""

_INCOMING = "incoming_rows"
_PLAN = "incoming_plan"
_ADDED = "incoming_added"
_MERGED = "incoming_merged"
_ALL = "incoming_result"


@dataclass(frozen=True, slots=True)
class RowChange:
    """One field of one row that an update changes."""

    key: str
    field: str
    before: object
    after: object


@dataclass(frozen=True, slots=True)
class Counts:
    """How many rows were added, changed, or found equal already.

    ``changes`` lists the changed fields, ``new`` the first of the added rows by their known values, ``alike`` those of
    the added rows that look like one that is there under another key.
    """

    added: int
    changed: int
    unchanged: int
    changes: list[RowChange] = field(default_factory=list)
    new: list[dict[str, Any]] = field(default_factory=list)
    alike: list[Alike] = field(default_factory=list)


class RowsRejectedError(SpecdbError, ValueError):
    """Some of the rows cannot be taken; none was.

    Attributes
    ----------
    problems : list of RowProblem
        Every reason, by row; conflicts with what is stored included.
    """

    exit_code = ExitCode.NO
    title = "Rows rejected"

    def __init__(self, kind: str, problems: list[RowProblem]) -> None:
        super().__init__(kind, problems)
        self.kind = kind
        self.problems = problems

    def __str__(self) -> str:
        first = self.problems[0]
        rest = len({p.row for p in self.problems}) - 1
        more = f", and {rest} more row{'s' if rest > 1 else ''}" if rest else ""
        return f"{self.kind}, row {first.row + 1}: {first.message}{more}; nothing was taken"


@dataclass(frozen=True, slots=True)
class Comparison:
    """What storing some rows would do.

    Attributes
    ----------
    counts : Counts
        Rows added, changed, unchanged.
    problems : list of RowProblem
        Rows that cannot be stored: values, missing references, doubled keys.
    conflicts : list of RowProblem
        Rows that contradict what is stored: entries of a ledger altered, more stock taken than there is.
    """

    counts: Counts
    problems: list[RowProblem]
    conflicts: list[RowProblem]


class Bulk:
    """One table of incoming rows against the catalogue; use it as a context, it leaves nothing behind.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of the rows.
    rows : pyarrow.Table
        The incoming rows; the key fields must be columns.
    progress : callable, optional
        Called with what is being done, rows done, rows in all.
    part_of_more : bool
        Whether rows of other kinds follow in the same change, so that what holds between them is looked at at its end.
    """

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        kind: str,
        rows: pa.Table,
        progress: Progress | None = None,
        *,
        part_of_more: bool = False,
    ) -> None:
        table = load_schema().table(kind)
        if table.internal:
            raise UsageError(f"the {table.title.lower()} is written by the catalogue itself")
        self._con = con
        self._table = table
        self._rows = as_columns(table, rows)
        missing = [n for n in table.primary_key if n not in rows.column_names]
        if missing:
            raise UsageError(f"rows of {kind} need {' and '.join(missing)}")
        self._progress = progress
        self._part_of_more = part_of_more

    def __enter__(self) -> Self:
        import pyarrow as pa

        numbered = self._rows.append_column(ROW, pa.array(range(self._rows.num_rows), pa.int64()))
        self._con.register(_INCOMING, numbered)
        return self

    def __exit__(self, *exc: object) -> None:
        import duckdb

        try:
            for view in (_ALL, _ADDED):
                self._con.execute(f"DROP VIEW IF EXISTS {view}")
            for name in (_MERGED, _PLAN):
                self._con.execute(f"DROP TABLE IF EXISTS {name}")
            self._con.unregister(_INCOMING)
        except duckdb.TransactionException:
            return  # the transaction has failed, and takes all of this with it

    def _tell(self, stage: str, done: int) -> None:
        if self._progress is not None:
            self._progress(stage, done, self._rows.num_rows)

    @property
    def _given(self) -> list[str]:
        """Fields that came, beside the key."""
        return [n for n in self._table.field_names if n in self._rows.column_names and not self._is_key(n)]

    def _is_key(self, name: str) -> bool:
        return name in self._table.primary_key

    def compare(self, *, list_changes: int = 0) -> Comparison:
        """Find out what storing the rows would do, and what stands against it.

        Parameters
        ----------
        list_changes : int
            How many changed fields to list at most.
        """
        self._tell("comparing", 0)
        problems = self._key_problems()
        if problems:
            return Comparison(Counts(0, 0, 0), problems, [])
        counts = self._plan()
        self._tell("checking values", 0)
        problems = self._value_problems(counts)
        self._tell("checking references", 0)
        columns = {*self._table.field_names}
        problems += dangling(self._con, self._table.name, _ALL, columns)
        problems += beyond_the_shaft(self._con, self._table.name, _ALL, columns)
        problems += order_rules.problems(self._con, self._table.name, _ALL)
        conflicts = self._ledger_conflicts(counts)
        if list_changes and counts.changed:
            counts.changes.extend(self._list_changes(list_changes))
        if list_changes and counts.added:
            counts.new.extend(self._list_new(min(list_changes, MOST_NEW_LISTED)))
            counts.alike.extend(alike(self._con, self._table, _ADDED, _INCOMING, ROW))
        return Comparison(counts, sorted(problems, key=lambda p: p.row), conflicts)

    def _key_problems(self) -> list[RowProblem]:
        key = key_sql(self._table)
        unknown = " OR ".join(f"{quoted(n)} IS NULL" for n in self._table.primary_key)
        name = self._table.primary_key[-1]
        allowed = self._table.field(name).allowed()
        empty = self._con.execute(f"SELECT {ROW} FROM {_INCOMING} WHERE {unknown} ORDER BY 1").fetchall()
        problems = [RowProblem(r, name, None, allowed, f"{name} is empty") for (r,) in empty]
        doubled = self._con.execute(
            f"SELECT {key} AS k, list({ROW} ORDER BY {ROW}) FROM {_INCOMING} WHERE NOT ({unknown}) "
            "GROUP BY k HAVING count(*) > 1"
        ).fetchall()
        for text, numbers in doubled:
            why = f"{name} '{text}' stands in row {numbers[0] + 1} already"
            problems += [RowProblem(n, name, text, "a key that no other row has", why) for n in numbers[1:]]
        return sorted(problems, key=lambda p: p.row)

    def _plan(self) -> Counts:
        """Sort the rows into added, changed and unchanged; keep changed rows as they will be."""
        con, table = self._con, self._table
        names = table.field_names
        same_key = " AND ".join(f"i.{quoted(n)} = t.{quoted(n)}" for n in table.primary_key)
        differs = " OR ".join(f"i.{quoted(n)} IS DISTINCT FROM t.{quoted(n)}" for n in self._given) or "FALSE"
        con.execute(
            f"CREATE TEMP TABLE {_PLAN} AS SELECT i.{ROW}, CASE WHEN t.{quoted(table.primary_key[0])} IS NULL "
            f"THEN 'added' WHEN {differs} THEN 'changed' ELSE 'unchanged' END AS fate "
            f"FROM {_INCOMING} i LEFT JOIN {quoted(table.name)} t ON {same_key}"
        )
        found = dict(con.execute(f"SELECT fate, count(*) FROM {_PLAN} GROUP BY fate").fetchall())
        counts = Counts(found.get("added", 0), found.get("changed", 0), found.get("unchanged", 0))
        new = ", ".join(
            f"i.{quoted(n)}" if n in self._rows.column_names else f"NULL::{sql_type(table.field(n))} AS {quoted(n)}"
            for n in names
        )
        only_added = counts.added == self._rows.num_rows
        chosen = "" if only_added else f"SEMI JOIN (SELECT {ROW} FROM {_PLAN} WHERE fate = 'added') p USING ({ROW})"
        con.execute(f"CREATE TEMP VIEW {_ADDED} AS SELECT i.{ROW}, {new} FROM {_INCOMING} i {chosen}")
        merged = ", ".join(f"{'i' if n in self._rows.column_names else 't'}.{quoted(n)}" for n in names)
        con.execute(
            f"CREATE TEMP TABLE {_MERGED} AS SELECT i.{ROW}, {merged} FROM {_INCOMING} i "
            f"SEMI JOIN (SELECT {ROW} FROM {_PLAN} WHERE fate = 'changed') p USING ({ROW}) "
            f"JOIN {quoted(table.name)} t ON {same_key}"
        )
        con.execute(f"CREATE TEMP VIEW {_ALL} AS SELECT * FROM {_ADDED} UNION ALL SELECT * FROM {_MERGED}")
        return counts

    def _value_problems(self, counts: Counts) -> list[RowProblem]:
        problems = []
        if counts.added == self._rows.num_rows:
            return validate_table(self._table.name, self._rows)[1]
        for relation, how_many in ((_ADDED, counts.added), (_MERGED, counts.changed)):
            if how_many:
                rows = self._con.sql(f"SELECT * FROM {relation} ORDER BY {ROW}").to_arrow_table()
                found = validate_table(self._table.name, rows.drop_columns([ROW]))[1]
                numbers = rows.column(ROW)
                problems += [RowProblem(numbers[p.row].as_py(), p.field, p.value, p.allowed, p.message) for p in found]
        return problems

    def _ledger_conflicts(self, counts: Counts) -> list[RowProblem]:
        conflicts: list[RowProblem] = []
        if self._table.append_only and counts.changed:
            key = key_sql(self._table, "m")
            rows = self._con.execute(f"SELECT m.{ROW}, {key} FROM {_MERGED} m ORDER BY 1").fetchall()
            why = "is in the ledger already with other contents; entries are never altered, add a correcting one"
            conflicts += [
                RowProblem(r, self._table.primary_key[0], k, "a new key", f"entry '{k}' {why}") for r, k in rows
            ]
        if self._table.name == "stock_move" and counts.added:
            conflicts += stock.overdrawn(self._con, _ADDED)
        if not self._part_of_more:
            conflicts += promises.conflicts(self._con, self._table.name, _ALL, _MERGED)
            conflicts += order_rules.conflicts(self._con, self._table.name, _ALL, _MERGED)
        return sorted(conflicts, key=lambda p: p.row)

    def _list_new(self, limit: int) -> list[dict[str, Any]]:
        names = self._table.field_names
        rows = self._con.execute(
            f"SELECT {column_list(names)} FROM {_ADDED} ORDER BY {ROW} LIMIT {int(limit)}"
        ).fetchall()
        return [{n: v for n, v in zip(names, row, strict=True) if v is not None} for row in rows]

    def _list_changes(self, limit: int) -> Iterator[RowChange]:
        table = self._table
        same_key = " AND ".join(f"m.{quoted(n)} = t.{quoted(n)}" for n in table.primary_key)
        given = self._given
        old_and_new = ", ".join(f"t.{quoted(n)}, m.{quoted(n)}" for n in given)
        rows: list[tuple[Any, ...]] = self._con.execute(
            f"SELECT {key_sql(table, 'm')}, {old_and_new} FROM {_MERGED} m JOIN {quoted(table.name)} t "
            f"ON {same_key} ORDER BY m.{ROW} LIMIT {int(limit)}"
        ).fetchall()
        for key, *values in rows:
            for number, name in enumerate(given):
                before, after = values[2 * number], values[2 * number + 1]
                if before != after:
                    yield RowChange(key, name, before, after)

    def store(self, counts: Counts, stamp: Stamp, row_no: int) -> int:
        """Write what :meth:`compare` found to differ, with the journal; the next free row number.

        Parameters
        ----------
        counts : Counts
            As compared.
        stamp : Stamp
            Change number, who, why.
        row_no : int
            First row number to use in the journal.
        """
        con, table = self._con, self._table
        if counts.added:
            self._tell("adding", 0)
            names = column_list(table.field_names)
            order = "" if counts.added == self._rows.num_rows else f"ORDER BY {ROW}"  # keep the order of the file
            con.execute(f"INSERT INTO {quoted(table.name)} ({names}) SELECT {names} FROM {_ADDED} {order}")
            self._tell("writing the journal", 0)
            self._journal(stamp, row_no, "added", f"FROM {_ADDED} n", "NULL", image_sql(table, "n"))
            row_no += self._rows.num_rows
        if counts.changed:
            self._tell("changing", counts.added)
            same_key = " AND ".join(f"n.{quoted(n)} = t.{quoted(n)}" for n in table.primary_key)
            both = f"FROM {_MERGED} n JOIN {quoted(table.name)} t ON {same_key}"
            self._journal(stamp, row_no, "changed", both, image_sql(table, "t"), image_sql(table, "n"))
            row_no += self._rows.num_rows
            changes = ", ".join(f"{quoted(n)} = n.{quoted(n)}" for n in self._given)
            con.execute(f"UPDATE {quoted(table.name)} t SET {changes} FROM {_MERGED} n WHERE {same_key}")
        self._tell("done", self._rows.num_rows)
        return row_no

    def _journal(self, stamp: Stamp, row_no: int, action: str, source: str, before: str, after: str) -> None:
        kind = literal(self._table.name)
        select = (
            f"SELECT n.{ROW} + {row_no}, {kind}, {key_sql(self._table, 'n')}, '{action}', {before}, {after} {source}"
        )
        self._con.execute(journal_sql(select), stamp.parameters)


def one_row(table: Table, values: dict[str, Any]) -> pa.Table:
    """Arrow table of a single row."""
    import pyarrow as pa

    schema = arrow_schema(table, list(values))
    return pa.Table.from_pylist([values], schema=schema)
