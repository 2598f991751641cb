"""Fitted clubs, those whose shaft cannot be had first, and why it cannot, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue
from specdb.verbs.catalogue.holdings import kept_for, on_hand_words

if TYPE_CHECKING:
    from specdb.catalogue.stock import SupplyState
    from specdb.records.rows import Club

BACKORDERED, NONE_ON_HAND, NOT_BOOKED, ON_HAND = range(4)
_RETIRED = "retired"
_CHOSEN = "chosen"


@dataclass(frozen=True, slots=True)
class FittedClub:
    """One fitted club and how its shaft is to be had.

    Attributes
    ----------
    key, player, label : str
        Its key, whose it is and what it is; empty where unknown.
    shaft_id, head_id : str
        Its parts.
    playing_length_in : float
        Finished length, in.
    state : int
        ``BACKORDERED``, ``NONE_ON_HAND``, ``NOT_BOOKED`` or ``ON_HAND``, in that order of need.
    supply : str
        The same in words, with numbers and days.
    chosen : tuple of str
        Stand-ins that were chosen for it.
    """

    key: str
    player: str
    label: str
    shaft_id: str
    head_id: str
    playing_length_in: float
    state: int
    supply: str
    chosen: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The club as plain values."""
        return asdict(self)


def fitted_clubs(catalogue: Catalogue) -> list[FittedClub]:
    """Fitted clubs that are not retired, those in need of a stand-in first, then by key.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    with catalogue.read() as reader:
        clubs: list[Club] = [c for c in reader.rows("club") if c.status != _RETIRED]
        stock, supply, kept = reader.stock("shaft"), reader.supply("shaft"), kept_for(reader, "shaft")
        chosen: dict[str, list[str]] = {}
        for choice in reader.rows("choice"):
            if choice.decision == _CHOSEN:
                chosen.setdefault(choice.club_id, []).append(choice.shaft_id)
    found = []
    for club in clubs:
        # once a shop books shafts, a shaft without a booking is not there
        pieces = stock.get(club.shaft_id, 0) if stock else None
        state, words = how_to_be_had(pieces, supply.get(club.shaft_id), kept.get(club.shaft_id, ()))
        found.append(
            FittedClub(
                key=club.id,
                player=club.player or "",
                label=club.label or "",
                shaft_id=club.shaft_id,
                head_id=club.head_id,
                playing_length_in=club.playing_length_in,
                state=state,
                supply=words,
                chosen=tuple(sorted(chosen.get(club.id, ()))),
            )
        )
    # a club that has its stand-in waits for nobody
    return sorted(found, key=lambda c: (c.state, bool(c.chosen), c.key))


def how_to_be_had(
    pieces: int | None, supply: SupplyState | None, kept_for: Sequence[tuple[str, int]] = ()
) -> tuple[int, str]:
    """How a part is to be had: its state and that in words.

    Parameters
    ----------
    pieces : int or None
        Pieces on hand; None where no stock is booked of such parts at all.
    supply : SupplyState or None
        What suppliers say; None where nothing is known.
    kept_for : sequence of (str, int)
        Orders that pieces are kept for, with how many; said beside.

    Returns
    -------
    state : int
        ``BACKORDERED``, ``NONE_ON_HAND``, ``NOT_BOOKED`` or ``ON_HAND``.
    words : str
        Such as ``backordered, expected 2031-02-03``.
    """
    coming = []
    if supply is not None:
        if supply.ordered:
            coming.append(f"{supply.ordered} on order")
        if supply.expected_on is not None:
            coming.append(f"expected {supply.expected_on.isoformat()}")
    if pieces is not None and pieces > 0:
        # what is on the shelf can be used, whatever the suppliers say
        also = ["supplier has none"] if supply is not None and supply.backordered else []
        return ON_HAND, ", ".join([on_hand_words(pieces, kept_for), *also])
    if supply is not None and supply.backordered:
        return BACKORDERED, ", ".join(["backordered", *coming])
    if pieces is None:
        return NOT_BOOKED, ", ".join(["no stock booked", *coming])
    return NONE_ON_HAND, ", ".join(["none on hand", *coming])
