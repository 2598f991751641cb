"""Readings that cannot be true together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from specdb.profiles.readings import Kind, Reading

_ROUNDING_M = 1e-6
_PAIR_SDS = 4.0  # two readings contradict the beam only where they do so beyond their noise


@dataclass(frozen=True, slots=True)
class Refused:
    """A reading that no shaft can give, and why.

    Attributes
    ----------
    name, reason : str
        What was refused; a plain sentence.
    reading_id : str or None
        Of the catalogue row, where it came from one.
    """

    name: str
    reason: str
    reading_id: str | None = None


def without_contradictions(readings: Sequence[Reading]) -> tuple[list[Reading], list[Refused]]:
    """Refuse pairs that no positive stiffness explains.

    Taking the clamp further out adds compliance whatever the stiffness there: with one tip mass the frequency falls
    (Rayleigh's principle: a constraint removed lowers it), and under one load the deflection grows.

    Parameters
    ----------
    readings : sequence of Reading
        All readings of one shaft.

    Returns
    -------
    kept : list of Reading
    refused : list of Refused
    """
    by_setup: dict[tuple[Kind, str | None, float, float], list[int]] = {}
    for i, reading in enumerate(readings):
        # finished clubs differ in head and piece: what one reads more than another may be either
        if reading.kind in (Kind.FREQUENCY, Kind.DEFLECTION) and not reading.in_club:
            by_setup.setdefault((reading.kind, reading.piece, reading.load, reading.low_m), []).append(i)
    reasons: dict[int, str] = {}
    for (kind, *_), members in by_setup.items():
        sign = -1.0 if kind == Kind.FREQUENCY else 1.0
        ordered = sorted(members, key=lambda i: readings[i].high_m)
        for i, j in pairwise(ordered):
            first, second = readings[i], readings[j]
            rise = sign * (second.value - first.value)
            if second.high_m > first.high_m + _ROUNDING_M and rise < -_PAIR_SDS * math.hypot(first.sd, second.sd):
                why = "a longer free length must read lower" if sign < 0 else "a longer free length must bend further"
                reasons[i] = f"no positive stiffness explains it together with '{second.name}': {why}"
                reasons[j] = f"no positive stiffness explains it together with '{first.name}': {why}"
    kept = [r for i, r in enumerate(readings) if i not in reasons]
    return kept, [Refused(readings[i].name, reason) for i, reason in sorted(reasons.items())]
