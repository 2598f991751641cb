"""The clubs that can be built: those of the open orders, wanted first, then every fitted club."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue, Reader
from specdb.orders.as_built import still_wanted
from specdb.orders.needs import NEEDING_PARTS, RETIRED
from specdb.orders.tolerances import TOLERANCES
from specdb.records.rows import AsBuilt, Club
from specdb.verbs.building.sheet_code import UnitMeant
from specdb.verbs.building.since_spoilt import counted, spoilt_by_unit
from specdb.verbs.building.which_unit import is_measured
from specdb.verbs.orders.orders import open_orders

if TYPE_CHECKING:
    from specdb.orders.availability import UnitView


@dataclass(frozen=True, slots=True)
class BenchUnit:
    """A club that can be built.

    Attributes
    ----------
    meant : UnitMeant
        Which.
    name, customer : str
        What it is called, and for whom.
    set_id : str or None
        The set it belongs to.
    wanted_on : date or None
        Day its order is wanted.
    parts : str
        How its parts stand, in a word or two; empty without an order.
    measured : int
        How many of the measurements that are needed are in or waived.
    """

    meant: UnitMeant
    name: str
    customer: str
    set_id: str | None
    wanted_on: dt.date | None
    parts: str
    measured: int

    @property
    def done(self) -> bool:
        """Whether every measurement that is needed is in or waived."""
        return self.measured >= NEEDED


NEEDED = sum(t.required for t in TOLERANCES.values())
"""How many measurements every club needs."""


def bench_units(catalogue: Catalogue) -> tuple[BenchUnit, ...]:
    """Clubs of open orders in the order they are wanted, then the fitted clubs.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    with catalogue.read() as reader:
        views = open_orders(reader)
        rows: list[AsBuilt] = reader.of_orders("as_built", NEEDING_PARTS)
        kept = counted(reader, rows, spoilt_by_unit(reader) if rows else {}).rows
        clubs: list[Club] = reader.rows("club", order_by=("id",))
    by_unit: dict[tuple[object, ...], list[AsBuilt]] = {}
    for row in kept:
        by_unit.setdefault((row.order_id, row.line, row.unit, row.club_id), []).append(row)
    found = [
        BenchUnit(
            UnitMeant(unit.key.club_id, unit.key.order_id, unit.key.line, unit.key.unit),
            _name(unit.club),
            view.order.customer or unit.club.player or "",
            unit.club.set_id,
            view.order.wanted_on,
            _parts(unit),
            _measured(by_unit.get((unit.key.order_id, unit.key.line, unit.key.unit, unit.key.club_id), ())),
        )
        for view in views
        for unit in view.units
    ]
    alone = [
        BenchUnit(UnitMeant(club.id), _name(club), club.player or "", club.set_id, None, "", 0)
        for club in clubs
        if club.status != RETIRED
    ]
    return (*found, *alone)


def next_unit(catalogue: Catalogue, after: UnitMeant) -> BenchUnit | None:
    """The club to build after one that is done: the next of its order, else of the order that is wanted next.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    after : UnitMeant
        The club that is done; without an order the fitted clubs of its set are gone through, and no order.

    Returns
    -------
    BenchUnit or None
        None where nothing is left to measure.
    """
    every = bench_units(catalogue)
    if after.order is None:
        own = next((u for u in every if u.meant == after), None)
        set_id = None if own is None else own.set_id
        return next(
            (u for u in _following(every, after) if u.meant.order is None and set_id and u.set_id == set_id), None
        )
    with catalogue.read() as reader:
        mine = [u for u in every if u.meant.order == after.order]
        others = (u for u in every if u.meant.order not in (None, after.order))
        return next((u for u in (*_following(mine, after), *others) if _left(reader, u)), None)


def _left(reader: Reader, unit: BenchUnit) -> bool:
    return not unit.done and (unit.measured == 0 or not is_measured(reader, unit.meant))


def _following(units: Sequence[BenchUnit], after: UnitMeant) -> list[BenchUnit]:
    """The clubs after one, round and round, without it."""
    at = next((i for i, u in enumerate(units) if u.meant == after), len(units))
    return [*units[at + 1 :], *units[:at]]


def _name(club: Club) -> str:
    return club.label or club.id


def _parts(unit: UnitView) -> str:
    booked = [s for s in unit.states if s.booked]
    if unit.built:
        return "built in"
    if any(s.short for s in booked):
        return "short"
    return "kept" if not any(s.open for s in booked) else "on the shelf"


def _measured(rows: Iterable[AsBuilt]) -> int:
    latest: dict[str, AsBuilt] = {}
    for row in sorted(rows, key=lambda r: r.taken_on or dt.date.min):
        latest[row.quantity] = row
    wanted = still_wanted({q: r.value for q, r in latest.items()}, {q: r.waived or "" for q, r in latest.items()})
    return NEEDED - len(wanted)
