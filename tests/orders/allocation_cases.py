"""Random small cases for the allocation, an exhaustive search over them, and what every plan must keep.

The exhaustive search is written from the rules alone and shares no code with the programme: it tries every day and
every way of every order, and every order left short.
"""

from __future__ import annotations

import datetime as dt
import itertools
import random
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace

from specdb.orders.demand import Demand, Group, Option, PlanRules, Standing, Way
from specdb.orders.keepings import Keeping
from specdb.orders.needs import Need, Part, UnitKey
from specdb.orders.plan import Outcome, Plan
from specdb.orders.shelf import Arrival, Shelf

TODAY = dt.date(2026, 3, 2)
SHAFTS = [f"s{i}" for i in range(4)]
HEADS = ["h0", "h1"]
IRONS = ["m0", "m1"]

Held = dict[Part, dict[str, int]]
Aims = tuple[int, int, int, int]
Choice = tuple[Aims, dt.date | None, Mapping[Part, int]]


def day(number: int) -> dt.date:
    """So many days from today."""
    return TODAY + dt.timedelta(days=number)


def option(shaft: str, *more: str, score: float = 0.0, standing: Standing | None = None) -> Option:
    """A shaft with a head and so on; a stand-in to be approved where it costs something."""
    kinds = {"h": "head", "g": "grip"}
    parts = (Need("shaft", shaft), *(Need(kinds[name[0]], name) for name in more))
    return Option(shaft, parts, score, standing or (Standing.PROPOSED if score else Standing.FITTED))


def club(order: str, line: int, *options: Option) -> Group:
    """One club."""
    return Group((UnitKey(order, line, 1, f"{order}-club-{line}"),), tuple(Way((o,)) for o in options))


def random_case(
    seed: int, orders: int = 3, options: int = 2, arrivals: float = 0.5, keeping: float = 0.3
) -> tuple[list[Demand], Shelf, Held]:
    """Orders, a shelf and who holds what."""
    rng = random.Random(seed)
    parts = [("shaft", s) for s in SHAFTS + IRONS] + [("head", h) for h in HEADS]
    held: Held = {p: {"elsewhere": 1} for p in parts if rng.random() < 0.2}
    most = {"shaft": 2, "head": 4}
    on_hand = {p: rng.randint(0, 4 if p[1] in IRONS else most[p[0]]) + sum(held.get(p, {}).values()) for p in parts}
    if rng.random() < 0.1:  # a count left less than is kept
        on_hand[rng.choice(parts)] = 0
    coming = {
        p: tuple(
            Arrival(
                rng.randint(1, 2), rng.choice([None, day(-4), day(0), *(day(rng.randint(1, 40)) for _ in range(4))])
            )
            for _ in range(rng.choice([1, 1, 2]))
        )
        for p in parts
        if rng.random() < arrivals
    }
    demands = [_order(rng, f"o{n}", options) for n in range(orders)]
    keepings: dict[Part, tuple[Keeping, ...]] = {}
    if rng.random() < keeping:
        demands, keepings = _kept(rng, demands, on_hand, held)
    kept = {p: sum(h.values()) for p, h in held.items()}
    return demands, Shelf(on_hand, kept, coming, frozenset({"shaft", "head"}), keepings=keepings), held


def _kept(
    rng: random.Random, demands: list[Demand], on_hand: dict[Part, int], held: Held
) -> tuple[list[Demand], dict[Part, tuple[Keeping, ...]]]:
    """A part is kept for some clubs, and counted to be less than is kept: those wanted first have what is there."""
    units = [
        (demand, group.units[n], option.parts)
        for demand in demands
        for group in demand.groups
        for n, option in enumerate(group.ways[0].options)
    ]
    part = rng.choice([need.part for _, _, parts in units for need in parts if need.kind in ("shaft", "head")])
    mine = [(d, unit) for d, unit, parts in units if part in {p.part for p in parts} and rng.random() < 0.8]
    mine.sort(key=lambda one: (one[0].wanted_on or dt.date.max, one[0].order_id, one[1]))
    holders = held.setdefault(part, {})
    for demand, _ in mine:
        holders[demand.order_id] = holders.get(demand.order_id, 0) + 1
    on_hand[part] = rng.randint(0, max(sum(holders.values()) - 1, 0))
    found: list[Keeping] = []
    lot: dict[UnitKey, str] = {}
    for place, (demand, unit) in enumerate(mine):
        there = int(place < on_hand[part])
        found.append(Keeping(unit, 1, there))
        lot[unit] = "" if there else demand.order_id
    if "elsewhere" in holders:  # of an order that nobody knows: it comes last
        found.append(Keeping(UnitKey("elsewhere", 1, 1, "x"), 1, int(len(mine) < on_hand[part])))
    return [_less_kept(demand, part, lot) for demand in demands], {part: tuple(found)}


def _less_kept(demand: Demand, part: Part, lot: Mapping[UnitKey, str]) -> Demand:
    """A club that has its part needs none more; where that is kept and gone, it is the one that it waits for."""

    def needs(unit: UnitKey, some: tuple[Need, ...]) -> tuple[Need, ...]:
        others = tuple(n for n in some if n.part != part)
        if unit not in lot or len(others) == len(some):
            return some
        return (*others, Need(*part, 1, lot[unit])) if lot[unit] else others

    def less(group: Group, way: Way) -> Way:
        pairs = zip(group.units, way.options, strict=True)
        return replace(way, options=tuple(replace(o, parts=needs(unit, o.parts)) for unit, o in pairs))

    groups = tuple(replace(group, ways=tuple(less(group, way) for way in group.ways)) for group in demand.groups)
    return replace(demand, groups=groups)


def _order(rng: random.Random, name: str, options: int) -> Demand:
    groups: list[Group] = []
    for line in range(1, rng.choice([1, 1, 2]) + 1):
        head = rng.choice(HEADS)
        if rng.random() < 0.25:
            groups.append(_set(rng, name, line, head))
            continue
        found = []
        for place, shaft in enumerate(rng.sample(SHAFTS, rng.randint(1, options))):
            score = round(rng.uniform(0.2, 2.0), 3) if place else 0.0
            standing = rng.choice([Standing.APPROVED, Standing.PROPOSED]) if place else Standing.FITTED
            found.append(option(shaft, head, "g0", score=score, standing=standing))
        groups.append(club(name, line, *found))
        if rng.random() < 0.15:  # two of the same club
            twin = UnitKey(name, line, 2, groups[-1].units[0].club_id)
            groups.append(Group((twin,), groups[-1].ways))
    wanted = day(rng.randint(-3, 40)) if rng.random() < 0.8 else None
    return Demand(name, tuple(groups), wanted, day(-rng.randint(1, 9)))


def _set(rng: random.Random, name: str, line: int, head: str) -> Group:
    units = tuple(UnitKey(name, line, 1, f"{name}-set-{line}-{k}") for k in range(2))
    ways = []
    for place, model in enumerate(rng.sample(IRONS, rng.choice([1, 2]))):
        one = option(model, head, score=round(rng.uniform(0.2, 2.0), 3) if place else 0.0)
        ways.append(Way((one, one), model))
    return Group(units, tuple(ways), f"set-{line}")


def there(shelf: Shelf, part: Part, by: dt.date, last: dt.date) -> int:
    """Pieces to hand out by a day: what is expected today comes tomorrow, what is overdue nobody knows when."""
    key, _, claim = part[1].partition("\n")
    plain = (part[0], key)
    pieces = shelf.on_hand.get(plain, 0)
    for a in shelf.arrivals.get(plain, ()):
        if a.day is not None and TODAY <= a.day <= last and max(a.day, day(1)) <= by:
            pieces += a.pieces
    if not claim:
        return max(pieces - shelf.held.get(plain, 0), 0)
    # dealt out one by one in the order in which they are kept; what is there today is not waited for
    deal = [k.unit.order_id if n >= k.there else "" for k in shelf.keepings.get(plain, ()) for n in range(k.pieces)]
    return deal[: max(pieces, 0)].count(claim)


def late(demand: Demand, on: dt.date) -> int:
    """Days late."""
    return max((on - (demand.wanted_on or day(28))).days, 0)


def weight(demand: Demand) -> int:
    """Weight among the orders in full."""
    if demand.wanted_on is None:
        return 10
    until = (demand.wanted_on - TODAY).days
    return 12 if until <= 7 else 11 if until <= 28 else 10


def exhaustive(demands: list[Demand], shelf: Shelf, rules: PlanRules) -> Aims:
    """The best that is possible: weight of orders in full (negative), days late, score in thousandths, to approve."""
    last = day(364) if rules.by is None else rules.by
    arrivals = {
        max(a.day, day(1)) for some in shelf.arrivals.values() for a in some if a.day and TODAY <= a.day <= last
    }
    days = [TODAY, *sorted(arrivals)]
    parts = {n.part for d in demands for g in d.groups for way in g.ways for o in way.options for n in o.parts}
    free = {(p, d): there(shelf, p, d, last) for p in parts for d in days}
    # what does not fit alone never fits with others
    choices = [[c for c in _choices(d, days, shelf) if _fits([c], free, days)] for d in demands]
    best: Aims | None = None
    for plan in itertools.product(*choices):
        value = _sum([aims for aims, _, _ in plan])
        if (best is None or value < best) and _fits(plan, free, days):
            best = value
    assert best is not None
    return best


def _sum(some: list[Aims]) -> Aims:
    full, days, score, approve = (sum(column) for column in zip(*some, strict=True))
    return full, days, score, approve


def _choices(demand: Demand, days: list[dt.date], shelf: Shelf) -> Iterator[Choice]:
    yield (0, late(demand, day(365)), 0, 0), None, {}
    if demand.obstacles:
        return
    for ways in itertools.product(*(g.ways for g in demand.groups)):
        options = [o for way in ways for o in way.options]
        pieces: Counter[Part] = Counter()
        for need in (n for o in options for n in o.parts if n.kind in shelf.kept):
            pieces[need.part] += need.quantity
        points = sum(round(1000 * o.score) for o in options)
        approvals = sum(o.standing is Standing.PROPOSED for o in options)
        for on in days:
            yield (-weight(demand), late(demand, on), points, approvals), on, pieces


def _fits(
    plan: tuple[Choice, ...] | list[Choice], free: Mapping[tuple[Part, dt.date], int], days: list[dt.date]
) -> bool:
    for until in days:
        used: Counter[Part] = Counter()
        for _, on, pieces in plan:
            if on is not None and on <= until:
                used.update(pieces)
        if any(count > free.get((part, until), 0) for part, count in used.items()):
            return False
    return True


def aims_of(plan: Plan) -> Aims:
    """What a plan comes to, worked out from its orders."""
    built = [o for o in plan.orders if o.outcome is not Outcome.SHORT]
    return (
        -sum(weight(o.demand) for o in built),
        sum(late(o.demand, o.day or day(365)) for o in plan.orders),
        sum(round(1000 * u.option.score) for o in built for u in o.units),
        sum(u.option.standing is Standing.PROPOSED for o in built for u in o.units),
    )


def check_promises(plan: Plan, demands: list[Demand], shelf: Shelf, rules: PlanRules) -> None:
    """What every plan keeps, proved best or not."""
    last = day(364) if rules.by is None else rules.by
    assert sorted(o.order_id for o in plan.orders) == sorted(d.order_id for d in demands)
    handed: dict[Part, list[tuple[dt.date | None, int]]] = {}
    for order in plan.orders:
        # no order waits or is left short without a reason
        assert bool(order.reasons) == (order.outcome is not Outcome.TODAY)
        if order.outcome is Outcome.SHORT:
            assert (order.day, order.units) == (None, ())
            continue
        _check_order(order.demand, [u.option for u in order.units])
        assert order.day == max([TODAY, *(u.waits_until for u in order.units if u.waits_until)])
        for unit in order.units:
            needs: Counter[Part] = Counter()
            for piece in unit.pieces:
                needs[piece.need.part] += piece.need.quantity
                if piece.need.kind in shelf.kept:
                    handed.setdefault(piece.need.part, []).append((piece.arrives_on, piece.need.quantity))
            assert needs == Counter({n.part: n.quantity for n in unit.option.parts})
    for part, some in handed.items():
        assert sum(n for on, n in some if on is None) <= there(shelf, part, TODAY, last)
        for until in {on for on, _ in some if on is not None}:
            assert sum(n for on, n in some if on is None or on <= until) <= there(shelf, part, until, last)


def _check_order(demand: Demand, options: list[Option]) -> None:
    """Every club has one of its ways, and a set is of one model."""
    place = 0
    for group in demand.groups:
        mine = tuple(options[place : place + len(group.units)])
        assert mine in [way.options for way in group.ways]
        place += len(group.units)
    assert place == len(options)
