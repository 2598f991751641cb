"""Random but plausible shafts by the thousand, as Arrow tables of the catalogue's columns.

Invented numbers: stiffness rises from tip to butt with ply drop-offs, weights, torques and lengths in the usual ranges.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

STATIONS = 16


def random_shafts(count: int, seed: int = 1, *, stations: int = STATIONS) -> tuple[pa.Table, pa.Table]:
    """Shafts and their published EI readings.

    Parameters
    ----------
    count : int
        Number of shafts.
    seed : int
        Seed of the random numbers.
    stations : int
        EI readings a shaft.

    Returns
    -------
    shafts, readings : pyarrow.Table
        With catalogue headings; shafts sorted by tip, readings by shaft and place.
    """
    rng = np.random.default_rng(seed)
    kind = np.sort(rng.choice(3, count, p=[0.6, 0.15, 0.25]))  # wood, hybrid, iron
    raw = np.array([46.0, 42.0, 41.0])[kind] + rng.choice([0.0, 0.5], count)
    weight = rng.normal(np.array([62.0, 75.0, 105.0])[kind], np.array([8.0, 8.0, 12.0])[kind]).clip(40, 140)
    tip = np.array([0.335, 0.370, 0.370])[kind]
    tip = np.where((kind == 0) & (rng.random(count) < 0.2), 0.350, tip)
    order = np.lexsort([tip, kind])
    kind, raw, weight, tip = kind[order], raw[order], weight[order], tip[order]
    torque = rng.normal(np.array([4.2, 3.3, 2.2])[kind], 0.6).clip(1.2, 7.5)
    balance = raw * rng.normal(0.515, 0.012, count)
    ids = [f"invented-{i:06d}" for i in range(count)]
    shafts: dict[str, Any] = {
        "id": ids,
        "maker": ["Invented Works"] * count,
        "model": [f"Random {i}" for i in range(count)],
        "club_type": np.array(["wood", "hybrid", "iron"], dtype=object)[kind],
        "material": np.where(kind == 2, "steel", "graphite").astype(object),
        "raw_length_in": raw,
        "weight_g": weight.round(1),
        "tip_dia_in": tip,
        "tip_form": ["parallel"] * count,
        "tip_parallel_in": rng.choice([3.5, 4.0, 5.0, 6.0], count),
        "butt_dia_in": np.full(count, 0.600),
        "torque_deg": torque.round(2),
        "torque_gauge_in": raw - 2.0,
        "balance_from_tip_in": balance.round(2),
        "max_tip_trim_in": np.full(count, 2.0),
        "price": rng.uniform(20, 300, count).round(2),
        "currency": ["EUR"] * count,
        "status": ["active"] * count,
        "source": ["invented"] * count,
    }
    place = np.linspace(1.0, raw - 1.0, stations, axis=1)
    x = place / raw[:, None]
    low = rng.normal(np.array([22.0, 27.0, 32.0])[kind], 3.5).clip(13, 45)[:, None]
    high = rng.normal(np.array([68.0, 72.0, 82.0])[kind], 8.0).clip(50, 110)[:, None]
    bend = rng.uniform(0.8, 1.6, (count, 1))
    wave = rng.normal(0, 0.04, (count, 1)) * np.sin(2 * np.pi * x) + rng.normal(0, 0.03, (count, 1)) * np.sin(5 * x)
    ei = (low + (high - low) * x**bend) * (1 + wave + rng.normal(0, 0.008, x.shape))
    readings = {
        "shaft_id": np.repeat(np.array(ids, dtype=object), stations),
        "sample": ["published"] * (count * stations),
        "quantity": ["ei"] * (count * stations),
        "value": ei.ravel().round(2),
        "position_in": place.ravel().round(3),
    }
    return _table("shaft", shafts), _table("shaft_reading", readings)


def _table(kind: str, columns: dict[str, Any]) -> pa.Table:
    """Arrow table with every column of a kind, null where not given."""
    from specdb.schema import load_schema

    count = len(next(iter(columns.values())))
    types = {"number": pa.float64(), "integer": pa.int64(), "boolean": pa.bool_(), "date": pa.date32()}
    arrays, names = [], []
    for field in load_schema().table(kind).fields:
        wanted = types.get(field.type, pa.string())
        values = columns.get(field.name)
        arrays.append(pa.nulls(count, wanted) if values is None else pa.array(values, type=wanted))
        names.append(field.name)
    return pa.Table.from_arrays(arrays, names=names)
