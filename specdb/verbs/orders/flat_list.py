"""One flat file of orders, a row a line: order, customer, wanted_on, club or set, quantity. One change, all or nothing.

The same file twice changes nothing. Orders and lines that are there and not in the file stay as they are; an empty cell
leaves what is known. Where the good rows are wanted although others are not, an order is taken whole or not at all.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader, Writer
from specdb.catalogue.bulk import RowChange
from specdb.catalogue.faults import RowProblem, field_faults
from specdb.catalogue.importing import ImportReport
from specdb.catalogue.keys import slug
from specdb.errors import ImportFileError, NotFoundError, UnitError
from specdb.orders.needs import NEEDING_PARTS
from specdb.records.rows import Order, OrderLine
from specdb.schema import Field, Table, load_schema
from specdb.units import parse_date, parse_day_ahead
from specdb.verbs.orders.changes import today
from specdb.verbs.orders.checks import Orderable, Wanted

if TYPE_CHECKING:
    from specdb.catalogue.batch import Batch
    from specdb.catalogue.cells import Sheet

COLUMNS = ("order", "customer", "wanted_on", "club", "set", "quantity", "notes")
_MANY = 50
LONG_AGO_DAYS = 365
"""A wanted day further back than that is taken for a slip (stated judgement)."""
_OF_THE_ORDER = ("customer", "wanted_on", "notes")
_OTHER_NAMES = {
    "order": ("order_id", "order_no", "order_number", "no", "number"),
    "customer": ("client", "name", "player"),
    "wanted_on": ("wanted", "wanted_by", "due", "due_on", "date"),
    "club": ("club_or_set", "club_id", "item", "clubs"),
    "set": ("set_id",),
    "quantity": ("qty", "pieces", "count"),
    "notes": ("note", "comment", "comments", "remarks"),
}


@lru_cache(maxsize=1)
def list_table() -> Table:
    """The columns of such a file, as a table description."""
    schema = load_schema()
    orders, lines = schema.table("order"), schema.table("order_line")
    key = orders.field("id")
    texts = {"max_length": 80, "required": False, "unique": False, "pattern": None}
    fields = (
        _as(key, name="order", description="Number of the order.", **{**texts, "required": True}),
        orders.field("customer"),
        orders.field("wanted_on"),
        _as(lines.field("club_id"), name="club", description="The fitted club or set to build.", **texts),
        _as(lines.field("set_id"), name="set", description="The fitted set to build.", **texts),
        _as(lines.field("quantity"), required=False),
        orders.field("notes"),
    )
    return Table(
        name="order",
        title="Order list",
        description="Orders, a row a line.",
        fields=fields,
        primary_key=("order",),
        references=(),
        derive_key_from=(),
        key_style="words",
        append_only=False,
        internal=False,
        worked_out=False,
        value_fields=(),
        value_units={},
        value_ranges={},
        value_needs={},
    )


def _as(known: Field, **changes: Any) -> Field:  # noqa: ANN401 (fields of a Field)
    from dataclasses import replace

    return replace(known, **changes)


@dataclass(slots=True)
class _Row:
    """One row of the file: where it stands, and what it asks for."""

    index: int
    order: str
    customer: str | None
    wanted_on: dt.date | None
    notes: str | None
    wanted: Wanted | None
    named: str


@dataclass(slots=True)
class _Order:
    """The rows of one order."""

    key: str
    rows: list[_Row] = field(default_factory=list)


@dataclass(slots=True)
class _Done:
    """Counts of rows and what they change."""

    added: int = 0
    changed: int = 0
    unchanged: int = 0
    changes: list[RowChange] = field(default_factory=list)
    new: list[dict[str, Any]] = field(default_factory=list)


def import_orders(
    catalogue: Catalogue,
    file: Path,
    *,
    sheet: str | None = None,
    dry_run: bool = False,
    accept_good: bool = False,
    by: str | None = None,
    why: str | None = None,
) -> ImportReport:
    """Import orders from one flat file, in one change.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    file : Path
        CSV, TSV, XLSX, ODS or Parquet with the columns order, customer, wanted_on, club (a club or a set) or set,
        quantity (1 where empty) and notes.
    sheet : str or None
        Sheet of a spreadsheet with several.
    dry_run : bool
        Find out everything and write nothing.
    accept_good : bool
        Take the orders whose rows are all good, and write the rows of the others, with reasons, to a file beside it.
    by, why : str or None
        Who and why, for the journal.

    Returns
    -------
    ImportReport
        Rows added, changed, unchanged, and every reason against one. Where rows were rejected and ``accept_good`` is
        not set, nothing was written.

    Raises
    ------
    ImportFileError
        If the file cannot be read as such a table.
    """
    from specdb.catalogue.rejected import write_rejected

    batch, yearless = _read(Path(file), sheet)
    target = None
    with catalogue.write(by=by, why=why, done="import orders", dry_run=dry_run) as writer:
        orders = _checked(writer, batch, yearless)
        bad = bool(batch.bad.any()) or bool(batch.source.ragged)
        done = _take(writer, orders, by=by) if accept_good or not bad else _Done()
        if accept_good and not dry_run:
            target = write_rejected(Path(file), batch)
        change_no = None if dry_run else writer.change_no
    return ImportReport(
        done.added, done.changed, done.unchanged, batch.rejected(), done.changes, target, done.new, change_no
    )


def _read(file: Path, sheet: str | None) -> tuple[Batch, frozenset[int]]:
    """The rows of a list, and those of which the wanted day has no year in the file."""
    from specdb.catalogue.batch import Batch
    from specdb.catalogue.sheets import read_sheet

    source = read_sheet(file, sheet=sheet, prefer=("orders", "order list", "order"))
    if not len(source.rows):
        raise ImportFileError(f"{source.file}: the file has no rows below its headings", source.file)
    source.headings = [_heading(text) for text in source.headings]
    table = list_table()
    yearless = _with_years(source)
    batch = Batch(table, source)
    known = {m.field.name for m in batch.matches}
    missing = [name for name in ("order", "club") if name not in known and not (name == "club" and "set" in known)]
    if missing:
        raise ImportFileError(
            f"{source.file}: an order list needs a column {' and a column '.join(missing)}; it may have: "
            f"{', '.join(COLUMNS)}",
            source.file,
        )
    return batch, yearless


def _with_years(source: Sheet) -> frozenset[int]:
    """Give wanted days without a year (``1 Dec``) that of the next such day; which rows they stand in.

    A weekday or ``in 2 weeks`` stays refused: in a file it would mean another day each time the file is read.
    """
    found: set[int] = set()
    for place, heading in enumerate(source.headings):
        cells = source.columns[place]
        if heading != "wanted_on":
            continue
        cells = list(cells) if isinstance(cells, list) else cells.to_pylist()
        for index, cell in enumerate(cells):
            day = _without_year(cell)
            if day is not None:
                cells[index] = day.isoformat()
                found.add(index)
        source.columns[place] = cells
    return frozenset(found)


def _without_year(cell: object) -> dt.date | None:
    if not isinstance(cell, str) or not cell.strip():
        return None
    try:
        parse_date(cell)
    except UnitError as error:
        if "has no year" not in str(error):
            return None
    else:
        return None
    try:
        return parse_day_ahead(cell, today())
    except UnitError:
        return None  # it is refused as it stands


def _heading(text: str) -> str:
    plain = slug(text).replace("-", "_")
    return next((name for name, others in _OTHER_NAMES.items() if plain == name or plain in others), text)


def _checked(reader: Reader, batch: Batch, yearless: Collection[int] = ()) -> list[_Order]:
    """The orders whose rows are all good; everything against the others is told to the batch."""
    import numpy as np

    everywhere = np.arange(len(batch.source.rows), dtype=np.int64)
    for fault in field_faults(batch.table, batch.rows, partial=False):
        batch.add(fault.problems(batch.rows), everywhere)
    rows = list(_rows(batch))
    checks = Orderable(reader, many=len(rows) > _MANY)
    for row in rows:
        if not batch.bad[row.index]:
            problem = _look_up(row, checks)
            if problem is not None:
                batch.add([problem], everywhere)
    orders: dict[str, _Order] = {}
    for row in rows:
        if row.order:
            orders.setdefault(row.order, _Order(row.order)).rows.append(row)
    held = {one.id: one for one in reader.of_orders("order")}
    lines = _by_order(reader)
    for order in orders.values():
        known = held.get(order.key)
        for row in order.rows:
            _keep_year(row, known, yearless)
        against = [*_within(order, batch), *_done_with(order, known, lines)]
        batch.add([*against, *_another(order, known), *_long_ago(order, known)], everywhere)
    good = []
    for order in orders.values():
        bad = [int(batch.source.rows[r.index]) for r in order.rows if batch.bad[r.index]]
        if not bad:
            good.append(order)
            continue
        why = f"order {order.key} is taken whole or not at all, and row {bad[0]} of it is rejected"
        fine = [r for r in order.rows if not batch.bad[r.index]]
        batch.add(
            [RowProblem(r.index, "order", order.key, "an order without a bad row", why) for r in fine], everywhere
        )
    return good


def _rows(batch: Batch) -> Iterator[_Row]:
    columns = {name: batch.rows.column(name).to_pylist() for name in batch.rows.column_names}
    for index in range(len(batch.source.rows)):
        cell = {name: column[index] for name, column in columns.items()}
        text = (cell.get("order") or "").strip()
        club, group = cell.get("club"), cell.get("set")
        quantity = 1 if cell.get("quantity") is None else int(cell["quantity"])
        wanted = Wanted(club_id=club, set_id=group, quantity=quantity)
        yield _Row(
            index,
            _key(text),
            cell.get("customer"),
            cell.get("wanted_on"),
            cell.get("notes"),
            wanted,
            str(club or group or ""),
        )


def _key(text: str) -> str:
    """Key of an order from its number as written."""
    pattern = load_schema().table("order").field("id").pattern
    low = text.lower()
    return low if pattern is None or pattern.fullmatch(low) else slug(text)[:80] if text else ""


def _look_up(row: _Row, checks: Orderable) -> RowProblem | None:
    """Find the club or set of a row; the reason where it cannot be ordered."""
    asked = row.wanted or Wanted()
    allowed = "a fitted club or a fitted set"
    if not row.named:
        return RowProblem(row.index, "club", None, allowed, "the row asks for neither a club nor a set")
    if asked.club_id is not None and asked.set_id is not None:
        why = f"the row asks for club {asked.club_id} and set {asked.set_id} at once; give each a row"
        return RowProblem(row.index, "club", asked.club_id, allowed, why)
    try:
        found = Wanted(set_id=asked.set_id) if asked.set_id is not None else checks.named(row.named)
        row.wanted = Wanted(found.club_id, found.set_id, asked.quantity)
        why = checks.against(row.wanted)
    except NotFoundError as error:
        why = str(error)
    column = "club" if asked.set_id is None else "set"
    return RowProblem(row.index, column, row.named, allowed, why) if why else None


def _by_order(reader: Reader) -> dict[str, list[OrderLine]]:
    there: dict[str, list[OrderLine]] = {}
    for line in reader.of_orders("order_line"):
        there.setdefault(line.order_id, []).append(line)
    return there


def _within(order: _Order, batch: Batch) -> Iterator[RowProblem]:
    """Rows of one order that contradict each other."""
    seen: dict[str, int] = {}
    firsts: dict[str, tuple[object, int]] = {}
    for row in order.rows:
        place = int(batch.source.rows[row.index])
        if row.named and row.named in seen:
            why = f"{row.named} of order {order.key} stands in row {seen[row.named]} already; give the quantity there"
            yield RowProblem(row.index, "club", row.named, "each club or set once an order", why)
        seen.setdefault(row.named, place)
        for name in _OF_THE_ORDER:
            value = getattr(row, name)
            if value is None:
                continue
            first, where = firsts.setdefault(name, (value, place))
            if first != value:
                why = f"{name} of order {order.key} is {value} here, but {first} in row {where}"
                yield RowProblem(row.index, name, value, f"the same in all rows of an order: {first}", why)


def _done_with(order: _Order, held: Order | None, lines: Mapping[str, Sequence[OrderLine]]) -> Iterator[RowProblem]:
    """An order that needs no parts any more, of which the list says something else."""
    if held is None or held.state in NEEDING_PARTS:
        return
    known = {(line.club_id, line.set_id, line.quantity) for line in lines.get(order.key, ())}
    for row in order.rows:
        asked = row.wanted or Wanted()
        other = [n for n in _OF_THE_ORDER if getattr(row, n) not in (None, getattr(held, n))]
        if other or (asked.club_id, asked.set_id, asked.quantity) not in known:
            why = f"order {order.key} is {held.state}, so no list changes it any more"
            yield RowProblem(row.index, "order", order.key, "a new order, or one that is open or at the bench", why)


def _keep_year(row: _Row, held: Order | None, yearless: Collection[int]) -> None:
    """The same list read again once its day is past means the day that the order has."""
    day, now = row.wanted_on, None if held is None else held.wanted_on
    if row.index in yearless and day is not None and now is not None and (day.month, day.day) == (now.month, now.day):
        row.wanted_on = now


def _another(order: _Order, held: Order | None) -> Iterator[RowProblem]:
    """An order of somebody else under the same number."""
    theirs = "" if held is None else (held.customer or "")
    for row in order.rows:
        if theirs and row.customer is not None and _plain(row.customer) != _plain(theirs):
            why = (
                f"customer of order {order.key} is {row.customer} here, but in the catalogue it is {theirs}: give the "
                "order another number, or put the customer right there first"
            )
            yield RowProblem(row.index, "customer", row.customer, f"the same as in the catalogue: {theirs}", why)


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _long_ago(order: _Order, held: Order | None) -> Iterator[RowProblem]:
    """A day long past that is no day the order has already: most likely another year is meant."""
    for row in order.rows:
        day = row.wanted_on
        if day is None or (held is not None and held.wanted_on == day):
            continue
        ago = (today() - day).days
        if ago > LONG_AGO_DAYS:
            why = f"wanted_on of order {order.key} is {day.isoformat()}, which is {ago} days ago"
            yield RowProblem(row.index, "wanted_on", day, "a day to come, or one less than a year ago", why)


def new_line_words(row: Mapping[str, Any]) -> str:
    """A line that a list adds, in words: ``o-1050 (new order): 2 × set tansley-irons``.

    Parameters
    ----------
    row : mapping
        One of ``ImportReport.new``.
    """
    what = f"set {row['set_id']}" if row.get("set_id") else str(row.get("club_id"))
    wanted = f", wanted {row['wanted_on'].isoformat()}" if row.get("wanted_on") else ""
    return f"{row['order_id']}{' (new order)' if row['line'] == 1 else ''}: {row['quantity']} × {what}{wanted}"


def _take(writer: Writer, orders: list[_Order], *, by: str | None) -> _Done:
    """Store the orders; rows that are there already count as unchanged."""
    import pyarrow as pa

    from specdb.catalogue.tables import arrow_schema

    there = _by_order(writer)
    known = {order.id: order for order in writer.of_orders("order")}
    done = _Done()
    heads: list[dict[str, Any]] = []
    lines: list[dict[str, Any]] = []
    for order in orders:
        head, touched = _head(order, known.get(order.key), done, by)
        if head is not None:
            heads.append(head)
        lines += _lines(order, there.get(order.key, []), done, touched=touched)
    for kind, rows in (("order", heads), ("order_line", lines)):
        if rows:
            schema = arrow_schema(load_schema().table(kind), list(rows[0]))
            writer.put_many(kind, pa.Table.from_pylist(rows, schema=schema))
    return done


def _head(order: _Order, held: Order | None, done: _Done, by: str | None) -> tuple[dict[str, Any] | None, bool]:
    """Values of the order itself, where they differ; whether it is new or differs."""
    given = {
        name: next((getattr(r, name) for r in order.rows if getattr(r, name) is not None), None)
        for name in _OF_THE_ORDER
    }
    if held is None:
        return {"id": order.key, "state": "open", **given, "taken_on": today(), "taken_by": by}, False
    kept = {name: getattr(held, name) if value is None else value for name, value in given.items()}
    differs = [name for name, value in kept.items() if value != getattr(held, name)]
    done.changes += [RowChange(order.key, name, getattr(held, name), kept[name]) for name in differs]
    if not differs:
        return None, False
    row = {"id": order.key, "state": held.state, **kept, "taken_on": held.taken_on, "taken_by": held.taken_by}
    return row, True


def _lines(order: _Order, there: list[OrderLine], done: _Done, *, touched: bool) -> Iterator[dict[str, Any]]:
    """Lines that are new or differ."""
    by_what = {(line.club_id, line.set_id): line for line in there}
    number = max((line.line for line in there), default=0)
    for at, row in enumerate(order.rows):
        wanted = row.wanted or Wanted()
        held = by_what.get((wanted.club_id, wanted.set_id))
        if held is None:
            number += 1
            done.added += 1
            done.changed += int(touched and at == 0)  # of an order that is there something differs, too
            new = {"order_id": order.key, "line": number, "club_id": wanted.club_id, "set_id": wanted.set_id}
            told = {**new, "quantity": wanted.quantity, "wanted_on": row.wanted_on}
            done.new.append({n: v for n, v in told.items() if v is not None})
            yield {**new, "quantity": wanted.quantity}
        elif held.quantity != wanted.quantity:
            done.changed += 1
            done.changes.append(RowChange(f"{order.key}/{held.line}", "quantity", held.quantity, wanted.quantity))
            yield {
                "order_id": order.key,
                "line": held.line,
                "club_id": held.club_id,
                "set_id": held.set_id,
                "quantity": wanted.quantity,
            }
        elif touched and at == 0:
            done.changed += 1  # what differs is the order of this row
        else:
            done.unchanged += 1
