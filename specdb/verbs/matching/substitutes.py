"""Which shafts can stand in for the one a club was fitted with, answered from the catalogue."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue, Reader
from specdb.errors import MechanicsError, MissingDataError, NotFoundError, SpecdbError, UsageError
from specdb.orders.choosing import latest_first
from specdb.records.rows import Choice
from specdb.verbs.catalogue.changing import decide
from specdb.verbs.catalogue.holdings import by_order, free_of, kept_rows
from specdb.verbs.clubs.clubs import ClubRequest, NamedClub, find_club
from specdb.verbs.clubs.fitup import shelf_of
from specdb.verbs.matching.weightings import tolerances_of
from specdb.verbs.stiffness.corrections import corrected_columns
from specdb.verbs.stiffness.estimates import kept_profiles

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pyarrow as pa

    from specdb.catalogue.stock import SupplyState
    from specdb.fitup.question import Shelf
    from specdb.matching.index import MatchIndex
    from specdb.matching.question import SubstituteQuestion
    from specdb.matching.result import Substitute, SubstituteReport
    from specdb.matching.weighting import Tolerances

REJECTED = "rejected"
CHOSEN = "chosen"
_LOOKED_AT = 50
_SAME_TIP_IN = 0.0005  # tips nearer than that go by one name
_SAME_WEIGHT_G = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchOptions:
    """How stand-ins are looked for.

    Attributes
    ----------
    in_stock : bool
        Only shafts of which a piece is free.
    top : int
        How many.
    max_head_add_g : float or None
        Most weight that may be added at the head; the usual limit where None.
    weighting : str or None
        Key of a named weighting.
    trim_step_in : float or None
        Step of the tip trim; the usual one where None.
    max_price : float or None
        Only shafts whose price is known and not higher.
    max_weight_g : float or None
        Only shafts whose weight as they come is known and not higher, g.
    same_tip : bool
        Only shafts whose tip has the diameter and the form of the fitted one's.
    no_reaming : bool
        Only what goes in without reaming the bore.
    tolerances : Tolerances or None
        Units and weights that are kept under no name; they take the place of the weighting.
    """

    in_stock: bool = False
    top: int = 20
    max_head_add_g: float | None = None
    weighting: str | None = None
    trim_step_in: float | None = None
    max_price: float | None = None
    max_weight_g: float | None = None
    same_tip: bool = False
    no_reaming: bool = False
    tolerances: Tolerances | None = None


@dataclass(frozen=True, slots=True)
class SubstitutesAnswer:
    """The ranked stand-ins of one club.

    Attributes
    ----------
    club : NamedClub
        The fitted club.
    report : SubstituteReport
        What was found.
    on_hand : int
        Pieces of the fitted shaft on hand.
    supply : SupplyState or None
        What is known about its supply.
    chosen : tuple of str
        Stand-ins that were chosen for this club before, the latest first.
    filtered : str
        Why shafts were left out of the search; empty where none were.
    kept_for : tuple of (str, int)
        Orders that pieces of the fitted shaft are kept for, with how many.
    """

    club: NamedClub
    report: SubstituteReport
    on_hand: int
    supply: SupplyState | None
    chosen: tuple[str, ...]
    filtered: str = ""
    kept_for: tuple[tuple[str, int], ...] = ()

    def to_json(self) -> dict[str, object]:
        """The answer as plain values."""
        return {**self.report.to_json(), "chosen": list(self.chosen)}


def substitutes_of(
    catalogue: Catalogue,
    asked: ClubRequest,
    options: SearchOptions | None = None,
    *,
    progress: Callable[[str], None] | None = None,
    index: MatchIndex | None = None,
) -> SubstitutesAnswer:
    """Rank the shafts that play nearest to a fitted club in that same build.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    asked : ClubRequest
        The fitted club.
    options : SearchOptions or None
        How to look.
    progress : callable or None
        Told what is being done.
    index : MatchIndex or None
        The index of this catalogue, as :func:`index_of` makes it, where somebody keeps it; made anew where None.

    Raises
    ------
    NotFoundError
        If the catalogue lacks a part that was named.
    MissingDataError
        If the same tip is asked for and the fitted shaft's is unknown.
    BuildError, MissingDataError
        If the fitted club itself cannot be computed.
    """
    wanted = options or SearchOptions()
    tell = progress or (lambda _: None)
    tell("reading the catalogue")
    with catalogue.read() as reader:
        inputs = read_search(reader, asked, wanted.weighting)
        if index is None:
            tell("preparing the shafts")
            index = index_of(reader)
    tell("comparing")
    return inputs.search(index, wanted)


@dataclass(frozen=True, slots=True)
class SearchInputs:
    """What a search takes from the catalogue beside the index, so that it can be asked again without reading it.

    Attributes
    ----------
    club : NamedClub
        The fitted club.
    tolerances : Tolerances
        Of the weighting that was named.
    shelf : Shelf
        Parts that a preparation may use.
    on_hand : int
        Pieces of the fitted shaft on hand, those kept for orders among them.
    stock, supply : mapping
        Pieces that are kept for no other club, and what suppliers say, by shaft.
    decided : mapping of str to (str, str)
        What was decided about shafts for this club, with the reason.
    currencies : pyarrow.Table
        ``id`` and ``currency`` of every shaft.
    kept_for : mapping of str to tuple of (str, int)
        Orders that pieces are kept for, by shaft.
    """

    club: NamedClub
    tolerances: Tolerances
    shelf: Shelf
    on_hand: int
    stock: Mapping[str, int]
    supply: Mapping[str, SupplyState]
    decided: Mapping[str, tuple[str, str]]
    currencies: pa.Table
    kept_for: Mapping[str, tuple[tuple[str, int], ...]]

    def search(self, index: MatchIndex, options: SearchOptions) -> SubstitutesAnswer:
        """Rank the shafts that play nearest.

        Parameters
        ----------
        index : MatchIndex
            The index of the same catalogue.
        options : SearchOptions
            How to look; its weighting is the one that was read.

        Raises
        ------
        MissingDataError
            If the same tip is asked for and the fitted shaft's is unknown.
        BuildError, MissingDataError
            If the fitted club itself cannot be computed.
        """
        from specdb.matching import find_substitutes

        question = filtered(index, self._question(options), options, self.stock)
        report = find_substitutes(index, question)
        priced = _currencies(self.currencies, [r.shaft_id for r in report.results])
        results = tuple(
            replace(_with_shelf(r, self.stock, self.supply), currency=priced.get(r.shaft_id)) for r in report.results
        )
        return SubstitutesAnswer(
            club=self.club,
            report=replace(report, results=results),
            on_hand=self.on_hand,
            supply=self.supply.get(self.club.shaft.id),
            filtered="" if question.only is None else question.only_reason,
            chosen=tuple(shaft for shaft, (decision, _) in self.decided.items() if decision == CHOSEN),
            kept_for=self.kept_for.get(self.club.shaft.id, ()),
        )

    def _question(self, wanted: SearchOptions) -> SubstituteQuestion:
        from specdb.fitup.report import Operation
        from specdb.matching.question import SubstituteQuestion

        for name, value in (("price", wanted.max_price), ("weight", wanted.max_weight_g)):
            if value is not None and value < 0:
                raise UsageError(f"the highest {name} cannot be negative")
        step = 0.25 if wanted.trim_step_in is None else wanted.trim_step_in
        turned_down = {s: why for s, (decision, why) in self.decided.items() if decision == REJECTED}
        return SubstituteQuestion(
            club=self.club.parts(),
            setting=self.club.request.setting,
            adhesive=self.club.adhesive,
            shelf=self.shelf,
            tolerances=self.tolerances if wanted.tolerances is None else wanted.tolerances,
            top=wanted.top,
            trim_step_in=step,
            refine_in=step / 2.0,
            max_head_add_g=wanted.max_head_add_g,
            without=frozenset({Operation.REAM}) if wanted.no_reaming else frozenset(),
            rejected={shaft: why or "no reason given" for shaft, why in turned_down.items()},
        )


def read_search(reader: Reader, asked: ClubRequest, weighting: str | None = None) -> SearchInputs:
    """Read what a search for stand-ins needs beside the index.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    asked : ClubRequest
        The fitted club.
    weighting : str or None
        Key of a named weighting; the default where None.

    Raises
    ------
    NotFoundError
        If the catalogue lacks a part that was named.
    """
    club = find_club(reader, asked)
    stock, kept = reader.stock("shaft"), kept_rows(reader, "shaft")
    return SearchInputs(
        club=club,
        tolerances=tolerances_of(reader, weighting),
        shelf=shelf_of(reader),
        on_hand=stock.get(club.shaft.id, 0),
        stock=free_of(stock, kept, () if club.record is None else (club.record.id,)),
        supply=reader.supply("shaft"),
        decided=_decisions(reader, club),
        currencies=reader.arrow("shaft", ("id", "currency")),
        kept_for=by_order(kept),
    )


def index_of(reader: Reader, only: Collection[str] | None = None) -> MatchIndex:
    """The matching index of everything in the catalogue.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    only : collection of str, optional
        Only of these shafts.
    """
    from specdb.matching.index import (
        INDEX_READING_COLUMNS,
        INDEX_READING_WHERE,
        INDEX_SHAFT_COLUMNS,
        build_index,
    )

    shafts = reader.arrow("shaft", INDEX_SHAFT_COLUMNS, order_by=("tip_form", "tip_dia_in", "id"))
    quantities = ", ".join(f"'{q}'" for q in INDEX_READING_WHERE)
    readings = corrected_columns(reader, INDEX_READING_COLUMNS, where=f"quantity in ({quantities})")
    if only is not None:
        import pyarrow as pa
        import pyarrow.compute as pc

        wanted = pa.array(sorted(only), pa.string())
        shafts = shafts.filter(pc.is_in(shafts.column("id"), value_set=wanted))
        readings = readings.filter(pc.is_in(readings.column("shaft_id"), value_set=wanted))
    return build_index(shafts, readings, kept_profiles(reader))


def _decisions(reader: Reader, club: NamedClub) -> dict[str, tuple[str, str]]:
    """Shafts that were chosen or turned down for this club, the latest first, with the decision and its reason."""
    if club.record is None:
        return {}
    choices: list[Choice] = reader.rows("choice", where=f"club_id = '{club.record.id}'")
    return {c.shaft_id: (c.decision, c.why or "") for c in latest_first(choices)}


def filtered(
    index: MatchIndex, question: SubstituteQuestion, wanted: SearchOptions, stock: Mapping[str, int]
) -> SubstituteQuestion:
    """Narrow the search to what is on hand, not too dear, not too heavy, and of the same tip.

    Parameters
    ----------
    index : MatchIndex
        The shafts.
    question : SubstituteQuestion
        What is asked.
    wanted : SearchOptions
        How to look.
    stock : mapping of str to int
        Free pieces, by shaft.

    Raises
    ------
    MissingDataError
        If the same tip is asked for and the fitted shaft's is unknown.
    """
    import numpy as np

    made: list[tuple[str, npt.NDArray[np.bool_]]] = []
    if wanted.in_stock:
        held = np.array([stock.get(shaft, 0) > 0 for shaft in index.table.ids], dtype=np.bool_)
        made.append(("none free", held))
    if wanted.max_price is not None:
        cheap = np.nan_to_num(index.price, nan=np.inf) <= wanted.max_price
        made.append((f"price unknown or above {wanted.max_price:g}", cheap))
    if wanted.max_weight_g is not None:
        light = np.nan_to_num(1000.0 * index.table.mass_kg, nan=np.inf) <= wanted.max_weight_g + _SAME_WEIGHT_G
        made.append((f"weight unknown or above {wanted.max_weight_g:g} g", light))
    if wanted.same_tip:
        dia, form = question.club.shaft.tip_dia_in, question.club.shaft.tip_form
        if dia is None or form is None:
            missing = [f"shaft.{n}" for n, v in (("tip_dia_in", dia), ("tip_form", form)) if v is None]
            raise MissingDataError("the tip of the fitted shaft is not known, so none can be called the same", missing)
        same = (np.abs(index.tips.tip_dia_in - dia) <= _SAME_TIP_IN) & (index.tips.taper == (form == "taper"))
        made.append((f"tip unknown or not {dia:.3f} in {form}", same[index.tip_of]))
    if not made:
        return question
    only = np.logical_and.reduce([passing for _, passing in made])
    return replace(question, only=only, only_reason=" or ".join(why for why, _ in made), filters=tuple(made))


def _currencies(shafts: pa.Table, wanted: list[str]) -> dict[str, str]:
    """Currencies of the few shafts that are shown."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if not wanted:
        return {}
    few = shafts.filter(pc.is_in(shafts.column("id"), value_set=pa.array(wanted)))
    return {row["id"]: row["currency"] for row in few.to_pylist()}


def _with_shelf(found: Substitute, stock: Mapping[str, int], supply: Mapping[str, SupplyState]) -> Substitute:
    state = supply.get(found.shaft_id)
    expected: dt.date | None = None if state is None else state.expected_on
    return replace(
        found,
        # once a shop books shafts, a shaft without a booking is not there
        in_stock=stock.get(found.shaft_id, 0) if stock else None,
        expected_on=None if expected is None else expected.isoformat(),
        backordered=None if state is None else state.backordered,
    )


def choose(
    catalogue: Catalogue,
    club: str,
    shaft: str,
    *,
    tip_trim_in: float | None = None,
    sure: bool = False,
    by: str | None = None,
    why: str | None = None,
) -> tuple[float | None, float | None]:
    """Keep a stand-in as chosen for a club, with the tip trim and the score it is proposed with.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    club, shaft : str
        Keys of the fitted club and of the stand-in.
    tip_trim_in : float or None
        Tip trim, in; the one it is proposed with where None.
    sure : bool
        Whether it is kept though the club cannot be built with it.
    by, why : str or None
        Who and why.

    Returns
    -------
    tip_trim_in, score : float or None
        What was kept; the score only where the tip trim is the one it is proposed with.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the club or the shaft.
    UsageError
        If the club cannot be built with it and nobody is sure: too short, its tip does not go in, trimmed beyond what
        the maker allows; or if it is the fitted shaft.
    """
    with catalogue.read() as reader:
        reader.get("club", club)
        reader.get("shaft", shaft)
    proposed = _proposal(catalogue, club, shaft)
    score = None
    if proposed is not None:
        if tip_trim_in is None:
            tip_trim_in = proposed.tip_trim_in
        if abs(tip_trim_in - proposed.tip_trim_in) < 1e-6:
            score = proposed.score
    if not sure:
        _refuse_unbuildable(catalogue, club, shaft, tip_trim_in)
    decide(catalogue, club, shaft, CHOSEN, tip_trim_in=tip_trim_in, score=score, by=by, why=why)
    return tip_trim_in, score


def _refuse_unbuildable(catalogue: Catalogue, club: str, shaft: str, tip_trim_in: float | None) -> None:
    from specdb.verbs.clubs.stand_in_fit import stand_in_fit

    with catalogue.read() as reader:
        if reader.get("club", club).shaft_id == shaft:
            return  # which is refused for that
        try:
            against = stand_in_fit(reader, club, shaft, tip_trim_in).why_not
        except SpecdbError:
            return  # what cannot be worked out is not known to be wrong
    if against:
        raise UsageError(
            f"{shaft} is not chosen, as {club} cannot be built with it: {against} (--sure chooses it all the same; no "
            "order is built with it until it fits)"
        )


def _proposal(catalogue: Catalogue, club: str, shaft: str) -> Substitute | None:
    """How a shaft is proposed for a club; None where it is not, or the club cannot be computed."""
    try:
        answer = substitutes_of(catalogue, ClubRequest(club=club), SearchOptions(top=_LOOKED_AT))
    except MechanicsError:
        return None
    return next((r for r in answer.report.results if r.shaft_id == shaft), None)


def why_not(answer: SubstitutesAnswer, shaft: str) -> str:
    """Why a shaft is not among the stand-ins, in a sentence.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer.
    shaft : str
        Key of the shaft.

    Raises
    ------
    NotFoundError
        If the catalogue has no such shaft.
    """
    report = answer.report
    for result in report.results:
        if result.shaft_id == shaft:
            return f"{shaft} is proposed, as number {result.rank} with a score of {result.score:.2f}"
    reason = report.excluded.why(shaft)
    if reason is not None:
        return f"{shaft}: {reason}"
    if shaft not in report.excluded.ids:
        raise NotFoundError("shaft", shaft, difflib.get_close_matches(shaft, report.excluded.ids))
    worst = report.results[-1].score if report.results else float("nan")
    return f"{shaft} can be built but plays less near than the {len(report.results)} shown (score above {worst:.2f})"
