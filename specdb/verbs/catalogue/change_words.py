"""What a change did and what an undo of it would put back, in words: the same for the command and the interface."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from specdb.schema import Table, load_schema
from specdb.units import format_quantity

if TYPE_CHECKING:
    from specdb.catalogue.journal import ChangeSummary
    from specdb.verbs.catalogue.forms import Form
    from specdb.verbs.catalogue.journal import JournalLine, ToUndo

__all__ = [
    "BACK",
    "UNDO_IS_A_CHANGE",
    "change_words",
    "counted",
    "counted_rows",
    "day",
    "difference_lines",
    "listed",
    "moment",
    "more_rows",
    "plural",
    "undo_question",
    "value_words",
    "why_words",
]

UNDO_IS_A_CHANGE = "The undo is a change of its own and can be undone too."
BACK = {"added": "is taken away", "removed": "comes back", "changed": "goes back"}
"""What an undo does with a row, by what the change did with it."""

_MOST_FIELDS = 12
_PLURALS = {"Sleeve (shim)": "Sleeves (shims)", "Supply": "Supply", "Change journal": "Changes"}


def day(when: dt.datetime | dt.date) -> str:
    """A day as it is written everywhere: ``3 Nov 2026``, on the shop's own clock.

    Parameters
    ----------
    when : datetime or date
        A moment with its time zone, or a day.
    """
    local = when.astimezone() if isinstance(when, dt.datetime) else when
    return f"{local.day} {local:%b %Y}"


def moment(when: dt.datetime) -> str:
    """A moment: ``3 Nov 2026, 14:05``, on the shop's own clock.

    Parameters
    ----------
    when : datetime
        The moment; in UTC where it has no time zone, as the journal keeps it.
    """
    local = (when if when.tzinfo else when.replace(tzinfo=dt.UTC)).astimezone()
    return f"{day(local)}, {local:%H:%M}"


def listed(words: Sequence[str], most: int = 4) -> str:
    """Some words with commas; of many only the first.

    Parameters
    ----------
    words : sequence of str
        The words.
    most : int
        How many to name.
    """
    more = len(words) - most
    return ", ".join(words[:most]) + (f" and {more} more" if more > 0 else "")


def plural(table: Table) -> str:
    """Title of a kind, for many of them.

    Parameters
    ----------
    table : Table
        The kind.
    """
    return _PLURALS.get(table.title, f"{table.title}s")


def counted(count: int, table: Table) -> str:
    """So many of a kind: ``1 shaft``, ``1,204 shafts``.

    Parameters
    ----------
    count : int
        How many.
    table : Table
        The kind.
    """
    word = table.title if count == 1 else plural(table)
    return f"{count:,} {word[:1].lower()}{word[1:]}"


def counted_rows(change: ChangeSummary) -> list[str]:
    """How many rows of each kind a change touched: ``4 shafts``.

    Parameters
    ----------
    change : ChangeSummary
        The change.
    """
    tables = load_schema().tables
    return [counted(count, tables[kind]).replace(",", " ") for kind, count in change.rows.items()]


def change_words(change: ChangeSummary) -> str:
    """A change as a whole, in words: number, what it did, when, who.

    Parameters
    ----------
    change : ChangeSummary
        The change.
    """
    rows = listed(counted_rows(change))
    by = f" by {change.by}" if change.by else ""
    return f"change {change.change_no}, '{change.done or 'change'}' ({rows}), on {moment(change.at)}{by}"


def why_words(change: ChangeSummary) -> str:
    """Why a change was made; empty where nobody said.

    Parameters
    ----------
    change : ChangeSummary
        The change.
    """
    return f"Why: {change.why}" if change.why else ""


def undo_question(found: ToUndo) -> str:
    """The question that is asked before a change is taken back.

    Parameters
    ----------
    found : ToUndo
        The change.
    """
    return f"Undo {change_words(found.change)}?"


def more_rows(found: ToUndo) -> str:
    """How many rows go back beside those that are named; empty where there are none.

    Parameters
    ----------
    found : ToUndo
        The change.
    """
    more = found.rows - len(found.lines)
    return f"and {more:,} more row{'s' if more > 1 else ''}".replace(",", " ") if more > 0 else ""


def difference_lines(line: JournalLine, *, turned: bool = False) -> list[str]:
    """The fields that a change of a row changed, one a line; the last may say that there are more.

    Parameters
    ----------
    line : JournalLine
        The row.
    turned : bool
        From after to before, as an undo does.
    """
    from specdb.verbs.catalogue.forms import form_of

    form = form_of(line.kind) if line.kind in load_schema().kinds else None
    quantity = str((line.differences.get("quantity") or (None, ""))[1] or "")
    alone = line.action == "added" and not turned
    found = []
    for name, (before, after) in list(line.differences.items())[:_MOST_FIELDS]:
        old, new = (after, before) if turned else (before, after)
        title = form.table.field(name).title if form is not None and name in form.table.field_names else name
        shown = _shown(form, name, new, quantity)
        found.append(f"{title}: {shown if alone else f'{_shown(form, name, old, quantity)} → {shown}'}")
    more = len(line.differences) - _MOST_FIELDS
    return [*found, *([f"and {more} more fields"] if more > 0 else [])]


def _shown(form: Form | None, name: str, value: object, quantity: str) -> str:
    if form is None or name not in form.table.field_names:
        return "empty" if value is None else str(value)
    return value_words(form, name, value, quantity)


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
    from specdb.verbs.catalogue.forms import as_typed

    if value is None or value == "":
        return "empty"
    unit = form.unit_of(name, {"quantity": quantity})
    if isinstance(value, (int, float)) and not isinstance(value, bool) and unit:
        return format_quantity(float(value), unit, decimals=6)
    return as_typed(value)
