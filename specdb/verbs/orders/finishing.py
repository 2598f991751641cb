"""Whether the clubs of an order are what was ordered, before it is finished: measured, and within tolerance.

An order with a club that is not measured is not finished. One with a club outside a tolerance is finished only by
somebody who says why, and the reason is kept in the journal; else it goes back to the bench.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from specdb.catalogue import Catalogue
from specdb.errors import ConflictError, MechanicsError
from specdb.orders.as_built import Judged, Judgement
from specdb.orders.needs import UnitKey
from specdb.orders.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class UnitStanding:
    """How one club of an order was measured.

    Attributes
    ----------
    key : UnitKey
        The club.
    wanted : tuple of str
        Quantities still to be measured, or waived with a reason.
    outside : tuple of Judged
        What lies outside its tolerance.
    """

    key: UnitKey
    wanted: tuple[str, ...]
    outside: tuple[Judged, ...]


class OutsideToleranceError(ConflictError):
    """An order is to be finished although a club of it is outside a tolerance; nothing was changed.

    Attributes
    ----------
    order_id : str
        The order.
    units : tuple of UnitStanding
        Its clubs that are outside.
    """

    def __init__(self, order_id: str, units: Sequence[UnitStanding]) -> None:
        super().__init__(
            f"order {order_id} is not as ordered; outside tolerance: {outside_words(units)}; finish it with a reason "
            "(--why), or take it back to the bench"
        )
        self.order_id, self.units = order_id, tuple(units)

    def __reduce__(self) -> tuple[Any, ...]:
        """For pickling: with its fields."""
        return type(self), (self.order_id, self.units)


def units_standing(catalogue: Catalogue, order_id: str) -> tuple[UnitStanding, ...]:
    """How the clubs of an order were measured; those that cannot be worked out are left out.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.

    Raises
    ------
    NotFoundError
        If there is no such order.
    """
    from specdb.verbs.building.as_built import Finished, answer_of
    from specdb.verbs.orders.orders import order_alone

    found = []
    with catalogue.read() as reader:
        for unit in order_alone(reader, order_id).units:
            key = unit.key
            finished = Finished(club=key.club_id, order=order_id, line=key.line, unit=key.unit, shaft=unit.stand_in)
            try:
                answer = answer_of(reader, finished)
            except MechanicsError:
                continue  # what it should measure cannot be worked out, so nothing can be asked for
            outside = tuple(j for j in answer.judged if j.judgement == Judgement.OUTSIDE)
            found.append(UnitStanding(key, answer.wanted, outside))
    return tuple(found)


def outside_words(units: Sequence[UnitStanding]) -> str:
    """What of some clubs lies outside its tolerance: ``ashby-driver (lie 1.2° upright)``; empty where nothing is.

    Parameters
    ----------
    units : sequence of UnitStanding
        The clubs.
    """
    return "; ".join(
        f"{u.key.club_id} ({', '.join(f'{TOLERANCES[j.quantity].title} {j.said}' for j in u.outside)})"
        for u in units
        if u.outside
    )


def refuse_unfinished(order_id: str, units: Sequence[UnitStanding], why: str | None) -> None:
    """Raise where the clubs of an order stand against finishing it.

    Parameters
    ----------
    order_id : str
        The order.
    units : sequence of UnitStanding
        Its clubs.
    why : str or None
        Why it is finished all the same, where a club is outside a tolerance.

    Raises
    ------
    ConflictError
        If a club was not measured.
    OutsideToleranceError
        If a club is outside a tolerance, and there is no reason.
    """
    missing = [f"{u.key.club_id} ({', '.join(TOLERANCES[w].title for w in u.wanted)})" for u in units if u.wanted]
    if missing:
        raise ConflictError(
            f"order {order_id} is not done; still to be measured, or waived with a reason: {'; '.join(missing)} "
            f"('specdb built CLUB --order {order_id}')"
        )
    outside = [u for u in units if u.outside]
    if outside and not (why or "").strip():
        raise OutsideToleranceError(order_id, outside)
