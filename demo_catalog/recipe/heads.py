"""Rows of the kind ``head``: woods glued and with a connection, hybrids, sets of irons, wedges, putters."""

from __future__ import annotations

from typing import Any

from recipe import makers
from recipe.scatter import uniform

Row = dict[str, Any]

EIGHT, HALFTURN, THREEPIN = "vale-eight", "halfturn", "threepin"
BORE_335 = {"bore_dia_in": 0.3385, "bore_form": "parallel"}
BORE_350 = {"bore_dia_in": 0.3535, "bore_form": "parallel"}
BORE_370 = {"bore_dia_in": 0.3735, "bore_form": "parallel"}
# a taper tip of 0.355 in has grown to 0.364 in at the mouth of a bore 1.2 in deep
BORE_355_TAPER = {"bore_dia_in": 0.3670, "bore_form": "taper"}

_FORGED = {"material": "1020 carbon steel", "construction": "forged", "hosel_material": "1020 carbon steel"}
_CAST_431 = {"material": "431 stainless steel", "construction": "cast", "hosel_material": "431 stainless steel"}
_CAST_174 = {"material": "17-4 stainless steel", "construction": "cast", "hosel_material": "17-4 stainless steel"}
_TITANIUM = {"material": "titanium alloy", "construction": "cast", "hosel_material": "titanium alloy"}


def _head(key: str, maker: str, model: str, club_type: str, number: str, hand: str, **more: Any) -> Row:
    price = {"wood": 185.0, "hybrid": 98.0, "iron": 52.0, "wedge": 61.0, "putter": 112.0}[club_type]
    supplier = makers.SUPPLIER[maker]
    base: Row = {
        "id": f"{makers.SHORT[maker]}-{key}h",
        "maker": maker,
        "model": model,
        "club_type": club_type,
        "number": number,
        "hand": hand,
        "supplier": supplier,
        "supplier_code": f"{supplier[:2].upper()}-H{1000 + int(8999 * uniform('head', key))}",
        "price": price + round(8 * uniform("head price", maker, model)),
        "currency": "EUR",
        "status": "active",
        "source": makers.SOURCE,
    }
    return {**base, **more}


def _glued(depth: float, ground: float, hosel: float, ream: float | None, cg: float | None) -> Row:
    return {
        "bore_depth_in": depth,
        "bore_kind": "blind",
        "bore_to_ground_in": ground,
        "hosel_outer_dia_in": hosel,
        "max_ream_dia_in": ream,
        "cg_below_mouth_in": cg,
    }


def _drivers() -> list[Row]:
    found = []
    for loft, hand in ((9.0, "right"), (10.5, "right"), (12.0, "right"), (10.5, "left")):
        found.append(
            _head(
                f"escarp-460-{loft:g}-{hand[0]}", makers.ORRIN_VALE, "Escarp 460", "wood", "1", hand, **_TITANIUM,
                loft_deg=loft, lie_deg=58.5, face_angle_deg=0.0, volume_cc=458.0, weight_g=199.5, max_bend_deg=0.0,
                connection=EIGHT, seat_to_ground_in=2.15, cg_below_mouth_in=1.20,
            )
        )  # fmt: skip
    for loft, hand in ((9.5, "right"), (10.5, "right"), (10.5, "left")):
        found.append(
            _head(
                f"fulmar-455-{loft:g}-{hand[0]}", makers.CASTELLAN, "Fulmar 455", "wood", "1", hand, **_TITANIUM,
                loft_deg=loft, lie_deg=59.0, face_angle_deg=0.5, volume_cc=455.0, weight_g=198.0, max_bend_deg=0.0,
                connection=HALFTURN, seat_to_ground_in=2.05,
                cg_below_mouth_in=None if hand == "left" else 1.25,
            )
        )  # fmt: skip
    found += [
        _head(
            f"breakwater-460-{loft:g}-r", makers.BRACKWATER, "Breakwater 460", "wood", "1", "right", **_TITANIUM,
            loft_deg=loft, lie_deg=58.0, face_angle_deg=0.0, volume_cc=460.0, weight_g=201.0, max_bend_deg=0.0,
            connection=THREEPIN, seat_to_ground_in=2.20, cg_below_mouth_in=1.25,
        )
        for loft in (9.0, 10.5)
    ]  # fmt: skip
    found += [
        _head(
            f"gannet-1-10.5-{hand[0]}", makers.BRACKWATER, "Gannet", "wood", "1", hand, **_TITANIUM,
            loft_deg=10.5, lie_deg=58.0, face_angle_deg=0.5, volume_cc=440.0, weight_g=203.0, max_bend_deg=0.0,
            **BORE_335, **_glued(1.375, 1.25, 0.500, None, 1.45),
        )
        for hand in ("right", "left")
    ]  # fmt: skip
    found.append(
        _head(
            "slipway-420-10.5-r", makers.BRACKWATER, "Slipway 420", "wood", "1", "right", **_TITANIUM, loft_deg=10.5,
            lie_deg=57.5, face_angle_deg=1.0, volume_cc=420.0, weight_g=204.0, max_bend_deg=0.0, **BORE_350,
            **_glued(1.25, 1.25, 0.510, None, 1.40), notes="Bored for a 0.350 in tip.",
        )
    )  # fmt: skip
    return found


def _fairways() -> list[Row]:
    found = []
    for number, loft, lie, weight, volume, hand in (
        ("3", 15.0, 57.5, 212.0, 172.0, "right"),
        ("5", 18.0, 58.0, 216.0, 158.0, "right"),
        ("3", 15.0, 57.5, 212.0, 172.0, "left"),
    ):
        found.append(
            _head(
                f"escarp-f-{number}-{hand[0]}", makers.ORRIN_VALE, "Escarp F", "wood", number, hand, **_CAST_174,
                loft_deg=loft, lie_deg=lie, face_angle_deg=0.0, volume_cc=volume, weight_g=weight, max_bend_deg=0.5,
                connection=EIGHT, seat_to_ground_in=2.05, cg_below_mouth_in=1.05,
            )
        )  # fmt: skip
    for number, loft, weight, volume in (("3", 15.5, 211.0, 175.0), ("5", 19.0, 217.0, 160.0)):
        found.append(
            _head(
                f"fulmar-f-{number}-r", makers.CASTELLAN, "Fulmar F", "wood", number, "right", **_CAST_174, loft_deg=loft,
                lie_deg=57.5, face_angle_deg=0.5, volume_cc=volume, weight_g=weight, max_bend_deg=None,
                connection=HALFTURN, seat_to_ground_in=2.00, cg_below_mouth_in=None,
            )
        )  # fmt: skip
    for number, loft, weight, volume in (
        ("3", 15.0, 213.0, 165.0),
        ("5", 18.5, 218.0, 150.0),
        ("7", 21.5, 224.0, 140.0),
    ):
        found.append(
            _head(
                f"breakwater-f-{number}-r", makers.BRACKWATER, "Breakwater F", "wood", number, "right", **_CAST_174,
                loft_deg=loft, lie_deg=57.0, face_angle_deg=0.0, volume_cc=volume, weight_g=weight, max_bend_deg=1.0,
                **BORE_335, **_glued(1.375, 1.10, 0.490, 0.356, 1.35),
            )
        )  # fmt: skip
    return found


def _hybrids() -> list[Row]:
    found = []
    for number, loft, weight, hand in (
        ("3", 19.0, 233.0, "right"),
        ("4", 22.0, 238.0, "right"),
        ("4", 22.0, 238.0, "left"),
    ):
        found.append(
            _head(
                f"fulmar-h-{number}-{hand[0]}", makers.CASTELLAN, "Fulmar H", "hybrid", number, hand, **_CAST_174,
                loft_deg=loft, lie_deg=58.5, face_angle_deg=0.0, weight_g=weight, max_bend_deg=1.0,
                connection=HALFTURN, seat_to_ground_in=1.95, cg_below_mouth_in=1.00,
            )
        )  # fmt: skip
    for number, loft, weight in (("3", 19.5, 232.0), ("4", 22.5, 237.0), ("5", 25.5, 242.0)):
        found.append(
            _head(
                f"breakwater-h-{number}-r", makers.BRACKWATER, "Breakwater H", "hybrid", number, "right", **_CAST_174,
                loft_deg=loft, lie_deg=58.0 + 0.5 * (int(number) - 3), face_angle_deg=0.0, weight_g=weight,
                max_bend_deg=1.5, offset_in=0.05, **BORE_370, **_glued(1.25, 1.10, 0.515, 0.385, 1.40),
            )
        )  # fmt: skip
    return found


_NUMBERS = ("4", "5", "6", "7", "8", "9", "PW", "AW")


def _irons() -> list[Row]:
    """Weights in steps of 7 g, lie in steps of half a degree."""
    found = []
    sets = (
        ("coulter", makers.ORRIN_VALE, "Coulter", "right", _NUMBERS[:7], _FORGED, (23, 26, 30, 34, 38, 42, 46), 4.0),
        ("groyne", makers.BRACKWATER, "Groyne", "right", _NUMBERS, _CAST_431, (21, 24, 27, 31, 35.5, 40, 45, 50), 3.0),
        ("groyne", makers.BRACKWATER, "Groyne", "left", _NUMBERS[1:7], _CAST_431, (24, 27, 31, 35.5, 40, 45), 3.0),
        ("mattock", makers.CASTELLAN, "Mattock", "right", _NUMBERS[1:7], _CAST_174, (22, 25, 28.5, 33, 38, 43), 1.0),
    )
    for key, maker, model, hand, numbers, made, lofts, bend in sets:
        for number, loft in zip(numbers, lofts, strict=True):
            place = _NUMBERS.index(number)
            taper = key == "coulter"
            bored = {**BORE_355_TAPER, **_glued(1.20, 1.00, 0.530, 0.378, 2.0)} if taper else {
                **BORE_370, **_glued(1.25, 0.95, 0.540, 0.390, 2.1 if key == "groyne" else None)
            }  # fmt: skip
            found.append(
                _head(
                    f"{key}-{number.lower()}-{hand[0]}", maker, model, "iron", number, hand, **made, loft_deg=float(loft),
                    lie_deg=61.0 + 0.5 * place, weight_g=(249.0 if taper else 251.0) + 7.0 * place,
                    offset_in=0.16 - 0.015 * place if taper else 0.24 - 0.015 * place, max_bend_deg=bend, **bored,
                )
            )  # fmt: skip
    return found


def _wedges() -> list[Row]:
    found = []
    for loft, weight, hand in ((52, 296.0, "right"), (56, 301.0, "right"), (60, 303.0, "right"), (56, 301.0, "left")):
        found.append(
            _head(
                f"dibber-{loft}-{hand[0]}", makers.ORRIN_VALE, "Dibber", "wedge", str(loft), hand, **_FORGED,
                loft_deg=float(loft), lie_deg=64.0, weight_g=weight, offset_in=0.03, max_bend_deg=4.0,
                **BORE_355_TAPER, **_glued(1.20, 1.00, 0.530, 0.378, 2.0), notes="Bounce 10 degrees.",
            )
        )  # fmt: skip
    for loft, weight in ((50, 294.0), (54, 299.0), (58, 303.0)):
        found.append(
            _head(
                f"scarify-{loft}-r", makers.BRACKWATER, "Scarify", "wedge", str(loft), "right", **_CAST_431,
                loft_deg=float(loft), lie_deg=63.5, weight_g=weight, offset_in=0.05, max_bend_deg=3.0, **BORE_370,
                **_glued(1.25, 0.95, 0.540, 0.390, None), notes="Bounce 12 degrees.",
            )
        )  # fmt: skip
    return found


def _putters() -> list[Row]:
    found = []
    for key, model, hand, weight, lie, offset in (
        ("plumbline-r", "Plumbline", "right", 352.0, 71.0, 0.45),
        ("plumbline-l", "Plumbline", "left", 352.0, 71.0, 0.45),
        ("bobbin-r", "Bobbin", "right", 368.0, 70.5, 0.30),
        ("bobbin-l", "Bobbin", "left", 368.0, 70.5, 0.30),
    ):
        mallet = model == "Bobbin"
        found.append(
            _head(
                key, makers.CASTELLAN, model, "putter", "P", hand, **(_CAST_174 if mallet else _FORGED), loft_deg=3.0,
                lie_deg=lie, weight_g=weight, offset_in=offset, max_bend_deg=2.0 if mallet else None, **BORE_370,
                **_glued(1.15, 0.75, 0.520, None, 1.70),
            )
        )  # fmt: skip
    return found


def rows() -> list[Row]:
    """All heads."""
    return [*_drivers(), *_fairways(), *_hybrids(), *_irons(), *_wedges(), *_putters()]
