"""What a search gives back, and its JSON form."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from specdb.fitup.report import Step
from specdb.matching.doubt import Doubts


@dataclass(frozen=True, slots=True)
class FeatureDifference:
    """One feature of a stand-in against the fitted club.

    Attributes
    ----------
    key, title, unit : str
        Its JSON key, and words for a person.
    reference, candidate, difference : float
        In the feature's unit; ``difference`` is candidate less reference.
    sd : float
        Standard deviation of the difference.
    units_off : float
        Difference in units of tolerance, signed.
    one_unit : float
        One unit of tolerance, in the feature's unit.
    """

    key: str
    title: str
    unit: str
    reference: float
    candidate: float
    difference: float
    sd: float
    units_off: float
    one_unit: float

    @property
    def units_sd(self) -> float:
        """Standard deviation of the difference in units of tolerance."""
        return self.sd / self.one_unit

    def to_json(self) -> dict[str, float]:
        """The contract's keys."""
        return {
            "reference": round(self.reference, 4),
            "candidate": round(self.candidate, 4),
            "difference": round(self.difference, 4),
            "sd": round(self.sd, 4),
            "units_off": round(self.units_off, 4),
        }


IN_PART_SIGN = "~"
IN_PART_WORDS = "~ compared on less, as data is lacking: stands behind those compared on more, whatever its score"
"""What stands before a score of what is compared in part, and what is said under the list."""


@dataclass(frozen=True, slots=True)
class Substitute:
    """One proposed stand-in.

    Attributes
    ----------
    rank : int
        Place, from 1.
    shaft_id : str
        Key of the shaft.
    score : float
        Score with the cost of the preparation.
    play_score, preparation_cost, noise_floor : float
        The score of the differences alone; what the preparation adds; what the score would be with no differences.
    tip_trim_in, butt_trim_in, cut_length_in, insertion_in, head_add_g, head_excess_g : float
        The build.
    swingweight : str
        As it comes out.
    preparation : tuple of Step
        What the workshop does differently, in order.
    features : tuple of FeatureDifference
        Compared features.
    not_compared : tuple of str
        Keys of features without data.
    within_tolerance_probability : float
        Probability that all compared features stay inside tolerance.
    in_stock : int or None
        Pieces on hand; None where nobody knows.
    expected_on : str or None
        Day more are expected.
    price : float or None
        Price.
    summary : str
        The differences that matter most, in words.
    cautions, notes : tuple of str
        Cautions; and what else is to be known.
    """

    rank: int
    shaft_id: str
    score: float
    play_score: float
    preparation_cost: float
    noise_floor: float
    tip_trim_in: float
    butt_trim_in: float
    cut_length_in: float
    insertion_in: float
    head_add_g: float
    head_excess_g: float
    swingweight: str
    preparation: tuple[Step, ...]
    features: tuple[FeatureDifference, ...]
    not_compared: tuple[str, ...]
    within_tolerance_probability: float
    summary: str
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    in_stock: int | None = None
    expected_on: str | None = None
    backordered: bool | None = None
    price: float | None = None
    currency: str | None = None

    @property
    def compared_in_part(self) -> bool:
        """Whether some feature is not compared: it then stands behind those that are compared on more."""
        return bool(self.not_compared)

    def to_json(self) -> dict[str, Any]:
        """The contract's keys, and a few more."""
        return {
            "rank": self.rank,
            "shaft_id": self.shaft_id,
            "score": round(self.score, 6),
            "play_score": round(self.play_score, 6),
            "preparation_cost": round(self.preparation_cost, 6),
            "noise_floor": round(self.noise_floor, 6),
            "tip_trim_in": self.tip_trim_in,
            "butt_trim_in": round(self.butt_trim_in, 4),
            "cut_length_in": round(self.cut_length_in, 4),
            "insertion_in": round(self.insertion_in, 4),
            "head_add_g": round(self.head_add_g, 3),
            "head_excess_g": round(self.head_excess_g, 3),
            "swingweight": self.swingweight,
            "preparation": [step.to_json() for step in self.preparation],
            "features": {f.key: f.to_json() for f in self.features},
            "not_compared": list(self.not_compared),
            "within_tolerance_probability": round(self.within_tolerance_probability, 4),
            "in_stock": self.in_stock,
            "expected_on": self.expected_on,
            "backordered": self.backordered,
            "price": self.price,
            "currency": self.currency,
            "summary": self.summary,
            "cautions": list(self.cautions),
            "notes": list(self.notes),
        }


@dataclass(frozen=True, slots=True)
class Excluded:
    """Shafts that are not proposed: made into sentences only when someone looks.

    Attributes
    ----------
    code : ndarray of int8, shape (N,)
        Reason of each shaft of the index; 0 where it is not excluded.
    words : sequence of str
        Short reason by code.
    sentence : callable
        Gives the full sentence of a row.
    ids : sequence of str
        Keys of all rows of the index.
    """

    code: npt.NDArray[np.int8]
    words: Sequence[str]
    sentence: Callable[[int], str]
    ids: Sequence[str]

    def __len__(self) -> int:
        return int(np.count_nonzero(self.code))

    def counts(self) -> list[tuple[str, int]]:
        """Short reasons with the number of shafts, most first."""
        number = np.bincount(self.code, minlength=len(self.words))
        found = [(self.words[k], int(number[k])) for k in range(1, len(self.words)) if number[k]]
        return sorted(found, key=lambda pair: (-pair[1], pair[0]))

    def why(self, shaft_id: str) -> str | None:
        """The sentence for one shaft; None where it is not excluded.

        Parameters
        ----------
        shaft_id : str
            Key of the shaft.
        """
        rows = (int(r) for r in np.flatnonzero(self.code))
        row = next((r for r in rows if self.ids[r] == shaft_id), None)
        return None if row is None else self.sentence(row)

    def to_json(self) -> list[dict[str, str]]:
        """The contract's keys, one entry a shaft."""
        return [{"shaft_id": self.ids[row], "reason": self.sentence(row)} for row in np.flatnonzero(self.code).tolist()]


@dataclass(frozen=True, slots=True)
class SubstituteReport:
    """The answer.

    Attributes
    ----------
    reference : mapping
        The fitted club, with the keys of ``mechanics``.
    results : tuple of Substitute
        Best first.
    excluded : Excluded
        Shafts that are not proposed.
    elapsed_ms : float
        Time the search took.
    doubts : Doubts
        What the uncertainty of each result is made of, worked out when it is asked for.
    """

    reference: Mapping[str, Any]
    results: tuple[Substitute, ...]
    excluded: Excluded
    elapsed_ms: float
    weighting: str = "default"
    notes: tuple[str, ...] = field(default=())
    doubts: Doubts = field(default_factory=Doubts.none)

    def to_json(self) -> dict[str, Any]:
        """The contract's keys."""
        return {
            "reference": dict(self.reference),
            "weighting": self.weighting,
            "results": [
                {**r.to_json(), "doubt": doubt.to_json(r.shaft_id)}
                for r, doubt in zip(self.results, self.doubts.all, strict=True)
            ],
            "excluded": self.excluded.to_json(),
            "notes": list(self.notes),
            "elapsed_ms": round(self.elapsed_ms, 1),
        }
