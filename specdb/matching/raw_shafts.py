"""Features of raw shafts, for browsing: from the same columns that everything else is computed from."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from specdb.matching.neighbours import BALANCE, LENGTH, PLACE_T, PLACES, RAW_FEATURES, TORQUE, WEIGHT
from specdb.mechanics.constants import DEG, FT_LB, GRAM, IN
from specdb.mechanics.shaft_table import ShaftTable
from specdb.mechanics.stations import Stations

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


def raw_features(table: ShaftTable) -> tuple[FloatArray, FloatArray]:
    """Features of shafts in the order of ``RAW_FEATURES``.

    Parameters
    ----------
    table : ShaftTable
        N shafts.

    Returns
    -------
    features, sd : ndarray, shape (N, F)
        In the features' own units, with standard deviations; NaN where unknown.
    """
    n = len(table)
    features = np.full((n, len(RAW_FEATURES)), np.nan)
    sd = np.full_like(features, np.nan)
    features[:, :PLACES], sd[:, :PLACES] = _stiffness(table)
    per_deg = DEG / FT_LB
    features[:, WEIGHT], sd[:, WEIGHT] = table.mass_kg / GRAM, table.mass_sd_kg / GRAM
    features[:, TORQUE], sd[:, TORQUE] = table.twist_rad_per_nm / per_deg, table.twist_sd / per_deg
    per_cent = 100.0 / table.raw_length_m
    features[:, BALANCE], sd[:, BALANCE] = table.balance_m * per_cent, table.balance_sd_m * per_cent
    features[:, LENGTH], sd[:, LENGTH] = table.raw_length_m / IN, 0.0
    sd[~np.isfinite(features)] = np.nan
    return features, sd


def _stiffness(table: ShaftTable) -> tuple[FloatArray, FloatArray]:
    """Logarithm of EI at the places and its standard deviation, each of shape (N, PLACES); NaN without stiffness."""
    value, variance = np.full((len(table), PLACES), np.nan), np.full((len(table), PLACES), np.nan)
    stations = table.stations
    rows = np.flatnonzero((stations.count > 1) & np.isfinite(table.raw_length_m))
    if not rows.size:
        return value, variance
    place = table.raw_length_m[rows, None] * PLACE_T
    below, part = _between_stations(stations, rows, place)
    low, high = stations.ei_n_m2[below], stations.ei_n_m2[below + 1]
    value[rows] = np.log(low + part * (high - low))
    own = stations.log_sd[below] + part * (stations.log_sd[below + 1] - stations.log_sd[below])
    variance[rows] = own**2 + (table.common_sd[rows] ** 2 + table.shape_sd[rows] ** 2)[:, None]
    _estimated_variance(table, variance)
    return value, np.sqrt(variance)


def _between_stations(stations: Stations, rows: IntArray, place: FloatArray) -> tuple[IntArray, FloatArray]:
    """Station below each place and the part of the way to the next, 0 to 1; held beyond the ends.

    The same stations give the same numbers whatever the row, so that equal shafts are exactly as near.
    """
    first, end = stations.offset[rows][:, None], stations.offset[rows + 1][:, None]
    # all shafts on one axis, far enough apart that none reaches into the next, find the station to within rounding
    apart = 2.0 * max(float(place.max()), float(stations.position_m.max())) + 1.0
    axis = np.repeat(np.arange(len(stations.count)), stations.count) * apart + stations.position_m
    below = np.clip(np.searchsorted(axis, place + rows[:, None] * apart, side="right") - 1, first, end - 2)
    below = np.where(place < stations.position_m[below], np.maximum(below - 1, first), below)
    below = np.where(place >= stations.position_m[below + 1], np.minimum(below + 1, end - 2), below)
    start = stations.position_m[below]
    part = np.clip((place - start) / (stations.position_m[below + 1] - start), 0.0, 1.0)
    return below, part


def _estimated_variance(table: ShaftTable, variance: FloatArray) -> None:
    """Put in the variance of ln EI of shafts that have an estimate."""
    estimates = table.estimates
    if estimates is None or not table.estimate_of.size:
        return
    rows = np.flatnonzero(table.estimate_of >= 0)
    which = table.estimate_of[rows]
    below = np.clip(np.searchsorted(estimates.node_t, PLACE_T, side="right") - 1, 0, estimates.node_t.size - 2)
    part = (PLACE_T - estimates.node_t[below]) / np.diff(estimates.node_t)[below]
    low = (1.0 - part) * estimates.ei_n_m2[which][:, below]
    high = part * estimates.ei_n_m2[which][:, below + 1]
    a, b = low / (low + high), high / (low + high)
    covariance = estimates.log_ei_cov[which].astype(np.float64)
    variance[rows] = (
        a**2 * covariance[:, below, below]
        + 2.0 * a * b * covariance[:, below, below + 1]
        + b**2 * covariance[:, below + 1, below + 1]
    )
