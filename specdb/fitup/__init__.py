"""Does this tip go in this hole, and what must be done first."""

from specdb.fitup.check import check_fit
from specdb.fitup.limits import FitLimits
from specdb.fitup.planner import plan
from specdb.fitup.question import FitQuestion, Shelf
from specdb.fitup.report import Check, CheckVerdict, FitReport, Operation, Step, Verdict

__all__ = [
    "Check",
    "CheckVerdict",
    "FitLimits",
    "FitQuestion",
    "FitReport",
    "Operation",
    "Shelf",
    "Step",
    "Verdict",
    "check_fit",
    "plan",
]
