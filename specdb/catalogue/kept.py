"""What is worked out from the catalogue and kept in it: stiffness estimates, and the population model behind them.

The catalogue only stores them. An estimate is forgotten in the same transaction that changes its shaft, a reading of
it, a value of a finished club that it is in, or the calibration of an instrument either was measured with; so what is
kept always fits the rest, and what is
missing has to be worked out again. None of it is journalled: it can be made anew at any time.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue.journal import last_change
from specdb.catalogue.tables import JOURNAL, META_TABLE, column_list, first_row, literal, quoted
from specdb.schema import load_schema

if TYPE_CHECKING:
    import duckdb
    import pyarrow as pa

ESTIMATES = "profile_estimate"
POPULATION = "population_model"
BEARING = ("shaft", "shaft_reading", "reference_reading", "as_built")  # kinds that estimates rest on
_EDITION = "kept_edition"  # counts up whenever anything kept changes, for whoever holds a copy
_SEEN = "kept_seen_change"  # changes up to this one have been looked at


@dataclass(frozen=True, slots=True)
class TeacherCounts:
    """How many shafts could teach a population: with EI readings at a number of places or more.

    Attributes
    ----------
    shafts : int
        In all.
    makers : int
        Makers with a given number of them or more, by material.
    benched : int
        Shafts that do not teach and have a frequency or a deflection.
    """

    shafts: int
    makers: int
    benched: int


def _fact(con: duckdb.DuckDBPyConnection, name: str) -> int:
    row = first_row(con, f"SELECT value FROM {META_TABLE} WHERE name = ?", [name])
    return int(row[0]) if row else 0


def _state(con: duckdb.DuckDBPyConnection, name: str, value: int) -> None:
    con.execute(
        f"INSERT INTO {META_TABLE} VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        [name, str(value)],
    )


def edition(con: duckdb.DuckDBPyConnection) -> int:
    """A number that changes whenever what is kept changes."""
    return _fact(con, _EDITION)


def seen_change(con: duckdb.DuckDBPyConnection) -> int:
    """Changes up to this number have been looked at for estimates to be made anew."""
    return _fact(con, _SEEN)


def _named(instrument: str) -> str:
    """SQL of an instrument's name, capitals and spacing taken as equal."""
    return f"lower(regexp_replace(trim({instrument}), '\\s+', ' ', 'g'))"


def _touched_sql(condition: str) -> str:
    """SQL of the shafts that changes bear upon.

    Themselves, their readings, finished clubs that they are or were in, instruments that their readings came from.
    """
    sides = [quoted(side) for side in ("before", "after")]
    by_reading = [
        f"SELECT {side} ->> 'shaft_id' FROM {JOURNAL} WHERE kind = 'shaft_reading' AND {condition} "
        f"AND {side} IS NOT NULL"
        for side in sides
    ]
    # a newer value of a club takes the place of an older one, which may have named another shaft
    shafts, clubs = (
        [
            f"SELECT {side} ->> '{name}' FROM {JOURNAL} WHERE kind = 'as_built' AND {condition} AND {side} IS NOT NULL"
            for side in sides
        ]
        for name in ("shaft_id", "club_id")
    )
    instruments = " UNION ".join(
        f"SELECT {_named(f'({side} ->> $$instrument$$)')} FROM {JOURNAL} WHERE kind = 'reference_reading' "
        f"AND {condition}"
        for side in sides
    )
    return " UNION ".join(
        [
            f"SELECT item_key FROM {JOURNAL} WHERE kind = 'shaft' AND {condition}",
            *by_reading,
            *shafts,
            f"SELECT shaft_id FROM as_built WHERE club_id IN ({' UNION '.join(clubs)})",
            *(
                f"SELECT shaft_id FROM {kind} WHERE {_named('instrument')} IN ({instruments})"
                for kind in ("shaft_reading", "as_built")
            ),
        ]
    )


def touched_since(con: duckdb.DuckDBPyConnection, change_no: int) -> list[str]:
    """Shafts that changes after the given one bear upon, in order.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    change_no : int
        The change.
    """
    rows = con.execute(f"SELECT * FROM ({_touched_sql(f'change_no > {int(change_no)}')}) ORDER BY 1").fetchall()
    return [str(r[0]) for r in rows if r[0] is not None]


def forget_touched(con: duckdb.DuckDBPyConnection, change_no: int) -> bool:
    """Forget the estimates that a change makes wrong, within its transaction; say whether it bears upon any shaft's.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    change_no : int
        The change, its journal rows written.
    """
    kinds = ", ".join(literal(kind) for kind in BEARING)
    bears = f"SELECT 1 FROM {JOURNAL} WHERE change_no = {int(change_no)} AND kind IN ({kinds}) LIMIT 1"
    if first_row(con, bears) is None:
        return False
    if first_row(con, f"SELECT 1 FROM {ESTIMATES} LIMIT 1") is not None:
        gone = con.execute(
            f"DELETE FROM {ESTIMATES} WHERE shaft_id IN ({_touched_sql(f'change_no = {int(change_no)}')})"
        ).fetchall()
        if gone and gone[0][0]:
            _state(con, _EDITION, edition(con) + 1)
    return True


def estimates(con: duckdb.DuckDBPyConnection, shaft_id: str | None = None) -> pa.Table:
    """Kept estimates, by shaft; of one shaft where it is named.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    shaft_id : str, optional
        Only this one.
    """
    names = column_list(load_schema().table(ESTIMATES).field_names)
    where = "" if shaft_id is None else f" WHERE shaft_id = {literal(shaft_id)}"
    return con.sql(f"SELECT {names} FROM {ESTIMATES}{where} ORDER BY shaft_id").to_arrow_table()


def population(con: duckdb.DuckDBPyConnection) -> dict[str, object] | None:
    """The newest population model as a row, or None."""
    names = load_schema().table(POPULATION).field_names
    row = first_row(con, f"SELECT {column_list(names)} FROM {POPULATION} ORDER BY population_no DESC LIMIT 1")
    return None if row is None else dict(zip(names, row, strict=True))


def teacher_counts(con: duckdb.DuckDBPyConnection, *, stations: int, of_a_maker: int) -> TeacherCounts:
    """How many shafts could teach a population.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Open catalogue.
    stations : int
        EI readings that make a teacher.
    of_a_maker : int
        Teachers of one material that make a maker known.
    """
    row = first_row(
        con,
        "WITH teacher AS (SELECT shaft_id FROM shaft_reading WHERE quantity = 'ei' GROUP BY shaft_id "
        f"HAVING count(*) >= {int(stations)}), "
        "told AS (SELECT s.maker, s.material = 'steel' AS steel, count(*) AS n FROM shaft s JOIN teacher t "
        "ON s.id = t.shaft_id WHERE s.raw_length_in IS NOT NULL GROUP BY ALL) "
        f"SELECT coalesce(sum(n), 0), count(*) FILTER (n >= {int(of_a_maker)} AND maker IS NOT NULL), "
        "(SELECT count(DISTINCT shaft_id) FROM shaft_reading WHERE quantity IN ('frequency', 'deflection') "
        "AND shaft_id NOT IN (SELECT shaft_id FROM teacher)) FROM told",
    )
    return TeacherCounts(int(row[0]), int(row[1]), int(row[2])) if row else TeacherCounts(0, 0, 0)


class Keeper:
    """An open catalogue in which worked-out things are stored; made by :meth:`specdb.catalogue.Catalogue.keep`."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self._con = con

    def keep_population(self, row: dict[str, object]) -> int:
        """Store a population model in place of the one before, and give its number.

        Parameters
        ----------
        row : dict
            Fields of ``population_model`` but its number and day.
        """
        before = population(self._con)
        number = 1 if before is None else int(str(before["population_no"])) + 1
        now = dt.datetime.now(dt.UTC).replace(tzinfo=None, microsecond=0)
        values = {**row, "population_no": number, "made_on": now}
        self._con.execute(f"DELETE FROM {POPULATION}")
        marks = ", ".join("?" for _ in values)
        self._con.execute(f"INSERT INTO {POPULATION} ({column_list(values)}) VALUES ({marks})", list(values.values()))
        self._turn()
        return number

    def keep_estimates(self, rows: pa.Table, made_at: int) -> int:
        """Store estimates in place of those before, and give their number.

        Parameters
        ----------
        rows : pyarrow.Table
            Columns of ``profile_estimate``.
        made_at : int
            The latest change when their shafts were read; shafts touched since, or gone, are passed over.
        """
        late = touched_since(self._con, made_at) if last_change(self._con) > made_at else []
        self._con.register("given_estimates", rows)
        try:
            self._con.execute("CREATE OR REPLACE TEMP TABLE late_shaft (id VARCHAR)")
            if late:
                self._con.executemany("INSERT INTO late_shaft VALUES (?)", [[i] for i in late])
            good = (
                "SELECT g.* FROM given_estimates g WHERE g.shaft_id IN (SELECT id FROM shaft) "
                "AND g.shaft_id NOT IN (SELECT id FROM late_shaft)"
            )
            self._con.execute(f"DELETE FROM {ESTIMATES} WHERE shaft_id IN (SELECT shaft_id FROM ({good}))")
            names = column_list(load_schema().table(ESTIMATES).field_names)
            done = self._con.execute(f"INSERT INTO {ESTIMATES} ({names}) SELECT {names} FROM ({good})").fetchall()
        finally:
            self._con.unregister("given_estimates")
        self._turn()
        return int(done[0][0]) if done else 0

    def forget(self, shaft_ids: list[str]) -> None:
        """Forget estimates that are not needed any more.

        Parameters
        ----------
        shaft_ids : list of str
            Of these shafts.
        """
        if shaft_ids:
            marks = ", ".join("?" for _ in shaft_ids)
            self._con.execute(f"DELETE FROM {ESTIMATES} WHERE shaft_id IN ({marks})", shaft_ids)
            self._turn()

    def looked_at(self, change_no: int) -> None:
        """Note that all changes up to one have been looked at.

        Parameters
        ----------
        change_no : int
            The change.
        """
        _state(self._con, _SEEN, max(change_no, seen_change(self._con)))

    def _turn(self) -> None:
        _state(self._con, _EDITION, edition(self._con) + 1)
