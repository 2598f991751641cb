"""What the uncertainty of a comparison is made of, and the one reading that would take most of it away.

The doubt of a result is its noise floor: what the score would be with no difference at all, ``sqrt(Σ w·u²/unit² /
Σ w)``. Its square is a sum of independent parts, of the fitted shaft and of the stand-in, from stiffness, torque, and
weight with balance point; a reading takes a computable piece out of one of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from specdb.mechanics.build import Build
from specdb.mechanics.club import shaft_derivatives
from specdb.mechanics.profile import ShaftModel
from specdb.profiles.planned import Planned, Sensitivities, doubt_left, sensitivities

FloatArray = npt.NDArray[np.float64]

FITTED, STAND_IN = "fitted", "stand_in"
WORTH_SAYING = 0.05  # part of the doubt that a reading must take away to be proposed
_SOURCES = ("stiffness", "torque", "weight_and_balance")


@dataclass(frozen=True, slots=True)
class Settling:
    """The reading that would take most of the doubt away.

    Attributes
    ----------
    planned : Planned
        The reading.
    of : str
        ``fitted`` or ``stand_in``: on which shaft, the very piece.
    doubt_left : float
        Part of the doubt that is left with it, 0 to 1.
    """

    planned: Planned
    of: str
    doubt_left: float

    def sentence(self, shaft_id: str) -> str:
        """The proposal in words.

        Parameters
        ----------
        shaft_id : str
            The stand-in.
        """
        piece = f"the piece of {shaft_id} to be built" if self.of == STAND_IN else "the fitted shaft"
        return f"{self.planned.words} on {piece} would cut the doubt by {100.0 * (1.0 - self.doubt_left):.0f} %"


@dataclass(frozen=True, slots=True)
class Doubt:
    """What the uncertainty of one result is made of.

    Attributes
    ----------
    parts : mapping of (str, str) to float
        Part of the square of the noise floor by shaft (``fitted``, ``stand_in``) and source (``stiffness``,
        ``torque``, ``weight_and_balance``), together 1.
    settling : Settling or None
        The reading most worth taking; None where none takes away a twentieth.
    """

    parts: Mapping[tuple[str, str], float]
    settling: Settling | None

    def to_json(self, shaft_id: str) -> dict[str, Any]:
        """Plain values.

        Parameters
        ----------
        shaft_id : str
            The stand-in.
        """
        most = self.settling
        return {
            "parts": {f"{of}_{source}": round(part, 4) for (of, source), part in self.parts.items()},
            "most_worth_measuring": None
            if most is None
            else {
                "quantity": most.planned.quantity,
                "at_in": most.planned.place_in,
                "of": most.of,
                "doubt_left": round(most.doubt_left, 4),
                "sentence": most.sentence(shaft_id),
            },
        }

    def sentence(self) -> str:
        """The larger parts in words, such as ``stiffness of the stand-in 71 %, stiffness of the fitted shaft 18 %``."""
        names = {FITTED: "the fitted shaft", STAND_IN: "the stand-in"}
        ranked = sorted(self.parts.items(), key=lambda item: -item[1])
        said = [
            f"{source.replace('_', ' ')} of {names[of]} {100.0 * part:.0f} %"
            for (of, source), part in ranked
            if part >= WORTH_SAYING
        ]
        return ", ".join(said)


class Doubts:
    """Doubts of the results of a search, worked out together when one is first asked for.

    Parameters
    ----------
    work : callable
        Gives them in the order of the results.
    """

    def __init__(self, work: Callable[[], list[Doubt]]) -> None:
        self._work = work

    @classmethod
    def none(cls) -> Doubts:
        """Of a search without results."""
        return cls(list)

    @cached_property
    def all(self) -> list[Doubt]:
        """One a result, in their order."""
        return self._work()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Doubts) and self.all == other.all

    __hash__ = None  # type: ignore[assignment]  # compared by what they hold


@dataclass(frozen=True, slots=True)
class _Side:
    """One of the two clubs: what its features depend on."""

    model: ShaftModel
    by_log_ei: FloatArray
    by_inputs: FloatArray

    def parts(self, scale: FloatArray) -> tuple[float, float, float]:
        """Scaled variance from stiffness, torque, weight with balance point."""
        by_ei = np.einsum("fj,jk,fk->f", self.by_log_ei, self.model.log_ei_cov, self.by_log_ei)
        sd = np.array([self.model.mass_sd_kg, self.model.balance_sd_m, self.model.twist_sd])
        by_input = (self.by_inputs * sd) ** 2
        use = scale > 0
        weigh = scale[use]
        mass = by_input[use, 0] + by_input[use, 1]
        return float(weigh @ by_ei[use]), float(weigh @ by_input[use, 2]), float(weigh @ mass)


class DoubtOf:
    """Works out doubts of results against one fitted club.

    Parameters
    ----------
    fitted : ShaftModel
        Its shaft.
    trim_m : float
        Its tip trim, m.
    build : Build
        Its build.
    """

    def __init__(self, fitted: ShaftModel, trim_m: float, build: Build) -> None:
        by_log_ei, by_inputs = shaft_derivatives([fitted], [trim_m], build)
        self._fitted = _Side(fitted, by_log_ei[0], by_inputs[0])
        self._readings = sensitivities([fitted])[0]

    def of(
        self, models: Sequence[ShaftModel], trim_m: FloatArray, builds: Sequence[Build], scale: Sequence[FloatArray]
    ) -> list[Doubt]:
        """Doubts of B results.

        Parameters
        ----------
        models, trim_m, builds
            Their shafts, tip trims (m) and builds.
        scale : sequence of ndarray, shape (F,)
            For each, weight over the square of one unit by feature; 0 where it is not compared.
        """
        if not models:
            return []
        by_log_ei, by_inputs = shaft_derivatives(models, trim_m, builds)
        readings = sensitivities(models)
        out = []
        for i, model in enumerate(models):
            own = _Side(model, by_log_ei[i, :, : model.station_m.size], by_inputs[i])
            out.append(self._one(own, readings[i], scale[i]))
        return out

    def _one(self, own: _Side, own_readings: Sensitivities, scale: FloatArray) -> Doubt:
        sides = {FITTED: self._fitted, STAND_IN: own}
        amounts = {
            (of, source): v for of, side in sides.items() for source, v in zip(_SOURCES, side.parts(scale), strict=True)
        }
        total = sum(amounts.values())
        if total <= 0.0:
            return Doubt({}, None)
        best: Settling | None = None
        for of, readings in ((STAND_IN, own_readings), (FITTED, self._readings)):
            side = sides[of]
            before, after = doubt_left(side.model, readings, side.by_log_ei, side.by_inputs, scale)
            most = int(np.argmin(after))
            left = float(np.sqrt(max(total - before + after[most], 0.0) / total))
            if left < (1.0 - WORTH_SAYING if best is None else best.doubt_left):
                best = Settling(readings.planned[most], of, left)
        return Doubt({key: v / total for key, v in amounts.items()}, best)
