"""Which models can stand in for all shafts of a fitted set, answered from the catalogue."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import NotFoundError, UsageError
from specdb.records.rows import Choice
from specdb.verbs.catalogue.holdings import free_pieces
from specdb.verbs.matching.substitutes import CHOSEN, REJECTED, SearchOptions, filtered, index_of
from specdb.verbs.sets.sets import NamedSet, find_set, quoted

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pyarrow as pa

    from specdb.catalogue.stock import SupplyState
    from specdb.fitup.question import Shelf
    from specdb.matching.index import MatchIndex
    from specdb.matching.weighting import Tolerances
    from specdb.sets.members import SetMember
    from specdb.sets.models import ShaftModels
    from specdb.sets.question import Filters, SetQuestion
    from specdb.sets.result import SetReport, SetStandIn

_NEAR = 3


@dataclass(frozen=True, slots=True)
class SetAnswer:
    """The ranked models for a set.

    Attributes
    ----------
    named : NamedSet
        The fitted set.
    report : SetReport
        What was found.
    pieces : mapping of str to int
        Free pieces on hand of the fitted shafts.
    supply : mapping of str to SupplyState
        What is known about their supply.
    filtered : str
        Why shafts were left out of the search; empty where none were.
    chosen : frozenset of (str, str)
        Shafts that are chosen already, by club and shaft.
    """

    named: NamedSet
    report: SetReport
    pieces: Mapping[str, int]
    supply: Mapping[str, SupplyState]
    filtered: str = ""
    chosen: frozenset[tuple[str, str]] = frozenset()

    def is_chosen(self, found: SetStandIn) -> bool:
        """Whether a model is chosen for every club of the set, with these shafts.

        Parameters
        ----------
        found : SetStandIn
            The model as it is proposed.
        """
        return all((c.club_id, c.substitute.shaft_id) in self.chosen for c in found.clubs)

    def proposed(self, shaft: str) -> SetStandIn | None:
        """The model that a shaft belongs to, where it is proposed.

        Parameters
        ----------
        shaft : str
            Key of the shaft.
        """
        excluded = self.report.excluded
        candidate = excluded.candidate_of(excluded.index.row_of(shaft))
        if candidate is None:
            return None
        for found in self.report.results:
            if candidate == excluded.candidate_of(excluded.index.row_of(found.shaft_ids[0])):
                return found
        return None

    def to_json(self) -> dict[str, Any]:
        """The answer as plain values."""
        values = self.report.to_json()
        return {**values, "notes": [*self.named.notes, *values["notes"]]}


@dataclass(frozen=True, slots=True)
class SetSearchInputs:
    """What a search takes from the catalogue beside the index, so that it can be asked again without reading it.

    Attributes
    ----------
    named : NamedSet
        The fitted set.
    tolerances : Tolerances
        Of the weighting that was named.
    shelf : Shelf
        Parts that a preparation may use.
    stock : mapping of str to int
        Free pieces by shaft: on hand and kept for no other club.
    booked : bool
        Whether the shop books stock of shafts.
    supply : mapping of str to SupplyState
        What suppliers say, by shaft.
    rejected : mapping of (str, str) to str
        Shafts turned down, by club and shaft, with the reason.
    chosen : frozenset of (str, str)
        Shafts that are chosen, by club and shaft.
    names : pyarrow.Table
        Maker, model, flex and currency of every shaft.
    """

    named: NamedSet
    tolerances: Tolerances
    shelf: Shelf
    stock: Mapping[str, int]
    booked: bool
    supply: Mapping[str, SupplyState]
    rejected: Mapping[tuple[str, str], str]
    chosen: frozenset[tuple[str, str]]
    names: pa.Table

    def models(self, index: MatchIndex) -> ShaftModels:
        """The models that the shafts of an index make up.

        Parameters
        ----------
        index : MatchIndex
            The index of the same catalogue.
        """
        from specdb.sets.models import shaft_models

        return shaft_models(index, self.names)

    def search(self, index: MatchIndex, options: SearchOptions, models: ShaftModels | None = None) -> SetAnswer:
        """Rank the models that play nearest over the whole set.

        Parameters
        ----------
        index : MatchIndex
            The index of the same catalogue.
        options : SearchOptions
            How to look; its weighting is the one that was read.
        models : ShaftModels or None
            From :meth:`models`, where somebody keeps them.

        Raises
        ------
        UsageError
            If the set has fewer than two clubs, or stock is asked for where none is booked.
        BuildError, MissingDataError
            If a fitted club cannot be computed.
        """
        from specdb.sets import find_set_substitutes

        question = self._question(index, options)
        report = find_set_substitutes(index, self.models(index) if models is None else models, question)
        fitted = {c.shaft.id for c in self.named.clubs}
        return SetAnswer(
            named=self.named,
            report=replace(report, results=tuple(self._with_supply(r) for r in report.results)),
            pieces={s: self.stock.get(s, 0) for s in sorted(fitted)},
            supply={s: self.supply[s] for s in sorted(fitted) if s in self.supply},
            filtered=next((f.only_reason for f in question.filters.values() if f.only is not None), ""),
            chosen=self.chosen,
        )

    def _question(self, index: MatchIndex, wanted: SearchOptions) -> SetQuestion:
        import numpy as np

        from specdb.fitup.report import Operation
        from specdb.sets.question import SetQuestion

        if wanted.trim_step_in is not None:
            raise UsageError("the tip trims of a set are searched by quarters and eighths of an inch: no --trim-step")
        members = self.named.members()
        pieces: npt.NDArray[np.int64] | None = None
        if self.booked:
            pieces = np.array([self.stock.get(s, 0) for s in index.table.ids], dtype=np.int64)
        return SetQuestion(
            set_id=self.named.set_id,
            members=members,
            shelf=self.shelf,
            tolerances=self.tolerances if wanted.tolerances is None else wanted.tolerances,
            max_head_add_g=wanted.max_head_add_g,
            without=frozenset({Operation.REAM}) if wanted.no_reaming else frozenset(),
            top=wanted.top,
            filters={m.club_id: self._filters(index, m, wanted) for m in members},
            pieces=pieces,
            all_on_hand=wanted.in_stock,
        )

    def _filters(self, index: MatchIndex, member: SetMember, wanted: SearchOptions) -> Filters:
        from specdb.matching.question import SubstituteQuestion
        from specdb.sets.question import Filters

        alone = SubstituteQuestion(club=member.parts, shelf=self.shelf)
        narrowed = filtered(index, alone, replace(wanted, in_stock=False), self.stock)
        return Filters(
            only=narrowed.only,
            only_reason=narrowed.only_reason,
            filters=narrowed.filters,
            rejected={
                shaft: why or "no reason given"
                for (club, shaft), why in self.rejected.items()
                if club == member.club_id
            },
        )

    def _with_supply(self, found: SetStandIn) -> SetStandIn:
        pieces = []
        for one in found.pieces:
            state = self.supply.get(one.shaft_id)
            day = None if state is None or state.expected_on is None else state.expected_on.isoformat()
            pieces.append(replace(one, expected_on=day, backordered=None if state is None else state.backordered))
        currencies = {_currency(self.names, s) for s in found.shaft_ids}
        one_currency = next(iter(currencies)) if len(currencies) == 1 else None
        # sums of two currencies mean nothing
        price = found.price if one_currency is not None or found.price is None else None
        return replace(found, pieces=tuple(pieces), currency=one_currency, price=price)


def _currency(names: pa.Table, shaft: str) -> str | None:
    import pyarrow.compute as pc

    at = pc.index(names.column("id"), shaft).as_py()
    return None if at < 0 else names.column("currency")[at].as_py()


def read_set_search(reader: Reader, set_id: str, weighting: str | None = None) -> SetSearchInputs:
    """Read what a search for a set's stand-ins needs beside the index.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    set_id : str
        Name of the set.
    weighting : str or None
        Key of a named weighting; the default where None.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the set or the weighting.
    UsageError
        If the set is not whole.
    """
    from specdb.verbs.clubs.fitup import shelf_of
    from specdb.verbs.matching.weightings import tolerances_of

    named = find_set(reader, set_id)
    own = [c.record.id for c in named.clubs if c.record is not None]
    clubs = ", ".join(f"'{quoted(key)}'" for key in own)
    stock = free_pieces(reader, "shaft", own)
    choices: list[Choice] = reader.rows("choice", where=f"club_id in ({clubs})")
    return SetSearchInputs(
        named=named,
        tolerances=tolerances_of(reader, weighting),
        shelf=shelf_of(reader),
        stock=stock,
        booked=bool(stock),
        supply=reader.supply("shaft"),
        rejected={(c.club_id, c.shaft_id): c.why or "" for c in choices if c.decision == REJECTED},
        chosen=frozenset((c.club_id, c.shaft_id) for c in choices if c.decision == CHOSEN),
        names=reader.arrow("shaft", ("id", "maker", "model", "flex", "currency")),
    )


def set_substitutes_of(
    catalogue: Catalogue,
    set_id: str,
    options: SearchOptions | None = None,
    *,
    progress: Callable[[str], None] | None = None,
    index: MatchIndex | None = None,
) -> SetAnswer:
    """Rank the models that can stand in for all shafts of a fitted set.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    set_id : str
        Name of the set.
    options : SearchOptions or None
        How to look; ``in_stock`` asks for all pieces of the set on hand.
    progress : callable or None
        Told what is being done.
    index : MatchIndex or None
        The index of this catalogue, where somebody keeps it; made anew where None.

    Raises
    ------
    NotFoundError
        If no club belongs to the set.
    UsageError
        If it has fewer than two clubs, or is not whole.
    BuildError, MissingDataError
        If a fitted club cannot be computed.
    """
    wanted = options or SearchOptions(top=10)
    tell = progress or (lambda _: None)
    tell("reading the catalogue")
    with catalogue.read() as reader:
        inputs = read_set_search(reader, set_id, wanted.weighting)
        if index is None:
            tell("preparing the shafts")
            index = index_of(reader)
    tell("comparing")
    return inputs.search(index, wanted)


def why_not_for_set(answer: SetAnswer, shaft: str) -> str:
    """Why the model of a shaft is not among the stand-ins, in a sentence.

    Parameters
    ----------
    answer : SetAnswer
        The answer.
    shaft : str
        Key of one of its shafts.

    Raises
    ------
    NotFoundError
        If the catalogue has no such shaft.
    """
    report = answer.report
    excluded = report.excluded
    row = excluded.index.row_of(shaft)
    if row < 0:
        raise NotFoundError("shaft", shaft, difflib.get_close_matches(shaft, excluded.index.table.ids, _NEAR))
    title = excluded.models.titles[row]
    result = answer.proposed(shaft)
    if result is not None:
        return f"{title} is proposed, as number {result.rank} with a score of {result.score:.2f} ({result.way})"
    why = excluded.why(shaft)
    if why is not None:
        return f"{title}: {why}"
    worst = report.results[-1].score if report.results else float("nan")
    return (
        f"{title} can supply the set but plays less near than the {len(report.results)} shown (score above {worst:.2f})"
    )
