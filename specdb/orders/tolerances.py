"""How far a finished club may be off what was fitted, by what is measured.

Build tolerances of the trade (common practice, no source): length ± 1/16 in, loft and lie ± 0.5°, swingweight ± 1
point, frequency ± 2 cpm, head weight ± 2 g; the whole club ± 3 g and the grip ± 1/64 in follow from those (stated
judgements).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

SWINGWEIGHT_POINT_IN_OZ = 1.75


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What one measured quantity may differ by.

    Attributes
    ----------
    quantity : str
        As in ``as_built``.
    title : str
        What it is called in front of a person.
    unit : str
        Unit of the value, as stored.
    within : float
        Largest difference, in that unit.
    said : str
        The same in words.
    required : bool
        Whether a club is done only with it measured, or waived with a reason.
    """

    quantity: str
    title: str
    unit: str
    within: float
    said: str
    required: bool


TOLERANCES: Mapping[str, Tolerance] = MappingProxyType(
    {
        t.quantity: t
        for t in (
            Tolerance("length", "playing length", "in", 1.0 / 16.0, "± 1/16 in", required=True),
            Tolerance("weight", "total weight", "g", 3.0, "± 3 g", required=True),
            Tolerance("swingweight", "swingweight", "in_oz", SWINGWEIGHT_POINT_IN_OZ, "± 1 point", required=True),
            Tolerance("frequency", "frequency", "cpm", 2.0, "± 2 cpm", required=True),
            Tolerance("loft", "loft", "deg", 0.5, "± 0.5°", required=True),
            Tolerance("lie", "lie", "deg", 0.5, "± 0.5°", required=True),
            Tolerance("grip_size", "grip diameter", "in", 1.0 / 64.0, "± 1/64 in", required=False),
            Tolerance("head_weight", "head weight", "g", 2.0, "± 2 g", required=False),
        )
    }
)
