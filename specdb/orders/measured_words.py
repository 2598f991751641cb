"""A value measured on a club, written for a person; on the bench, in a report and in an advice alike."""

from __future__ import annotations

from specdb.orders.tolerances import TOLERANCES
from specdb.units import format_quantity, unit_label
from specdb.units.lengths import length_as_typed

_DECIMALS = 1
_GRIP_DECIMALS = 3


def value_words(quantity: str, value: float | None) -> str:
    """A measured value, in its unit: ``45 1/32 in``, ``D2.5``, ``31.5°``; a hyphen where there is none.

    Parameters
    ----------
    quantity : str
        One of ``TOLERANCES``.
    value : float or None
        In its stored unit.
    """
    if value is None:
        return "-"
    if quantity == "swingweight":
        from specdb.mechanics import swingweight

        return swingweight.from_moment_in_oz(value)
    if quantity == "length":
        return length_as_typed(value)
    unit = TOLERANCES[quantity].unit
    decimals = _GRIP_DECIMALS if quantity == "grip_size" else _DECIMALS
    number = format_quantity(value, unit, decimals=decimals, with_unit=False)
    return f"{number}°" if unit == "deg" else f"{number} {unit_label(unit)}"
