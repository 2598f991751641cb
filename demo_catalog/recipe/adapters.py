"""Rows of the kinds ``adapter`` and ``adapter_setting``: three invented connections, bored for several tips."""

from __future__ import annotations

from typing import Any

from recipe import makers
from recipe.heads import BORE_335, BORE_350, BORE_370, EIGHT, HALFTURN, THREEPIN, Row
from recipe.scatter import uniform

_MAKER = {EIGHT: makers.ORRIN_VALE, HALFTURN: makers.CASTELLAN, THREEPIN: makers.BRACKWATER}
_MODEL = {EIGHT: "Eight", HALFTURN: "Cup", THREEPIN: "Key"}
# settings: name, loft, lie, face angle
_SETTINGS: dict[str, tuple[tuple[str, float, float, float], ...]] = {
    EIGHT: (("mid", 0.0, 0.0, 0.0), ("up", 1.0, 0.0, 1.0), ("down", -1.0, 0.0, -1.0), ("upright", 0.0, 1.5, 0.5)),
    HALFTURN: (("front", 0.0, 0.0, 0.0), ("back", 1.5, 0.5, 1.5)),
    THREEPIN: (("one", -0.75, 0.0, -0.5), ("two", 0.0, 0.0, 0.0), ("three", 0.75, 0.0, 0.5)),
}


def _adapter(key: str, connection: str, hand: str, bore: Row, depth: float | None, seat: float, weight: float) -> Row:
    maker = _MAKER[connection]
    supplier = makers.SUPPLIER[maker]
    return {
        "id": key,
        "maker": maker,
        "model": _MODEL[connection],
        "connection": connection,
        "hand": hand,
        **bore,
        "bore_depth_in": depth,
        "bore_to_seat_in": seat,
        "weight_g": weight,
        "supplier": supplier,
        "supplier_code": f"{supplier[:2].upper()}-A{100 + int(899 * uniform('adapter', key))}",
        "price": 16.5,
        "currency": "EUR",
        "status": "active",
        "source": makers.SOURCE,
    }


def rows() -> list[Row]:
    """All adapters; the bottom of the bore lies below the seat, so its distance is negative."""
    deep: dict[str, Any] = {
        **_adapter("vale-eight-eight-335-deep", EIGHT, "right", BORE_335, 1.50, -1.15, 7.4),
        "status": "retired",
        "notes": "First make, replaced by vale-eight-eight-335.",
    }
    unknown: dict[str, Any] = {
        **_adapter("halfturn-cup-370-old", HALFTURN, "either", BORE_370, None, -0.85, 7.0),
        "notes": "Depth of the bore was never measured.",
    }
    return [
        _adapter("vale-eight-eight-335", EIGHT, "right", BORE_335, 1.30, -0.95, 5.6),
        _adapter("vale-eight-eight-335-lh", EIGHT, "left", BORE_335, 1.30, -0.95, 5.6),
        _adapter("vale-eight-eight-350", EIGHT, "right", BORE_350, 1.30, -0.95, 5.3),
        _adapter("vale-eight-eight-350-lh", EIGHT, "left", BORE_350, 1.30, -0.95, 5.3),
        deep,
        _adapter("halfturn-cup-335", HALFTURN, "either", BORE_335, 1.20, -0.85, 6.2),
        _adapter("halfturn-cup-350", HALFTURN, "either", BORE_350, 1.20, -0.85, 5.9),
        _adapter("halfturn-cup-370", HALFTURN, "either", BORE_370, 1.20, -0.85, 5.5),
        unknown,
        _adapter("threepin-key-335", THREEPIN, "either", BORE_335, 1.25, -1.00, 5.9),
        _adapter("threepin-key-335-light", THREEPIN, "either", BORE_335, 1.25, -1.00, 4.4),
        _adapter("threepin-key-350", THREEPIN, "either", BORE_350, 1.25, -1.00, 5.7),
    ]


def setting_rows() -> list[Row]:
    """Settings of all adapters."""
    return [
        {
            "adapter_id": adapter["id"],
            "setting": name,
            "loft_change_deg": loft,
            "lie_change_deg": lie,
            "face_change_deg": face,
        }
        for adapter in rows()
        for name, loft, lie, face in _SETTINGS[adapter["connection"]]
    ]
