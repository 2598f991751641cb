"""A few hundred random shafts and a driver, shared by the matching tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pyarrow as pa
import pytest

from specdb.fitup.question import Shelf
from specdb.matching import MatchIndex, SubstituteQuestion, build_index
from specdb.mechanics.assembly import Parts
from specdb.records.rows import Grip, Head, Shaft, ShaftReading
from tests.support.random_catalogue import random_shafts

HEAD = Head(
    id="head",
    club_type="wood",
    hand="right",
    weight_g=197,
    bore_dia_in=0.338,
    bore_form="parallel",
    bore_depth_in=1.25,
    bore_to_ground_in=1.5,
    hosel_outer_dia_in=0.500,
    cg_below_mouth_in=1.3,
)
GRIP = Grip(id="grip", weight_g=50, cap_in=0.25, length_in=10.5, balance_from_cap_in=4.2)


@dataclass
class Shop:
    """Tables that a test may change before the index is made."""

    shafts: pa.Table
    readings: pa.Table

    def index(self) -> MatchIndex:
        return build_index(self.shafts, self.readings)

    def set(self, shaft_id: str, **values: Any) -> None:
        rows = self.shafts.to_pylist()
        for row in rows:
            if row["id"] == shaft_id:
                row.update(values)
        self.shafts = pa.Table.from_pylist(rows, schema=self.shafts.schema)

    def drop_readings(self, shaft_id: str) -> None:
        rows = [r for r in self.readings.to_pylist() if r["shaft_id"] != shaft_id]
        self.readings = pa.Table.from_pylist(rows, schema=self.readings.schema)

    def club(self, shaft_id: str, **values: Any) -> Parts:
        row = next(r for r in self.shafts.to_pylist() if r["id"] == shaft_id)
        own = [r for r in self.readings.to_pylist() if r["shaft_id"] == shaft_id]
        parts: dict[str, Any] = {
            "shaft": Shaft(**row),
            "readings": tuple(ShaftReading(**{**r, "id": f"r{i}"}) for i, r in enumerate(own)),
            "head": HEAD,
            "grip": GRIP,
            "playing_length_in": 44.5,
            "swingweight": "D2",
            "tip_trim_in": 0.5,
        }
        return Parts(**{**parts, **values})

    def ask(self, shaft_id: str, **values: Any) -> SubstituteQuestion:
        club = self.club(shaft_id, **values.pop("club", {}))
        return SubstituteQuestion(**{"club": club, "shelf": Shelf(), **values})


@pytest.fixture
def shop() -> Shop:
    shafts, readings = random_shafts(300, seed=8)
    return Shop(shafts, readings)
