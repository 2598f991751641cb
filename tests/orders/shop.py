"""A small invented shop with orders: a driver, a set of three irons, a few parts on the shelf."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from specdb.catalogue import Catalogue
from tests.support.copies import made_once

IRONS = ("iron-5", "iron-7", "iron-9")
_HEAD: dict[str, Any] = {
    "hand": "right",
    "weight_g": 200.0,
    "bore_depth_in": 1.25,
    "bore_to_ground_in": 1.0,
    "bore_dia_in": 0.338,
    "bore_form": "parallel",
    "bore_kind": "blind",
}


def _shaft(key: str, **more: Any) -> dict[str, Any]:
    return {"id": key, "club_type": "wood", "raw_length_in": 46.0, "tip_dia_in": 0.335, "tip_form": "parallel", **more}


@made_once
def fill(path: Path, *, stock: dict[tuple[str, str], int] | None = None) -> Catalogue:
    """Make the shop.

    Parameters
    ----------
    path : Path
        The file.
    stock : dict, optional
        Pieces on hand by kind and key; enough for everything but the driver's shaft where left out.
    """
    catalogue = Catalogue.create(path)
    usual = {
        ("head", "wren"): 2,
        ("grip", "moss"): 10,
        ("ferrule", "plain"): 10,
        ("shaft", "reed"): 1,
        ("shaft", "sedge"): 2,
        ("shaft", "rush"): 6,
        **{("head", f"coot-{n}"): 2 for n in (5, 7, 9)},
    }
    with catalogue.write(by="tests") as w:
        for key in ("reed", "sedge", "bulrush"):
            w.put("shaft", _shaft(key))
        w.put("shaft", _shaft("rush", club_type="iron", raw_length_in=41.0))
        w.put("shaft", _shaft("thick", tip_dia_in=0.37))
        w.put("shaft", _shaft("stub", raw_length_in=30.0))
        w.put("head", {**_HEAD, "id": "wren", "club_type": "wood"})
        for n in (5, 7, 9):
            w.put("head", {**_HEAD, "id": f"coot-{n}", "club_type": "iron", "number": str(n)})
        w.put("grip", {"id": "moss", "weight_g": 50.0, "cap_in": 0.1, "length_in": 10.5})
        w.put("ferrule", {"id": "plain", "inner_dia_in": 0.335, "outer_dia_in": 0.5, "length_in": 1.0})
        shim = {"inner_dia_in": 0.338, "inner_form": "parallel", "outer_dia_in": 0.369, "outer_form": "parallel"}
        w.put("sleeve", {"id": "shim", **shim, "length_in": 1.25})
        w.put("adhesive", {"id": "epoxy"})
        club = {"grip_id": "moss", "ferrule_id": "plain", "adhesive_id": "epoxy"}
        w.put("club", {**club, "id": "driver", "head_id": "wren", "shaft_id": "reed", "playing_length_in": 45.0})
        for n, length in ((5, 38.0), (7, 37.0), (9, 36.0)):
            w.put(
                "club",
                {
                    **club,
                    "id": f"iron-{n}",
                    "set_id": "irons",
                    "head_id": f"coot-{n}",
                    "shaft_id": "rush",
                    "tip_trim_in": 1.0,
                    "playing_length_in": length,
                },
            )
        for (kind, item), pieces in (usual if stock is None else stock).items():
            w.put(
                "stock_move",
                {"kind": kind, "item_id": item, "quantity": pieces, "reason": "received", "location": "rack"},
            )
    return catalogue
