"""Readings that could be taken of any shaft, with what each depends on: to say which is worth taking.

The reading is thought to be taken on the very piece in question, so scatter from piece to piece is no noise in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics import defaults
from specdb.mechanics.constants import DEG, FT_LB, GRAM, IN
from specdb.mechanics.profile import ShaftModel
from specdb.profiles.readings import HZ, Kind, Models, Reading
from specdb.profiles.state import BALANCE, EI, MASS, NODE_T, SIZE

FloatArray = npt.NDArray[np.float64]

_TIP_MASS_G = 200.0
_FREE_PARTS = (0.85, 0.60, 0.40)  # of the raw length: clamped at the butt, in the middle, near the tip
_BEND_PARTS = (0.15, 0.45, 0.80)
_BEND_SPAN_IN = 8.0
_PULL_N = 30.0


@dataclass(frozen=True, slots=True)
class Planned:
    """A reading that could be taken.

    Attributes
    ----------
    quantity : str
        As in ``shaft_reading``.
    words : str
        What to do, for a person: ``a frequency at 39 in free length``.
    place_in : float or None
        Free length or station, in.
    """

    quantity: str
    words: str
    place_in: float | None = None


@dataclass(frozen=True, slots=True)
class Sensitivities:
    """What R planned readings of one shaft depend on.

    Attributes
    ----------
    planned : tuple of Planned
        The readings.
    by_log_ei : ndarray, shape (R, J)
        Derivatives by ln EI at the stations of the shaft.
    by_inputs : ndarray, shape (R, 3)
        By mass (1/kg), balance point (1/m) and rated twist (N·m/rad).
    noise : ndarray, shape (R,)
        Variances of the readings, in the same scale.
    """

    planned: tuple[Planned, ...]
    by_log_ei: FloatArray
    by_inputs: FloatArray
    noise: FloatArray


def planned_readings(raw_in: float) -> list[tuple[Planned, Reading | None]]:
    """What could be read of a shaft, with the measurement model where it bends the shaft.

    Parameters
    ----------
    raw_in : float
        Raw length, in.
    """
    raw = raw_in * IN
    found: list[tuple[Planned, Reading | None]] = []
    for part in _FREE_PARTS:
        free = round(part * raw_in)
        words = f"a frequency at {free} in free length"
        reading = Reading(words, Kind.FREQUENCY, 1.0, 0.0, low_m=0.0, high_m=free * IN, load=_TIP_MASS_G * GRAM)
        found.append((Planned("frequency", words, float(free)), reading))
    for part in _BEND_PARTS:
        place = round(part * raw_in)
        words = f"three-point bending at {place} in from the tip"
        half = 0.5 * _BEND_SPAN_IN
        reading = Reading(words, Kind.BEND, 1.0, 0.0, low_m=(place - half) * IN, high_m=(place + half) * IN)
        found.append((Planned("ei", words, float(place)), reading))
    free = round(_FREE_PARTS[0] * raw_in)
    words = f"a deflection at {free} in free length"
    found.append(
        (
            Planned("deflection", words, float(free)),
            Reading(words, Kind.DEFLECTION, 1.0, 0.0, high_m=min(free * IN, raw), load=_PULL_N),
        )
    )
    found += [
        (Planned("torque", "its torque"), None),
        (Planned("weight", "its weight"), None),
        (Planned("balance", "its balance point"), None),
    ]
    return found


def sensitivities(models: Sequence[ShaftModel]) -> list[Sensitivities]:
    """What each reading that could be taken of some shafts depends on.

    Parameters
    ----------
    models : sequence of ShaftModel
        The shafts.
    """
    if not models:
        return []
    menus = [planned_readings(m.raw_length_m / IN) for m in models]
    bent = [[(plan, r) for plan, r in menu if r is not None] for menu in menus]
    readings = [r for each in bent for _, r in each]
    count = len(bent[0])
    state = np.repeat(np.array([_state(m) for m in models]), count, axis=0)
    raw = np.repeat([m.raw_length_m for m in models], count)
    value, by_state = Models.of(readings, raw).evaluate(state)
    found = []
    for k, model in enumerate(models):
        rows = slice(k * count, (k + 1) * count)
        plans = [plan for plan, _ in bent[k]]
        by_log_ei = [*(by_state[rows, EI] @ _to_nodes(model))]
        by_mass, by_balance = by_state[rows, MASS] / model.mass_kg, by_state[rows, BALANCE] / model.raw_length_m
        by_inputs = [np.array([m, b, 0.0]) for m, b in zip(by_mass, by_balance, strict=True)]
        noise = [_noise(r.kind, float(np.exp(v))) ** 2 for (_, r), v in zip(bent[k], value[rows], strict=True)]
        for plan, reading in menus[k]:
            direct = _direct(plan.quantity, model) if reading is None else None
            if direct is not None:
                plans.append(plan)
                by_log_ei.append(np.zeros(model.station_m.size))
                by_inputs.append(direct[0])
                noise.append(direct[1] ** 2)
        found.append(Sensitivities(tuple(plans), np.array(by_log_ei), np.array(by_inputs), np.array(noise)))
    return found


def _direct(quantity: str, model: ShaftModel) -> tuple[FloatArray, float] | None:
    """Derivatives by mass, balance point and twist of a reading that is one of them, and its standard deviation."""
    if quantity == "weight":
        return np.array([1.0, 0.0, 0.0]), defaults.WEIGHT_MEASURED_G * GRAM
    if quantity == "balance":
        return np.array([0.0, 1.0, 0.0]), defaults.BALANCE_MEASURED_IN * IN
    if model.twist_rad_per_nm is None:
        return None
    return np.array([0.0, 0.0, 1.0]), defaults.TORQUE_MEASURED_DEG * DEG / FT_LB


def doubt_left(
    model: ShaftModel, readings: Sensitivities, by_log_ei: FloatArray, by_inputs: FloatArray, scale: FloatArray
) -> tuple[float, FloatArray]:
    """Doubt about the features of a club without any and with each of the readings, as sums of scaled variances.

    With derivatives ``J`` of the features and ``h`` of the reading, both by the same uncertain figures of covariance
    ``C``, the variance of feature ``i`` falls by ``(J_i C hᵀ)²/(h C hᵀ + σ²)``.

    Parameters
    ----------
    model : ShaftModel
        The shaft.
    readings : Sensitivities
        The readings, R of them.
    by_log_ei : ndarray, shape (F, J)
        Derivatives of the features by ln EI at the stations.
    by_inputs : ndarray, shape (F, 3)
        By mass, balance point and twist.
    scale : ndarray, shape (F,)
        What a squared unit of each feature counts: weight over the square of one unit; 0 where it is not compared.

    Returns
    -------
    before : float
    after : ndarray, shape (R,)

    References
    ----------
    Lindley, *On a measure of the information provided by an experiment*, Ann. Math. Stat. 27 (1956) 986.
    """
    use = scale > 0
    by_log_ei, by_inputs, weigh = by_log_ei[use], by_inputs[use], scale[use]
    variance = np.array([model.mass_sd_kg, model.balance_sd_m, model.twist_sd]) ** 2
    covered = readings.by_log_ei @ model.log_ei_cov
    own = readings.by_inputs * variance
    shared = covered @ by_log_ei.T + own @ by_inputs.T
    spread = np.einsum("rj,rj->r", covered, readings.by_log_ei) + np.einsum("ri,ri->r", own, readings.by_inputs)
    before = np.einsum("fj,jk,fk->f", by_log_ei, model.log_ei_cov, by_log_ei) + by_inputs**2 @ variance
    after = np.maximum(before - shared**2 / (spread + readings.noise)[:, None], 0.0)
    return float(weigh @ before), np.asarray(after @ weigh)


def _state(model: ShaftModel) -> FloatArray:
    state = np.zeros(SIZE)
    state[EI] = np.log(model.ei(NODE_T * model.raw_length_m))
    balance = 0.5 * model.raw_length_m if model.balance_from_tip_m is None else model.balance_from_tip_m
    state[BALANCE] = balance / model.raw_length_m - 0.5
    state[MASS] = np.log(model.mass_kg)
    return state


def _to_nodes(model: ShaftModel) -> FloatArray:
    """What ln EI at each station does to ln EI at the nodes, shape (nodes, J)."""
    place = NODE_T * model.raw_length_m
    columns: Sequence[FloatArray] = [np.interp(place, model.station_m, unit) for unit in np.eye(model.station_m.size)]
    return np.stack(columns, axis=1)


def _noise(kind: Kind, value: float) -> float:
    """Standard deviation of the logarithm of a reading."""
    if kind == Kind.FREQUENCY:
        return defaults.FREQUENCY_CPM * HZ / value
    if kind == Kind.DEFLECTION:
        return defaults.DEFLECTION_MM / 1000.0 / value
    return defaults.EI_MEASURED_REL
