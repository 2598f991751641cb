"""Changing the catalogue: fields, retiring, undoing, stock, supply, choices."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from specdb.catalogue import Catalogue, Reader, Writer
from specdb.catalogue.store import user_name
from specdb.errors import ConflictError, NotFoundError, UsageError, indefinite
from specdb.records.rows import Choice
from specdb.schema import Table, load_schema
from specdb.units import day_in_full
from specdb.verbs.catalogue.kinds import table_of
from specdb.verbs.catalogue.values import AHEAD, parse_assignments, today

MOVES = {"receive": "received", "use": "used", "return": "returned", "damage": "damaged"}
_LEAVING = ("use", "damage")


@dataclass(frozen=True, slots=True)
class Changed:
    """What came of a change.

    Attributes
    ----------
    kind, key : str
        The row.
    action : str
        ``added``, ``changed`` or ``unchanged``.
    before, after : mapping
        Values of the fields that were named.
    notes : tuple of str
        What should be known about it, in plain sentences: open orders that it touches, what a club lacks.
    """

    kind: str
    key: str
    action: str
    before: Mapping[str, Any]
    after: Mapping[str, Any]
    notes: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The change as plain values."""
        return asdict(self)


def _key_values(table: Table, key: str) -> dict[str, str]:
    parts = key.split("/", len(table.primary_key) - 1)
    if len(parts) != len(table.primary_key) or not all(parts):
        wrong = f"not '{key}'" if key.strip() else "and it is empty here"
        raise UsageError(f"the key of {indefinite(table.name)} is written {'/'.join(table.primary_key)}, {wrong}")
    return dict(zip(table.primary_key, parts, strict=True))


def set_fields(
    catalogue: Catalogue,
    kind: str,
    key: str,
    words: Iterable[str],
    *,
    by: str | None = None,
    why: str | None = None,
) -> Changed:
    """Change fields of a row.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str
        The row.
    words : iterable of str
        ``field=value`` as typed; ``field=`` clears a field.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    NotFoundError
        If there is no such row.
    FieldError, UnitError, UnknownFieldError, UsageError
        If an assignment makes no sense.
    """
    table, words = table_of(kind), list(words)
    keys = _key_values(table, key)
    if table.append_only:
        raise UsageError(f"{indefinite(table.name)} cannot be changed; book another one")
    _check_words(table, words)
    with catalogue.write(by=by, why=why, done=f"set {table.name} {key}") as writer:
        held = writer.find(table.name, key)
        if held is None:
            raise _not_there(writer, table, key)
        known = {name: getattr(held, name) for name in table.field_names}
        values = parse_assignments(table, words, known)
        renamed = [n for n in table.primary_key if n in values and values[n] != keys[n]]
        if renamed:
            raise UsageError(f"the key field '{renamed[0]}' cannot be changed; add a new {table.name} and retire this")
        action = writer.put(table.name, {**values, **keys}, mode="update")
        after = writer.get(table.name, key)
        notes = _touched(writer, table)
    past = tuple(
        f"{name} is {day_in_full(day, today())}"
        for name, day in values.items()
        if name in AHEAD and isinstance(day, dt.date) and day < today() and day != known[name]
    )
    notes += past + _lacking(catalogue, table, key)
    return replace(_changed(table, key, action, values, known, after), notes=notes)


def add_row(
    catalogue: Catalogue,
    kind: str,
    key: str | None,
    words: Iterable[str],
    *,
    by: str | None = None,
    why: str | None = None,
) -> Changed:
    """Add a row.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind : str
        The kind.
    key : str or None
        Key of the row; worked out from its fields where None.
    words : iterable of str
        ``field=value`` as typed.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    UsageError
        If there is such a row already.
    FieldError, UnitError, UnknownFieldError
        If an assignment makes no sense.
    """
    table, words = table_of(kind), list(words)
    keys = {} if key is None else _key_values(table, key)
    values = parse_assignments(table, words)
    with catalogue.write(by=by, why=why, done=f"add {table.name}") as writer:
        if key is not None and writer.find(table.name, key) is not None:
            raise UsageError(f"there is {indefinite(table.name)} '{key}' already; leave --new out to change it")
        action = writer.put(table.name, {**values, **keys}, mode="add")
        if key is None:
            key = str(writer.history(change_no=writer.change_no, limit=1)[0].key)
        after = writer.get(table.name, key)
        notes = _touched(writer, table)
    return replace(_changed(table, key, action, values, {}, after), notes=notes + _lacking(catalogue, table, key))


def _touched(writer: Writer, table: Table) -> tuple[str, ...]:
    """Open orders that a change of a club makes larger or smaller."""
    if table.name != "club":
        return ()
    from specdb.verbs.orders.touched import sets_touched

    return sets_touched(writer, writer.change_no)


def _lacking(catalogue: Catalogue, table: Table, key: str) -> tuple[str, ...]:
    """What a club lacks to be worked out."""
    if table.name != "club":
        return ()
    from specdb.verbs.clubs.fitted import lacking

    return tuple(text for text in (lacking(catalogue, key),) if text)


def _check_words(table: Table, words: list[str]) -> None:
    # what is wrong with the words is said before the catalogue is waited for; the unit of a reading's value
    # is known only with the row
    if not table.value_units:
        parse_assignments(table, words)


def _changed(
    table: Table, key: str, action: str, values: Mapping[str, Any], before: Mapping[str, Any], after: object
) -> Changed:
    return Changed(
        table.name,
        key,
        action,
        {name: before.get(name) for name in values},
        {name: getattr(after, name) for name in values},
    )


def _not_there(reader: Reader, table: Table, key: str) -> NotFoundError:
    try:
        reader.get(table.name, key)
    except NotFoundError as error:
        return error
    return NotFoundError(table.name, key)


def retire(catalogue: Catalogue, kind: str, key: str, *, by: str | None = None, why: str | None = None) -> str:
    """Retire a row: it is no longer offered, and what refers to it is kept.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str
        The row.
    by, why : str or None
        Who and why, for the journal.

    Returns
    -------
    str
        Which open orders want it, in words; empty where none does.
    """
    from specdb.verbs.orders.touched import wanted_by

    table = table_of(kind)
    with catalogue.write(by=by, why=why, done=f"retire {table.name} {key}") as writer:
        writer.retire(table.name, key)
    return wanted_by(catalogue, table.name, key)  # once others may write again: it takes long with many orders


def remove_row(catalogue: Catalogue, kind: str, key: str, *, by: str | None = None, why: str | None = None) -> None:
    """Take a row away that nothing refers to; the journal keeps it, and an undo brings it back.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str
        The row.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    NotFoundError
        If there is no such row.
    ConflictError
        If something refers to it, or the kind is a ledger.
    """
    table = table_of(kind)
    with catalogue.write(by=by, why=why, done=f"remove {table.name} {key}") as writer:
        writer.remove(table.name, key)


def _stocked(kind: str) -> Table:
    table = table_of(kind)
    taken = load_schema().table("stock_move").field("kind").enum
    if table.name not in taken:
        raise UsageError(f"no stock is kept of {indefinite(table.name)}; it is kept of: {', '.join(taken)}")
    return table


def move_stock(
    catalogue: Catalogue,
    action: str,
    kind: str,
    key: str,
    pieces: int,
    *,
    location: str | None = None,
    order_ref: str | None = None,
    by: str | None = None,
    why: str | None = None,
) -> tuple[int, int]:
    """Book what came in, went out or was counted.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    action : str
        ``receive``, ``use``, ``return``, ``damage`` or ``count``.
    kind, key : str
        The part.
    pieces : int
        How many; for ``count`` how many there are.
    location, order_ref : str or None
        Shelf, and the order it belongs to.
    by, why : str or None
        Who and why, for the journal.

    Returns
    -------
    before, after : int
        Pieces on hand.

    Raises
    ------
    UsageError
        If the number makes no sense.
    ConflictError
        If more would leave than there are.
    """
    table = _stocked(kind)
    if pieces < 0 or (pieces == 0 and action != "count"):
        raise UsageError(f"{pieces} pieces cannot be booked; give a whole number above zero")
    with catalogue.write(by=by, why=why, done=f"stock {action} {table.name} {key}") as writer:
        writer.get(table.name, key)
        before = writer.stock(table.name, key).get(key, 0)
        change = pieces - before if action == "count" else -pieces if action in _LEAVING else pieces
        if before + change < 0:
            raise ConflictError(
                f"there are {before} of {table.name} {key} on hand, so {pieces} cannot leave; "
                f"count them first: specdb stock count {table.name} {key} PIECES"
            )
        if change or action == "count":
            move = {
                "kind": table.name,
                "item_id": key,
                "location": location,
                "quantity": change,
                "reason": MOVES.get(action, "counted"),
                "on": dt.date.today(),  # noqa: DTZ011 (the day on the shop's own calendar)
                "by": by,
                "order_ref": order_ref,
            }
            writer.put("stock_move", move, mode="add")
    return before, before + change


def set_supply(
    catalogue: Catalogue,
    kind: str,
    key: str,
    values: Mapping[str, Any],
    *,
    by: str | None = None,
    why: str | None = None,
) -> str:
    """Note what is on order, or that a supplier has none.

    A line of supply belongs to a part and a supplier; a new note takes the place of the older one.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    kind, key : str
        The part.
    values : mapping
        ``ordered``, ``expected_on``, ``backordered``, ``supplier``; None clears.
    by, why : str or None
        Who and why, for the journal.

    Returns
    -------
    str
        ``added``, ``changed`` or ``unchanged``.
    """
    table = _stocked(kind)
    with catalogue.write(by=by, why=why, done=f"supply {table.name} {key}") as writer:
        writer.get(table.name, key)
        lines = [
            line
            for line in writer.rows("supply")
            if (line.kind, line.item_id) == (table.name, key)
            and ("supplier" not in values or line.supplier == values["supplier"])
        ]
        held = max(lines, key=lambda line: (line.asked_on or dt.date.min, line.id), default=None)
        row = {
            "kind": table.name,
            "item_id": key,
            "asked_on": dt.date.today(),  # noqa: DTZ011 (the day on the shop's own calendar)
            **values,
        }
        if held is not None:
            row["id"] = held.id
        return str(writer.put("supply", row, mode="add" if held is None else "update"))


def decide(
    catalogue: Catalogue,
    club: str,
    shaft: str,
    decision: str,
    *,
    tip_trim_in: float | None = None,
    score: float | None = None,
    by: str | None = None,
    why: str | None = None,
) -> str:
    """Keep a decision about a stand-in for one club.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    club, shaft : str
        Keys of the fitted club and of the stand-in.
    decision : str
        ``chosen`` or ``rejected``.
    tip_trim_in : float or None
        Tip trim of the stand-in, in.
    score : float or None
        Score when it was decided.
    by, why : str or None
        Who and why.

    Returns
    -------
    str
        ``added``, ``changed`` or ``unchanged``.
    """
    with catalogue.write(by=by, why=why, done=f"{decision} {shaft} for {club}") as writer:
        return keep_decision(writer, club, shaft, decision, tip_trim_in=tip_trim_in, score=score, by=by, why=why)


def keep_decision(
    writer: Writer,
    club: str,
    shaft: str,
    decision: str,
    *,
    tip_trim_in: float | None = None,
    score: float | None = None,
    by: str | None = None,
    why: str | None = None,
) -> str:
    """Keep a decision as part of a change that is being written.

    Parameters
    ----------
    writer : Writer
        The change.
    club, shaft, decision, tip_trim_in, score, by, why
        As of :func:`decide`.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the club or the shaft.
    UsageError
        If it is the shaft that the club was fitted with.
    """
    fitted = writer.get("club", club)
    writer.get("shaft", shaft)
    if fitted.shaft_id == shaft:
        raise UsageError(f"{shaft} is the shaft that club {club} was fitted with")
    about_club: list[Choice] = writer.rows("choice", where=f"club_id = '{club}'")
    held = next((c for c in about_club if c.shaft_id == shaft), None)
    numbers = [c.decided_no or 0 for c in about_club]
    last = max(numbers, default=0)
    # decided again with nothing decided in between is no new decision
    again = held is not None and (held.decision, held.decided_no) == (decision, last) and numbers.count(last) == 1
    number = last if again else last + 1
    row = {
        "club_id": club,
        "shaft_id": shaft,
        "decision": decision,
        "tip_trim_in": tip_trim_in,
        "score": score,
        "by": by or user_name(),
        "on": dt.date.today(),  # noqa: DTZ011 (the day on the shop's own calendar)
        "decided_no": number,
        "why": why,
    }
    if held is not None:
        row["id"] = held.id
    return str(writer.put("choice", row, mode="upsert"))
