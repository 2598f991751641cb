"""The ways in which a bore can present itself to a tip.

As it is, sleeved, reamed, with another adapter, with a shallower insertion, and these together. The
matching engine holds the tips of all shafts against this list at once
(:func:`specdb.fitup.choose.choose_options`), the planner walks the same list for one shaft, so the two
cannot disagree. The list is in order of preference: fewest operations, then lowest cost, then parts on the
shelf, then deepest insertion. What costs what is in ``COST`` (units of score; stated judgements: each is
about what a customer would feel as that much further from the fitted club).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from specdb.fitup import geometry as geo
from specdb.fitup.hole import NAN, Hole, hole_of, sleeve_bore, sleeve_outside
from specdb.fitup.limits import FitLimits
from specdb.fitup.question import Shelf
from specdb.fitup.ream import Ream, reams
from specdb.fitup.report import Operation
from specdb.records.rows import Adapter, AdapterSetting, Head, Sleeve

COST = MappingProxyType(
    {
        Operation.TIP_TRIM: 0.0,  # it changes play, and play is scored
        Operation.OTHER_ADAPTER: 0.05,
        Operation.REAM: 0.20,
        Operation.SLEEVE: 0.10,
        Operation.LEAVE_OUT_SLEEVE: 0.0,
        Operation.SHALLOWER_INSERTION: 0.10,
        Operation.OTHER_FERRULE: 0.0,
    }
)


@dataclass(frozen=True, slots=True)
class BoreOption:
    """One way for the bore to present itself.

    Attributes
    ----------
    operations : tuple of Operation
        What must be done for it, in order of work; empty for the bore as it is.
    cost : float
        Their cost in units of score.
    adapter : Adapter or None
        The adapter used.
    settings : tuple of AdapterSetting
        Its settings.
    sleeve : Sleeve or None
        The sleeve used.
    ream : Ream or None
        Reaming, if any.
    reamed : Bore or None
        The reamed hole where a sleeve decides its size; each tip decides it where None.
    bore : Bore
        The hole that the tip meets; before reaming where the tip decides the size.
    insertion_in : float
        How deep the tip sits, in; NaN where unknown.
    full_insertion_in : float
        The same without the shallower insertion, in.
    to_ground_in : float or None
        From the bottom of the bore to the ground, in.
    added_mass_g : float or None
        Mass that it adds at the mouth to the build as asked, g; None where a weight is unknown.
    parts : tuple of (kind, id)
        Parts that it takes from the shelf.
    in_stock : bool or None
        Whether all of them are there; None where nobody knows.
    """

    operations: tuple[Operation, ...]
    cost: float
    adapter: Adapter | None
    settings: tuple[AdapterSetting, ...]
    sleeve: Sleeve | None
    ream: Ream | None
    reamed: geo.Bore | None
    bore: geo.Bore
    insertion_in: float
    full_insertion_in: float
    to_ground_in: float | None
    added_mass_g: float | None
    parts: tuple[tuple[str, str], ...]
    in_stock: bool | None

    @property
    def preference(self) -> tuple[object, ...]:
        """What the list is ordered by; smaller is better."""
        form = self.ream.form if self.ream else ""
        return (
            len(self.operations),
            round(self.cost, 9),
            {True: 0, None: 1, False: 2}[self.in_stock],
            -self.insertion_in if np.isfinite(self.insertion_in) else 0.0,
            tuple(self.operations),
            form,
            self.parts,
        )

    def bore_for(self, tip: geo.TipArrays, tip_trim_in: float | geo.FloatArray, limits: FitLimits) -> geo.Bore:
        """The hole that each tip meets.

        Parameters
        ----------
        tip : TipArrays
            N tips.
        tip_trim_in : float or ndarray broadcasting with (N,)
            Tip trim, in.
        limits : FitLimits
            Allowed clearance.
        """
        if self.ream is None or self.sleeve is not None:
            return self.bore
        return self.ream.bore_for(tip, tip_trim_in, self.insertion_in, limits)

    def fit(self, tip: geo.TipArrays, tip_trim_in: float | geo.FloatArray, limits: FitLimits) -> geo.CodeArray:
        """Fit codes of tips in this option, as of :func:`specdb.fitup.geometry.direct_fit`.

        Parameters
        ----------
        tip : TipArrays
            N tips.
        tip_trim_in : float or ndarray broadcasting with (N,)
            Tip trim, in.
        limits : FitLimits
            Allowed clearance.
        """
        return geo.direct_fit(tip, tip_trim_in, self.insertion_in, self.bore_for(tip, tip_trim_in, limits), limits)


@dataclass(frozen=True, slots=True)
class _Place:
    """A head's own bore, or an adapter on it; ``other`` where the adapter is not the one asked for."""

    adapter: Adapter | None
    settings: tuple[AdapterSetting, ...]
    other: bool

    def goes_on(self, head: Head, setting: str | None) -> bool:
        """Whether it goes on the head; of the adapter asked for, whether it is not known to go wrong."""
        adapter = self.adapter
        if adapter is None or not head.connection:
            return adapter is None and not head.connection
        hand_ok = adapter.hand in ("either", head.hand) or (adapter.hand is None and not self.other)
        unsaid = not self.settings and not self.other
        setting_ok = setting is None or unsaid or any(s.setting == setting for s in self.settings)
        return adapter.connection == head.connection and hand_ok and setting_ok


def _places(
    head: Head, asked: Adapter | None, settings: tuple[AdapterSetting, ...], setting: str | None, shelf: Shelf
) -> Iterator[_Place]:
    """The bore as asked, then that of every other adapter that goes on the head."""
    places = [_Place(asked, settings, other=False)]
    if head.connection:
        places += [
            _Place(a, shelf.settings_by_adapter.get(a.id, ()), other=True)
            for a in shelf.adapters
            if a.status != "retired" and (asked is None or a.id != asked.id)
        ]
    return (p for p in places if p.goes_on(head, setting))


def _insertions(full: float, least: float, limits: FitLimits) -> list[float]:
    """Insertion as it is, then shallower ones down to the least."""
    if not np.isfinite(full):
        return [full]
    depths = [full]
    count = int(np.floor((full - least) / limits.insertion_step_in + 1e-9))
    depths += [full - k * limits.insertion_step_in for k in range(1, count + 1)]
    if depths[-1] > least + geo.TOLERANCE_IN:
        depths.append(least)
    return depths


def _sleeve_fits(sleeve: Sleeve, bore: geo.Bore, insertion: float, limits: FitLimits, gaps: FitLimits) -> bool:
    """Whether a sleeve is known wholly, covers the insertion and goes in a bore."""
    if sleeve.inner_form is None or sleeve.length_in is None or not np.isfinite(insertion):
        return False
    if sleeve.length_in < insertion - geo.TOLERANCE_IN:
        return False
    return bool(geo.direct_fit(sleeve_outside(sleeve, limits), 0.0, insertion, bore, gaps)[0] == geo.FITS)


@dataclass(frozen=True, slots=True)
class _Frame:
    """What all options of one call share."""

    head: Head
    asked_adapter: Adapter | None
    asked_sleeve: Sleeve | None
    shelf: Shelf
    limits: FitLimits
    gaps: FitLimits

    def sleeves(self) -> list[Sleeve]:
        asked = self.asked_sleeve
        on_shelf = [s for s in self.shelf.sleeves if s.status != "retired" and (asked is None or s.id != asked.id)]
        return on_shelf if asked is None else [asked, *on_shelf]

    def mass_g(self, adapter: Adapter | None, sleeve: Sleeve | None) -> float | None:
        total = 0.0
        for sign, part, other in (
            (1, adapter, self.asked_adapter),
            (-1, self.asked_adapter, adapter),
            (1, sleeve, self.asked_sleeve),
            (-1, self.asked_sleeve, sleeve),
        ):
            if part is None or (other is not None and part.id == other.id):
                continue
            if part.weight_g is None:
                return None
            total += sign * part.weight_g
        return total

    def option(
        self,
        place: _Place,
        hole: Hole,
        ream: Ream | None,
        reamed: geo.Bore | None,
        sleeve: Sleeve | None,
        insertion: tuple[float, float],
    ) -> BoreOption:
        adapter = place.adapter
        depth, full = insertion
        operations: list[Operation] = []
        parts: list[tuple[str, str]] = []
        if place.other and adapter is not None:
            operations.append(Operation.OTHER_ADAPTER)
            parts.append(("adapter", adapter.id))
        if ream is not None:
            operations.append(Operation.REAM)
        if sleeve is None and self.asked_sleeve is not None:
            operations.append(Operation.LEAVE_OUT_SLEEVE)
        if sleeve is not None and (self.asked_sleeve is None or sleeve.id != self.asked_sleeve.id):
            operations.append(Operation.SLEEVE)
            parts.append(("sleeve", sleeve.id))
        if depth < full - geo.TOLERANCE_IN:
            operations.append(Operation.SHALLOWER_INSERTION)
        there = [self.shelf.has(*part) for part in parts]
        stock = False if False in there else None if None in there else True
        bore = hole.bore if sleeve is None else sleeve_bore(sleeve, depth, self.limits)
        return BoreOption(
            operations=tuple(operations),
            cost=sum(COST[o] for o in operations),
            adapter=adapter,
            settings=place.settings,
            sleeve=sleeve,
            ream=ream,
            reamed=reamed,
            bore=bore,
            insertion_in=depth,
            full_insertion_in=full,
            to_ground_in=hole.to_ground_in,
            added_mass_g=self.mass_g(adapter, sleeve),
            parts=tuple(parts),
            in_stock=stock,
        )

    def presented(self, place: _Place, hole: Hole, insertion: tuple[float, float]) -> Iterator[BoreOption]:
        """Every option of one hole at one insertion."""
        ways: list[Ream | None] = [None]
        if place.adapter is None:
            ways += reams(self.head, hole, self.limits)[0]
        for ream in ways:
            yield self.option(place, hole, ream, None, None, insertion)
            for sleeve in self.sleeves():
                bore, reamed = hole.bore, None
                if ream is not None:
                    outside = sleeve_outside(sleeve, self.limits)
                    sized = ream.bore_for(outside, 0.0, insertion[0], self.gaps)
                    dia = float(np.asarray(sized.dia_in).ravel()[0])
                    bore = reamed = geo.Bore(dia, ream.form, ream.depth_in, ream.taper_in_per_in)
                if _sleeve_fits(sleeve, bore, insertion[0], self.limits, self.gaps):
                    yield self.option(place, hole, ream, reamed, sleeve, insertion)


def preparation_options(
    head: Head,
    adapter: Adapter | None,
    shelf: Shelf,
    limits: FitLimits,
    *,
    gap_limits: FitLimits | None = None,
    insertion_in: float | None = None,
    sleeve: Sleeve | None = None,
    settings: tuple[AdapterSetting, ...] = (),
    setting: str | None = None,
) -> list[BoreOption]:
    """Every allowed way for the bore of a build to present itself, best first.

    The bore as it is comes first, also where it is known in part only (its tips are then of unknown fit).
    Other parts are offered only where everything needed about them is known.

    Parameters
    ----------
    head : Head
        The head.
    adapter : Adapter or None
        The adapter as asked.
    shelf : Shelf
        Parts that may be used.
    limits : FitLimits
        Thresholds.
    gap_limits : FitLimits or None
        The same with the adhesive's own gap limits (``limits.for_adhesive``); ``limits`` where None.
    insertion_in : float or None
        Insertion asked for, in; the full depth where None.
    sleeve : Sleeve or None
        A sleeve that is part of the build as asked.
    settings : tuple of AdapterSetting
        Settings of the adapter as asked.
    setting : str or None
        Setting that any adapter must have.

    Returns
    -------
    list of BoreOption
        In order of preference.
    """
    frame = _Frame(head, adapter, sleeve, shelf, limits, limits if gap_limits is None else gap_limits)
    least = limits.insertion_min_in(head.club_type)
    found: list[BoreOption] = []
    for place in _places(head, adapter, settings, setting, shelf):
        hole = hole_of(head, place.adapter, limits)
        if place.other and hole.missing_bore:
            continue
        wanted = hole.insertion_in(insertion_in)
        full = NAN if wanted is None else wanted
        if place.other and hole.depth_in is not None:
            full = min(full, hole.depth_in)
        if full < least - geo.TOLERANCE_IN:
            continue
        for depth in _insertions(full, least, limits):
            found += frame.presented(place, hole, (depth, full))
    kept = [o for o in found if len(o.operations) <= limits.max_operations]
    return sorted(kept, key=lambda o: o.preference)
