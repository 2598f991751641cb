"""Why a model cannot supply the set: one reason a model, made into a sentence when someone looks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.matching.exclude import Reason
from specdb.matching.index import MatchIndex
from specdb.matching.result import Excluded
from specdb.matching.substitutes import least_raw_in
from specdb.sets.models import ShaftModels
from specdb.sets.numbers import name_of
from specdb.sets.question import SetQuestion
from specdb.sets.sides import FloatArray, Side
from specdb.sets.variants import Variants, on_hand

BoolArray = npt.NDArray[np.bool_]

NO_SHAFT = "no shaft for every club"
NO_PROGRESSION = "no first trim and step suits all clubs"
NOT_ON_HAND = "not all pieces free"
NAMELESS = "sold by club number, maker or model unknown"


@dataclass(frozen=True, slots=True)
class SetExcluded:
    """Models that are not proposed.

    Attributes
    ----------
    index, models, asked, sides
        Of the search.
    alone : sequence of Excluded
        Why shafts are out for each club alone.
    found : ndarray of bool, shape (N + models by number,)
        Candidates with at least one variant.
    """

    index: MatchIndex
    models: ShaftModels
    asked: SetQuestion
    sides: Sequence[Side]
    alone: Sequence[Excluded]
    found: BoolArray

    def candidates(self) -> list[int]:
        """The candidates that are out."""
        n = len(self.index)
        single = self.models.single | self.models.nameless
        out = np.concatenate([single & ~self.found[:n], ~self.found[n:]])
        return [int(i) for i in np.flatnonzero(out)]

    def __len__(self) -> int:
        return len(self.candidates())

    def counts(self) -> list[tuple[str, int]]:
        """Short reasons with the number of models, most first."""
        found = Counter(self._short(c) for c in self.candidates())
        return sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))

    def why(self, shaft_id: str) -> str | None:
        """The sentence for the model that a shaft belongs to; None where it is not excluded.

        Parameters
        ----------
        shaft_id : str
            Key of the shaft.
        """
        row = self.index.row_of(shaft_id)
        candidate = self.candidate_of(row)
        return self.sentence(candidate) if candidate is not None and candidate in set(self.candidates()) else None

    def candidate_of(self, row: int) -> int | None:
        """Which candidate a row belongs to.

        Parameters
        ----------
        row : int
            Row of the index; -1 gives None.
        """
        if row < 0:
            return None
        number = int(self.models.of_row[row])
        return row if number < 0 else len(self.index) + number

    def sentence(self, candidate: int) -> str:
        """Why a candidate is out.

        Parameters
        ----------
        candidate : int
            Which one.
        """
        n = len(self.index)
        if candidate < n and self.models.nameless[candidate]:
            return "sold by club number, and without maker and model nothing tells which shafts belong with it"
        rows = self._rows(candidate)
        if rows is None:
            return self._lacking(candidate)
        at = self._first_out(rows)
        if at is not None:
            side, row = self.sides[at], rows[at]
            why = self.alone[at].sentence(row)
            shaft = "" if candidate < n else f" ({self.index.table.ids[row]})"
            return f"{side.member.club_id}{shaft}: {why}"
        if self._short_on_hand(rows):
            return self._short_of_pieces(rows)
        return (
            "each club could be built with it, but no first trim and step that grows from club to club keeps all of "
            "them within its tip, its length and its limit of tip trim"
        )

    def _short(self, candidate: int) -> str:
        if candidate < len(self.index) and self.models.nameless[candidate]:
            return NAMELESS
        rows = self._rows(candidate)
        if rows is None:
            return NO_SHAFT
        at = self._first_out(rows)
        if at is not None:
            from specdb.matching.exclude import SHORT

            return SHORT[Reason(int(self.sides[at].gate.code[rows[at]]))]
        return NOT_ON_HAND if self._short_on_hand(rows) else NO_PROGRESSION

    def _rows(self, candidate: int) -> tuple[int, ...] | None:
        n = len(self.index)
        if candidate < n:
            return (candidate,) * len(self.sides)
        return self.models.numbered[candidate - n].rows([s.member.place for s in self.sides], 0)

    def _first_out(self, rows: Sequence[int]) -> int | None:
        return next((c for c, r in enumerate(rows) if self.sides[c].gate.code[r] != Reason.NONE), None)

    def _lacking(self, candidate: int) -> str:
        model = self.models.numbered[candidate - len(self.index)]
        without = [s.member.club_id for s in self.sides if s.member.place is None]
        if without:
            return f"sold by club number, and the number of {', '.join(without)} is unknown"
        places = [s.member.place for s in self.sides if s.member.place is not None]
        missing = [name_of(p) for p in places if p not in model.row_by_place]
        return f"has no shaft for number {', '.join(missing)}"

    def _short_on_hand(self, rows: Sequence[int]) -> bool:
        pieces = self.asked.pieces
        return self.asked.all_on_hand and pieces is not None and not on_hand(pieces, rows)

    def _short_of_pieces(self, rows: Sequence[int]) -> str:
        pieces = self.asked.pieces
        if pieces is None:
            raise AssertionError  # nothing is left out for want of pieces where nobody counts them
        short = [
            f"{self.index.table.ids[r]} {int(pieces[r])} of {k}" for r, k in Counter(rows).items() if pieces[r] < k
        ]
        return f"not all pieces free: {', '.join(short)}"

    def to_json(self) -> list[dict[str, str]]:
        """One entry a model, named by its first shaft."""
        n = len(self.index)
        out = []
        for candidate in self.candidates():
            row = candidate if candidate < n else next(iter(self.models.numbered[candidate - n].row_by_place.values()))
            out.append(
                {
                    "shaft_id": self.index.table.ids[row],
                    "model": self.models.titles[row],
                    "reason": self.sentence(candidate),
                }
            )
        return out


def excluded_models(
    index: MatchIndex,
    models: ShaftModels,
    asked: SetQuestion,
    sides: Sequence[Side],
    variants: Variants,
    trims_in: FloatArray,
) -> SetExcluded:
    """Models that are not proposed.

    Parameters
    ----------
    index, models, asked, sides, variants, trims_in
        Of the search.
    """
    found = np.zeros(len(index) + len(models.numbered), dtype=bool)
    found[variants.candidate] = True
    alone = [_alone(index, side, trims_in) for side in sides]
    return SetExcluded(index, models, asked, sides, alone, found)


def _alone(index: MatchIndex, side: Side, trims_in: FloatArray) -> Excluded:
    return side.gate.excluded(lambda row: least_raw_in(index, side.ways, trims_in, row))
