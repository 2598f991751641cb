"""The demonstration: an invented catalogue, and the main job done on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue, Reader
from specdb.errors import CatalogueDamagedError, ConflictError, NotFoundError
from specdb.paths import demo_catalog_folder
from specdb.verbs.catalogue.opening import create, open  # noqa: A004 (as the verb is named)
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.clubs.fitup import fitup_of
from specdb.verbs.clubs.mechanics import MechanicsAnswer, mechanics_of
from specdb.verbs.matching.substitutes import SearchOptions, SubstitutesAnswer, substitutes_of

if TYPE_CHECKING:
    from specdb.fitup.report import FitReport
    from specdb.matching.result import Substitute

FILE_NAME = "specdb-demo.duckdb"
MARK = "demonstration catalogue, everything in it is invented"
_COUNTED = ("shaft", "shaft_reading", "head", "adapter", "grip", "club")
_TOP = 5


@dataclass(frozen=True, slots=True)
class DemoAnswer:
    """What the demonstration shows.

    Attributes
    ----------
    path : Path
        The catalogue.
    made : bool
        Whether it is new.
    counts : dict of str to int
        How many rows it has, by kind.
    club : str
        The fitted club whose shaft is backordered.
    search : SubstitutesAnswer
        Stand-ins on hand.
    fit : FitReport or None
        Whether the nearest of them goes in, and what must be done first.
    build : MechanicsAnswer or None
        The club built with it.
    """

    path: Path
    made: bool
    counts: dict[str, int]
    club: str
    search: SubstitutesAnswer
    fit: FitReport | None
    build: MechanicsAnswer | None


def demo(path: Path, *, progress: Callable[[str], None] | None = None) -> DemoAnswer:
    """Make the demonstration catalogue, or take the one that is there, and run the main job on it.

    Parameters
    ----------
    path : Path
        Where the catalogue lies or is to lie.
    progress : callable or None
        Told what is being done.

    Raises
    ------
    ConflictError
        If there is another catalogue at that place; it is never overwritten.
    """
    tell = progress or (lambda _: None)
    tell("making the demonstration catalogue")
    catalogue, made = demo_catalogue(path)
    with catalogue.read() as reader:
        counts = {kind: reader.count(kind) for kind in _COUNTED}
        club = backordered_club(reader)
    tell("looking for stand-ins")
    search = substitutes_of(catalogue, ClubRequest(club=club), SearchOptions(in_stock=True, top=_TOP))
    if not search.report.results:
        return DemoAnswer(path, made, counts, club, search, None, None)
    request = build_request(club, search.report.results[0])
    fit, build = fitup_of(catalogue, request), mechanics_of(catalogue, request)
    return DemoAnswer(path, made, counts, club, search, fit, build)


def demo_catalogue(path: Path) -> tuple[Catalogue, bool]:
    """The demonstration catalogue at a path, made where there is no file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    catalogue : Catalogue
        The catalogue.
    made : bool
        Whether it is new.

    Raises
    ------
    ConflictError
        If there is another file at that place.
    """
    if path.exists():
        held = open(path)
        if not _is_demo(held):
            raise ConflictError(
                f"{path} is there already and is not the demonstration catalogue; name another file with --catalogue"
            )
        return held, False
    from specdb.catalogue.package import import_package

    # a half-made demonstration must not lie where the next run looks for a whole one
    fresh = path.with_name(f".{path.name}.new")
    for leftover in _files_of(fresh):
        leftover.unlink(missing_ok=True)
    try:
        import_package(create(fresh), demo_catalog_folder(), by="specdb demo", why=MARK)
        fresh.replace(path)
    finally:
        for leftover in _files_of(fresh):
            leftover.unlink(missing_ok=True)
    return open(path), True


def _files_of(path: Path) -> tuple[Path, ...]:
    return (path, *(path.with_name(path.name + end) for end in (".gate", ".turn", ".wal")))


def _is_demo(catalogue: Catalogue) -> bool:
    try:
        with catalogue.read() as reader:
            first = reader.history(change_no=1, limit=1)
    except CatalogueDamagedError:
        return False
    return bool(first) and first[0].why == MARK


def backordered_club(reader: Reader) -> str:
    """The fitted club that has waited longest for a shaft that cannot be had now.

    Parameters
    ----------
    reader : Reader
        The catalogue.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    stock, supply = reader.stock("shaft"), reader.supply("shaft")
    waiting = []
    for club in reader.rows("club", include_retired=False, order_by=("fitted_on", "id")):
        state = supply.get(club.shaft_id)
        if state is not None and state.backordered and stock.get(club.shaft_id, 0) <= 0:
            # a driver first, as everybody knows one
            head = reader.get("head", club.head_id)
            waiting.append((head.club_type != "wood", head.number != "1", str(club.id)))
    if waiting:
        return min(waiting)[2]
    raise NotFoundError("club", "with a backordered shaft")


def build_request(club: str, stand_in: Substitute) -> ClubRequest:
    """The club as it would be built with a stand-in.

    Parameters
    ----------
    club : str
        Key of the fitted club.
    stand_in : Substitute
        The stand-in.
    """
    parts = {s.part_kind: s.part_id for s in stand_in.preparation if s.part_kind and s.part_id}
    return ClubRequest(
        club=club,
        shaft=stand_in.shaft_id,
        tip_trim_in=stand_in.tip_trim_in,
        adapter=parts.get("adapter"),
        sleeve=parts.get("sleeve"),
        ferrule=parts.get("ferrule"),
    )
