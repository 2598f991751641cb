"""The invented heads: woods and hybrids (three connections, and glued), iron sets, wedges, putters."""

from __future__ import annotations

from typing import Any

Row = dict[str, Any]
SOURCE = "invented for the demonstration"
# makers: Orrin Vale, Castellan Forge, Brackwater; none exists
CONNECTIONS = {"Orrin Vale": "vale-eight", "Castellan Forge": "arden", "Brackwater Tor": "tor-lock"}
IRON_LOFTS = {"2": 17.5, "3": 20.0, "4": 22.5, "5": 25.5, "6": 28.5, "7": 32.0, "8": 36.0, "9": 41.0, "PW": 46.0}
IRON_LIES = {"2": 59.5, "3": 60.0, "4": 60.5, "5": 61.0, "6": 61.5, "7": 62.0, "8": 62.5, "9": 63.0, "PW": 63.5}
IRON_GRAMS = {"2": 234, "3": 240, "4": 247, "5": 254, "6": 261, "7": 268, "8": 275, "9": 283, "PW": 289}


def _key(*words: str) -> str:
    return "-".join(w.lower().replace(" ", "-") for w in words if w)


def _head(maker: str, model: str, kind: str, number: str, hand: str, **row: Any) -> Row:
    side = "rh" if hand == "right" else "lh"
    loft = f"{row['loft_deg']:g}" if kind in ("wood", "wedge") else ""
    return {
        "id": _key(maker, model, number, loft, side),
        "maker": maker,
        "model": model,
        "club_type": kind,
        "number": number,
        "hand": hand,
        "supplier": "Fennick Supply",
        "currency": "EUR",
        "status": "active",
        "source": SOURCE,
        **row,
    }


def _woods_of(maker: str, model: str, connection: str, lines: list[tuple[str, str, float, str]]) -> list[Row]:
    """Woods and hybrids with a connection: kind, number, loft, hand."""
    rows = []
    for kind, number, loft, hand in lines:
        driver = kind == "wood" and number == "1"
        grams = (
            196.0 if driver else 208.0 + 3.0 * (int(number) - 3) if kind == "wood" else 228.0 + 4.0 * (int(number) - 3)
        )
        rows.append(
            _head(
                maker,
                model if driver else f"{model} {'Fairway' if kind == 'wood' else 'Rescue'}",
                kind,
                number,
                hand,
                loft_deg=loft,
                lie_deg=58.5 if driver else 57.5 + 0.5 * (int(number) - 3) + (2.0 if kind == "hybrid" else 0.0),
                face_angle_deg=0.5 if driver else 0.0,
                volume_cc=460.0 if driver else 175.0 if kind == "wood" else 120.0,
                weight_g=grams,
                material="titanium" if driver else "maraging steel",
                construction="cast",
                cg_below_mouth_in=1.35 if driver else None if kind == "hybrid" else 1.20,
                connection=connection,
                seat_to_ground_in=2.30 if driver else 2.05,
                max_bend_deg=0.0,
                price=290.0 if driver else 190.0,
            )
        )
    return rows


def _glued_woods() -> list[Row]:
    lines = [("1", 10.5, "right"), ("1", 10.5, "left"), ("3", 15.0, "right"), ("5", 18.0, "right"), ("7", 21.0, "right"),
             ("3", 15.0, "left")]  # fmt: skip
    rows = [
        _head(
            "Brackwater",
            "Gannet" if number == "1" else "Gannet Fairway",
            "wood",
            number,
            hand,
            loft_deg=loft,
            lie_deg=58.0 if number == "1" else 57.5 + 0.25 * (int(number) - 3),
            volume_cc=440.0 if number == "1" else 170.0,
            weight_g=199.0 if number == "1" else 210.0 + 3.0 * (int(number) - 3),
            material="titanium" if number == "1" else "17-4 stainless steel",
            construction="cast",
            bore_dia_in=0.338,
            bore_form="parallel",
            bore_depth_in=1.25,
            bore_kind="blind",
            bore_to_ground_in=1.50 if number == "1" else 1.25,
            hosel_outer_dia_in=0.500,
            hosel_material="titanium" if number == "1" else "17-4 stainless steel",
            max_ream_dia_in=0.354 if number in ("3", "5") else None,
            cg_below_mouth_in=1.40 if number == "1" else 1.25,
            max_bend_deg=0.0 if number == "1" else 1.0,
            price=180.0 if number == "1" else 120.0,
        )
        for number, loft, hand in lines
    ]
    for number, loft in (("3", 19.0), ("4", 22.0), ("5", 25.0)):
        rows.append(
            _head(
                "Brackwater",
                "Gannet Rescue",
                "hybrid",
                number,
                "right",
                loft_deg=loft,
                lie_deg=58.5 + 0.5 * (int(number) - 3),
                volume_cc=110.0,
                weight_g=230.0 + 4.0 * (int(number) - 3),
                material="17-4 stainless steel",
                construction="cast",
                bore_dia_in=0.373,
                bore_form="parallel",
                bore_depth_in=1.25,
                bore_kind="blind",
                bore_to_ground_in=1.10,
                hosel_outer_dia_in=0.530,
                max_bend_deg=1.0,
                price=98.0,
            )
        )
    return rows


def _iron_set(maker: str, model: str, numbers: tuple[str, ...], hand: str, *, forged: bool) -> list[Row]:
    """A forged set with taper bores, or a cast one with parallel bores."""
    return [
        _head(
            maker,
            model,
            "iron",
            number,
            hand,
            loft_deg=IRON_LOFTS[number] - (0.0 if forged else 1.5),
            lie_deg=IRON_LIES[number],
            offset_in=0.10 if forged else 0.22,
            weight_g=float(IRON_GRAMS[number]),
            material="1025 carbon steel" if forged else "431 stainless steel",
            construction="forged" if forged else "cast",
            bore_dia_in=0.3665 if forged else 0.373,
            bore_form="taper" if forged else "parallel",
            bore_depth_in=1.20,
            bore_kind="blind",
            bore_to_ground_in=1.05,
            hosel_outer_dia_in=0.530,
            hosel_material="1025 carbon steel" if forged else "431 stainless steel",
            max_ream_dia_in=0.376 if forged else None,
            max_bend_deg=4.0 if forged else None if hand == "left" else 3.0,
            cg_below_mouth_in=2.05 if number not in ("9", "PW") else None,
            price=78.0 if forged else 52.0,
        )
        for number in numbers
    ]


def _wedges() -> list[Row]:
    lines = [("50", 50.0, "right"), ("54", 54.0, "right"), ("58", 58.0, "right"), ("56", 56.0, "left")]
    return [
        _head(
            "Castellan Forge",
            "Adit Wedge",
            "wedge",
            number,
            hand,
            loft_deg=loft,
            lie_deg=64.0,
            weight_g=296.0 + 0.8 * (loft - 50.0),
            material="1025 carbon steel",
            construction="forged",
            bore_dia_in=0.3665 if hand == "right" else 0.373,
            bore_form="taper" if hand == "right" else "parallel",
            bore_depth_in=1.20,
            bore_kind="blind",
            bore_to_ground_in=1.05,
            hosel_outer_dia_in=0.530,
            max_ream_dia_in=0.376,
            max_bend_deg=4.0,
            price=92.0,
        )
        for number, loft, hand in lines
    ]


def _putters() -> list[Row]:
    rows = []
    for model, hand, grams in (("Lintel", "right", 345.0), ("Lintel", "left", 345.0), ("Mullion", "right", 365.0)):
        rows.append(
            _head(
                "Brackwater",
                model,
                "putter",
                "P",
                hand,
                loft_deg=3.0,
                lie_deg=70.0,
                weight_g=grams,
                material="303 stainless steel",
                construction="other",
                bore_dia_in=0.373,
                bore_form="parallel",
                bore_depth_in=1.10,
                bore_kind="blind",
                bore_to_ground_in=1.60,
                hosel_outer_dia_in=0.530,
                cg_below_mouth_in=1.5,
                max_bend_deg=2.0,
                price=150.0,
            )
        )
    return rows


def heads() -> list[Row]:
    """All heads."""
    vale = [("wood", "1", 9.0, "right"), ("wood", "1", 10.5, "right"), ("wood", "1", 12.0, "right"), ("wood", "1", 10.5, "left"),
            ("wood", "3", 15.0, "right"), ("wood", "5", 18.0, "right"), ("wood", "3", 15.0, "left"),
            ("hybrid", "3", 19.0, "right"), ("hybrid", "4", 22.0, "right")]  # fmt: skip
    arden = [("wood", "1", 9.0, "right"), ("wood", "1", 10.5, "right"), ("wood", "1", 10.5, "left"), ("wood", "3", 15.0, "right"),
             ("hybrid", "4", 22.0, "right"), ("hybrid", "4", 22.0, "left")]  # fmt: skip
    tor = [("wood", "1", 10.5, "right"), ("wood", "3", 15.0, "right"), ("hybrid", "3", 19.0, "right")]
    seven = ("4", "5", "6", "7", "8", "9", "PW")
    return [
        *_woods_of("Orrin Vale", "Kestle", CONNECTIONS["Orrin Vale"], vale),
        *_woods_of("Castellan Forge", "Motte", CONNECTIONS["Castellan Forge"], arden),
        *_woods_of("Brackwater", "Tor", CONNECTIONS["Brackwater Tor"], tor),
        *_glued_woods(),
        *_iron_set("Castellan Forge", "Adit", ("3", *seven), "right", forged=True),
        *_iron_set("Brackwater", "Moorhen", seven, "right", forged=False),
        *_iron_set("Brackwater", "Moorhen", ("6", "7", "8", "9", "PW"), "left", forged=False),
        *_iron_set("Brackwater", "Moorhen Drive", ("2", "3"), "right", forged=False),
        *_wedges(),
        *_putters(),
        *_iron_set("Castellan Forge", "Adit", ("7", "8", "9", "PW"), "left", forged=True),
    ]
