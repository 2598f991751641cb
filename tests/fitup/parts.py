"""Invented parts for the fit-up tests, of the usual diameters and lengths (common practice, no source)."""

from __future__ import annotations

from typing import Any

from specdb.fitup import FitQuestion
from specdb.records.rows import Adapter, Adhesive, Ferrule, Grip, Head, Shaft, Sleeve


def shaft(**fields: Any) -> Shaft:
    """A parallel 0.370 in iron shaft."""
    known: dict[str, Any] = {
        "id": "tallow-parallel",
        "club_type": "iron",
        "material": "graphite",
        "raw_length_in": 41.0,
        "tip_dia_in": 0.370,
        "tip_form": "parallel",
        "tip_parallel_in": 6.0,
        "tip_growth_in_per_in": 0.0075,
        "butt_dia_in": 0.600,
        "max_tip_trim_in": 2.0,
    }
    return Shaft(**{**known, **fields})


def head(**fields: Any) -> Head:
    """A glued iron head with a parallel bore that takes a 0.370 in tip."""
    known: dict[str, Any] = {
        "id": "tallow-iron-7",
        "club_type": "iron",
        "hand": "right",
        "weight_g": 268.0,
        "loft_deg": 31.0,
        "lie_deg": 62.5,
        "bore_dia_in": 0.3735,
        "bore_form": "parallel",
        "bore_depth_in": 1.25,
        "bore_to_ground_in": 1.25,
        "hosel_outer_dia_in": 0.540,
        "max_ream_dia_in": 0.385,
        "max_bend_deg": 2.0,
    }
    return Head(**{**known, **fields})


def wood_head(**fields: Any) -> Head:
    """A wood head with a connection."""
    known: dict[str, Any] = {
        "id": "tallow-wood-1",
        "club_type": "wood",
        "hand": "right",
        "weight_g": 198.0,
        "loft_deg": 10.5,
        "lie_deg": 58.0,
        "volume_cc": 455.0,
        "connection": "tallow-click",
        "seat_to_ground_in": 1.6,
        "max_bend_deg": 0.0,
    }
    return Head(**{**known, **fields})


def adapter(**fields: Any) -> Adapter:
    """An adapter that takes a 0.335 in tip."""
    known: dict[str, Any] = {
        "id": "tallow-click-335",
        "connection": "tallow-click",
        "hand": "either",
        "bore_dia_in": 0.3385,
        "bore_form": "parallel",
        "bore_depth_in": 1.5,
        "bore_to_seat_in": 0.1,
        "weight_g": 8.0,
    }
    return Adapter(**{**known, **fields})


def sleeve(inner_in: float, outer_in: float, **fields: Any) -> Sleeve:
    """A parallel sleeve."""
    known: dict[str, Any] = {
        "id": f"sleeve-{inner_in * 1e4:.0f}-{outer_in * 1e4:.0f}",
        "inner_dia_in": inner_in,
        "outer_dia_in": outer_in,
        "inner_form": "parallel",
        "outer_form": "parallel",
        "length_in": 1.5,
        "weight_g": 1.2,
    }
    return Sleeve(**{**known, **fields})


def ferrule(**fields: Any) -> Ferrule:
    """A ferrule for a 0.370 in tip on a hosel of 0.540 in."""
    known: dict[str, Any] = {"id": "collar-370", "inner_dia_in": 0.370, "outer_dia_in": 0.545, "length_in": 1.0}
    return Ferrule(**{**known, **fields})


def grip(**fields: Any) -> Grip:
    """A grip of 0.600 in core."""
    known: dict[str, Any] = {"id": "tallow-grip-60", "core_dia_in": 0.600, "length_in": 10.5, "cap_in": 0.25}
    return Grip(**{**known, **fields})


def adhesive(**fields: Any) -> Adhesive:
    """An adhesive that states a strength and no gap limits."""
    known: dict[str, Any] = {"id": "tallow-epoxy", "shear_mpa": 20.0}
    return Adhesive(**{**known, **fields})


def question(**fields: Any) -> FitQuestion:
    """A glued iron that fits."""
    known: dict[str, Any] = {"shaft": shaft(), "head": head()}
    return FitQuestion(**{**known, **fields})
