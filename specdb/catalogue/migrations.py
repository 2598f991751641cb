"""Bringing a catalogue of an older version up to date: a backup first, then everything in one transaction.

The steps lie in ``data_schema/migrations/`` as ``NNNN-what.sql``, each leading to version NNNN. DuckDB adds no
CHECK to a table and changes no column that has one, so every table is first copied to a plain one, the steps
change the plain ones, and the tables of this version are made anew from the schema and filled from them.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue.backup import copy_file, stamped
from specdb.catalogue.connect import explained, look_before, opened
from specdb.catalogue.gate import Deadline, passed
from specdb.catalogue.tables import META_TABLE, column_list, create_table_sql, quoted
from specdb.catalogue.version import VERSION, stored_version
from specdb.errors import CatalogueError, InstallationError
from specdb.paths import data_schema_folder
from specdb.schema import Schema, load_schema

if TYPE_CHECKING:
    import duckdb

_STEP = re.compile(r"(\d{4})-[a-z0-9-]+\.sql")
_PLAIN = "plain_"


def find_steps(folder: Path, version: int, wanted: int) -> list[Path]:
    """Step files that lead from one version to another, in order.

    Parameters
    ----------
    folder : Path
        Where the steps lie.
    version, wanted : int
        Version of the file, version to reach.

    Raises
    ------
    InstallationError
        If a step is missing or there are two.
    """
    numbered: dict[int, list[Path]] = {}
    for path in sorted(folder.glob("*.sql")):
        match = _STEP.fullmatch(path.name)
        if match:
            numbered.setdefault(int(match.group(1)), []).append(path)
    steps = []
    for number in range(version + 1, wanted + 1):
        found = numbered.get(number, [])
        if len(found) != 1:
            raise InstallationError(
                f"a catalogue of version {version} cannot be brought to version {wanted}: "
                f"there are {len(found)} steps to version {number}"
            )
        steps += found
    return steps


def bring_up_to_date(path: Path, *, wait_seconds: float, folder: Path | None = None) -> Path | None:
    """Back an older catalogue up, then rebuild its tables in the version of this package.

    Of several processes that find an older file at once, one does it and the others wait for it.

    Parameters
    ----------
    path : Path
        The catalogue.
    wait_seconds : float
        How long to wait for others, s.
    folder : Path, optional
        Where the steps lie; those that ship with the package where left out.

    Returns
    -------
    Path or None
        The backup; None if another process was faster.

    Raises
    ------
    CatalogueError
        If it cannot be done; the file is then as it was.
    """
    look_before(path)
    schema = load_schema()
    deadline = Deadline(wait_seconds)
    with passed(path, deadline, write=True, what="bringing the catalogue up to date"):
        with explained(path), opened(path, deadline, write=True) as con:
            version = stored_version(con, path)
        if version >= schema.version:
            return None
        steps = find_steps(folder or data_schema_folder() / "migrations", version, schema.version)
        kept = copy_file(path, stamped(path, f"version-{version}")).path
        with explained(path), opened(path, deadline, write=True) as con:
            _rebuild(con, schema, steps, f"{path} cannot be brought up to date; it is as it was: ")
    return kept


def _rebuild(con: duckdb.DuckDBPyConnection, schema: Schema, steps: list[Path], failing: str) -> None:
    import duckdb

    con.execute("BEGIN TRANSACTION")
    try:
        for name in _table_names(con):
            con.execute(f"CREATE TABLE {quoted(_PLAIN + name)} AS SELECT * FROM {quoted(name)}")
            con.execute(f"DROP TABLE {quoted(name)}")
            con.execute(f"ALTER TABLE {quoted(_PLAIN + name)} RENAME TO {quoted(name)}")
        for step in steps:
            done = con.execute(step.read_text(encoding="utf-8"))
            if done is not None:  # as it is where the step holds nothing but a comment
                done.fetchall()
        _fill(con, schema)
        con.execute(f"UPDATE {META_TABLE} SET value = ? WHERE name = ?", [str(schema.version), VERSION])
        con.execute("COMMIT")
    except (duckdb.ConstraintException, duckdb.ProgrammingError, duckdb.DataError) as error:
        con.execute("ROLLBACK")
        raise CatalogueError(failing + str(error).splitlines()[0]) from error
    except BaseException:
        con.execute("ROLLBACK")
        raise


def _table_names(con: duckdb.DuckDBPyConnection) -> list[str]:
    rows = con.execute("SELECT table_name FROM duckdb_tables() WHERE NOT temporary ORDER BY 1").fetchall()
    return [name for (name,) in rows if name != META_TABLE]


def _fill(con: duckdb.DuckDBPyConnection, schema: Schema) -> None:
    """Make the tables of this version and fill them from the plain ones."""
    plain = _table_names(con)
    unknown = [name for name in plain if name not in schema.tables]
    if unknown:
        raise InstallationError(f"no step says what becomes of the table {', '.join(unknown)}")
    for name, table in schema.tables.items():
        old = quoted(_PLAIN + name)
        if name in plain:
            con.execute(f"ALTER TABLE {quoted(name)} RENAME TO {old}")
        con.execute(create_table_sql(table))
        if name not in plain:
            continue
        columns = [str(r[0]) for r in con.execute(f"DESCRIBE {old}").fetchall()]
        lost = [c for c in columns if c not in table.field_names]
        if lost:
            raise InstallationError(f"no step says what becomes of {name}.{', '.join(lost)}")
        names = column_list(columns)
        con.execute(f"INSERT INTO {quoted(name)} ({names}) SELECT {names} FROM {old}")
        con.execute(f"DROP TABLE {old}")
