"""What somebody else changed of an order while it was open, in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from specdb.tui.widgets.words import day
from specdb.verbs.orders.checks import Wanted
from specdb.verbs.orders.entry import EntryDifference

_TITLES = {"customer": "Customer", "wanted_on": "Wanted on", "notes": "Notes"}


def differences_text(differences: Sequence[EntryDifference]) -> str:
    """What differs, a paragraph each.

    Parameters
    ----------
    differences : sequence of EntryDifference
        What somebody else changed.
    """
    parts = ["Somebody else changed this order while it was open; nothing is saved yet."]
    for one in differences:
        title = _TITLES.get(one.what, one.what.capitalize())
        words = [f"{title}: was {in_words(one.opened)}", f"theirs is {in_words(one.now)}"]
        words.append(f"mine is {in_words(one.typed)}" if one.contested else "mine is as it was, so theirs stays")
        parts.append("; ".join(words) + ".")
    return "\n\n".join(parts)


def in_words(value: object) -> str:
    """A value of an order, or what a line asks for.

    Parameters
    ----------
    value : object
        The value.
    """
    if isinstance(value, Wanted):
        return f"{value.quantity} × {value.what}"
    if isinstance(value, dt.date):
        return day(value)
    return "empty" if value is None or value == "" else str(value)
