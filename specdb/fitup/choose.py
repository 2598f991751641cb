"""Hold the tips of many shafts against the ways a bore can be prepared, all at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.fitup import geometry as geo
from specdb.fitup.hole import NAN
from specdb.fitup.limits import FitLimits
from specdb.fitup.options import BoreOption


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
        0 where an option leads to a fit; else why the first option does not: 1 too tight, 2 too loose, 3
        unknown.
    """

    option: npt.NDArray[np.int64]
    cost: geo.FloatArray
    code: geo.CodeArray


def choose_options(
    options: Sequence[BoreOption], tip: geo.TipArrays, tip_trim_in: float | geo.FloatArray, limits: FitLimits
) -> Chosen:
    """Take the first option that each tip fits in, at each trim.

    A tip whose fit in the bore as it is cannot be told is left open, as the planner leaves it: it is to be measured.

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
    settled = np.zeros(len(trims), dtype=bool)
    for number, candidate in enumerate(options):
        open_ = (option < 0) & ~settled
        if number > 0:
            open_ &= _may_fit(candidate, end_dia, limits)
        at = np.flatnonzero(open_)
        if not len(at):
            continue
        codes = candidate.fit(tip.take(shaft[at]), trims[at], limits)
        option[at[codes == geo.FITS]] = number
        if number == 0:
            code[at] = codes
            if not candidate.operations:
                # unknown in the bore as it is: measure first, rather than prepare around the unknown
                settled = codes == geo.NOT_KNOWN
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
