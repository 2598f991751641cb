"""Differences in words that a customer understands.

What a difference does to the shot is a tendency that fitters speak of (common practice, no source), not a prediction;
so it is said with "expect" and only for the differences that stand out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from specdb.matching.weighting import COMPARED

_LEAST_UNITS = 0.5  # smaller differences are not worth a word
_NOTICEABLE = 1.0
_MARKED = 2.0
_ROUGHLY = "known only roughly: measure before relying on it"
_ZONES = {"tip_ei": "tip", "mid_ei": "middle", "butt_ei": "butt"}


def _degree(units: float) -> str:
    size = abs(units)
    return "markedly" if size >= _MARKED else "noticeably" if size >= _NOTICEABLE else "slightly"


def phrase(name: str, difference: float, units: float) -> str:
    """One difference in words.

    Parameters
    ----------
    name : str
        Feature name.
    difference : float
        Candidate less reference, in the feature's unit.
    units : float
        The same in units of tolerance.
    """
    size = abs(difference)
    more = difference > 0
    if name == "frequency_cpm":
        return f"{size:.0f} cpm {'stiffer' if more else 'softer'}"
    if name in _ZONES:
        return f"{_ZONES[name]} {_degree(units)} {'stiffer' if more else 'softer'}"
    if name == "torque_deg":
        return f"{size:.1f} deg {'more' if more else 'less'} torque"
    if name == "shaft_weight_g":
        return f"shaft {size:.0f} g {'heavier' if more else 'lighter'}"
    if name == "total_weight_g":
        return f"club {size:.0f} g {'heavier' if more else 'lighter'}"
    if name == "balance_in":
        return f"balance point {size:.1f} in {'nearer the tip' if more else 'nearer the butt'}"
    if name == "kick_point_pct":
        return f"kick point {_degree(units)} {'higher' if more else 'lower'}"
    return f"{'harder' if more else 'easier'} to swing (MOI {difference:+.0f} kg·cm²)"


def _expectation(units: dict[str, float]) -> str:
    """Tendency of the ball flight from the tip, the kick point and the torque together."""
    softer_tip = -units.get("tip_ei", 0.0) - 0.5 * units.get("frequency_cpm", 0.0)
    lower_kick = -units.get("kick_point_pct", 0.0)
    height = softer_tip + 0.5 * lower_kick
    parts = []
    if abs(height) >= _NOTICEABLE:
        amount = "a little" if abs(height) < 2 * _MARKED else "clearly"
        parts.append(f"{amount} {'more' if height > 0 else 'less'} height")
    twist = units.get("torque_deg", 0.0)
    if abs(twist) >= 1.5:
        parts.append("a livelier face" if twist > 0 else "a steadier face")
    return f": expect {' and '.join(parts)}" if parts else ""


def summarise(
    differences: Sequence[float], units: Sequence[float], spread: Sequence[float] | None = None, most: int = 3
) -> str:
    """The two or three differences that matter most.

    Parameters
    ----------
    differences, units : sequence of float, length features
        In the features' units, and in units of tolerance; NaN where not compared.
    spread : sequence of float, length features, or None
        Standard deviations of the differences, in units of tolerance. What is known too roughly is not said to
        promise anything.
    most : int
        How many differences are named at most.
    """
    known = [(i, u) for i, u in enumerate(units) if math.isfinite(u)]
    rough = {i for i, _ in known if spread is not None and spread[i] >= _MARKED}
    leading = sorted((p for p in known if abs(p[1]) >= _LEAST_UNITS), key=lambda p: -abs(p[1]))[:most]
    if not leading:
        alike = "within half a unit in everything compared"
        return f"{alike}, but {_ROUGHLY}" if rough else f"{alike}: expect no difference to notice"
    phrases = ", ".join(phrase(COMPARED[i].name, differences[i], units[i]) for i, _ in leading)
    # nothing is expected of a difference that drowns in its uncertainty
    telling = {COMPARED[i].name: u for i, u in known if spread is None or i not in rough or abs(u) >= spread[i]}
    return phrases + _expectation(telling) + (f"; {_ROUGHLY}" if rough else "")
