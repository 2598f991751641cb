"""Orders as the allocation takes them: for every club and set its possible shafts with the pieces it needs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from specdb.catalogue import Reader
from specdb.orders.availability import Book, kept_by_unit
from specdb.orders.choosing import CHOSEN, Decisions
from specdb.orders.demand import Demand, Group, Option, Standing, Way
from specdb.orders.needs import HELD, USED, Need, Swap, UnitKey, needs_of, units_of
from specdb.orders.problems import line_problems
from specdb.orders.shelf import Shelf
from specdb.records.rows import Choice, Club, Order, OrderLine, Reservation
from specdb.verbs.orders.allocation_search import Answer, Ask, Found, StandIns

UNSCORED = 1.0
"""Score of an approved stand-in that was chosen without one: one tolerance (stated judgement)."""


def still_needed(
    needs: Sequence[Need], mine: Sequence[Reservation], unit: UnitKey | None = None, shelf: Shelf | None = None
) -> tuple[Need, ...]:
    """Pieces that are neither kept for a club nor built into it, and those that are kept for it and not there.

    Parameters
    ----------
    needs : sequence of Need
        All it is built from.
    mine : sequence of Reservation
        Its own.
    unit : UnitKey or None
        The club, where pieces that are kept and not there are wanted as well.
    shelf : Shelf or None
        The stock that tells so.
    """
    found = []
    for need in needs:
        done = sum(r.quantity for r in mine if (r.kind, r.item_id) == need.part)
        if need.quantity > done:
            found.append(Need(need.kind, need.item_id, need.quantity - done))
        gone = 0 if unit is None or shelf is None else min(shelf.gone(need.part, unit), need.quantity)
        if gone:
            found.append(Need(need.kind, need.item_id, gone, unit.order_id if unit is not None else ""))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A shaft for a club, before its pieces are counted."""

    shaft_id: str
    score: float
    standing: Standing
    tip_trim_in: float | None
    preparation: tuple[str, ...] = ()
    swap: Swap | None = None


class Demands:
    """Turns orders into demands.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    book : Book
        Orders and stock.
    stand_ins : StandIns or None
        Looks for stand-ins that nobody approved yet; None: only approved ones.
    """

    def __init__(self, reader: Reader, book: Book, stand_ins: StandIns | None) -> None:
        self._reader, self._book = reader, book
        self._stand_ins = stand_ins if "shaft" in book.shelf.kept else None
        self._sets, self._decided, self._kept = book.sets, book.decisions, kept_by_unit(book.reservations)
        self._chosen = {(c.club_id, c.shaft_id): c for c in book.choices if c.decision == CHOSEN}
        self._lines: dict[str, list[OrderLine]] = {}
        for line in sorted(book.lines, key=lambda one: (one.order_id, one.line)):
            self._lines.setdefault(line.order_id, []).append(line)
        self._wanted = self._wanted_shafts()
        shelf = book.shelf
        self._contested = {s for s, count in self._wanted.items() if count > shelf.free(("shaft", s))}
        self._titles: dict[str, str] = {}

    def all(self) -> list[Demand]:
        """The demands of all orders of the book."""
        return [self._demand(order) for order in self._book.orders]

    def asks(self) -> list[Ask]:
        """Stand-ins that :meth:`all` looks for; some may ask the same."""
        found = []
        for order in self._book.orders:
            lines = self._lines.get(order.id, [])
            if list(line_problems(lines, self._book, self._sets)):
                continue
            for line, units in self._grouped(lines):
                clubs, own = [self._book.clubs[key.club_id] for key in units], self._own(units)
                if not self._wrongly_kept(own):
                    ask = self._ask(line, clubs, own)
                    found += [] if ask is None else [ask]
        return found

    def _demand(self, order: Order) -> Demand:
        lines = self._lines.get(order.id, [])
        obstacles = list(dict.fromkeys(line_problems(lines, self._book, self._sets)))
        if not lines:
            obstacles.append("it has no line")
        groups: list[Group] = []
        if not obstacles:
            for line, units in self._grouped(lines):
                group, obstacle = self._group(line, units)
                groups.append(group)
                if obstacle:
                    obstacles.append(obstacle)
        return Demand(order.id, tuple(groups), order.wanted_on, order.taken_on, obstacles=tuple(obstacles))

    def _grouped(self, lines: Sequence[OrderLine]) -> Iterator[tuple[OrderLine, tuple[UnitKey, ...]]]:
        """Clubs that are decided together: each club of its own, a set as a whole."""
        for line in lines:
            keys = units_of(line, self._book.clubs, self._sets)
            for number in range(1, line.quantity + 1):
                mine = tuple(key for key in keys if key.unit == number)
                if mine:
                    yield line, mine

    def _wanted_shafts(self) -> dict[str, int]:
        """Pieces of every fitted shaft that the orders still want."""
        wanted: dict[str, int] = {}
        for lines in self._lines.values():
            for _, units in self._grouped(lines):
                for key in units:
                    if self._own_shaft(key) is None:
                        shaft = self._book.clubs[key.club_id].shaft_id
                        wanted[shaft] = wanted.get(shaft, 0) + 1
        return wanted

    def _own_shaft(self, key: UnitKey) -> Reservation | None:
        """The shaft that is kept for a club and on the shelf, or went into it."""
        shelf = self._book.shelf
        mine = [
            r
            for r in self._kept.get(key, ())
            if r.kind == "shaft" and r.quantity > (shelf.gone(("shaft", r.item_id), key) if r.state == HELD else 0)
        ]
        return next((r for r in mine if r.state == USED), mine[0] if mine else None)

    def _own(self, units: Sequence[UnitKey]) -> dict[UnitKey, Reservation]:
        return {key: kept for key in units if (kept := self._own_shaft(key)) is not None}

    def _group(self, line: OrderLine, units: tuple[UnitKey, ...]) -> tuple[Group, str]:
        """A group with its ways; with a sentence where nothing can be planned for it."""
        clubs = [self._book.clubs[key.club_id] for key in units]
        own = self._own(units)
        if wrongly := self._wrongly_kept(own):
            return Group(units, (), line.set_id), wrongly
        ways: dict[tuple[str, ...], Way] = {}
        for model, candidates in self._candidates(line, clubs, own):
            if all(c.shaft_id == own[k].item_id for k, c in zip(units, candidates, strict=True) if k in own):
                options = tuple(self._option(k, c) for k, c in zip(units, candidates, strict=True))
                ways.setdefault(tuple(o.shaft_id for o in options), Way(options, model))
        dropped = tuple(
            dict.fromkeys(
                why
                for club in clubs
                for shaft in self._approvals(club)
                if shaft != club.shaft_id and (why := self._book.against(club, shaft))
            )
        )
        if own and not ways:
            if dropped:
                return Group(units, (), line.set_id, dropped), "; ".join(dropped)
            kept_ones = ", ".join(dict.fromkeys(r.item_id for r in own.values()))
            return Group(units, (), line.set_id), (
                f"{kept_ones} is kept for set {line.set_id}, but no model with it is fitted, approved or near: release "
                "it or choose one"
            )
        return Group(units, tuple(ways.values()), line.set_id, dropped), ""

    def _wrongly_kept(self, own: Mapping[UnitKey, Reservation]) -> str:
        """What stands against shafts that are kept; empty where nothing does."""
        for key, kept in own.items():
            club = self._book.clubs[key.club_id]
            right = kept.item_id == club.shaft_id or kept.item_id in self._approvals(club)
            if kept.state == HELD and not right:
                return (
                    f"{kept.item_id} is kept for {key.club_id}, but it is neither the fitted shaft nor approved: "
                    "release it or choose it"
                )
        return ""

    def _decision(self, club: Club) -> Decisions:
        return self._decided.get(club.id, Decisions())

    def _approvals(self, club: Club) -> tuple[str, ...]:
        """Approved stand-ins of a club, but for any that was turned down as well."""
        decision = self._decision(club)
        return tuple(s for s in decision.approved if s not in decision.rejected)

    def _candidates(
        self, line: OrderLine, clubs: Sequence[Club], own: Mapping[UnitKey, Reservation]
    ) -> Iterator[tuple[str, list[_Candidate]]]:
        """A shaft for each club, way after way: as fitted, approved, proposed."""
        yield "", [_Candidate(c.shaft_id, 0.0, Standing.FITTED, c.tip_trim_in) for c in clubs]
        ask, stand_ins = self._ask(line, clubs, own), self._stand_ins
        proposed = Answer() if ask is None or stand_ins is None else stand_ins.answer(ask)
        if line.set_id is None:
            club = clubs[0]
            # what was built in is a fact, whatever was decided since
            used = [r.item_id for r in own.values() if r.state == USED]
            usable = [s for s in self._approvals(club) if not self._book.against(club, s)]
            for shaft in dict.fromkeys([*used, *usable]):
                yield "", [self._approved(club, shaft)]
            for found in proposed.clubs:
                yield "", [self._judged(club, found)]
            return
        yield from self._approved_models(clubs)
        for model in proposed.models:
            if not any(model.clubs[c.id].shaft_id in self._decision(c).rejected for c in clubs):
                yield model.model, [self._judged(c, model.clubs[c.id]) for c in clubs]

    def _ask(self, line: OrderLine, clubs: Sequence[Club], own: Mapping[UnitKey, Reservation]) -> Ask | None:
        """What stand-ins are to be looked for; None where none are."""
        if self._stand_ins is None or not any(c.shaft_id in self._contested for c in clubs):
            return None
        if line.set_id is None and own:
            return None
        # from the day on which the fitted shafts are there for all who want them, nothing else that comes is of use
        day = self._stand_ins.first_day({c.shaft_id: self._wanted.get(c.shaft_id, 1) for c in clubs})
        return Ask(line.set_id, tuple(clubs), day)

    def _approved_models(self, clubs: Sequence[Club]) -> Iterator[tuple[str, list[_Candidate]]]:
        """Models that are approved for every club of a set, or fitted in it; never two models at once."""
        if not any(self._approvals(c) for c in clubs):
            return
        usable = [[s for s in self._approvals(c) if s == c.shaft_id or not self._book.against(c, s)] for c in clubs]
        shafts = [list(dict.fromkeys((*some, c.shaft_id))) for some, c in zip(usable, clubs, strict=True)]
        for model in dict.fromkeys(self._title(s) for some in shafts for s in some):
            mine = [next((s for s in some if self._title(s) == model), None) for some in shafts]
            if None not in mine:
                yield model, [self._approved(c, s) for c, s in zip(clubs, mine, strict=True) if s is not None]

    def _title(self, shaft: str) -> str:
        """Maker, model and flex of a shaft; its key where they are unknown."""
        if not self._titles:
            rows = self._reader.arrow("shaft", ("id", "maker", "model", "flex")).to_pylist()
            named = {r["id"]: (r["maker"], r["model"], r["flex"]) for r in rows}
            self._titles = {k: " ".join(w for w in v if w) if v[0] or v[1] else k for k, v in named.items()}
        return self._titles.get(shaft, shaft)

    def _approved(self, club: Club, shaft: str) -> _Candidate:
        if shaft == club.shaft_id:
            return _Candidate(shaft, 0.0, Standing.FITTED, club.tip_trim_in)
        kept: Choice | None = self._chosen.get((club.id, shaft))
        score = UNSCORED if kept is None or kept.score is None else kept.score
        swap = None if self._book.swap_of is None else self._book.swap_of(club, shaft)
        said = (swap.said,) if swap is not None and swap.said else ()
        return _Candidate(shaft, score, Standing.APPROVED, None if kept is None else kept.tip_trim_in, said, swap)

    def _judged(self, club: Club, found: Found) -> _Candidate:
        if found.shaft_id == club.shaft_id or found.shaft_id in self._approvals(club):
            return self._approved(club, found.shaft_id)
        return _Candidate(
            found.shaft_id, found.score, Standing.PROPOSED, found.tip_trim_in, found.preparation, found.swap
        )

    def _option(self, key: UnitKey, candidate: _Candidate) -> Option:
        club = self._book.clubs[key.club_id]
        stand_in = None if candidate.standing is Standing.FITTED else candidate.shaft_id
        needs = needs_of(club, stand_in, candidate.swap)
        parts = still_needed(needs, self._kept.get(key, ()), key, self._book.shelf)
        return Option(
            candidate.shaft_id, parts, candidate.score, candidate.standing, candidate.tip_trim_in, candidate.preparation
        )
