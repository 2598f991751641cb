"""The invented small parts: adapters with settings, sleeves, ferrules, grips, adhesives, weightings."""

from __future__ import annotations

from typing import Any

Row = dict[str, Any]
SOURCE = "invented for the demonstration"
COMMON: Row = {"supplier": "Fennick Supply", "currency": "EUR", "status": "active", "source": SOURCE}
BORE_FOR = {0.335: 0.338, 0.350: 0.353, 0.370: 0.373}


def adapters() -> list[Row]:
    """Twelve adapters: three connections, several tips, either hand or one."""
    lines = [
        ("Orrin Vale", "Eight", "vale-eight", 0.335, "right", 6.2),
        ("Orrin Vale", "Eight", "vale-eight", 0.335, "left", 6.2),
        ("Orrin Vale", "Eight", "vale-eight", 0.350, "either", 6.0),
        ("Orrin Vale", "Eight", "vale-eight", 0.370, "either", 5.8),
        ("Castellan Forge", "Arden Cup", "arden", 0.335, "right", 7.1),
        ("Castellan Forge", "Arden Cup", "arden", 0.335, "left", 7.1),
        ("Castellan Forge", "Arden Cup", "arden", 0.350, "either", 6.9),
        ("Castellan Forge", "Arden Cup", "arden", 0.370, "either", 6.7),
        ("Brackwater", "Tor Key", "tor-lock", 0.335, "either", 5.4),
        ("Brackwater", "Tor Key", "tor-lock", 0.350, "either", 5.2),
        ("Brackwater", "Tor Key", "tor-lock", 0.370, "either", 5.1),
        ("Brackwater", "Tor Key Long", "tor-lock", 0.335, "either", 6.4),
    ]
    rows = []
    for maker, model, connection, tip, hand, grams in lines:
        tag = {"right": "-rh", "left": "-lh", "either": ""}[hand]
        rows.append(
            {
                **COMMON,
                "id": f"{connection}-{model.lower().replace(' ', '-')}-{int(tip * 1000)}{tag}",
                "maker": maker,
                "model": model,
                "connection": connection,
                "hand": hand,
                "bore_dia_in": BORE_FOR[tip],
                "bore_form": "parallel",
                "bore_depth_in": 1.45 if "Long" in model else 1.25,
                "bore_to_seat_in": -1.00 if "Long" in model else -0.80,
                "weight_g": grams,
                "price": 28.0,
            }
        )
    return rows


SETTINGS: dict[str, list[tuple[str, float, float, float]]] = {
    "vale-eight": [("plain", 0, 0, 0), ("more loft", 1.0, 0.5, 0.75), ("less loft", -1.0, 0.5, -0.75), ("upright", 0, 1.5, 0)],
    "arden": [("plain", 0, 0, 0), ("more loft", 1.5, 0, 1.0), ("less loft", -1.5, 0, -1.0)],
    "tor-lock": [("plain", 0, 0, 0), ("more loft", 1.0, 0, 0.5), ("less loft", -1.0, 0, -0.5), ("flat", 0, -1.0, 0)],
}  # fmt: skip


def adapter_settings() -> list[Row]:
    """Settings of every adapter."""
    return [
        {
            "adapter_id": a["id"],
            "setting": name,
            "loft_change_deg": float(loft),
            "lie_change_deg": float(lie),
            "face_change_deg": float(face),
        }
        for a in adapters()
        for name, loft, lie, face in SETTINGS[a["connection"]]
    ]


def sleeves() -> list[Row]:
    """Sleeves for the usual pairs of tip and bore; the hole admits the tip, the outside the bore."""
    lines = [(0.335, 0.350, 1.5, 0.9), (0.335, 0.370, 1.5, 2.1), (0.350, 0.370, 1.5, 1.2), (0.335, 0.350, 1.25, 0.8)]
    return [
        {
            **COMMON,
            "id": f"shim-{int(tip * 1000)}-{int(outer * 1000)}-{length:g}",
            "inner_dia_in": round(tip + 0.0025, 4),
            "inner_form": "parallel",
            "outer_dia_in": outer,
            "outer_form": "parallel",
            "length_in": length,
            "weight_g": grams,
            "price": 1.2,
        }
        for tip, outer, length, grams in lines
    ]


def ferrules() -> list[Row]:
    """Ferrules."""
    lines = [(0.335, 0.500, 0.5, 1.0), (0.350, 0.500, 0.5, 1.0), (0.355, 0.530, 0.75, 1.4), (0.370, 0.530, 0.75, 1.5)]
    return [
        {
            **COMMON,
            "id": f"ferrule-{int(inner * 1000)}-{int(outer * 1000)}",
            "inner_dia_in": inner,
            "outer_dia_in": outer,
            "length_in": length,
            "weight_g": grams,
            "price": 0.6,
        }
        for inner, outer, length, grams in lines
    ]


def grips() -> list[Row]:
    """Grips of the invented maker Pellow."""
    lines = [
        ("Reed", 50.0, 0.600, 10.5, "round", 4.2),
        ("Reed", 50.0, 0.580, 10.5, "round", None),
        ("Reed Mid", 56.0, 0.600, 10.5, "round", 4.3),
        ("Reed Light", 38.0, 0.600, 10.5, "round", None),
        ("Sedge Cord", 52.0, 0.600, 10.6, "ribbed", 4.2),
        ("Sedge Cord", 51.0, 0.580, 10.6, "ribbed", 4.2),
        ("Tussock Putter", 75.0, 0.580, 11.0, "ribbed", 5.0),
    ]
    return [
        {
            **COMMON,
            "id": f"pellow-{model.lower().replace(' ', '-')}-{int(grams)}-{int(core * 1000)}",
            "maker": "Pellow",
            "model": model,
            "weight_g": grams,
            "core_dia_in": core,
            "length_in": length,
            "cap_in": 0.25,
            "balance_from_cap_in": balance,
            "rib": rib,
            "price": 9.0,
        }
        for model, grams, core, length, rib, balance in lines
    ]


def adhesives() -> list[Row]:
    """Adhesives; strengths in the usual range of two-part epoxies."""
    return [
        {**COMMON, "id": "slow-epoxy", "shear_mpa": 24.0, "gap_min_in": 0.001, "gap_max_in": 0.006, "cure_hours": 24.0},
        {**COMMON, "id": "quick-epoxy", "shear_mpa": 16.0, "gap_min_in": 0.002, "gap_max_in": 0.005, "cure_hours": 4.0},
        {**COMMON, "id": "test-day-epoxy", "shear_mpa": None, "cure_hours": 1.0, "notes": "strength not stated by its maker"},
    ]  # fmt: skip


def weightings() -> list[Row]:
    """Two weightings of the shop."""
    return [
        {"id": "feel-first", "torque_weight": 0.5, "kick_point_weight": 0.5, "frequency_unit": 2.0, "notes": "invented"},
        {"id": "weight-sensitive", "shaft_weight_unit": 2.5, "total_weight_unit": 3.0, "moi_unit": 8.0, "notes": "invented"},
    ]  # fmt: skip
