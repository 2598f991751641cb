"""Looking at the catalogue: lists, keys for completion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue
from specdb.errors import UsageError
from specdb.schema import Table
from specdb.verbs.catalogue.kinds import table_of

if TYPE_CHECKING:
    import pyarrow as pa


@dataclass(frozen=True, slots=True)
class Listing:
    """Rows of one kind.

    Attributes
    ----------
    table : Table
        The kind.
    rows : pyarrow.Table
        The rows, by key.
    matching : int
        How many rows there are, shown or not.
    retired_hidden : int
        How many retired rows were left out.
    """

    table: Table
    rows: pa.Table
    matching: int
    retired_hidden: int

    def to_json(self) -> list[dict[str, Any]]:
        """Rows as objects with the fields as keys."""
        found: list[dict[str, Any]] = self.rows.to_pylist()
        return found


def list_rows(
    catalogue: Catalogue,
    kind: str,
    *,
    where: str | None = None,
    columns: Sequence[str] = (),
    limit: int | None = None,
    retired: bool = False,
) -> Listing:
    """List rows of a kind, by key.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind : str
        The kind.
    where : str or None
        Condition, such as ``weight_g < 70 and tip_dia_in = 0.335``.
    columns : sequence of str
        Only these fields, in this order; all where empty.
    limit : int or None
        At most this many rows.
    retired : bool
        Whether retired rows are listed too.

    Raises
    ------
    UsageError
        If the condition cannot be understood, or the limit is negative.
    """
    table = table_of(kind)
    for name in columns:
        table.field(name)
    if limit is not None and limit < 0:
        raise UsageError("the limit cannot be negative")
    with catalogue.read() as reader:
        rows = reader.arrow(
            table.name, columns or None, where=where, order_by=table.primary_key, include_retired=retired
        )
        hidden = 0
        if not retired and "status" in table.field_names:
            everything = reader.arrow(table.name, table.primary_key, where=where)
            hidden = everything.num_rows - rows.num_rows
    matching = rows.num_rows
    return Listing(table, rows if limit is None else rows.slice(0, limit), matching, hidden)


def keys_beginning(path: Path, kind: str, start: str, *, most: int, wait_seconds: float) -> list[str]:
    """Keys of a kind that begin with a text, for completion.

    Parameters
    ----------
    path : Path
        Catalogue file.
    kind : str
        The kind.
    start : str
        What was typed.
    most : int
        At most this many.
    wait_seconds : float
        How long to wait for others, s.
    """
    table = table_of(kind)
    first = start.partition("/")[0]
    safe = "".join(c for c in first if c.isalnum() or c in ".-_ ")  # "_" stands for any one letter
    where = f"{table.primary_key[0]} like '{safe}%'" if safe and safe == first else None
    with Catalogue(path, wait_seconds=wait_seconds).read() as reader:
        # records, as Arrow alone takes longer to load than a person waits
        rows = reader.rows(table.name, where=where, limit=None if where else most)
    keys = ("/".join(str(getattr(row, name)) for name in table.primary_key) for row in rows)
    return [key for key in keys if key.startswith(start)][:most]
