"""The code on a build sheet: which club it means, of which order, and finding what was scanned or typed.

A code is plain text, ``specdb:club/CLUB``, ``specdb:club/CLUB/ORDER`` or ``specdb:club/CLUB/ORDER/LINE/UNIT``, so that
any scanner that types what it reads will do. ``specdb:club/CLUB/-`` is the club without an order, whoever asks for it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.errors import UsageError

if TYPE_CHECKING:
    from specdb.catalogue import Reader

CODE = "specdb:club/"
_NO_ORDER = "/-"
# a key that opens the entry for codes may have swallowed the first letter
_BEGIN = re.compile(r"s?pecdb:club/", re.IGNORECASE)
_OTHER_CODE = re.compile(r"[a-z][a-z0-9+.-]*:\S", re.IGNORECASE)
_PART = re.compile(r"[a-z0-9][a-z0-9._-]{0,79}")
_NUMBER = re.compile(r"[1-9]\d{0,2}")


@dataclass(frozen=True, slots=True)
class UnitMeant:
    """A club to be built.

    Attributes
    ----------
    club : str
        Key of the fitted club.
    order : str or None
        Key of the order.
    line, unit : int or None
        Line of the order, and which of its quantity.
    """

    club: str
    order: str | None = None
    line: int | None = None
    unit: int | None = None


def code_of(meant: UnitMeant) -> str:
    """The code of a club.

    Parameters
    ----------
    meant : UnitMeant
        The club.
    """
    parts: list[object] = [meant.club]
    if meant.order is not None:
        parts.append(meant.order)
        parts += [] if meant.line is None or meant.unit is None else [meant.line, meant.unit]
    return CODE + "/".join(map(str, parts))


def code_alone(club: str) -> str:
    """The code of a club that is built without an order, whoever asks for it.

    Parameters
    ----------
    club : str
        Key of the fitted club.
    """
    return f"{CODE}{club}{_NO_ORDER}"


def named_alone(text: str) -> str:
    """The club that a text names as built without an order; empty where it does not.

    Parameters
    ----------
    text : str
        As typed or scanned.
    """
    words = text.strip()
    begun = _BEGIN.match(words)
    return "" if begun is None or not words.endswith(_NO_ORDER) else words[begun.end() : -len(_NO_ORDER)].lower()


def has_code(text: str) -> int:
    """Where in a text a code begins; -1 where there is none.

    Parameters
    ----------
    text : str
        As typed or scanned.
    """
    found = _BEGIN.search(text)
    return -1 if found is None else found.start()


def read_code(text: str) -> UnitMeant:
    """What a code means; a name alone is that of a club.

    Parameters
    ----------
    text : str
        As typed or scanned.

    Raises
    ------
    UsageError
        If it is no code of a build sheet; the sentence says why.
    """
    words = text.strip()
    begun = _BEGIN.match(words)
    if begun is None and (_OTHER_CODE.match(words) or "/" in words):
        raise UsageError(
            f"'{_short(words)}' is no code of a build sheet: those begin with {CODE}; if the sheet is right, is the "
            "scanner set to this keyboard?"
        )
    parts = (words if begun is None else words[begun.end() :]).lower().split("/")
    right = len(parts) in (1, 2, 4) and all(map(_PART.fullmatch, parts[:2])) and all(map(_NUMBER.fullmatch, parts[2:]))
    if not right:
        what = "is only a part of the code of a build sheet" if begun else "cannot be the name of a club"
        raise UsageError(f"'{_short(words)}' {what}: scan it again, or choose from the list")
    if len(parts) == 1:
        return UnitMeant(parts[0])
    if len(parts) == 2:
        return UnitMeant(parts[0], parts[1])
    return UnitMeant(parts[0], parts[1], int(parts[2]), int(parts[3]))


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:59]}…"


def whole_unit(reader: Reader, meant: UnitMeant) -> UnitMeant:
    """A club with its line of the order, the first of this club where none is named.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    meant : UnitMeant
        The club.

    Raises
    ------
    NotFoundError
        If there is no such club or order; near matches are named.
    UsageError
        If the order does not ask for that club.
    """
    from specdb.verbs.orders.orders import order_alone

    reader.get("club", meant.club)
    if meant.order is None:
        return meant
    units = order_alone(reader, meant.order).units
    own = [u.key for u in units if u.key.club_id == meant.club]
    if not own:
        asked = ", ".join(dict.fromkeys(u.key.club_id for u in units))
        raise UsageError(f"order {meant.order} does not ask for {meant.club}; it asks for: {asked or 'nothing'}")
    for key in own:
        if meant.line in (None, key.line) and meant.unit in (None, key.unit):
            return UnitMeant(meant.club, meant.order, key.line, key.unit)
    count = "once" if len(own) == 1 else f"{len(own)} times"
    raise UsageError(
        f"order {meant.order} asks for {meant.club} {count}, but not as number {meant.unit} of line {meant.line}: was "
        "the order changed since the sheet was written?"
    )
