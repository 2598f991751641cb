"""EI stations of many shafts, row after row, and how readings become stations.

Coordinates are metres from the raw tip end. Repeated readings at one station are averaged with the inverse of
their variances as weights (the minimum-variance mean of independent readings).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics import defaults
from specdb.mechanics.constants import IN

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

SAME_STATION_M = 0.02 * IN  # readings nearer than this are one station
BENCH_MIN_STATIONS = 4
BENCH_MIN_SPAN = 0.5  # of the raw length
# less than this is no profile: what lies beyond would be pure invention (a stated judgement, no source)
MIN_STATIONS = 2
MIN_SPAN = 1.0 / 3.0  # of the raw length
_LINE_POINTS = 7


@dataclass(frozen=True, slots=True)
class Stations:
    """Ragged table of stations.

    Attributes
    ----------
    offset : ndarray of int, shape (N + 1,)
        Stations of row i are ``offset[i]:offset[i + 1]``.
    position_m, ei_n_m2, log_sd : ndarray, shape (offset[N],)
        Place, stiffness, and the station's own standard deviation of ln EI.
    """

    offset: IntArray
    position_m: FloatArray
    ei_n_m2: FloatArray
    log_sd: FloatArray

    def of(self, row: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Position, EI and standard deviation of ln EI of one row, each of shape (stations,)."""
        part = slice(int(self.offset[row]), int(self.offset[row + 1]))
        return self.position_m[part], self.ei_n_m2[part], self.log_sd[part]

    def flexibility(self, row: int, low_m: float, high_m: float) -> float:
        """``∫ds/EI`` of one row between two places, 1/(N·m); NaN without stations.

        Parameters
        ----------
        row : int
            Row of the shaft.
        low_m, high_m : float
            The places, m from the raw tip end.
        """
        place, ei, _ = self.of(row)
        if not len(place):
            return float("nan")
        edge = np.concatenate([[low_m], place[(place > low_m) & (place < high_m)], [high_m]])
        at = np.interp(edge, place, ei)
        ratio = np.log(at[1:] / at[:-1])
        straight = np.abs(ratio) > 1e-6
        # the mean of 1/EI over a straight line is ln(EI₂/EI₁)/(EI₂ - EI₁)
        rise = np.where(straight, at[1:] - at[:-1], 1.0)
        return float(np.sum(np.diff(edge) * np.where(straight, ratio / rise, 2.0 / (at[1:] + at[:-1]))))

    @property
    def count(self) -> IntArray:
        """Number of stations a row, shape (N,)."""
        return np.diff(self.offset)

    def only(self, rows: BoolArray) -> Stations:
        """The same table with the stations of the other rows taken out."""
        if rows.all():
            return self
        keep = np.repeat(rows, self.count)
        offset = np.concatenate([[0], np.cumsum(np.where(rows, self.count, 0))]).astype(np.int64)
        return Stations(offset, self.position_m[keep], self.ei_n_m2[keep], self.log_sd[keep])

    def with_rows_from(self, other: Stations) -> Stations:
        """Both tables in one; a row must have stations in one of them only."""
        owner = np.concatenate([_owners(self), _owners(other)])
        order = np.argsort(owner, kind="stable")
        return Stations(
            offset=self.offset + other.offset,
            position_m=np.concatenate([self.position_m, other.position_m])[order],
            ei_n_m2=np.concatenate([self.ei_n_m2, other.ei_n_m2])[order],
            log_sd=np.concatenate([self.log_sd, other.log_sd])[order],
        )


@dataclass(frozen=True, slots=True)
class EiReadings:
    """Columns of EI readings: row of the shaft, leaflet or bench, value, place, standard deviation (NaN: default)."""

    owner: IntArray
    published: BoolArray
    ei_n_m2: FloatArray
    position_m: FloatArray
    sd_n_m2: FloatArray

    def take(self, keep: BoolArray | IntArray) -> EiReadings:
        """Rows of a mask or an index."""
        return EiReadings(
            self.owner[keep],
            self.published[keep],
            self.ei_n_m2[keep],
            self.position_m[keep],
            self.sd_n_m2[keep],
        )


def _owners(stations: Stations) -> IntArray:
    return np.repeat(np.arange(len(stations.offset) - 1), stations.count)


def _offsets(owner: IntArray, rows: int) -> IntArray:
    return np.concatenate([[0], np.cumsum(np.bincount(owner, minlength=rows))]).astype(np.int64)


def stations_from_readings(
    rows: int, readings: EiReadings, raw_length_m: FloatArray
) -> tuple[Stations, BoolArray, BoolArray]:
    """Stations of each shaft from its EI readings.

    Measured readings are used alone where they cover the shaft (at least four stations over half its length);
    otherwise the published table; measured ones again where there is no published table of two stations or more.
    Whatever is chosen counts only from two stations over a third of the length on: EI is held constant beyond the
    stations, and one reading at the tip would make a whole shaft of that stiffness.

    Parameters
    ----------
    rows : int
        Number of shafts.
    readings : EiReadings
        Readings, in any order.
    raw_length_m : ndarray, shape (rows,)
        Raw lengths.

    Returns
    -------
    stations : Stations
        Sorted, merged stations.
    from_bench, from_leaflet : ndarray of bool, shape (rows,)
        Which shafts have stations from the bench, from a leaflet.
    """
    usable = (readings.ei_n_m2 > 0) & np.isfinite(readings.position_m)
    if not usable.all():
        readings = readings.take(usable)
    if not readings.published.all():
        readings = _choose(rows, readings, raw_length_m)
    key = readings.owner * 1e3 + readings.position_m
    if np.any(np.diff(key) < 0):
        readings = readings.take(np.argsort(key, kind="stable"))
    default = np.where(readings.published, defaults.EI_PUBLISHED_REL, defaults.EI_MEASURED_REL)
    own = np.isfinite(readings.sd_n_m2) & (readings.sd_n_m2 > 0)
    log_sd = np.where(own, readings.sd_n_m2 / readings.ei_n_m2, default)
    merged = _merge(readings, log_sd, rows)
    enough = _enough(merged, raw_length_m)
    bench = (np.bincount(readings.owner, ~readings.published, minlength=rows) > 0) & enough
    return merged.only(enough), bench, enough & ~bench


def _enough(stations: Stations, raw_length_m: FloatArray) -> BoolArray:
    """Rows whose stations show the shape of the shaft, shape (N,)."""
    rows = np.flatnonzero(stations.count >= MIN_STATIONS)
    span = stations.position_m[stations.offset[rows + 1] - 1] - stations.position_m[stations.offset[rows]]
    # without a raw length nothing is worked out, and that is what is told
    length = np.where(np.isfinite(raw_length_m[rows]), raw_length_m[rows], 0.0)
    enough = np.zeros(len(stations.count), dtype=np.bool_)
    enough[rows] = span >= MIN_SPAN * length
    return enough


def _choose(rows: int, readings: EiReadings, raw_length_m: FloatArray) -> EiReadings:
    measured = ~readings.published
    seen = np.bincount(readings.owner, measured, rows)
    published = np.bincount(readings.owner, readings.published, rows)
    low = np.full(rows, np.inf)
    high = np.full(rows, -np.inf)
    np.minimum.at(low, readings.owner[measured], readings.position_m[measured])
    np.maximum.at(high, readings.owner[measured], readings.position_m[measured])
    length = np.where(np.isfinite(raw_length_m), raw_length_m, 0.0)
    covers = (seen >= BENCH_MIN_STATIONS) & (high - low >= BENCH_MIN_SPAN * length)
    bench = covers | ((published < 2) & (seen > published))
    return readings.take(np.where(bench[readings.owner], measured, readings.published))


def _merge(readings: EiReadings, log_sd: FloatArray, rows: int) -> Stations:
    """Average readings at one station; the input is sorted by shaft and place."""
    owner, place = readings.owner, readings.position_m
    if len(owner) == 0:
        empty = np.empty(0)
        return Stations(np.zeros(rows + 1, dtype=np.int64), empty, empty, empty)
    new = np.empty(len(owner), dtype=bool)
    new[0] = True
    new[1:] = (np.diff(owner) != 0) | (np.diff(place) > SAME_STATION_M)
    if new.all():
        return Stations(_offsets(owner, rows), place, readings.ei_n_m2, log_sd)
    start = np.flatnonzero(new)
    weight = 1.0 / log_sd**2
    total = np.add.reduceat(weight, start)
    return Stations(
        offset=_offsets(owner[start], rows),
        position_m=np.add.reduceat(weight * place, start) / total,
        ei_n_m2=np.exp(np.add.reduceat(weight * np.log(readings.ei_n_m2), start) / total),
        log_sd=1.0 / np.sqrt(total),
    )


def two_figure_stations(shaft: dict[str, FloatArray], wanted: BoolArray) -> tuple[Stations, BoolArray, BoolArray]:
    """Stations on the straight line through a tip and a butt stiffness.

    Parameters
    ----------
    shaft : dict of ndarray, shape (N,)
        ``tip_ei_n_m2``, ``tip_ei_at_in``, ``butt_ei_n_m2``, ``butt_ei_at_in``, ``raw_length_in``; NaN unknown.
    wanted : ndarray of bool, shape (N,)
        Shafts without stations from readings.

    Returns
    -------
    stations : Stations
        Seven points on the line (so that a departure from it can be expressed), for the shafts in ``two``.
    two : ndarray of bool, shape (N,)
        Shafts known from two figures.
    assumed_at : ndarray of bool, shape (N,)
        Shafts whose place of a figure was assumed.
    """
    tip, butt, raw = shaft["tip_ei_n_m2"], shaft["butt_ei_n_m2"], shaft["raw_length_in"]
    tip_at = np.where(np.isfinite(shaft["tip_ei_at_in"]), shaft["tip_ei_at_in"], defaults.TWO_FIGURE_TIP_AT_IN)
    butt_at = np.where(
        np.isfinite(shaft["butt_ei_at_in"]),
        shaft["butt_ei_at_in"],
        raw - defaults.TWO_FIGURE_BUTT_FROM_END_IN,
    )
    with np.errstate(invalid="ignore"):
        two = wanted & np.isfinite(tip) & np.isfinite(butt) & (butt_at > tip_at)
    unsaid = ~np.isfinite(shaft["tip_ei_at_in"]) | ~np.isfinite(shaft["butt_ei_at_in"])
    rows = np.flatnonzero(two)
    t = np.linspace(0.0, 1.0, _LINE_POINTS)
    position = tip_at[rows, None] + (butt_at - tip_at)[rows, None] * t
    ei = tip[rows, None] + (butt - tip)[rows, None] * t
    offset = np.concatenate([[0], np.cumsum(np.where(two, _LINE_POINTS, 0))]).astype(np.int64)
    stations = Stations(offset, position.ravel() * IN, ei.ravel(), np.zeros(ei.size))
    return stations, two, two & unsaid
