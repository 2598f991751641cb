"""Which shaft goes into a club of an order: the fitted one, or the stand-in that a person approved for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from specdb.orders.needs import Part
from specdb.orders.shelf import Shelf
from specdb.records.rows import Choice, Club

CHOSEN, REJECTED = "chosen", "rejected"


@dataclass(frozen=True, slots=True)
class Decisions:
    """What was decided about stand-ins for one club.

    Attributes
    ----------
    approved : tuple of str
        Shafts that were chosen, the latest decision first.
    rejected : frozenset of str
        Shafts that were turned down.
    """

    approved: tuple[str, ...] = ()
    rejected: frozenset[str] = frozenset()


def latest_first(choices: Iterable[Choice]) -> list[Choice]:
    """Decisions about one club, the latest first.

    The number of the decision tells two of one day apart; decisions without a number came before any that has one.

    Parameters
    ----------
    choices : iterable of Choice
        About one club.
    """
    return sorted(choices, key=lambda c: (c.decided_no or 0, c.on or dt.date.min, c.id), reverse=True)


def decisions_of(choices: Iterable[Choice]) -> dict[str, Decisions]:
    """Decisions by fitted club.

    Parameters
    ----------
    choices : iterable of Choice
        Of any clubs.
    """
    by_club: dict[str, list[Choice]] = {}
    for choice in choices:
        by_club.setdefault(choice.club_id, []).append(choice)
    found = {}
    for club, some in by_club.items():
        found[club] = Decisions(
            tuple(dict.fromkeys(c.shaft_id for c in latest_first(some) if c.decision == CHOSEN)),
            frozenset(c.shaft_id for c in some if c.decision == REJECTED),
        )
    return found


@dataclass(frozen=True, slots=True)
class ShaftChoice:
    """The shaft for one club.

    Attributes
    ----------
    shaft_id : str
        The shaft.
    stand_in : bool
        Whether it is not the fitted one.
    said : str
        Why, in a plain sentence; empty where it is the fitted one and there is nothing to say.
    against : tuple of str
        Why what was approved cannot be built, where nothing else can be had or it is kept, in plain sentences.
    """

    shaft_id: str
    stand_in: bool = False
    said: str = ""
    against: tuple[str, ...] = ()


def choose_shaft(
    club: Club,
    decisions: Decisions,
    shelf: Shelf,
    *,
    used: Collection[str] = (),
    kept: Collection[str] = (),
    left: Mapping[Part, int] | None = None,
    wanted_on: dt.date | None = None,
    cannot: Callable[[str], str] | None = None,
) -> ShaftChoice:
    """The shaft that a club is to be built with.

    A shaft that was built in or is kept for the club stays, if it is the fitted one or approved. Else it is the fitted
    one as long as a piece is free on the shelf, or is expected by the day the order is wanted; else the approved
    stand-in, one that is on the shelf before one that is not. An approved stand-in that cannot be built is passed over,
    and that is said.

    Parameters
    ----------
    club : Club
        The fitted club.
    decisions : Decisions
        What was decided about stand-ins for it.
    shelf : Shelf
        The stock.
    used, kept : collection of str
        Shafts that went into this club of the order, and those that are kept for it and on the shelf.
    left : mapping of Part to int or None
        Pieces still free, where others had their turn before; those of the shelf where None.
    wanted_on : date or None
        Day the order is wanted.
    cannot : callable or None
        Why the club cannot be built with a stand-in, from its key; empty where it can.
    """
    fitted = club.shaft_id
    for shaft in (*used, *kept):
        if shaft == fitted:
            return ShaftChoice(fitted)
        if shaft in decisions.approved:
            # what was built in needs nobody's eye any more
            said = "" if shaft in used else f"{club.id}: the approved stand-in {shaft} is kept for it"
            why = cannot(shaft) if cannot is not None and shaft not in used else ""
            return ShaftChoice(shaft, True, said, (why,) if why else ())

    def free(shaft: str) -> int:
        part = ("shaft", shaft)
        pieces = shelf.free(part)
        return pieces if left is None else left.get(part, pieces)

    if (
        "shaft" not in shelf.kept
        or not decisions.approved
        or free(fitted) > 0
        or shelf.by(("shaft", fitted), wanted_on)
    ):
        return ShaftChoice(fitted)
    reasons = {s: "" if cannot is None else cannot(s) for s in decisions.approved}
    usable = [s for s, why in reasons.items() if not why]
    if not usable:
        return ShaftChoice(fitted, against=tuple(reasons.values()))
    stand_in = next((s for s in usable if free(s) > 0), usable[0])
    arrivals = shelf.arrivals.get(("shaft", fitted), ())
    first = next((a.day for a in arrivals if a.day is not None), None)
    when = "is not expected on a known day" if first is None else f"is expected on {first.isoformat()}"
    why = f"{club.id}: the fitted {fitted} is not to be had (none free on the shelf; it {when})"
    passed_over = "".join(f"; passed over: {text}" for text in reasons.values() if text)
    return ShaftChoice(stand_in, True, f"{why}, so the approved stand-in {stand_in} goes in{passed_over}")
