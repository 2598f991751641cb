"""Columns of readings, and figures pooled from a data sheet and the bench.

A published figure and the readings of it are averaged with the inverse of their variances as weights (the
minimum-variance mean of independent readings).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from specdb.mechanics import defaults
from specdb.mechanics.constants import IN
from specdb.mechanics.stations import Stations

if TYPE_CHECKING:
    import pyarrow as pa

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_TORQUE_SD = np.array([defaults.TORQUE_MEASURED_DEG, defaults.TORQUE_PUBLISHED_DEG])
QUANTITY_CODE = {quantity: number for number, quantity in enumerate(("ei", "weight", "balance", "torque"))}


@dataclass(frozen=True, slots=True)
class Readings:
    """Columns of readings: row of the shaft (-1: none), coded quantity, leaflet or bench, value, and the rest."""

    owner: IntArray
    quantity: npt.NDArray[np.int8]
    published: npt.NDArray[np.bool_]
    value: FloatArray
    position_m: FloatArray
    sd: FloatArray
    length_in: FloatArray

    def only(self, quantity: str) -> Readings:
        """Those of one quantity that have a value and a shaft.

        Parameters
        ----------
        quantity : str
            One of ``QUANTITY_CODE``.
        """
        keep = (self.quantity == QUANTITY_CODE[quantity]) & (self.owner >= 0) & np.isfinite(self.value)
        if keep.all():
            return self
        return Readings(
            self.owner[keep],
            self.quantity[keep],
            self.published[keep],
            self.value[keep],
            self.position_m[keep],
            self.sd[keep],
            self.length_in[keep],
        )


def floats(values: Iterable[float | None]) -> FloatArray:
    """Numbers as an array, NaN for None.

    Parameters
    ----------
    values : iterable of float or None
        The numbers.
    """
    return np.array([np.nan if v is None else v for v in values], dtype=np.float64)


def column(table: pa.Table, name: str) -> FloatArray:
    """One number column of an Arrow table, NaN where null, shape (rows,).

    Parameters
    ----------
    table : pyarrow.Table
        The table.
    name : str
        The column.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    column = table.column(name)
    if column.null_count:
        column = pc.fill_null(column.cast(pa.float64()), np.nan)
    return np.asarray(column.to_numpy(), dtype=np.float64)


def pool(
    count: int,
    published: FloatArray,
    published_sd: float,
    readings: Readings,
    measured_sd: float,
    piece_sd: float,
) -> tuple[FloatArray, FloatArray]:
    """Precision-weighted mean of a published figure and the readings of it, with its standard deviation."""
    precision = np.where(np.isfinite(published), 1.0 / published_sd**2, 0.0)
    weighted = np.where(np.isfinite(published), published, 0.0) * precision
    default = np.where(readings.published, published_sd, measured_sd)
    own = np.where(np.isfinite(readings.sd), readings.sd, default)
    # a reading of one piece says less about the next piece than about itself
    weight = 1.0 / (own**2 + piece_sd**2)
    precision = precision + np.bincount(readings.owner, weight, count)
    weighted = weighted + np.bincount(readings.owner, weight * readings.value, count)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(precision > 0, weighted / precision, np.nan)
        sd = np.sqrt(np.where(precision > 0, 1.0 / precision, np.nan) + piece_sd**2)
    return mean, sd


def over_gauge(readings: Readings, raw_in: FloatArray, gauge_in: FloatArray, stations: Stations) -> Readings:
    """Torque readings as they would be over the gauge of the rating, both spans about the middle of the raw shaft.

    Twist goes with ``∫ds/EI`` over the span; with the length alone where the stiffness is unknown.
    """
    own, rated = readings.length_in, gauge_in[readings.owner]
    factor = np.ones(len(own))
    with np.errstate(invalid="ignore"):
        other = np.abs(own - rated) > 1e-6  # not where either is unknown
    for i in np.flatnonzero(other).tolist():
        row = int(readings.owner[i])
        middle = float(raw_in[row]) / 2.0

        def over(length: float, row: int = row, middle: float = middle) -> float:
            return stations.flexibility(row, (middle - length / 2.0) * IN, (middle + length / 2.0) * IN)

        length = min(float(own[i]), 2.0 * middle)
        ratio = over(float(rated[i])) / over(length)
        factor[i] = ratio if np.isfinite(ratio) else float(rated[i]) / length
    return replace(
        readings,
        value=readings.value * factor,
        sd=np.where(np.isfinite(readings.sd), readings.sd, _TORQUE_SD[readings.published.astype(int)]) * factor,
    )
