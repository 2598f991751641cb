"""All open orders planned together: what can be built today, what later, with which stand-ins, what is left short."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import SpecdbError
from specdb.orders.allocation import DEFAULT_GAP, DEFAULT_SECONDS, Option, Plan, Planned, Stores, Wish, allocate
from specdb.orders.availability import Book, kept_by_unit
from specdb.orders.needs import PIECES, Need, Part, UnitKey, needs_of, units_of
from specdb.orders.problems import line_problems
from specdb.records.rows import Choice, Club, Order, OrderLine, Reservation
from specdb.verbs.clubs import ClubRequest, find_club
from specdb.verbs.orders import read_book

if TYPE_CHECKING:
    from specdb.matching.index import MatchIndex
    from specdb.verbs.substitutes import SearchInputs

LOOKED_AT = 4  # stand-ins proposed for a club, models for a set
UNSCORED = 1.0  # an approved stand-in that was chosen without a score counts one tolerance
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class AllocationAnswer:
    """The plan, with what a person needs to act on it.

    Attributes
    ----------
    plan : Plan
        The plan.
    orders : mapping of str to Order
        The orders by key.
    today : date
        Day of the plan.
    proposed : int
        Clubs and sets that stand-ins were looked for.
    not_compared : tuple of str
        Clubs for which no stand-in could be looked for, with the reason.
    units : mapping of str to tuple of (UnitKey, ...)
        For each order, the clubs behind each choice of the plan.
    """

    plan: Plan
    orders: Mapping[str, Order]
    today: dt.date
    proposed: int
    not_compared: tuple[str, ...] = ()
    units: Mapping[str, tuple[tuple[UnitKey, ...], ...]] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "today": self.today.isoformat(),
            "orders": [self._order_json(p) for p in self.plan.orders],
            "built_in_full": self.plan.built,
            "cost": round(self.plan.cost, 6),
            "gap": self.plan.gap,
            "gap_of_orders_built": self.plan.built_gap,
            "proved_best": self.plan.gap == 0.0 and self.plan.built_gap == 0.0,
            "seconds": round(self.plan.seconds, 3),
            "stand_ins_looked_for": self.proposed,
            "not_compared": list(self.not_compared),
        }

    def _order_json(self, planned: Planned) -> dict[str, Any]:
        order = self.orders[planned.order_id]
        return {
            "order": planned.order_id,
            "customer": order.customer,
            "wanted_on": None if order.wanted_on is None else order.wanted_on.isoformat(),
            "built_on": None if planned.day is None else planned.day.isoformat(),
            "today": planned.day == self.today,
            "to_approve": sum(o.to_approve for o in planned.options),
            "clubs": [
                {"club": club, "shaft": shaft, "tip_trim_in": trim, "option": o.name, "to_approve": o.to_approve > 0}
                for o in planned.options
                for club, shaft, trim in o.shafts
            ],
            "score": round(sum(o.score for o in planned.options), 4),
            "reasons": list(planned.reasons),
        }


def plan_orders(
    catalogue: Catalogue,
    *,
    propose: bool = True,
    today: dt.date | None = None,
    gap: float = DEFAULT_GAP,
    seconds: float = DEFAULT_SECONDS,
    progress: Progress | None = None,
) -> AllocationAnswer:
    """Plan all open orders against the shelf and what is expected.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    propose : bool
        Whether stand-ins that nobody approved yet are looked for, where the fitted shaft does not go round.
    today : date or None
        Day of the plan; today where None.
    gap, seconds : float
        As in :func:`specdb.orders.allocation.allocate`.
    progress : callable or None
        Told what is done, how much of it, of how much.
    """
    day = today or dt.date.today()  # noqa: DTZ011 (the shop's own day)
    tell = progress or (lambda _text, _done, _total: None)
    tell("reading the orders", 0, 1)
    with catalogue.read() as reader:
        book = read_book(reader)
        maker = _Wishes(reader, book, propose=propose, tell=tell)
        wishes = [maker.wish(order) for order in sorted(book.orders, key=lambda o: (o.wanted_on or dt.date.max, o.id))]
    tell("planning", 0, 1)
    plan = allocate(wishes, _stores(book), day, gap=gap, seconds=seconds)
    return AllocationAnswer(
        plan=plan,
        orders={o.id: o for o in book.orders},
        today=day,
        proposed=maker.proposed,
        not_compared=tuple(maker.not_compared),
        units=maker.units,
    )


def reserve_plan(catalogue: Catalogue, answer: AllocationAnswer, *, by: str | None = None) -> dict[str, int]:
    """Keep the parts of every order that the plan builds today and that needs no approval; all in one change.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    answer : AllocationAnswer
        The plan; it holds only as long as nobody took parts meanwhile, which is checked.
    by : str or None
        Who.

    Returns
    -------
    dict of str to int
        Pieces kept by order.

    Raises
    ------
    RowsRejectedError
        If a part was taken since the plan was made; nothing is kept then.
    """
    from specdb.verbs.order_moves import hold

    wishes: list[tuple[UnitKey, Need]] = []
    kept: dict[str, int] = {}
    with catalogue.write(by=by, done="keep parts as planned") as writer:
        book = read_book(writer)
        held = kept_by_unit(book.reservations)
        for planned in answer.plan.orders:
            if planned.day != answer.today or any(o.to_approve for o in planned.options):
                continue
            for option, units in zip(planned.options, answer.units[planned.order_id], strict=True):
                shafts = {club: shaft for club, shaft, _ in option.shafts}
                for unit in units:
                    for need in _open_needs(book, unit, shafts[unit.club_id], held.get(unit, ())):
                        wishes.append((unit, need))
                        kept[unit.order_id] = kept.get(unit.order_id, 0) + need.quantity
        if wishes:
            hold(writer, wishes, by=by)
    return kept


def _open_needs(book: Book, unit: UnitKey, shaft: str, mine: Sequence[Reservation]) -> list[Need]:
    """Pieces of one club that are neither kept nor used for it yet; only of kinds that stock is booked of."""
    club = book.clubs[unit.club_id]
    stand_in = None if shaft == club.shaft_id else shaft
    swap = book.swap_of(club, stand_in) if stand_in and book.swap_of is not None else None
    found = []
    for need in needs_of(club, stand_in, swap):
        done = sum(r.quantity for r in mine if (r.kind, r.item_id) == need.part)
        if need.quantity > done and need.kind in book.shelf.kept:
            found.append(Need(need.kind, need.item_id, need.quantity - done))
    return found


def _stores(book: Book) -> Stores:
    shelf = book.shelf
    return Stores(
        free={part: shelf.free(part) for part in shelf.on_hand},
        arrivals={
            part: tuple((a.day, a.pieces) for a in some if a.day is not None) for part, some in shelf.arrivals.items()
        },
        unbooked=frozenset(kind for kind in PIECES if kind not in shelf.kept),
    )


class _Wishes:
    """Turns orders into wishes; stand-ins are looked for once for clubs that ask the same question."""

    def __init__(self, reader: Reader, book: Book, *, propose: bool, tell: Progress) -> None:
        self._reader, self._book, self._tell = reader, book, tell
        self._sets, self._decided, self._kept = book.sets, book.decisions, kept_by_unit(book.reservations)
        self._scores = _scores(book.choices)
        self._propose = propose and "shaft" in book.shelf.kept
        self._contested = self._contested_shafts()
        self._index: MatchIndex | None = None
        self._whole: MatchIndex | None = None
        self._inputs: SearchInputs | None = None
        self._found: dict[object, list[Option]] = {}
        self.units: dict[str, tuple[tuple[UnitKey, ...], ...]] = {}
        self.not_compared: list[str] = []
        self.proposed = 0

    def wish(self, order: Order) -> Wish:
        """One order as a wish."""
        lines = sorted((x for x in self._book.lines if x.order_id == order.id), key=lambda x: x.line)
        cannot = tuple(dict.fromkeys(line_problems(lines, self._book, self._sets))) or (
            () if lines else ("it has no line",)
        )
        groups = [] if cannot else [g for line in lines for g in self._groups(line)]
        self.units[order.id] = tuple(groups)
        self._tell("looking for stand-ins", len(self.units), len(self._book.orders))
        return Wish(order.id, order.wanted_on, tuple(self._options(g) for g in groups), cannot)

    def _groups(self, line: OrderLine) -> list[tuple[UnitKey, ...]]:
        """Clubs that choose together: each club of its own, a set as a whole."""
        keys = units_of(line, self._book.clubs, self._sets)
        if line.set_id is None:
            return [(key,) for key in keys]
        return [tuple(k for k in keys if k.unit == n) for n in range(1, line.quantity + 1)]

    def _contested_shafts(self) -> set[str]:
        """Fitted shafts of which more are wanted than are free."""
        wanted: dict[str, int] = {}
        for line in self._book.lines:
            for key in units_of(line, self._book.clubs, self._sets):
                shaft = self._book.clubs[key.club_id].shaft_id
                wanted[shaft] = wanted.get(shaft, 0) + 1
        return {s for s, n in wanted.items() if n > self._book.shelf.free(("shaft", s))}

    def _options(self, group: Sequence[UnitKey]) -> tuple[Option, ...]:
        clubs = [self._book.clubs[k.club_id] for k in group]
        kept = self._kept_shafts(group)
        if kept is not None:
            return (self._option(group, kept, {c.id: 0.0 for c in clubs}, 0, {}),)
        fitted = {c.id: c.shaft_id for c in clubs}
        found = [self._option(group, fitted, dict.fromkeys(fitted, 0.0), 0, {c.id: c.tip_trim_in for c in clubs})]
        found += self._approved(group, clubs)
        if self._propose and any(c.shaft_id in self._contested for c in clubs):
            known = {o.name for o in found}
            found += [o for o in self._proposals(group, clubs) if o.name not in known]
        return tuple(found)

    def _kept_shafts(self, group: Sequence[UnitKey]) -> dict[str, str] | None:
        """Shafts that are kept for every club of a group already; they stay."""
        found = {}
        for key in group:
            own = [r.item_id for r in self._kept.get(key, ()) if r.kind == "shaft"]
            if not own:
                return None
            found[key.club_id] = own[0]
        return found

    def _approved(self, group: Sequence[UnitKey], clubs: Sequence[Club]) -> list[Option]:
        chosen = {c.id: self._decided[c.id].approved for c in clubs if c.id in self._decided}
        if len(chosen) < len(clubs):
            return []
        ways = min(len(v) for v in chosen.values()) if len(clubs) > 1 else len(chosen[clubs[0].id])
        found = []
        for i in range(ways):
            shafts = {c.id: chosen[c.id][i] for c in clubs}
            scores = {c.id: self._scores.get((c.id, shafts[c.id]), (UNSCORED, None)) for c in clubs}
            costs = {k: v[0] for k, v in scores.items()}
            found.append(self._option(group, shafts, costs, 0, {k: v[1] for k, v in scores.items()}))
        return found

    def _proposals(self, group: Sequence[UnitKey], clubs: Sequence[Club]) -> list[Option]:
        rejected = {c.id: self._decided[c.id].rejected for c in clubs if c.id in self._decided}
        key = _question_key(clubs, rejected)
        try:
            if key not in self._found:
                self.proposed += 1
                self._found[key] = self._search(clubs)
        except SpecdbError as error:
            self.not_compared.append(f"{', '.join(c.id for c in clubs)}: {error}")
            self._found[key] = []
        places = [c.id for c in clubs]
        found = []
        for option in self._found[key]:
            shafts = {mine: shaft for mine, (_, shaft, _) in zip(places, option.shafts, strict=True)}
            trims = {mine: trim for mine, (_, _, trim) in zip(places, option.shafts, strict=True)}
            costs = dict.fromkeys(places, option.score / len(places))
            found.append(self._option(group, shafts, costs, len(places), trims))
        return found

    def _search(self, clubs: Sequence[Club]) -> list[Option]:
        from specdb.verbs.substitutes import SearchOptions, index_of, read_search

        wanted = SearchOptions(in_stock=True, top=LOOKED_AT)
        if len(clubs) > 1:
            from specdb.verbs.set_substitutes import read_set_search

            if self._whole is None:
                self._whole = index_of(self._reader)
            answer = read_set_search(self._reader, str(clubs[0].set_id)).search(self._whole, wanted)
            return [
                Option(
                    r.model,
                    {},
                    r.score * len(clubs),
                    len(clubs),
                    tuple((c.club_id, c.substitute.shaft_id, c.substitute.tip_trim_in) for c in r.clubs),
                )
                for r in answer.report.results
                if len(r.clubs) == len(clubs)
            ]
        if self._index is None:
            shelf = self._book.shelf
            there = {i for (kind, i) in shelf.on_hand if kind == "shaft" and shelf.free((kind, i)) > 0}
            self._index = index_of(self._reader, there)
        if self._inputs is None:
            self._inputs = read_search(self._reader, ClubRequest(club=clubs[0].id))
        # shelf, stock and supply are the same for every club
        mine = {c.shaft_id: (c.decision, c.why or "") for c in self._book.choices if c.club_id == clubs[0].id}
        named = find_club(self._reader, ClubRequest(club=clubs[0].id))
        single = replace(self._inputs, club=named, decided=mine).search(self._index, wanted)
        return [
            Option(r.shaft_id, {}, r.score, 1, ((clubs[0].id, r.shaft_id, r.tip_trim_in),))
            for r in single.report.results
        ]

    def _option(
        self,
        group: Sequence[UnitKey],
        shafts: Mapping[str, str],
        costs: Mapping[str, float],
        to_approve: int,
        trims: Mapping[str, float | None],
    ) -> Option:
        needs: dict[Part, int] = {}
        for key in group:
            for need in _open_needs(self._book, key, shafts[key.club_id], self._kept.get(key, ())):
                needs[need.part] = needs.get(need.part, 0) + need.quantity
        return Option(
            name=", ".join(dict.fromkeys(shafts.values())),
            needs=needs,
            score=sum(costs.values()),
            to_approve=to_approve,
            shafts=tuple((k.club_id, shafts[k.club_id], trims.get(k.club_id)) for k in group),
        )


def _scores(choices: Sequence[Choice]) -> dict[tuple[str, str], tuple[float, float | None]]:
    return {
        (c.club_id, c.shaft_id): (UNSCORED if c.score is None else c.score, c.tip_trim_in)
        for c in choices
        if c.decision == "chosen"
    }


def _question_key(clubs: Sequence[Club], rejected: Mapping[str, frozenset[str]]) -> object:
    """What two clubs must share for the same stand-ins to be the answer."""
    if len(clubs) > 1:
        return clubs[0].set_id
    club = clubs[0]
    names = ("head_id", "adapter_id", "adapter_setting", "sleeve_id", "ferrule_id", "shaft_id", "shaft_sample")
    more = ("tip_trim_in", "insertion_in", "playing_length_in", "grip_id", "adhesive_id", "swingweight", "head_add_g")
    own = tuple(getattr(club, n) for n in (*names, *more, "loft_deg", "lie_deg", "frequency_clamp_in"))
    return (*own, rejected.get(club.id, frozenset()))
