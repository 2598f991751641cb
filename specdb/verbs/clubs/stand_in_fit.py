"""Whether a club can be built with a stand-in at the tip trim that was decided: too short, tip, the maker's limit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from specdb.catalogue import Reader
from specdb.verbs.clubs.clubs import ClubRequest, find_club
from specdb.verbs.clubs.fitup import fit_question, shelf_of

if TYPE_CHECKING:
    from specdb.fitup.question import FitQuestion, Shelf
    from specdb.fitup.report import FitReport

_TIP = ("tip_in_bore", "sleeve_in_bore")


@dataclass(frozen=True, slots=True)
class StandInFit:
    """The fit-up of a club with a stand-in.

    Attributes
    ----------
    report : FitReport
        With the tip trim as it was decided.
    against : tuple of str
        Why it cannot be built, in plain sentences; empty where it can, or where that is not known.
    """

    report: FitReport
    against: tuple[str, ...] = ()

    @property
    def why_not(self) -> str:
        """Why it cannot be built, in one sentence; empty where nothing is known against it."""
        return "; ".join(self.against)


def stand_in_fit(
    reader: Reader, club: str, shaft: str, tip_trim_in: float | None = None, shelf: Shelf | None = None
) -> StandInFit:
    """Judge a club with a stand-in.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    club, shaft : str
        Keys of the fitted club and of the stand-in.
    tip_trim_in : float or None
        Tip trim of the stand-in, in.
    shelf : Shelf or None
        Parts that a preparation may use; read where None.

    Raises
    ------
    NotFoundError
        If the catalogue lacks a part that the club names.
    UsageError
        If the club cannot be put together, such as a head that needs an adapter and has none.
    """
    from specdb.fitup import plan
    from specdb.fitup.planner import TRIM_SETTLED

    question = fit_question(find_club(reader, ClubRequest(club=club, shaft=shaft, tip_trim_in=tip_trim_in)))
    parts = shelf_of(reader) if shelf is None else shelf
    report = plan(question, parts, allowed=TRIM_SETTLED)
    return StandInFit(report, _against(question, report, parts))


def _against(question: FitQuestion, report: FitReport, shelf: Shelf) -> tuple[str, ...]:
    """The reasons that lie with the stand-in; what fails for the fitted shaft too is none of them."""
    from specdb.fitup import plan
    from specdb.fitup.planner import TRIM_SETTLED
    from specdb.fitup.report import CheckVerdict, Verdict

    if report.verdict is not Verdict.DOES_NOT_FIT:
        return ()
    failing = {c.name: c for c in report.checks if c.verdict is CheckVerdict.DOES_NOT_FIT}
    said = [failing[name].detail for name in ("tip_trim_limit", "raw_length") if name in failing]
    tips = [failing[name] for name in _TIP if name in failing]
    if tips:  # held alone, as a preparation may cure the tip and not the length
        alone = replace(question, playing_length_in=None, shaft=replace(question.shaft, max_tip_trim_in=None))
        if not said or plan(alone, shelf, allowed=TRIM_SETTLED).verdict is Verdict.DOES_NOT_FIT:
            said += [f"no preparation on the shelf makes it go in: {c.detail.partition(';')[0]}" for c in tips]
    return tuple(said)
