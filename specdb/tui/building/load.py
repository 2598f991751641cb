"""Putting a club on the bench: all that the place Build shows of it, read in one go off the interface's thread."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from specdb.tui.building.judge import OnBench
from specdb.verbs.building.as_built import Finished, answer_of
from specdb.verbs.building.build_sheet import SheetRequest, clubs_of_set, sheet_of
from specdb.verbs.building.expected_build import expectation
from specdb.verbs.building.raw_weight import weighed_raw
from specdb.verbs.building.sheet_code import UnitMeant, whole_unit
from specdb.verbs.orders.orders import order_alone
from specdb.verbs.stiffness.corrections import calibrations_of
from specdb.verbs.stiffness.pieces import measured_pieces

if TYPE_CHECKING:
    from specdb.catalogue import Catalogue, Reader
    from specdb.records.rows import Club


def finished_of(meant: UnitMeant, piece: str = "") -> Finished:
    """A club on the bench as what comes off it.

    Parameters
    ----------
    meant : UnitMeant
        Which.
    piece : str
        The measured piece of its shaft; empty where none is named.
    """
    return Finished(club=meant.club, order=meant.order, line=meant.line, unit=meant.unit, piece=piece or None)


def put_on_bench(catalogue: Catalogue, meant: UnitMeant, piece: str = "") -> OnBench:
    """Read all that is shown of a club.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    meant : UnitMeant
        Which; of an order without a line, the first such club.
    piece : str
        The measured piece of its shaft; empty where none is named.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the club, a part or the order.
    UsageError
        If the order does not ask for the club.
    BuildError, MissingDataError
        If the club cannot be built, or a measurement is missing.
    """
    today = dt.date.today()  # noqa: DTZ011 (the shop's own day)
    with catalogue.read() as reader:
        meant = whole_unit(reader, meant)
        answer = answer_of(reader, finished_of(meant, piece))
        asked = SheetRequest(meant.club, order=meant.order, line=meant.line, unit=meant.unit)
        return OnBench(
            meant=meant,
            sheet=sheet_of(reader, asked, today, piece=answer.finished.piece),
            answer=answer,
            expected=answer.expected or expectation(reader, answer.finished),
            calibrations=calibrations_of(reader) if reader.count("reference_reading") else None,
            instruments=_instruments(reader),
            pieces=measured_pieces(reader, answer.shaft),
            mates=_mates(reader, meant),
            set_id=reader.get("club", meant.club).set_id,
            raw_weight_g=weighed_raw(reader, answer.shaft, answer.finished.piece),
        )


def _instruments(reader: Reader) -> tuple[str, ...]:
    """Names of instruments that anything was ever read with."""
    found: set[str] = set()
    for kind in ("as_built", "reference_reading", "shaft_reading"):
        names = reader.arrow(kind, ["instrument"])["instrument"].unique().to_pylist()
        found |= {name for name in names if name}
    return tuple(sorted(found))


def _mates(reader: Reader, meant: UnitMeant) -> tuple[UnitMeant, ...]:
    """Every club of the order; without one, every club of the set."""
    if meant.order is not None:
        keys = [unit.key for unit in order_alone(reader, meant.order).units]
        return tuple(UnitMeant(k.club_id, k.order_id, k.line, k.unit) for k in keys)
    club: Club = reader.get("club", meant.club)
    if club.set_id is None:
        return (meant,)
    return tuple(replace(meant, club=c.id) for c in clubs_of_set(reader, club.set_id))
