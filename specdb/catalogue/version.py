"""Which version of the tables a file holds, and the tables of a new one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue.tables import META_TABLE, create_schema_sql, first_row
from specdb.errors import CatalogueDamagedError, CatalogueTooNewError
from specdb.schema import load_schema

if TYPE_CHECKING:
    import duckdb

VERSION = "schema_version"
IDENTITY = "catalogue_id"


def make_tables(con: duckdb.DuckDBPyConnection) -> None:
    """Make the tables of an empty catalogue, in one transaction."""
    import uuid

    schema = load_schema()
    con.execute("BEGIN TRANSACTION")
    for statement in create_schema_sql(schema):
        con.execute(statement)
    facts = {VERSION: str(schema.version), IDENTITY: uuid.uuid4().hex}
    con.executemany(f"INSERT INTO {META_TABLE} VALUES (?, ?)", [list(f) for f in facts.items()])
    con.execute("COMMIT")


def stored_fact(con: duckdb.DuckDBPyConnection, path: Path, name: str) -> str:
    """A fact that the file states about itself.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        The open file.
    path : Path
        Where it lies, for the message.
    name : str
        ``schema_version`` or ``catalogue_id``.

    Raises
    ------
    CatalogueDamagedError
        If the file holds no catalogue.
    """
    import duckdb

    try:
        row = first_row(con, f"SELECT value FROM {META_TABLE} WHERE name = ?", [name])
    except duckdb.CatalogException:
        row = None
    if row is None:
        raise CatalogueDamagedError(f"{path} is a DuckDB file, but no catalogue of specdb")
    return str(row[0])


def stored_version(con: duckdb.DuckDBPyConnection, path: Path) -> int:
    """Version of the tables in an open file.

    Raises
    ------
    CatalogueDamagedError
        If the file holds no catalogue.
    CatalogueTooNewError
        If they are newer than this package knows.
    """
    text = stored_fact(con, path, VERSION)
    if not text.isdigit():
        raise CatalogueDamagedError(f"{path} says that its tables are of version '{text}', which is none")
    version, ours = int(text), load_schema().version
    if version > ours:
        raise CatalogueTooNewError(
            f"the catalogue {path} was written by a newer specdb (tables of version {version}, "
            f"this one knows {ours}); update specdb to open it"
        )
    return version


def is_older(con: duckdb.DuckDBPyConnection, path: Path) -> bool:
    """Whether an open file has tables of an older version.

    Raises
    ------
    CatalogueDamagedError
        If the file holds no catalogue.
    CatalogueTooNewError
        If they are newer than this package knows.
    """
    return stored_version(con, path) < load_schema().version
