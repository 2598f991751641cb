"""New rows that look like a row that is there already under another key: the same thing entered twice, or a variant.

They are told and never refused: only a person knows whether it is the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue.tables import quoted
from specdb.schema import Table
from specdb.units import format_quantity
from specdb.units.writing import listed

if TYPE_CHECKING:
    import duckdb

MOST_TOLD = 1000
"""Of so many new rows the likeness is told."""

_NAMES = ("maker", "model")
_MAY_DIFFER = "weight_g"  # a weight that was corrected makes another key of the same shaft
_BESIDE = ("club_type",)  # sets apart what the key does not tell, where both rows say it


@dataclass(frozen=True, slots=True)
class Alike:
    """A new row that looks like one that is there.

    Attributes
    ----------
    row : int
        Number of the row.
    key, other : str
        Its key, and that of the row it looks like.
    message : str
        What they share and in what they differ, in words.
    """

    row: int
    key: str
    other: str
    message: str


def shared_fields(table: Table) -> tuple[str, ...]:
    """Fields by which rows of a kind are alike; none where the kind has no maker and model.

    Parameters
    ----------
    table : Table
        The kind.
    """
    names = table.derive_key_from
    return tuple(n for n in names if n != _MAY_DIFFER) if all(n in names for n in _NAMES) else ()


def alike(con: duckdb.DuckDBPyConnection, table: Table, added: str, incoming: str, number: str) -> list[Alike]:
    """New rows with the maker, model and whatever else names the kind of a row that is there under another key.

    A row that comes in the same file too is left out: whoever wrote the file knows both.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue; the rows must not be stored yet.
    table : Table
        The kind.
    added, incoming : str
        Views of the new rows, and of all rows that come.
    number : str
        Column of the number of a row.
    """
    shared = shared_fields(table)
    if not shared:
        return []
    same = [f"{_plain(table, 'n', name)} IS NOT DISTINCT FROM {_plain(table, 't', name)}" for name in shared]
    same += [f"(n.{name} = t.{name}) IS NOT FALSE" for name in _BESIDE if name in table.field_names]
    same += [f"n.{name} IS NOT NULL" for name in _NAMES]
    here, there = (f"{row}.{_MAY_DIFFER}" if _MAY_DIFFER in table.field_names else "NULL::DOUBLE" for row in "nt")
    found = con.execute(
        f"SELECT n.{number}, n.id, t.id, {here}, {there} FROM {added} n JOIN {quoted(table.name)} t "
        f"ON {' AND '.join(same)} WHERE t.id NOT IN (SELECT id FROM {incoming}) "
        f"QUALIFY row_number() OVER (PARTITION BY n.{number} ORDER BY abs({here} - {there}) NULLS LAST, t.id) = 1 "
        f"ORDER BY 1 LIMIT {MOST_TOLD}"
    ).fetchall()
    titles = [table.field(name).title.lower() for name in shared]
    what = f"the same {listed(titles)}"
    return [
        Alike(row, key, other, f"{key} looks like {other}, which is there already: {what}{_weights(weight, its)}")
        for row, key, other, weight, its in found
    ]


def _plain(table: Table, row: str, name: str) -> str:
    """A value without what nobody hears: capitals, spaces, points, hyphens."""
    value = f"{row}.{quoted(name)}"
    if table.field(name).is_number or table.field(name).enum:
        return value
    return f"regexp_replace(lower({value}), '[\\s._-]+', '', 'g')"


def _weights(here: float | None, there: float | None) -> str:
    if here is None or there is None or here == there:
        return ""
    return f" ({format_quantity(there, 'g')} there, {format_quantity(here, 'g')} here)"
