"""What a search for a head's stand-ins gives back, and its JSON form."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from specdb.fitup.report import Step


@dataclass(frozen=True, slots=True)
class HeadDifference:
    """One feature of a stand-in, as it would be finished, against the wanted one.

    Attributes
    ----------
    key, title, unit : str
        Its JSON key, and words for a person.
    decimals : int
        Decimals shown.
    reference, candidate : float
        Wanted, and as finished.
    step : float
        Difference that counts as one unit.
    """

    key: str
    title: str
    unit: str
    decimals: int
    reference: float
    candidate: float
    step: float

    @property
    def difference(self) -> float:
        """Stand-in less wanted."""
        return self.candidate - self.reference

    @property
    def units_off(self) -> float:
        """Difference in steps."""
        return self.difference / self.step

    def to_json(self) -> dict[str, float]:
        """Plain values."""
        return {
            "reference": round(self.reference, 4),
            "candidate": round(self.candidate, 4),
            "difference": round(self.difference, 4),
            "one_step": self.step,
            "units_off": round(self.units_off, 4),
        }


@dataclass(frozen=True, slots=True)
class ClubWithHead:
    """What the fitted club becomes with the head.

    Attributes
    ----------
    values, fitted : mapping
        Both clubs in numbers, with the keys of ``mechanics``.
    verdict : str
        Of the fit-up of the fitted shaft in it.
    preparation : tuple of Step
        What must be done for it.
    parts : mapping of str to (str or None)
        Adapter, setting, sleeve and ferrule it takes.
    """

    values: Mapping[str, Any]
    fitted: Mapping[str, Any]
    verdict: str
    preparation: tuple[Step, ...]
    parts: Mapping[str, str | None]

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "verdict": self.verdict,
            "preparation": [step.to_json() for step in self.preparation],
            "parts": dict(self.parts),
            "mechanics": dict(self.values),
        }


@dataclass(frozen=True, slots=True)
class HeadStandIn:
    """One head that can stand in.

    Attributes
    ----------
    rank : int
        Place, from 1.
    head_id, title : str
        Which one.
    score, cost : float
        Score with the costs; the costs alone.
    adapter_id, setting : str or None
        Adapter and setting it takes.
    bends : mapping of str to float
        Degrees to bend by ``loft`` and ``lie``; positive is weaker and more upright.
    refused : tuple of str
        Bending that is not done, with the reason.
    head_add_g, head_excess_g : float
        Weight to add at the head; how much too heavy it is with nothing added.
    differences : tuple of HeadDifference
        What is left.
    not_compared : tuple of str
        Keys of features without data.
    club : ClubWithHead or None
        What the fitted club becomes; None where no club was named.
    in_stock : int or None
        Pieces on hand; None where nobody knows.
    expected_on : str or None
        Day more are expected.
    price : float or None
        Price.
    summary : str
        In words.
    cautions, notes : tuple of str
        Cautions; and what else is to be known.
    """

    rank: int
    head_id: str
    title: str
    score: float
    cost: float
    adapter_id: str | None
    setting: str | None
    bends: Mapping[str, float]
    refused: tuple[str, ...]
    head_add_g: float
    head_excess_g: float
    differences: tuple[HeadDifference, ...]
    not_compared: tuple[str, ...]
    club: ClubWithHead | None
    summary: str
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    in_stock: int | None = None
    expected_on: str | None = None
    backordered: bool | None = None
    price: float | None = None
    currency: str | None = None

    def to_json(self) -> dict[str, Any]:
        """Plain values with stable keys."""
        return {
            "rank": self.rank,
            "head_id": self.head_id,
            "title": self.title,
            "score": round(self.score, 6),
            "cost": round(self.cost, 6),
            "adapter_id": self.adapter_id,
            "setting": self.setting,
            "bend_deg": {name: round(value, 4) for name, value in self.bends.items()},
            "bending_refused": list(self.refused),
            "head_add_g": round(self.head_add_g, 3),
            "head_excess_g": round(self.head_excess_g, 3),
            "differences": {d.key: d.to_json() for d in self.differences},
            "not_compared": list(self.not_compared),
            "club": None if self.club is None else self.club.to_json(),
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
class HeadOut:
    """A head that is not proposed.

    Attributes
    ----------
    head_id, short, sentence : str
        Which, why in a few words, why in full.
    """

    head_id: str
    short: str
    sentence: str


@dataclass(frozen=True, slots=True)
class HeadReport:
    """The answer.

    Attributes
    ----------
    head_id, title : str
        The wanted head.
    club_id : str or None
        The fitted club.
    wanted : mapping of str to (float or None)
        What is wanted, by the key of the feature.
    results : tuple of HeadStandIn
        Best first.
    excluded : tuple of HeadOut
        Heads that are not proposed.
    less_near : tuple of str
        Heads that could stand in and are less near than those shown.
    elapsed_ms : float
        Time the search took.
    notes : tuple of str
        What is to be known.
    """

    head_id: str
    title: str
    club_id: str | None
    wanted: Mapping[str, float | None]
    results: tuple[HeadStandIn, ...]
    excluded: tuple[HeadOut, ...]
    less_near: tuple[str, ...]
    elapsed_ms: float
    notes: tuple[str, ...] = ()

    def counts(self) -> list[tuple[str, int]]:
        """Short reasons with the number of heads, most first."""
        found = Counter(out.short for out in self.excluded)
        return sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))

    def to_json(self) -> dict[str, Any]:
        """Plain values with stable keys."""
        return {
            "head_id": self.head_id,
            "club_id": self.club_id,
            "wanted": {key: None if v is None else round(v, 4) for key, v in self.wanted.items()},
            "results": [r.to_json() for r in self.results],
            "excluded": [{"head_id": e.head_id, "reason": e.sentence} for e in self.excluded],
            "notes": list(self.notes),
            "elapsed_ms": round(self.elapsed_ms, 1),
        }
