"""What an import shows: the tables of what is refused, changed and new, and the sentences around them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from specdb.schema import Table
from specdb.tui.catalogue.kinds import first_columns
from specdb.tui.widgets.columns import ColumnSpec, plain, spec_of
from specdb.tui.widgets.words import value_words
from specdb.verbs.catalogue.forms import form_of

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.catalogue.importing import ImportReport

# how far an import is when a stage begins: shares of the time that 100,000 rows took
STAGES = {
    "reading the file": 0.0,
    "checking the rows": 0.15,
    "comparing": 0.2,
    "checking values": 0.24,
    "checking references": 0.27,
    "adding": 0.3,
    "changing": 0.35,
    "writing the journal": 0.45,
    "done": 0.7,  # what is left is to have it on the disk
}
_BAR = 24


@dataclass(frozen=True, slots=True)
class Shown:
    """A table of an import.

    Attributes
    ----------
    rows : pyarrow.Table
        Its rows, with a column ``number`` as the key.
    columns : sequence of ColumnSpec
        Its columns.
    empty : str
        What is said where it has no rows.
    told : callable
        Takes the number of a row and gives all of it, in words.
    wide : str
        Column that takes the room that is left; empty for none.
    """

    rows: pa.Table
    columns: Sequence[ColumnSpec]
    empty: str
    told: Callable[[int], str]
    wide: str = ""

    def fitted(self, room: int) -> list[ColumnSpec]:
        """The columns for a screen.

        Parameters
        ----------
        room : int
            Cells of the screen.
        """
        if not self.wide:
            return list(self.columns)
        others = sum((c.width or 8) + 2 for c in self.columns if c.name != self.wide)
        return [replace(c, width=max(room - others - 3, 20)) if c.name == self.wide else c for c in self.columns]


def _numbers(count: int) -> list[str]:
    return [str(number) for number in range(count)]


def refused_table(table: Table, report: ImportReport) -> Shown:
    """What is refused, and why.

    Parameters
    ----------
    table : Table
        Kind of the rows.
    report : ImportReport
        What came of the file.
    """
    import pyarrow as pa

    found = report.rejected
    titles = {f.name: f.title for f in table.fields}
    rows = pa.table(
        {
            "number": _numbers(len(found)),
            "row": pa.array([p.row for p in found], pa.int64()),
            "field": pa.array([titles.get(p.field, p.field) for p in found], pa.string()),
            "why": pa.array([plain(p.message) for p in found], pa.string()),
        }
    )
    columns = (ColumnSpec("row", "Row", right=True), ColumnSpec("field", "Field", width=20), ColumnSpec("why", "Why"))
    return Shown(rows, columns, "Nothing is refused.", lambda n: f"Row {found[n].row}: {found[n].message}.", "why")


def changed_table(table: Table, report: ImportReport) -> Shown:
    """Which values change, before and after.

    Parameters
    ----------
    table : Table
        Kind of the rows.
    report : ImportReport
        What came of the file.
    """
    import pyarrow as pa

    found = report.changes
    form = form_of(table.name)
    titles = {f.name: f.title for f in table.fields}

    def words(name: str, value: object) -> str:
        return value_words(form, name, value)

    rows = pa.table(
        {
            "number": _numbers(len(found)),
            "key": pa.array([c.key for c in found], pa.string()),
            "field": pa.array([titles[c.field] for c in found], pa.string()),
            "before": pa.array([words(c.field, c.before) for c in found], pa.string()),
            "after": pa.array([words(c.field, c.after) for c in found], pa.string()),
        }
    )
    columns = tuple(ColumnSpec(n, n.capitalize()) for n in ("key", "field", "before", "after"))

    def told(number: int) -> str:
        change = found[number]
        before, after = words(change.field, change.before), words(change.field, change.after)
        return f"{change.key}, {titles[change.field]}: {before} → {after}"

    return Shown(rows, columns, "No value of a row that is there changes.", told)


def new_table(table: Table, report: ImportReport) -> Shown:
    """The first of the rows that are new.

    Parameters
    ----------
    table : Table
        Kind of the rows.
    report : ImportReport
        What came of the file.
    """
    import pyarrow as pa

    from specdb.catalogue.tables import arrow_schema

    found = report.new
    form = form_of(table.name)
    known = {n for row in found for n in row}
    shown = [n for n in first_columns(table) if n in known]
    key = [n for n in table.primary_key if n not in shown and table.key_style != "digest"]
    names = [*key, *shown]
    rows = pa.Table.from_pylist(found, schema=arrow_schema(table, list(table.field_names)))
    rows = rows.append_column("number", pa.array(_numbers(len(found)), pa.string()))
    columns = [spec_of(table.field(n)) for n in names]

    def told(number: int) -> str:
        values = found[number]
        quantity = str(values.get("quantity") or "")
        return "; ".join(f"{table.field(n).title}: {value_words(form, n, v, quantity)}" for n, v in values.items())

    return Shown(rows, columns, "No row is new.", told)


def alike_table(report: ImportReport) -> Shown:
    """New rows that look like one that is there under another key.

    Parameters
    ----------
    report : ImportReport
        What came of the file.
    """
    import pyarrow as pa

    found = report.remarks
    rows = pa.table(
        {
            "number": _numbers(len(found)),
            "row": pa.array([r.row for r in found], pa.int64()),
            "why": pa.array([plain(r.message) for r in found], pa.string()),
        }
    )
    columns = (ColumnSpec("row", "Row", right=True), ColumnSpec("why", "Why"))
    told = "No new row has the names of one that is there."
    return Shown(rows, columns, told, lambda n: f"Row {found[n].row}: {found[n].message}.", "why")


def count_words(report: ImportReport, *, taken: bool) -> str:
    """How many rows are new, changed, unchanged and refused.

    Parameters
    ----------
    report : ImportReport
        What came of the file.
    taken : bool
        Whether they were taken.
    """
    refused = len({p.row for p in report.rejected})
    parts = [
        f"{report.added:,} {'added' if taken else 'new'}",
        f"{report.changed:,} changed",
        f"{report.unchanged:,} as they are",
        f"{refused:,} refused",
    ]
    if report.remarks:
        parts.append(f"{len(report.remarks):,} worth a look (4)")
    return "  ·  ".join(parts).replace(",", " ")


def what_now(report: ImportReport, *, taken: bool) -> str:
    """What happened, and what one may do next.

    Parameters
    ----------
    report : ImportReport
        What came of the file.
    taken : bool
        Whether it was taken.
    """
    good = report.added + report.changed
    refused = len({p.row for p in report.rejected})
    if taken:
        if report.change_no is None:
            return "Everything stood in the catalogue so already; nothing was written."
        where = f" The refused rows, with reasons, are in {report.rejected_file}." if report.rejected_file else ""
        return f"Taken as change {report.change_no}; u undoes it.{where}"
    if refused and good:
        many = "1 row is" if refused == 1 else f"{refused:,} rows are".replace(",", " ")
        return (
            f"Nothing is written yet. {many} refused: correct the file and look again (a), or g takes the {good} "
            "good ones and writes the others, with reasons, beside the file."
        )
    if refused:
        return "Nothing in the file can be taken. Correct it and look again (a)."
    if not good:
        return "Everything stands in the catalogue so already; there is nothing to take."
    return "Nothing is written yet. ^s takes it all; it can be undone as one change."


def stage_words(stage: str, done: int, total: int, seconds: float) -> str:
    """How far an import is, with a bar.

    Parameters
    ----------
    stage : str
        What is being done.
    done, total : int
        Rows done, and in all.
    seconds : float
        How long it has taken by now, s.
    """
    begin = STAGES.get(stage, 0.0)
    end = next((share for share in sorted(STAGES.values()) if share > begin), 1.0)
    part = begin + (end - begin) * (done / total if total else 0.0)
    full = round(part * _BAR)
    rows = f" {total:,} rows".replace(",", " ") if total > 1 else ""
    took = f", {seconds:.0f} s" if seconds >= 1 else ""
    return f"{'█' * full}{'░' * (_BAR - full)} {part:4.0%}  {stage or 'beginning'}{rows}{took}"
