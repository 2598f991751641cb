"""The answer: a verdict, every check with its figures, the preparation, and what is missing.

Check verdicts: ``fits``, ``warning`` (advice; never a refusal), ``does_not_fit``, ``unknown``. Report
verdicts: ``fits``, ``fits_with_preparation``, ``does_not_fit``, ``unknown``. Checks that can only advise
(``ADVISORY``) show ``unknown`` and list what they lack like any other, but what could never refuse does not
hold the verdict back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from specdb.fitup.question import FitQuestion

ADVISORY = frozenset({"club_type", "grip_core", "rules"})


class Verdict(StrEnum):
    """Verdict of a report."""

    FITS = "fits"
    FITS_WITH_PREPARATION = "fits_with_preparation"
    DOES_NOT_FIT = "does_not_fit"
    UNKNOWN = "unknown"


class CheckVerdict(StrEnum):
    """Verdict of one check."""

    FITS = "fits"
    WARNING = "warning"
    DOES_NOT_FIT = "does_not_fit"
    UNKNOWN = "unknown"


class Operation(StrEnum):
    """What a workshop may do so that a tip fits; turning a tip down is left out on purpose."""

    TIP_TRIM = "tip_trim"
    OTHER_ADAPTER = "other_adapter"
    REAM = "ream"
    SLEEVE = "sleeve"
    LEAVE_OUT_SLEEVE = "leave_out_sleeve"
    SHALLOWER_INSERTION = "shallower_insertion"
    OTHER_FERRULE = "other_ferrule"


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at.

    Attributes
    ----------
    name : str
        Stable name, such as ``tip_in_bore``.
    verdict : CheckVerdict
        What came of it.
    detail : str
        A plain sentence with the numbers.
    figures : mapping of str to float
        The numbers; each key ends in its unit.
    missing : tuple of str
        Fields that it needs and the catalogue lacks, such as ``head.bore_depth_in``.
    """

    name: str
    verdict: CheckVerdict
    detail: str
    figures: Mapping[str, float] = field(default_factory=dict)
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One operation of a preparation.

    Attributes
    ----------
    operation : Operation
        What is done.
    detail : str
        A plain sentence with the dimension.
    part_kind, part_id : str or None
        The part it takes from the catalogue, if any.
    in_stock : bool or None
        Whether that part is on the shelf; None where no part is needed or nobody knows.
    caution : str
        What to mind.
    cost : float
        In units of score.
    figures : mapping of str to float
        Dimensions; each key ends in its unit.
    """

    operation: Operation
    detail: str
    part_kind: str | None
    part_id: str | None
    in_stock: bool | None
    caution: str
    cost: float
    figures: Mapping[str, float] = field(default_factory=dict)

    @property
    def weighed(self) -> str:
        """The sentence with what the step adds to the score, for where stand-ins are weighed against each other."""
        return f"{self.detail} (adds {self.cost:.2f} to the score)" if self.cost else self.detail

    def to_json(self) -> dict[str, object]:
        """The step as plain values with stable keys."""
        return {
            "operation": str(self.operation),
            "detail": self.detail,
            "cost": self.cost,
            "part_kind": self.part_kind,
            "part_id": self.part_id,
            "in_stock": self.in_stock,
            "caution": self.caution,
        }


@dataclass(frozen=True, slots=True)
class FitReport:
    """The whole answer.

    Attributes
    ----------
    verdict : Verdict
        In one word.
    checks : tuple of Check
        Everything that was looked at, of the build as asked.
    preparation : tuple of Step
        What to do first, in order of work; empty where nothing is to be done or nothing helps.
    missing : tuple of str
        Fields without which some check stays unknown.
    cautions : tuple of str
        What to mind in this build and its preparation.
    prepared : FitQuestion or None
        The build with the preparation done, where there is one.
    prepared_checks : tuple of Check
        The checks of that build.
    """

    verdict: Verdict
    checks: tuple[Check, ...]
    preparation: tuple[Step, ...] = ()
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    prepared: FitQuestion | None = None
    prepared_checks: tuple[Check, ...] = ()

    @property
    def cost(self) -> float:
        """Cost of the preparation in units of score."""
        return sum(step.cost for step in self.preparation)

    def check(self, name: str) -> Check | None:
        """The check of that name, if it was made.

        Parameters
        ----------
        name : str
            Such as ``tip_in_bore``.
        """
        return next((c for c in self.checks if c.name == name), None)

    def to_json(self) -> dict[str, object]:
        """The answer as plain values with stable keys."""
        return {
            "verdict": str(self.verdict),
            "checks": [
                {
                    "name": c.name,
                    "verdict": str(c.verdict),
                    "detail": c.detail,
                    "figures": {key: round(float(value), 6) for key, value in c.figures.items()},
                }
                for c in self.checks
            ],
            "preparation": [step.to_json() for step in self.preparation],
            "missing": list(self.missing),
            "cautions": list(self.cautions),
        }


def overall(checks: Iterable[Check]) -> Verdict:
    """Verdict of a build from its checks, without any preparation.

    Parameters
    ----------
    checks : iterable of Check
        All of them.
    """
    binding = [c.verdict for c in checks if c.name not in ADVISORY]
    if CheckVerdict.DOES_NOT_FIT in binding:
        return Verdict.DOES_NOT_FIT
    if CheckVerdict.UNKNOWN in binding:
        return Verdict.UNKNOWN
    return Verdict.FITS


def missing_of(checks: Iterable[Check]) -> tuple[str, ...]:
    """Fields missing for any of the checks, each once, in order.

    Parameters
    ----------
    checks : iterable of Check
        All of them.
    """
    return tuple(dict.fromkeys(name for c in checks for name in c.missing))
