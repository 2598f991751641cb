"""How far a finished club may be off what was fitted, by what is measured.

Build tolerances of the trade (common practice, no source): length ± 1/16 in, loft and lie ± 0.5°, swingweight ± 1
point, frequency ± 2 cpm, head weight ± 2 g; the whole club ± 3 g and the grip ± 1/64 in follow from those (stated
judgements).

`Tolerance.doubted` is how far a value can be off through the work on the club; what is further off is asked about, as
it is rather another club, another instrument or a slip of the keys (stated judgements, each for its reason):

- length, 1 in: a cut at the wrong mark is off by a fraction, at worst by the next whole inch of the tape.
- total weight, 25 g: all the weight a head takes (10 to 15 g), or half a grip too much, with tape and epoxy.
- swingweight, 10 points: a letter of the scale; an inch of length is about 6 points, 10 g at the head about 5.
- frequency, 25 cpm: two flexes and a half (about 10 cpm each, common practice, no source); a tip trim that is an inch
  wrong is under 10 cpm, a clamp that is an inch wrong about as much.
- loft and lie, 5°: beyond what even a forged head is bent by (4° to 5°).
- head weight, 20 g: all the weight a head takes, with sleeve or adapter forgotten.
- grip diameter: held against nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

SWINGWEIGHT_POINT_IN_OZ = 1.75
_LETTER_IN_OZ = 10.0 * SWINGWEIGHT_POINT_IN_OZ


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
    doubted : float
        Largest difference that work on the club can cause, in that unit; what is further off is asked about.
    """

    quantity: str
    title: str
    unit: str
    within: float
    said: str
    required: bool
    doubted: float


TOLERANCES: Mapping[str, Tolerance] = MappingProxyType(
    {
        t.quantity: t
        for t in (
            Tolerance("length", "playing length", "in", 1.0 / 16.0, "± 1/16 in", required=True, doubted=1.0),
            Tolerance("weight", "total weight", "g", 3.0, "± 3 g", required=True, doubted=25.0),
            Tolerance(
                "swingweight",
                "swingweight",
                "in_oz",
                SWINGWEIGHT_POINT_IN_OZ,
                "± 1 point",
                required=True,
                doubted=_LETTER_IN_OZ,
            ),
            Tolerance("frequency", "frequency", "cpm", 2.0, "± 2 cpm", required=True, doubted=25.0),
            Tolerance("loft", "loft", "deg", 0.5, "± 0.5°", required=True, doubted=5.0),
            Tolerance("lie", "lie", "deg", 0.5, "± 0.5°", required=True, doubted=5.0),
            Tolerance("grip_size", "grip diameter", "in", 1.0 / 64.0, "± 1/64 in", required=False, doubted=math.inf),
            Tolerance("head_weight", "head weight", "g", 2.0, "± 2 g", required=False, doubted=20.0),
        )
    }
)
