"""Choosing a model for all clubs of a fitted set, or turning it down, all or none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from specdb.catalogue import Catalogue
from specdb.errors import UsageError
from specdb.verbs.catalogue.changing import keep_decision
from specdb.verbs.matching.substitutes import CHOSEN, REJECTED, SearchOptions
from specdb.verbs.sets.substitutes import set_substitutes_of, why_not_for_set

if TYPE_CHECKING:
    from specdb.sets.result import SetStandIn

_LOOKED_AT = 50


def choose_for_set(
    catalogue: Catalogue, set_id: str, stand_in: SetStandIn, *, by: str | None = None, why: str | None = None
) -> list[str]:
    """Keep a proposed model as chosen for every club of a set, all or none.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    set_id : str
        The set.
    stand_in : SetStandIn
        As it was proposed.
    by, why : str or None
        Who and why.

    Returns
    -------
    list of str
        The clubs.
    """
    return _decide_for_set(catalogue, set_id, stand_in, CHOSEN, by=by, why=why)


def reject_for_set(
    catalogue: Catalogue, set_id: str, stand_in: SetStandIn, *, by: str | None = None, why: str | None = None
) -> list[str]:
    """Turn a proposed model down for every club of a set, with the shafts it was proposed with, all or none.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    set_id : str
        The set.
    stand_in : SetStandIn
        As it was proposed; other ways of the same model, with other shafts, may still be proposed.
    by, why : str or None
        Who and why.

    Returns
    -------
    list of str
        The clubs.
    """
    return _decide_for_set(catalogue, set_id, stand_in, REJECTED, by=by, why=why)


def _decide_for_set(
    catalogue: Catalogue, set_id: str, stand_in: SetStandIn, decision: str, *, by: str | None, why: str | None
) -> list[str]:
    chosen = decision == CHOSEN
    with catalogue.write(by=by, why=why, done=f"{decision} {stand_in.model} for set {set_id}") as writer:
        for club in stand_in.clubs:
            own = club.substitute
            if own.shaft_id == writer.get("club", club.club_id).shaft_id and not chosen:
                continue  # what it was fitted with is no stand-in of it
            keep_decision(
                writer,
                club.club_id,
                own.shaft_id,
                decision,
                tip_trim_in=own.tip_trim_in if chosen else None,
                score=own.score if chosen else None,
                by=by,
                why=why,
            )
    return [club.club_id for club in stand_in.clubs]


def choose_model(
    catalogue: Catalogue, set_id: str, shaft: str, *, by: str | None = None, why: str | None = None
) -> SetStandIn:
    """Keep the model of a shaft as chosen for a set, as it is proposed.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    set_id : str
        The set.
    shaft : str
        Key of one of the model's shafts.
    by, why : str or None
        Who and why.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the set or the shaft.
    UsageError
        If the model is not proposed for the set; the sentence says why.
    """
    found = _as_proposed(catalogue, set_id, shaft)
    choose_for_set(catalogue, set_id, found, by=by, why=why)
    return found


def reject_model(
    catalogue: Catalogue, set_id: str, shaft: str, *, by: str | None = None, why: str | None = None
) -> SetStandIn:
    """Turn the model of a shaft down for a set, as it is proposed.

    Parameters
    ----------
    catalogue, set_id, shaft, by, why
        As of :func:`choose_model`.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the set or the shaft.
    UsageError
        If the model is not proposed for the set; the sentence says why.
    """
    found = _as_proposed(catalogue, set_id, shaft)
    reject_for_set(catalogue, set_id, found, by=by, why=why)
    return found


def _as_proposed(catalogue: Catalogue, set_id: str, shaft: str) -> SetStandIn:
    answer = set_substitutes_of(catalogue, set_id, SearchOptions(top=_LOOKED_AT))
    found = answer.proposed(shaft)
    if found is None:
        raise UsageError(f"not proposed for set {set_id}: {why_not_for_set(answer, shaft)}")
    return found
