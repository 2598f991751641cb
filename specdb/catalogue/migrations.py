"""Bringing a catalogue file of an older version up to date, with a backup first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue.tables import META_TABLE, create_schema_sql, first_row
from specdb.errors import CatalogueDamagedError, CatalogueError, CatalogueTooNewError
from specdb.schema import load_schema

if TYPE_CHECKING:
    import duckdb


def make_tables(con: duckdb.DuckDBPyConnection) -> None:
    """Make the tables of an empty catalogue, in one transaction."""
    import uuid

    schema = load_schema()
    con.execute("BEGIN TRANSACTION")
    for statement in create_schema_sql(schema):
        con.execute(statement)
    facts = {"schema_version": str(schema.version), "catalogue_id": uuid.uuid4().hex}
    con.executemany(f"INSERT INTO {META_TABLE} VALUES (?, ?)", [list(f) for f in facts.items()])
    con.execute("COMMIT")


def stored_version(con: duckdb.DuckDBPyConnection, path: Path) -> int:
    """Version of the tables in an open file.

    Raises
    ------
    CatalogueDamagedError
        If the file holds no catalogue.
    """
    import duckdb

    try:
        row = first_row(con, f"SELECT value FROM {META_TABLE} WHERE name = 'schema_version'")
        return int(row[0]) if row else _no_catalogue(path)
    except (duckdb.CatalogException, ValueError) as error:
        raise CatalogueDamagedError(f"{path} is a DuckDB file, but no catalogue of specdb") from error


def _no_catalogue(path: Path) -> int:
    raise CatalogueDamagedError(f"{path} is a DuckDB file, but no catalogue of specdb")


def is_older(con: duckdb.DuckDBPyConnection, path: Path) -> bool:
    """Whether an open file is of an older version.

    Raises
    ------
    CatalogueTooNewError
        If it is of a newer one.
    CatalogueDamagedError
        If the file holds no catalogue.
    """
    version, ours = stored_version(con, path), load_schema().version
    if version > ours:
        raise CatalogueTooNewError(
            f"the catalogue {path} was written by a newer specdb (tables of version {version}, this one knows "
            f"{ours}); update specdb to open it"
        )
    return version < ours


def bring_up_to_date(path: Path, *, wait_seconds: float, folder: Path | None = None) -> None:
    raise CatalogueError("not yet")
