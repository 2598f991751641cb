"""Fitted sets, answered from the catalogue: their clubs with all parts, and their mechanics as a whole."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import NotFoundError, UsageError
from specdb.records.rows import Club
from specdb.verbs.clubs.clubs import ClubRequest, NamedClub, find_club

if TYPE_CHECKING:
    from specdb.sets.mechanics import SetNumbers
    from specdb.sets.members import SetMember

_RETIRED = "retired"
_USUAL_CLAMP_IN = 5.0
_NEAR = 3


@dataclass(frozen=True, slots=True)
class NamedSet:
    """A fitted set with its records found.

    Attributes
    ----------
    set_id : str
        The set.
    clubs : tuple of NamedClub
        Its clubs.
    notes : tuple of str
        What is to be known, such as retired clubs that were left out.
    """

    set_id: str
    clubs: tuple[NamedClub, ...]
    notes: tuple[str, ...] = ()

    def members(self) -> tuple[SetMember, ...]:
        """The clubs for the computing layers."""
        return tuple(member_of(club) for club in self.clubs)


def find_set(reader: Reader, set_id: str) -> NamedSet:
    """Find the clubs of a set and all their parts.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    set_id : str
        Name of the set.

    Raises
    ------
    NotFoundError
        If no club belongs to it; near names are given.
    UsageError
        If clubs of it name parts that are not in the catalogue, or all of them are retired.
    """
    own: list[Club] = reader.rows("club", where=f"set_id = '{quoted(set_id)}'")
    if not own:
        names = sorted({c.set_id for c in reader.rows("club") if c.set_id})
        raise NotFoundError("set", set_id, difflib.get_close_matches(set_id, names, _NEAR) or names[:_NEAR])
    active = [c for c in own if c.status != _RETIRED]
    retired = [c.id for c in own if c.status == _RETIRED]
    if not active:
        raise UsageError(f"all clubs of set {set_id} are retired: {', '.join(retired)}")
    found, problems = [], []
    for club in active:
        try:
            found.append(find_club(reader, ClubRequest(club=club.id)))
        except NotFoundError as error:
            problems.append(f"club {club.id} lacks its {error.kind}: {error}")
    if problems:
        raise UsageError(f"set {set_id} is not whole: {'; '.join(problems)}")
    notes = (f"retired, so left out: {', '.join(retired)}",) if retired else ()
    return NamedSet(set_id, tuple(found), notes)


def quoted(text: str) -> str:
    """Text as it may stand between the quotes of a condition.

    Parameters
    ----------
    text : str
        Any text.
    """
    return text.replace("'", "''")


def member_of(club: NamedClub) -> SetMember:
    """A fitted club for the computing layer of sets.

    Parameters
    ----------
    club : NamedClub
        A club of the catalogue.

    Raises
    ------
    UsageError
        If it is no club of the catalogue.
    """
    from specdb.sets.members import SetMember

    record = club.record
    if record is None:
        raise UsageError("name a club of the catalogue")
    clamp = _USUAL_CLAMP_IN if record.frequency_clamp_in is None else record.frequency_clamp_in
    parts = club.parts()
    return SetMember(
        club_id=record.id,
        label=record.label or record.id,
        parts=parts,
        setting=club.request.setting,
        settings=club.settings,
        adhesive=club.adhesive,
        loft_deg=record.loft_deg,
        lie_deg=record.lie_deg,
        measured_cpm=record.frequency_cpm if abs(clamp - parts.clamp_in) < 1e-6 else None,
        said=club.said,
    )


@dataclass(frozen=True, slots=True)
class SetMechanicsAnswer:
    """A set in numbers.

    Attributes
    ----------
    named : NamedSet
        The set.
    numbers : SetNumbers
        Its numbers.
    """

    named: NamedSet
    numbers: SetNumbers

    def to_json(self) -> dict[str, Any]:
        """The numbers as plain values."""
        values = self.numbers.to_json()
        return {**values, "notes": [*self.named.notes, *values["notes"]]}


def set_mechanics_of(catalogue: Catalogue, set_id: str) -> SetMechanicsAnswer:
    """Work a set out.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    set_id : str
        Name of the set.

    Raises
    ------
    NotFoundError
        If no club belongs to it.
    UsageError
        If it has fewer than two clubs, or is not whole.
    BuildError
        If a club cannot be computed; the sentence names each and says why.
    """
    from specdb.sets.mechanics import set_numbers

    with catalogue.read() as reader:
        named = find_set(reader, set_id)
    return SetMechanicsAnswer(named, set_numbers(set_id, named.members()))
