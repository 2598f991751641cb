"""What an instrument of the shop reads against what is true, from readings of references.

A clamp that gives, the mass of a clip, a gauge with play: a meter or jig reads ``v = a + b·t`` where ``t`` is true. A
reference piece or a standard weight, read again and again, tells the offset ``a`` and the scale ``b``; a bench reading
is then brought to ``t = (v - a)/b``. The stored reading is never changed.

Reference readings within a week make one calibration. It holds from its first day to the first day of the next; a
bench reading from before the first takes the first, one without a day the latest. Instruments change slowly: a
calibration starts from the one before, which may have moved by a quarter of what instruments differ by, so that one
check reading does not undo a careful calibration. Where its readings differ from those before by more than chance
explains, the instrument was changed, and the calibration starts afresh.

The error of a reference's stated value is common to all readings of it, and is an unknown beside offset and scale;
where its standard deviation is not given, it is taken as that of one reading. Offset and scale have a weak prior by
quantity: with one reference, the more likely of the two explains most.

References
----------
Linear calibration with reference materials, and the inverse ``(v - a)/b`` with its first-order variance: ISO
11095:1996; Draper & Smith, *Applied Regression Analysis*, 3rd ed., 3.2. Generalised least squares: Seber & Lee, *Linear
Regression Analysis*, 2nd ed., 3.10. From one calibration to the next: West & Harrison, *Bayesian Forecasting and
Dynamic Models*, chapter 4. Variance of readings from few: scaled inverse chi-square, Gelman et al., *Bayesian Data
Analysis*, chapter 14.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics import defaults
from specdb.records.rows import ShaftReading

FloatArray = npt.NDArray[np.float64]

PERIOD_DAYS = 7  # readings within so many days of the first make one calibration
MOVES = 0.25  # of the prior: how far an instrument moves from one calibration to the next
CHANGED = 0.01  # chance below which readings like the earlier ones differ so much
PUBLISHED = "published"


@dataclass(frozen=True, slots=True)
class Usual:
    """What instruments for one quantity are like (stated judgements: common practice, no source).

    Attributes
    ----------
    unit : str
        For people.
    scale_sd : float
        How far the scale lies from 1.
    offset_sd : float
        How far the offset lies from 0, in the quantity's unit.
    noise, noise_rel : float
        Repeatability of one reading: in the unit, and as part of the value.
    """

    unit: str
    scale_sd: float
    offset_sd: float
    noise: float = 0.0
    noise_rel: float = 0.0

    def noise_at(self, value: float) -> float:
        """Repeatability of one reading of a value, in the unit."""
        return self.noise + self.noise_rel * abs(value)


USUAL: dict[str, Usual] = {
    # a clamp that gives and the mass of the clip lower every frequency by about the same part
    "frequency": Usual("cpm", 0.03, 2.0, noise=defaults.FREQUENCY_CPM),
    "ei": Usual("N·m²", 0.05, 0.5, noise_rel=defaults.EI_MEASURED_REL),
    "deflection": Usual("mm", 0.03, 1.0, noise=defaults.DEFLECTION_MM),
    "torque": Usual("deg", 0.05, 0.15, noise=defaults.TORQUE_MEASURED_DEG),
    "weight": Usual("g", 0.005, 0.5, noise=defaults.WEIGHT_MEASURED_G),
    "balance": Usual("in", 0.003, 0.10, noise=defaults.BALANCE_MEASURED_IN),
    "outside_diameter": Usual("in", 0.002, 0.002, noise=defaults.OUTSIDE_DIAMETER_IN),
}


@dataclass(frozen=True, slots=True)
class Drift:
    """How a calibration lies against the earlier ones.

    Attributes
    ----------
    shift, sd : float
        By how much more the instrument reads than before, in the quantity's unit.
    chance : float
        How likely a shift as large is where nothing changed (two-sided).
    """

    shift: float
    sd: float
    chance: float

    @property
    def found(self) -> bool:
        """Whether chance does not explain it."""
        return self.chance < CHANGED


@dataclass(frozen=True, slots=True)
class Calibration:
    """Offset and scale of an instrument over some time: it reads ``offset + scale·true``.

    Attributes
    ----------
    instrument, quantity : str
        What it is of.
    offset, scale : float
        In the quantity's unit; per unit.
    covariance : ndarray, shape (2, 2)
        Of offset and scale.
    spread : float
        Repeatability, as a multiple of the usual one.
    residual_sd : float
        The same in the quantity's unit, at the mean of the references.
    count : int
        Reference readings of this calibration.
    references : tuple of str
        What was read.
    low, high : float
        Range of the true values that were read.
    first_day, last_day : date or None
        Days of the readings; None where no day is known.
    drift : Drift or None
        Against the earlier calibrations; None for the first.
    """

    instrument: str
    quantity: str
    offset: float
    scale: float
    covariance: FloatArray
    spread: float
    residual_sd: float
    count: int
    references: tuple[str, ...]
    low: float
    high: float
    first_day: dt.date | None
    last_day: dt.date | None
    drift: Drift | None

    def true_of(self, value: npt.ArrayLike, sd: npt.ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Bring readings to what is true.

        Parameters
        ----------
        value, sd : array_like, shape (N,)
            As read, with the standard deviation of each (NaN: the usual one, or the instrument's where that is worse),
            in the quantity's unit.

        Returns
        -------
        true : ndarray, shape (N,)
            What is true.
        own_sd, common_sd : ndarray, shape (N,)
            Standard deviations: of the reading alone, and of the calibration, which is common to all readings that it
            is used on.
        """
        read = np.asarray(value, dtype=np.float64)
        given = np.asarray(sd, dtype=np.float64)
        usual = USUAL[self.quantity]
        own = np.where(given > 0.0, given, max(self.spread, 1.0) * (usual.noise + usual.noise_rel * np.abs(read)))
        true = (read - self.offset) / self.scale
        c = self.covariance
        common = np.sqrt(np.maximum(c[0, 0] + 2.0 * true * c[0, 1] + true**2 * c[1, 1], 0.0))
        return true, own / self.scale, common / self.scale

    @property
    def off(self) -> tuple[float, float]:
        """How much too much it reads in the middle of the references, and the standard deviation of that."""
        middle = 0.5 * (self.low + self.high)
        c = self.covariance
        variance = float(c[0, 0] + 2.0 * middle * c[0, 1] + middle**2 * c[1, 1])
        return self.offset + (self.scale - 1.0) * middle, math.sqrt(max(variance, 0.0))


@dataclass(frozen=True, slots=True)
class Doubt:
    """Reference readings to be asked about.

    Attributes
    ----------
    instrument, quantity : str
        What they are of.
    message : str
        A plain sentence, with the question.
    used : bool
        Whether they count all the same.
    """

    instrument: str
    quantity: str
    message: str
    used: bool


@dataclass(frozen=True, slots=True)
class Corrected:
    """A bench reading brought to what is true.

    Attributes
    ----------
    read, value : float
        As read; as it should have been; in the quantity's unit.
    own_sd, common_sd : float
        Standard deviations: of the reading alone, and of the calibration.
    calibration : Calibration
        What it was corrected by.
    note : str
        What was taken where the day does not say which calibration holds; else empty.
    """

    read: float
    value: float
    own_sd: float
    common_sd: float
    calibration: Calibration
    note: str

    @property
    def sd(self) -> float:
        """Standard deviation of the corrected reading by itself."""
        return math.hypot(self.own_sd, self.common_sd)


class Calibrations:
    """Every calibration of every instrument.

    Parameters
    ----------
    found : iterable of Calibration
        By instrument and quantity in the order of their days.
    doubts : sequence of Doubt
        Reference readings to be asked about.
    """

    def __init__(self, found: Iterable[Calibration] = (), doubts: Sequence[Doubt] = ()) -> None:
        self.doubts = tuple(doubts)
        self._by: dict[tuple[str, str], list[Calibration]] = {}
        for calibration in found:
            self._by.setdefault((same_name(calibration.instrument), calibration.quantity), []).append(calibration)

    def __bool__(self) -> bool:
        return bool(self._by)

    def __iter__(self) -> Iterator[Calibration]:
        return (c for key in sorted(self._by) for c in self._by[key])

    @property
    def keys(self) -> frozenset[tuple[str, str]]:
        """Instruments (as :func:`same_name` writes them) with quantities that have a calibration."""
        return frozenset(self._by)

    def of(self, instrument: str, quantity: str) -> tuple[Calibration, ...]:
        """Calibrations of an instrument, in the order of their days.

        Parameters
        ----------
        instrument, quantity : str
            What is asked about.
        """
        return tuple(self._by.get((same_name(instrument), quantity), ()))

    def on(self, instrument: str, quantity: str, day: dt.date | None) -> tuple[Calibration, str] | None:
        """The calibration that holds on a day, and what was taken where none does.

        Parameters
        ----------
        instrument, quantity : str
            What is asked about.
        day : date or None
            Day of the reading.

        Returns
        -------
        calibration, note : Calibration, str
            Or None where the instrument was not calibrated for the quantity.
        """
        found = self.of(instrument, quantity)
        if not found:
            return None
        if day is None:
            note = "its day is unknown: the latest calibration was taken" if len(found) > 1 else ""
            return found[-1], note
        held = [c for c in found if c.first_day is None or c.first_day <= day]
        if held:
            return held[-1], ""
        return found[0], "it was read before the first calibration, which was taken all the same"


def corrected(reading: ShaftReading, calibrations: Calibrations) -> Corrected | None:
    """Correct a bench reading for its instrument.

    Parameters
    ----------
    reading : ShaftReading
        The reading.
    calibrations : Calibrations
        Of the shop's instruments.

    Returns
    -------
    Corrected or None
        None where nothing is known of its instrument, or it is from a leaflet.
    """
    if reading.instrument is None or reading.sample == PUBLISHED:
        return None
    found = calibrations.on(reading.instrument, reading.quantity, reading.taken_on)
    if found is None:
        return None
    calibration, note = found
    value, own, common = calibration.true_of(reading.value, math.nan if reading.sd is None else reading.sd)
    return Corrected(reading.value, float(value), float(own), float(common), calibration, note)


def same_name(instrument: str) -> str:
    """The name of an instrument, capitals and spacing taken as equal.

    Parameters
    ----------
    instrument : str
        As written.
    """
    return " ".join(instrument.split()).lower()
