"""The tip's outside diameter held against the bore, for one shaft or for a hundred thousand.

Convention: ``s`` is the distance from the raw tip end, ``x = s - tip_trim`` the distance behind the *new*
tip end, both along the axis, in. Clearance is diametral, bore minus tip. All arrays broadcast; the last
axis is the shafts.

Outside diameter: the parallel section keeps ``tip_dia`` as far as ``s = parallel`` and then grows by
``growth`` an inch; a taper tip grows from its raw end. A trimmed tip is the same shaft begun further up, so
a trim that reaches beyond the parallel section (or into a taper) makes the new tip end larger than
``tip_dia``. Readings win: the nominal shape is shifted to pass through every reading. A reading on the
parallel section moves all of that section; any other reading says nothing about the shape more than
``MAX_READING_GAP_IN`` away from it (the growth may be other than nominal), so towards the tip the shift
fades over as much again, and towards the next reading it is held that far and then interpolated. Without a
nominal shape, a straight line between readings no more than ``MAX_READING_GAP_IN`` apart is all that is
known.

Bore: ``dia_in`` at its mouth; a taper bore narrows from there by ``taper_in_per_in`` an inch, taken as
0.0075 like the growth of a taper tip (common practice, no source). The tip sits ``insertion`` deep, so
``x`` behind its end the bore is met ``insertion - x`` below the mouth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.fitup.limits import FitLimits
from specdb.mechanics.constants import TAPER_GROWTH_IN_PER_IN

FloatArray = npt.NDArray[np.float64]
CodeArray = npt.NDArray[np.int8]

FITS, TOO_TIGHT, TOO_LOOSE, NOT_KNOWN = 0, 1, 2, 3
TOLERANCE_IN = 1e-7  # below anything a bench can measure; keeps 0.336 - 0.335 from missing 0.001 by rounding
MAX_READING_GAP_IN = 2.0  # a straight line over a longer gap says nothing about the diameter between


@dataclass(frozen=True, slots=True)
class TipReadings:
    """Readings of outside diameter of N shafts, one run of rows a shaft.

    Attributes
    ----------
    start : ndarray of int, shape (N + 1,)
        Where each shaft's readings begin; the last entry is their count.
    position_in : ndarray, shape (R,)
        From the raw tip end, in; growing within each shaft.
    dia_in : ndarray, shape (R,)
        Outside diameter, in.
    """

    start: npt.NDArray[np.int64]
    position_in: FloatArray
    dia_in: FloatArray

    def take(self, rows: npt.NDArray[np.int64]) -> TipReadings:
        """Readings of some of the shafts, in the order given.

        Parameters
        ----------
        rows : ndarray of int, shape (M,)
            Which shafts; may repeat.
        """
        count = self.start[rows + 1] - self.start[rows]
        start = np.concatenate([[0], np.cumsum(count)])
        at = np.repeat(self.start[rows] - start[:-1], count) + np.arange(start[-1])
        return TipReadings(start, self.position_in[at], self.dia_in[at])


@dataclass(frozen=True, slots=True)
class TipArrays:
    """Tip geometry of N shafts; NaN where unknown.

    Attributes
    ----------
    tip_dia_in : ndarray, shape (N,)
        Outside diameter at the raw tip end, in; NaN also where the form of the tip is unknown.
    parallel_in : ndarray, shape (N,)
        Length of the parallel section from the raw tip end, in; not looked at for a taper tip.
    growth_in_per_in : ndarray, shape (N,)
        Growth of the diameter behind it, in per in; 0.0075 is taken where NaN.
    taper : ndarray of bool, shape (N,)
        Whether the tip tapers from its raw end.
    readings : TipReadings or None
        Readings of outside diameter, which win over the above.
    """

    tip_dia_in: FloatArray
    parallel_in: FloatArray
    growth_in_per_in: FloatArray
    taper: npt.NDArray[np.bool_]
    readings: TipReadings | None = None

    def __len__(self) -> int:
        return len(self.tip_dia_in)

    def take(self, rows: npt.NDArray[np.int64]) -> TipArrays:
        """Some of the tips, in the order given.

        Parameters
        ----------
        rows : ndarray of int, shape (M,)
            Which shafts; may repeat.
        """
        return TipArrays(
            self.tip_dia_in[rows],
            self.parallel_in[rows],
            self.growth_in_per_in[rows],
            self.taper[rows],
            None if self.readings is None else self.readings.take(rows),
        )


@dataclass(frozen=True, slots=True)
class Bore:
    """A hole of revolution, in.

    Attributes
    ----------
    dia_in : float or ndarray, shape broadcasting with the shafts
        Diameter at the mouth, in; NaN where unknown.
    form : str
        ``parallel`` or ``taper``; anything else counts as unknown.
    depth_in : float
        Depth, in; NaN where unknown.
    taper_in_per_in : float
        How fast a taper bore narrows, in of diameter per in of depth.
    """

    dia_in: float | FloatArray
    form: str
    depth_in: float
    taper_in_per_in: float = TAPER_GROWTH_IN_PER_IN

    @property
    def rate_in_per_in(self) -> float:
        """Loss of diameter per inch of depth; NaN where the form is unknown."""
        if self.form == "parallel":
            return 0.0
        return self.taper_in_per_in if self.form == "taper" else float("nan")

    def dia_at(self, depth_in: float | FloatArray) -> FloatArray:
        """Diameter at a depth below the mouth.

        Parameters
        ----------
        depth_in : float or ndarray
            Depth, in.

        Returns
        -------
        ndarray
            Diameter, in.
        """
        return np.asarray(self.dia_in - self.rate_in_per_in * np.asarray(depth_in), dtype=np.float64)


def _nominal(tip: TipArrays, s: FloatArray) -> FloatArray:
    """Outside diameter by the nominal figures at ``s`` from the raw tip end, of the shape of ``s``."""
    growth = np.where(np.isnan(tip.growth_in_per_in), TAPER_GROWTH_IN_PER_IN, tip.growth_in_per_in)
    parallel = np.where(tip.taper, 0.0, tip.parallel_in)
    # at the raw end itself the length of the parallel section does not matter
    behind = np.where(s <= 0.0, 0.0, np.maximum(s - parallel, 0.0))
    return np.asarray(tip.tip_dia_in + growth * behind)


@dataclass(frozen=True, slots=True)
class _Shift:
    """Corners of the shift of the nominal shape by the readings of N shafts, one run a shaft.

    Attributes
    ----------
    start : ndarray of int, shape (N + 1,)
        Where the corners of each shaft begin.
    position_in, shift_in : ndarray, shape (C,)
        From the raw tip end, and the shift there; the shift is NaN where the nominal shape is unknown.
    """

    start: npt.NDArray[np.int64]
    position_in: FloatArray
    shift_in: FloatArray


def _shift_of(tip: TipArrays, read: TipReadings) -> _Shift:
    counts = np.diff(read.start)
    shaft = np.repeat(np.arange(len(tip)), counts)
    p = read.position_in
    own = TipArrays(tip.tip_dia_in[shaft], tip.parallel_in[shaft], tip.growth_in_per_in[shaft], tip.taper[shaft])
    shift = read.dia_in - _nominal(own, p)
    on_parallel = ~own.taper & (p <= own.parallel_in)
    first = np.zeros(len(p), dtype=bool)
    first[read.start[:-1][counts > 0]] = True
    following = np.append(p[1:], np.inf)
    following[np.append(first[1:], True)] = -np.inf  # nothing follows the last one of a shaft
    held = np.where(on_parallel, np.fmax(p + MAX_READING_GAP_IN, own.parallel_in), p + MAX_READING_GAP_IN)
    fading = first & ~on_parallel
    holding = held < following
    row = np.concatenate([shaft[fading], shaft[fading], shaft, shaft[holding]])
    position = np.concatenate([p[fading] - 2.0 * MAX_READING_GAP_IN, p[fading] - MAX_READING_GAP_IN, p, held[holding]])
    value = np.concatenate([0.0 * shift[fading], shift[fading], shift, shift[holding]])
    order = np.lexsort((position, row))
    start = np.concatenate([[0], np.cumsum(np.bincount(row, minlength=len(tip)))])
    return _Shift(start, position[order], value[order])


def _between_readings(s: FloatArray, p: FloatArray, v: FloatArray) -> FloatArray:
    """Outside diameter of a shaft without a nominal shape from its readings ``v`` at ``p``."""
    line = np.interp(s, p, v)
    after = np.clip(np.searchsorted(p, s, side="left"), 0, len(p) - 1)
    before = np.clip(np.searchsorted(p, s, side="right") - 1, 0, len(p) - 1)
    inside = (s >= p[0]) & (s <= p[-1]) & (p[after] - p[before] <= MAX_READING_GAP_IN)
    return np.where(inside, line, np.nan)


def outside_diameter(tip: TipArrays, tip_trim_in: float | FloatArray, x_in: float | FloatArray) -> FloatArray:
    """Outside diameter behind the new tip end.

    Parameters
    ----------
    tip : TipArrays
        N tips.
    tip_trim_in : float or ndarray broadcasting with (N,)
        What is cut off the tip, in.
    x_in : float or ndarray broadcasting with (N,)
        Distance behind the new tip end, in.

    Returns
    -------
    ndarray, shape broadcast of the arguments with (N,)
        Outside diameter, in; NaN where unknown.
    """
    s = np.asarray(tip_trim_in, dtype=np.float64) + np.asarray(x_in, dtype=np.float64)
    s = np.broadcast_to(s, np.broadcast_shapes(s.shape, tip.tip_dia_in.shape))
    dia = _nominal(tip, s)
    read = tip.readings
    if read is None or not len(read.dia_in):
        return dia
    shift = _shift_of(tip, read)
    for i in np.flatnonzero(np.diff(read.start)):
        corners = slice(shift.start[i], shift.start[i + 1])
        if np.isfinite(shift.shift_in[corners]).all():
            dia[..., i] += np.interp(s[..., i], shift.position_in[corners], shift.shift_in[corners])
        else:
            rows = slice(read.start[i], read.start[i + 1])
            dia[..., i] = _between_readings(s[..., i], read.position_in[rows], read.dia_in[rows])
    return dia


def _knots(tip: TipArrays, trim: FloatArray, insertion: FloatArray) -> FloatArray:
    """Where the straight pieces of the tip meet inside the bore: ``x``, shape (K, ...), with both ends."""
    zero = np.zeros(np.broadcast_shapes(trim.shape, insertion.shape, tip.tip_dia_in.shape))
    kink = np.where(tip.taper | np.isnan(tip.parallel_in), 0.0, tip.parallel_in) - trim
    places = [zero, zero + insertion, np.clip(zero + kink, 0.0, insertion)]
    read = tip.readings
    if read is not None and len(read.dia_in):
        corners = _shift_of(tip, read)
        counts = np.diff(corners.start)
        for k in range(int(counts.max())):
            row = np.minimum(corners.start[:-1] + k, len(corners.position_in) - 1)
            p = np.where(k < counts, corners.position_in[row], 0.0)
            places.append(np.clip(zero + p - trim, 0.0, insertion))
    return np.stack(places)


@dataclass(frozen=True, slots=True)
class Clearance:
    """Diametral clearance of a tip in a bore, in; NaN where unknown. All arrays have one shape.

    Attributes
    ----------
    at_mouth, at_bottom : ndarray
        At the mouth of the bore and at the tip end.
    smallest, largest : ndarray
        Over the inserted length; NaN as soon as any part of it is unknown.
    known_smallest, known_largest : ndarray
        Over the part that is known; NaN only if nothing is.
    """

    at_mouth: FloatArray
    at_bottom: FloatArray
    smallest: FloatArray
    largest: FloatArray
    known_smallest: FloatArray
    known_largest: FloatArray


def clearance(
    tip: TipArrays, tip_trim_in: float | FloatArray, insertion_in: float | FloatArray, bore: Bore
) -> Clearance:
    """Clearance along the inserted length.

    Both sides are made of straight pieces, so the extremes lie where pieces meet and nowhere else.

    Parameters
    ----------
    tip : TipArrays
        N tips.
    tip_trim_in : float or ndarray broadcasting with (N,)
        What is cut off the tip, in.
    insertion_in : float or ndarray broadcasting with (N,)
        How deep the tip end sits below the mouth, in.
    bore : Bore
        The hole.

    Returns
    -------
    Clearance
        Arrays of the broadcast shape.
    """
    trim = np.asarray(tip_trim_in, dtype=np.float64)
    insertion = np.asarray(insertion_in, dtype=np.float64)
    x = _knots(tip, trim, insertion)
    gap = bore.dia_at(insertion - x) - outside_diameter(tip, trim, x)
    hole = np.isnan(gap)
    low = np.where(hole, np.inf, gap).min(axis=0)
    high = np.where(hole, -np.inf, gap).max(axis=0)
    return Clearance(
        at_mouth=gap[1],
        at_bottom=gap[0],
        smallest=gap.min(axis=0),
        largest=gap.max(axis=0),
        known_smallest=np.where(np.isinf(low), np.nan, low),
        known_largest=np.where(np.isinf(high), np.nan, high),
    )


def gap_profile(tip: TipArrays, tip_trim_in: float, insertion_in: float, bore: Bore) -> tuple[FloatArray, FloatArray]:
    """Clearance of one tip along the inserted length, as the corners of a broken line.

    Parameters
    ----------
    tip : TipArrays
        One tip.
    tip_trim_in : float
        What is cut off it, in.
    insertion_in : float
        How deep it sits, in.
    bore : Bore
        The hole.

    Returns
    -------
    x_in, gap_in : ndarray, shape (K,)
        Distance behind the new tip end, growing; clearance there; in.
    """
    x = np.unique(_knots(tip, np.asarray(tip_trim_in), np.asarray(insertion_in))[:, 0])
    gap = bore.dia_at(insertion_in - x) - outside_diameter(tip, tip_trim_in, x[:, None])[:, 0]
    return x, gap


def codes_of(gap: Clearance, limits: FitLimits) -> CodeArray:
    """Fit codes of clearances: ``FITS``, ``TOO_TIGHT``, ``TOO_LOOSE`` or ``NOT_KNOWN``.

    What is known to be too tight or too loose is so whatever the unknown rest may be; a fit needs every
    figure.

    Parameters
    ----------
    gap : Clearance
        From :func:`clearance`.
    limits : FitLimits
        Allowed clearance.
    """
    tight = gap.known_smallest < limits.clearance_min_in - TOLERANCE_IN
    loose = gap.known_largest > limits.clearance_max_in + TOLERANCE_IN
    unknown = np.isnan(gap.smallest) | np.isnan(gap.largest)
    return np.where(tight, TOO_TIGHT, np.where(loose, TOO_LOOSE, np.where(unknown, NOT_KNOWN, FITS))).astype(np.int8)


def direct_fit(
    tip: TipArrays,
    tip_trim_in: float | FloatArray,
    insertion_in: float | FloatArray,
    bore: Bore,
    limits: FitLimits,
) -> CodeArray:
    """Whether tips go in a hole as they are, apart from any other condition.

    Parameters
    ----------
    tip : TipArrays
        N tips.
    tip_trim_in : float or ndarray broadcasting with (N,)
        What is cut off the tip, in.
    insertion_in : float or ndarray broadcasting with (N,)
        How deep the tip end sits below the mouth, in.
    bore : Bore
        The hole.
    limits : FitLimits
        Allowed clearance.

    Returns
    -------
    ndarray of int8
        0 fits, 1 too tight somewhere, 2 too loose somewhere (and nowhere too tight), 3 unknown.
    """
    insertion = np.asarray(insertion_in, dtype=np.float64)
    codes = codes_of(clearance(tip, tip_trim_in, insertion, bore), limits)
    # a tip cannot stand deeper than the bore is; nor is a bore of unknown depth known to take it
    beyond = ~(insertion <= bore.depth_in + TOLERANCE_IN)
    return np.where(beyond & (codes == FITS), NOT_KNOWN if np.isnan(bore.depth_in) else TOO_TIGHT, codes).astype(
        np.int8
    )
