"""The list of orders: what each row says, how wide, and what the rows may be sorted by."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from specdb.tui.widgets.columns import ColumnSpec, measured
from specdb.tui.widgets.days import due, short_day, too_late, wanted_words

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.orders.availability import OrderView

BROAD = 130
"""Columns from which the pieces stand in columns of their own: whom it is for is read first."""
ROOMY = 96
"""Columns from which nothing has to be said shortly."""
FIRST_SORT = ("wanted", False)

_LEAST_CUSTOMER = 12
_GAPS = 2
_COUNTS = (("clubs", "clubs"), ("kept", "kept"), ("shelf", "shelf"), ("short", "short"))
TITLES = {"id": "order", "wanted": "wanted", "stand": "parts", "state": "state", "customer": "for"}
"""What the rows may be sorted by, beside the counts; by the name of the column."""


def orders_table(
    views: Sequence[OrderView], today: dt.date, width: int, sort: tuple[str, bool] = FIRST_SORT
) -> tuple[pa.Table, list[ColumnSpec]]:
    """Orders as rows: wanted first, if nothing else is asked for.

    Parameters
    ----------
    views : sequence of OrderView
        The orders, in turn.
    today : date
        The day it is now.
    width : int
        Columns of the list.
    sort : tuple of str and bool
        Column to sort by, and whether it falls.
    """
    import pyarrow as pa

    brief = width < ROOMY
    views = sorted_views(views, today, sort)
    columns = {
        "id": [v.order.id for v in views],
        "wanted": [wanted(v, today, brief=brief) for v in views],
        "state": [v.order.state.replace("_", " ") for v in views],
        "stand": [standing(v, today, brief=brief) for v in views],
        "customer": [v.order.customer or "" for v in views],
    }
    rows = pa.table(
        {
            **{name: pa.array(values, pa.string()) for name, values in columns.items()},
            **{name: pa.array([_count(v, name) for v in views], pa.int64()) for name, _ in _COUNTS},
        }
    )
    specs = [
        ColumnSpec("id", TITLES["id"]),
        ColumnSpec("wanted", TITLES["wanted"]),
        ColumnSpec("stand", TITLES["stand"]),
        *([ColumnSpec(n, t, right=True) for n, t in _COUNTS] if width >= BROAD else []),
        ColumnSpec("state", TITLES["state"]),
    ]
    taken = sum(c.width + _GAPS for c in measured(rows, specs)) + 3  # a scroll bar too
    specs.append(ColumnSpec("customer", TITLES["customer"], width=max(width - taken, _LEAST_CUSTOMER)))
    return rows, specs


def _count(view: OrderView, name: str) -> int | None:
    if name == "clubs":
        return len(view.units)
    if not view.active:
        return None
    return {
        "kept": sum(s.reserved for s in view.states),
        "shelf": sum(s.in_turn for s in view.states if s.booked),
        "short": sum(s.waiting for s in view.states if s.booked),
    }[name]


def sorted_views(views: Sequence[OrderView], today: dt.date, sort: tuple[str, bool]) -> list[OrderView]:
    """Orders sorted by a column; those that are alike in it stay in turn, and what is not known stands last.

    Parameters
    ----------
    views : sequence of OrderView
        The orders, in turn.
    today : date
        The day it is now.
    sort : tuple of str and bool
        Name of the column, and whether it falls.
    """
    name, falls = sort
    key = _KEYS.get(name) or (lambda v, _: _count(v, name))
    found = [(key(v, today), v) for v in views]
    known = sorted(((k, v) for k, v in found if k is not None), key=lambda pair: pair[0], reverse=falls)
    return [v for _, v in known] + [v for k, v in found if k is None]


def _number(view: OrderView, _: dt.date) -> list[tuple[bool, int, str]]:
    """The number of an order, so that o-9 stands before o-10."""
    parts = re.findall(r"\d+|\D+", view.order.id)
    return [(p.isdigit(), int(p) if p.isdigit() else 0, p) for p in parts]


def _ready(view: OrderView, today: dt.date) -> tuple[int, dt.date] | None:
    """When its parts are there: in hand first, then by the day, then those of which nobody knows."""
    if not view.active or not view.states:
        return None
    if not any(s.waiting for s in view.states if s.booked):
        return 0, today
    return (2, dt.date.max) if view.expected_on is None else (1, view.expected_on)


def _state(view: OrderView, _: dt.date) -> int:
    from specdb.verbs.orders.changes import STEPS

    return list(STEPS).index(view.order.state)


_KEYS: dict[str, Callable[[OrderView, dt.date], Any]] = {
    "id": _number,
    "wanted": lambda v, _: v.order.wanted_on,
    "stand": _ready,
    "state": _state,
    "customer": lambda v, _: v.order.customer.casefold() if v.order.customer else None,
}


def sort_names(width: int) -> list[tuple[str, str]]:
    """What a list may be sorted by: names and titles of its columns.

    Parameters
    ----------
    width : int
        Columns of the list.
    """
    return [*TITLES.items(), *(_COUNTS if width >= BROAD else ())]


def wanted(view: OrderView, today: dt.date, *, brief: bool = False) -> str:
    """The day an order is wanted, and how long there is.

    Parameters
    ----------
    view : OrderView
        The order.
    today : date
        The day it is now.
    brief : bool
        Whether it has to be short: ``4 Dec, 9 d``.
    """
    day = view.order.wanted_on
    if not brief or day is None or not view.active:
        return wanted_words(day, today, open_=view.active)
    left = (day - today).days
    words = due(day, today) if left in (0, 1) else f"{-left} d late" if left < 0 else f"in {left} d"
    return f"{short_day(day, today)}, {words}"


def standing(view: OrderView, today: dt.date, *, brief: bool = False) -> str:
    """How the parts of an order stand, and which it waits for, in a few words.

    Parameters
    ----------
    view : OrderView
        The order.
    today : date
        The day it is now.
    brief : bool
        Whether it has to be short.
    """
    if not view.active:
        return "-"
    if any(s.gone for s in view.states):
        return f"{_short_parts(view)}{'' if brief else ' short'}, see why"
    if view.problems:
        return "see what is wrong"
    if not view.states:
        return "no parts"
    if all(s.open == 0 for s in view.states if s.booked):
        return "all built in" if all(u.built for u in view.units) else "all kept"
    if view.buildable_now:
        return "all there"
    short = f"{_short_parts(view)}{'' if brief else ' short'}"
    if view.expected_on is None:
        return f"{short}, no day"
    if view.expected_on < today:
        return f"{short}, overdue"
    late = too_late(view.expected_on, view.order.wanted_on)
    day = short_day(view.expected_on, today)
    if brief:
        return f"{short}, {day}{' late' if late else ''}"
    return f"{short}, {day} {'too late' if late else 'all there'}"


def _short_parts(view: OrderView) -> str:
    """What is short, by kind where that is one: ``2 shafts``, ``3 parts``."""
    pieces: Counter[str] = Counter()
    for state in view.states:
        pieces[state.need.kind] += state.waiting
    kinds = [kind for kind, n in pieces.items() if n]
    number, word = pieces.total(), kinds[0] if len(kinds) == 1 else "part"
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
