"""Whether a club or a set can be ordered: what is gone or cannot be built is said before anything is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from specdb.catalogue import Reader
from specdb.errors import BuildError, MissingDataError, NotFoundError, UsageError
from specdb.mechanics.cut import bored, cut
from specdb.orders.choosing import Decisions, decisions_of
from specdb.orders.needs import PIECES, RETIRED, members_of, retired_of_set
from specdb.records.rows import Club
from specdb.verbs.orders.orders import shelf_for_orders

_SHORT_BY_IN = 1e-6


@dataclass(frozen=True, slots=True)
class Wanted:
    """One line that an order is to have: a club or a set, so many times.

    Attributes
    ----------
    club_id, set_id : str or None
        One of them.
    quantity : int
        How many times.
    """

    club_id: str | None = None
    set_id: str | None = None
    quantity: int = 1

    @property
    def what(self) -> str:
        """The line in words."""
        return f"club {self.club_id}" if self.club_id is not None else f"set {self.set_id}"


class Orderable:
    """Looks clubs and sets up and says what stands against ordering them.

    Parameters
    ----------
    reader : Reader
        The catalogue; it must stay open.
    many : bool
        Whether many lines are to be looked up, so that all parts are read at once.
    """

    def __init__(self, reader: Reader, *, many: bool = False) -> None:
        self._reader = reader
        self._many = many
        self._clubs: dict[str, Club] = {c.id: c for c in reader.rows("club")}
        self._sets = members_of(self._clubs.values())
        self._shelf = shelf_for_orders(reader)
        self._decided = decisions_of(reader.rows("choice"))
        self._records: dict[str, dict[str, Any]] = {}
        self._judged: dict[str, str] = {}

    def named(self, text: str) -> Wanted:
        """The club or the set of a name; a club where both have it.

        Parameters
        ----------
        text : str
            The name.

        Raises
        ------
        NotFoundError
            If neither has it; near matches are named.
        """
        if text in self._clubs:
            return Wanted(club_id=text)
        if text in self._sets:
            return Wanted(set_id=text)
        raise NotFoundError("club or set", text, self._near(text, [*self._clubs, *self._sets]))

    @staticmethod
    def _near(text: str, known: Sequence[str]) -> list[str]:
        from difflib import get_close_matches

        return get_close_matches(text.lower(), known, n=3, cutoff=0.6)

    def clubs_of(self, wanted: Wanted) -> tuple[Club, ...]:
        """The clubs of a line.

        Parameters
        ----------
        wanted : Wanted
            The line.

        Raises
        ------
        NotFoundError
            If there is no such club, or no club belongs to the set.
        """
        if wanted.club_id is not None:
            if wanted.club_id not in self._clubs:
                raise NotFoundError("club", wanted.club_id, self._near(wanted.club_id, list(self._clubs)))
            return (self._clubs[wanted.club_id],)
        if wanted.set_id not in self._sets:
            raise NotFoundError("set", wanted.set_id or "", self._near(wanted.set_id or "", list(self._sets)))
        return self._sets[wanted.set_id]

    def against(self, wanted: Wanted) -> str:
        """Why a line cannot be ordered, in a sentence; empty where it can.

        Parameters
        ----------
        wanted : Wanted
            The line; its club or set must exist.
        """
        clubs = self.clubs_of(wanted)
        if wanted.set_id is not None:
            missing = retired_of_set(clubs, wanted.set_id)
            if missing:
                return missing
        return next((why for why in map(self._against, clubs) if why), "")

    def refuse(self, wanted: Wanted) -> None:
        """Raise if a line cannot be ordered.

        Parameters
        ----------
        wanted : Wanted
            The line.

        Raises
        ------
        UsageError, NotFoundError
            With the reason.
        """
        why = self.against(wanted)
        if why:
            raise UsageError(why)

    def _against(self, club: Club) -> str:
        if club.id not in self._judged:
            self._judged[club.id] = self._why_not(club)
        return self._judged[club.id]

    def _why_not(self, club: Club) -> str:
        if club.status == RETIRED:
            return f"club {club.id} is retired"
        approved = self._decided.get(club.id, Decisions()).approved
        for kind in PIECES:
            item = getattr(club, f"{kind}_id")
            if item is None:
                continue
            if self._record(kind, item) is None:
                return f"club {club.id} has the {kind} {item}, which is not in the catalogue"
            gone = (kind, item) in self._shelf.retired and kind in self._shelf.kept
            if gone and self._shelf.free((kind, item)) < 1 and not (kind == "shaft" and approved):
                hint = f"; choose a stand-in for it first ('specdb substitutes --club {club.id}')"
                return (
                    f"{kind} {item} of club {club.id} was retired since, and none is free on the shelf"
                    f"{hint if kind == 'shaft' else ''}"
                )
        return "" if approved else self._too_short(club)

    def _too_short(self, club: Club) -> str:
        """A shaft that cannot be cut to the length of the club."""
        shaft, grip = self._record("shaft", club.shaft_id), self._record("grip", club.grip_id)
        adapter = self._record("adapter", club.adapter_id)
        if shaft.raw_length_in is None:
            return ""
        trim = club.tip_trim_in or 0.0
        try:
            lengths = cut(
                bored(self._record("head", club.head_id), adapter), club.playing_length_in, club.insertion_in, grip
            )
        except MissingDataError:
            return ""
        except BuildError as error:
            return f"club {club.id} cannot be built as it is recorded: {error}"
        left = lengths.butt_trim_in(shaft.raw_length_in, trim)
        if left >= -_SHORT_BY_IN:
            return ""
        return (
            f"shaft {shaft.id} cannot be cut to the length of club {club.id}: it is {shaft.raw_length_in:g} in long "
            f"and {trim + lengths.cut_length_in:.3f} in are needed"
        )

    def _record(self, kind: str, key: str | None) -> Any:  # noqa: ANN401 (the record of the kind)
        if key is None:
            return None
        known = self._records.setdefault(kind, {})
        if self._many and not known:
            known.update((row.id, row) for row in self._reader.rows(kind))
        if key not in known:
            known[key] = self._reader.find(kind, key)
        return known[key]
