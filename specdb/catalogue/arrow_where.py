"""Conditions of the ``--where`` language on rows that are in memory, so that no file needs to be opened."""

from __future__ import annotations

from typing import TYPE_CHECKING

from specdb.catalogue.where import parse_where
from specdb.schema import Table

if TYPE_CHECKING:
    import pyarrow as pa


def rows_meeting(kind: str | Table, rows: pa.Table, where: str) -> pa.ChunkedArray:
    """Which rows meet a condition.

    Parameters
    ----------
    kind : str or Table
        Kind of the rows; a table may have more fields than the catalogue stores.
    rows : pyarrow.Table
        All columns of the kind, or at least those that the condition names.
    where : str
        Condition such as ``weight_g < 70 and tip_dia_in = .335``.

    Returns
    -------
    pyarrow.ChunkedArray of bool
        One answer a row; no where a value that is asked for is unknown.

    Raises
    ------
    WhereError
        If the condition cannot be understood.
    """
    import duckdb

    condition = parse_where(kind, where)
    with duckdb.connect(":memory:", config={"threads": "2", "enable_external_access": "false"}) as con:
        con.execute("SET preserve_insertion_order = true")
        con.register("rows_in_memory", rows)
        sql = f"SELECT coalesce(({condition.sql}), false) AS met FROM rows_in_memory"
        found = con.sql(sql, params=list(condition.parameters)).to_arrow_table()
    return found["met"]
