"""What was changed, and taking it back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from specdb.catalogue import Catalogue
from specdb.catalogue.journal import ChangeRow, ChangeSummary
from specdb.errors import NotFoundError
from specdb.units.writing import as_sentence
from specdb.verbs.catalogue.kinds import table_of

_LOOKED_AT = 50  # changes that are looked through first for one to undo
# rows whose key nobody reads are named by what they are about
_NAMED = {
    "choice": "{shaft_id} for {club_id}",
    "shaft_reading": "{quantity} of {shaft_id}, {sample}",
    "reference_reading": "{quantity} of {reference}, {instrument}",
    "stock_move": "{quantity} {item_id}, {reason}",
    "supply": "{item_id}",
    "reservation": "{item_id} for {order_id}",
    "as_built": "{quantity} of {club_id}",
}


@dataclass(frozen=True, slots=True)
class JournalLine:
    """One row that a change touched.

    Attributes
    ----------
    change_no : int
        Number of the change.
    at : datetime
        When, in UTC.
    kind, key, action : str
        Which row, and what happened to it.
    by, why : str or None
        Who and why.
    undoes : int or None
        Number of the change that it takes back.
    differences : mapping of str to tuple
        Value before and after of every field that differs.
    named : str
        What the row is called where its key says nothing: a choice by its shaft and club.
    """

    change_no: int
    at: dt.datetime
    kind: str
    key: str
    action: str
    by: str | None
    why: str | None
    undoes: int | None
    differences: Mapping[str, tuple[Any, Any]]
    named: str = ""

    @property
    def title(self) -> str:
        """Kind and name of the row, for a person."""
        return f"{self.kind.replace('_', ' ')} {self.named or self.key}"

    @classmethod
    def of(cls, row: ChangeRow) -> JournalLine:
        """From the catalogue's own row."""
        return cls(
            row.change_no,
            row.at.replace(tzinfo=dt.UTC),
            row.kind,
            row.key,
            row.action,
            row.by,
            row.why,
            row.undoes,
            row.differences(),
            _named(row),
        )

    def to_json(self) -> dict[str, Any]:
        """The line as plain values."""
        return {
            "change": self.change_no,
            "at": self.at,
            "kind": self.kind,
            "id": self.key,
            "action": self.action,
            "by": self.by,
            "why": self.why,
            "undoes": self.undoes,
            "differences": {n: {"before": old, "after": new} for n, (old, new) in self.differences.items()},
        }


def _named(row: ChangeRow) -> str:
    words = {name: str(value).replace("_", " ") for name, value in (row.after or row.before or {}).items()}
    try:
        return _NAMED.get(row.kind, "").format_map(words)
    except KeyError:  # what it would be called by is not known of it
        return ""


def history(
    catalogue: Catalogue,
    kind: str | None = None,
    key: str | None = None,
    *,
    change: int | None = None,
    limit: int | None = None,
) -> list[JournalLine]:
    """Rows that were changed, newest first.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str or None
        Only this kind, only this row.
    change : int or None
        Only this change.
    limit : int or None
        At most this many rows.

    Raises
    ------
    NotFoundError
        If a row is named that neither is nor ever was there, or a change that never was.
    """
    name = None if kind is None else table_of(kind).name
    with catalogue.read() as reader:
        rows = reader.history(name, key, change_no=change, limit=limit)
        if not rows and name is not None and key is not None:
            reader.get(name, key)  # says that it is not there, and what is near
        if not rows and change is not None and change > reader.last_change():
            raise NotFoundError("change", str(change))
    return [JournalLine.of(row) for row in rows]


def changes(catalogue: Catalogue, *, limit: int | None = None) -> list[ChangeSummary]:
    """Changes as a whole, newest first.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    limit : int or None
        At most this many.
    """
    with catalogue.read() as reader:
        return reader.changes(limit=limit)


@dataclass(frozen=True, slots=True)
class ToUndo:
    """A change that may be taken back, with what would go back.

    Attributes
    ----------
    change : ChangeSummary
        The change as a whole.
    lines : tuple of JournalLine
        The first rows it touched.
    """

    change: ChangeSummary
    lines: tuple[JournalLine, ...]

    @property
    def rows(self) -> int:
        """How many rows it touched."""
        return sum(self.change.rows.values())


def to_undo(catalogue: Catalogue, change: int | None = None, *, lines: int = 20) -> ToUndo | None:
    """What an undo would take back, before it does.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    change : int or None
        Number of the change; the latest that stands where None.
    lines : int
        How many of its rows to list at most.

    Returns
    -------
    ToUndo or None
        None where no change is named and none is left to undo.

    Raises
    ------
    NotFoundError
        If a change is named that never was.
    """
    with catalogue.read() as reader:
        found = None
        for most in (_LOOKED_AT, None):
            known = reader.changes(limit=most)
            if change is not None:
                found = next((c for c in known if c.change_no == change), None)
            else:
                found = next((c for c in known if c.undoes is None and c.undone_by is None), None)
            if found is not None or len(known) < _LOOKED_AT:
                break
        if found is None:
            if change is not None:
                raise NotFoundError("change", str(change))
            return None
        rows = reader.history(change_no=found.change_no, limit=lines)
    return ToUndo(found, tuple(JournalLine.of(row) for row in rows))


def undo(catalogue: Catalogue, change: int | None = None, *, by: str | None = None, why: str | None = None) -> str:
    """Take a change back; that is a change too.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    change : int or None
        Number of the change; the last one where None.
    by, why : str or None
        Who and why, for the journal.

    Returns
    -------
    str
        What was done, in a sentence.
    """
    from specdb.verbs.orders.touched import sets_touched

    with catalogue.write(by=by, why=why, done="undo") as writer:
        done = writer.undo(change)
        touched = sets_touched(writer, writer.change_no)
    parts = ((done.added, "put back"), (done.changed, "changed back"), (done.removed, "taken away"))
    told = ", ".join(f"{count} {what}" for count, what in parts if count)
    more = "".join(f" {as_sentence(text)}" for text in touched)
    return f"Change {done.undone} undone, as change {done.change_no}: {told or 'nothing differed'}.{more}"
