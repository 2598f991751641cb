"""Why a shaft is not proposed: one reason a shaft, kept as a code, made into a sentence when someone looks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from specdb.errors import indefinite
from specdb.fitup.report import Operation
from specdb.matching.index import MatchIndex
from specdb.matching.question import COMPATIBLE, SubstituteQuestion
from specdb.matching.result import Excluded
from specdb.mechanics.constants import IN

BoolArray = npt.NDArray[np.bool_]


class Reason(IntEnum):
    """Why a shaft is out, in the order in which they are looked at."""

    NONE = 0
    FITTED = 1
    RETIRED = 2
    REJECTED = 3
    CLUB_TYPE = 4
    FILTER = 5
    NO_STIFFNESS = 6
    NO_MEASUREMENT = 7
    MASS_LINE = 8
    TIP = 9
    TOO_SHORT = 10
    TIP_UNKNOWN = 11


SHORT = {
    Reason.FITTED: "the fitted shaft itself",
    Reason.RETIRED: "retired",
    Reason.REJECTED: "turned down for this club",
    Reason.CLUB_TYPE: "sold for another kind of club",
    Reason.FILTER: "left out by the filter",
    Reason.NO_STIFFNESS: "no stiffness known",
    Reason.NO_MEASUREMENT: "a measurement is missing",
    Reason.MASS_LINE: "weight and balance point do not agree",
    Reason.TIP: "the tip does not go in",
    Reason.TOO_SHORT: "too short",
    Reason.TIP_UNKNOWN: "tip diameter, form or parallel length unknown",
}

_LEFT_OUT = {Operation.REAM: "reaming"}


@dataclass(slots=True)
class Gate:
    """Collects the reasons of one question.

    Attributes
    ----------
    index : MatchIndex
        The shafts.
    question : SubstituteQuestion
        What is asked.
    code : ndarray of int8, shape (N,)
        The reason of each shaft.
    """

    index: MatchIndex
    question: SubstituteQuestion
    code: npt.NDArray[np.int8]

    @classmethod
    def before_search(cls, index: MatchIndex, question: SubstituteQuestion) -> Gate:
        """Sort out what no search is needed for.

        Parameters
        ----------
        index : MatchIndex
            The shafts.
        question : SubstituteQuestion
            What is asked.
        """
        gate = cls(index, question, np.zeros(len(index), dtype=np.int8))
        table = index.table
        takes = COMPATIBLE[question.club.head.club_type]
        rejected = [index.row_of(s) for s in question.rejected]
        fitted = index.row_of(question.club.shaft.id)
        for reason, out in (
            (Reason.RETIRED, index.retired),
            (Reason.CLUB_TYPE, ~index.club_type.among(takes)),
            (Reason.FILTER, np.zeros(len(index), bool) if question.only is None else ~question.only),
            (Reason.NO_STIFFNESS, table.knowledge == 0),
            (Reason.NO_MEASUREMENT, ~table.computable),
            (Reason.MASS_LINE, ~index.mass_ok),
        ):
            gate.code[(gate.code == Reason.NONE) & out] = reason
        gate.code[[r for r in rejected if r >= 0]] = Reason.REJECTED
        if fitted >= 0:
            gate.code[fitted] = Reason.FITTED
        return gate

    @property
    def open(self) -> BoolArray:
        """Shafts that may be searched, shape (N,)."""
        passing: BoolArray = self.code == Reason.NONE
        return passing

    def after_search(self, buildable: BoolArray, goes_in: BoolArray) -> None:
        """Note which of the searched shafts cannot be built.

        Parameters
        ----------
        buildable : ndarray of bool, shape (N,)
            Shafts with at least one variant.
        goes_in : ndarray of bool, shape (N,)
            Shafts whose tip goes in at some allowed tip trim.
        """
        rest = self.open & ~buildable
        tips = self.index.tips
        known = np.isfinite(tips.tip_dia_in) & (tips.taper | np.isfinite(tips.parallel_in))
        if tips.readings is not None:
            known |= np.diff(tips.readings.start) > 0
        known = known[self.index.tip_of]
        self.code[rest & ~goes_in & known] = Reason.TIP
        self.code[rest & ~goes_in & ~known] = Reason.TIP_UNKNOWN
        self.code[rest & goes_in] = Reason.TOO_SHORT

    def excluded(self, needed_in: Callable[[int], float]) -> Excluded:
        """The reasons, ready for showing.

        Parameters
        ----------
        needed_in : callable
            Least raw length with which the shaft of a row could be built, by the way its tip goes in, in.
        """
        words = [SHORT.get(reason, "") for reason in Reason]
        return Excluded(self.code, words, lambda row: self._sentence(row, needed_in), self.index.table.ids)

    def _sentence(self, row: int, needed_in: Callable[[int], float]) -> str:
        reason, index, table = Reason(int(self.code[row])), self.index, self.index.table
        if reason == Reason.TOO_SHORT:
            return f"needs {needed_in(row):.2f} in, is {table.raw_length_m[row] / IN:g}"
        if reason in (Reason.NO_STIFFNESS, Reason.NO_MEASUREMENT):
            missing = table.missing(row)
            return f"cannot be compared: {', '.join(missing)} unknown; {_admitting(missing)} would admit it"
        if reason == Reason.REJECTED:
            why = self.question.rejected.get(table.ids[row], "")
            return "turned down for this club" + (f": {why}" if why else "")
        if reason == Reason.CLUB_TYPE:
            kind, head = index.club_type[row], self.question.club.head.club_type
            return f"sold for {_with_article(kind)}, the head is {_with_article(head)}"
        if reason == Reason.FILTER:
            own = [why for why, passing in self.question.filters if not passing[row]]
            return " and ".join(own) or self.question.only_reason
        if reason == Reason.MASS_LINE:
            return "its balance point lies outside the middle third: weigh and balance it again"
        if reason == Reason.TIP_UNKNOWN:
            return f"{SHORT[reason]}: measure the tip to know whether it goes in"
        if reason == Reason.TIP:
            return self._tip_sentence(row)
        return SHORT[reason]

    def _tip_sentence(self, row: int) -> str:
        left = ", ".join(sorted(_LEFT_OUT.get(o, str(o).replace("_", " ")) for o in self.question.without))
        preparation = f"with any preparation on the shelf{f' ({left} left out)' if left else ''}"
        tip = int(self.index.tip_of[row])
        dia = self.index.tips.tip_dia_in[tip]
        form = "taper" if self.index.tips.taper[tip] else "parallel"
        read = self.index.tips.readings
        if read is not None and read.start[tip + 1] > read.start[tip]:
            part = slice(int(read.start[tip]), int(read.start[tip + 1]))
            said = float(read.dia_in[part][np.argmin(read.position_in[part])])
            return f"its tip, measured {said:.4f} in, does not go in this hole {preparation}"
        return f"its {dia:.3f} in {form} tip does not go in this hole {preparation}"


def _with_article(word: str | None) -> str:
    if not word:
        return "an unknown kind of club"
    return indefinite(word)


def _admitting(missing: list[str]) -> str:
    if any("stiffness" in m for m in missing) and len(missing) == 1:
        return "one or the other"
    return "these measurements"
