"""The club that a sheet is written for and a finished club is judged by: with its stand-in, prepared for the bore."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Reader
from specdb.orders.as_built import BuiltUnit
from specdb.records.rows import Club
from specdb.verbs.building.shaft_of_build import shaft_of_build
from specdb.verbs.clubs.clubs import ClubRequest, NamedClub, find_club
from specdb.verbs.clubs.fitup import fit_question, shelf_of

if TYPE_CHECKING:
    from specdb.fitup.question import FitQuestion, Shelf
    from specdb.fitup.report import FitReport


@dataclass(frozen=True, slots=True)
class SheetRequest:
    """Which club is to be built, for whom, with what.

    Attributes
    ----------
    club : str
        Key of the fitted club.
    shaft : str or None
        Another shaft; the chosen stand-in, else the fitted shaft where None.
    tip_trim_in : float or None
        Tip trim of that shaft, in.
    order : str or None
        Key of the order.
    line, unit : int or None
        Which club of the order; the first of this fitted club where None.
    """

    club: str
    shaft: str | None = None
    tip_trim_in: float | None = None
    order: str | None = None
    line: int | None = None
    unit: int | None = None

    @property
    def built_unit(self) -> BuiltUnit:
        """Which club it is once it is finished."""
        return BuiltUnit(self.club, self.order, self.line, self.unit)


@dataclass(frozen=True, slots=True)
class PreparedBuild:
    """A club as it is built.

    Attributes
    ----------
    record : Club
        The fitted club.
    club : NamedClub
        The build, with the preparation done.
    report : FitReport
        Its fit-up; the tip trim is settled, as it sets the stiffness that was fitted.
    values : dict
        Its numbers, by the keys of ``mechanics``.
    said : tuple of str
        Why it is built with this shaft, in plain sentences.
    """

    record: Club
    club: NamedClub
    report: FitReport
    values: dict[str, Any]
    said: tuple[str, ...]


def prepared_build(
    reader: Reader,
    asked: SheetRequest,
    *,
    piece: str | None = None,
    clamp_in: float | None = None,
    shelf: Shelf | None = None,
) -> PreparedBuild:
    """The club as it is built: with the stand-in, prepared for the bore.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    asked : SheetRequest
        Which club.
    piece : str or None
        Measured piece of the shaft.
    clamp_in : float or None
        Clamped length of butt for the frequency, in.
    shelf : Shelf or None
        Parts that a preparation may use; read where None.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the club, a part or the order.
    BuildError, MissingDataError
        If the club cannot be built, or a measurement is missing.
    """
    from specdb.fitup import plan
    from specdb.fitup.check import check_named
    from specdb.fitup.planner import TRIM_SETTLED
    from specdb.fitup.report import CheckVerdict
    from specdb.verbs.clubs.mechanics import club_values

    record: Club = reader.get("club", asked.club)
    request, said = _request(reader, asked, record)
    if piece is not None:
        request = replace(request, sample=piece)
    if clamp_in is not None:
        request = replace(request, clamp_in=clamp_in)
    fitted = find_club(reader, request, but=asked.built_unit)
    parts = shelf_of(reader) if shelf is None else shelf
    question = fit_question(fitted)
    report = plan(question, parts, allowed=TRIM_SETTLED)
    club = _prepared(reader, fitted, report, asked.built_unit)
    values = club_values(club)
    # what restores the swingweight hangs on the bond too, and is known only now
    loaded = replace(report.prepared or question, head_add_g=values["head_add_g"])
    if any(c.verdict is CheckVerdict.DOES_NOT_FIT for c in check_named(loaded, ("bond",))):
        report = plan(replace(question, head_add_g=values["head_add_g"]), parts, allowed=TRIM_SETTLED)
        club = _prepared(reader, fitted, report, asked.built_unit)
        values = club_values(club)
    return PreparedBuild(record, club, report, values, tuple(said))


def aimed_moment_in_oz(record: Club, values: dict[str, Any]) -> float:
    """Swing moment that a finished club is judged by, in·oz: that of the fitting, else what the build works out.

    Parameters
    ----------
    record : Club
        The fitted club.
    values : dict
        Numbers of the build, by the keys of ``mechanics``.
    """
    from specdb.mechanics.swingweight import to_moment_in_oz

    return float(values["swing_moment_in_oz"]) if record.swingweight is None else to_moment_in_oz(record.swingweight)


def _request(reader: Reader, asked: SheetRequest, record: Club) -> tuple[ClubRequest, list[str]]:
    """What is to be built: the shaft asked for, that of the order, the one that was chosen, or the fitted one."""
    request = ClubRequest(club=record.id)
    if asked.shaft is not None:
        return replace(request, shaft=asked.shaft, tip_trim_in=asked.tip_trim_in), []
    shaft = shaft_of_build(reader, record, order=asked.order, line=asked.line, unit=asked.unit)
    if shaft.stand_in is None:
        return replace(request, tip_trim_in=asked.tip_trim_in), list(shaft.said)
    trim = asked.tip_trim_in if asked.tip_trim_in is not None else shaft.tip_trim_in
    return replace(request, shaft=shaft.stand_in, tip_trim_in=trim), list(shaft.said)


def _prepared(reader: Reader, club: NamedClub, report: FitReport, but: BuiltUnit) -> NamedClub:
    """The build with the preparation done, as it will be worked out and measured."""
    built: FitQuestion | None = report.prepared
    if built is None:
        return club
    request = replace(
        club.request,
        club=None,
        adapter=None if built.adapter is None else built.adapter.id,
        setting=built.setting,
        sleeve=None if built.sleeve is None else built.sleeve.id,
        ferrule=None if built.ferrule is None else built.ferrule.id,
        insertion_in=built.insertion_in,
        tip_trim_in=built.tip_trim_in,
    )
    return replace(find_club(reader, request, but=but), said=club.said)
