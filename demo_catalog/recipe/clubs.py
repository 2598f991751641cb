"""Rows of the kinds ``club``, ``weighting`` and ``choice``: what was fitted, to whom, and one decision about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from recipe import adapters, heads, makers, small_parts
from recipe.club_math import Setup, frequency_cpm, swing_points, swingweight_text
from recipe.design import Design
from recipe.irons import trim_for
from recipe.keys import digest_key
from recipe.readings import Bench, piece_of
from recipe.scatter import normal

Row = dict[str, Any]

PLAYERS = {
    "ashby": "Rowan Ashby",
    "quilter": "Ines Quilter",
    "tansley": "Bram Tansley",
    "sorley": "Maud Sorley",
    "wexcombe": "Odo Wexcombe",
}


@dataclass(frozen=True)
class Fitted:
    """A fitted club as the fitter wrote it down.

    Attributes
    ----------
    player, label : str
        Who, and what the shop calls it.
    head, shaft, grip : str
        Keys.
    trim_in, length_in, add_g : float
        Tip trim, playing length, weight added at the head.
    day : str
        Day of the fitting.
    adapter, setting, ferrule, sleeve, set_id : str or None
        Keys and words.
    loft_deg, lie_deg : float or None
        By how much loft and lie differ from the head's own; None: not written down.
    clamp : bool
        Whether the clamp of the frequency was written down.
    swings : bool
        Whether a swingweight was asked for.
    notes : str or None
        Notes.
    sample : str or None
        The measured piece it was built from.
    """

    player: str
    label: str
    head: str
    shaft: str
    grip: str
    trim_in: float
    length_in: float
    add_g: float
    day: str
    adapter: str | None = None
    setting: str | None = None
    ferrule: str | None = None
    set_id: str | None = None
    loft_deg: float | None = 0.0
    lie_deg: float | None = 0.0
    clamp: bool = True
    swings: bool = True
    notes: str | None = None
    sample: str | None = None

    @property
    def key(self) -> str:
        """Key of the club."""
        return f"{self.player}-{self.label.lower().replace(' ', '-')}"


def _coulter(number: str, length: float, add: float) -> Fitted:
    label = "PW" if number == "PW" else f"{number} iron"
    key = number.lower()
    return Fitted(
        "quilter", label, f"orrin-vale-coulter-{key}-rh", f"stavely-tenter-105-s-{key}", "kestmoor-cord-50-580", 0.0, length, add,
        "2026-11-05", ferrule="ferrule-355t-530", set_id="quilter-irons", lie_deg=1.0,
    )  # fmt: skip


def _groyne(number: str, length: float, add: float) -> Fitted:
    label = "PW" if number == "PW" else f"{number} iron"
    return Fitted(
        "tansley", label, f"brackwater-groyne-{number.lower()}-rh", "stavely-tenter-parallel-115-s", "pellow-reed-48-580",
        trim_for(number), length, add, "2026-11-11", ferrule="ferrule-370-540", set_id="tansley-irons",
    )  # fmt: skip


FITTED = (
    Fitted(
        "ashby", "Driver", "orrin-vale-escarp-460-10.5-rh", "hollin-reach-sker-60-s", "pellow-reed-50-600", 0.5, 45.25, 3.0, "2026-11-03",
        "vale-eight-eight-335", "mid", notes="Liked this one at once; keep the feel. Shaft backordered since the fitting.",
    ),
    Fitted(
        "ashby", "Hybrid", "brackwater-breakwater-h-4-rh", "hollin-reach-sker-hybrid-85-s", "pellow-reed-50-600", 1.0, 39.5, 4.0, "2026-11-03",
        ferrule="ferrule-370-515",
    ),
    Fitted(
        "ashby", "Wedge", "orrin-vale-dibber-56-rh", "stavely-tenter-wedge-120-wedge", "kestmoor-cord-50-580", 0.0, 35.25, 1.0,
        "2026-11-03", ferrule="ferrule-355t-530", lie_deg=-0.5,
    ),
    _coulter("5", 38.0, 2.5),
    _coulter("7", 37.0, 2.0),
    _coulter("9", 36.0, 2.0),
    _coulter("PW", 35.5, 2.0),
    Fitted(
        "quilter", "Putter", "castellan-plumbline-rh", "stavely-mandrel-putter-120-putter", "kestmoor-steady-70-580", 0.0, 34.0, 0.0,
        "2026-11-05", ferrule="ferrule-370-520", loft_deg=None, lie_deg=None, swings=False,
    ),
    _groyne("6", 37.75, 2.0),
    _groyne("8", 36.75, 2.0),
    _groyne("PW", 35.75, 2.0),
    Fitted(
        "tansley", "Driver", "brackwater-gannet-1-10.5-rh", "hollin-reach-whimbrel-65-s", "pellow-reed-50-600", 0.5, 45.0, 2.0, "2026-10-23",
        ferrule="ferrule-335-500", sample="piece 1", notes="Built from the piece that was on the bench in January.",
    ),
    Fitted(
        "tansley", "3 wood", "brackwater-breakwater-f-3-rh", "hollin-reach-ouzel-70-s", "pellow-reed-50-600", 1.0, 43.0, 2.0, "2026-11-11",
        ferrule="ferrule-335-490",
    ),
    Fitted(
        "sorley", "Driver", "brackwater-slipway-420-10.5-rh", "ambrel-lyde-60-r", "pellow-fen-42-600", 0.25, 44.75, 2.0, "2026-10-19",
        ferrule="ferrule-350-510", clamp=False, notes="Own head, bored for a 0.350 in tip.",
    ),
    Fitted(
        "sorley", "7 iron", "castellan-mattock-7-rh", "hollin-reach-sker-iron-65-a", "pellow-fen-42-600", 3.0, 36.75, 3.0, "2026-10-19",
        ferrule="ferrule-370-540", clamp=False,
    ),
    Fitted(
        "wexcombe", "Driver", "castellan-fulmar-455-10.5-lh", "hollin-reach-siskin-50-r", "pellow-reed-51-600", 0.0, 45.0, 3.0, "2026-11-17",
        "halfturn-cup-335", "front", notes="Left-hander.",
    ),
    Fitted(
        "wexcombe", "7 iron", "brackwater-groyne-7-lh", "hollin-reach-holm-iron-75-r", "pellow-reed-50-600", 3.0, 37.0, 4.0, "2026-11-17",
        ferrule="ferrule-370-540", notes="Left-hander.",
    ),
)  # fmt: skip


def _by_id(rows: list[Row]) -> dict[str, Row]:
    return {r["id"]: r for r in rows}


def setup_of(fitted: Fitted, parts: Mapping[str, Mapping[str, Row]]) -> Setup:
    """The club around the shaft.

    Parameters
    ----------
    fitted : Fitted
        As written down.
    parts : mapping
        Rows by kind and key.
    """
    head, grip = parts["head"][fitted.head], parts["grip"][fitted.grip]
    adapter = None if fitted.adapter is None else parts["adapter"][fitted.adapter]
    depth, ground = head.get("bore_depth_in"), head.get("bore_to_ground_in")
    above = 0.0
    mouth = 0.0 if fitted.ferrule is None else parts["ferrule"][fitted.ferrule]["weight_g"]
    if adapter is not None:
        depth, ground = adapter["bore_depth_in"], adapter["bore_to_seat_in"] + head["seat_to_ground_in"]
        mouth += adapter["weight_g"]
        above = adapter["bore_to_seat_in"] + depth  # the seat rests on the mouth of the hosel
    wood = head["club_type"] in ("wood", "hybrid")
    usual_cg = 1.5 if wood else 2.0
    cg = head.get("cg_below_mouth_in")
    return Setup(
        length_in=fitted.length_in,
        ground_in=float(ground or 0.0),
        insertion_in=float(depth or 0.0),
        head_g=head["weight_g"] + fitted.add_g,
        cg_in=above + (usual_cg if cg is None else cg),
        trim_in=fitted.trim_in,
        mouth_g=mouth,
        cap_in=grip["cap_in"],
        grip_g=grip["weight_g"],
        grip_balance_in=grip["balance_from_cap_in"],
    )


def _row(fitted: Fitted, design: Design, parts: Mapping[str, Mapping[str, Row]]) -> Row:
    head = parts["head"][fitted.head]
    setup = setup_of(fitted, parts)
    blank = design.blank if fitted.sample is None else Bench(design, piece_of(fitted.shaft, fitted.sample)).blank
    measured = frequency_cpm(blank, setup) + 0.8 * normal("fitted", fitted.key)
    swings = fitted.swings
    return {
        "id": fitted.key,
        "player": PLAYERS[fitted.player],
        "label": fitted.label,
        "set_id": fitted.set_id,
        "head_id": fitted.head,
        "adapter_id": fitted.adapter,
        "adapter_setting": fitted.setting,
        "ferrule_id": fitted.ferrule,
        "shaft_id": fitted.shaft,
        "shaft_sample": fitted.sample,
        "tip_trim_in": fitted.trim_in,
        "playing_length_in": fitted.length_in,
        "grip_id": fitted.grip,
        "adhesive_id": "epoxy-long",
        "swingweight": swingweight_text(swing_points(blank, setup)) if swings else None,
        "head_add_g": fitted.add_g,
        "loft_deg": None if fitted.loft_deg is None else head["loft_deg"] + fitted.loft_deg,
        "lie_deg": None if fitted.lie_deg is None else head["lie_deg"] + fitted.lie_deg,
        "frequency_cpm": round(measured) if swings else None,
        "frequency_clamp_in": 5.0 if swings and fitted.clamp else None,
        "fitted_on": fitted.day,
        "fitted_by": makers.FITTER,
        "status": "active",
        "notes": "Invented." if fitted.notes is None else f"{fitted.notes} Invented.",
    }


def rows(designs: list[Design]) -> list[Row]:
    """All fitted clubs.

    Parameters
    ----------
    designs : list of Design
        All shafts.
    """
    by_key = {d.key: d for d in designs}
    parts = {
        "head": _by_id(heads.rows()),
        "adapter": _by_id(adapters.rows()),
        "grip": _by_id(small_parts.grips()),
        "ferrule": _by_id(small_parts.ferrules()),
    }
    return [_row(f, by_key[f.shaft], parts) for f in FITTED]


def weightings() -> list[Row]:
    """Two ways of comparing that the shop keeps; what is left out takes the default."""
    return [
        {
            "id": "feel-first",
            "frequency_unit": 2.0,
            "torque_unit": 0.25,
            "frequency_weight": 2.0,
            "torque_weight": 2.0,
            "kick_point_weight": 1.5,
            "total_weight_weight": 1.5,
            "notes": "For players who feel a small change: frequency, torque and weight count double or nearly so.",
        },
        {
            "id": "weight-does-not-matter",
            "shaft_weight_weight": 0.25,
            "total_weight_weight": 0.25,
            "moi_weight": 0.5,
            "notes": "For repairs where the shelf is thin.",
        },
    ]


def choices() -> list[Row]:
    """One decision that was taken."""
    row = {
        "club_id": "tansley-3-wood",
        "shaft_id": "hollin-reach-sker-70-s",
        "tip_trim_in": 1.5,
        "decision": "chosen",
        "by": makers.FITTER,
        "on": "2026-11-24",
        "why": "On the shelf; hit side by side with the fitted one, and the player could not tell them apart.",
    }
    return [{"id": digest_key("choice", row), **row}]
