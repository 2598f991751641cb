"""How well estimates hold against simulated truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.mechanics.build import Build
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.profiles.estimate import ProfileEstimate, estimate_many
from specdb.profiles.evidence import Case, make_case
from specdb.profiles.population import Population, learn
from specdb.records.rows import ShaftReading
from tests.profiles.truth import Truth, tables, true_shafts

FloatArray = npt.NDArray[np.float64]

IN_90 = 1.6448536269514722  # half-width of the central 90 % of a normal, in standard deviations
_PLACES = 99  # along a shaft, a third each for tip, middle and butt


@dataclass(frozen=True, slots=True)
class Figures:
    """Errors of estimates.

    Attributes
    ----------
    ei_error : ndarray, shape (B, 3, places)
        Relative error of EI by third.
    ei_off : ndarray, shape (B, 3, places)
        Error of ln EI in standard deviations.
    frequency_error, frequency_off : ndarray, shape (B,)
        Relative error of the installed frequency, and in standard deviations.
    """

    ei_error: FloatArray
    ei_off: FloatArray
    frequency_error: FloatArray
    frequency_off: FloatArray

    @property
    def rms(self) -> FloatArray:
        """RMS relative error of EI in tip, middle and butt third."""
        return np.asarray(np.sqrt((self.ei_error**2).mean(axis=(0, 2))))

    @property
    def held(self) -> FloatArray:
        """How much of EI lies in its 90 % band, by third."""
        return np.asarray((np.abs(self.ei_off) < IN_90).mean(axis=(0, 2)))

    @property
    def frequency_held(self) -> float:
        """How many installed frequencies lie in their 90 % band."""
        return float((np.abs(self.frequency_off) < IN_90).mean())

    @property
    def frequency_rms(self) -> float:
        """RMS relative error of the installed frequency."""
        return float(np.sqrt((self.frequency_error**2).mean()))


def club(truth: Truth) -> Build:
    """A driver or an iron to build the shaft into."""
    iron = truth.shaft.club_type == "iron"
    return Build(
        cut_length_m=(37.0 if iron else 44.0) * IN,
        insertion_m=1.2 * IN,
        clamp_m=5.0 * IN,
        head_kg=0.260 if iron else 0.200,
        head_cg_m=0.04,
        mouth_kg=0.0,
        grip_kg=0.05,
        grip_balance_m=0.1,
        grip_cap_m=0.003,
    )


def piece_of(estimate: ProfileEstimate) -> str | None:
    """The piece that was measured: the truth is that of one piece."""
    return "A" if any(p.name == "A" for p in estimate.pieces) else None


def cases_of(truths: Sequence[Truth], readings: Sequence[Sequence[ShaftReading]]) -> list[Case]:
    """Cases from leaflets and readings."""
    return [make_case(t.shaft, r) for t, r in zip(truths, readings, strict=True)]


def measure(truths: Sequence[Truth], readings: Sequence[Sequence[ShaftReading]], population: Population) -> Figures:
    """Estimate and compare with truth."""
    estimates = estimate_many(cases_of(truths, readings), population)
    error, off = [], []
    for truth, estimate in zip(truths, estimates, strict=True):
        place = (np.arange(_PLACES) + 0.5) / _PLACES * estimate.raw_m
        ei, sd = estimate.band(place, piece_of(estimate))
        true = truth.model.ei(place)
        error.append(ei / true - 1.0)
        off.append(np.log(ei / true) / sd)
    clubs = [club(t) for t in truths]
    frequency = []
    for start in range(0, len(truths), 40):
        part = slice(start, start + 40)
        frequency.append(installed([t.model for t in truths[part]], 0.0, clubs[part], with_sd=False).frequency_cpm)
    true_frequency = np.concatenate(frequency)
    found = installed([e.model(piece_of(e)) for e in estimates], 0.0, clubs)
    away = found.frequency_cpm - true_frequency
    shape = (len(truths), 3, _PLACES // 3)
    return Figures(
        np.array(error).reshape(shape),
        np.array(off).reshape(shape),
        away / true_frequency,
        away / found.sd_shaft[:, 0],
    )


def taught_by(kinds: Sequence[str], count: int, seed: int, benched: Sequence[Case] = ()) -> Population:
    """A population learned from published tables of invented shafts, in a catalogue with others on the bench."""
    rng = np.random.default_rng(seed)
    cases: list[Case] = list(benched)
    for k, kind in enumerate(kinds):
        truths = true_shafts(count, seed + k, kind)
        cases += cases_of(truths, tables(truths, rng))
    return learn(cases, "2026-01-01")
