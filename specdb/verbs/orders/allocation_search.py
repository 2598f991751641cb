"""Stand-ins for the clubs and sets of all orders: clubs that ask the same question are looked up once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from specdb.catalogue import Reader
from specdb.errors import SpecdbError
from specdb.orders.availability import Book
from specdb.orders.choosing import Decisions
from specdb.orders.needs import Swap
from specdb.records.rows import Club

if TYPE_CHECKING:
    from specdb.fitup.report import Step
    from specdb.matching.index import MatchIndex
    from specdb.matching.result import Substitute
    from specdb.sets.models import ShaftModels
    from specdb.verbs.matching.substitutes import SearchInputs


@dataclass(frozen=True, slots=True)
class Found:
    """One stand-in for one club.

    Attributes
    ----------
    shaft_id : str
        The shaft.
    score : float
        Its score; of a set, that of the whole set.
    tip_trim_in : float
        Tip trim, in.
    preparation : tuple of str
        What the workshop does beside, in words.
    swap : Swap
        Parts it takes in the place of the club's own.
    """

    shaft_id: str
    score: float
    tip_trim_in: float
    preparation: tuple[str, ...]
    swap: Swap


@dataclass(frozen=True, slots=True)
class FoundModel:
    """One model that can supply a set from the shelf.

    Attributes
    ----------
    model : str
        Maker, model and flex.
    clubs : mapping of str to Found
        By club.
    """

    model: str
    clubs: Mapping[str, Found]


class StandIns:
    """Looks for stand-ins among the shafts that are free on the shelf.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    book : Book
        Orders and stock.
    top : int
        Stand-ins for a club, models for a set.
    most : float
        Largest score that is proposed.

    Attributes
    ----------
    looked : int
        Questions that were asked.
    failed : list of str
        Clubs and sets that could not be compared, with the reason.
    """

    def __init__(self, reader: Reader, book: Book, top: int, most: float) -> None:
        self._reader, self._book, self._top, self._most = reader.remembering(), book, top, most
        self._decided = book.decisions
        self._reader.know("club", list(book.clubs.values()))
        fitted = ", ".join(f"'{key}'" for key in sorted({club.shaft_id for club in book.clubs.values()}))
        if fitted:  # all at once: one by one costs a millisecond each
            self._reader.know("shaft", reader.rows("shaft", where=f"id in ({fitted})"))
        self._index: MatchIndex | None = None
        self._models: ShaftModels | None = None
        self._inputs: SearchInputs | None = None
        self._clubs: dict[object, list[Found]] = {}
        self._sets: dict[str, list[FoundModel]] = {}
        self.looked = 0
        self.failed: list[str] = []

    def of_club(self, club: Club) -> list[Found]:
        """Stand-ins for one club, nearest first.

        Parameters
        ----------
        club : Club
            The fitted club.
        """
        key = (_question(club), self._decided.get(club.id, Decisions()).rejected)
        if key not in self._clubs:
            self.looked += 1
            try:
                self._clubs[key] = self._search_club(club)
            except SpecdbError as error:
                self.failed.append(f"{club.id}: {error}")
                self._clubs[key] = []
        return self._clubs[key]

    def of_set(self, set_id: str, clubs: Sequence[Club]) -> list[FoundModel]:
        """Models that can supply a set, nearest first.

        Parameters
        ----------
        set_id : str
            The set.
        clubs : sequence of Club
            Its clubs.
        """
        if set_id not in self._sets:
            self.looked += 1
            try:
                self._sets[set_id] = self._search_set(set_id, clubs)
            except SpecdbError as error:
                self.failed.append(f"set {set_id}: {error}")
                self._sets[set_id] = []
        return self._sets[set_id]

    @property
    def index(self) -> MatchIndex:
        """Index of the shafts of which a piece is free on the shelf."""
        if self._index is None:
            from specdb.verbs.matching.substitutes import index_of

            shelf = self._book.shelf
            there = {key for kind, key in shelf.on_hand if kind == "shaft" and shelf.free((kind, key)) > 0}
            self._index = index_of(self._reader, there)
        return self._index

    def _search_club(self, club: Club) -> list[Found]:
        from specdb.verbs.clubs.clubs import ClubRequest, find_club
        from specdb.verbs.matching.substitutes import SearchOptions, read_search

        asked = ClubRequest(club=club.id)
        if self._inputs is None:
            self._inputs = read_search(self._reader, asked)
        # shelf, stock, supply and tolerances are the same for every club
        decided = {c.shaft_id: (c.decision, c.why or "") for c in self._book.choices if c.club_id == club.id}
        inputs = replace(self._inputs, club=find_club(self._reader, asked), decided=decided)
        report = inputs.search(self.index, SearchOptions(top=self._top)).report
        return [_found(r, r.score) for r in report.results if r.score <= self._most]

    def _search_set(self, set_id: str, clubs: Sequence[Club]) -> list[FoundModel]:
        from specdb.verbs.matching.substitutes import SearchOptions
        from specdb.verbs.sets.substitutes import read_set_search

        inputs = read_set_search(self._reader, set_id)
        if self._models is None:
            self._models = inputs.models(self.index)
        options = SearchOptions(in_stock=True, top=self._top)
        report = inputs.search(self.index, options, self._models).report
        wanted = {club.id for club in clubs}
        return [
            FoundModel(r.model, {c.club_id: _found(c.substitute, r.score) for c in r.clubs})
            for r in report.results
            if r.score <= self._most and {c.club_id for c in r.clubs} == wanted
        ]


def _found(result: Substitute, score: float) -> Found:
    from specdb.fitup.report import Operation

    words = [_words(step) for step in result.preparation if step.operation is not Operation.TIP_TRIM]
    return Found(result.shaft_id, score, result.tip_trim_in, tuple(words), swap_of(result.preparation))


def _words(step: Step) -> str:
    said = str(step.operation).replace("_", " ")
    return f"{said} {step.part_id}" if step.part_id else said


def swap_of(steps: Sequence[Step]) -> Swap:
    """Parts that a preparation puts in the place of the club's own.

    Parameters
    ----------
    steps : sequence of Step
        The preparation.
    """
    from specdb.fitup.report import Operation

    kinds = {
        Operation.SLEEVE: "sleeve",
        Operation.LEAVE_OUT_SLEEVE: "sleeve",
        Operation.OTHER_ADAPTER: "adapter",
        Operation.OTHER_FERRULE: "ferrule",
    }
    # a shaft comes without the fitted one's sleeve
    parts: dict[str, str | None] = {"sleeve": None}
    parts.update({kinds[s.operation]: s.part_id for s in steps if s.operation in kinds})
    return Swap(parts)


def _question(club: Club) -> object:
    """What two clubs must share for the same stand-ins to be the answer."""
    names = ("head_id", "adapter_id", "adapter_setting", "sleeve_id", "ferrule_id", "shaft_id", "shaft_sample")
    more = ("tip_trim_in", "insertion_in", "playing_length_in", "grip_id", "adhesive_id", "swingweight", "head_add_g")
    return tuple(getattr(club, n) for n in (*names, *more, "loft_deg", "lie_deg", "frequency_clamp_in"))
