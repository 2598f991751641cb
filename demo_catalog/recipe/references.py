"""Rows of the kind ``reference_reading``: two steel rods read on the shop's second frequency meter over a few days."""

from __future__ import annotations

from typing import Any

from recipe import makers
from recipe.keys import digest_key
from recipe.readings import METER_2, METER_2_OFFSET_CPM, METER_2_SCALE
from recipe.scatter import normal

Row = dict[str, Any]

DAYS = ("2026-03-02", "2026-03-03", "2026-03-05")
# name, frequency as worked out from its dimensions (cpm), free length (in), mass clipped on (g)
RODS = (("steel rod A", 236.0, 41.0, 205.0), ("steel rod B", 301.5, 33.0, 250.0))
TRUE_SD_CPM = 0.5


def rows() -> list[Row]:
    """All readings of references."""
    found: list[Row] = []
    for day in DAYS:
        for name, true, free, mass in RODS:
            for repeat in (1, 2):
                read = METER_2_OFFSET_CPM + METER_2_SCALE * true + 0.7 * normal("reference", name, day, repeat)
                found.append(
                    {
                        "instrument": METER_2,
                        "reference": name,
                        "quantity": "frequency",
                        "value": round(read),
                        "true_value": true,
                        "true_sd": TRUE_SD_CPM,
                        "free_length_in": free,
                        "tip_mass_g": mass,
                        "taken_on": day,
                        "repeat": repeat,
                        "taken_by": makers.BUILDER,
                        "notes": "Invented.",
                    }
                )
    return [{"id": digest_key("reference_reading", r), **r} for r in found]
