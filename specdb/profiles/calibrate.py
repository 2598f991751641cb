"""From readings of references to calibrations; the model is described in :mod:`specdb.profiles.calibration`.

The unknowns of an instrument are its offset and scale and, for every reference, how far its stated value is off. They
are followed from one calibration to the next: all readings so far count for each, later ones do not, so that a number
worked out last month stays what it was.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.profiles.calibration import (
    MOVES,
    PERIOD_DAYS,
    USUAL,
    Calibration,
    Calibrations,
    Doubt,
    Drift,
    Usual,
    same_name,
)
from specdb.records.rows import ReferenceReading

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

OUTLIER_SDS = 3.0
_IMPOSSIBLE_SDS = 5.0
_USUAL_WORTH = 4.0  # readings that the usual repeatability counts for
_LEAST_FREE = 0.05  # of a reading that the fit follows nearly wholly
_OFFSET, _SCALE = 0, 1
_ROUNDS = 3  # repeatability and the part of the scale in a reference's error settle together


def calibrate(readings: Iterable[ReferenceReading]) -> Calibrations:
    """Work out every calibration of every instrument.

    A reading that no instrument for its quantity can give is left out and asked about; references that together
    imply an impossible scale or offset give no calibration at all, and are asked about; a reading more than three
    standard deviations off is named and counts.

    Parameters
    ----------
    readings : iterable of ReferenceReading
        Readings of references, in any order.
    """
    groups: dict[tuple[str, str], list[ReferenceReading]] = {}
    for reading in readings:
        groups.setdefault((same_name(reading.instrument), reading.quantity), []).append(reading)
    found: list[Calibration] = []
    doubts: list[Doubt] = []
    for (_, quantity), group in sorted(groups.items(), key=lambda item: item[0]):
        usual = USUAL[quantity]
        kept = [r for r in group if not _impossible(r, usual, doubts)]
        follower = _Follower(usual, kept)
        for period in _periods(kept):
            found.extend(follower.take(period, doubts))
    return Calibrations(found, doubts)


def _day(reading: ReferenceReading) -> dt.date:
    return dt.date.min if reading.taken_on is None else reading.taken_on


def _periods(readings: Sequence[ReferenceReading]) -> list[list[ReferenceReading]]:
    """Readings that make one calibration each, in the order of their days."""
    periods: list[list[ReferenceReading]] = []
    for reading in sorted(readings, key=lambda r: (_day(r), r.reference, r.id)):
        if periods and (_day(reading) - _day(periods[-1][0])).days < PERIOD_DAYS:
            periods[-1].append(reading)
        else:
            periods.append([reading])
    return periods


def _impossible(reading: ReferenceReading, usual: Usual, doubts: list[Doubt]) -> bool:
    true = reading.true_value
    stated = usual.noise_at(true) if reading.true_sd is None else reading.true_sd
    spread = math.hypot(usual.offset_sd, usual.scale_sd * true, usual.noise_at(true), stated)
    if abs(reading.value - true) <= _IMPOSSIBLE_SDS * spread:
        return False
    message = (
        f"{_said(reading, usual)}: no {_words(reading.quantity)} instrument is so far off. It is not used. "
        "Are its figure, its unit, the true value and the set-up right?"
    )
    doubts.append(Doubt(reading.instrument, reading.quantity, message, used=False))
    return True


def _stated(reading: ReferenceReading) -> tuple[str, float]:
    """What a reading was held against: the reference, and its value in that set-up."""
    return same_name(reading.reference), reading.true_value


def _words(quantity: str) -> str:
    return "EI" if quantity == "ei" else quantity.replace("_", " ")


def _on(reading: ReferenceReading) -> str:
    return "" if reading.taken_on is None else f" on {reading.taken_on.isoformat()}"


def _said(reading: ReferenceReading, usual: Usual) -> str:
    return (
        f"{reading.instrument} read {reading.value:.6g} {usual.unit}{_on(reading)} on reference "
        f"'{reading.reference}', which is {reading.true_value:.6g} {usual.unit}"
    )


@dataclass(frozen=True, slots=True)
class _State:
    """Mean and covariance of offset, scale and the errors of the stated values."""

    mean: FloatArray
    covariance: FloatArray

    def moved(self, usual: Usual) -> _State:
        """The instrument some time later."""
        covariance = self.covariance.copy()
        covariance[_OFFSET, _OFFSET] += (MOVES * usual.offset_sd) ** 2
        covariance[_SCALE, _SCALE] += (MOVES * usual.scale_sd) ** 2
        return _State(self.mean, covariance)


@dataclass(frozen=True, slots=True)
class _Columns:
    """Readings of one calibration."""

    true: FloatArray
    value: FloatArray
    of: IntArray  # which stated value
    noise: FloatArray  # usual repeatability

    def model(self, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What is read, ``a + b·(t + u)``, and its derivatives by the unknowns."""
        true = self.true + at[2 + self.of]
        row = np.zeros((true.size, at.size))
        row[:, _OFFSET] = 1.0
        row[:, _SCALE] = true
        row[np.arange(true.size), 2 + self.of] = at[_SCALE]
        return at[_OFFSET] + at[_SCALE] * true, row


@dataclass(frozen=True, slots=True)
class _Fit:
    state: _State
    residual: FloatArray  # in usual sds
    leverage: FloatArray  # how far the fit follows each reading, 0 to 1


class _Follower:
    """One instrument and quantity, from calibration to calibration."""

    def __init__(self, usual: Usual, readings: Sequence[ReferenceReading]) -> None:
        self.usual = usual
        # a piece has one true value a set-up, and a stated value is off by the same in all readings of it
        stated = sorted({_stated(r) for r in readings})
        self._at = {key: i for i, key in enumerate(stated)}
        known: dict[tuple[str, float], float] = {}
        for r in readings:
            if r.true_sd is not None:
                known[_stated(r)] = max(r.true_sd, known.get(_stated(r), 0.0))
        sd = [usual.offset_sd, usual.scale_sd, *(known.get(key, usual.noise_at(key[1])) for key in stated)]
        mean = np.zeros(len(sd))
        mean[_SCALE] = 1.0
        self._fresh = _State(mean, np.diag(np.square(sd)))
        self._state: _State | None = None
        self._square = self._freedom = _USUAL_WORTH

    def take(self, period: Sequence[ReferenceReading], doubts: list[Doubt]) -> Iterator[Calibration]:
        """The calibration of one period; none where its readings make no sense together."""
        columns = self._columns(period)
        wrong = self._nonsense(period, columns)
        if wrong is not None:
            doubts.append(wrong)
            return
        drift = None
        start = self._fresh
        if self._state is not None:
            drift = self._drift(self._state, columns)
            start = start if drift.found else self._state.moved(self.usual)
        fit, square, freedom = self._settle(start, columns)
        doubts.extend(self._outliers(period, fit))
        self._state, self._square, self._freedom = fit.state, square, freedom
        yield self._calibration(period, drift)

    @property
    def _spread(self) -> float:
        return math.sqrt(self._square / self._freedom)

    def _columns(self, period: Sequence[ReferenceReading]) -> _Columns:
        true = np.array([r.true_value for r in period])
        return _Columns(
            true=true,
            value=np.array([r.value for r in period]),
            of=np.array([self._at[_stated(r)] for r in period], dtype=np.int64),
            noise=np.array([self.usual.noise_at(t) for t in true.tolist()]),
        )

    def _settle(self, start: _State, columns: _Columns) -> tuple[_Fit, float, float]:
        """Fit, and the repeatability that its residuals leave; the two depend on each other."""
        square, freedom = self._square, self._freedom
        fit = _fitted(start, columns, math.sqrt(square / freedom))
        for _ in range(_ROUNDS):
            square = self._square + float(np.square(fit.residual).sum())
            freedom = self._freedom + float((1.0 - fit.leverage).sum())
            fit = _fitted(start, columns, math.sqrt(square / freedom))
        return fit, square, freedom

    def _drift(self, state: _State, columns: _Columns) -> Drift:
        """A shift of all readings against what the earlier ones lead to, by generalised least squares."""
        from scipy.special import stdtr  # 0.1 s

        expected, row = columns.model(state.mean)
        spread = row @ state.covariance @ row.T + np.diag(np.square(self._spread * columns.noise))
        weight = np.linalg.solve(spread, np.ones(columns.value.size))
        variance = 1.0 / float(weight.sum())
        shift = variance * float(weight @ (columns.value - expected))
        sd = math.sqrt(variance)
        # the repeatability is itself known from few readings: Student's distribution, a little on the safe side
        return Drift(shift, sd, 2.0 * float(stdtr(self._freedom, -abs(shift) / sd)))

    def _nonsense(self, period: Sequence[ReferenceReading], columns: _Columns) -> Doubt | None:
        """Whether the readings imply a scale that no instrument has, whatever its offset."""
        stated = np.sqrt(np.diag(self._fresh.covariance))[2 + columns.of]
        same = columns.of[:, None] == columns.of[None, :]
        covariance = same * np.outer(stated, stated) + np.diag(np.square(columns.noise))
        row = np.stack([np.ones(columns.true.size), columns.true], axis=1)
        if np.unique(columns.true).size < 2:
            return None
        precision = row.T @ np.linalg.solve(covariance, row)
        line = np.linalg.solve(precision, row.T @ np.linalg.solve(covariance, columns.value))
        sd = math.sqrt(float(np.linalg.inv(precision)[1, 1]))
        scale = float(line[1])
        if abs(scale - 1.0) <= _IMPOSSIBLE_SDS * math.hypot(sd, self.usual.scale_sd):
            return None
        first = period[0]
        names = sorted({f"'{r.reference}' ({r.true_value:.6g} {self.usual.unit})" for r in period})
        message = (
            f"references {' and '.join(names)}{_on(first)} together imply that {first.instrument} has a scale of "
            f"{scale:.2f}: no {_words(first.quantity)} instrument has. They give no calibration. Are their true "
            "values, units and set-ups right?"
        )
        return Doubt(first.instrument, first.quantity, message, used=False)

    def _outliers(self, period: Sequence[ReferenceReading], fit: _Fit) -> Iterator[Doubt]:
        expected = self._spread * np.sqrt(np.maximum(1.0 - fit.leverage, _LEAST_FREE))
        for reading, off in zip(period, (fit.residual / expected).tolist(), strict=True):
            if abs(off) > OUTLIER_SDS:
                message = (
                    f"{_said(reading, self.usual)}: {abs(off):.1f} sd {'above' if off > 0 else 'below'} what all else "
                    "leads to. It is counted. Are its figure and its set-up right?"
                )
                yield Doubt(reading.instrument, reading.quantity, message, used=True)

    def _calibration(self, period: Sequence[ReferenceReading], drift: Drift | None) -> Calibration:
        state = self._fresh if self._state is None else self._state
        days = [r.taken_on for r in period if r.taken_on is not None]
        true = [r.true_value for r in period]
        return Calibration(
            instrument=period[-1].instrument,
            quantity=period[-1].quantity,
            offset=float(state.mean[_OFFSET]),
            scale=float(state.mean[_SCALE]),
            covariance=state.covariance[:2, :2],
            spread=self._spread,
            residual_sd=self._spread * self.usual.noise_at(math.fsum(true) / len(true)),
            count=len(period),
            references=tuple(sorted({r.reference for r in period})),
            low=min(true),
            high=max(true),
            first_day=min(days, default=None),
            last_day=max(days, default=None),
            drift=drift,
        )


def _fitted(start: _State, columns: _Columns, spread: float) -> _Fit:
    """Most probable unknowns, by Gauss-Newton in the form that takes a stated value without error."""
    noise = np.square(spread * columns.noise)
    mean = start.mean
    for _ in range(_ROUNDS):
        expected, row = columns.model(mean)
        cross = start.covariance @ row.T
        gain = np.linalg.solve(row @ cross + np.diag(noise), cross.T).T
        mean = start.mean + gain @ (columns.value - expected - row @ (start.mean - mean))
    covariance = start.covariance - gain @ cross.T
    covariance = 0.5 * (covariance + covariance.T)
    expected, row = columns.model(mean)
    leverage = np.einsum("na,ab,nb->n", row, covariance, row) / noise
    return _Fit(_State(mean, covariance), (columns.value - expected) / columns.noise, np.clip(leverage, 0.0, 1.0))
