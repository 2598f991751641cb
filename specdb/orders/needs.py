"""What a club of an order is built from: the units of an order, and the pieces each of them needs.

A *unit* is one club to be built: a line that asks for two of a set of four has eight. Pieces are counted; adhesive is
not, as it is taken from the pot.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from specdb.records.rows import Club, OrderLine
from specdb.units.writing import listed

PIECES = ("shaft", "head", "adapter", "sleeve", "ferrule", "grip")
"""Kinds of part that are counted by the piece, in the order a workshop takes them."""

RETIRED = "retired"
HELD, USED = "held", "used"
NEEDING_PARTS = ("open", "at_bench")
"""States in which an order still needs parts."""

Part = tuple[str, str]
"""Kind and key of a part."""


@dataclass(frozen=True, slots=True)
class Need:
    """Pieces of one part that a club needs.

    Attributes
    ----------
    kind, item_id : str
        The part.
    quantity : int
        Pieces.
    claim : str
        The order that the pieces are kept for already though they are not there; empty for any others.
    """

    kind: str
    item_id: str
    quantity: int = 1
    claim: str = ""

    @property
    def part(self) -> Part:
        """Kind and key; pieces that an order has a claim on are a part of their own."""
        return claimed((self.kind, self.item_id), self.claim)


_FOR = "\n"  # in no key


def claimed(part: Part, order_id: str) -> Part:
    """The pieces of a part that an order has a claim on, as a part of their own.

    Parameters
    ----------
    part : Part
        Kind and key.
    order_id : str
        The order; the part itself where empty.
    """
    return (part[0], f"{part[1]}{_FOR}{order_id}") if order_id else part


def plain_part(part: Part) -> Part:
    """Kind and key of a part, whoever has a claim on it.

    Parameters
    ----------
    part : Part
        As :func:`claimed` gives it.
    """
    return part[0], part[1].partition(_FOR)[0]


@dataclass(frozen=True, slots=True, order=True)
class UnitKey:
    """One club of an order that is to be built.

    Attributes
    ----------
    order_id : str
        The order.
    line : int
        Its line.
    unit : int
        Which of the line's quantity, from 1.
    club_id : str
        The fitted club it is built to.
    """

    order_id: str
    line: int
    unit: int
    club_id: str

    def __str__(self) -> str:
        return f"{self.order_id}/{self.line}/{self.unit}/{self.club_id}"


@dataclass(frozen=True, slots=True)
class Swap:
    """Parts that a stand-in takes in the place of the fitted club's own.

    Attributes
    ----------
    parts : mapping of str to (str or None)
        Key by kind; None where the club's own part of that kind is left out.
    said : str
        What is known or must be looked at, in a plain sentence; empty where nothing changes.
    against : str
        Why the club cannot be built with the stand-in, in a plain sentence; empty where nothing is known against it.
    """

    parts: Mapping[str, str | None] = field(default_factory=dict)
    said: str = ""
    against: str = ""


def needs_of(club: Club, stand_in: str | None = None, swap: Swap | None = None) -> tuple[Need, ...]:
    """Pieces that a club is built from.

    Parameters
    ----------
    club : Club
        The fitted club.
    stand_in : str or None
        Shaft that goes in instead of the fitted one.
    swap : Swap or None
        What the stand-in takes beside.

    Returns
    -------
    tuple of Need
        In the order of :data:`PIECES`; adhesive is not counted.
    """
    changed = swap.parts if swap is not None and stand_in is not None else {}
    found = []
    for kind in PIECES:
        item = getattr(club, f"{kind}_id")
        if kind == "shaft" and stand_in is not None:
            item = stand_in
        item = changed.get(kind, item)
        if item is not None:
            found.append(Need(kind, item))
    return tuple(found)


def retired_of_set(clubs: Iterable[Club], set_id: str) -> str:
    """Which clubs of a set are retired, in a plain sentence without its point; empty where none is.

    Parameters
    ----------
    clubs : iterable of Club
        Clubs of any sets.
    set_id : str
        The set.
    """
    gone = [c.id for c in clubs if c.set_id == set_id and c.status == RETIRED]
    if not gone:
        return ""
    what, verb = ("a club", "is") if len(gone) == 1 else ("clubs", "are")
    return f"set {set_id} has {what} missing: {listed(gone)} {verb} retired"


def members_of(clubs: Iterable[Club]) -> dict[str, tuple[Club, ...]]:
    """Clubs by the set they belong to, the longest first.

    Parameters
    ----------
    clubs : iterable of Club
        Fitted clubs.
    """
    sets: dict[str, list[Club]] = {}
    for club in clubs:
        if club.set_id is not None:
            sets.setdefault(club.set_id, []).append(club)
    return {name: tuple(sorted(some, key=lambda c: (-c.playing_length_in, c.id))) for name, some in sets.items()}


def units_of(line: OrderLine, clubs: Mapping[str, Club], sets: Mapping[str, Sequence[Club]]) -> tuple[UnitKey, ...]:
    """Clubs that a line asks for.

    Parameters
    ----------
    line : OrderLine
        The line.
    clubs : mapping of str to Club
        By key.
    sets : mapping of str to sequence of Club
        By name of the set, as :func:`members_of` gives them.

    Returns
    -------
    tuple of UnitKey
        Retired clubs of a set among them; nothing for a club or a set that is not there.
    """
    if line.club_id is not None:
        wanted: Sequence[Club] = [clubs[line.club_id]] if line.club_id in clubs else ()
    else:
        wanted = sets.get(line.set_id or "", ())
    return tuple(UnitKey(line.order_id, line.line, n, c.id) for n in range(1, line.quantity + 1) for c in wanted)
