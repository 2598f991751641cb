"""The allocation made small before it is solved, without losing the best plan.

A part of which there are as many today as anybody could take binds nobody and is left out. A way that needs every
scarce piece that another way of the same group needs, and costs no less, is never better and is left out; so is a way
that could not be built even if nobody else took anything. Between two days on which pieces of its own arrive nothing
gets easier for a way, so only those days count for it. Groups of one order with the same ways are counted, not named.
Orders that share no scarce part, not even through others, are solved apart.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from specdb.orders.demand import Demand, Group, Supply
from specdb.orders.needs import Part


@dataclass(frozen=True, slots=True)
class WayCase:
    """One way that is left.

    Attributes
    ----------
    number : int
        Its place among the ways of the group.
    pieces : tuple of (Part, int)
        Scarce pieces it needs.
    points, approvals : int
        Score in thousandths, and stand-ins to be approved.
    days : tuple of date
        Days from which it may take its pieces.
    """

    number: int
    pieces: tuple[tuple[Part, int], ...]
    points: int
    approvals: int
    days: tuple[dt.date, ...] = ()


@dataclass(frozen=True, slots=True)
class Cluster:
    """Groups of one order with the same ways.

    Attributes
    ----------
    groups : tuple of int
        Their places in the order.
    ways : tuple of WayCase
        What is left of their ways.
    """

    groups: tuple[int, ...]
    ways: tuple[WayCase, ...]


@dataclass(frozen=True, slots=True)
class OrderCase:
    """One order that can be built if nobody else takes anything.

    Attributes
    ----------
    demand : Demand
        The order.
    clusters : tuple of Cluster
        Its groups.
    days : tuple of date
        Days on which it may be built in full.
    """

    demand: Demand
    clusters: tuple[Cluster, ...]
    days: tuple[dt.date, ...]

    @property
    def scarce(self) -> set[Part]:
        """Scarce parts that it may take."""
        return {part for cluster in self.clusters for way in cluster.ways for part, _ in way.pieces}


def cases_of(demands: Iterable[Demand], supply: Supply, today: dt.date) -> tuple[list[OrderCase], list[Demand]]:
    """Orders that are worth solving for, made small, and those that cannot be built even alone.

    Parameters
    ----------
    demands : iterable of Demand
        The orders.
    supply : Supply
        What can be handed out.
    today : date
        The first day.
    """
    left = [d for d in demands if not d.obstacles]
    ways = {d.order_id: [_possible(group, supply, today) for group in d.groups] for d in left}
    hopeless = [d for d in left if not all(ways[d.order_id])]
    out = {d.order_id for d in hopeless}
    left = [d for d in left if d.order_id not in out]
    _thin(left, ways, supply, today)
    cases = [_case(demand, ways[demand.order_id], supply, today) for demand in left]
    return cases, hopeless


def _possible(group: Group, supply: Supply, today: dt.date) -> list[WayCase]:
    """Ways of a group for which there are pieces, whoever else wants them."""
    found = []
    for number, way in enumerate(group.ways):
        pieces = tuple(sorted((p, q) for p, q in way.pieces.items() if p[0] not in supply.unbooked))
        if all(supply.stair(part, today).upto[-1] >= count for part, count in pieces):
            found.append(WayCase(number, pieces, way.points, way.approvals))
    return found


def _thin(demands: Sequence[Demand], ways: dict[str, list[list[WayCase]]], supply: Supply, today: dt.date) -> None:
    """Leave out what binds nobody and what is never better, until nothing more goes."""
    while True:
        most = asked_for_cases(group for d in demands for group in ways[d.order_id])
        plenty = {part for part, count in most.items() if supply.stair(part, today).upto[0] >= count}
        changed = False
        for demand in demands:
            for place, group in enumerate(ways[demand.order_id]):
                less = [_without(way, plenty) for way in group]
                kept = undominated(less)
                changed = changed or kept != group
                ways[demand.order_id][place] = kept
        if not changed:
            return


def asked_for_cases(groups: Iterable[Sequence[WayCase]]) -> dict[Part, int]:
    """Most pieces of each part that all groups together could take.

    Parameters
    ----------
    groups : iterable of sequence of WayCase
        The ways of each group.
    """
    most: dict[Part, int] = {}
    for group in groups:
        peak: dict[Part, int] = {}
        for way in group:
            for part, count in way.pieces:
                peak[part] = max(peak.get(part, 0), count)
        for part, count in peak.items():
            most[part] = most.get(part, 0) + count
    return most


def _without(way: WayCase, plenty: set[Part]) -> WayCase:
    pieces = tuple(piece for piece in way.pieces if piece[0] not in plenty)
    return way if len(pieces) == len(way.pieces) else replace(way, pieces=pieces)


def undominated(ways: Sequence[WayCase]) -> list[WayCase]:
    """Ways that some plan could need: of two, the cheaper one that needs no piece more is enough.

    Parameters
    ----------
    ways : sequence of WayCase
        Ways of one group.
    """
    kept: list[WayCase] = []
    for way in sorted(ways, key=lambda w: (w.points, w.approvals, sum(q for _, q in w.pieces), w.number)):
        has = dict(way.pieces)
        if not any(all(has.get(part, 0) >= count for part, count in other.pieces) for other in kept):
            kept.append(way)
    return sorted(kept, key=lambda w: w.number)


def _case(demand: Demand, groups: Sequence[list[WayCase]], supply: Supply, today: dt.date) -> OrderCase:
    alike: dict[tuple[WayCase, ...], list[int]] = {}
    for place, group in enumerate(groups):
        alike.setdefault(tuple(group), []).append(place)
    clusters = []
    for ways, places in alike.items():
        dated = tuple(replace(way, days=_days(way, supply, today)) for way in ways)
        clusters.append(Cluster(tuple(places), dated))
    earliest = max((_earliest(c) for c in clusters), default=today)
    later = {day for c in clusters for way in c.ways for day in way.days if day > earliest}
    return OrderCase(demand, tuple(clusters), tuple(sorted({earliest, *later})))


def _days(way: WayCase, supply: Supply, today: dt.date) -> tuple[dt.date, ...]:
    """Days on which more pieces of its own are there, from the first on which there are enough for one."""
    stairs = [(supply.stair(part, today), count) for part, count in way.pieces]
    firsts = [stair.first_day(count) or dt.date.max for stair, count in stairs]
    first = max(firsts, default=today)
    return tuple(sorted({first, *(day for stair, _ in stairs for day in stair.days if day > first)}))


def _earliest(cluster: Cluster) -> dt.date:
    return min(way.days[0] for way in cluster.ways)


def components(cases: Sequence[OrderCase]) -> list[list[OrderCase]]:
    """Orders that contend with one another, the smallest company first.

    Parameters
    ----------
    cases : sequence of OrderCase
        The orders.
    """
    root = list(range(len(cases)))

    def find(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    first: dict[Part, int] = {}
    for i, case in enumerate(cases):
        for part in case.scarce:
            j = first.setdefault(part, i)
            a, b = find(i), find(j)
            root[max(a, b)] = min(a, b)
    together: dict[int, list[OrderCase]] = {}
    for i, case in enumerate(cases):
        together.setdefault(find(i), []).append(case)
    return sorted(together.values(), key=lambda some: (len(some), some[0].demand.turn))
