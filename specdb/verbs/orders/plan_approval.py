"""Stand-ins that a plan proposes: a person approves or turns them down, a set as a whole."""

from __future__ import annotations

from collections.abc import Sequence

from specdb.catalogue import Catalogue
from specdb.orders.choosing import CHOSEN, REJECTED
from specdb.orders.plan import PlannedUnit
from specdb.verbs.catalogue.changing import keep_decision

__all__ = ["decide_planned"]


def decide_planned(
    catalogue: Catalogue,
    units: Sequence[PlannedUnit],
    *,
    approve: bool,
    by: str | None = None,
    why: str | None = None,
) -> list[str]:
    """Keep a decision about the shafts that a plan proposes for some clubs, in one change.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    units : sequence of PlannedUnit
        The clubs: one, or all of a set.
    approve : bool
        Whether the shafts are chosen; else they are turned down.
    by, why : str or None
        Who and why.

    Returns
    -------
    list of str
        The clubs, each once.
    """
    shafts = {u.key.club_id: u.option for u in units}
    named = " and ".join(sorted({u.set_id or u.key.club_id for u in units}))
    word = CHOSEN if approve else REJECTED
    with catalogue.write(by=by, why=why, done=f"{word} as planned for {named}") as writer:
        for club, option in shafts.items():
            keep_decision(
                writer,
                club,
                option.shaft_id,
                word,
                tip_trim_in=option.tip_trim_in if approve else None,
                score=round(option.score, 6) if approve else None,
                by=by,
                why=why,
            )
    return list(shafts)
