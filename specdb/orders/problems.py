"""What stands against building an order, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from specdb.orders.needs import HELD, NEEDING_PARTS, RETIRED, UnitKey
from specdb.records.rows import Club, Order, OrderLine, Reservation

if TYPE_CHECKING:
    from specdb.orders.availability import Book, UnitView


def problems_of(
    order: Order,
    lines: Sequence[OrderLine],
    units: Sequence[UnitView],
    book: Book,
    sets: Mapping[str, Sequence[Club]],
    kept: Mapping[UnitKey, Sequence[Reservation]],
) -> tuple[str, ...]:
    """What stands against building an order.

    Parameters
    ----------
    order : Order
        The order.
    lines, units : sequence
        Its lines, and its clubs with their parts.
    book : Book
        All orders.
    sets : mapping of str to sequence of Club
        Clubs by set.
    kept : mapping of UnitKey to sequence of Reservation
        Parts by club of an order.
    """
    if order.state not in NEEDING_PARTS:
        held = sum(
            r.quantity for key, some in kept.items() if key.order_id == order.id for r in some if r.state == HELD
        )
        return (f"{held} parts are still kept for it, though it is {order.state}: release them",) if held else ()
    found = [*line_problems(lines, book, sets), *(text for unit in units for text in unit.against)]
    found += [*_parts(units, book), *_odd(order, units, kept)]
    found += _gone(order, book)
    if not lines:
        found.append("it has no line")
    return tuple(dict.fromkeys(found))


def line_problems(lines: Sequence[OrderLine], book: Book, sets: Mapping[str, Sequence[Club]]) -> Iterator[str]:
    """Lines that ask for what cannot be built: a club or set that is not there, not whole or retired.

    Parameters
    ----------
    lines : sequence of OrderLine
        Of one order.
    book : Book
        All orders.
    sets : mapping of str to sequence of Club
        Clubs by set.
    """
    for line in lines:
        if line.set_id is not None:
            members = sets.get(line.set_id, ())
            if not members:
                yield f"line {line.line}: no club belongs to set {line.set_id}"
            for club in members:
                if club.status == RETIRED:
                    yield f"line {line.line}: club {club.id} of set {line.set_id} is retired, so the set is not whole"
            continue
        wanted = book.clubs.get(line.club_id or "")
        if wanted is None:
            yield f"line {line.line}: there is no club {line.club_id}"
        elif wanted.status == RETIRED:
            yield f"line {line.line}: club {line.club_id} is retired"


def _parts(units: Sequence[UnitView], book: Book) -> Iterator[str]:
    """Parts that will not come again."""
    for unit in units:
        for state in unit.states:
            part = state.need.part
            if part in book.shelf.retired and state.short and not book.shelf.arrivals.get(part):
                hint = f"; choose a stand-in for {unit.club.id}" if part[0] == "shaft" else ""
                yield f"{part[0]} {part[1]} of club {unit.club.id} is retired and none is free on the shelf{hint}"


def _odd(order: Order, units: Sequence[UnitView], kept: Mapping[UnitKey, Sequence[Reservation]]) -> Iterator[str]:
    """Parts kept for clubs that no longer need them."""
    needed = {(unit.key, state.need.part) for unit in units for state in unit.states}
    known = {unit.key for unit in units}
    for key, some in sorted(kept.items()):
        if key.order_id != order.id:
            continue
        for r in some:
            if r.state != HELD or (key, (r.kind, r.item_id)) in needed:
                continue
            why = "that club no longer needs it" if key in known else "the order no longer asks for that club"
            whose = f"{r.quantity} {r.kind} {r.item_id} is kept for club {key.club_id} ({key.line}/{key.unit})"
            yield f"{whose}, but {why}: release it"


def _gone(order: Order, book: Book) -> Iterator[str]:
    """Parts that are kept for the order and not there."""
    for part, keepings in sorted(book.shelf.keepings.items()):
        gone = sum(k.gone for k in keepings if k.unit.order_id == order.id)
        if gone:
            held, there = sum(k.pieces for k in keepings), max(book.shelf.on_hand.get(part, 0), 0)
            whose = ", ".join(dict.fromkeys(k.unit.order_id for k in keepings if k.there))
            has = f" (they go to {whose}, wanted first)" if whose and whose != order.id else ""
            yield (
                f"{part[0]} {part[1]}: {held} kept for orders, but {there} on hand{has}; {gone} kept for this order "
                f"{'is' if gone == 1 else 'are'} not there: receive or release {'it' if gone == 1 else 'them'}"
            )
