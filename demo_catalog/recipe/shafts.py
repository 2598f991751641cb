"""Rows of the kind ``shaft``: what the makers' leaflets say, and what they leave out."""

from __future__ import annotations

from typing import Any

from recipe import hybrids, irons, makers, short_game, woods
from recipe.beam import twist_deg
from recipe.club_math import kick_pct
from recipe.design import LABELS, TWO_FIGURES, Design
from recipe.scatter import normal, seldom, uniform

Row = dict[str, Any]

TIP_AT_IN = 6.0  # where a two-figure stiffness applies
BUTT_FROM_END_IN = 8.0
RETIRED = {"ambrel-drugget-65-x", "stavely-mandrel-wood-120-r", "hollin-reach-siskin-hybrid-60-l"}
NOTES = {
    "hollin-reach-sker-60-s": "The shop's most fitted driver shaft.",
    "quern-teasel-60-s": "Sold as an S; on the bench it reads like an R of other makers.",
    "hollin-reach-holm-70-x": "One piece came with a thick tip; measure before cutting.",
    "ambrel-drugget-65-x": "No longer made.",
    "stavely-mandrel-wood-120-r": "No longer made.",
    "hollin-reach-siskin-hybrid-60-l": "No longer made.",
}
# kick point in percent of the free length from the mouth, low to high, by what the makers compare with
_LABELS = ("low", "mid-low", "mid", "mid-high", "high")
_WOOD, _SHORTER, _STEEL = (53.25, 53.75, 54.15, 54.65), (53.9, 54.4, 54.8, 55.2), (51.5, 52.2, 52.6, 53.2)


def designs() -> list[Design]:
    """Every shaft, in the order of the file."""
    return [*woods.designs(), *hybrids.designs(), *irons.designs(), *short_game.designs()]


def kick_label(design: Design) -> str | None:
    """The maker's word, in step with the profile; none for putters.

    Parameters
    ----------
    design : Design
        The shaft.
    """
    line = design.line
    if line.club_type == "putter":
        return None
    limits = _STEEL if line.material == "steel" else _WOOD if line.club_type == "wood" else _SHORTER
    at = kick_pct(design.blank, design.setup)
    return _LABELS[sum(at >= limit for limit in limits)]


def _stiffness(design: Design) -> Row:
    """Two figures, where the maker gives those; one maker gives them beside its table."""
    line, blank = design.line, design.blank
    if line.known != TWO_FIGURES and line.maker != makers.DUSKMERE:
        return {}
    butt_at = line.raw_in - BUTT_FROM_END_IN
    level = 1.0 + 0.01 * normal("two figures", design.key)
    unsaid = line.model.startswith("Bracken")
    return {
        "tip_ei_n_m2": round(float(blank.ei_at(TIP_AT_IN)) * level, 1),
        "tip_ei_at_in": None if unsaid else TIP_AT_IN,
        "butt_ei_n_m2": round(float(blank.ei_at(butt_at)) * level, 1),
        "butt_ei_at_in": None if unsaid else butt_at,
    }


def _torque(design: Design) -> Row:
    line = design.line
    if line.known == LABELS and seldom(0.5, "torque", design.key):
        return {}
    gauge = line.raw_in - 2.0 if line.gauge_in is None else line.gauge_in
    return {"torque_deg": round(twist_deg(design.blank, gauge), 1), "torque_gauge_in": line.gauge_in}


def _tip(design: Design) -> Row:
    line = design.line
    parallel = line.tip_form == "parallel"
    says = line.known != LABELS or seldom(0.5, "tip", design.key)
    return {
        "tip_dia_in": line.outside.tip_in,
        "tip_form": line.tip_form,
        "tip_parallel_in": line.outside.parallel_in if parallel and says else None,
        "tip_growth_in_per_in": line.outside.growth if line.says_growth and line.outside.growth else None,
        "butt_dia_in": line.outside.butt_in if says else None,
        "max_tip_trim_in": line.trim_in,
    }


def _trade(design: Design) -> Row:
    line = design.line
    supplier = makers.SUPPLIER[line.maker]
    steps = round(6 * uniform("price", design.line.key, design.label))
    retired = design.key in RETIRED
    return {
        "supplier": supplier,
        "supplier_code": f"{supplier[:2].upper()}-{10000 + int(89999 * uniform('code', design.key))}",
        "price": line.price + 0.5 * steps,
        "currency": "EUR",
        "status": "retired" if retired else "active",
        "source": makers.SOURCE,
        "notes": NOTES.get(design.key),
    }


def row(design: Design) -> Row:
    """One row.

    Parameters
    ----------
    design : Design
        The shaft.
    """
    line, blank = design.line, design.blank
    return {
        "id": design.key,
        "maker": line.maker,
        "model": f"{line.model} {design.label}",
        "flex": design.flex,
        "club_type": line.club_type,
        "club_number": design.number,
        "material": line.material,
        "raw_length_in": line.raw_in,
        "weight_g": round(blank.weight_g * 2.0) / 2.0,
        "balance_from_tip_in": round(blank.balance_in, 1) if line.says_balance else None,
        "kick_label": kick_label(design),
        **_tip(design),
        **_torque(design),
        **_stiffness(design),
        **_trade(design),
    }
