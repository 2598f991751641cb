"""Turns at the shelf, counted by hand and held against a slow, plain judge."""

from __future__ import annotations

import datetime as dt

from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.orders.availability import Book, OrderView, views
from specdb.orders.needs import Need, Swap, members_of, needs_of, units_of
from specdb.orders.shelf import Arrival, Shelf
from specdb.records.rows import Choice, Club, Order, OrderLine, Reservation

DAY = dt.date(2031, 5, 1)
CLUB = Club(
    id="driver", head_id="wren", shaft_id="reed", playing_length_in=45.0, grip_id="moss", ferrule_id="plain",
    adhesive_id="epoxy",
)  # fmt: skip


def test_needs_are_pieces_without_adhesive() -> None:
    assert needs_of(CLUB) == (
        Need("shaft", "reed"),
        Need("head", "wren"),
        Need("ferrule", "plain"),
        Need("grip", "moss"),
    )
    swap = Swap({"sleeve": "shim", "ferrule": None})
    assert needs_of(CLUB, "sedge", swap) == (
        Need("shaft", "sedge"),
        Need("head", "wren"),
        Need("sleeve", "shim"),
        Need("grip", "moss"),
    )
    assert needs_of(CLUB, None, swap) == needs_of(CLUB)  # a swap belongs to a stand-in


def test_units_of_a_set_are_its_clubs_the_longest_first_so_many_times() -> None:
    clubs = [
        Club(id=key, head_id="h", shaft_id="s", playing_length_in=length, set_id="irons")
        for key, length in (("9", 36.0), ("5", 38.0), ("7", 37.0))
    ]
    sets = members_of(clubs)
    line = OrderLine(order_id="o", line=2, quantity=2, set_id="irons")
    units = units_of(line, {c.id: c for c in clubs}, sets)
    assert [(u.unit, u.club_id) for u in units] == [(1, "5"), (1, "7"), (1, "9"), (2, "5"), (2, "7"), (2, "9")]
    assert units_of(OrderLine(order_id="o", line=1, quantity=1, set_id="woods"), {}, sets) == ()
    assert str(units[0]) == "o/2/1/5"


def _book(
    quantities: list[int],
    free: int,
    arrivals: list[tuple[int, int | None]],
    held: list[int] | None = None,
) -> Book:
    """Orders of one club with one part that matters, wanted day after day."""
    club = Club(id="driver", head_id="wren", shaft_id="reed", playing_length_in=45.0)
    kept = held or [0] * len(quantities)
    orders = [Order(id=f"o{n}", state="open", wanted_on=DAY + dt.timedelta(days=n)) for n in range(len(quantities))]
    lines = [OrderLine(order_id=f"o{n}", line=1, club_id="driver", quantity=q) for n, q in enumerate(quantities)]
    rows = [
        Reservation(
            id=f"r{n}-{u}", order_id=f"o{n}", line=1, unit=u, club_id="driver", kind="shaft", item_id="reed",
            quantity=1, state="held",
        )
        for n, count in enumerate(kept)
        for u in range(1, count + 1)
    ]  # fmt: skip
    coming = tuple(
        Arrival(pieces, None if day is None else DAY + dt.timedelta(days=day))
        for pieces, day in sorted(arrivals, key=lambda a: (a[1] is None, a[1] or 0))
    )
    shelf = Shelf(
        on_hand={("shaft", "reed"): free + len(rows)},
        held={("shaft", "reed"): len(rows)},
        arrivals={("shaft", "reed"): coming},
        kept=frozenset({"shaft"}),
    )
    return Book(tuple(orders), tuple(lines), {"driver": club}, (), tuple(rows), shelf)


def _shafts(view: OrderView) -> list[tuple[int, int, int, int, dt.date | None]]:
    return [(s.reserved, s.available, s.in_turn, s.ahead, s.expected_on) for s in view.states if s.need.kind == "shaft"]


def test_kinds_that_are_not_booked_are_never_short() -> None:
    view = views(_book([1], 0, []))[0]
    head = next(s for s in view.states if s.need.kind == "head")
    assert (head.booked, head.short, head.waiting) == (False, 0, 0)
    assert not view.buildable_now  # the shaft is short


@settings(max_examples=200, deadline=None)
@given(
    quantities=st.lists(st.integers(1, 4), min_size=1, max_size=6),
    free=st.integers(0, 8),
    arrivals=st.lists(st.tuples(st.integers(1, 4), st.none() | st.integers(0, 20)), max_size=4),
    data=st.data(),
)
def test_turns_against_a_plain_judge(
    quantities: list[int], free: int, arrivals: list[tuple[int, int | None]], data: st.DataObject
) -> None:
    """The judge lays all pieces in a row, those on the shelf first, and deals them out one by one."""
    held = [data.draw(st.integers(0, q)) for q in quantities]
    pieces: list[dt.date | None] = [dt.date.min] * free
    for count, day in sorted(arrivals, key=lambda a: (a[1] is None, a[1] or 0)):
        pieces += [None if day is None else DAY + dt.timedelta(days=day)] * count
    found = views(_book(quantities, free, arrivals, held))
    dealt = 0
    for view, quantity, kept in zip(found, quantities, held, strict=True):
        asked_before = dealt
        wanted: list[tuple[int, int, int, int, dt.date | None]] = []
        for unit in range(1, quantity + 1):
            if unit <= kept:
                wanted.append((1, 0, 0, asked_before, None))
                continue
            piece = pieces[dealt] if dealt < len(pieces) else None
            alone = 1 if unit - kept <= free else 0
            on_shelf = piece == dt.date.min
            wanted.append((0, alone, int(on_shelf), asked_before, None if on_shelf else piece))
            dealt += 1
        assert _shafts(view) == wanted
    given_out = sum(s.in_turn for v in found for s in v.states if s.need.kind == "shaft")
    assert given_out == min(free, dealt)


def test_a_retired_part_is_a_problem_only_where_it_is_short() -> None:
    book = _book([1, 1], 1, [])
    shelf = Shelf(book.shelf.on_hand, book.shelf.held, {}, book.shelf.kept, frozenset({("shaft", "reed")}))
    alone = views(Book(book.orders[:1], book.lines[:1], book.clubs, (), (), shelf))
    assert alone[0].problems == ()
    gone = Shelf({}, {}, {}, book.shelf.kept, frozenset({("shaft", "reed")}))
    told = views(Book(book.orders[:1], book.lines[:1], book.clubs, (), (), gone))[0].problems
    assert told == ("shaft reed of club driver is retired and none is free on the shelf; choose a stand-in for driver",)


def test_a_set_with_a_retired_club_or_none_is_a_problem() -> None:
    club = Club(id="five", head_id="h", shaft_id="s", playing_length_in=38.0, set_id="irons", status="retired")
    order = Order(id="o", state="open")
    lines = tuple(OrderLine(order_id="o", line=n, set_id=s, quantity=1) for n, s in ((1, "irons"), (2, "woods")))
    assert views(Book((order,), lines, {"five": club}))[0].problems == (
        "line 1: club five of set irons is retired, so the set is not whole",
        "line 2: no club belongs to set woods",
    )
    assert views(Book((order,), (), {}))[0].problems == ("it has no line",)


def test_the_latest_decision_is_asked_first_and_a_rejected_shaft_never_goes_in() -> None:
    book = _book([1], 0, [])
    on_hand = {("shaft", "sedge"): 1, ("shaft", "rush"): 1}
    shelf = Shelf(on_hand, {}, {}, book.shelf.kept)

    def chosen(*choices: tuple[str, str, int]) -> str | None:
        rows = tuple(
            Choice(id=f"c{n}", club_id="driver", shaft_id=s, decision=d, on=DAY + dt.timedelta(days=day))
            for n, (s, d, day) in enumerate(choices)
        )
        return views(Book(book.orders, book.lines, book.clubs, rows, (), shelf))[0].units[0].stand_in

    assert chosen(("sedge", "chosen", 1), ("rush", "chosen", 2)) == "rush"
    assert chosen(("sedge", "chosen", 3), ("rush", "chosen", 2)) == "sedge"
    assert chosen(("thick", "chosen", 3), ("rush", "chosen", 2)) == "rush"  # one that is there
    assert chosen(("sedge", "rejected", 1)) is None
