"""References between the tables: who refers to whom, what is missing, what is still referred to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from specdb.catalogue.faults import RowProblem
from specdb.catalogue.tables import key_sql, literal, quoted
from specdb.errors import indefinite
from specdb.schema import load_schema

if TYPE_CHECKING:
    import duckdb

ROW = "__row"
PUBLISHED = "published"  # the sample of a leaflet's table


@dataclass(frozen=True, slots=True)
class Link:
    """Fields of one kind that hold the key of a row of another.

    Attributes
    ----------
    kind, fields : str, tuple of str
        Who refers, with which fields; the last one is named in messages.
    target, target_fields : str, tuple of str
        What it refers to.
    when : tuple of str or None
        Field and word under which the reference counts (``kind`` is ``shaft``).
    """

    kind: str
    fields: tuple[str, ...]
    target: str
    target_fields: tuple[str, ...]
    when: tuple[str, str] | None = None

    @property
    def lack(self) -> str:
        """What is wrong where it points at nothing, in words."""
        name = self.target.replace("_", " ")
        return f"there is no such {name}" if self.target_fields[-1] != "set_id" else f"no {name} belongs to it"

    def known(self, alias: str) -> str:
        """SQL condition: the reference is given."""
        parts = [f"{alias}.{quoted(f)} IS NOT NULL" for f in self.fields]
        if self.when:
            parts.append(f"{alias}.{quoted(self.when[0])} = {literal(self.when[1])}")
        return " AND ".join(parts)

    def joined(self, alias: str, target: str) -> str:
        """SQL condition: the reference points at the row."""
        pairs = zip(self.fields, self.target_fields, strict=True)
        return " AND ".join(f"{alias}.{quoted(f)} = {target}.{quoted(t)}" for f, t in pairs)


@lru_cache(maxsize=1)
def links() -> tuple[Link, ...]:
    """Every reference of the shipped schema."""
    found = []
    for table in load_schema().tables.values():
        found += [Link(table.name, (r.field,), r.table, ("id",)) for r in table.references]
        for field in table.fields:
            if field.references_by:
                words = table.field(field.references_by).enum
                found += [Link(table.name, (field.name,), w, ("id",), (field.references_by, w)) for w in words]
    # a setting is named within its adapter, which a single foreign key cannot say
    pair = ("adapter_id", "adapter_setting")
    found.append(Link("club", pair, "adapter_setting", ("adapter_id", "setting")))
    # a line is named within its order; a set is named by its clubs
    found += [
        Link(kind, ("order_id", "line"), "order_line", ("order_id", "line")) for kind in ("reservation", "as_built")
    ]
    found.append(Link("order_line", ("set_id",), "club", ("set_id",)))
    return tuple(found)


def dangling(con: duckdb.DuckDBPyConnection, kind: str, relation: str, columns: set[str]) -> list[RowProblem]:
    """References of some rows that point at nothing.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of the rows.
    relation : str
        Name of a table or view with the rows and their number as ``__row``.
    columns : set of str
        Fields it has.
    """
    problems = []
    for link in links():
        needed = {*link.fields, *([link.when[0]] if link.when else [])}
        if link.kind != kind or not needed <= columns:
            continue
        shown = " || '/' || ".join(f"i.{quoted(f)}" for f in link.fields)
        rows = con.execute(
            f"SELECT i.{ROW}, {shown} FROM {relation} i WHERE {link.known('i')} AND NOT EXISTS "
            f"(SELECT 1 FROM {quoted(link.target)} t WHERE {link.joined('i', 't')}) ORDER BY 1"
        ).fetchall()
        allowed = f"the key of {indefinite(link.target.replace('_', ' '))} in the catalogue"
        if link.target_fields[-1] == "set_id":
            allowed = "the name of a set that clubs belong to"
        field = link.fields[-1]
        problems += [
            RowProblem(row, field, value, allowed, f"{field} is {value}, but {link.lack}") for row, value in rows
        ]
    return problems


def beyond_the_shaft(con: duckdb.DuckDBPyConnection, kind: str, relation: str, columns: set[str]) -> list[RowProblem]:
    """Readings at a place that their shaft is too short to have.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of the rows.
    relation : str
        Name of a table or view with the rows and their number as ``__row``.
    columns : set of str
        Fields it has.
    """
    problems = []
    for field in ("position_in", "free_length_in", "span_in"):
        if kind != "shaft_reading" or not {field, "shaft_id"} <= columns:
            continue
        rows = con.execute(
            f"SELECT i.{ROW}, i.{quoted(field)}, s.raw_length_in FROM {relation} i "
            f"JOIN shaft s ON s.id = i.shaft_id WHERE i.{quoted(field)} > s.raw_length_in + 1e-6 ORDER BY 1"
        ).fetchall()
        problems += [
            RowProblem(
                row,
                field,
                value,
                f"at most the raw length of the shaft, {length:g} in",
                f"{field} is {value:g}, but the raw shaft is {length:g} in long",
            )
            for row, value, length in rows
        ]
    return problems


def unmeasured_pieces(con: duckdb.DuckDBPyConnection, kind: str, relation: str) -> list[RowProblem]:
    """Clubs built from a measured piece of which their shaft has no reading.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of the rows.
    relation : str
        Name of a table or view with the rows and their number as ``__row``.
    """
    if kind != "club":
        return []
    rows = con.execute(
        f"SELECT i.{ROW}, i.shaft_sample, i.shaft_id, (SELECT string_agg(DISTINCT r.sample, ', ' ORDER BY r.sample) "
        f"FROM shaft_reading r WHERE r.shaft_id = i.shaft_id AND r.sample <> {literal(PUBLISHED)}) FROM {relation} i "
        f"WHERE i.shaft_sample IS NOT NULL AND (i.shaft_sample = {literal(PUBLISHED)} OR NOT EXISTS "
        "(SELECT 1 FROM shaft_reading r WHERE r.shaft_id = i.shaft_id AND r.sample = i.shaft_sample)) ORDER BY 1"
    ).fetchall()
    return [
        RowProblem(
            row,
            "shaft_sample",
            sample,
            f"a piece that readings of {shaft} are of",
            f"shaft_sample is {sample}, but {shaft} has no reading of a piece of that name (measured: "
            f"{pieces or 'none'}); until it has, any piece of the shaft is taken",
        )
        for row, sample, shaft, pieces in rows
    ]


def referrers(
    con: duckdb.DuckDBPyConnection, kind: str, relation: str, *, limit: int = 20
) -> Iterator[tuple[str, str, str]]:
    """Rows that refer to some rows of a kind.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    kind : str
        Kind of the rows referred to.
    relation : str
        Name of a table or view with those rows.
    limit : int
        How many to name at most, a referring kind.

    Yields
    ------
    key, kind, key of the referrer : tuple of str
    """
    for link in links():
        if link.target != kind:
            continue
        source = load_schema().table(link.kind)
        target = load_schema().table(kind)
        # a set is there as long as any other club belongs to it; that none is lost silently is another rule
        others = (
            f" AND NOT EXISTS (SELECT 1 FROM {quoted(kind)} o WHERE {link.joined('t', 'o')} "
            f"AND o.id NOT IN (SELECT id FROM {relation}))"
            if link.target_fields[-1] == "set_id"
            else ""
        )
        rows: list[tuple[Any, ...]] = con.execute(
            f"SELECT {key_sql(target, 'i')}, {key_sql(source, 't')} FROM {quoted(link.kind)} t "
            f"JOIN {relation} i ON {link.joined('t', 'i')} WHERE {link.known('t')}{others} ORDER BY ALL LIMIT {limit}"
        ).fetchall()
        for key, other in rows:
            yield str(key), link.kind, str(other)
