"""The cut, glued, gripped club in numbers, answered from the catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from specdb.catalogue import Catalogue
from specdb.verbs.clubs.clubs import ClubRequest, NamedClub, find_club


@dataclass(frozen=True, slots=True)
class MechanicsAnswer:
    """A club in numbers.

    Attributes
    ----------
    club : NamedClub
        The club.
    values : dict
        Numbers by stable key, units in the names; ``sd`` holds their standard deviations.
    measured_frequency_cpm : float or None
        What was measured on the fitted club, at the same clamp, where it is this very club.
    """

    club: NamedClub
    values: dict[str, Any]
    measured_frequency_cpm: float | None

    def to_json(self) -> dict[str, Any]:
        """The numbers as plain values."""
        return self.values


def mechanics_of(catalogue: Catalogue, asked: ClubRequest) -> MechanicsAnswer:
    """Work a club out.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    asked : ClubRequest
        The club.

    Raises
    ------
    NotFoundError
        If the catalogue lacks a part that was named.
    BuildError, MissingDataError
        If the club cannot be built, or a measurement is missing.
    """
    with catalogue.read() as reader:
        club = find_club(reader, asked)
    values = club_values(club)
    return MechanicsAnswer(club, values, _measured(asked, club, values["clamp_in"]))


def club_values(club: NamedClub) -> dict[str, Any]:
    """Numbers of a club by stable key.

    Parameters
    ----------
    club : NamedClub
        The club.
    """
    from specdb.mechanics.assembly import assemble
    from specdb.mechanics.club import installed
    from specdb.mechanics.constants import IN
    from specdb.mechanics.report import club_json

    assembly = assemble(club.parts())
    state = installed([assembly.model], [assembly.tip_trim_in * IN], assembly.build)
    values = club_json(assembly, state)
    values["assumed"] = [*club.said, *values["assumed"]]
    return values


def _measured(asked: ClubRequest, club: NamedClub, clamp_in: float) -> float | None:
    """The frequency measured on the fitted club, where the numbers are of that club and that clamp."""
    record = club.record
    changed = ClubRequest(club=asked.club) != asked
    if record is None or changed or record.frequency_cpm is None:
        return None
    clamp = 5.0 if record.frequency_clamp_in is None else record.frequency_clamp_in
    return record.frequency_cpm if abs(clamp - clamp_in) < 1e-6 else None
