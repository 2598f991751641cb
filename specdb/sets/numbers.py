"""Numbers of the clubs of a set, as places on one scale: 3, 4, … 9, then the wedges."""

from __future__ import annotations

import re

_NUMBER = re.compile(r"\s*(\d{1,2})(?:\s*-?\s*(?:i|iron|h|hybrid|w|wood))?\s*", re.IGNORECASE)
_WEDGES = {
    **dict.fromkeys(("P", "PW", "W"), 10),
    **dict.fromkeys(("A", "AW", "G", "GW", "U", "UW"), 11),
    **dict.fromkeys(("S", "SW"), 12),
    **dict.fromkeys(("L", "LW"), 13),
}
_NAMES = {10: "PW", 11: "AW", 12: "SW", 13: "LW"}
_LAST_NUMBER = 12  # higher ones are lofts of wedges


def place_of(number: str | None) -> int | None:
    """Place of a club number: 7 for ``7``, 10 for ``PW``, 11 for ``AW``; None where it says no place.

    Parameters
    ----------
    number : str or None
        As the catalogue has it.
    """
    if number is None:
        return None
    wedge = _WEDGES.get(number.strip().upper())
    if wedge is not None:
        return wedge
    match = _NUMBER.fullmatch(number)
    if match is None or not 1 <= int(match[1]) <= _LAST_NUMBER:
        return None
    return int(match[1])


def name_of(place: int) -> str:
    """Name of a place: ``7``, ``PW``.

    Parameters
    ----------
    place : int
        From :func:`place_of`.
    """
    return _NAMES.get(place, str(place))
