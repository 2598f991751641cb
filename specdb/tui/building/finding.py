"""Which club is put on the bench of the place Build: scanned, typed or chosen, and of which order it is."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from textual import on
from textual.widgets import Input

from specdb.tui.base import PlaceScreen
from specdb.tui.building.chooser import UnitChooser
from specdb.tui.building.measures import ValueInput
from specdb.tui.dialogs.chooser import Chooser
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.days import short_day
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.prose import sentence
from specdb.units.writing import as_sentence
from specdb.verbs.building.bench_units import BenchUnit, bench_units
from specdb.verbs.building.sheet_code import UnitMeant, code_alone, code_of
from specdb.verbs.building.which_unit import SeveralUnitsError, find_unit

if TYPE_CHECKING:
    from specdb.errors import SpecdbError

_SHORT = 6  # s: read once, and out of the way of the steps


class FindsClub(PlaceScreen):
    """The part of the place that finds the club that is meant."""

    def _open(self, meant: UnitMeant, *, again: bool = False, forgotten: bool = False) -> None:
        raise NotImplementedError

    def action_pick(self) -> None:
        """Choose a club."""
        self.app.push_screen(UnitChooser(), self._picked)

    def action_first(self) -> None:
        """Choose a club where none is on the bench yet."""
        self.action_pick()

    def _picked(self, code: str | None) -> None:
        if code is not None:
            self._find(code)

    def action_scan(self) -> None:
        """Go to the entry for codes."""
        self.query_one("#scan", Input).focus()

    @on(Input.Submitted, "#scan")
    def _scanned(self, message: Input.Submitted) -> None:
        message.stop()
        text, message.input.value = message.value.strip(), ""
        if text:
            self._find(text)
        else:
            self.action_pick()

    @on(ValueInput.Scanned)
    def _scanned_elsewhere(self, message: ValueInput.Scanned) -> None:
        self._find(message.code)

    def _find(self, text: str) -> None:
        catalogue = self.desk.catalogue

        def job() -> tuple[UnitMeant, str] | list[BenchUnit]:
            try:
                return find_unit(catalogue, text)
            except SeveralUnitsError as error:
                return [u for u in bench_units(catalogue) if u.meant in error.units]

        self.work(job, self._found, group="find", what="look for the club", failed=self._say_scan)

    def _found(self, found: tuple[UnitMeant, str] | list[BenchUnit]) -> None:
        if isinstance(found, list):
            self._ask_which(found)
            return
        meant, said = found
        if said:
            self.app.notify(as_sentence(said), timeout=_SHORT, markup=False)
        self._open(meant)

    def _ask_which(self, units: list[BenchUnit]) -> None:
        """Ask for which order the club is built, or for none."""
        club, today = units[0].meant.club, dt.date.today()  # noqa: DTZ011 (the shop's own day)
        rows = [
            (
                code_of(u.meant),
                f"order {u.meant.order}",
                f"line {u.meant.line}, club {u.meant.unit}",
                "" if u.wanted_on is None else short_day(u.wanted_on, today),
                u.customer,
            )
            for u in units
        ]
        rows.append((code_alone(club), "no order", "measured for itself", "", ""))
        titles = {"order": "order", "which": "which", "wanted": "wanted", "customer": "for"}
        columns = [ColumnSpec(name, title) for name, title in titles.items()]
        self.app.push_screen(Chooser(f"For which order is {club}?", columns, rows), self._picked)

    def _say_scan(self, error: SpecdbError | None) -> None:
        """Say beside the entry for codes what is wrong with what was scanned."""
        said = self.query_one("#scan-said", LinesView)
        text = "" if error is None else str(error)
        width = max(self.size.width - 6, 40)
        said.show(sentence(as_sentence(text), width, before=(("! ", "bad"),), part="bad") if text else [])
        said.display = bool(text)
        if text:
            self.app.bell()
