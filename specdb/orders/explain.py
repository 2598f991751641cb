"""Why an order is left short or waits: which part it lacks, who has it, and when more comes."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from specdb.orders.demand import Demand, Group, Holders, PlanRules, Standing, Supply, Way
from specdb.orders.needs import PIECES, Part, plain_part
from specdb.orders.plan import Lack, Outcome, PlannedOrder
from specdb.orders.shelf import Shelf

_MOST = 5


@dataclass(frozen=True, slots=True)
class Taken:
    """Who has what, in one plan.

    Attributes
    ----------
    by_order : mapping of Part to mapping of str to int
        Pieces that the plan hands out, by part and order.
    shelf : Shelf
        The stock.
    supply : Supply
        What could be handed out.
    rules : PlanRules
        How it was planned.
    holders : mapping
        Orders that pieces are kept for already.
    """

    by_order: Mapping[Part, Mapping[str, int]]
    shelf: Shelf
    supply: Supply
    rules: PlanRules
    holders: Holders

    @classmethod
    def of(
        cls, orders: Sequence[PlannedOrder], shelf: Shelf, supply: Supply, rules: PlanRules, holders: Holders
    ) -> Taken:
        """Gather what a plan hands out.

        Parameters
        ----------
        orders : sequence of PlannedOrder
            The plan.
        shelf : Shelf
            The stock.
        supply : Supply
            What could be handed out.
        rules : PlanRules
            How it was planned.
        holders : mapping
            Orders that pieces are kept for already.
        """
        found: dict[Part, Counter[str]] = {}
        for order in orders:
            for unit in order.units:
                for piece in unit.pieces:
                    found.setdefault(piece.need.part, Counter())[order.order_id] += piece.need.quantity
        return cls(found, shelf, supply, rules, holders)

    def left(self, part: Part) -> int:
        """Pieces that nobody has in the end.

        Parameters
        ----------
        part : Part
            Kind and key.
        """
        return self.supply.stair(part, self.rules.today).upto[-1] - sum(self.by_order.get(part, {}).values())

    def lack(self, demand: Demand, part: Part, needed: int, clubs: Sequence[str], comes: dt.date | None = None) -> Lack:
        """What there is to say about a part that an order lacks.

        Parameters
        ----------
        demand : Demand
            The order.
        part : Part
            Kind and key.
        needed : int
            Pieces it lacks.
        clubs : sequence of str
            The clubs they go into.
        comes : date or None
            Day on which they come for this order.
        """

        def others(some: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
            return tuple(sorted((o, n) for o, n in some.items() if o != demand.order_id and n > 0))

        plain = plain_part(part)
        coming = self.shelf.arrivals.get(plain, ())
        return Lack(
            part=plain,
            needed=needed,
            clubs=tuple(dict.fromkeys(clubs)),
            on_hand=max(self.shelf.on_hand.get(plain, 0), 0),
            kept_for=others(self.holders.get(plain, {})),
            goes_to=others(self.by_order.get(plain, {})),
            expected=tuple((a.day, a.pieces) for a in coming if a.pieces > 0),
            comes_on=comes,
            retired=plain in self.shelf.retired,
            gone=needed if part != plain else 0,
        )


def explained(orders: Sequence[PlannedOrder], taken: Taken) -> list[PlannedOrder]:
    """The orders with the reasons of those that are left short or wait.

    Parameters
    ----------
    orders : sequence of PlannedOrder
        The plan without reasons.
    taken : Taken
        Who has what in it.
    """
    return [_with_reasons(order, taken) for order in orders]


def _with_reasons(order: PlannedOrder, taken: Taken) -> PlannedOrder:
    demand = order.demand
    if order.outcome is Outcome.SHORT and demand.obstacles:
        return replace(order, reasons=demand.obstacles)
    dropped = _dropped(order)
    if order.outcome is Outcome.SHORT:
        lacks, said = _short(demand, taken)
    elif order.outcome is Outcome.LATER:
        lacks, said = _waiting(order, taken), []
    else:
        return replace(order, reasons=dropped)
    reasons = [*(sentence(lack, taken.rules) for lack in lacks), *said, *dropped]
    return replace(order, lacks=tuple(lacks), reasons=tuple(dict.fromkeys(reasons)))


def _dropped(order: PlannedOrder) -> tuple[str, ...]:
    """Approved stand-ins that the plan passes over, where the fitted shafts are not simply taken from the shelf."""
    plain = {u.key for u in order.units if u.option.standing is Standing.FITTED and u.waits_until is None}
    groups = [g for g in order.demand.groups if not plain.issuperset(g.units)]
    return tuple(dict.fromkeys(text for group in groups for text in group.dropped))


def _waiting(order: PlannedOrder, taken: Taken) -> list[Lack]:
    """The parts that come last."""
    needed: Counter[Part] = Counter()
    clubs: dict[Part, list[str]] = {}
    for unit in order.units:
        for piece in unit.pieces:
            if piece.arrives_on == order.day:
                needed[piece.need.part] += piece.need.quantity
                clubs.setdefault(piece.need.part, []).append(unit.key.club_id)
    return [taken.lack(order.demand, p, n, clubs[p], order.day) for p, n in sorted(needed.items(), key=_in_order)]


def _short(demand: Demand, taken: Taken) -> tuple[list[Lack], list[str]]:
    """The parts that are not there in the way that lacks least, once the other orders have theirs."""
    used: Counter[Part] = Counter()
    needed: Counter[Part] = Counter()
    clubs: dict[Part, list[str]] = {}
    said = []
    for group in demand.groups:
        if not group.ways:
            said.append(f"{_named(group)}: there is no shaft that could go in")
            continue
        missing = [_missing(way, used, taken) for way in group.ways]
        best = min(range(len(missing)), key=lambda n: (sum(missing[n].values()), group.ways[n].points, n))
        used.update(group.ways[best].pieces)
        needed.update(missing[best])
        for key, option in zip(group.units, group.ways[best].options, strict=True):
            for need in option.parts:
                if need.part in missing[best]:
                    clubs.setdefault(need.part, []).append(key.club_id)
        if any(kind == "shaft" for kind, _ in missing[best]):
            said.append(_others_said(group))
    lacks = [taken.lack(demand, p, n, clubs[p]) for p, n in sorted(needed.items(), key=_in_order)]
    if demand.order_id in taken.rules.first:
        said.insert(0, "it cannot be built in full even if it comes first")
    if not lacks and not said:
        said.append("the planning ended before it was got in")
    return lacks, said


def _missing(way: Way, used: Mapping[Part, int], taken: Taken) -> Counter[Part]:
    found: Counter[Part] = Counter()
    for part, count in way.pieces.items():
        if part[0] not in taken.supply.unbooked:
            short = count - max(taken.left(part) - used.get(part, 0), 0)
            if short > 0:
                found[part] = short
    return found


def _named(group: Group) -> str:
    return f"set {group.set_id}" if group.set_id is not None else group.units[0].club_id


def _others_said(group: Group) -> str:
    others = len(group.ways) - 1
    what = "models" if group.set_id is not None else "shafts"
    if not others:
        return f"{_named(group)}: there is no approved or near stand-in to be had"
    if others == 1:
        return f"{_named(group)}: the one other {what[:-1]} that was looked at is not to be had either"
    return f"{_named(group)}: none of the {others} other {what} that were looked at is to be had either"


def _in_order(item: tuple[Part, int]) -> tuple[int, str]:
    (kind, key), _ = item
    return (PIECES.index(kind) if kind in PIECES else len(PIECES)), key


def sentence(lack: Lack, rules: PlanRules) -> str:
    """A lack in plain words.

    Parameters
    ----------
    lack : Lack
        The lack.
    rules : PlanRules
        Today, and the last day whose arrivals counted.
    """
    kind, key = lack.part
    how = "short" if lack.comes_on is None else f"comes on {lack.comes_on.isoformat()}"
    words = [f"{lack.on_hand} on the shelf" if lack.on_hand else "none on the shelf"]
    if lack.gone:
        words.append("kept for it, but not there: receive or release it")
    if lack.kept_for:
        words.append(f"kept for {_counted(lack.kept_for)}")
    if lack.goes_to:
        words.append(f"in this plan for {_counted(lack.goes_to)}")
    if lack.comes_on is None:
        words += _coming(lack, rules)
    return f"{lack.needed} {kind} {key} for {_listed(lack.clubs)} {how} ({'; '.join(words)})"


def _coming(lack: Lack, rules: PlanRules) -> list[str]:
    words: list[str] = []
    for day, pieces in lack.expected:
        if day is None:
            words.append(f"{pieces} on order, no day known")
        elif day < rules.today:
            words.append(f"{pieces} due on {day.isoformat()} have not come")
        elif day > rules.last:
            words.append(f"{pieces} expected on {day.isoformat()}, too late for this plan")
        else:
            words.append(f"{pieces} expected on {day.isoformat()}")
    if lack.retired:
        words.append("no longer offered")
    elif not words:
        words.append("none on order")
    return words


def _counted(some: Sequence[tuple[str, int]]) -> str:
    return _listed([o if n == 1 else f"{o} ({n})" for o, n in some])


def _listed(words: Sequence[str]) -> str:
    shown = list(words[:_MOST])
    more = len(words) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")
