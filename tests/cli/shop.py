"""A small invented shop: enough to ask every question of the command."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from specdb.catalogue import Catalogue
from tests.support.copies import made_once

MAKER = "Quillback Tubeworks (invented)"
STATIONS_IN = (6.0, 11.0, 16.0, 21.0, 26.0, 31.0, 36.0, 41.0)
# tip to butt, N·m²; driver shafts run about 15 to 30 at the tip and 50 to 90 at the butt (common practice, no source)
PROFILE = (22.0, 25.0, 30.0, 37.0, 45.0, 53.0, 60.0, 66.0)


def _wood_shaft(key: str, **more: Any) -> dict[str, Any]:
    shaft: dict[str, Any] = {
        "id": key,
        "maker": MAKER,
        "model": key.title(),
        "flex": "S",
        "club_type": "wood",
        "material": "graphite",
        "raw_length_in": 46.0,
        "weight_g": 64.0,
        "tip_dia_in": 0.335,
        "tip_form": "parallel",
        "tip_parallel_in": 4.0,
        "butt_dia_in": 0.6,
        "torque_deg": 4.0,
        "balance_from_tip_in": 23.6,
        "max_tip_trim_in": 2.0,
        "price": 90.0,
        "currency": "EUR",
    }
    return {**shaft, **more}


def _readings(shaft: str, factor: float, sample: str = "published", upto_in: float = 46.0) -> list[dict[str, Any]]:
    return [
        {"shaft_id": shaft, "sample": sample, "quantity": "ei", "position_in": x, "value": round(ei * factor, 2)}
        for x, ei in zip(STATIONS_IN, PROFILE, strict=True)
        if x <= upto_in
    ]


# stiffness factor, weight, torque
SHAFTS: dict[str, tuple[float, float, float]] = {
    "reed-60-s": (1.00, 64.0, 4.0),
    "reed-60-x": (1.10, 65.0, 3.7),
    "sedge-60-s": (1.02, 63.0, 4.1),
    "sedge-60-r": (0.92, 61.0, 4.5),
    "rush-70-s": (1.03, 72.0, 3.6),
    "rush-50-s": (0.98, 54.0, 4.9),
    "bulrush-65-s": (0.995, 66.0, 3.9),
}


@made_once
def fill(path: Path) -> Catalogue:
    """Make the shop's catalogue."""
    catalogue = Catalogue.create(path)
    with catalogue.write(by="tests", why="made for the tests", done="fill") as w:
        for key, (_, weight, torque) in SHAFTS.items():
            w.put("shaft", _wood_shaft(key, weight_g=weight, torque_deg=torque))
        w.put("shaft", _wood_shaft("label-only-60-s", torque_deg=None, balance_from_tip_in=None, tip_dia_in=None))
        w.put("shaft", _wood_shaft("short-40-s", raw_length_in=40.0))
        w.put("shaft", _wood_shaft("old-60-s", status="retired"))
        w.put("shaft", _wood_shaft("thick-60-s", tip_dia_in=0.370))
        for key, (factor, _, _) in SHAFTS.items():
            for row in _readings(key, factor):
                w.put("shaft_reading", row)
        for key in ("short-40-s", "old-60-s", "thick-60-s"):
            for row in _readings(key, 1.0, upto_in=40.0 if key.startswith("short") else 46.0):
                w.put("shaft_reading", row)
        for row in _readings("bulrush-65-s", 1.01, "piece 1"):
            w.put("shaft_reading", row)
        for value in (65.8, 66.3):
            w.put(
                "shaft_reading",
                {"shaft_id": "bulrush-65-s", "sample": f"piece {value}", "quantity": "weight", "value": value},
            )
        _parts(w)
        _clubs(w)
    return catalogue


def _parts(w: Any) -> None:
    w.put(
        "head",
        {
            "id": "wren-460-10",
            "maker": "Fennel Head Company (invented)",
            "model": "Wren 460",
            "club_type": "wood",
            "number": "1",
            "hand": "right",
            "loft_deg": 10.5,
            "lie_deg": 58.0,
            "volume_cc": 455.0,
            "weight_g": 198.0,
            "bore_dia_in": 0.338,
            "bore_form": "parallel",
            "bore_depth_in": 1.375,
            "bore_kind": "blind",
            "bore_to_ground_in": 1.1,
            "hosel_outer_dia_in": 0.5,
            "cg_below_mouth_in": 1.6,
        },
    )
    w.put(
        "head",
        {
            "id": "wren-460-c",
            "club_type": "wood",
            "hand": "right",
            "weight_g": 196.0,
            "connection": "plume",
            "seat_to_ground_in": 0.9,
        },
    )
    w.put(
        "adapter",
        {
            "id": "plume-335",
            "connection": "plume",
            "hand": "either",
            "bore_dia_in": 0.338,
            "bore_form": "parallel",
            "bore_depth_in": 1.2,
            "bore_to_seat_in": 0.2,
            "weight_g": 5.0,
        },
    )
    for setting, loft in (("STD", 0.0), ("+1", 1.0)):
        w.put("adapter_setting", {"adapter_id": "plume-335", "setting": setting, "loft_change_deg": loft})
    w.put("sleeve", {"id": "shim-335-370", "inner_dia_in": 0.338, "outer_dia_in": 0.37, "weight_g": 1.5})
    w.put(
        "grip",
        {"id": "moss-50", "weight_g": 50.0, "core_dia_in": 0.6, "length_in": 10.5, "cap_in": 0.1},
    )


def _clubs(w: Any) -> None:
    club: dict[str, Any] = {
        "id": "fit-driver",
        "player": "A. Customer (invented)",
        "label": "driver",
        "head_id": "wren-460-10",
        "shaft_id": "reed-60-s",
        "tip_trim_in": 0.5,
        "playing_length_in": 45.0,
        "grip_id": "moss-50",
        "swingweight": "D3",
    }
    w.put("club", club)
    w.put("club", {**club, "id": "fit-unmeasured", "label": "old driver", "shaft_id": "label-only-60-s"})
    for key, pieces in (("sedge-60-s", 3), ("rush-70-s", 1), ("reed-60-x", 2)):
        w.put("stock_move", {"kind": "shaft", "item_id": key, "quantity": pieces, "reason": "received"})
    w.put(
        "supply",
        {"kind": "shaft", "item_id": "reed-60-s", "backordered": True, "supplier": "Hillside (invented)"},
    )
    w.put("weighting", {"id": "soft-hands", "torque_weight": 0.0, "frequency_unit": 4.0})
