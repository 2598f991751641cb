"""Invented parts."""

from typing import Any

SHAFT: dict[str, Any] = {
    "id": "trine",
    "maker": "Northfold",
    "model": "Trine",
    "flex": "S",
    "club_type": "wood",
    "raw_length_in": 46.0,
    "weight_g": 62.5,
    "tip_dia_in": 0.335,
    "status": "active",
}
HEAD: dict[str, Any] = {"id": "bluff", "maker": "Northfold", "model": "Bluff", "club_type": "wood", "hand": "right"}
READING: dict[str, Any] = {
    "shaft_id": "trine",
    "sample": "published",
    "quantity": "ei",
    "value": 31.5,
    "position_in": 6,
}
CLUB: dict[str, Any] = {"id": "ada-driver", "head_id": "bluff", "shaft_id": "trine", "playing_length_in": 45.25}


def move(quantity: int, reason: str = "received", **more: object) -> dict[str, Any]:
    return {"kind": "shaft", "item_id": "trine", "quantity": quantity, "reason": reason, **more}
