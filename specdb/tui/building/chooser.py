"""Choosing the club to build: from the open orders, wanted first, or any fitted club; a code may be scanned, too."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, ClassVar

from textual.widgets import Input

from specdb.tui.catalogue.search import nearest_first
from specdb.tui.dialogs.chooser import ChoosingDialog
from specdb.tui.widgets.columns import ColumnSpec, measured
from specdb.tui.widgets.days import short_day
from specdb.verbs.building.bench_units import NEEDED, BenchUnit, bench_units
from specdb.verbs.building.sheet_code import code_alone, code_of, has_code

if TYPE_CHECKING:
    import pyarrow as pa

_COLUMNS = (
    ColumnSpec("club", "club"),
    ColumnSpec("order", "order"),
    ColumnSpec("wanted", "wanted"),
    ColumnSpec("stands", "parts, measured"),
    ColumnSpec("customer", "for", width=21),
    ColumnSpec("set", "set"),
)


class UnitChooser(ChoosingDialog):
    """Choose a club to build; closes with its code, or with the code that was scanned."""

    place = "chooser"
    KEY: ClassVar[tuple[str, ...]] = ("code",)
    DEFAULT_CSS = """
    UnitChooser > .dialog { width: 110; height: 95%; }
    """

    def __init__(self) -> None:
        super().__init__("Which club is built?", "part of club, order, set or customer; or scan the code of a sheet")
        self._rows: list[tuple[BenchUnit, str]] = []

    def on_mount(self) -> None:
        """Get the clubs."""
        catalogue = self.desk.catalogue
        self.work(lambda: bench_units(catalogue), self._loaded, group="load", what="list the clubs of the orders")

    def _loaded(self, units: tuple[BenchUnit, ...]) -> None:
        self._rows = [(unit, " ".join(_texts(unit)).lower()) for unit in units]
        self.search(self.query_one(Input).value)

    def search(self, words: str) -> None:
        """Show the clubs that have the words typed.

        Parameters
        ----------
        words : str
            As typed.
        """
        wanted = words.lower().split()
        having = [unit for unit, text in self._rows if all(w in text for w in wanted)]
        found = nearest_first(words, having, lambda u: u.meant.club)
        if self._rows:
            self.table.set_empty("No club has that in its name, order, set or customer.")
        rows = _table(found)
        self.table.set_table(rows, measured(rows, _COLUMNS), keep=False)

    def action_pick(self) -> None:
        """Close with the code that was scanned, else with the row of the cursor."""
        typed = self.query_one(Input).value.strip()
        if has_code(typed) >= 0 or ":" in typed:
            self.dismiss(typed)
        else:
            super().action_pick()


def _texts(unit: BenchUnit) -> tuple[str, ...]:
    of = unit.meant
    number = f"{of.order} {of.line}.{of.unit}" if of.order else "no order"
    wanted = unit.wanted_on
    return (
        of.club,
        number,
        "" if wanted is None else short_day(wanted, dt.date.today()),  # noqa: DTZ011 (the shop's own day)
        ", ".join(part for part in (unit.parts, _measured(unit)) if part),
        unit.customer,
        unit.set_id or "",
    )


def _measured(unit: BenchUnit) -> str:
    if unit.done:
        return "measured"
    return f"{unit.measured} of {NEEDED}" if unit.measured else ""


def _table(units: list[BenchUnit]) -> pa.Table:
    import pyarrow as pa

    # a row without an order is chosen as that, whichever order asks for the club
    rows = [(code_of(u.meant) if u.meant.order else code_alone(u.meant.club), *_texts(u)) for u in units]
    names = ("code", *(c.name for c in _COLUMNS))
    return pa.table({name: pa.array([row[i] for row in rows], pa.string()) for i, name in enumerate(names)})
