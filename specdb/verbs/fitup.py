"""Does this tip go in this bore, answered from the catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue, Reader
from specdb.verbs.clubs import ClubRequest, NamedClub, find_club

if TYPE_CHECKING:
    from specdb.fitup.question import FitQuestion, Shelf
    from specdb.fitup.report import FitReport
    from specdb.records.rows import AdapterSetting

_ON_SHELF = ("adapter", "sleeve", "ferrule")
_RETIRED = "retired"


def shelf_of(reader: Reader) -> Shelf:
    """The parts a preparation may use, with what is on hand.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    """
    from specdb.fitup.question import Shelf

    settings: dict[str, list[AdapterSetting]] = {}
    for setting in reader.rows("adapter_setting"):
        settings.setdefault(setting.adapter_id, []).append(setting)
    stock: dict[tuple[str, str], int | None] = {}
    parts = {kind: tuple(r for r in reader.rows(kind) if r.status != _RETIRED) for kind in _ON_SHELF}
    for kind in _ON_SHELF:
        held = reader.stock(kind)
        # once a shop books a kind of part, a part without a booking is not there
        stock.update({(kind, part.id): held.get(part.id, 0 if held else None) for part in parts[kind]})
    return Shelf(
        adapters=parts["adapter"],
        sleeves=parts["sleeve"],
        ferrules=parts["ferrule"],
        settings_by_adapter={key: tuple(found) for key, found in settings.items()},
        in_stock=stock,
    )


def fit_question(club: NamedClub, hand: str | None = None) -> FitQuestion:
    """The question for the fit-up check.

    Parameters
    ----------
    club : NamedClub
        The build.
    hand : str or None
        Hand of the player.
    """
    from specdb.fitup.question import FitQuestion

    asked = club.request
    return FitQuestion(
        shaft=club.shaft,
        readings=club.readings,
        head=club.head,
        hand=hand,
        adapter=club.adapter,
        settings=club.settings,
        setting=asked.setting,
        sleeve=club.sleeve,
        ferrule=club.ferrule,
        grip=club.grip,
        adhesive=club.adhesive,
        tip_trim_in=asked.tip_trim_in or 0.0,
        insertion_in=asked.insertion_in,
        playing_length_in=asked.length_in,
        wanted_loft_deg=asked.loft_deg,
        wanted_lie_deg=asked.lie_deg,
    )


def fitup_of(catalogue: Catalogue, asked: ClubRequest, *, hand: str | None = None) -> FitReport:
    """Judge a build and plan what must be done first.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    asked : ClubRequest
        The build.
    hand : str or None
        Hand of the player, where it matters.

    Raises
    ------
    NotFoundError
        If the catalogue lacks a part that was named.
    """
    from specdb.fitup import plan

    with catalogue.read() as reader:
        question = fit_question(find_club(reader, asked), hand)
        shelf = shelf_of(reader)
    return plan(question, shelf)
