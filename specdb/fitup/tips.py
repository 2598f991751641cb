"""From catalogue records to tip geometry, and what is missing or assumed about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from specdb.fitup.geometry import TipArrays, TipReadings
from specdb.mechanics.constants import TAPER_GROWTH_IN_PER_IN
from specdb.records.rows import Shaft, ShaftReading

PUBLISHED = "published"
SAME_PLACE_IN = 1e-3


def diameter_readings(readings: Iterable[ShaftReading], shaft_id: str) -> tuple[list[float], list[float]]:
    """Readings of outside diameter of one shaft by place.

    Measured ones count where there are any, else the published table; readings at one place are averaged.

    Parameters
    ----------
    readings : iterable of ShaftReading
        Any readings.
    shaft_id : str
        The shaft.

    Returns
    -------
    position_in, dia_in : list of float
        From the raw tip end, growing, in; outside diameter, in.
    """
    taken = [
        (r.position_in, r.value, r.sample == PUBLISHED)
        for r in readings
        if r.shaft_id == shaft_id and r.quantity == "outside_diameter" and r.position_in is not None
    ]
    if any(not published for _, _, published in taken):
        taken = [t for t in taken if not t[2]]
    groups: list[list[tuple[float, float]]] = []
    for position, value, _ in sorted(taken):
        if groups and position - groups[-1][0][0] <= SAME_PLACE_IN:
            groups[-1].append((position, value))
        else:
            groups.append([(position, value)])
    return [g[0][0] for g in groups], [sum(v for _, v in g) / len(g) for g in groups]


def tip_arrays(shafts: Sequence[Shaft], readings: Iterable[ShaftReading] = ()) -> TipArrays:
    """Tip geometry of shafts given as records.

    Parameters
    ----------
    shafts : sequence of Shaft
        N shafts.
    readings : iterable of ShaftReading
        Readings of any of them.
    """
    rows = list(readings)
    nan = float("nan")
    known_form = [s.tip_form in ("parallel", "taper") for s in shafts]
    start, position, dia = [0], [], []
    for shaft in shafts:
        p, v = diameter_readings(rows, shaft.id) if rows else ([], [])
        position += p
        dia += v
        start.append(len(position))
    read = TipReadings(np.array(start, dtype=np.int64), np.array(position, float), np.array(dia, float))
    return TipArrays(
        tip_dia_in=np.array(
            [s.tip_dia_in if k and s.tip_dia_in is not None else nan for s, k in zip(shafts, known_form, strict=True)]
        ),
        parallel_in=np.array([nan if s.tip_parallel_in is None else s.tip_parallel_in for s in shafts]),
        growth_in_per_in=np.array([nan if s.tip_growth_in_per_in is None else s.tip_growth_in_per_in for s in shafts]),
        taper=np.array([s.tip_form == "taper" for s in shafts], dtype=bool),
        readings=read if position else None,
    )


def missing_tip_fields(shaft: Shaft) -> list[str]:
    """Fields without which the nominal shape of a tip is unknown.

    Parameters
    ----------
    shaft : Shaft
        The shaft.
    """
    needed = {"shaft.tip_dia_in": shaft.tip_dia_in, "shaft.tip_form": shaft.tip_form}
    if shaft.tip_form != "taper":
        needed["shaft.tip_parallel_in"] = shaft.tip_parallel_in
    return [name for name, value in needed.items() if value is None]


def growth_assumed(shaft: Shaft, reach_in: float) -> bool:
    """Whether the assumed growth enters the diameter as far as ``reach_in`` from the raw tip end.

    Parameters
    ----------
    shaft : Shaft
        The shaft.
    reach_in : float
        How far up the tip is looked at, in.
    """
    if shaft.tip_growth_in_per_in is not None:
        return False
    if shaft.tip_form == "taper":
        return True
    return shaft.tip_parallel_in is not None and reach_in > shaft.tip_parallel_in


GROWTH_ASSUMED = (
    f"growth of the outside diameter unknown: {TAPER_GROWTH_IN_PER_IN:g} in per in taken (common practice, no source)"
)
