"""The invented shafts, what is known about each, and readings of some pieces."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from recipe.profiles import Graphite, SteppedTube, stations

SOURCE = "invented for the demonstration"
TABLE, TWO_FIGURES, LABELS = "table", "two figures", "labels"
Row = dict[str, Any]

# makers: Hollin Reach, Quern Composites, Ambrel (graphite), Stavely Tube Works (steel); none exists
WOOD_FAMILIES: dict[str, tuple[str, Graphite, float, float, str]] = {
    # model: maker, profile, torque of 60 S, balance fraction, kick word
    "Sker": ("Hollin Reach", Graphite(24.0, 66.0, 1.15, 0.03, 0.30, 0.04, 0.16), 3.9, 0.515, "mid-high"),
    "Holm": ("Hollin Reach", Graphite(21.5, 70.0, 1.20, -0.03, 0.35, 0.05, 0.14), 4.2, 0.512, "mid"),
    "Delve": ("Quern Composites", Graphite(18.5, 71.0, 1.10, -0.05, 0.25, 0.06, 0.20), 4.6, 0.508, "low"),
    "Rampart": ("Quern Composites", Graphite(25.0, 64.5, 1.12, 0.03, 0.45, 0.03, 0.12), 3.4, 0.524, "high"),
    "Lyde": ("Ambrel", Graphite(23.0, 68.0, 1.25, 0.02, 0.55, 0.05, 0.18), 4.0, 0.530, "mid"),
    "Tarnside": ("Ambrel", Graphite(20.5, 67.0, 1.05, -0.02, 0.60, 0.04, 0.15), 4.8, 0.518, "mid-low"),
    "Wether": ("Hollin Reach", Graphite(23.0, 66.0, 1.10, 0.00, 0.40, 0.05, 0.22), 4.4, 0.520, "mid"),
}
FLEX = {"A": 0.88, "R": 0.92, "S": 1.0, "X": 1.09}
NUMBERS = ("3", "4", "5", "6", "7", "8", "9", "PW")


@dataclass
class Shelfful:
    """Rows of shafts and of readings, collected."""

    shafts: list[Row] = field(default_factory=list)
    readings: list[Row] = field(default_factory=list)
    _repeats: dict[str, int] = field(default_factory=dict)

    def add(self, knowledge: str, ei: Any, count: int, **row: Any) -> Row:
        """Add a shaft; ``ei`` gives EI at places, N·m²."""
        length = row["raw_length_in"]
        row = {"currency": "EUR", "source": SOURCE, "status": "active", **row}
        if knowledge == TABLE:
            places = stations(length, count)
            for place, value in zip(places, ei(places), strict=True):
                self.read(row["id"], "ei", round(float(value), 1), position_in=float(place))
        elif knowledge == TWO_FIGURES:
            at = np.array([6.0, length - 8.0])
            tip, butt = (round(float(v), 0) for v in ei(at))
            row |= {"tip_ei_n_m2": tip, "tip_ei_at_in": 6.0, "butt_ei_n_m2": butt, "butt_ei_at_in": length - 8.0}
        self.shafts.append(row)
        return row

    def read(self, shaft_id: str, quantity: str, value: float, sample: str = "published", **more: Any) -> None:
        """Add a reading, with a key made from its conditions."""
        row = {"shaft_id": shaft_id, "sample": sample, "quantity": quantity, "value": value, **more}
        said = "|".join(f"{k}={row[k]}" for k in sorted(row) if k != "value")
        self._repeats[said] = self._repeats.get(said, 0) + 1
        key = hashlib.blake2b(f"{said}#{self._repeats[said]}".encode(), digest_size=8).hexdigest()
        self.readings.append({"id": f"r-{key}", **row})


def _key(*words: str) -> str:
    return "-".join(w.lower().replace(" ", "-") for w in words if w)


def _knowledge(number: int) -> str:
    return (TABLE, TABLE, TWO_FIGURES, TABLE, TABLE, LABELS)[number % 6]


def woods(shelf: Shelfful) -> None:
    """Seven families of graphite wood shafts in three weights and three flexes, and light ones of two."""
    rng = np.random.default_rng(41)
    number = 0
    for model, (maker, profile, torque, balance, kick) in WOOD_FAMILIES.items():
        weights = (40, 50, 60, 70) if model in ("Delve", "Tarnside") else (50, 60, 70)
        for weight in weights:
            for flex in ("A", "R") if weight == 40 else ("R", "S", "X"):
                # a letter has no standard: one family's S is another's R
                own = {"Rampart": 1.03, "Wether": 0.90}.get(model, 1.0)
                scale = FLEX[flex] * own * (1.0 + 0.004 * (weight - 60) / 10.0) * float(rng.normal(1.0, 0.008))
                grams = weight + {"A": 2.0, "R": 3.0, "S": 5.0, "X": 7.0}[flex] + float(rng.normal(0, 0.6))
                thick = model == "Lyde"
                known = TABLE if (model, weight, flex) in SCENARIO else _knowledge(number)
                number += 1
                shelf.add(
                    known,
                    lambda s, p=profile, k=scale: p.ei(s, 46.0, k),
                    14 if number % 2 else 16,
                    id=_key(maker, model, str(weight), flex),
                    maker=maker,
                    model=f"{model} {weight}",
                    flex=flex,
                    club_type="wood",
                    material="composite" if model == "Wether" and weight == 70 else "graphite",
                    raw_length_in=46.0,
                    weight_g=round(grams, 1),
                    tip_dia_in=0.350 if thick else 0.335,
                    tip_form="parallel",
                    tip_parallel_in=4.0,
                    tip_growth_in_per_in=None if model == "Wether" else 0.0075,
                    butt_dia_in=0.600 if weight < 70 else 0.610,
                    torque_deg=round(min(torque * (60.0 / weight) ** 0.7 * (1.0 / FLEX[flex]) ** 0.5, 6.5), 1),
                    torque_gauge_in=None if model == "Delve" else 44.0,
                    balance_from_tip_in=None if model == "Tarnside" and weight == 50 else round(46.0 * balance, 1),
                    kick_label=kick,
                    max_tip_trim_in=None if model == "Wether" else 2.0,
                    supplier="Fennick Supply",
                    supplier_code=f"FS-{1000 + number}",
                    price=round(20.0 + 1.2 * weight + 15.0 * (maker == "Hollin Reach"), 2),
                )


SCENARIO = frozenset(
    (model, 60, flex) for model in ("Sker", "Holm", "Rampart", "Lyde", "Wether") for flex in ("R", "S", "X")
) | {("Lyde", 70, "S"), ("Lyde", 70, "R"), ("Delve", 60, "S")}


def hybrids(shelf: Shelfful) -> None:
    """Hybrid shafts of three families."""
    rng = np.random.default_rng(42)
    families = {"Sker H": "Sker", "Rampart H": "Rampart", "Lyde H": "Lyde"}
    number = 0
    for model, like in families.items():
        maker, base, torque, balance, kick = WOOD_FAMILIES[like]
        profile = Graphite(
            base.tip * 1.12, base.butt * 1.05, base.power, base.bump, base.bump_at, base.drop, base.drop_at
        )
        for weight in (70, 80):
            for flex in ("R", "S", "X"):
                number += 1
                scale = FLEX[flex] * float(rng.normal(1.0, 0.01))
                shelf.add(
                    TABLE if (model, weight, flex) == ("Sker H", 80, "S") else _knowledge(number),
                    lambda s, p=profile, k=scale: p.ei(s, 42.0, k),
                    14,
                    id=_key(maker, model, str(weight), flex),
                    maker=maker,
                    model=f"{model} {weight}",
                    flex=flex,
                    club_type="hybrid",
                    material="graphite",
                    raw_length_in=42.0,
                    weight_g=round(weight + {"R": 1.0, "S": 3.0, "X": 5.0}[flex] + float(rng.normal(0, 0.5)), 1),
                    tip_dia_in=0.370,
                    tip_form="parallel",
                    tip_parallel_in=5.0,
                    tip_growth_in_per_in=0.0075,
                    butt_dia_in=0.600,
                    torque_deg=round(torque * 0.85, 1),
                    torque_gauge_in=40.0,
                    balance_from_tip_in=round(42.0 * balance, 1),
                    kick_label=kick,
                    max_tip_trim_in=2.5,
                    supplier="Fennick Supply",
                    supplier_code=f"FS-{2000 + number}",
                    price=95.0,
                )


def _steel(weight: float, flex: str, tip_dia: float, length: float, butt_dia: float = 0.560) -> SteppedTube:
    """A tube whose walls give about the weight wanted."""
    stiffer = {"R": 0.0, "S": 0.006, "X": 0.012}[flex]
    tube = SteppedTube(tip_dia, butt_dia + stiffer, 0.45, 0.29, 8.0, 1.5)
    mass, _ = tube.mass_and_balance(length)
    part = weight / mass
    return SteppedTube(tip_dia, butt_dia + stiffer, 0.45 * part, 0.29 * part, 8.0, 1.5)


def parallel_irons(shelf: Shelfful) -> None:
    """Parallel iron shafts, one raw length for the whole set."""
    number = 0
    for model, weight in (("Ridge 95", 96.0), ("Ridge 105", 105.0), ("Ridge 115", 115.0)):
        for flex in ("R", "S", "X"):
            number += 1
            tube = _steel(weight + {"R": -1, "S": 0, "X": 1}[flex], flex, 0.370, 41.0)
            mass, balance = tube.mass_and_balance(41.0)
            shelf.add(
                TABLE if number % 4 else TWO_FIGURES,
                lambda s, t=tube: t.ei(s, 41.0),
                16,
                id=_key("stavely", model, flex),
                maker="Stavely Tube Works",
                model=model,
                flex=flex,
                club_type="iron",
                material="steel",
                raw_length_in=41.0,
                weight_g=round(mass, 1),
                tip_dia_in=0.370,
                tip_form="parallel",
                tip_parallel_in=8.0,
                tip_growth_in_per_in=0.0,
                butt_dia_in=0.600,
                torque_deg=round(2.1 - 0.004 * (weight - 105.0), 1),
                torque_gauge_in=39.0,
                balance_from_tip_in=round(balance, 1),
                kick_label={"R": "mid-low", "S": "mid", "X": "mid-high"}[flex],
                max_tip_trim_in=4.5,
                supplier="Fennick Supply",
                supplier_code=f"FS-{3000 + number}",
                price=24.0,
            )
    rng = np.random.default_rng(43)
    for model, maker, base in (("Delve I", "Quern Composites", Graphite(29.0, 72.0, 1.1, -0.03, 0.3, 0.04, 0.2)), ("Holm I", "Hollin Reach", Graphite(31.0, 70.5, 1.05, 0.02, 0.4, 0.03, 0.2))):  # fmt: skip
        for weight in (70, 85):
            for flex in ("A", "R", "S", "X"):
                number += 1
                scale = FLEX[flex] * float(rng.normal(1.0, 0.01))
                shelf.add(
                    _knowledge(number),
                    lambda s, p=base, k=scale: p.ei(s, 40.5, k),
                    14,
                    id=_key(maker, model, str(weight), flex),
                    maker=maker,
                    model=f"{model} {weight}",
                    flex=flex,
                    club_type="iron",
                    material="graphite",
                    raw_length_in=40.5,
                    weight_g=round(weight + 2.0 + float(rng.normal(0, 0.5)), 1),
                    tip_dia_in=0.370,
                    tip_form="parallel",
                    tip_parallel_in=7.0,
                    tip_growth_in_per_in=0.006,
                    butt_dia_in=0.600,
                    torque_deg=round(3.4 if weight == 70 else 2.8, 1),
                    torque_gauge_in=38.5,
                    balance_from_tip_in=round(40.5 * 0.515, 1),
                    kick_label="mid",
                    max_tip_trim_in=4.5,
                    supplier="Fennick Supply",
                    supplier_code=f"FS-{3000 + number}",
                    price=58.0,
                )


def taper_irons(shelf: Shelfful) -> None:
    """Taper iron shafts sold by club number, 0.5 in shorter from club to club."""
    steel = (("Crest 105", 105.0, "R"), ("Crest 110", 110.0, "S"), ("Crest 120", 120.0, "S"), ("Crest 125", 125.0, "X"))
    for number, (model, weight, flex) in enumerate(steel):
        for step, club in enumerate(NUMBERS):
            length = 39.5 - 0.5 * step
            base = _steel(weight, flex, 0.355, 39.5, 0.520)
            part = 1.0 + 0.002 * step  # walls grow a little towards the short irons
            tube = SteppedTube(0.355, base.butt_dia_in, base.tip_wall_mm * part, base.butt_wall_mm * part, 6.0 - 0.25 * step, 1.5)  # fmt: skip
            mass, balance = tube.mass_and_balance(length)
            shelf.add(
                TABLE if number != 2 else (LABELS if step % 2 else TWO_FIGURES),
                lambda s, t=tube, n=length: t.ei(s, n),
                14,
                id=_key("stavely", model, flex, club),
                maker="Stavely Tube Works",
                model=model,
                flex=flex,
                club_type="iron",
                club_number=club,
                material="steel",
                raw_length_in=length,
                weight_g=round(mass, 1),
                tip_dia_in=0.355,
                tip_form="taper",
                tip_growth_in_per_in=0.0075,
                butt_dia_in=0.580,
                torque_deg=1.9 if weight > 110 else 2.1,
                torque_gauge_in=round(length - 2.0, 1),
                balance_from_tip_in=round(balance, 1),
                kick_label="mid-high" if flex != "R" else "mid",
                max_tip_trim_in=0.0,
                supplier="Fennick Supply",
                supplier_code=f"FS-{4000 + 10 * number + step}",
                price=27.0,
            )
    graphite = (("Lode 80", Graphite(28.0, 68.0, 1.1, 0.0, 0.4, 0.03, 0.2), "R"), ("Lode 90", Graphite(28.0, 73.0, 1.1, 0.02, 0.35, 0.03, 0.2), "S"))  # fmt: skip
    for number, (model, profile, flex) in enumerate(graphite):
        for step, club in enumerate(NUMBERS):
            length = 39.5 - 0.5 * step
            shelf.add(
                _knowledge(step + 3 * number),
                lambda s, p=profile, n=length, k=1.0 + 0.002 * step: p.ei(s, n, k),
                12,
                id=_key("quern", model, flex, club),
                maker="Quern Composites",
                model=model,
                flex=flex,
                club_type="iron",
                club_number=club,
                material="graphite",
                raw_length_in=length,
                weight_g=round((82.0 if number == 0 else 92.0) - 0.6 * step, 1),
                tip_dia_in=0.355,
                tip_form="taper",
                tip_growth_in_per_in=0.0075,
                butt_dia_in=0.580,
                torque_deg=3.0 if number == 0 else 2.6,
                torque_gauge_in=round(length - 2.0, 1),
                balance_from_tip_in=round(length * 0.515, 1),
                kick_label="mid",
                max_tip_trim_in=0.0,
                supplier="Fennick Supply",
                supplier_code=f"FS-{4100 + 10 * number + step}",
                price=64.0,
            )


def wedges_and_putters(shelf: Shelfful) -> None:
    """Wedge shafts, taper and parallel, and putter shafts."""
    for number, (model, dia, form, weight, flex) in enumerate(
        (
            ("Gully", 0.355, "taper", 120.0, "S"),
            ("Gully", 0.370, "parallel", 120.0, "S"),
            ("Gully Light", 0.355, "taper", 108.0, "R"),
            ("Gully Light", 0.370, "parallel", 108.0, "R"),
        )
    ):
        tube = _steel(weight, flex, 0.355 if form == "taper" else 0.365, 37.0, 0.530)
        mass, balance = tube.mass_and_balance(37.0)
        shelf.add(
            TABLE if number < 3 else TWO_FIGURES,
            lambda s, t=tube: t.ei(s, 37.0),
            12,
            id=_key("stavely", model, form),
            maker="Stavely Tube Works",
            model=model,
            flex=flex,
            club_type="wedge",
            material="steel",
            raw_length_in=37.0,
            weight_g=round(mass, 1),
            tip_dia_in=dia,
            tip_form=form,
            tip_parallel_in=8.0 if form == "parallel" else None,
            tip_growth_in_per_in=0.0 if form == "parallel" else 0.0075,
            butt_dia_in=0.580,
            torque_deg=1.9,
            torque_gauge_in=35.0,
            balance_from_tip_in=round(balance, 1),
            kick_label="high",
            max_tip_trim_in=3.0 if form == "parallel" else 0.0,
            supplier="Fennick Supply",
            supplier_code=f"FS-{5000 + number}",
            price=25.0,
        )
    for number, (model, weight, known) in enumerate((("Sill", 122.0, TABLE), ("Sill Heavy", 135.0, TABLE), ("Sill Straight", 118.0, TWO_FIGURES), ("Sill Short", 112.0, LABELS))):  # fmt: skip
        tube = _steel(weight, "X", 0.370, 36.0)
        mass, balance = tube.mass_and_balance(36.0)
        shelf.add(
            known,
            lambda s, t=tube: t.ei(s, 36.0),
            12,
            id=_key("stavely", model),
            maker="Stavely Tube Works",
            model=model,
            club_type="putter",
            material="steel",
            raw_length_in=36.0,
            weight_g=round(mass, 1),
            tip_dia_in=0.370,
            tip_form="parallel",
            tip_parallel_in=8.0,
            tip_growth_in_per_in=0.0,
            butt_dia_in=0.580,
            balance_from_tip_in=round(balance, 1),
            torque_deg=None if number else 1.8,
            max_tip_trim_in=3.0,
            supplier="Fennick Supply",
            supplier_code=f"FS-{5100 + number}",
            price=16.0,
        )
