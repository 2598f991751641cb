"""Does this tip go in this bore, answered from the catalogue."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue, Reader
from specdb.verbs.clubs.clubs import ClubRequest, NamedClub, find_club

if TYPE_CHECKING:
    from specdb.fitup.question import FitQuestion, Shelf
    from specdb.fitup.report import FitReport
    from specdb.records.rows import Adapter, AdapterSetting

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
        head_add_g=asked.head_add_g or 0.0,
    )


@dataclass(frozen=True, slots=True)
class FitInputs:
    """A build and the shelf, read once, so that it can be judged again and again without the catalogue.

    Attributes
    ----------
    club : NamedClub
        The build with its records.
    question : FitQuestion
        The question for the fit-up check.
    shelf : Shelf
        Parts that a preparation may use.
    """

    club: NamedClub
    question: FitQuestion
    shelf: Shelf

    def changed(self, *, tip_trim_in: float, insertion_in: float | None) -> FitInputs:
        """The same build with another tip trim and insertion.

        Parameters
        ----------
        tip_trim_in : float
            Cut off the tip, in.
        insertion_in : float or None
            How deep the tip sits, in; the full bore depth where None.
        """
        question = replace(self.question, tip_trim_in=tip_trim_in, insertion_in=insertion_in)
        return replace(self, question=question)

    def report(self) -> FitReport:
        """Judge the build and plan what must be done first."""
        from specdb.fitup import plan

        return plan(self.question, self.shelf)


def fit_inputs(catalogue: Catalogue, asked: ClubRequest, *, hand: str | None = None) -> FitInputs:
    """Read a build and the shelf.

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
    with catalogue.read() as reader:
        club = find_club(reader, asked)
        return FitInputs(club, fit_question(club, hand), shelf_of(reader))


def adapter_for(inputs: FitInputs) -> Adapter | None:
    """The adapter that goes best with the head and tip of a build; None where no adapter has its connection.

    Of those of the head's connection and hand the one with the best verdict, then the cheapest preparation, then one
    that is on the shelf.

    Parameters
    ----------
    inputs : FitInputs
        The build.
    """
    from specdb.fitup import plan
    from specdb.fitup.report import Verdict

    rank = {Verdict.FITS: 0, Verdict.FITS_WITH_PREPARATION: 1, Verdict.UNKNOWN: 2, Verdict.DOES_NOT_FIT: 3}
    head, shelf = inputs.question.head, inputs.shelf
    best: tuple[tuple[object, ...], Adapter] | None = None
    for adapter in shelf.adapters:
        if adapter.connection != head.connection or adapter.hand not in (None, "either", head.hand):
            continue
        settings = shelf.settings_by_adapter.get(adapter.id, ())
        report = plan(replace(inputs.question, adapter=adapter, settings=settings, setting=None), shelf)
        order = (rank[report.verdict], report.cost, shelf.has("adapter", adapter.id) is not True, adapter.id)
        if best is None or order < best[0]:
            best = (order, adapter)
    return None if best is None else best[1]


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
    return fit_inputs(catalogue, asked, hand=hand).report()
