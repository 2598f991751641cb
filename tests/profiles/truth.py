"""Invented shafts with known stiffness, for tests of the estimator.

Made without anything of the estimator: profiles have their own knots at uneven places, steps at ply drop-offs (two
stations a millimetre apart) and, for steel, step-downs every inch and three quarters. Readings come from the exact
bench models, with noise. All numbers are invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from specdb.mechanics.bench import deflection_reading, frequency_reading, three_point_ei
from specdb.mechanics.constants import DEG, FT_LB, IN
from specdb.mechanics.profile import ShaftModel
from specdb.records.rows import Shaft, ShaftReading
from tests.support.random_catalogue import random_shafts

FloatArray = npt.NDArray[np.float64]

_STEP_M = 0.001
FREE_LENGTHS_IN = (14.0, 18.5, 23.0, 27.5, 32.0, 36.5, 41.0)  # parts of a 46 in shaft; scaled with the shaft
CLIP_G = 200.0


@dataclass(frozen=True, slots=True)
class Truth:
    """A piece as it really is, and the leaflet of its shaft."""

    model: ShaftModel
    shaft: Shaft


def _plies(rng: np.random.Generator, length: float, level: float) -> tuple[FloatArray, FloatArray]:
    """Straight pieces between uneven knots, and drop-offs of plies."""
    knot = np.array([0.0, 0.1, 0.3, 0.55, 0.8, 1.0]) + np.append(0.0, np.append(rng.normal(0, 0.025, 4), 0.0))
    usual = np.log([21.0, 24.5, 34.0, 47.0, 60.0, 68.0])
    tilt = rng.normal(0.0, 0.10) * (knot - 0.5)
    at_knot = np.exp(usual + level + tilt + rng.normal(0.0, [0.07, 0.05, 0.04, 0.035, 0.035, 0.04]))
    place = np.linspace(0.0, 1.0, 90)
    ei = np.interp(place, knot, at_knot)
    return _with_steps(place * length, ei, rng.uniform(0.08, 0.9, 4) * length, rng.uniform(0.01, 0.035, 4))


def _with_steps(place: FloatArray, ei: FloatArray, at: FloatArray, rise: FloatArray) -> tuple[FloatArray, FloatArray]:
    both = np.sort(np.concatenate([at - 0.5 * _STEP_M, at + 0.5 * _STEP_M]))
    all_place = np.unique(np.concatenate([place, both]))
    all_place = all_place[np.append(True, np.diff(all_place) > 1e-6)]
    value = np.interp(all_place, place, ei)
    for where, size in zip(at, rise, strict=True):
        value = value * np.where(all_place >= where, 1.0 + 0.5 * size, 1.0 - 0.5 * size)
    return all_place, value


def _step_downs(rng: np.random.Generator, length: float, level: float) -> tuple[FloatArray, FloatArray]:
    """A steel tube: even tip and butt sections and steps of the diameter between them."""
    first, last = rng.uniform(6.0, 9.0) * IN, length - rng.uniform(9.0, 13.0) * IN
    at = np.arange(first, last, 1.75 * IN)
    low = 31.0 * np.exp(level + rng.normal(0.0, 0.06))
    high = 82.0 * np.exp(level + rng.normal(0.0, 0.04))
    # diameters step evenly, stiffness goes with their third power; wall thickness drifts along the shaft
    diameter = np.linspace(low ** (1 / 3), high ** (1 / 3), at.size + 1)
    wall = 1.0 + rng.normal(0.0, 0.03) * np.sin(np.linspace(0.0, rng.uniform(2.0, 5.0), at.size + 1))
    piece = diameter**3 * wall
    place = np.sort(np.concatenate([[0.0, length], at - 0.5 * _STEP_M, at + 0.5 * _STEP_M]))
    return place, np.repeat(piece, 2)


def _smooth(rng: np.random.Generator, length: float, level: float) -> tuple[FloatArray, FloatArray]:
    """Another workshop's graphite: power laws with waves."""
    x = np.linspace(0.0, 1.0, 120)
    low, high = 23.0 * np.exp(rng.normal(0, 0.12)), 70.0 * np.exp(rng.normal(0, 0.07))
    wave = rng.normal(0, 0.05) * np.sin(2 * np.pi * x) + rng.normal(0, 0.04) * np.sin(5 * x + rng.uniform(0, 3))
    tip = rng.normal(0, 0.07) * np.exp(-x / rng.uniform(0.08, 0.2))
    ei = (low + (high - low) * x ** rng.uniform(0.8, 1.6)) * np.exp(level + wave + tip)
    return x * length, ei


def _coarse_steps(rng: np.random.Generator, length: float, level: float) -> tuple[FloatArray, FloatArray]:
    """Another workshop's steel: fewer, uneven steps, longer tip section, softer."""
    first, last = rng.uniform(8.0, 12.0) * IN, length - rng.uniform(6.0, 10.0) * IN
    at = np.sort(rng.uniform(first, last, 9))
    at = at[np.append(True, np.diff(at) > 3.0 * _STEP_M)]
    low = 29.0 * np.exp(level + rng.normal(0.0, 0.07))
    high = 76.0 * np.exp(level + rng.normal(0.0, 0.05))
    part = np.concatenate([[0.0], (at - first) / (last - first) + 0.05])
    piece = low * (high / low) ** (np.clip(part, 0.0, 1.0) ** rng.uniform(0.8, 1.2))
    place = np.sort(np.concatenate([[0.0, length], at - 0.5 * _STEP_M, at + 0.5 * _STEP_M]))
    return place, np.repeat(piece, 2)


_MAKERS = {"plies": _plies, "smooth": _smooth, "steps": _step_downs, "coarse steps": _coarse_steps}


def true_shafts(count: int, seed: int, kind: str = "plies") -> list[Truth]:
    """Pieces of invented shafts.

    ``plies`` (graphite, woods) and ``steps`` (steel, irons) are what is tested with, ``smooth`` (graphite, woods) and
    ``coarse steps`` (steel, irons) are other populations to learn from.
    """
    rng = np.random.default_rng(seed)
    out = []
    for i in range(count):
        steel = kind.endswith("steps")
        raw_in = (40.0 if steel else 46.0) + float(rng.choice([-0.5, 0.0, 0.5]))
        usual = 112.0 if steel else 62.0
        weight = usual * float(np.exp(rng.normal(0.0, 0.07 if steel else 0.14)))
        level = (0.9 if steel else 0.6) * np.log(weight / usual) + rng.normal(0.0, 0.03 if steel else 0.08)
        place, ei = _MAKERS[kind](rng, raw_in * IN, level)
        kappa = (0.77 if steel else 0.45) * float(np.exp(rng.normal(0.0, 0.02 if steel else 0.18)))
        flexibility = np.trapezoid(1.0 / ei, place)  # near enough: only the leaflet's figure follows from it
        twist = float(flexibility * (raw_in - 2.0) / raw_in / kappa)
        balance = float(rng.normal(0.52, 0.01)) * raw_in
        model = ShaftModel(
            raw_length_m=raw_in * IN,
            station_m=place,
            ei_n_m2=ei,
            log_ei_cov=np.zeros((place.size, place.size)),
            mass_kg=weight / 1000.0,
            mass_sd_kg=0.0,
            balance_from_tip_m=balance * IN,
            balance_sd_m=0.0,
            twist_rad_per_nm=twist,
            twist_sd=0.0,
            twist_from_m=1.0 * IN,
            twist_to_m=(raw_in - 1.0) * IN,
        )
        shaft = Shaft(
            id=f"invented-{kind.replace(' ', '-')}-{i:04d}",
            maker=f"Invented {kind} works",
            model=f"{kind} {i}",
            club_type="iron" if steel else "wood",
            material="steel" if steel else "graphite",
            raw_length_in=raw_in,
            tip_dia_in=0.370 if steel else 0.335,
            butt_dia_in=0.600,
            weight_g=weight + float(rng.normal(0.0, 1.1)),
            torque_deg=twist * FT_LB / DEG + float(rng.normal(0.0, 0.2)),
        )
        out.append(Truth(model, shaft))
    return out


def catalogue_woods(count: int, seed: int) -> list[Truth]:
    """Woods of the random catalogue, made by a generator of its own: sixteen stations, straight between."""
    rng = np.random.default_rng(seed)
    shafts, readings = random_shafts(3 * count, seed)
    table: dict[str, list[tuple[float, float]]] = {}
    for row in readings.to_pylist():
        table.setdefault(row["shaft_id"], []).append((row["position_in"], row["value"]))
    out = []
    for row in [r for r in shafts.to_pylist() if r["club_type"] == "wood"][:count]:
        place, ei = np.array(table[row["id"]]).T
        place = place * IN
        twist = float(np.trapezoid(1.0 / ei, place)) / (0.45 * float(np.exp(rng.normal(0.0, 0.18))))
        model = ShaftModel(
            raw_length_m=row["raw_length_in"] * IN,
            station_m=place,
            ei_n_m2=ei,
            log_ei_cov=np.zeros((ei.size, ei.size)),
            mass_kg=row["weight_g"] / 1000.0,
            mass_sd_kg=0.0,
            balance_from_tip_m=row["balance_from_tip_in"] * IN,
            balance_sd_m=0.0,
            twist_rad_per_nm=twist,
            twist_sd=0.0,
            twist_from_m=1.0 * IN,
            twist_to_m=(row["raw_length_in"] - 1.0) * IN,
        )
        leaflet = Shaft(
            id=row["id"],
            maker="Invented random works",
            model=row["model"],
            club_type="wood",
            material="graphite",
            raw_length_in=row["raw_length_in"],
            tip_dia_in=row["tip_dia_in"],
            butt_dia_in=row["butt_dia_in"],
            weight_g=row["weight_g"] + float(rng.normal(0.0, 1.1)),
            torque_deg=twist * FT_LB / DEG + float(rng.normal(0.0, 0.2)),
        )
        out.append(Truth(model, leaflet))
    return out


def reading(truth: Truth, quantity: str, value: float, **more: Any) -> ShaftReading:
    """One reading of the piece ``A``, unless said otherwise."""
    fields: dict[str, Any] = {"id": "r", "shaft_id": truth.shaft.id, "sample": "A"}
    return ShaftReading(**(fields | more), quantity=quantity, value=value)


def _chunks(truths: Sequence[Truth], size: int = 40) -> list[Sequence[Truth]]:
    return [truths[i : i + size] for i in range(0, len(truths), size)]


def frequencies(
    truths: Sequence[Truth], rng: np.random.Generator, noise: float = 0.005, lengths: Sequence[float] = FREE_LENGTHS_IN
) -> list[list[ShaftReading]]:
    """Frequencies at free lengths given for a 46 in shaft, with relative noise."""
    out: list[list[ShaftReading]] = [[] for _ in truths]
    for length in lengths:
        k = 0
        for part in _chunks(truths):
            free = [round(length / 46.0 * t.model.raw_length_m / IN, 2) for t in part]
            exact = frequency_reading([t.model for t in part], np.array(free) * IN, CLIP_G / 1000.0)
            for truth, at, value in zip(part, free, exact, strict=True):
                read = float(value * np.exp(rng.normal(0.0, noise)))
                sd = noise * read
                out[k].append(reading(truth, "frequency", read, free_length_in=at, tip_mass_g=CLIP_G, sd=sd))
                k += 1
    return out


def bendings(
    truths: Sequence[Truth], rng: np.random.Generator, noise: float = 0.02, stations: int = 8, span_in: float = 8.0
) -> list[list[ShaftReading]]:
    """Three-point bending at evenly spread stations, with relative noise."""
    out: list[list[ShaftReading]] = [[] for _ in truths]
    for j in range(stations):
        k = 0
        for part in _chunks(truths):
            ends = [
                0.5 * span_in + 0.1 + (t.model.raw_length_m / IN - span_in - 0.2) * j / (stations - 1) for t in part
            ]
            at = [round(e, 2) for e in ends]
            exact = three_point_ei([t.model for t in part], np.array(at) * IN, span_in * IN)
            for truth, place, value in zip(part, at, exact, strict=True):
                read = float(value * np.exp(rng.normal(0.0, noise)))
                out[k].append(reading(truth, "ei", read, position_in=place, span_in=span_in, sd=noise * read))
                k += 1
    return out


def tables(
    truths: Sequence[Truth], rng: np.random.Generator, noise: float = 0.02, stations: int = 14
) -> list[list[ShaftReading]]:
    """A published table of stiffness at stations."""
    out = []
    for truth in truths:
        at = np.linspace(1.0, truth.model.raw_length_m / IN - 1.0, stations).round(2)
        value = truth.model.ei(at * IN) * np.exp(rng.normal(0.0, noise, stations))
        out.append(
            [
                reading(truth, "ei", float(v), position_in=float(p), sample="published", sd=noise * float(v))
                for p, v in zip(at, value, strict=True)
            ]
        )
    return out


def deflection(truth: Truth, free_in: float, load_n: float) -> ShaftReading:
    """An exact deflection."""
    value = float(deflection_reading([truth.model], free_in * IN, load_n)[0]) * 1e3
    return reading(truth, "deflection", value, free_length_in=free_in, load_n=load_n)


def as_piece(truth: Truth, level: float) -> Truth:
    """Another piece of the same shaft, stiffer or softer all along."""
    return Truth(replace(truth.model, ei_n_m2=truth.model.ei_n_m2 * np.exp(level)), truth.shaft)
