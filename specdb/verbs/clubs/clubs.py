"""A club from the catalogue, or put together from named parts, ready for the computing layers."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

from specdb.catalogue import Reader
from specdb.errors import NotFoundError, UsageError
from specdb.mechanics import constants
from specdb.mechanics.assembly import Parts
from specdb.mechanics.estimated import EstimatedProfiles
from specdb.mechanics.profile import ShaftModel
from specdb.orders.as_built import BuiltUnit
from specdb.records.rows import Adapter, AdapterSetting, Adhesive, Club, Head, Shaft, ShaftReading
from specdb.verbs.stiffness.corrections import readings_of
from specdb.verbs.stiffness.estimates import kept_profiles, profiles_without
from specdb.verbs.stiffness.pieces import model_of_piece


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubRequest:
    """Which club is meant: one from the catalogue, parts by name, or the first changed by the second.

    Attributes
    ----------
    club : str or None
        Key of a fitted club.
    shaft, head, adapter, setting, sleeve, ferrule, grip, adhesive : str or None
        Keys of parts; they take the place of the club's own.
    sample : str or None
        Measured piece of the shaft.
    tip_trim_in, insertion_in, length_in, clamp_in, head_add_g : float or None
        In the units of their names; they take the place of the club's own.
    swingweight : str or None
        Such as ``D2.5``.
    loft_deg, lie_deg : float or None
        Wanted loft and lie, degrees.
    """

    club: str | None = None
    shaft: str | None = None
    sample: str | None = None
    head: str | None = None
    adapter: str | None = None
    setting: str | None = None
    sleeve: str | None = None
    ferrule: str | None = None
    grip: str | None = None
    adhesive: str | None = None
    tip_trim_in: float | None = None
    insertion_in: float | None = None
    length_in: float | None = None
    clamp_in: float | None = None
    head_add_g: float | None = None
    swingweight: str | None = None
    loft_deg: float | None = None
    lie_deg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedClub:
    """A request with its records found.

    Attributes
    ----------
    request : ClubRequest
        What was asked for, completed from the fitted club.
    record : Club or None
        The fitted club, where one was named.
    shaft, readings, head, adapter, setting, settings, sleeve, ferrule, grip, adhesive
        Records; None where there is none. ``settings`` are all settings of the adapter.
    said : tuple of str
        What was taken where nothing was said, in plain sentences.
    estimates : EstimatedProfiles or None
        The kept estimate of the shaft.
    piece : ShaftModel or None
        The measured piece it was built from.
    piece_said : str
        What was taken for the piece, in a plain sentence; empty where none was named.
    """

    request: ClubRequest
    record: Club | None
    shaft: Shaft
    readings: tuple[ShaftReading, ...]
    head: Head
    adapter: Adapter | None
    settings: tuple[AdapterSetting, ...]
    sleeve: Any
    ferrule: Any
    grip: Any
    adhesive: Adhesive | None
    said: tuple[str, ...]
    estimates: EstimatedProfiles | None = None
    piece: ShaftModel | None = None
    piece_said: str = ""

    def parts(self) -> Parts:
        """The club for the mechanics.

        Raises
        ------
        UsageError
            If no playing length is known.
        """
        asked = self.request
        if asked.length_in is None:
            raise UsageError("give the playing length (--length), or a club from the catalogue (--club)")
        return Parts(
            shaft=self.shaft,
            readings=self.readings,
            estimates=self.estimates,
            model=self.piece,
            model_said=self.piece_said,
            head=self.head,
            adapter=self.adapter,
            sleeve=self.sleeve,
            ferrule=self.ferrule,
            grip=self.grip,
            tip_trim_in=asked.tip_trim_in or 0.0,
            insertion_in=asked.insertion_in,
            playing_length_in=asked.length_in,
            swingweight=asked.swingweight,
            head_add_g=asked.head_add_g,
            clamp_in=constants.CLAMP_IN if asked.clamp_in is None else asked.clamp_in,
        )


def request_of(club: Club) -> ClubRequest:
    """The request that means a fitted club as its record says.

    Parameters
    ----------
    club : Club
        The record.
    """
    return ClubRequest(
        club=club.id,
        shaft=club.shaft_id,
        sample=club.shaft_sample,
        head=club.head_id,
        adapter=club.adapter_id,
        setting=club.adapter_setting,
        sleeve=club.sleeve_id,
        ferrule=club.ferrule_id,
        grip=club.grip_id,
        adhesive=club.adhesive_id,
        tip_trim_in=club.tip_trim_in,
        insertion_in=club.insertion_in,
        length_in=club.playing_length_in,
        clamp_in=club.frequency_clamp_in,
        head_add_g=club.head_add_g,
        swingweight=club.swingweight,
        loft_deg=club.loft_deg,
        lie_deg=club.lie_deg,
    )


def complete(reader: Reader, asked: ClubRequest) -> tuple[ClubRequest, Club | None, list[str]]:
    """Fill a request up from the fitted club it names.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    asked : ClubRequest
        The request.

    Returns
    -------
    request : ClubRequest
        The whole request.
    club : Club or None
        The fitted club.
    said : list of str
        What was taken where nothing was said.
    """
    if asked.club is None:
        return asked, None, []
    club: Club = reader.get("club", asked.club)
    base = request_of(club)
    given = {f.name: getattr(asked, f.name) for f in fields(asked) if getattr(asked, f.name) is not None}
    said: list[str] = []
    another = {name for name in ("shaft", "head", "adapter") if name in given and given[name] != getattr(base, name)}
    if "shaft" in another:
        # what was cut off another shaft, and the sleeve that fitted it, say nothing about this one
        base = replace(base, tip_trim_in=None, sleeve=None, sample=None)
        if "tip_trim_in" not in given:
            said.append(f"tip trim of {given['shaft']} not given: 0 in taken")
    if "head" in another:
        base = replace(base, adapter=None, setting=None, insertion_in=None, loft_deg=None, lie_deg=None)
    if "adapter" in another:
        # the same connection usually has the same settings; the check says where it has not
        base = replace(base, insertion_in=None)
    if "head_add_g" in given and "swingweight" not in given:
        base = replace(base, swingweight=None)
    return replace(base, **given), club, said


def find_club(reader: Reader, asked: ClubRequest, *, but: BuiltUnit | None = None) -> NamedClub:
    """Find the records of a club.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    asked : ClubRequest
        The request.
    but : BuiltUnit or None
        A finished club whose own frequency is not to count, as the answer is to judge it.

    Raises
    ------
    NotFoundError
        If the catalogue lacks one of them; near matches are named.
    UsageError
        If neither a club nor a shaft and a head are named.
    """
    request, record, said = complete(reader, asked)
    if request.shaft is None or request.head is None:
        raise UsageError("name a club (--club), or a shaft and a head (--shaft and --head)")

    def part(kind: str, key: str | None) -> Any:  # noqa: ANN401 (the record of the kind)
        return None if key is None else reader.get(kind, key)

    settings: tuple[AdapterSetting, ...] = ()
    if request.adapter is not None:
        settings = tuple(reader.settings_of(request.adapter))
        if request.setting is not None and request.setting not in {s.setting for s in settings}:
            raise NotFoundError(f"setting of adapter {request.adapter}", request.setting, [s.setting for s in settings])
    piece, piece_said = model_of_piece(reader, request.shaft, request.sample, but)
    return NamedClub(
        request=request,
        record=record,
        shaft=reader.get("shaft", request.shaft),
        readings=tuple(readings_of(reader, request.shaft)),
        head=reader.get("head", request.head),
        adapter=part("adapter", request.adapter),
        settings=settings,
        sleeve=part("sleeve", request.sleeve),
        ferrule=part("ferrule", request.ferrule),
        grip=part("grip", request.grip),
        adhesive=part("adhesive", request.adhesive),
        said=tuple(said),
        estimates=kept_profiles(reader, request.shaft) if but is None else profiles_without(reader, request.shaft, but),
        piece=piece,
        piece_said=piece_said,
    )
