"""All open orders planned together: what can be built today, what later, with which stand-ins, what is left short."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from specdb.catalogue import Catalogue, Reader
from specdb.catalogue.backup import wal_path
from specdb.errors import ConflictError, NotFoundError, SpecdbError
from specdb.orders.allocation import allocate
from specdb.orders.availability import Book, kept_by_unit
from specdb.orders.choosing import Decisions
from specdb.orders.demand import PlanRules, Standing
from specdb.orders.needs import HELD, Need, Part, UnitKey, needs_of, units_of
from specdb.orders.plan import Outcome, Plan, PlannedOrder, PlannedUnit
from specdb.orders.shelf import Shelf
from specdb.records.rows import Order, Reservation
from specdb.verbs.orders.allocation_search import StandIns
from specdb.verbs.orders.allocation_ways import Demands, still_needed
from specdb.verbs.orders.orders import read_book
from specdb.verbs.orders.search_apart import Searching, look_up

STAND_INS = 6
"""Stand-ins looked at for a club, and models for a set."""

MOST_SCORE = 2.0
"""Largest score of a stand-in that is proposed: two tolerances off in everything (stated judgement)."""

SECONDS = 30.0
Progress = Callable[[str, int, int], None]


class PlanStoppedError(SpecdbError):
    """The planning was stopped by whoever started it, before there was any plan."""

    def __init__(self) -> None:
        super().__init__("the planning was stopped before there was a plan; nothing was changed")


@dataclass(frozen=True, slots=True, kw_only=True)
class AllocationOptions:
    """How the orders are planned.

    Attributes
    ----------
    propose : bool
        Whether stand-ins that nobody approved yet are looked for, where the fitted shaft does not go round.
    until : date or None
        Last day whose arrivals are counted on.
    first : tuple of str
        Orders that are built in full whatever it costs the others.
    today : date or None
        Day of the plan; the present day where None.
    top : int
        Stand-ins looked at for a club, and models for a set.
    most : float
        Largest score of a stand-in that is proposed.
    seconds : float
        Longest time for the solver, s.
    """

    propose: bool = True
    until: dt.date | None = None
    first: tuple[str, ...] = ()
    today: dt.date | None = None
    top: int = STAND_INS
    most: float = MOST_SCORE
    seconds: float = SECONDS


@dataclass(frozen=True, slots=True)
class AllocationAnswer:
    """The plan, with what a person needs to act on it.

    Attributes
    ----------
    plan : Plan
        The plan.
    orders : mapping of str to Order
        The orders by key.
    looked : int
        Clubs and sets that stand-ins were looked for.
    not_compared : tuple of str
        Clubs and sets for which no stand-in could be looked for, with the reason.
    gone : mapping of UnitKey to tuple of Part
        Parts that are kept for a club and not on the shelf.
    change_no : int
        The latest change of the catalogue that it knows of.
    """

    plan: Plan
    orders: Mapping[str, Order]
    looked: int
    not_compared: tuple[str, ...] = ()
    gone: Mapping[UnitKey, tuple[Part, ...]] = field(default_factory=dict)
    change_no: int = 0

    @property
    def given_up(self) -> list[tuple[UnitKey, Part]]:
        """Parts not there that would no longer be kept once the plan is: a club built today has another instead."""
        return [
            (unit.key, part)
            for planned in self.plan.of(Outcome.TODAY)
            if not planned.to_approve
            for unit in planned.units
            for part in self.gone.get(unit.key, ())
        ]

    @property
    def today(self) -> dt.date:
        """Day of the plan."""
        return self.plan.today

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        plan = self.plan
        return {
            "today": plan.today.isoformat(),
            "until": None if plan.by is None else plan.by.isoformat(),
            "orders": [self._order_json(o) for o in plan.orders],
            "built_in_full": plan.built,
            "aims": [
                {
                    "aim": a.name,
                    "value": a.value,
                    "bound": a.bound,
                    "gap": round(a.gap, 6),
                    "seconds": round(a.seconds, 3),
                }
                for a in plan.aims
            ],
            "gap": round(plan.gap, 6),
            "proved_best": plan.proved,
            "stopped": plan.stopped,
            "seconds": round(plan.seconds, 3),
            "stand_ins_looked_for": self.looked,
            "not_compared": list(self.not_compared),
        }

    def _order_json(self, planned: PlannedOrder) -> dict[str, Any]:
        order = self.orders[planned.order_id]
        return {
            "order": planned.order_id,
            "customer": order.customer,
            "wanted_on": None if order.wanted_on is None else order.wanted_on.isoformat(),
            "outcome": str(planned.outcome),
            "built_on": None if planned.day is None else planned.day.isoformat(),
            "today": planned.outcome is Outcome.TODAY,
            "days_late": planned.days_late,
            "to_approve": len(planned.to_approve),
            "score": planned.score,
            "clubs": [_unit_json(u) for u in planned.units],
            "reasons": list(planned.reasons),
            "lacks": [
                {
                    "kind": lack.part[0],
                    "item_id": lack.part[1],
                    "needed": lack.needed,
                    "clubs": list(lack.clubs),
                    "on_hand": lack.on_hand,
                    "kept_for": dict(lack.kept_for),
                    "goes_to": dict(lack.goes_to),
                    "expected": [
                        {"on": None if day is None else day.isoformat(), "pieces": n} for day, n in lack.expected
                    ],
                    "comes_on": None if lack.comes_on is None else lack.comes_on.isoformat(),
                    "retired": lack.retired,
                    "kept_but_gone": lack.gone,
                }
                for lack in planned.lacks
            ],
        }


def _unit_json(unit: PlannedUnit) -> dict[str, Any]:
    option = unit.option
    return {
        "line": unit.key.line,
        "unit": unit.key.unit,
        "club": unit.key.club_id,
        "set": unit.set_id,
        "model": unit.model or None,
        "shaft": option.shaft_id,
        "standing": str(option.standing),
        "to_approve": option.standing is Standing.PROPOSED,
        "score": round(option.score, 4),
        "tip_trim_in": option.tip_trim_in,
        "preparation": list(option.preparation),
        "parts": [
            {
                "kind": p.need.kind,
                "item_id": p.need.item_id,
                "quantity": p.need.quantity,
                "arrives_on": None if p.arrives_on is None else p.arrives_on.isoformat(),
            }
            for p in unit.pieces
        ],
    }


def plan_orders(
    catalogue: Catalogue,
    options: AllocationOptions | None = None,
    *,
    progress: Progress | None = None,
    stopped: Callable[[], bool] | None = None,
) -> AllocationAnswer:
    """Plan all open orders against the shelf and what is expected.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    options : AllocationOptions or None
        How.
    progress : callable or None
        Told what is done, how much of it, of how much.
    stopped : callable or None
        Whether a person has stopped it: while stand-ins are looked for nothing comes of it, while it is planned the
        best plan found until then.

    Raises
    ------
    NotFoundError
        If an order that is to be first is not open.
    PlanStoppedError
        If it was stopped before there was any plan.
    """
    wanted = options or AllocationOptions()

    def tell(text: str, done: int, total: int) -> None:
        if stopped is not None and stopped():
            raise PlanStoppedError
        if progress is not None:
            progress(text, done, total)

    rules = PlanRules(
        today=wanted.today or dt.date.today(),  # noqa: DTZ011 (the shop's own day)
        by=wanted.until,
        seconds=wanted.seconds,
        first=wanted.first,
    )
    tell("reading the orders", 0, 1)
    with _apart(catalogue) as reader:
        book, change_no = read_book(reader), reader.last_change()
        orders = {o.id: o for o in book.orders}
        for order in wanted.first:
            if order not in orders:
                raise NotFoundError("open order", order, sorted(orders)[:3])
        stand_ins = StandIns(reader, book, wanted.top, wanted.most, rules)
        asking = Demands(reader, book, stand_ins if wanted.propose else None)
        how = Searching(reader.path, wanted.top, wanted.most, rules)
        look_up(stand_ins, asking.asks(), how, lambda done, total: tell("looking for stand-ins", done, total))
        demands = asking.all()
    tell("planning", 0, 1)
    plan = allocate(demands, book.shelf, rules, _holders(book), stopped=stopped)
    failed = tuple(stand_ins.failed)
    return AllocationAnswer(plan, orders, stand_ins.looked, failed, _gone(book.shelf), change_no)


@contextmanager
def _apart(catalogue: Catalogue) -> Iterator[Reader]:
    """A copy of the catalogue to read from for as long as it takes: whoever changes something meanwhile need not wait.

    With some hundred orders the stand-ins alone take longer than a writer is ready to wait for a reader.
    """
    with TemporaryDirectory(prefix="specdb-plan-") as folder:
        copy = Path(folder) / catalogue.path.name
        with catalogue.read():  # nobody writes to it just now
            for part in (catalogue.path, wal_path(catalogue.path)):
                if part.exists():
                    shutil.copyfile(part, copy.with_name(part.name))
        with Catalogue(copy).read() as reader:
            yield reader


def _gone(shelf: Shelf) -> dict[UnitKey, tuple[Part, ...]]:
    found: dict[UnitKey, tuple[Part, ...]] = {}
    for part, keepings in shelf.keepings.items():
        for k in keepings:
            if k.gone:
                found[k.unit] = (*found.get(k.unit, ()), part)
    return found


def _holders(book: Book) -> dict[Part, dict[str, int]]:
    """Orders that pieces on the shelf are kept for."""
    found: dict[Part, dict[str, int]] = {}
    for r in book.reservations:
        if r.state == HELD:
            mine = found.setdefault((r.kind, r.item_id), {})
            mine[r.order_id] = mine.get(r.order_id, 0) + r.quantity
    return found


def reserve_plan(catalogue: Catalogue, answer: AllocationAnswer, *, by: str | None = None) -> dict[str, int]:
    """Keep the parts of every order that the plan builds today and that needs no approval; all in one change.

    Where a club is built with another part than one that was kept for it and is not on the shelf, that one is no
    longer kept: a club has one part of a kind (:attr:`AllocationAnswer.given_up`).

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
    RowsRejectedError, ConflictError
        If a part was taken, an order closed or changed, or a stand-in turned down since the plan was made; nothing is
        kept then.
    """
    from specdb.verbs.orders.moves import hold

    wishes: list[tuple[UnitKey, Need]] = []
    kept: dict[str, int] = {}
    with catalogue.write(by=by, done="keep parts as planned") as writer:
        book = read_book(writer)
        held, still_open = kept_by_unit(book.reservations), {o.id for o in book.orders}
        decided = book.decisions
        asked_for = {key for line in book.lines for key in units_of(line, book.clubs, book.sets)}
        for planned in answer.plan.of(Outcome.TODAY):
            if planned.to_approve:
                continue
            if planned.order_id not in still_open:
                raise ConflictError(f"order {planned.order_id} is not open any more; plan again")
            for unit in planned.units:
                if unit.key not in asked_for:
                    raise ConflictError(f"order {planned.order_id} was changed since it was planned; plan again")
                club, option = book.clubs[unit.key.club_id], unit.option
                stand_in = None if option.shaft_id == club.shaft_id else option.shaft_id
                if not _still_decided(decided.get(club.id), held.get(unit.key, ()), stand_in):
                    raise ConflictError(
                        f"{option.shaft_id} is neither fitted in {club.id} nor approved for it any more; plan again"
                    )
                swap = None if stand_in is None or book.swap_of is None else book.swap_of(club, stand_in)
                needs, mine = needs_of(club, stand_in, swap), held.get(unit.key, ())
                for r in mine:
                    part = (r.kind, r.item_id)
                    if r.state == HELD and book.shelf.gone(part, unit.key) and part not in {n.part for n in needs}:
                        writer.remove("reservation", r.id)
                # what was kept since the plan was made is not kept twice
                for need in still_needed(needs, mine):
                    if need.kind in book.shelf.kept:
                        wishes.append((unit.key, need))
                        kept[planned.order_id] = kept.get(planned.order_id, 0) + need.quantity
        if wishes:
            hold(writer, wishes, by=by)
    return kept


def _still_decided(decided: Decisions | None, held: Sequence[Reservation], stand_in: str | None) -> bool:
    """Whether the shaft is the fitted one, in or kept for the club already, or approved."""
    if stand_in is None or any((r.kind, r.item_id) == ("shaft", stand_in) for r in held):
        return True
    return decided is not None and stand_in in decided.approved
