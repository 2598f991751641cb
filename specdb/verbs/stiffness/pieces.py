"""The measured piece that a club was built from: its own stiffness and weight in place of any piece of the shaft."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from specdb.catalogue import Reader
from specdb.errors import NotFoundError
from specdb.records.rows import Shaft
from specdb.verbs.stiffness.corrections import readings_of
from specdb.verbs.stiffness.finished import finished_clubs

if TYPE_CHECKING:
    from specdb.mechanics.profile import ShaftModel
    from specdb.orders.as_built import BuiltUnit

PUBLISHED = "published"


def piece_named(sample: str) -> str:
    """A piece with the word for it before its name, unless the name has it.

    Parameters
    ----------
    sample : str
        Name of the piece.
    """
    return sample if sample.lower().startswith("piece") else f"piece {sample}"


def measured_pieces(reader: Reader, shaft_id: str) -> tuple[str, ...]:
    """Pieces of a shaft that were on the bench, in order of name.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str
        The shaft.
    """
    return tuple(sorted({r.sample for r in reader.readings_of(shaft_id)} - {PUBLISHED}))


def piece_model(reader: Reader, shaft_id: str, sample: str, but: BuiltUnit | None = None) -> ShaftModel:
    """One measured piece of a shaft for the mechanics, from its readings and from what is known of the shaft.

    What is not known of the shaft at all (torque, balance point) stays unknown.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str
        The shaft.
    sample : str
        The piece, as its readings name it.
    but : BuiltUnit or None
        A finished club that is not to count.

    Raises
    ------
    NotFoundError
        If there is no such shaft, or no reading tells the stiffness or the weight of that piece.
    MissingDataError
        If the raw length of the shaft is unknown.
    """
    import numpy as np

    from specdb.mechanics.shaft_table import ShaftTable
    from specdb.profiles.estimate import estimate
    from specdb.profiles.evidence import make_case
    from specdb.profiles.population import builtin
    from specdb.verbs.stiffness.estimates import kept_population

    shaft: Shaft = reader.get("shaft", shaft_id)
    readings = readings_of(reader, shaft_id)
    case = make_case(shaft, readings, finished_clubs(reader, [shaft_id], but=but).get(shaft_id, ()))
    if sample not in case.pieces or sample == PUBLISHED:
        raise NotFoundError("measured piece", sample, [p for p in case.pieces if p != PUBLISHED])
    model = estimate(case, kept_population(reader) or builtin()).model(sample)
    table = ShaftTable.from_records([shaft], readings)
    if not np.isfinite(table.balance_m[0]):
        model = replace(model, balance_from_tip_m=None, balance_sd_m=float(table.balance_sd_m[0]))
    if not np.isfinite(table.twist_rad_per_nm[0]):
        model = replace(model, twist_rad_per_nm=None, twist_sd=0.0)
    return model


def model_of_piece(
    reader: Reader, shaft_id: str, sample: str | None, but: BuiltUnit | None = None
) -> tuple[ShaftModel | None, str]:
    """The piece that a club names, for its mechanics, and what is said about it.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    shaft_id : str
        The shaft.
    sample : str or None
        The piece; None where the club names none.
    but : BuiltUnit or None
        A finished club that is not to count.

    Returns
    -------
    model : ShaftModel or None
        None where any piece of the shaft has to be taken.
    said : str
        A plain sentence; empty where the club names no piece.
    """
    if sample is None:
        return None, ""
    try:
        return piece_model(reader, shaft_id, sample, but), f"the measured {piece_named(sample)} was taken"
    except NotFoundError:
        named = piece_named(sample)
        return None, f"no reading tells what {named} of {shaft_id} is like: any piece of the shaft was taken"
