"""An order with its lines kept as one: what is typed is checked line by line, and nothing is written over unseen."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import Any, Literal

from specdb.catalogue import Catalogue, Reader, Writer
from specdb.errors import NotFoundError, UsageError
from specdb.orders.choosing import Decisions, choose_shaft
from specdb.orders.needs import NEEDING_PARTS, USED, Part, UnitKey, needs_of
from specdb.records.rows import Club, Order, OrderLine, Reservation
from specdb.units.writing import as_sentence
from specdb.verbs.orders.changes import add_order, next_number
from specdb.verbs.orders.checks import Orderable, Wanted
from specdb.verbs.orders.orders import read_book

__all__ = [
    "EntryDifference",
    "EntryLine",
    "KeptOrder",
    "LineRead",
    "OpenedOrder",
    "OrderEntry",
    "keep_order",
    "next_order_number",
    "open_order",
    "read_lines",
]

_MOST_SHORT = 2
OF_THE_ORDER = ("customer", "wanted_on", "notes")
Whose = Literal["ask", "mine", "theirs"]


@dataclass(frozen=True, slots=True)
class EntryLine:
    """One line as it is typed.

    Attributes
    ----------
    line : int or None
        Its number; None for a new one.
    wanted : Wanted
        What it asks for.
    """

    line: int | None
    wanted: Wanted


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderEntry:
    """An order as it is typed.

    Attributes
    ----------
    order_id : str or None
        Its number; the next one where None.
    customer, notes : str or None
        Reference of the customer, and anything else.
    wanted_on : date or None
        Day it is wanted.
    lines : tuple of EntryLine
        What it asks for.
    """

    order_id: str | None = None
    customer: str | None = None
    wanted_on: dt.date | None = None
    notes: str | None = None
    lines: tuple[EntryLine, ...] = ()


@dataclass(frozen=True, slots=True)
class OpenedOrder:
    """An order as it stood when it was opened.

    Attributes
    ----------
    order : Order
        The order.
    lines : tuple of OrderLine
        Its lines.
    """

    order: Order
    lines: tuple[OrderLine, ...]

    def head(self, name: str) -> object:
        """A value of the order itself.

        Parameters
        ----------
        name : str
            One of :data:`OF_THE_ORDER`.
        """
        return getattr(self.order, name)

    @property
    def wanted(self) -> dict[int, Wanted]:
        """What its lines ask for, by their number."""
        return {one.line: Wanted(one.club_id, one.set_id, one.quantity) for one in self.lines}


@dataclass(frozen=True, slots=True)
class LineRead:
    """A line as it was understood.

    Attributes
    ----------
    wanted : Wanted or None
        What it asks for; None where that cannot be told.
    said : str
        What that is, in words.
    error : str
        Why it cannot be ordered, as a sentence; empty where it can.
    """

    wanted: Wanted | None
    said: str = ""
    error: str = ""


@dataclass(frozen=True, slots=True)
class EntryDifference:
    """Something that somebody else changed meanwhile.

    Attributes
    ----------
    what : str
        ``customer`` or ``line 2``.
    opened, now, typed : object
        As it was when the order was opened, as it stands, and as it is typed; a :class:`Wanted` for a line, None
        where it is empty or gone.
    """

    what: str
    opened: object
    now: object
    typed: object

    @property
    def contested(self) -> bool:
        """Whether it was typed differently here, too."""
        return self.typed not in (self.opened, self.now)


@dataclass(frozen=True, slots=True)
class KeptOrder:
    """What came of keeping an order.

    Attributes
    ----------
    order_id : str
        Its number.
    action : str
        ``added``, ``changed``, ``unchanged``; ``differs``, ``gone`` or ``refused``, where nothing was written.
    change_no : int or None
        The change.
    differences : tuple of EntryDifference
        What somebody else changed meanwhile.
    refused : mapping of int to str
        Lines, by their place in the entry, and why each cannot be; -1 for lines that were taken away.
    """

    order_id: str
    action: str
    change_no: int | None = None
    differences: tuple[EntryDifference, ...] = ()
    refused: Mapping[int, str] | None = None


def open_order(catalogue: Catalogue, order_id: str) -> OpenedOrder:
    """An order with its lines, to be changed.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        Its number.

    Raises
    ------
    NotFoundError
        If there is no such order.
    """
    with catalogue.read() as reader:
        return _opened(reader, reader.get("order", order_id))


def _opened(reader: Reader, order: Order) -> OpenedOrder:
    lines: list[OrderLine] = reader.of_orders("order_line", (), order.id)
    return OpenedOrder(order, tuple(sorted(lines, key=lambda one: one.line)))


def next_order_number(catalogue: Catalogue) -> str:
    """The number that an order without one would get now.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    with catalogue.read() as reader:
        return next_number(reader)


def read_lines(catalogue: Catalogue, asked: Sequence[tuple[str, int]], order_id: str | None = None) -> list[LineRead]:
    """What typed names of clubs and sets mean, what stands against ordering each, and whether its parts are free.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    asked : sequence of (str, int)
        Names of clubs or sets, and how many times each; what a line takes is free for those after it no more.
    order_id : str or None
        The order that is changed: what is kept for it or built into it already is there for it.
    """
    with catalogue.read() as reader:
        checks, parts = Orderable(reader), _Parts(reader, order_id)
        return [_read(checks, parts, text.strip(), times) for text, times in asked]


def _read(checks: Orderable, parts: _Parts, text: str, times: int) -> LineRead:
    if not text:
        return LineRead(None)
    try:
        wanted = checks.named(text)
        clubs = checks.clubs_of(wanted)
        why = checks.against(wanted)
    except NotFoundError as error:
        return LineRead(None, error=as_sentence(str(error)))
    if wanted.set_id is not None:
        said = f"set of {len(clubs)}: {', '.join(c.label or c.id for c in clubs)}"
    else:
        said = clubs[0].label or clubs[0].id
        said += f" ({clubs[0].player})" if clubs[0].player else ""
    said += f"; {parts.to_be_had(clubs, times)}"
    return LineRead(wanted, said, as_sentence(why) if why else "")


class _Parts:
    """What lies on the shelf for the lines of one order, line after line."""

    def __init__(self, reader: Reader, order_id: str | None) -> None:
        self._book = read_book(reader, (), order_id)
        self._shelf, self._decided = self._book.shelf, self._book.decisions
        self._left: dict[Part, int] = {}
        self._own: Counter[Part] = Counter()
        self._shafts: dict[str, list[str]] = {}
        for r in self._book.reservations:
            unit = UnitKey(r.order_id, r.line, r.unit, r.club_id)
            there = r.quantity if r.state == USED else r.quantity - self._shelf.gone((r.kind, r.item_id), unit)
            self._own[r.kind, r.item_id] += there
            if r.kind == "shaft" and there:
                self._shafts.setdefault(r.club_id, []).append(r.item_id)

    def to_be_had(self, clubs: Sequence[Club], times: int) -> str:
        """Whether the parts of some clubs are free on the shelf, and when what is not is expected; takes them."""
        lacking: dict[Part, None] = {}
        stand_ins: dict[str, None] = {}
        for club in [club for _ in range(times) for club in clubs]:
            shaft = self._shaft(club)
            swap = self._book.swap_of(club, shaft) if shaft is not None and self._book.swap_of is not None else None
            if shaft is not None:
                stand_ins[shaft] = None
            for need in needs_of(club, shaft, swap):
                self._left[need.part] = self._free(need.part) - need.quantity
                if need.kind in self._shelf.kept and self._left[need.part] < 0:
                    lacking[need.part] = None
        words = [f"{kind} {item} ({self._when((kind, item))})" for kind, item in lacking]
        instead = f", with the approved stand-in {', '.join(stand_ins)}" if stand_ins else ""
        if not words:
            return f"all parts {'kept or ' if self._own else ''}free{instead}"
        more = f" and {len(words) - _MOST_SHORT} more" if len(words) > _MOST_SHORT else ""
        return f"not free: {', '.join(words[:_MOST_SHORT])}{more}{instead}"

    def _free(self, part: Part) -> int:
        return self._left.get(part, max(self._shelf.free(part), 0) + self._own[part])

    def _shaft(self, club: Club) -> str | None:
        """The stand-in that goes in; None for the fitted shaft."""
        decisions = self._decided.get(club.id, Decisions())
        kept = self._shafts.get(club.id, [])
        own = [kept.pop(0)] if kept else []
        left = {("shaft", s): self._free(("shaft", s)) for s in (club.shaft_id, *decisions.approved)}
        cannot = partial(self._book.against, club)
        chosen = choose_shaft(club, decisions, self._shelf, kept=own, left=left, cannot=cannot)
        return chosen.shaft_id if chosen.stand_in else None

    def _when(self, part: Part) -> str:
        day = next((a.day for a in self._shelf.arrivals.get(part, ()) if a.day is not None), None)
        return "none expected" if day is None else f"expected {day.day} {day:%b} {day.year}"


def keep_order(
    catalogue: Catalogue,
    entry: OrderEntry,
    opened: OpenedOrder | None = None,
    *,
    whose: Whose = "ask",
    by: str | None = None,
    why: str | None = None,
) -> KeptOrder:
    """Take an order, or change one with its lines, in one change.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    entry : OrderEntry
        As it is typed.
    opened : OpenedOrder or None
        As it was when it was opened; None for a new order.
    whose : {"ask", "mine", "theirs"}
        What counts where somebody else changed the same thing meanwhile.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    UsageError
        If a new order has no line, or its number is taken.
    """
    if opened is None:
        return _added(catalogue, entry, by, why)
    order_id = opened.order.id
    with catalogue.write(by=by, why=why, done=f"change order {order_id}") as writer:
        found = writer.find("order", order_id)
        if found is None:
            return KeptOrder(order_id, "gone")
        now = _opened(writer, found)
        differences = tuple(_differences(opened, now, entry))
        if whose == "ask" and any(d.contested for d in differences):
            return KeptOrder(order_id, "differs", None, differences)
        theirs = {d.what for d in differences if not d.contested or whose == "theirs"}
        if not entry.lines:
            raise UsageError("an order needs a line; to give it up, move it to cancelled")
        refused = _refused(writer, now, entry, theirs)
        if refused:
            return KeptOrder(order_id, "refused", None, differences, refused)
        change = writer.change_no if _written(writer, now, entry, theirs) else None
    return KeptOrder(order_id, "unchanged" if change is None else "changed", change, differences)


def _added(catalogue: Catalogue, entry: OrderEntry, by: str | None, why: str | None) -> KeptOrder:
    with catalogue.read() as reader:
        checks = Orderable(reader)
        refused = {}
        for place, line in enumerate(entry.lines):
            try:
                against = checks.against(line.wanted)
            except NotFoundError as error:
                against = str(error)
            if against:
                refused[place] = as_sentence(against)
    if refused:
        return KeptOrder(entry.order_id or "", "refused", None, (), refused)
    taken = add_order(
        catalogue,
        entry.order_id,
        [line.wanted for line in entry.lines],
        customer=entry.customer,
        wanted_on=entry.wanted_on,
        notes=entry.notes,
        by=by,
        why=why,
    )
    with catalogue.read() as reader:
        return KeptOrder(taken.order_id, "added", reader.last_change())


def _differences(opened: OpenedOrder, now: OpenedOrder, entry: OrderEntry) -> Iterable[EntryDifference]:
    for name in OF_THE_ORDER:
        if opened.head(name) != now.head(name):
            yield EntryDifference(name, opened.head(name), now.head(name), getattr(entry, name))
    was, stands = opened.wanted, now.wanted
    typed = {e.line: e.wanted for e in entry.lines if e.line is not None}
    for number in sorted(was.keys() | stands.keys()):
        if was.get(number) != stands.get(number):
            mine = typed.get(number) if number in was else None
            yield EntryDifference(f"line {number}", was.get(number), stands.get(number), mine)


def _changed_lines(
    now: OpenedOrder, entry: OrderEntry, theirs: set[str]
) -> tuple[dict[int, tuple[int, Wanted]], list[int], list[Wanted]]:
    """Lines that are to change with their place in the entry, lines that go, and lines that are new."""
    stands = now.wanted
    typed = {e.line: (place, e.wanted) for place, e in enumerate(entry.lines) if e.line is not None}
    changed = {
        number: (place, wanted)
        for number, (place, wanted) in typed.items()
        if f"line {number}" not in theirs and stands.get(number) != wanted
    }
    gone = [n for n in stands if n not in typed and f"line {n}" not in theirs]
    return changed, gone, [e.wanted for e in entry.lines if e.line is None]


def _refused(writer: Writer, now: OpenedOrder, entry: OrderEntry, theirs: set[str]) -> dict[int, str]:
    """Why lines cannot be as they are typed."""
    changed, gone, fresh = _changed_lines(now, entry, theirs)
    if (changed or gone or fresh) and now.order.state not in NEEDING_PARTS:
        return {-1: f"The order is {now.order.state.replace('_', ' ')}, so its lines are changed no more."}
    checks = Orderable(writer)
    mine: list[Reservation] = writer.of_orders("reservation", (), now.order.id)
    stands, refused = now.wanted, {}
    for place, line in enumerate(entry.lines):
        number = line.line
        if number is not None and number not in changed:
            continue
        try:
            against = checks.against(line.wanted)
        except NotFoundError as error:
            against = str(error)
        before = stands.get(number) if number is not None else None
        if not against and number is not None and before is not None:
            same = (before.club_id, before.set_id) == (line.wanted.club_id, line.wanted.set_id)
            against = _in_the_way(mine, number, line.wanted.quantity if same else 0)
        if against:
            refused[place] = as_sentence(against)
    for number in gone:
        against = _in_the_way(mine, number, 0)
        if against:
            refused[-1] = as_sentence(f"line {number} cannot go: {against}")
    return refused


def _in_the_way(mine: Sequence[Reservation], line: int, units: int) -> str:
    """What stands against a line asking for only so many of its clubs."""
    some = [r for r in mine if r.line == line and r.unit > units]
    if any(r.state == USED for r in some):
        return f"parts are built into a club of line {line} already"
    held = sum(r.quantity for r in some)
    many = "1 part is" if held == 1 else f"{held} parts are"
    return f"{many} kept for a club of line {line}: give the parts of the order free first" if held else ""


def _written(writer: Writer, now: OpenedOrder, entry: OrderEntry, theirs: set[str]) -> bool:
    """Write what differs; whether anything did."""
    head: dict[str, Any] = {
        name: getattr(entry, name)
        for name in OF_THE_ORDER
        if name not in theirs and getattr(entry, name) != now.head(name)
    }
    if head:
        writer.put("order", {"id": now.order.id, **head}, mode="update")
    changed, gone, fresh = _changed_lines(now, entry, theirs)
    for number in gone:
        writer.remove("order_line", f"{now.order.id}/{number}")
    for number, (_, wanted) in changed.items():
        writer.put("order_line", {"order_id": now.order.id, "line": number, **asdict(wanted)})
    for number, wanted in enumerate(fresh, start=max(now.wanted, default=0) + 1):
        writer.put("order_line", {"order_id": now.order.id, "line": number, **asdict(wanted)}, mode="add")
    return bool(head or gone or changed or fresh)
