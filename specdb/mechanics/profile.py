"""One raw shaft as the mechanics see it, and many of them side by side.

``s`` is the distance from the raw tip end. ``EI(s)`` is a straight line between stations and constant beyond
the first and the last. Mass per length is the straight line ``m(s) = a + c·s`` that gives the raw weight and
balance point; with mass ``M``, length ``L`` and balance point ``b`` it is ``m(s) = (M/L)·(1 + 12·(b/L -
1/2)·(s/L - 1/2))``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.errors import MechanicsError

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_ROUNDING_M = 1e-9


@dataclass(frozen=True, slots=True)
class ShaftModel:
    """One raw shaft, SI.

    Attributes
    ----------
    raw_length_m : float
        Length of the uncut shaft, m.
    station_m : ndarray, shape (n,)
        Stations, m from the raw tip end, strictly increasing, at least one.
    ei_n_m2 : ndarray, shape (n,)
        Bending stiffness at the stations, N·m², positive.
    log_ei_cov : ndarray, shape (n, n)
        Covariance of ln EI at the stations.
    mass_kg, mass_sd_kg : float
        Mass of the uncut shaft and its standard deviation, kg.
    balance_from_tip_m : float or None
        Balance point of the uncut shaft from the raw tip end, m; None: mass uniform along the shaft.
    balance_sd_m : float
        Standard deviation of the balance point, m; counts also where the mass is taken as uniform.
    twist_rad_per_nm : float or None
        Rated twist of the uncut shaft over its gauge span, rad/(N·m); None: torque unknown.
    twist_sd : float
        Standard deviation of the rated twist, rad/(N·m).
    twist_from_m, twist_to_m : float
        Gauge span of the rating, m from the raw tip end.

    Raises
    ------
    MechanicsError
        If the numbers describe no shaft; among others where the straight line of mass per length would not be
        positive everywhere, that is a balance point outside the middle third.
    """

    raw_length_m: float
    station_m: FloatArray
    ei_n_m2: FloatArray
    log_ei_cov: FloatArray
    mass_kg: float
    mass_sd_kg: float
    balance_from_tip_m: float | None
    balance_sd_m: float
    twist_rad_per_nm: float | None
    twist_sd: float
    twist_from_m: float
    twist_to_m: float

    def __post_init__(self) -> None:
        for name in ("raw_length_m", "mass_kg"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0):
                raise MechanicsError(f"{name} of a shaft must be a positive number, is {value}")
        for name in ("mass_sd_kg", "balance_sd_m", "twist_sd"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0):
                raise MechanicsError(f"{name} of a shaft must be zero or positive, is {value}")
        _check_stations(self.station_m, self.ei_n_m2, self.log_ei_cov)
        _check_balance(self.balance_from_tip_m, self.raw_length_m)
        _check_twist(self.twist_rad_per_nm, self.twist_from_m, self.twist_to_m, self.raw_length_m)

    @property
    def mass_line(self) -> tuple[float, float]:
        """``a`` (kg/m) and ``c`` (kg/m²) of the mass per length ``a + c·s``."""
        length = self.raw_length_m
        balance = 0.5 * length if self.balance_from_tip_m is None else self.balance_from_tip_m
        tilt = 12.0 * (balance / length - 0.5)
        mean = self.mass_kg / length
        return mean * (1.0 - 0.5 * tilt), mean * tilt / length

    def ei(self, s_m: npt.ArrayLike) -> FloatArray:
        """Bending stiffness at places along the shaft.

        Parameters
        ----------
        s_m : array_like
            Places, m from the raw tip end.

        Returns
        -------
        ndarray
            EI in N·m², of the shape of ``s_m``.
        """
        return np.interp(np.asarray(s_m, dtype=np.float64), self.station_m, self.ei_n_m2)


def _check_stations(station: FloatArray, ei: FloatArray, covariance: FloatArray) -> None:
    n = station.size
    if station.ndim != 1 or n == 0 or ei.shape != (n,) or covariance.shape != (n, n):
        raise MechanicsError(
            "a shaft needs a station or more, an EI for each and the covariance of ln EI; got shapes "
            f"{station.shape}, {ei.shape}, {covariance.shape}"
        )
    if not np.isfinite(station).all() or (n > 1 and float(np.diff(station).min()) <= 0):
        raise MechanicsError("stations must be finite and strictly increasing")
    if not np.isfinite(ei).all() or float(ei.min()) <= 0:
        raise MechanicsError(f"EI must be positive everywhere, the smallest value is {float(ei.min()):g} N·m²")
    if not np.isfinite(covariance).all() or float(covariance.diagonal().min()) < 0:
        raise MechanicsError("the covariance of ln EI must be finite, with no negative variance")
    if float(np.abs(covariance - covariance.T).max()) > 1e-9 * max(float(np.abs(covariance).max()), 1e-30):
        raise MechanicsError("the covariance of ln EI must be symmetric")


def _check_balance(balance: float | None, length: float) -> None:
    if balance is not None and not length / 3.0 < balance < length * 2.0 / 3.0:
        raise MechanicsError(
            f"a balance point {balance:.4f} m from the tip of a {length:.4f} m shaft lies outside its "
            "middle third: mass per length as a straight line would be negative at one end"
        )


def _check_twist(twist: float | None, low: float, high: float, length: float) -> None:
    if twist is None:
        return
    if not (np.isfinite(twist) and twist > 0):
        raise MechanicsError(f"rated twist must be a positive number, is {twist}")
    if not -_ROUNDING_M <= low < high <= length + _ROUNDING_M:
        raise MechanicsError(
            f"gauge span of the rated twist, {low:.4f} to {high:.4f} m, is not on the {length:.4f} m shaft"
        )


@dataclass(frozen=True, slots=True)
class ShaftBatch:
    """B shafts side by side; shafts with fewer than J stations are padded beyond their last one.

    Attributes
    ----------
    count : ndarray of int, shape (B,)
        Stations of each shaft.
    station_m, ei_n_m2 : ndarray, shape (B, J), J at least 2
        Stations and stiffness; padding goes on in steps of 1 m with the last stiffness.
    log_ei_cov : ndarray, shape (B, J, J)
        Covariance of ln EI, zero for padding.
    raw_m, mass_kg, mass_sd_kg, balance_m, balance_sd_m : ndarray, shape (B,)
        As in :class:`ShaftModel`; the middle of the shaft where the balance point is unknown.
    twist, twist_sd, twist_from_m, twist_to_m : ndarray, shape (B,)
        As in :class:`ShaftModel`; NaN, and the whole shaft as gauge span, where torque is unknown.
    """

    count: IntArray
    station_m: FloatArray
    ei_n_m2: FloatArray
    log_ei_cov: FloatArray
    raw_m: FloatArray
    mass_kg: FloatArray
    mass_sd_kg: FloatArray
    balance_m: FloatArray
    balance_sd_m: FloatArray
    twist: FloatArray
    twist_sd: FloatArray
    twist_from_m: FloatArray
    twist_to_m: FloatArray

    @classmethod
    def of(cls, models: Sequence[ShaftModel]) -> ShaftBatch:
        """Put shafts side by side.

        Parameters
        ----------
        models : sequence of ShaftModel
            The shafts, B of them.
        """
        count = np.array([m.station_m.size for m in models], dtype=np.int64)
        width = max(int(count.max(initial=0)), 2)
        station = np.empty((len(models), width))
        ei = np.empty((len(models), width))
        covariance = np.zeros((len(models), width, width))
        beyond = np.arange(1.0, width + 1.0)
        for i, model in enumerate(models):
            n = model.station_m.size
            station[i, :n], ei[i, :n] = model.station_m, model.ei_n_m2
            covariance[i, :n, :n] = model.log_ei_cov
            if n < width:
                station[i, n:], ei[i, n:] = model.station_m[-1] + beyond[: width - n], model.ei_n_m2[-1]
        scalars = np.array([_scalars(m) for m in models], dtype=np.float64).reshape(len(models), 9)
        return cls(count, station, ei, covariance, *scalars.T)

    @property
    def mass_line(self) -> tuple[FloatArray, FloatArray]:
        """``a`` (kg/m) and ``c`` (kg/m²) of the mass per length ``a + c·s``, each of shape (B,)."""
        tilt = 12.0 * (self.balance_m / self.raw_m - 0.5)
        mean = self.mass_kg / self.raw_m
        return mean * (1.0 - 0.5 * tilt), mean * tilt / self.raw_m

    @property
    def mass_line_by_balance(self) -> tuple[FloatArray, FloatArray]:
        """Derivatives of ``a`` (kg/m²) and ``c`` (kg/m³) by the balance point, each of shape (B,)."""
        per_length = 12.0 * self.mass_kg / self.raw_m**2
        return -0.5 * per_length, per_length / self.raw_m

    def ei_at(self, s_m: FloatArray) -> FloatArray:
        """Bending stiffness at places along each shaft.

        Parameters
        ----------
        s_m : ndarray, shape (B, K)
            Places, m from the raw tip end.

        Returns
        -------
        ndarray, shape (B, K)
            EI in N·m².
        """
        below, part = self.locate(s_m)
        low, high = picked(self.ei_n_m2, below), picked(self.ei_n_m2, below + 1)
        return low + part * (high - low)

    def locate(self, s_m: FloatArray) -> tuple[IntArray, FloatArray]:
        """Station below each place, and how far it is on the way to the next (0 to 1).

        Parameters
        ----------
        s_m : ndarray, shape (B, K)
            Places, m from the raw tip end.
        """
        below = (s_m[:, :, None] >= self.station_m[:, None, :]).sum(axis=2) - 1
        below = np.clip(below, 0, np.maximum(self.count - 2, 0)[:, None])
        start = picked(self.station_m, below)
        step = picked(self.station_m, below + 1) - start
        part = np.clip((s_m - start) / step, 0.0, 1.0)
        # the only station of a shaft holds everywhere; its neighbour is padding
        return below, np.where(self.count[:, None] > 1, part, 0.0)


def picked(values: FloatArray, index: IntArray) -> FloatArray:
    """Entries of each row; the same as :func:`numpy.take_along_axis`, which costs more than a small batch itself.

    Parameters
    ----------
    values : ndarray, shape (B, J)
        Rows.
    index : ndarray of int, shape (B, K)
        Columns to take of each.

    Returns
    -------
    ndarray, shape (B, K)
    """
    taken: FloatArray = values[np.arange(len(values))[:, None], index]
    return taken


def _scalars(model: ShaftModel) -> tuple[float, ...]:
    known = model.twist_rad_per_nm is not None
    balance = model.balance_from_tip_m
    return (
        model.raw_length_m,
        model.mass_kg,
        model.mass_sd_kg,
        0.5 * model.raw_length_m if balance is None else balance,
        model.balance_sd_m,
        np.nan if model.twist_rad_per_nm is None else model.twist_rad_per_nm,
        model.twist_sd if known else 0.0,
        model.twist_from_m if known else 0.0,
        model.twist_to_m if known else model.raw_length_m,
    )
