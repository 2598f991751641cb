"""Which shaft a club is built with: kept for the order, chosen by a person, or the fitted one."""

from __future__ import annotations

from dataclasses import dataclass

from specdb.catalogue import Reader
from specdb.errors import UsageError
from specdb.orders.choosing import CHOSEN, latest_first
from specdb.records.rows import Choice, Club
from specdb.verbs.orders.orders import order_alone


@dataclass(frozen=True, slots=True)
class ShaftOfBuild:
    """The shaft of a club that is to be built.

    Attributes
    ----------
    stand_in : str or None
        The stand-in; None where the fitted shaft goes in.
    tip_trim_in : float or None
        Tip trim that was decided for the stand-in, in.
    said : tuple of str
        Where it comes from and what else was chosen, in plain sentences.
    """

    stand_in: str | None = None
    tip_trim_in: float | None = None
    said: tuple[str, ...] = ()


def shaft_of_build(
    reader: Reader, club: Club, *, order: str | None = None, line: int | None = None, unit: int | None = None
) -> ShaftOfBuild:
    """The shaft to build a club with.

    For a club of an order it is the one that the order's list of parts names: what is kept for it or went into it,
    else the fitted shaft if it can be had, else the approved stand-in that is on the shelf. Without an order it is
    the stand-in that was chosen last, if there is one.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    club : Club
        The fitted club.
    order : str or None
        Key of the order it is built for.
    line, unit : int or None
        Which club of the order; the first of this fitted club where None.

    Raises
    ------
    UsageError
        If the order has no such club.
    """
    choices: list[Choice] = reader.rows("choice", where=f"club_id = '{club.id}'")
    chosen = [c for c in latest_first(choices) if c.decision == CHOSEN]
    if order is None:
        return _stand_in(club, chosen[0].shaft_id, chosen) if chosen else ShaftOfBuild()
    stand_in = _of_order(reader, club, order, line, unit)
    if stand_in is not None:
        return _stand_in(club, stand_in, chosen)
    passed_over = ", ".join(c.shaft_id for c in chosen)
    said = f"built with the fitted {club.shaft_id} for order {order}, though chosen as stand-in: {passed_over}"
    return ShaftOfBuild(said=(said,) if chosen else ())


def _of_order(reader: Reader, club: Club, order: str, line: int | None, unit: int | None) -> str | None:
    for one in order_alone(reader, order).units:
        if one.club.id == club.id and line in (None, one.key.line) and unit in (None, one.key.unit):
            return one.stand_in
    which = "" if line is None else f" on line {line}" + ("" if unit is None else f", club {unit}")
    raise UsageError(f"order {order} has no club {club.id}{which}")


def _stand_in(club: Club, shaft: str, chosen: list[Choice]) -> ShaftOfBuild:
    own = next((c for c in chosen if c.shaft_id == shaft), None)
    by = f" by {own.by}" if own is not None and own.by else ""
    why = f": {own.why}" if own is not None and own.why else ""
    said = [f"stand-in {shaft} for {club.shaft_id}, chosen{by}{why}"]
    others = [c.shaft_id for c in chosen if c.shaft_id != shaft]
    if others:
        first = "" if own is None or own is chosen[0] else f"; {chosen[0].shaft_id} was chosen last"
        said.append(f"chosen for this club too: {', '.join(others)}{first}")
    return ShaftOfBuild(shaft, None if own is None else own.tip_trim_in, tuple(said))
