"""A computed club as plain values with stable keys, in trade units, each with its standard deviation."""

from __future__ import annotations

import math
from typing import Any

from specdb.mechanics import swingweight
from specdb.mechanics.assembly import Assembly
from specdb.mechanics.club import FEATURES, Installed
from specdb.mechanics.constants import IN, SWINGWEIGHT_POINT_IN_OZ

_EXTRAPOLATED_WORTH_SAYING = 0.02
_DECIMALS = 5


def _number(value: float) -> float | None:
    return round(float(value), _DECIMALS) if math.isfinite(value) else None


def mechanics_cautions(state: Installed) -> list[str]:
    """What to mind about the numbers of a club.

    Parameters
    ----------
    state : Installed
        Numbers of one club.
    """
    found = []
    excess, short = float(state.head_excess_g[0]), float(state.head_short_g[0])
    if excess > 0.05:
        found.append(
            f"with nothing added the club is already {excess:.1f} g at the head over the swingweight asked for: "
            "a lighter adapter or a lighter head, or a heavier grip or a counterweight at the butt, would cure it"
        )
    if short > 0.05:
        found.append(f"the swingweight asked for wants {short:.1f} g more at the head than may be added")
    return found


def extrapolation_note(state: Installed) -> list[str]:
    """Say where EI is held constant beyond its stations.

    Parameters
    ----------
    state : Installed
        Numbers of one club.
    """
    part = float(state.extrapolated[0])
    if part <= _EXTRAPOLATED_WORTH_SAYING:
        return []
    return [f"stiffness held constant beyond its stations over {100 * part:.0f} % of the exposed length"]


def club_json(assembly: Assembly, state: Installed) -> dict[str, Any]:
    """The keys of ``mechanics``.

    Parameters
    ----------
    assembly : Assembly
        The club.
    state : Installed
        Its numbers, arrays of one row.
    """
    moment = float(state.swing_moment_in_oz[0])
    values: dict[str, Any] = {
        "cut_length_in": _number(assembly.cut.cut_length_in),
        "butt_trim_in": _number(assembly.butt_trim_in),
        "tip_trim_in": _number(assembly.tip_trim_in),
        "insertion_in": _number(assembly.cut.insertion_in),
        "exposed_length_in": _number(assembly.cut.exposed_length_in),
        "shaft_weight_g": _number(state.shaft_weight_g[0]),
        "shaft_balance_from_butt_in": _number(state.shaft_balance_from_butt_in[0]),
        "head_add_g": _number(state.head_add_g[0]),
        "head_excess_g": _number(state.head_excess_g[0]),
        "total_weight_g": _number(state.total_weight_g[0]),
        "swingweight": swingweight.from_moment_in_oz(moment),
        "swing_moment_in_oz": _number(moment),
        "moi_butt_kg_cm2": _number(state.moi_butt_kg_cm2[0]),
        "frequency_cpm": _number(state.frequency_cpm[0]),
        "clamp_in": _number(assembly.build.clamp_m / IN),
        "tip_compliance_mm_per_n": _number(state.tip_compliance_mm_per_n[0]),
        "torque_deg": _number(state.torque_deg[0]),
        "kick_point_pct": _number(state.kick_point_pct[0]),
        "zone_ei_n_m2": {
            "tip": _number(state.tip_ei_n_m2[0]),
            "mid": _number(state.mid_ei_n_m2[0]),
            "butt": _number(state.butt_ei_n_m2[0]),
        },
    }
    values["sd"] = _sd_json(assembly, state)
    values["assumed"] = [*assembly.assumed, *extrapolation_note(state)]
    values["cautions"] = mechanics_cautions(state)
    return values


def _sd_json(assembly: Assembly, state: Installed) -> dict[str, Any]:
    sd = {name: _number(state.sd_total[0, i]) for i, name in enumerate(FEATURES)}
    other = {name: _number(value[0]) for name, value in state.other_sd.items()}
    length = _number(assembly.build.cut_length_sd_m / IN)
    moment = other.get("swing_moment_in_oz")
    return {
        "cut_length_in": length,
        "butt_trim_in": length,
        "tip_trim_in": None,
        "insertion_in": None,
        "exposed_length_in": length,
        "shaft_weight_g": sd["shaft_weight_g"],
        "shaft_balance_from_butt_in": sd["balance_in"],
        "head_add_g": other.get("head_add_g"),
        "head_excess_g": other.get("head_excess_g"),
        "total_weight_g": sd["total_weight_g"],
        # of the letter scale: points
        "swingweight": None if moment is None else round(moment / SWINGWEIGHT_POINT_IN_OZ, _DECIMALS),
        "swing_moment_in_oz": moment,
        "moi_butt_kg_cm2": sd["moi_kg_cm2"],
        "frequency_cpm": sd["frequency_cpm"],
        "clamp_in": None,
        "tip_compliance_mm_per_n": other.get("tip_compliance_mm_per_n"),
        "torque_deg": sd["torque_deg"],
        "kick_point_pct": sd["kick_point_pct"],
        "zone_ei_n_m2": {"tip": sd["tip_ei"], "mid": sd["mid_ei"], "butt": sd["butt_ei"]},
    }
