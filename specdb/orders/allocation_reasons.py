"""Why an order is left short: which parts it lacks, who has them, and what comes too late or never."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from specdb.orders.allocation import Option, Planned, Stores, Wish
from specdb.orders.needs import Part

_MOST = 4


def reasons_for(wishes: Sequence[Wish], planned: Sequence[Planned], stores: Stores, today: dt.date) -> list[list[str]]:
    """Reasons for every order, empty for those that are built.

    Parameters
    ----------
    wishes : sequence of Wish
        The orders.
    planned : sequence of Planned
        What became of them, in the same order.
    stores : Stores
        What there is and what comes.
    today : date
        The day of the plan.
    """
    last = max([today, *(d for some in stores.arrivals.values() for d, _ in some)])
    takers: dict[Part, list[str]] = {}
    used: dict[Part, int] = {}
    for plan in planned:
        for option in plan.options:
            for part, pieces in option.needs.items():
                used[part] = used.get(part, 0) + pieces
                takers.setdefault(part, []).append(plan.order_id)
    return [
        [] if plan.day is not None else _why(wish, stores, last, used, takers)
        for wish, plan in zip(wishes, planned, strict=True)
    ]


def _why(
    wish: Wish, stores: Stores, last: dt.date, used: Mapping[Part, int], takers: Mapping[Part, Sequence[str]]
) -> list[str]:
    if wish.cannot:
        return list(wish.cannot)
    if not wish.choices:
        return ["it asks for no club"]
    found: list[str] = []
    own: dict[Part, int] = {}
    for choice in wish.choices:
        if not choice:
            found.append("one of its clubs has no shaft that could go in")
            continue
        # of the options the one that lacks least; the first, which is the fitted one, where they are even
        best = min(choice, key=lambda o: sum(_lack(o, stores, last, used, own).values()))
        for part, pieces in best.needs.items():
            own[part] = own.get(part, 0) + pieces
        for part, missing in _lack(best, stores, last, used, {}).items():
            found.append(_sentence(part, missing, stores, last, takers))
    if not found:
        shared = [part for part, pieces in own.items() if pieces > stores.by(part, last) - used.get(part, 0)]
        found += [
            _sentence(p, own[p] - max(stores.by(p, last) - used.get(p, 0), 0), stores, last, takers) for p in shared
        ]
    return list(dict.fromkeys(found)) or ["its parts go further in other orders"]


def _lack(
    option: Option, stores: Stores, last: dt.date, used: Mapping[Part, int], own: Mapping[Part, int]
) -> dict[Part, int]:
    lack = {}
    for part, pieces in option.needs.items():
        if part[0] in stores.unbooked:
            continue
        missing = pieces + own.get(part, 0) - (stores.by(part, last) - used.get(part, 0))
        if missing > 0:
            lack[part] = min(missing, pieces)
    return lack


def _sentence(
    part: Part,
    missing: int,
    stores: Stores,
    last: dt.date,
    takers: Mapping[Part, Sequence[str]],
) -> str:
    kind, item = part
    there = stores.by(part, last)
    said = f"{missing} {kind} {item} short"
    who = list(dict.fromkeys(takers.get(part, ())))
    if there == 0:
        return f"{said}: none on the shelf free, and none expected on a known day"
    if who:
        more = f" and {len(who) - _MOST} more" if len(who) > _MOST else ""
        return f"{said}: the {there} there are or come go into {', '.join(who[:_MOST])}{more}"
    return f"{said}: {there} there are or come, and it needs more"
