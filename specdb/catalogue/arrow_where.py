"""Conditions of the ``--where`` language on rows that are in memory, so that no file needs to be opened."""

from __future__ import annotations

from typing import TYPE_CHECKING

from specdb.catalogue.tables import quoted
from specdb.catalogue.where import parse_where

if TYPE_CHECKING:
    import pyarrow as pa

_ROW = "_row_of_the_list"


def rows_meeting(kind: str, rows: pa.Table, where: str) -> pa.Array:
    """Which rows meet a condition, in their order.

    Parameters
    ----------
    kind : str
        Kind of the rows.
    rows : pyarrow.Table
        All columns of the kind, or at least those that the condition names.
    where : str
        Condition such as ``weight_g < 70 and tip_dia_in = .335``.

    Returns
    -------
    pyarrow.Array of int64
        Row numbers, from 0.

    Raises
    ------
    WhereError
        If the condition cannot be understood.
    """
    import duckdb
    import pyarrow as pa

    condition = parse_where(kind, where)
    numbered = rows.append_column(_ROW, pa.array(range(rows.num_rows), pa.int64()))
    with duckdb.connect(":memory:", config={"threads": "2", "enable_external_access": "false"}) as con:
        con.register("rows_in_memory", numbered)
        found = con.execute(
            f"SELECT {quoted(_ROW)} FROM rows_in_memory WHERE {condition.sql} ORDER BY 1", list(condition.parameters)
        ).to_arrow_table()
    return found.column(0).combine_chunks().cast(pa.int64())
