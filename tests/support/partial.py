"""A random catalogue of which a part is known only from a leaflet, with the estimates that then stand in."""

from __future__ import annotations

import pyarrow as pa
import pyarrow.compute as pc

from specdb.mechanics.estimated import EstimatedProfiles
from specdb.profiles.columns import EstimateColumns
from specdb.profiles.estimate import estimate_many
from specdb.profiles.evidence import make_case
from specdb.profiles.population import builtin
from specdb.records.rows import Shaft, ShaftReading
from tests.support.random_catalogue import random_shafts


def partly_known(count: int, seed: int, *, of: int = 3) -> tuple[pa.Table, pa.Table, EstimatedProfiles]:
    """Random shafts: one of so many keeps its table, the next some stations near the tip, the others nothing.

    Parameters
    ----------
    count : int
        Number of shafts.
    seed : int
        Seed of the random numbers.
    of : int
        One of how many.

    Returns
    -------
    shafts, readings : pyarrow.Table
        With catalogue headings.
    estimates : EstimatedProfiles
        Of those without a complete table.
    """
    shafts, readings = random_shafts(count, seed=seed)
    number = pc.cast(pc.utf8_slice_codeunits(readings.column("shaft_id"), 9), pa.int64())
    place_in_turn = pa.array([n % of for n in number.to_pylist()])
    near = pc.less(readings.column("position_in"), 14.0)
    keep = pc.or_(pc.equal(place_in_turn, 0), pc.and_(pc.equal(place_in_turn, 1), near))
    readings = readings.filter(keep)
    own: dict[str, list[ShaftReading]] = {}
    for i, row in enumerate(readings.to_pylist()):
        own.setdefault(row["shaft_id"], []).append(ShaftReading(**{**row, "id": f"r{i}"}))
    rows = [Shaft(**row) for row in shafts.to_pylist()]
    partial = [make_case(s, own.get(s.id, ())) for s in rows if int(s.id[9:]) % of]
    return shafts, readings, EstimateColumns.of(estimate_many(partial, builtin())).profiles()
