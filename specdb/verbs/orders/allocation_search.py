"""Stand-ins for the clubs and sets of all orders: clubs that ask the same question are looked up once.

Looked at are shafts on the shelf, and shafts that are expected before the fitted one is there for everybody who wants
it: these too can get an order out sooner, or nearer to what was fitted than anything on the shelf.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from specdb.catalogue import Reader
from specdb.errors import SpecdbError
from specdb.orders.availability import Book
from specdb.orders.choosing import Decisions
from specdb.orders.demand import PlanRules
from specdb.orders.needs import Swap, plain_part
from specdb.orders.supply import supply_of
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
    """One model that can supply a set.

    Attributes
    ----------
    model : str
        Maker, model and flex.
    clubs : mapping of str to Found
        By club.
    """

    model: str
    clubs: Mapping[str, Found]

    @property
    def shafts(self) -> Counter[str]:
        """Pieces of each shaft that it takes."""
        return Counter(found.shaft_id for found in self.clubs.values())


@dataclass(frozen=True, slots=True)
class Ask:
    """What stand-ins are looked for.

    Attributes
    ----------
    set_id : str or None
        The set; None for a club of its own.
    clubs : tuple of Club
        Its clubs, or the one.
    before : date or None
        Day by which what is only expected must be there to be of use; any day where None.
    """

    set_id: str | None
    clubs: tuple[Club, ...]
    before: dt.date | None

    @property
    def name(self) -> str:
        """What it is called in front of a person."""
        return self.clubs[0].id if self.set_id is None else f"set {self.set_id}"


@dataclass(frozen=True, slots=True)
class Answer:
    """What was found.

    Attributes
    ----------
    clubs : tuple of Found
        For a club: stand-ins on the shelf, nearest first, then those expected.
    models : tuple of FoundModel
        For a set, in the same order.
    failed : str
        Why nothing could be compared.
    """

    clubs: tuple[Found, ...] = ()
    models: tuple[FoundModel, ...] = ()
    failed: str = ""


EXPECTED = 3
"""Stand-ins that are only expected, looked at for a club beside those on the shelf, and models for a set."""


class StandIns:
    """Looks for stand-ins among the shafts that are free on the shelf or expected on a known day.

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
    rules : PlanRules
        Today, and the last day whose arrivals count.

    Attributes
    ----------
    looked : int
        Questions that were asked.
    failed : list of str
        Clubs and sets that could not be compared, with the reason.
    """

    def __init__(self, reader: Reader, book: Book, top: int, most: float, rules: PlanRules) -> None:
        self._reader, self._book, self._top, self._most = reader.remembering(), book, top, most
        self._decided = book.decisions
        self._reader.know("club", list(book.clubs.values()))
        fitted = ", ".join(f"'{key}'" for key in sorted({club.shaft_id for club in book.clubs.values()}))
        if fitted:  # all at once: one by one costs a millisecond each
            self._reader.know("shaft", reader.rows("shaft", where=f"id in ({fitted})"))
        self._today, self._supply = rules.today, supply_of(book.shelf, rules)
        known = (part[1] for part in self._supply.stairs if part[0] == "shaft" and plain_part(part) == part)
        days = ((shaft, self.first_day({shaft: 1})) for shaft in known)
        self._days = {shaft: day for shaft, day in days if day is not None}
        self._coming = any(day > self._today for day in self._days.values())
        self._index: MatchIndex | None = None
        self._shelf_index: MatchIndex | None = None
        self._models: ShaftModels | None = None
        self._inputs: SearchInputs | None = None
        self._answers: dict[object, Answer] = {}
        self.looked = 0
        self.failed: list[str] = []

    def first_day(self, pieces: Mapping[str, int]) -> dt.date | None:
        """First day on which so many of each shaft are there, if nobody else takes any; None where never.

        Parameters
        ----------
        pieces : mapping of str to int
            By shaft.
        """
        days = [self._supply.stair(("shaft", s), self._today).first_day(n) for s, n in pieces.items()]
        known = [day for day in days if day is not None]
        return max(known, default=self._today) if len(known) == len(days) else None

    def known(self, ask: Ask) -> bool:
        """Whether that, or what asks the same, was asked before.

        Parameters
        ----------
        ask : Ask
            The question.
        """
        return self.same(ask) in self._answers

    def same(self, ask: Ask) -> object:
        """What two questions must share to have one answer.

        Parameters
        ----------
        ask : Ask
            The question.
        """
        if ask.set_id is not None:
            return ask.set_id
        return _question(ask.clubs[0]), self._decided.get(ask.clubs[0].id, Decisions()).rejected

    def answer(self, ask: Ask) -> Answer:
        """The answer, worked out where it is not known.

        Parameters
        ----------
        ask : Ask
            The question.
        """
        if not self.known(ask):
            self.take(ask, self.work_out(ask))
        return self._answers[self.same(ask)]

    def take(self, ask: Ask, answer: Answer) -> None:
        """Take an answer that was worked out, here or by another process.

        Parameters
        ----------
        ask : Ask
            The question.
        answer : Answer
            Its answer.
        """
        self.looked += 1
        if answer.failed:
            self.failed.append(f"{ask.name}: {answer.failed}")
        self._answers[self.same(ask)] = answer

    def work_out(self, ask: Ask) -> Answer:
        """Look for stand-ins.

        Parameters
        ----------
        ask : Ask
            The question.
        """
        try:
            if ask.set_id is None:
                return Answer(clubs=tuple(self._search_club(ask.clubs[0], ask.before)))
            return Answer(models=tuple(self._search_set(ask.set_id, ask.clubs, ask.before)))
        except SpecdbError as error:
            return Answer(failed=str(error))

    @property
    def index(self) -> MatchIndex:
        """Index of the shafts of which a piece is free on the shelf or expected."""
        if self._index is None:
            from specdb.verbs.matching.substitutes import index_of

            self._index = index_of(self._reader, set(self._days))
        return self._index

    @property
    def shelf_index(self) -> MatchIndex:
        """Index of the shafts of which a piece is free on the shelf."""
        if self._shelf_index is None:
            from specdb.verbs.matching.substitutes import index_of

            self._shelf_index = index_of(self._reader, {s for s, day in self._days.items() if day == self._today})
        return self._shelf_index

    def _search_club(self, club: Club, before: dt.date | None) -> list[Found]:
        from specdb.verbs.clubs.clubs import ClubRequest, find_club
        from specdb.verbs.matching.substitutes import SearchOptions, read_search

        asked = ClubRequest(club=club.id)
        if self._inputs is None:
            self._inputs = read_search(self._reader, asked)
        # shelf, stock, supply and tolerances are the same for every club
        decided = {c.shaft_id: (c.decision, c.why or "") for c in self._book.choices if c.club_id == club.id}
        inputs = replace(self._inputs, club=find_club(self._reader, asked), decided=decided)
        top = self._top + (EXPECTED if self._coming else 0)
        results = inputs.search(self.index, SearchOptions(top=top)).report.results
        near = [r for r in results if r.score <= self._most]
        there = [r for r in near if self._days[r.shaft_id] == self._today]
        coming = [r for r in near if self._today < self._days[r.shaft_id] < (before or dt.date.max)]
        if len(there) < self._top and len(near) == top:  # what is only expected stands before what is there
            results = inputs.search(self.shelf_index, SearchOptions(top=self._top)).report.results
            there = [r for r in results if r.score <= self._most]
        return [_found(r, r.score) for r in (*there[: self._top], *coming[:EXPECTED])]

    def _search_set(self, set_id: str, clubs: Sequence[Club], before: dt.date | None) -> list[FoundModel]:
        from specdb.verbs.matching.substitutes import SearchOptions
        from specdb.verbs.sets.substitutes import read_set_search

        inputs = read_set_search(self._reader, set_id)
        if self._models is None:
            self._models = inputs.models(self.index)
        wanted = {club.id for club in clubs}

        def models(stock: Mapping[str, int], top: int) -> list[FoundModel]:
            options = SearchOptions(in_stock=True, top=top)
            report = replace(inputs, stock=stock).search(self.index, options, self._models).report
            return [
                FoundModel(r.model, {c.club_id: _found(c.substitute, r.score) for c in r.clubs})
                for r in report.results
                if r.score <= self._most and {c.club_id for c in r.clubs} == wanted
            ]

        if not self._coming:
            return models(inputs.stock, self._top)
        found = models(self._by(before), self._top + EXPECTED)
        there = [m for m in found if _enough(inputs.stock, m)]
        coming = [m for m in found if m not in there]
        cut_off = len(found) == self._top + EXPECTED and len(there) < self._top
        # of a model with a shaft for every number, what is on the shelf may do in another way than the nearest
        if cut_off or any(len(m.shafts) > 1 for m in coming):
            there = models(inputs.stock, self._top)
        return [*there[: self._top], *coming[:EXPECTED]]

    def _by(self, before: dt.date | None) -> dict[str, int]:
        """Pieces of every shaft that are there before a day."""
        last = before or dt.date.max
        found = {}
        for shaft in self._days:
            stair = self._supply.stair(("shaft", shaft), self._today)
            found[shaft] = max((n for day, n in zip(stair.days, stair.upto, strict=True) if day < last), default=0)
        return found


def _enough(stock: Mapping[str, int], model: FoundModel) -> bool:
    return all(stock.get(shaft, 0) >= pieces for shaft, pieces in model.shafts.items())


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
