"""What a build sheet says of the fit-up: whether the tip goes in, and what stands in the way where it does not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.units.writing import listed

if TYPE_CHECKING:
    from specdb.fitup.report import Check, FitReport
    from specdb.verbs.clubs.clubs import NamedClub

REFUSED = "DOES NOT FIT: not to be built like this."

_OPEN = {
    "connection": "whether adapter and head go together",
    "hand": "whether the head is for this hand",
    "adapter_hand": "whether the adapter is for this hand",
    "adapter_setting": "whether the adapter has this setting",
    "tip_trim_limit": "whether the maker allows this tip trim",
    "insertion_depth": "whether the tip sits deep enough",
    "tip_in_bore": "whether the tip goes in the bore",
    "sleeve_in_bore": "whether the sleeve goes in the bore",
    "bond": "whether the bond holds the head",
    "raw_length": "whether the shaft is long enough",
    "ferrule": "whether the ferrule goes on",
    "loft_lie_bend": "whether loft and lie can be had",
    "preparation": "whether a preparation leads to a fit",
}


@dataclass(frozen=True, slots=True)
class SheetVerdict:
    """The verdict of a sheet.

    Attributes
    ----------
    said : str
        In one sentence.
    reasons : tuple of str
        The checks that stand in the way, with their numbers; empty where nothing does.
    refused : bool
        Whether nothing may be bent, cut or glued.
    """

    said: str
    reasons: tuple[str, ...] = ()
    refused: bool = False


def sheet_verdict(club: NamedClub, report: FitReport) -> SheetVerdict:
    """The verdict of a sheet.

    Parameters
    ----------
    club : NamedClub
        The build, prepared.
    report : FitReport
        The fit-up of it.
    """
    from specdb.fitup.report import CheckVerdict, Verdict

    failing = _binding(report, CheckVerdict.DOES_NOT_FIT)
    unknown = _binding(report, CheckVerdict.UNKNOWN)
    reasons = _details([*failing, *unknown])
    if failing and (not unknown or report.verdict == Verdict.DOES_NOT_FIT):
        return SheetVerdict(REFUSED, reasons, refused=True)
    if unknown:
        words = [_OPEN.get(check.name, check.name.replace("_", " ")) for check in unknown]
        return SheetVerdict(f"NOT KNOWN {listed(words)}: to be found out first.", reasons, refused=bool(failing))
    inside = "in the bore" if club.sleeve is None else f"in with sleeve {club.sleeve.id}"
    if report.preparation:
        tail = "with the preparation below" if club.sleeve is None else "and the preparation below"
        return SheetVerdict(f"The tip goes {inside} {tail}.")
    return SheetVerdict(f"The tip goes {inside}{' as it is' if club.sleeve is None else ''}.")


def checks_of_build(report: FitReport) -> tuple[Check, ...]:
    """The checks of the club as it will be built: with the preparation done, where there is one.

    Parameters
    ----------
    report : FitReport
        The fit-up.
    """
    return report.prepared_checks or report.checks


def _binding(report: FitReport, verdict: str) -> list[Check]:
    from specdb.fitup.report import ADVISORY

    return [c for c in checks_of_build(report) if c.verdict == verdict and c.name not in ADVISORY]


def _details(checks: list[Check]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(check.detail for check in checks))
