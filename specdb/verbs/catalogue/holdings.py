"""What is on the shelf, on order and backordered."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import UsageError, indefinite
from specdb.records.rows import Reservation, StockMove
from specdb.schema import load_schema
from specdb.verbs.catalogue.kinds import table_of

_ONE_DAY = 50  # moves of one day that are put in order


@dataclass(frozen=True, slots=True)
class ShelfLine:
    """Stock and supply of one part.

    Attributes
    ----------
    kind, item_id : str
        The part.
    on_hand : int
        Pieces on hand.
    ordered : int
        Pieces on order.
    expected_on : date or None
        The earliest day that any are expected.
    backordered : bool
        Whether those who were asked have none.
    kept_for : tuple of (str, int)
        Orders that pieces of it are kept for, with how many.
    """

    kind: str
    item_id: str
    on_hand: int
    ordered: int
    expected_on: dt.date | None
    backordered: bool
    kept_for: tuple[tuple[str, int], ...] = ()

    @property
    def kept(self) -> int:
        """Pieces that are kept for orders."""
        return sum(pieces for _, pieces in self.kept_for)

    @property
    def free(self) -> int:
        """Pieces that are kept for nobody; none where more are kept than there are."""
        return max(self.on_hand - self.kept, 0)

    @property
    def words(self) -> str:
        """How many there are, and for whom: ``2 on hand, 1 kept for o-1041``."""
        return on_hand_words(self.on_hand, self.kept_for)

    def to_json(self) -> dict[str, Any]:
        """The line as plain values."""
        return {**asdict(self), "kept": self.kept, "kept_for": dict(self.kept_for), "free": self.free}


def on_hand_words(on_hand: int, kept_for: Sequence[tuple[str, int]]) -> str:
    """How many pieces there are, and how many of them are kept for whom.

    Parameters
    ----------
    on_hand : int
        Pieces on hand.
    kept_for : sequence of (str, int)
        Orders that pieces are kept for, with how many.
    """
    kept = sum(pieces for _, pieces in kept_for)
    if not kept:
        return f"{on_hand} on hand"
    whom = kept_for[0][0] if len(kept_for) == 1 else f"{len(kept_for)} orders"
    return f"{on_hand} on hand, {kept} kept for {whom}"


def kept_for(reader: Reader, kind: str, key: str | None = None) -> dict[str, tuple[tuple[str, int], ...]]:
    """Orders that pieces of the parts of a kind are kept for, with how many, by part.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    kind : str
        The kind.
    key : str or None
        Only this part.
    """
    return by_order(kept_rows(reader, kind, key))


def by_order(kept: Iterable[Reservation]) -> dict[str, tuple[tuple[str, int], ...]]:
    """The same as :func:`kept_for`, of what was read before.

    Parameters
    ----------
    kept : iterable of Reservation
        What is kept, from :func:`kept_rows`.
    """
    found: dict[str, Counter[str]] = {}
    for r in kept:
        found.setdefault(r.item_id, Counter())[r.order_id] += r.quantity
    return {item: tuple(sorted(mine.items())) for item, mine in found.items()}


def free_pieces(reader: Reader, kind: str, clubs: Collection[str] = ()) -> dict[str, int]:
    """Pieces of the parts of a kind that are kept for no other club, by part; empty where none is booked.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    kind : str
        The kind.
    clubs : collection of str
        Clubs that it is asked for: a piece that is kept for one of these is free for it, one piece a club.
    """
    return free_of(reader.stock(kind), kept_rows(reader, kind), clubs)


def kept_rows(reader: Reader, kind: str, key: str | None = None) -> list[Reservation]:
    """What is kept of the parts of a kind.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    kind : str
        The kind.
    key : str or None
        Only this part.
    """
    one = "" if key is None else " and item_id = '" + key.replace("'", "''") + "'"
    return list(reader.rows("reservation", where=f"state = 'held' and kind = '{kind}'{one}"))


def free_of(free: Mapping[str, int], kept_of: Iterable[Reservation], clubs: Collection[str] = ()) -> dict[str, int]:
    """The same as :func:`free_pieces`, of what was read before.

    Parameters
    ----------
    free : mapping of str to int
        Pieces on hand, by part.
    kept_of : iterable of Reservation
        What is kept, from :func:`kept_rows`.
    clubs : collection of str
        Clubs that it is asked for.
    """
    kept: Counter[str] = Counter()
    own = set(clubs)
    for r in kept_of:
        mine = r.club_id in own
        own.discard(r.club_id)
        kept[r.item_id] += r.quantity - mine
    return {key: max(pieces - kept[key], 0) for key, pieces in free.items()}


def stocked_kinds(kind: str | None = None) -> tuple[str, ...]:
    """Kinds that stock is kept of, or the one that was named.

    Parameters
    ----------
    kind : str or None
        As typed.

    Raises
    ------
    UsageError
        If no stock is kept of that kind.
    """
    kept = load_schema().table("stock_move").field("kind").enum
    if kind is None:
        return kept
    name = table_of(kind).name
    if name not in kept:
        raise UsageError(f"no stock is kept of {indefinite(name)}; it is kept of: {', '.join(kept)}")
    return (name,)


def shelf_lines(reader: Reader, kind: str, key: str | None = None) -> list[ShelfLine]:
    """Stock and supply of the parts of a kind.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    kind : str
        The kind.
    key : str or None
        Only this part.
    """
    held, supply, kept = reader.stock(kind, key), reader.supply(kind, key), kept_for(reader, kind, key)
    lines = []
    for item in sorted({*held, *supply, *kept}):
        state = supply.get(item)
        lines.append(
            ShelfLine(
                kind,
                item,
                held.get(item, 0),
                0 if state is None else state.ordered,
                None if state is None else state.expected_on,
                bool(state is not None and state.backordered),
                kept.get(item, ()),
            )
        )
    return lines


@dataclass(frozen=True, slots=True)
class Free:
    """What there is of one part for a club that is not ordered yet.

    Attributes
    ----------
    pieces : int
        Pieces on hand that are kept for no order; never below zero.
    on_hand : int
        Pieces on hand.
    expected_on : date or None
        The earliest day that any are expected; None where nobody knows.
    """

    pieces: int
    on_hand: int
    expected_on: dt.date | None


def free_parts(reader: Reader, kind: str) -> dict[str, Free] | None:
    """What is free of every part of a kind of which something is on hand or on its way; None where none is counted.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    kind : str
        The kind.
    """
    if kind not in load_schema().table("stock_move").field("kind").enum or not reader.stock(kind):
        return None
    return {line.item_id: Free(line.free, line.on_hand, line.expected_on) for line in shelf_lines(reader, kind)}


def shelf(catalogue: Catalogue, kind: str | None = None, key: str | None = None) -> list[ShelfLine]:
    """Stock and supply of all parts, of a kind or of one part.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str or None
        Only this kind, only this part.
    """
    kinds = stocked_kinds(kind)
    with catalogue.read() as reader:
        if key is not None:
            reader.get(kinds[0], key)
        lines = [line for name in kinds for line in shelf_lines(reader, name, key)]
    if key is not None and not lines:
        return [ShelfLine(kinds[0], key, 0, 0, None, False)]
    return lines


def supply_lines(catalogue: Catalogue, kind: str | None = None, key: str | None = None) -> list[dict[str, Any]]:
    """Lines of supply as plain values.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str or None
        Only this kind, only this part.
    """
    kinds = stocked_kinds(kind)
    with catalogue.read() as reader:
        if key is not None:
            reader.get(kinds[0], key)
        rows = reader.rows("supply")
    return [asdict(row) for row in rows if row.kind in kinds and (key is None or row.item_id == key)]


def latest_moves(catalogue: Catalogue, kind: str, key: str, *, most: int = 5) -> list[StockMove]:
    """The latest moves of a part, the newest first.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str
        The part.
    most : int
        How many at most.
    """
    name = stocked_kinds(kind)[0]
    safe = key.replace("'", "''")
    with catalogue.read() as reader:
        moves: list[StockMove] = reader.rows("stock_move", where=f"kind = '{name}' and item_id = '{safe}'")
        moves.sort(key=lambda m: m.on or dt.date.min, reverse=True)
        # those of one day stand in the order in which they were booked
        last_day = moves[min(most, len(moves)) - 1].on if moves else None
        some = [m for m in moves if (m.on or dt.date.min) >= (last_day or dt.date.min)][: most + _ONE_DAY]
        booked = {m.id: row.change_no for m in some for row in reader.history("stock_move", m.id, limit=1)}
    return sorted(some, key=lambda m: (m.on or dt.date.min, booked.get(m.id, 0)), reverse=True)[:most]
