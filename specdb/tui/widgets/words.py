"""What the interface says of values, changes and rows, in words: the same everywhere."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.cells import cell_len

from specdb.tui.widgets.columns import plain
from specdb.tui.widgets.days import short_day
from specdb.units import format_quantity
from specdb.verbs.catalogue import change_words
from specdb.verbs.catalogue.change_words import day, listed, moment

if TYPE_CHECKING:
    from specdb.schema import Table
    from specdb.tui.memory import Memory
    from specdb.verbs.catalogue.details import ReadingSummary
    from specdb.verbs.catalogue.form_rows import Origin
    from specdb.verbs.catalogue.forms import Form
    from specdb.verbs.catalogue.holdings import Free, ShelfLine

__all__ = [
    "day",
    "done_in_a_word",
    "fitting",
    "form_title",
    "free_words",
    "listed",
    "moment",
    "origin_words",
    "remember_who",
    "shelf_words",
    "value_words",
    "who",
]

_BY = "by"
# what a change did, as the journal names it, in one word
_DONE = {"set": "typed", "add": "typed", "import": "imported", "undo": "undo", "retire": "retired"}


def free_words(free: Free | None, today: dt.date) -> str:
    """What there is of a part for a new club, in a word or two: ``2 free``, ``expected 9 Dec``, ``none``.

    Parameters
    ----------
    free : Free or None
        What there is of it; None where nothing is on hand or on its way.
    today : date
        The day it is now.
    """
    if free is not None and free.pieces:
        return f"{free.pieces} free"
    if free is not None and free.expected_on is not None:
        return f"expected {short_day(free.expected_on, today)}"
    return "none free" if free is not None and free.on_hand > 0 else "none"


def done_in_a_word(done: str | None) -> str:
    """What a change did, in a word.

    Parameters
    ----------
    done : str or None
        As the journal has it, such as ``set shaft veer``.
    """
    first = (done or "changed").split()[0]
    return _DONE.get(first, first)


def origin_words(origin: Origin | None, measured: ReadingSummary | None = None) -> tuple[str, ...]:
    """Where a value comes from, the longest first.

    Parameters
    ----------
    origin : Origin or None
        The change that gave it; None where it is not known.
    measured : ReadingSummary or None
        What the bench found beside it.
    """
    found: tuple[str, ...] = ()
    if measured is not None:
        pieces = f"{measured.pieces} piece{'s' if measured.pieces != 1 else ''}"
        short = f"measured {format_quantity(measured.mean, measured.unit)}"
        found = (f"{short} on {pieces}", short)
    if origin is None:
        return found
    word, when, by = done_in_a_word(origin.done), day(origin.at), f" by {plain(origin.by)}" if origin.by else ""
    long = f"{word}{by}, {when}, change {origin.change_no}"
    if found:
        return (f"{long}; {found[0]}", *found)
    why = (f"{long}: {plain(origin.why)}",) if origin.why else ()
    return (*why, long, f"{word}{by}, {when}", f"{word}, {when}")


def shelf_words(shelf: ShelfLine | None) -> tuple[str, ...]:
    """Stock and supply of a part, the longest first; none where no stock is kept.

    Parameters
    ----------
    shelf : ShelfLine or None
        Stock and supply.
    """
    if shelf is None:
        return ()
    parts = [shelf.words, *(["backordered"] if shelf.backordered else [])]
    least = (shelf.words, *((f"{shelf.on_hand} on hand, {shelf.kept} kept",) if shelf.kept else ()))
    if not shelf.ordered:
        return (", ".join(parts), *least)
    ordered = f"{shelf.ordered} on order"
    expected = f"{ordered} for {day(shelf.expected_on)}" if shelf.expected_on else ordered
    return (", ".join([*parts, expected]), ", ".join([*parts, ordered]), ", ".join(parts), *least)


def fitting(texts: Sequence[str], room: int) -> str:
    """The first text that fits; nothing where none does.

    Parameters
    ----------
    texts : sequence of str
        The longest first.
    room : int
        Cells.
    """
    return next((text for text in texts if cell_len(text) <= room), "")


def form_title(table: Table, key: str | None, similar: str | None, shelf: ShelfLine | None, room: int) -> str:
    """What stands above a form: what is typed, its key, and its stock as far as there is room.

    Parameters
    ----------
    table : Table
        The kind.
    key : str or None
        The row; None for a new one.
    similar : str or None
        The row that a new one is like.
    shelf : ShelfLine or None
        Stock and supply.
    room : int
        Cells of the screen.
    """
    if key is None:
        return f"New {table.title.lower()}" + (f", like {plain(similar)}" if similar else "")
    if table.key_style == "digest":
        return table.title
    named = f"{table.title}: {plain(key)}"
    return f"{named}   {fitting(shelf_words(shelf), room - cell_len(named) - 5)}".rstrip()


def value_words(form: Form, name: str, value: object, quantity: str = "") -> str:
    """A stored value with its unit, as a person reads it; what is unknown is said to be empty.

    Parameters
    ----------
    form : Form
        The form of the kind.
    name : str
        The field.
    value : object
        The stored value.
    quantity : str
        What was read, where the field is the value of a reading.
    """
    return plain(change_words.value_words(form, name, value, quantity))


def who(memory: Memory) -> str:
    """Who works here, for the journal: as last typed, else as the system says.

    Parameters
    ----------
    memory : Memory
        What is remembered.
    """
    from specdb.catalogue.store import user_name

    return str(memory.get(_BY, "") or os.environ.get("SPECDB_BY", "") or user_name() or "")


def remember_who(memory: Memory, name: str) -> None:
    """Remember who works here.

    Parameters
    ----------
    memory : Memory
        What is remembered.
    name : str
        The name; an empty one is not remembered.
    """
    if name.strip():
        memory.put(_BY, name.strip())
