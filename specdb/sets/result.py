"""What a search for a set's stand-ins gives back, and its JSON form."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from specdb.matching.doubt import Doubts
from specdb.matching.reference import Reference
from specdb.matching.result import Substitute
from specdb.sets.exclude import SetExcluded
from specdb.sets.members import SetMember


@dataclass(frozen=True, slots=True)
class SetClub:
    """One club of the set with a stand-in: a row of the trim chart, and everything about it.

    Attributes
    ----------
    club_id, label, number, head_id : str
        The fitted club.
    substitute : Substitute
        The stand-in for its shaft, as for one club.
    head_weight_g : float
        Head with what is added at it.
    fitted_cpm, cpm, cpm_sd : float
        Frequency fitted, with the stand-in, and the standard deviation of the difference.
    fitted_trim_in : float
        Tip trim of the fitted shaft.
    """

    club_id: str
    label: str
    number: str
    head_id: str
    substitute: Substitute
    head_weight_g: float
    fitted_cpm: float
    cpm: float
    cpm_sd: float
    fitted_trim_in: float

    def to_json(self) -> dict[str, Any]:
        """The row of the trim chart, and the stand-in under ``substitute``."""
        own = self.substitute
        return {
            "club_id": self.club_id,
            "label": self.label,
            "number": self.number or None,
            "head_id": self.head_id,
            "shaft_id": own.shaft_id,
            "tip_trim_in": own.tip_trim_in,
            "cut_length_in": round(own.cut_length_in, 4),
            "butt_trim_in": round(own.butt_trim_in, 4),
            "head_weight_g": round(self.head_weight_g, 3),
            "head_add_g": round(own.head_add_g, 3),
            "swingweight": own.swingweight,
            "fitted_frequency_cpm": round(self.fitted_cpm, 3),
            "frequency_cpm": round(self.cpm, 3),
            "frequency_difference_sd_cpm": round(self.cpm_sd, 3),
            "score": round(own.score, 6),
            "substitute": own.to_json(),
        }


@dataclass(frozen=True, slots=True)
class Pieces:
    """What one shaft of a model must be there for the set.

    Attributes
    ----------
    shaft_id : str
        The shaft.
    needed : int
        Pieces the set takes.
    on_hand : int or None
        Pieces on hand that are kept for no other club; None where nobody knows.
    expected_on : str or None
        Day more are expected.
    backordered : bool or None
        Whether those who were asked have none.
    """

    shaft_id: str
    needed: int
    on_hand: int | None = None
    expected_on: str | None = None
    backordered: bool | None = None

    @property
    def words(self) -> str:
        """What is needed and what is there: ``7 needed, 3 free, expected 2031-02-03``."""
        said = [
            f"{self.needed} needed",
            "nobody knows how many are free" if self.on_hand is None else f"{self.on_hand} free",
        ]
        if self.backordered:
            said.append("backordered")
        if self.expected_on and (self.on_hand or 0) < self.needed:
            said.append(f"expected {self.expected_on}")
        return ", ".join(said)

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "shaft_id": self.shaft_id,
            "needed": self.needed,
            "on_hand": self.on_hand,
            "expected_on": self.expected_on,
            "backordered": self.backordered,
        }


@dataclass(frozen=True, slots=True)
class SetStandIn:
    """One model that can supply the set.

    Attributes
    ----------
    rank : int
        Place, from 1.
    model : str
        Maker, model and flex.
    way : str
        ``one shaft for all``, ``by club number``, ``soft-stepped`` or ``hard-stepped``.
    first_trim_in, trim_step_in : float
        Tip trim of the first club, and how much more each further one takes.
    score, clubs_score, slope_term : float
        Score; root mean square of the clubs' scores; what the slope adds.
    slope, slope_sd, fitted_slope : float
        Frequency against length, cpm per half inch; NaN for clubs of one length.
    clubs : tuple of SetClub
        From the longest to the shortest.
    pieces : tuple of Pieces
        What must be there.
    within_tolerance_probability : float
        That of the club with the least.
    noise_floor : float
        What the root mean square would be with no differences at all.
    price : float or None
        Of all pieces together, where all are known.
    other_ways : tuple of (str, float)
        The model's other ways with their scores.
    summary : str
        The differences that matter most over the whole set.
    cautions, notes : tuple of str
        Cautions; and what else is to be known.
    least_known : int
        Which club has the largest uncertainty.
    doubts : Doubts
        What that is made of, worked out when it is asked for.
    """

    rank: int
    model: str
    way: str
    first_trim_in: float
    trim_step_in: float
    score: float
    clubs_score: float
    slope_term: float
    slope: float
    slope_sd: float
    fitted_slope: float
    clubs: tuple[SetClub, ...]
    pieces: tuple[Pieces, ...]
    within_tolerance_probability: float
    noise_floor: float
    summary: str
    price: float | None = None
    currency: str | None = None
    other_ways: tuple[tuple[str, float], ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    least_known: int = 0
    doubts: Doubts = field(default_factory=Doubts.none)

    @property
    def least_known_club(self) -> SetClub:
        """The club with the largest uncertainty."""
        return self.clubs[self.least_known]

    @property
    def compared_in_part(self) -> bool:
        """Whether some feature of some club is not compared: it then stands behind models compared on more."""
        return any(c.substitute.compared_in_part for c in self.clubs)

    @property
    def shaft_ids(self) -> tuple[str, ...]:
        """Its shafts, one a club."""
        return tuple(c.substitute.shaft_id for c in self.clubs)

    @property
    def sets_on_hand(self) -> int | None:
        """How many whole sets the pieces on hand make; None where nobody knows."""
        counts = [None if p.on_hand is None else max(p.on_hand, 0) // p.needed for p in self.pieces]
        known = [c for c in counts if c is not None]
        return min(known) if len(known) == len(counts) and known else None

    def to_json(self) -> dict[str, Any]:
        """Plain values with stable keys."""
        return {
            "rank": self.rank,
            "model": self.model,
            "way": self.way,
            "first_trim_in": self.first_trim_in,
            "trim_step_in": self.trim_step_in,
            "score": round(self.score, 6),
            "clubs_score": round(self.clubs_score, 6),
            "slope_term": round(self.slope_term, 6),
            "slope_cpm_per_half_in": _finite(self.slope),
            "slope_sd_cpm_per_half_in": _finite(self.slope_sd),
            "fitted_slope_cpm_per_half_in": _finite(self.fitted_slope),
            "noise_floor": round(self.noise_floor, 6),
            "within_tolerance_probability": round(self.within_tolerance_probability, 4),
            "clubs": [c.to_json() for c in self.clubs],
            "pieces": [p.to_json() for p in self.pieces],
            "sets_on_hand": self.sets_on_hand,
            "price": self.price,
            "currency": self.currency,
            "other_ways": [{"way": way, "score": round(score, 6)} for way, score in self.other_ways],
            "summary": self.summary,
            "cautions": list(self.cautions),
            "notes": list(self.notes),
            "doubt": {
                "club_id": self.least_known_club.club_id,
                **self.doubts.all[0].to_json(self.least_known_club.substitute.shaft_id),
            },
        }


def _finite(value: float) -> float | None:
    return round(value, 4) if math.isfinite(value) else None


@dataclass(frozen=True, slots=True)
class SetReport:
    """The answer.

    Attributes
    ----------
    set_id : str
        The set.
    members : tuple of SetMember
        Its clubs, from the longest to the shortest.
    references : tuple of Reference
        The same, computed.
    fitted_slope : float
        Frequency against length of the fitted set, cpm per half inch.
    results : tuple of SetStandIn
        Best first.
    excluded : SetExcluded
        Models that are not proposed.
    elapsed_ms : float
        Time the search took.
    weighting : str
        Name of the tolerances.
    notes : tuple of str
        What is to be known.
    """

    set_id: str
    members: tuple[SetMember, ...]
    references: tuple[Reference, ...]
    fitted_slope: float
    results: tuple[SetStandIn, ...]
    excluded: SetExcluded
    elapsed_ms: float
    weighting: str
    notes: Sequence[str] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain values with stable keys."""
        return {
            "set_id": self.set_id,
            "reference": {
                "slope_cpm_per_half_in": _finite(self.fitted_slope),
                "clubs": [
                    {"club_id": m.club_id, "shaft_id": m.parts.shaft.id, "head_id": m.parts.head.id, **r.to_json()}
                    for m, r in zip(self.members, self.references, strict=True)
                ],
            },
            "weighting": self.weighting,
            "results": [r.to_json() for r in self.results],
            "excluded": self.excluded.to_json(),
            "notes": list(self.notes),
            "elapsed_ms": round(self.elapsed_ms, 1),
        }
