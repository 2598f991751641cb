"""Taking orders from a flat list: what it would add, change and what is refused, before anything is written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from specdb.tui.catalogue.import_view import ImportScreen
from specdb.tui.catalogue.import_words import Shown, alike_table
from specdb.tui.widgets.columns import ColumnSpec, plain

if TYPE_CHECKING:
    from specdb.catalogue.importing import ImportReport
    from specdb.tui.actions import Action

_REFUSED, _CHANGED, _NEW, _ALIKE = range(4)
_TITLES = {"order": "order", "club": "club or set", "set": "set", "wanted_on": "wanted on"}
_NOT_HERE = ("kind",)


class OrderImportScreen(ImportScreen):
    """Orders from a list, a row a line.

    Parameters
    ----------
    file : str or None
        The file; asked for where None.
    """

    place = "order import"
    ACTIONS: ClassVar[Sequence[Action]] = tuple(a for a in ImportScreen.ACTIONS if a.id not in _NOT_HERE)

    def __init__(self, file: str | None = None) -> None:
        super().__init__("order", file)

    def _title(self) -> str:
        if self._file is None:
            return "Orders from a list: order, customer, wanted_on, club (or set), quantity"
        sheet = f", sheet {self._sheet}" if self._sheet else ""
        return f"Orders from {self._file.name}{sheet}"

    def _file_chosen(self, file: str | None) -> None:
        if file is None:
            if self._file is None:
                self.action_back()
            return
        self._file, self._sheet, self._sheets = Path(file), None, ()
        self._look()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """As of any import, but what the rows are is known."""
        return False if action in _NOT_HERE else super().check_action(action, parameters)

    def _import(
        self,
        file: Path,
        sheet: str | None,
        tell: Callable[[str, int, int], None],
        *,
        dry_run: bool,
        accept_good: bool,
        by: str | None,
    ) -> tuple[ImportReport, dict[int, Shown]]:
        """Look at the list or take it; in a thread."""
        from specdb.verbs.orders.flat_list import import_orders

        tell("reading the file", 0, 1)
        catalogue = self.desk.catalogue
        report = import_orders(catalogue, file, sheet=sheet, dry_run=dry_run, accept_good=accept_good, by=by)
        return report, {
            _REFUSED: _refused(report),
            _CHANGED: _changed(report),
            _NEW: _new(report),
            _ALIKE: alike_table(report),
        }


def _refused(report: ImportReport) -> Shown:
    import pyarrow as pa

    found = report.rejected
    rows = pa.table(
        {
            "number": [str(n) for n in range(len(found))],
            "row": pa.array([p.row for p in found], pa.int64()),
            "field": pa.array([_TITLES.get(p.field, p.field) for p in found], pa.string()),
            "why": pa.array([plain(p.message) for p in found], pa.string()),
        }
    )
    columns = (ColumnSpec("row", "Row", right=True), ColumnSpec("field", "Field", width=12), ColumnSpec("why", "Why"))
    return Shown(rows, columns, "Nothing is refused.", lambda n: f"Row {found[n].row}: {found[n].message}.", "why")


def _changed(report: ImportReport) -> Shown:
    import pyarrow as pa

    found = report.changes
    texts = [(c.key, _TITLES.get(c.field, c.field), _words(c.before), _words(c.after)) for c in found]
    names = ("key", "field", "before", "after")
    rows = pa.table(
        {
            "number": [str(n) for n in range(len(found))],
            **{name: pa.array([t[i] for t in texts], pa.string()) for i, name in enumerate(names)},
        }
    )
    columns = (
        ColumnSpec("key", "Order/line"),
        ColumnSpec("field", "Field"),
        ColumnSpec("before", "Now"),
        ColumnSpec("after", "After"),
    )

    def told(number: int) -> str:
        key, field, before, after = texts[number]
        return f"{key}, {field}: {before} → {after}"

    return Shown(rows, columns, "Nothing of an order that is there changes.", told)


def _new(report: ImportReport) -> Shown:
    import pyarrow as pa

    from specdb.verbs.orders.flat_list import new_line_words

    found = report.new
    texts = [
        (
            str(row["order_id"]),
            "new order" if row["line"] == 1 else "",
            f"set {row['set_id']}" if row.get("set_id") else str(row.get("club_id")),
            str(row["quantity"]),
        )
        for row in found
    ]
    names = ("order", "new", "what", "quantity")
    rows = pa.table(
        {
            "number": [str(n) for n in range(len(found))],
            **{name: pa.array([t[i] for t in texts], pa.string()) for i, name in enumerate(names)},
        }
    )
    columns = (
        ColumnSpec("order", "Order"),
        ColumnSpec("what", "Asks for"),
        ColumnSpec("quantity", "Quantity", right=True),
        ColumnSpec("new", ""),
    )

    return Shown(rows, columns, "No line is new.", lambda n: new_line_words(found[n]))


def _words(value: object) -> str:
    return "empty" if value is None or value == "" else plain(value)
