"""The fitted sets of a catalogue, and which clubs belong to one: listed, put together, taken apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import UsageError
from specdb.verbs.catalogue.holdings import free_of, kept_rows
from specdb.verbs.matching.waiting import BACKORDERED, NONE_ON_HAND, NOT_BOOKED, ON_HAND

if TYPE_CHECKING:
    from collections.abc import Mapping

    from specdb.catalogue.stock import SupplyState
    from specdb.records.rows import Club, Head

_RETIRED = "retired"
_CHOSEN = "chosen"


@dataclass(frozen=True, slots=True)
class FittedSet:
    """One fitted set.

    Attributes
    ----------
    set_id, player : str
        Its name and whose it is; the player is empty where unknown, or where they are several.
    clubs : tuple of str
        Keys of its clubs, from the longest to the shortest; retired ones are left out.
    numbers : tuple of str
        Numbers of their heads; empty where unknown.
    missing : tuple of str
        Numbers that are left out within the row.
    state : int
        How the shafts are to be had, that of the worst: as of :mod:`specdb.verbs.matching.waiting`.
    supply : str
        The same in words; free is what is kept for no club but its own.
    chosen : int
        Clubs for which a stand-in is chosen.
    """

    set_id: str
    player: str
    clubs: tuple[str, ...]
    numbers: tuple[str, ...]
    missing: tuple[str, ...]
    state: int
    supply: str
    chosen: int = 0

    def to_json(self) -> dict[str, Any]:
        """The set as plain values."""
        return asdict(self)


def fitted_sets(catalogue: Catalogue) -> list[FittedSet]:
    """Fitted sets, those in need of stand-ins first, then by name.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    with catalogue.read() as reader:
        clubs: list[Club] = [c for c in reader.rows("club") if c.set_id and c.status != _RETIRED]
        heads: dict[str, Head] = {h.id: h for h in reader.rows("head")}
        stock, kept, supply = reader.stock("shaft"), kept_rows(reader, "shaft"), reader.supply("shaft")
        decided = {c.club_id for c in reader.rows("choice") if c.decision == _CHOSEN}
    by_set: dict[str, list[Club]] = {}
    for club in clubs:
        by_set.setdefault(club.set_id or "", []).append(club)
    found = []
    for set_id, own in by_set.items():
        own.sort(key=lambda c: (-c.playing_length_in, c.id))
        numbers = tuple(heads[c.head_id].number or "" if c.head_id in heads else "" for c in own)
        players = {c.player for c in own if c.player}
        free = free_of(stock, kept, [c.id for c in own]) if stock else None
        state, words = _supply(Counter(c.shaft_id for c in own), free, supply)
        found.append(
            FittedSet(
                set_id=set_id,
                player=players.pop() if len(players) == 1 else "",
                clubs=tuple(c.id for c in own),
                numbers=numbers,
                missing=missing_numbers(numbers),
                state=state,
                supply=words,
                chosen=sum(c.id in decided for c in own),
            )
        )
    # a set that has its stand-ins waits for nobody
    return sorted(found, key=lambda s: (s.state, s.chosen == len(s.clubs), s.set_id))


def _supply(needed: Counter[str], free: Mapping[str, int] | None, supply: Mapping[str, SupplyState]) -> tuple[int, str]:
    """How the shafts of a set are to be had, all of them together."""
    if free is None:
        return NOT_BOOKED, "no stock booked"
    pieces = sum(needed.values())
    short = {s: k - max(free.get(s, 0), 0) for s, k in needed.items() if free.get(s, 0) < k}
    if not short:
        return ON_HAND, "all free"
    lacking = sum(short.values())
    words = [f"{pieces - lacking} of {pieces} free"]
    states = [supply[s] for s in short if s in supply]
    backordered = any(s.backordered for s in states)
    if backordered:
        words.append("backordered")
    days = [s.expected_on for s in states if s.expected_on is not None]
    if days and len(days) == len(short):
        words.append(f"expected {max(days).isoformat()}")
    return (BACKORDERED if backordered else NONE_ON_HAND), ", ".join(words)


def missing_numbers(numbers: Iterable[str]) -> tuple[str, ...]:
    """Numbers that are left out between the first and the last club of a set.

    Parameters
    ----------
    numbers : iterable of str
        Numbers of the heads; those that say no place are passed over.
    """
    from specdb.sets.numbers import name_of, place_of

    have = {p for p in map(place_of, numbers) if p is not None}
    return tuple(name_of(p) for p in range(min(have), max(have)) if p not in have) if have else ()


@dataclass(frozen=True, slots=True)
class Assigned:
    """What came of putting a set together.

    Attributes
    ----------
    joined, left : tuple of str
        Clubs that belong to it now and did not, and the reverse.
    moved_from : tuple of str
        Sets that clubs were taken out of.
    touched : tuple of str
        Open orders that have a club more for it, in plain sentences.
    """

    joined: tuple[str, ...]
    left: tuple[str, ...]
    moved_from: tuple[str, ...]
    touched: tuple[str, ...] = ()


def assign_set(
    catalogue: Catalogue, set_id: str, clubs: Sequence[str], *, by: str | None = None, why: str | None = None
) -> Assigned:
    """Say which clubs belong to a set, all in one change.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    set_id : str
        Name of the set; need not be there.
    clubs : sequence of str
        Keys of all its clubs; a club of it that is not named leaves it.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    UsageError
        If the set has no name, or nothing would change.
    NotFoundError
        If there is no such club.
    FieldError
        If the name cannot be kept.
    ConflictError
        If an order stands on what would change.
    """
    from specdb.verbs.orders.touched import sets_touched

    name = set_id.strip()
    if not name:
        raise UsageError("a set needs a name")
    with catalogue.write(by=by, why=why, done=f"put set {name} together") as writer:
        held = _members(writer, name)
        wanted = {key: writer.get("club", key) for key in dict.fromkeys(clubs)}
        joined = tuple(key for key in wanted if key not in held)
        left = tuple(key for key in held if key not in wanted)
        if not joined and not left:
            raise UsageError(f"set {name} has these clubs already")
        for key in joined:
            writer.put("club", {"id": key, "set_id": name}, mode="update")
        for key in left:
            writer.put("club", {"id": key, "set_id": None}, mode="update")
        touched = sets_touched(writer, writer.change_no)
    before = {wanted[key].set_id for key in joined} - {None}
    return Assigned(joined, left, tuple(sorted(str(s) for s in before)), touched)


def _members(reader: Reader, set_id: str) -> dict[str, Club]:
    """Clubs of a set; retired ones stay what they are."""
    return {c.id: c for c in reader.rows("club") if c.set_id == set_id and c.status != _RETIRED}
