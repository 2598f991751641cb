"""The hole that the tip goes in: the head's own bore, or that of its adapter, and where its bottom is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from specdb.fitup.geometry import Bore, FloatArray, TipArrays
from specdb.fitup.limits import FitLimits
from specdb.records.rows import Adapter, Head, Sleeve

NAN = float("nan")


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole and what is not known about it.

    Attributes
    ----------
    owner : str
        ``head`` or ``adapter``.
    bore : Bore
        The hole; NaN and an empty form where unknown.
    to_ground_in : float or None
        From the bottom of the bore along the axis to the ground, in.
    missing_bore, missing_ground : tuple of str
        Fields without which bore or distance are unknown.
    """

    owner: str
    bore: Bore
    to_ground_in: float | None
    missing_bore: tuple[str, ...]
    missing_ground: tuple[str, ...]

    @property
    def depth_in(self) -> float | None:
        """Depth of the bore, in; None where unknown."""
        return None if np.isnan(self.bore.depth_in) else self.bore.depth_in

    def insertion_in(self, asked_in: float | None) -> float | None:
        """How deep the tip sits, in: as asked, else the full depth; None where that is unknown.

        Parameters
        ----------
        asked_in : float or None
            Insertion asked for, in.
        """
        return self.depth_in if asked_in is None else asked_in


def hole_of(head: Head, adapter: Adapter | None, limits: FitLimits) -> Hole:
    """The hole of a head, or of the adapter on it.

    Parameters
    ----------
    head : Head
        The head.
    adapter : Adapter or None
        Its adapter.
    limits : FitLimits
        For the rate of a taper bore.
    """
    if adapter is None and head.connection:
        empty = Bore(NAN, "", NAN)
        return Hole("adapter", empty, None, ("adapter",), ("adapter",))
    part: Head | Adapter = head if adapter is None else adapter
    owner = "head" if adapter is None else "adapter"
    measured = {
        f"{owner}.bore_dia_in": part.bore_dia_in,
        f"{owner}.bore_form": part.bore_form,
        f"{owner}.bore_depth_in": part.bore_depth_in,
    }
    bore = Bore(
        NAN if part.bore_dia_in is None else part.bore_dia_in,
        part.bore_form or "",
        NAN if part.bore_depth_in is None else part.bore_depth_in,
        limits.taper_in_per_in,
    )
    if adapter is None:
        ground = {"head.bore_to_ground_in": head.bore_to_ground_in}
    else:
        ground = {
            "adapter.bore_to_seat_in": adapter.bore_to_seat_in,
            "head.seat_to_ground_in": head.seat_to_ground_in,
        }
    legs = [v for v in ground.values() if v is not None]
    return Hole(
        owner,
        bore,
        sum(legs) if len(legs) == len(ground) else None,
        tuple(name for name, value in measured.items() if value is None),
        tuple(name for name, value in ground.items() if value is None),
    )


def sleeve_bore(sleeve: Sleeve, depth_in: float, limits: FitLimits) -> Bore:
    """The hole that a sleeve leaves for the tip.

    A taper inside is measured where the sleeve ends at the mouth of the bore, once it is cut to the
    insertion.

    Parameters
    ----------
    sleeve : Sleeve
        The sleeve.
    depth_in : float
        Depth of the bore that it sits in, in.
    limits : FitLimits
        For the rate of a taper.
    """
    return Bore(sleeve.inner_dia_in, sleeve.inner_form or "", depth_in, limits.taper_in_per_in)


def sleeve_outside(sleeve: Sleeve, limits: FitLimits) -> TipArrays:
    """The outside of a sleeve, looked at as a tip; a taper outside is measured at its lower end.

    Parameters
    ----------
    sleeve : Sleeve
        The sleeve.
    limits : FitLimits
        For the rate of a taper.
    """
    known = sleeve.outer_form in ("parallel", "taper")

    def one(value: float) -> FloatArray:
        return np.array([value])

    return TipArrays(
        tip_dia_in=one(sleeve.outer_dia_in if known else NAN),
        parallel_in=one(np.inf),
        growth_in_per_in=one(limits.taper_in_per_in),
        taper=np.array([sleeve.outer_form == "taper"]),
    )
