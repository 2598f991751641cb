"""The stand-ins of a fitted set: models that can supply every shaft of it, ranked, each with its trim chart."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.widget import Widget

from specdb.errors import SpecdbError
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.sets.asked import TOP, RankedModels, rank_models
from specdb.tui.sets.standins_acts import SetStandInActs
from specdb.tui.sets.standins_lists import key_of, left_out_models, left_out_specs, models_table
from specdb.tui.sets.standins_words import (
    differences_lines,
    fitted_lines,
    left_out_counts,
    model_line,
    model_lines,
    models_line,
    set_work_lines,
    slopes_picture,
)
from specdb.tui.sets.words import ALONG
from specdb.tui.standins.acts import today
from specdb.tui.standins.asked import from_memory
from specdb.tui.standins.detail_tabs import DetailTabs
from specdb.tui.widgets.columns import measured
from specdb.tui.widgets.curves import Axis
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import sentence

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.matching.doubt import Doubt
    from specdb.sets.result import SetStandIn

_NONE_FOUND = "No model can supply the whole set as asked. Tab 5 says why each was left out; a takes the filters away."
_UP = Axis(0.0, 0.0, "frequency, cpm; numbers: the fitted clubs; dots ± 1 sd")


class ModelDetail(DetailTabs):
    """Everything about one model."""

    TABS = ("Trim chart", "Differences", "Frequency", "Work", "Left out")
    IDS = ("chart", "differences", "frequency", "work", "left-out")
    KEY, NAME = "shaft_id", "model"
    NONE_LEFT_OUT = "Every model is proposed."

    def page(self, name: str) -> Widget:
        """What lies under a tab."""
        return Vertical(CurvesView(id="frequency-curves"), id=name) if name == "frequency" else super().page(name)

    def focus_page(self) -> None:
        """Put the keys to what the tab shows."""
        if self.IDS[self.opened] != "frequency":
            super().focus_page()
        elif self.screen.has_class("switch"):
            self.screen.set_focus(None)


class SetStandInsScreen(SetStandInActs):
    """Models for a set.

    Parameters
    ----------
    set_id : str
        The set.
    """

    place = "set stand-ins"
    ACTIONS = (
        Action("back", "escape", "back", "Back to the list, then to where we came from."),
        Action("choose", "c", "choose", "Choose this model for the whole set, with who and why."),
        Action("turn_down", "x", "turn down", "Turn this model down for the whole set, with who and why."),
        Action("in_stock", "s", "in stock", "Only models of which all pieces are free, or all."),
        Action("max_price", "p", "price", "Only shafts whose price is known and not higher, a piece."),
        Action("max_weight", "w", "weight", "Only shafts whose weight is known and not higher."),
        Action("same_tip", "t", "same tip", "Only shafts with the fitted one's tip diameter and form, or all."),
        Action("no_reaming", "n", "reaming", "Only what goes in without reaming, or all."),
        Action("no_filter", "a", "all", "Take every filter away."),
        Action("sheets", "u", "sheets", "Write trim chart and build sheets of the set to a PDF file."),
        Action("weighting", "g", "weighting", "Choose a named weighting."),
        Action("save", "o", "save", "Save trim chart and comparison as a text file."),
        Action("print", "P", "print", "Print trim chart and comparison.", shown=False),
        Action("fitup", "f", "fit-up", "See the tip of one club's stand-in in its bore (place Fit-up)."),
        Action("why_not", "y", "why not", "Choose a shaft and see why its model is not proposed.", shown=False),
        Action("step(1)", "full_stop", "next", "Look at the next model.", shown=False),
        Action("step(-1)", "comma", "last", "Look at the model before.", shown=False),
        Action("tab(0)", "1", "trim chart", "Show the trim chart.", shown=False),
        Action("tab(1)", "2", "differences", "Show the differences, club by club.", shown=False),
        Action("tab(2)", "3", "frequency", "Draw frequency against length, fitted and with the stand-in.", shown=False),
        Action("tab(3)", "4", "work", "Show the preparation, cautions and notes.", shown=False),
        Action("tab(4)", "5", "left out", "Show what was left out, and why.", shown=False),
    )
    BROAD = 190
    DEFAULT_CSS = """
    SetStandInsScreen.beside #ranked { width: 96; }
    """

    def __init__(self, set_id: str) -> None:
        super().__init__(set_id)
        self._doubt: Doubt | None = None
        self._left_out_of: RankedModels | None = None
        self._read_at = -1

    def compose(self) -> ComposeResult:
        """The fitted set, the models, and everything about one."""
        yield LinesView(id="head")
        with Container(id="both"):
            yield PagedTable(empty="Looking …", id="ranked")
            yield ModelDetail()

    def on_mount(self) -> None:
        """Look for models."""
        self._options = replace(from_memory(self.memory.get(self.FILTERS, {})), top=TOP)
        self.query_one("#head", LinesView).show([((self._set_id, "head"),)])
        self._list.focus()
        self._ask()

    @property
    def _found(self) -> SetStandIn | None:
        if self._ranked is None:
            return None
        key = self._list.cursor_key
        return next((r for r in self._ranked.answer.report.results if key_of(r) == key), None)

    # ---- asking

    def _ask(self) -> None:
        desk, set_id, options, seen = self.desk, self._set_id, self._options, self._changes
        before = self._ranked if self._read_at == seen else None
        self.work(
            lambda: rank_models(desk, set_id, options, before),
            partial(self._show_ranked, seen),
            group="rank",
            what="look for models",
            failed=self._failed,
        )

    def _failed(self, error: SpecdbError) -> None:
        self._ranked = None
        self._show_model(self._say_failed(error))

    def _show_ranked(self, seen: int, ranked: RankedModels) -> None:
        first = self._ranked is None
        self._read_at, self._ranked = seen, ranked
        self._list.set_empty("None. Press 5 to see why each model was left out.")
        self._write_lists(keep=not first)
        if not ranked.answer.report.results:
            self._show_model(_NONE_FOUND)
        self._show_left_out()
        self.actions_changed()

    def _write_lists(self, *, keep: bool) -> None:
        ranked = self._ranked
        if ranked is None:
            return
        lines = [*fitted_lines(ranked.answer, self._width), models_line(ranked.options, ranked.answer, self._width)]
        self.query_one("#head", LinesView).show(lines)
        table, columns = models_table(ranked.answer, self._list.size.width or self._width, today())
        self._list.set_table(table, columns, keep=keep)

    # ---- one model

    @on(PagedTable.RowHighlighted, "#ranked")
    def _highlighted(self) -> None:
        found = self._found
        if found is None:
            return
        self._doubt = None
        self._detail.scroll_pages_home()
        self._show_model()

        def show(doubt: Doubt) -> None:
            if self._found is found:
                self._doubt = doubt
                self._show_model()

        self.work(lambda: found.doubts.all[0], show, group="doubt", what="work out what the doubt is made of")

    def _show_model(self, nothing: str = "") -> None:
        found, ranked = self._found, self._ranked
        which, curves = self.query_one("#which", LinesView), self.query_one(CurvesView)
        chart, differences, work = (self._detail.lines_of(name) for name in ("chart", "differences", "work"))
        width = self._detail.room
        if found is None or ranked is None:
            which.show([])
            chart.show(sentence(nothing, width))
            differences.show([])
            work.show([])
            curves.say("")
            return
        which.show([model_line(found, width)])
        chart.show(model_lines(found, width, self._doubt))
        differences.show(differences_lines(found, width))
        work.show(set_work_lines(found, width))
        curves.show(*slopes_picture(found, ranked.lengths), x=ALONG, y=_UP)

    def _show_left_out(self) -> None:
        ranked = self._ranked
        if ranked is None or not self._detail.shows_left_out or self._left_out_of is ranked:
            return

        def show(table: pa.Table) -> None:
            self._left_out_of = ranked
            room = self._detail.room
            columns = measured(table, left_out_specs(room + 3))
            self._detail.list_left_out(left_out_counts(ranked.answer, room), table, columns)

        self.work(lambda: left_out_models(ranked.answer), show, group="left out", what="list what was left out")

    def _fit(self) -> None:
        if self._ranked is not None:
            self._write_lists(keep=True)
            self._show_model()


def open_set_of(screen: PlaceScreen, club: str | None) -> None:
    """Show the models for the set that a club belongs to; say so where it belongs to none.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    club : str or None
        Key of the club.
    """
    if club is None:
        return
    catalogue = screen.desk.catalogue

    def look() -> str | None:
        with catalogue.read() as reader:
            set_id: str | None = reader.get("club", club).set_id
            return set_id

    def show(set_id: str | None) -> None:
        if set_id is None:
            screen.notify(f"{club} belongs to no set; sets are put together under Clubs (F3, then 2).", markup=False)
        else:
            screen.app.push_screen(SetStandInsScreen(set_id))

    screen.work(look, show, group="set", what="look which set it belongs to")
