"""Random but plausible iron shafts for sets: cut in a progression, or sold by club number. All invented."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from specdb.mechanics.assembly import Parts
from specdb.records.rows import Grip, Head, Shaft, ShaftReading
from specdb.sets.members import SetMember
from tests.support.random_catalogue import random_shafts

NUMBERS = ("4", "5", "6", "7", "8", "9", "PW")
GRIP = Grip(id="grip", weight_g=50.0, cap_in=0.1, core_dia_in=0.6, length_in=10.5, balance_from_cap_in=4.2)


def iron_head(number: int, /, **changes: Any) -> Head:
    """The head of the n-th club of a set, seven grams heavier a club.

    Parameters
    ----------
    number : int
        From 0 to 6.
    changes : values
        Other fields.
    """
    values: dict[str, Any] = {
        "id": f"head-{NUMBERS[number].lower()}",
        "maker": "Invented Forge",
        "model": "Wrack",
        "club_type": "iron",
        "number": NUMBERS[number],
        "hand": "right",
        "loft_deg": 22.0 + 4.0 * number,
        "lie_deg": 61.0 + 0.5 * number,
        "offset_in": 0.15 - 0.01 * number,
        "weight_g": 251.0 + 7.0 * number,
        "bore_dia_in": 0.3735,
        "bore_form": "parallel",
        "bore_depth_in": 1.25,
        "bore_kind": "blind",
        "bore_to_ground_in": 1.0,
        "hosel_outer_dia_in": 0.540,
        "max_bend_deg": 3.0,
        "cg_below_mouth_in": 2.0,
    }
    return Head(**{**values, **changes})


def length_in(number: int) -> float:
    """Playing length of the n-th club, half an inch shorter a club.

    Parameters
    ----------
    number : int
        From 0 to 6.
    """
    return 38.5 - 0.5 * number


def set_shafts(count: int, seed: int, *, models: int = 0) -> tuple[pa.Table, pa.Table]:
    """Shafts of which the irons can be cut in a progression, and some models by number.

    Parameters
    ----------
    count : int
        Shafts for all clubs, a quarter of them irons.
    seed : int
        Seed of the random numbers.
    models : int
        Models by number, seven shafts each.

    Returns
    -------
    shafts, readings : pyarrow.Table
        With catalogue headings.
    """
    shafts, readings = random_shafts(count, seed=seed)
    rows = shafts.to_pylist()
    for row in rows:
        if row["club_type"] == "iron":
            row.update(max_tip_trim_in=4.5, tip_parallel_in=7.0)
    taken = [{**r, "id": f"r{i}"} for i, r in enumerate(readings.to_pylist())]
    for model in range(models):
        some, own = numbered_model(seed * 1000 + model)
        rows += some
        taken += own
    rows.sort(key=lambda r: (r["tip_form"], r["tip_dia_in"], r["id"]))
    return pa.Table.from_pylist(rows, schema=shafts.schema), pa.Table.from_pylist(taken, schema=readings.schema)


def numbered_model(seed: int, *, shift: int = 0) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """A model by number whose shafts get shorter and stiffer from number to number.

    Parameters
    ----------
    seed : int
        Seed of the random numbers; the same seed is the same shafts.
    shift : int
        How many numbers later a shaft is sold for, so that it is the same shaft under another number.
    """
    rng = np.random.default_rng(seed)
    level, torque, weight = rng.normal(1.0, 0.06), rng.normal(2.2, 0.2), rng.normal(108.0, 6.0)
    name = f"Numbered {seed}" + (f" Shifted {shift}" if shift else "")
    shafts, readings = [], []
    for place in range(3, 12):
        number = place + shift
        raw = 41.0 - 0.5 * (place - 3)
        key = f"{name.lower().replace(' ', '-')}-{number}"
        shafts.append(
            {
                "id": key,
                "maker": "Invented Works",
                "model": name,
                "flex": "S",
                "club_type": "iron",
                "club_number": {10: "PW", 11: "AW", 12: "SW", 13: "LW"}.get(number, str(number)),
                "material": "steel",
                "raw_length_in": raw,
                "weight_g": round(float(weight), 1),
                "tip_dia_in": 0.370,
                "tip_form": "parallel",
                "tip_parallel_in": 7.0,
                "butt_dia_in": 0.600,
                "torque_deg": round(float(torque - 0.04 * place), 2),
                "torque_gauge_in": raw - 2.0,
                "balance_from_tip_in": round(0.51 * raw, 2),
                "max_tip_trim_in": 0.0,
                "price": 30.0,
                "currency": "EUR",
                "status": "active",
                "source": "invented",
            }
        )
        at = np.linspace(1.0, raw - 1.0, 12)
        # a shorter shaft starts further up the blank
        ei = level * (27.0 + 59.0 * ((at + 0.5 * (place - 3)) / 41.0) ** 1.3)
        readings += [
            {
                "id": f"{key}-{i}",
                "shaft_id": key,
                "sample": "published",
                "quantity": "ei",
                "value": round(float(e), 2),
                "position_in": round(float(s), 3),
            }
            for i, (s, e) in enumerate(zip(at, ei, strict=True))
        ]
    return shafts, readings


def member(
    number: int, shaft: dict[str, Any], readings: list[dict[str, Any]], trim_in: float, **changes: Any
) -> SetMember:
    """The n-th club of a set.

    Parameters
    ----------
    number : int
        From 0 to 6.
    shaft : dict
        Row of its shaft.
    readings : list of dict
        Readings of any shafts.
    trim_in : float
        Tip trim, in.
    changes : values
        Other fields of the parts.
    """
    own = [ShaftReading(**r) for r in readings if r["shaft_id"] == shaft["id"]]
    parts: dict[str, Any] = {
        "shaft": Shaft(**shaft),
        "readings": tuple(own),
        "head": iron_head(number),
        "grip": GRIP,
        "playing_length_in": length_in(number),
        "swingweight": "D2",
        "tip_trim_in": trim_in,
    }
    return SetMember(
        club_id=f"club-{NUMBERS[number].lower()}", label=NUMBERS[number], parts=Parts(**{**parts, **changes})
    )
