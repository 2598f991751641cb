"""Changing an open catalogue: one transaction, one change number in the journal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from specdb.catalogue import order_rules, promises
from specdb.catalogue import undo as undoing
from specdb.catalogue.bulk import Bulk, Comparison, Counts, Progress, RowsRejectedError, one_row
from specdb.catalogue.journal import Stamp, check_stamp, journal_sql, last_change, shortened
from specdb.catalogue.promises import Beyond
from specdb.catalogue.reader import Reader
from specdb.catalogue.relations import referrers
from specdb.catalogue.tables import image_sql, key_match, key_parts, key_sql, key_text, literal, quoted
from specdb.catalogue.undo import UndoSummary
from specdb.catalogue.validate import check_values, derive_key, field_error
from specdb.errors import ConflictError, FieldError, NotFoundError, UsageError, indefinite
from specdb.schema import Table, load_schema

if TYPE_CHECKING:
    import duckdb
    import pyarrow as pa

Mode = Literal["add", "update", "upsert"]
Outcome = Literal["added", "changed", "unchanged"]


class Writer(Reader):
    """An open catalogue within a change; made by :meth:`specdb.catalogue.Catalogue.write`.

    Everything done through it is one transaction and one change number, kept when the block ends well.
    """

    def __init__(
        self, path: Path, con: duckdb.DuckDBPyConnection, *, by: str | None, why: str | None, done: str
    ) -> None:
        super().__init__(path, con)
        check_stamp(by, why)
        now = dt.datetime.now(dt.UTC).replace(tzinfo=None)
        self._stamp = Stamp(last_change(con) + 1, now, by, why, shortened(done))
        self._row_no = 1
        self._broken = False
        self._beyond: tuple[Beyond, ...] = ()

    @property
    def change_no(self) -> int | None:
        """Number of this change; None as long as nothing differs."""
        return self._stamp.change_no if self._row_no > 1 else None

    @property
    def beyond(self) -> tuple[Beyond, ...]:
        """Parts that a count or damage left short of what is held for orders; known once the change was kept."""
        return self._beyond

    def settle(self) -> None:
        """Look at what holds between stock, orders and the parts held for them; the catalogue does it before it keeps.

        Raises
        ------
        ConflictError
            If the change breaks a promise; then it must be given up.
        """
        if self.change_no is not None:
            order_rules.settle(self._con, self.change_no)
            self._beyond = promises.settle(self._con, self.change_no, undo=self._stamp.undoes is not None)

    @contextmanager
    def _in_one_piece(self) -> Iterator[None]:
        self.refuse_if_broken()
        try:
            yield
        except BaseException:
            self._broken = True
            raise

    def refuse_if_broken(self) -> None:
        """Raise if a step failed half-way, so that the change must be given up.

        Raises
        ------
        ConflictError
            If so.
        """
        if self._broken:
            raise ConflictError("an earlier step of this change failed, so the change is given up as a whole")

    def put(self, kind: str, values: Mapping[str, object], *, mode: Mode = "upsert") -> Outcome:
        """Add or update one row.

        Parameters
        ----------
        kind : str
            Kind of the row.
        values : mapping
            Values in the stored units, by field name. None clears a field; fields that are left out stay as
            they are, or unknown in a new row. A missing key is worked out from the other fields.
        mode : {"add", "update", "upsert"}
            Whether the row must be new, must exist, or either.

        Returns
        -------
        str
            ``added``, ``changed`` or ``unchanged``.

        Raises
        ------
        FieldError
            If a value is not allowed, or a reference points at nothing.
        ConflictError
            If the row exists already (``add``), alters a ledger entry or takes more than there is on hand.
        NotFoundError
            If the row does not exist (``update``).
        UnknownKindError, UnknownFieldError
            If there is no such kind or field.
        """
        self.refuse_if_broken()
        table = load_schema().table(kind)
        given, problems = check_values(kind, values, partial=True)
        if problems:
            raise _joined(problems)
        given = self._with_key(table, given, mode)
        key = key_text(table, given)
        exists = self.find(kind, key) is not None
        if mode == "add" and exists:
            raise ConflictError(f"there is {indefinite(kind)} '{key}' already")
        if mode == "update" and not exists:
            raise NotFoundError(kind, key, self.near(kind, key))
        with Bulk(self._con, kind, one_row(table, given)) as bulk:
            found = bulk.compare()
            if found.problems:
                raise _joined([field_error(kind, p) for p in found.problems])
            if found.conflicts:
                raise ConflictError(found.conflicts[0].message)
            self._store(bulk, found.counts)
        counts = found.counts
        return "added" if counts.added else "changed" if counts.changed else "unchanged"

    def _with_key(self, table: Table, given: dict[str, Any], mode: Mode) -> dict[str, Any]:
        missing = [n for n in table.primary_key if given.get(n) is None]
        if not missing:
            return given
        key = derive_key(table.name, given) if mode != "update" else None
        if key is None:
            field = table.field(missing[0])
            raise FieldError(
                f"{indefinite(table.name)} needs its {field.name}: {field.allowed()}",
                kind=table.name,
                field=field.name,
                allowed=field.allowed(),
            )
        if mode == "add" and table.key_style == "digest":
            number, first = 1, key
            while self.find(table.name, key) is not None:
                number += 1
                key = f"{first}-{number}"
        return {**given, missing[0]: key}

    def compare_many(
        self, kind: str, rows: pa.Table, *, list_changes: int = 0, progress: Progress | None = None
    ) -> Comparison:
        """What :meth:`put_many` would do and what stands against it; nothing is written.

        Parameters
        ----------
        kind : str
            Kind of the rows.
        rows : pyarrow.Table
            Columns named as the fields; row numbers of the problems count from 0.
        list_changes : int
            How many changed fields to list at most.
        progress : callable, optional
            Called with what is being done, rows done, rows in all.
        """
        with Bulk(self._con, kind, rows, progress) as bulk:
            return bulk.compare(list_changes=list_changes)

    def put_many(
        self,
        kind: str,
        rows: pa.Table,
        *,
        list_changes: int = 0,
        progress: Progress | None = None,
        part_of_more: bool = False,
    ) -> Counts:
        """Add or update many rows at once; all or nothing.

        Parameters
        ----------
        kind : str
            Kind of the rows.
        rows : pyarrow.Table
            Columns named as the fields, the key among them. Fields that are no columns stay as they are; an
            empty cell clears its field.
        list_changes : int
            How many changed fields to list at most.
        progress : callable, optional
            Called with what is being done, rows done, rows in all.
        part_of_more : bool
            Whether rows of other kinds follow in this change, so that what holds between stock, orders and the parts
            held for them is looked at at its end only.

        Raises
        ------
        RowsRejectedError
            With every problem, if any row cannot be taken.
        UnknownKindError, UnknownFieldError, UsageError
            If there is no such kind or field, or a column has the wrong type.
        """
        self.refuse_if_broken()
        with Bulk(self._con, kind, rows, progress, part_of_more=part_of_more) as bulk:
            found = bulk.compare(list_changes=list_changes)
            against = sorted([*found.problems, *found.conflicts], key=lambda p: p.row)
            if against:
                raise RowsRejectedError(kind, against)
            self._store(bulk, found.counts)
        return found.counts

    def _store(self, bulk: Bulk, counts: Counts) -> None:
        with self._in_one_piece():
            self._row_no = bulk.store(counts, self._stamp, self._row_no)

    def retire(self, kind: str, key: str) -> Outcome:
        """Mark an item as retired: it stays for those that refer to it and is no longer proposed.

        Parameters
        ----------
        kind : str
            Kind of the item.
        key : str
            Its key.

        Raises
        ------
        NotFoundError
            If there is none.
        UsageError
            If rows of this kind have no status.
        """
        table = load_schema().table(kind)
        if "status" not in table.field_names:
            raise UsageError(f"{indefinite(kind)} has no status, so it cannot be retired")
        self.get(kind, key)
        values = dict(zip(table.primary_key, key_parts(table, key), strict=True))
        return self.put(kind, {**values, "status": "retired"}, mode="update")

    def remove(self, kind: str, key: str) -> None:
        """Remove a row that nothing refers to; the journal keeps what it was.

        Parameters
        ----------
        kind : str
            Kind of the row.
        key : str
            Its key.

        Raises
        ------
        NotFoundError
            If there is none.
        ConflictError
            If something refers to it, or the kind is a ledger.
        """
        self.refuse_if_broken()
        table = load_schema().table(kind)
        self.get(kind, key)
        if table.append_only:
            raise ConflictError(f"{indefinite(kind)} is never removed; add a correcting one, or undo the change")
        parts = list(key_parts(table, key))
        one = f"(SELECT * FROM {quoted(kind)} WHERE {_fixed(table, parts)})"
        for _, other, other_key in referrers(self._con, kind, one, limit=1):
            advice = "retire it instead" if "status" in table.field_names else "remove that first"
            raise ConflictError(f"{kind} '{key}' is referred to by {other} '{other_key}'; {advice}")
        with self._in_one_piece():
            select = (
                f"SELECT {self._row_no}, {literal(kind)}, {key_sql(table, 't')}, 'removed', "
                f"{image_sql(table, 't')}, NULL FROM {one} t"
            )
            self._con.execute(journal_sql(select), self._stamp.parameters)
            self._con.execute(f"DELETE FROM {quoted(kind)} WHERE {key_match(table)}", parts)
            self._row_no += 1

    def undo(self, change_no: int | None = None) -> UndoSummary:
        """Take a change back, as this change; it must be the only thing this change does.

        Parameters
        ----------
        change_no : int, optional
            Which; the latest that is no undo and still stands, where left out.

        Raises
        ------
        NotFoundError
            If there is no such change.
        ConflictError
            If a row was changed since, is referred to, or refers to what is no longer there.
        UsageError
            If this change has done something else already.
        """
        self.refuse_if_broken()
        if self._row_no > 1:
            raise UsageError("an undo is a change of its own; do nothing else within it")
        which = undoing.latest_to_undo(self._con) if change_no is None else change_no
        old = self._stamp
        self._stamp = Stamp(old.change_no, old.at, old.by, old.why, undoing.UNDO, which)
        with self._in_one_piece():
            summary = undoing.take_back(self._con, which, self._stamp)
        self._row_no += summary.added + summary.changed + summary.removed
        return summary


def _fixed(table: Table, parts: list[str]) -> str:
    pairs = zip(table.primary_key, parts, strict=True)
    return " AND ".join(f"{quoted(name)} = {literal(part)}" for name, part in pairs)


def _joined(problems: list[FieldError]) -> FieldError:
    """One error for all of them; its fields are those of the first."""
    first = problems[0]
    return FieldError(
        "; ".join(str(p) for p in problems),
        kind=first.kind,
        field=first.field,
        value=first.value,
        allowed=first.allowed,
    )
