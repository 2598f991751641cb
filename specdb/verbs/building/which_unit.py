"""Which club of which order is meant by the name of a club alone: the one that is still to be built and measured.

One open order that asks for the club takes it; where several do, or all of its clubs are measured already and there is
more than one, whoever asked has to say which. Without an open order the club is built for none.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import MechanicsError, UsageError
from specdb.orders.needs import NEEDING_PARTS, UnitKey, members_of, units_of
from specdb.records.rows import AsBuilt, Order, OrderLine
from specdb.units.writing import listed
from specdb.verbs.building.as_built import Finished, answer_of
from specdb.verbs.building.sheet_code import UnitMeant, named_alone, read_code, whole_unit
from specdb.verbs.orders.orders import order_alone


class SeveralUnitsError(UsageError):
    """A name means more than one club; nothing was done.

    Attributes
    ----------
    units : tuple of UnitMeant
        The clubs that may be meant, the order wanted first at the front.
    """

    def __init__(self, said: str, units: Sequence[UnitMeant]) -> None:
        super().__init__(said)
        self.units = tuple(units)

    def __reduce__(self) -> tuple[Any, ...]:
        """For pickling: with its fields."""
        return type(self), (str(self), self.units)


def find_unit(catalogue: Catalogue, text: str) -> tuple[UnitMeant, str]:
    """The club that was scanned or typed, with its order, and what is to be said of that.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    text : str
        A code, or the name of a club.

    Returns
    -------
    tuple of UnitMeant and str
        The club, and a plain sentence where its order was found; empty where there is nothing to say.

    Raises
    ------
    UsageError
        If it is no code, or the order does not ask for that club.
    SeveralUnitsError
        If more than one club may be meant.
    NotFoundError
        If there is no such club or order; near matches are named.
    """
    with catalogue.read() as reader:
        if alone := named_alone(text):
            return whole_unit(reader, UnitMeant(alone)), ""
        return unit_meant(reader, read_code(text))


def which_unit(catalogue: Catalogue, meant: UnitMeant) -> tuple[UnitMeant, str]:
    """The club of an order that is meant, and what is to be said of that; see :func:`find_unit`.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    meant : UnitMeant
        The club, its order and its unit as far as they are named.
    """
    with catalogue.read() as reader:
        return unit_meant(reader, meant)


def unit_meant(reader: Reader, meant: UnitMeant) -> tuple[UnitMeant, str]:
    """The club of an order that is meant, and what is to be said of that; see :func:`find_unit`.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    meant : UnitMeant
        The club, its order and its unit as far as they are named.
    """
    whole = whole_unit(reader, meant)
    if meant.unit is not None:
        return whole, ""
    found = _asked_for(reader, meant)
    if not found:
        return whole, _measured_before(reader, meant.club)
    left = [unit for unit in found if not is_measured(reader, unit)]
    firsts = list({unit.order: unit for unit in reversed(left)}.values())[::-1] or found
    if len(firsts) > 1:
        raise SeveralUnitsError(_which(firsts, measured=not left), firsts)
    unit = firsts[0]
    if meant.order is not None:
        return unit, ""
    return unit, f"order {unit.order} asks for {unit.club}, so it is that one: line {unit.line}, club {unit.unit}"


def _asked_for(reader: Reader, meant: UnitMeant) -> list[UnitMeant]:
    """Every club that may be meant, done or not, the order wanted first at the front."""
    if meant.order is not None:
        keys = [unit.key for unit in order_alone(reader, meant.order).units]
        mine = [k for k in keys if k.club_id == meant.club and meant.line in (None, k.line)]
    else:
        clubs = {c.id: c for c in reader.clubs_of_orders(NEEDING_PARTS)}
        lines: list[OrderLine] = reader.of_orders("order_line", NEEDING_PARTS) if meant.club in clubs else []
        sets = members_of(clubs.values())
        mine = [key for line in lines for key in units_of(line, clubs, sets) if key.club_id == meant.club]
        orders: list[Order] = reader.of_orders("order", NEEDING_PARTS) if mine else []
        days = {o.id: o.wanted_on or dt.date.max for o in orders}
        mine.sort(key=lambda k: (days[k.order_id], k))
    return [_meant(key) for key in mine]


def _meant(key: UnitKey) -> UnitMeant:
    return UnitMeant(key.club_id, key.order_id, key.line, key.unit)


def is_measured(reader: Reader, unit: UnitMeant) -> bool:
    """Whether every measurement of a club is in or waived.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    unit : UnitMeant
        The club.
    """
    try:
        return answer_of(reader, Finished(club=unit.club, order=unit.order, line=unit.line, unit=unit.unit)).done
    except MechanicsError:
        return False  # what it should measure cannot be worked out, so it cannot be done


def _which(units: Sequence[UnitMeant], *, measured: bool) -> str:
    """The question which of some clubs is meant."""
    club = units[0].club
    orders = list(dict.fromkeys(str(unit.order) for unit in units))
    names = listed(orders)
    if not measured:
        return f"orders {names} ask for {club}: name one (--order), or measure it without an order (--no-order)"
    numbers = ", ".join(f"{unit.order} {unit.line}.{unit.unit}" for unit in units)
    return f"every {club} of order {names} is measured already: say which is meant (--order, --line, --unit): {numbers}"


def _measured_before(reader: Reader, club: str) -> str:
    """For which orders that are closed a club was measured; empty where for none."""
    rows: list[AsBuilt] = reader.rows("as_built", where=f"club_id = '{club}'")
    orders = sorted({row.order_id for row in rows if row.order_id})
    return f"no open order asks for {club}; it was measured for {', '.join(orders)} before" if orders else ""
