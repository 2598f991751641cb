"""The invented fitted clubs, what is on the shelf, what is on order, and what the bench measured."""

from __future__ import annotations

import hashlib

import numpy as np

from recipe.shafts import Row, Shelfful

FITTED_BY = "Robin Thackray"
# as the shop's meter read the fitted club: near what the mechanics give, not equal to it
MEASURED_CPM = {"ashby-driver": 254.0, "ashby-3-wood": 261.0, "hale-driver": 256.0, "stace-7-iron": 303.0}


def clubs() -> list[Row]:
    """Twelve fitted clubs of invented players."""
    driver = {"grip_id": "pellow-reed-50-600", "adhesive_id": "slow-epoxy", "fitted_by": FITTED_BY}
    iron = {"grip_id": "pellow-sedge-cord-51-580", "adhesive_id": "slow-epoxy", "fitted_by": FITTED_BY}
    vale, arden = "vale-eight-eight-335-rh", "arden-arden-cup-335-lh"
    rows: list[Row] = [
        {**driver, "id": "ashby-driver", "player": "Rowan Ashby", "label": "driver", "head_id": "orrin-vale-kestle-1-10.5-rh", "adapter_id": vale, "adapter_setting": "plain", "shaft_id": "hollin-reach-sker-60-s", "tip_trim_in": 0.5, "playing_length_in": 45.25, "swingweight": "D3", "loft_deg": 10.5, "lie_deg": 58.5, "fitted_on": "2026-09-14"},
        {**driver, "id": "ashby-3-wood", "player": "Rowan Ashby", "label": "3-wood", "head_id": "brackwater-gannet-fairway-3-15-rh", "ferrule_id": "ferrule-335-500", "shaft_id": "hollin-reach-sker-70-s", "tip_trim_in": 1.0, "playing_length_in": 43.0, "swingweight": "D3", "fitted_on": "2026-09-14"},
        {**driver, "id": "hale-driver", "player": "Dov Hale", "label": "driver, left", "head_id": "castellan-forge-motte-1-10.5-lh", "adapter_id": arden, "adapter_setting": "more loft", "shaft_id": "quern-composites-delve-60-s", "tip_trim_in": 0.0, "playing_length_in": 45.0, "swingweight": "D1.5", "fitted_on": "2026-10-02"},
        {**driver, "id": "ashby-4-hybrid", "player": "Rowan Ashby", "label": "4-hybrid", "head_id": "orrin-vale-kestle-rescue-4-rh", "adapter_id": "vale-eight-eight-370", "adapter_setting": "plain", "shaft_id": "hollin-reach-sker-h-80-s", "tip_trim_in": 0.5, "playing_length_in": 39.5, "swingweight": "D2", "fitted_on": "2026-09-14"},
        {**driver, "id": "stace-driver", "player": "Imogen Stace", "label": "driver", "head_id": "brackwater-gannet-1-10.5-rh", "ferrule_id": "ferrule-335-500", "shaft_id": "hollin-reach-holm-50-r", "tip_trim_in": 0.0, "playing_length_in": 44.5, "swingweight": "C8", "fitted_on": "2026-10-20"},
    ]  # fmt: skip
    for number, (length, trim) in {"5": (38.25, 2.0), "7": (37.25, 3.0), "9": (36.25, 4.0)}.items():
        rows.append({**iron, "id": f"stace-{number}-iron", "player": "Imogen Stace", "label": f"{number}-iron", "set_id": "stace-irons", "head_id": f"brackwater-moorhen-{number}-rh", "ferrule_id": "ferrule-370-530", "shaft_id": "stavely-ridge-95-r", "tip_trim_in": trim, "playing_length_in": length, "swingweight": "D0", "fitted_on": "2026-10-20"})  # fmt: skip
    for number, length in {"5": 38.0, "7": 37.0}.items():
        rows.append({**iron, "id": f"ashby-{number}-iron", "player": "Rowan Ashby", "label": f"{number}-iron", "set_id": "ashby-irons", "head_id": f"castellan-forge-adit-{number}-rh", "ferrule_id": "ferrule-355-530", "shaft_id": f"stavely-crest-110-s-{number}", "tip_trim_in": 0.0, "playing_length_in": length, "swingweight": "D2", "fitted_on": "2026-09-15"})  # fmt: skip
    rows.append({**iron, "id": "ashby-54-wedge", "player": "Rowan Ashby", "label": "54 degree wedge", "head_id": "castellan-forge-adit-wedge-54-54-rh", "ferrule_id": "ferrule-355-530", "shaft_id": "stavely-gully-taper", "tip_trim_in": 0.0, "playing_length_in": 35.25, "swingweight": "D4", "loft_deg": 54.0, "lie_deg": 64.0, "fitted_on": "2026-09-15"})  # fmt: skip
    rows.append({"id": "stace-putter", "player": "Imogen Stace", "label": "putter", "head_id": "brackwater-lintel-p-rh", "shaft_id": "stavely-sill", "tip_trim_in": 0.0, "playing_length_in": 34.0, "grip_id": "pellow-tussock-putter-75-580", "adhesive_id": "slow-epoxy", "fitted_by": FITTED_BY, "fitted_on": "2026-10-20"})  # fmt: skip
    for row in rows:
        if row["id"] in MEASURED_CPM:
            row |= {"frequency_cpm": MEASURED_CPM[row["id"]], "frequency_clamp_in": 5.0}
    return [{**r, "status": "active", "notes": "invented for the demonstration"} for r in rows]


BACKORDERED = {
    "hollin-reach-sker-60-s": "2027-02-15",
    "stavely-ridge-95-r": "2027-01-20",
    "stavely-crest-110-s-7": None,
}


def stock_moves(shafts: list[Row], others: dict[str, list[Row]]) -> list[Row]:
    """What came in, what was used; the backordered shafts are all gone."""
    rng = np.random.default_rng(44)
    rows: list[Row] = []

    def move(kind: str, item: str, quantity: int, reason: str, on: str, order: str | None = None) -> None:
        text = f"{kind}|{item}|{quantity}|{reason}|{on}|{order}|{len(rows)}"
        key = hashlib.blake2b(text.encode(), digest_size=8).hexdigest()
        rows.append({"id": f"m-{key}", "kind": kind, "item_id": item, "location": "shelf A" if kind == "shaft" else "drawer 2", "quantity": quantity, "reason": reason, "on": on, "by": FITTED_BY, "order_ref": order})  # fmt: skip

    for number, shaft in enumerate(shafts):
        if shaft["id"] in BACKORDERED:
            move("shaft", shaft["id"], 2, "received", "2026-06-02")
            move("shaft", shaft["id"], -2, "used", "2026-09-21", f"order-{number}")
        elif rng.random() < 0.6:
            came = int(rng.integers(1, 6))
            move("shaft", shaft["id"], came, "received", "2026-05-11")
            if came > 2 and rng.random() < 0.4:
                move("shaft", shaft["id"], -1, "used", "2026-08-04", f"order-{number}")
    for kind, items in others.items():
        for number, item in enumerate(items):
            if number % 4 != 3:
                move(kind, item["id"], 2 if kind in ("head", "adapter") else 20, "received", "2026-04-20")
    return rows


def supply(shafts: list[Row]) -> list[Row]:
    """What is on order, and what the supplier does not have."""
    rows: list[Row] = []
    for item, expected in BACKORDERED.items():
        rows.append({"kind": "shaft", "item_id": item, "ordered": 3, "expected_on": expected, "backordered": True, "supplier": "Fennick Supply", "asked_on": "2026-11-16"})  # fmt: skip
    for number, shaft in enumerate(shafts[5:80:9]):
        rows.append({"kind": "shaft", "item_id": shaft["id"], "ordered": 2 + number % 3, "expected_on": f"2026-12-{4 + number:02d}", "backordered": False, "supplier": "Fennick Supply", "asked_on": "2026-11-16"})  # fmt: skip
    for row in rows:
        key = hashlib.blake2b(f"{row['item_id']}|{row['asked_on']}".encode(), digest_size=8).hexdigest()
        row["id"] = f"s-{key}"
    return rows


def choices() -> list[Row]:
    """One recorded choice."""
    return [{"id": "ch-stace-7-iron", "club_id": "stace-7-iron", "shaft_id": "stavely-ridge-105-r", "tip_trim_in": 2.5, "decision": "rejected", "by": FITTED_BY, "on": "2026-11-03", "why": "player found it heavy (invented)"}]  # fmt: skip


def bench_readings(shelf: Shelfful) -> None:
    """Pieces on the bench: weight, balance, torque, frequency, diameters, and three-point bending of three shafts."""
    rng = np.random.default_rng(45)
    day = {"taken_on": "2026-07-08", "taken_by": FITTED_BY}
    weighed = [s for s in shelf.shafts if s["club_type"] in ("wood", "iron")][::11]
    for shaft in weighed:
        for piece in ("piece 1", "piece 2"):
            grams = shaft["weight_g"] + float(rng.normal(0, 0.6))
            shelf.read(shaft["id"], "weight", round(grams, 1), piece, instrument="scales", **day)
        shelf.read(shaft["id"], "outside_diameter", round(shaft["tip_dia_in"] + 0.0004, 4), "piece 1", position_in=0.5, instrument="micrometer", **day)  # fmt: skip
    for shaft in weighed[:6]:
        length = shaft["raw_length_in"]
        cpm = 255.0 * (46.0 / length) ** 1.5
        shelf.read(shaft["id"], "frequency", round(cpm + float(rng.normal(0, 3)), 0), "piece 1", free_length_in=length - 5.0, tip_mass_g=205.0, instrument="frequency meter", **day)  # fmt: skip
        if shaft.get("torque_deg"):
            shelf.read(shaft["id"], "torque", round(shaft["torque_deg"] + float(rng.normal(0, 0.1)), 2), "piece 1", free_length_in=length - 2.0, instrument="torque jig", **day)  # fmt: skip
        if shaft.get("balance_from_tip_in"):
            shelf.read(shaft["id"], "balance", round(shaft["balance_from_tip_in"] + 0.05, 2), "piece 1", instrument="balance edge", **day)  # fmt: skip
    for shaft_id in ("hollin-reach-holm-60-s", "ambrel-lyde-60-s", "hollin-reach-wether-60-s"):
        published = [r for r in shelf.readings if r["shaft_id"] == shaft_id and r["quantity"] == "ei"]
        places = np.array([r["position_in"] for r in published])
        values = np.array([r["value"] for r in published])
        for place in (6.0, 11.0, 16.0, 21.0, 26.0, 31.0, 36.0, 40.0):
            value = float(np.interp(place, places, values)) * float(rng.normal(0.985, 0.012))
            shelf.read(shaft_id, "ei", round(value, 1), "piece 1", position_in=place, span_in=10.0, load_n=50.0, instrument="bending jig", **day)  # fmt: skip
