"""The clubs of a fitted set, ready for the computing layers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from specdb.errors import BuildError, MechanicsError, UsageError
from specdb.matching.reference import Reference, solve_reference
from specdb.mechanics.assembly import Parts
from specdb.records.rows import AdapterSetting, Adhesive
from specdb.sets.numbers import place_of


@dataclass(frozen=True, slots=True, kw_only=True)
class SetMember:
    """One club of a set.

    Attributes
    ----------
    club_id, label : str
        Key, and what the shop calls it.
    parts : Parts
        The club.
    setting : str or None
        Setting of its adapter.
    settings : tuple of AdapterSetting
        All settings of that adapter.
    adhesive : Adhesive or None
        Adhesive.
    loft_deg, lie_deg : float or None
        As fitted; the head's own where None.
    measured_cpm : float or None
        Frequency measured on the fitted club, at the clamp of ``parts``.
    said : tuple of str
        What was taken where nothing was said.
    """

    club_id: str
    label: str
    parts: Parts
    setting: str | None = None
    settings: tuple[AdapterSetting, ...] = ()
    adhesive: Adhesive | None = None
    loft_deg: float | None = None
    lie_deg: float | None = None
    measured_cpm: float | None = None
    said: tuple[str, ...] = ()

    @property
    def number(self) -> str | None:
        """Number of its head."""
        return self.parts.head.number

    @property
    def place(self) -> int | None:
        """Its place on the scale of club numbers."""
        return place_of(self.number)


@dataclass(frozen=True, slots=True)
class Progression:
    """How far each club lies along its set.

    Attributes
    ----------
    places : tuple of int or None
        Places on the scale of club numbers, or None where the numbers do not tell.
    steps : tuple of int
        Clubs from the first one, by which a tip trim grows.
    said : str
        How they were counted, where it is worth saying.
    """

    places: tuple[int | None, ...]
    steps: tuple[int, ...]
    said: str


def in_order(members: Sequence[SetMember]) -> tuple[SetMember, ...]:
    """The clubs from the longest to the shortest.

    Parameters
    ----------
    members : sequence of SetMember
        In any order.
    """
    return tuple(
        sorted(members, key=lambda m: (-m.parts.playing_length_in, m.place if m.place is not None else 99, m.club_id))
    )


def progression(members: Sequence[SetMember]) -> Progression:
    """Count the clubs of a set from its first one.

    By their numbers, so that a set of 5, 7 and 9 goes two clubs a time; by their order of length where the numbers do
    not rise from club to club.

    Parameters
    ----------
    members : sequence of SetMember
        From :func:`in_order`.
    """
    places = tuple(m.place for m in members)
    known = [p for p in places if p is not None]
    if len(known) == len(places) and all(a < b for a, b in pairwise(known)):
        return Progression(places, tuple(p - known[0] for p in known), "")
    return Progression(
        places,
        tuple(range(len(members))),
        "the numbers of the heads do not rise from club to club: clubs are counted by their order of length",
    )


def too_small(set_id: str, clubs: Sequence[str]) -> str:
    """Why a set of one club, or none, is not worked out as a set, and what to ask instead.

    Parameters
    ----------
    set_id : str
        Name of the set.
    clubs : sequence of str
        Keys of its clubs; one at most.
    """
    if not clubs:
        return f"set {set_id} has no club; 'specdb set club CLUB set_id={set_id}' takes a club in"
    return (
        f"set {set_id} has one club only, {clubs[0]}, and is worked out as that club: "
        f"'specdb substitutes --club {clubs[0]}' finds its stand-ins, 'specdb mechanics --club {clubs[0]}' its figures"
    )


def solve_members(
    set_id: str, members: Sequence[SetMember], solve: Callable[[Parts], Reference] = solve_reference
) -> tuple[Reference, ...]:
    """Compute every club of a set.

    Parameters
    ----------
    set_id : str
        Name of the set.
    members : sequence of SetMember
        Its clubs.
    solve : callable
        Computes one club.

    Raises
    ------
    UsageError
        If it has fewer than two clubs.
    BuildError
        If any of them cannot be computed; the sentence names each and says why.
    """
    if len(members) < 2:
        raise UsageError(too_small(set_id, [m.club_id for m in members]))
    found, problems = [], []
    for member in members:
        try:
            found.append(solve(member.parts))
        except MechanicsError as error:
            problems.append(f"club {member.club_id}: {error}")
    if problems:
        raise BuildError(f"set {set_id} cannot be worked out: {'; '.join(problems)}")
    return tuple(found)
