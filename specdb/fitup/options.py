"""The ways in which a bore can present itself to a tip: as it is, sleeved, reamed, with another adapter,
shallower.

The matching engine holds the tips of all shafts against this list at once (:func:`choose_options`), the
planner walks the same list for one shaft, so the two cannot disagree. The list is in order of preference:
fewest operations, then lowest cost, then parts on the shelf, then deepest insertion. What costs what is in
``COST`` (units of score; stated judgements: each is about what a customer would feel as that much further
from the fitted club).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from specdb.fitup import geometry as geo
from specdb.fitup.hole import NAN, Hole, hole_of, sleeve_bore, sleeve_outside
from specdb.fitup.limits import FitLimits
from specdb.fitup.question import Shelf
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
REAM_LEAST_IN = 0.0005  # less than this is no reaming
REAM_DIGITS = 4  # a reamed diameter is given to a tenth of a thousandth of an inch


@dataclass(frozen=True, slots=True)
class Ream:
    """How far a bore may be reamed, and to what form.

    Attributes
    ----------
    form : str
        ``parallel`` or ``taper``, of the reamed hole.
    least_in, most_in : float
        Diameter at the mouth, in: the reamed hole must contain the old one, and stay within the maker's
        limit with wall enough left.
    depth_in, taper_in_per_in : float
        Of the bore.
    """

    form: str
    least_in: float
    most_in: float
    depth_in: float
    taper_in_per_in: float

    def bore_for(
        self, tip: geo.TipArrays, tip_trim_in: float | geo.FloatArray, insertion_in: float, limits: FitLimits
    ) -> geo.Bore:
        """The reamed hole for each tip: tip diameter and the middle of the allowed clearance, as far as
        allowed.

        Parameters
        ----------
        tip : TipArrays
            N tips, or the outside of a sleeve.
        tip_trim_in : float or ndarray broadcasting with (N,)
            Tip trim, in.
        insertion_in : float
            How deep it sits, in.
        limits : FitLimits
            Allowed clearance.
        """
        trial = geo.Bore(self.least_in, self.form, self.depth_in, self.taper_in_per_in)
        gap = geo.clearance(tip, tip_trim_in, insertion_in, trial)
        middle = (limits.clearance_min_in + limits.clearance_max_in) / 2.0
        wanted = self.least_in + middle - (gap.smallest + gap.largest) / 2.0
        dia = np.clip(np.round(wanted, REAM_DIGITS), self.least_in, self.most_in)
        return geo.Bore(dia, self.form, self.depth_in, self.taper_in_per_in)


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


def reams(head: Head, hole: Hole, limits: FitLimits) -> tuple[list[Ream], list[str]]:
    """How a head's bore may be reamed, and the fields for want of which it may not.

    Parameters
    ----------
    head : Head
        A glued head.
    hole : Hole
        Its bore.
    limits : FitLimits
        Least wall.

    Returns
    -------
    ways : list of Ream
        Empty where reaming is refused.
    missing : list of str
        Unknown fields that refuse it.
    """
    needed = {"head.max_ream_dia_in": head.max_ream_dia_in, "head.hosel_outer_dia_in": head.hosel_outer_dia_in}
    missing = [*hole.missing_bore, *(name for name, value in needed.items() if value is None)]
    if head.max_ream_dia_in is None or head.hosel_outer_dia_in is None or hole.missing_bore or head.connection:
        return [], missing
    most = min(head.max_ream_dia_in, head.hosel_outer_dia_in - 2.0 * limits.wall_min_in)
    old, depth, rate = hole.bore, hole.bore.depth_in, limits.taper_in_per_in
    mouth, bottom = float(old.dia_at(0.0)), float(old.dia_at(depth))
    least = {
        "parallel": mouth if old.form == "taper" else mouth + REAM_LEAST_IN,
        "taper": max(mouth + REAM_LEAST_IN, bottom + rate * depth),
    }
    return [Ream(form, d, most, depth, rate) for form, d in least.items() if d <= most], []


def _adapters(
    head: Head, asked: Adapter | None, settings: tuple[AdapterSetting, ...], setting: str | None, shelf: Shelf
) -> Iterator[tuple[Adapter | None, tuple[AdapterSetting, ...], bool]]:
    """The adapter as asked, then others that go in the head: adapter, its settings, whether it is another."""
    yield asked, settings, False
    if not head.connection:
        return
    for adapter in shelf.adapters:
        own = shelf.settings_by_adapter.get(adapter.id, ())
        if (
            (asked is None or adapter.id != asked.id)
            and adapter.status != "retired"
            and adapter.connection == head.connection
            and adapter.hand in ("either", head.hand)
            and (setting is None or any(s.setting == setting for s in own))
        ):
            yield adapter, own, True


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
        place: tuple[Adapter | None, tuple[AdapterSetting, ...], bool],
        hole: Hole,
        ream: Ream | None,
        reamed: geo.Bore | None,
        sleeve: Sleeve | None,
        insertion: tuple[float, float],
    ) -> BoreOption:
        adapter, settings, other = place
        depth, full = insertion
        operations: list[Operation] = []
        parts: list[tuple[str, str]] = []
        if other and adapter is not None:
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
            settings=settings,
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

    def presented(
        self, place: tuple[Adapter | None, tuple[AdapterSetting, ...], bool], hole: Hole, insertion: tuple[float, float]
    ) -> Iterator[BoreOption]:
        """Every option of one hole at one insertion."""
        ways: list[Ream | None] = [None]
        if place[0] is None:
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
    for place in _adapters(head, adapter, settings, setting, shelf):
        hole = hole_of(head, place[0], limits)
        if place[2] and hole.missing_bore:
            continue
        wanted = hole.insertion_in(insertion_in)
        full = NAN if wanted is None else wanted
        if place[2] and hole.depth_in is not None:
            full = min(full, hole.depth_in)
        if full < least - geo.TOLERANCE_IN:
            continue
        for depth in _insertions(full, least, limits):
            found += frame.presented(place, hole, (depth, full))
    kept = [o for o in found if len(o.operations) <= limits.max_operations]
    return sorted(kept, key=lambda o: o.preference)


@dataclass(frozen=True, slots=True)
class Chosen:
    """The best option of every tip at every trim. All arrays have one shape, the last axis the shafts.

    Attributes
    ----------
    option : ndarray of int
        Which option; -1 where none leads to a fit.
    cost : ndarray
        Its cost in units of score; NaN where there is none.
    code : ndarray of int8
        0 where an option leads to a fit; else why the bore as it is does not: 1 too tight, 2 too loose, 3
        unknown.
    """

    option: npt.NDArray[np.int64]
    cost: geo.FloatArray
    code: geo.CodeArray


def choose_options(
    options: Sequence[BoreOption], tip: geo.TipArrays, tip_trim_in: float | geo.FloatArray, limits: FitLimits
) -> Chosen:
    """Take the first option that each tip fits in, at each trim.

    Parameters
    ----------
    options : sequence of BoreOption
        In order of preference, from :func:`preparation_options`.
    tip : TipArrays
        N tips.
    tip_trim_in : float or ndarray broadcasting with (N,), such as (T, 1)
        Tip trims, in.
    limits : FitLimits
        Allowed clearance (with the adhesive's own gap limits).

    Returns
    -------
    Chosen
        Of the broadcast shape.
    """
    trim = np.asarray(tip_trim_in, dtype=np.float64)
    shape = np.broadcast_shapes(trim.shape, tip.tip_dia_in.shape)
    trims = np.broadcast_to(trim, shape).ravel()
    shaft = np.broadcast_to(np.arange(len(tip)), shape).ravel()
    end_dia = np.broadcast_to(geo.outside_diameter(tip, trim, 0.0), shape).ravel()
    option = np.full(len(trims), -1, dtype=np.int64)
    code = np.full(len(trims), geo.NOT_KNOWN, dtype=np.int8)
    for number, candidate in enumerate(options):
        open_ = option < 0
        if number > 0:
            open_ &= _may_fit(candidate, end_dia, limits)
        at = np.flatnonzero(open_)
        if not len(at):
            continue
        codes = candidate.fit(tip.take(shaft[at]), trims[at], limits)
        if number == 0:
            code[at] = codes
        option[at[codes == geo.FITS]] = number
    cost = np.array([o.cost for o in options] + [NAN])[option]
    code[option >= 0] = geo.FITS
    return Chosen(option.reshape(shape), cost.reshape(shape), code.reshape(shape))


def _may_fit(option: BoreOption, end_dia: geo.FloatArray, limits: FitLimits) -> npt.NDArray[np.bool_]:
    """A cheap sieve: whether the tip end alone could fit; it lets through every tip that fits."""
    low, high = limits.clearance_min_in - 1e-6, limits.clearance_max_in + 1e-6
    if option.ream is not None and option.sleeve is None:
        return end_dia + low <= option.ream.most_in
    gap = option.bore.dia_at(option.insertion_in) - end_dia
    return (gap >= low) & (gap <= high)
