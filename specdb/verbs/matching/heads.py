"""Which heads can stand in for one that cannot be had, answered from the catalogue."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue
from specdb.errors import NotFoundError, UsageError
from specdb.records.rows import Club, Head
from specdb.verbs.catalogue.holdings import by_order, free_of, kept_rows
from specdb.verbs.clubs.clubs import ClubRequest, find_club

if TYPE_CHECKING:
    from specdb.catalogue.stock import SupplyState
    from specdb.sets.head_result import HeadReport, HeadStandIn

_NEAR = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadOptions:
    """How stand-ins for a head are looked for.

    Attributes
    ----------
    in_stock : bool
        Only heads of which a piece is free.
    top : int
        How many.
    max_head_add_g : float or None
        Most weight that may be added at the head; the usual limit where None.
    """

    in_stock: bool = False
    top: int = 10
    max_head_add_g: float | None = None


@dataclass(frozen=True, slots=True)
class HeadsAnswer:
    """The ranked stand-ins of one head.

    Attributes
    ----------
    head : Head
        The wanted head.
    report : HeadReport
        What was found.
    on_hand : int
        Pieces of the wanted head on hand, those kept for orders among them.
    supply : SupplyState or None
        What is known about its supply.
    kept_for : tuple of (str, int)
        Orders that pieces of it are kept for, with how many.
    """

    head: Head
    report: HeadReport
    on_hand: int
    supply: SupplyState | None
    kept_for: tuple[tuple[str, int], ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The answer as plain values."""
        return self.report.to_json()


def heads_of(
    catalogue: Catalogue, head: str | None = None, *, club: str | None = None, options: HeadOptions | None = None
) -> HeadsAnswer:
    """Rank the heads that come nearest to one that cannot be had.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    head : str or None
        The wanted head; that of the club where None.
    club : str or None
        The fitted club it belongs to: the fit-up of its shaft and what the club becomes count, too.
    options : HeadOptions or None
        How to look.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the head or the club.
    UsageError
        If neither is named, or the club has another head.
    BuildError, MissingDataError
        If the fitted club itself cannot be computed.
    """
    from specdb.sets import find_heads
    from specdb.sets.head_question import HeadQuestion
    from specdb.verbs.clubs.fitup import shelf_of
    from specdb.verbs.sets.sets import member_of

    wanted = options or HeadOptions()
    if head is None and club is None:
        raise UsageError("name the head, or the club it belongs to (--club)")
    with catalogue.read() as reader:
        member = None if club is None else member_of(find_club(reader, ClubRequest(club=club)))
        if head is not None:
            own: Head = reader.get("head", head)
        elif member is not None:
            own = member.parts.head
        else:
            raise AssertionError  # one of them is named
        stock, rows, supply = reader.stock("head"), kept_rows(reader, "head"), reader.supply("head")
        kept, free = by_order(rows), free_of(stock, rows, () if club is None else (club,))
        if wanted.in_stock and not stock:
            raise UsageError("no stock of heads is booked, so none can be said to be on hand")
        question = HeadQuestion(
            head=own,
            pool=tuple(reader.rows("head")),
            shelf=shelf_of(reader),
            member=member,
            stock=free,
            booked=bool(stock),
            in_stock=wanted.in_stock,
            top=wanted.top,
            max_head_add_g=wanted.max_head_add_g,
        )
    report = find_heads(question)
    results = tuple(_with_supply(r, supply) for r in report.results)
    return HeadsAnswer(
        own, replace(report, results=results), stock.get(own.id, 0), supply.get(own.id), kept.get(own.id, ())
    )


def _with_supply(found: HeadStandIn, supply: Mapping[str, SupplyState]) -> HeadStandIn:
    state = supply.get(found.head_id)
    if state is None:
        return found
    day = None if state.expected_on is None else state.expected_on.isoformat()
    return replace(found, expected_on=day, backordered=state.backordered)


def club_with_head(club: Club, found: HeadStandIn) -> dict[str, Any]:
    """The fields in which a fitted club differs once it is built with another head.

    Parameters
    ----------
    club : Club
        The fitted club.
    found : HeadStandIn
        The head as it was proposed for that club.

    Returns
    -------
    dict of str to object
        By field of the club; None leaves it open. It belongs to no set, as the fitted one does.
    """
    parts = {} if found.club is None else found.club.parts
    finished = {d.key: round(d.candidate, 2) for d in found.differences}
    return {
        "label": f"{club.label or club.id}, {found.head_id}",
        "set_id": None,
        "head_id": found.head_id,
        "adapter_id": found.adapter_id,
        "adapter_setting": found.setting,
        "sleeve_id": parts.get("sleeve"),
        "ferrule_id": parts.get("ferrule"),
        "insertion_in": None,
        # what is left of a difference after bending is what this club will have
        "loft_deg": finished.get("loft_deg", club.loft_deg),
        "lie_deg": finished.get("lie_deg", club.lie_deg),
        "head_add_g": None if club.swingweight is not None else round(found.head_add_g, 1),
        "frequency_cpm": None,
        "frequency_clamp_in": None,
        "fitted_on": None,
    }


def why_not_head(answer: HeadsAnswer, head: str) -> str:
    """Why a head is not among the stand-ins, in a sentence.

    Parameters
    ----------
    answer : HeadsAnswer
        The answer.
    head : str
        Key of the head.

    Raises
    ------
    NotFoundError
        If the catalogue has no such head.
    """
    report = answer.report
    for result in report.results:
        if result.head_id == head:
            return f"{head} is proposed, as number {result.rank} with a score of {result.score:.2f}"
    for out in report.excluded:
        if out.head_id == head:
            return f"{head}: {out.sentence}"
    if head in report.less_near:
        worst = report.results[-1].score if report.results else float("nan")
        return f"{head} can stand in but is less near than the {len(report.results)} shown (score above {worst:.2f})"
    known = [out.head_id for out in report.excluded] + list(report.less_near)
    raise NotFoundError("head", head, difflib.get_close_matches(head, known, _NEAR))
