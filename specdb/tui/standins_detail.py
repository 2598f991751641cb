"""The stand-in that is looked at: its differences, profiles, work, the weights, and what was left out, in tabs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import ContentSwitcher

from specdb.tui.curves import Axis
from specdb.tui.curves_view import CurvesView
from specdb.tui.lines_view import LinesView
from specdb.tui.numbers import chance
from specdb.tui.paged import PagedTable
from specdb.tui.prose import sentence
from specdb.tui.standins_curves import ALONG, difference_curves, stiffness_curves
from specdb.tui.standins_lists import left_out_columns
from specdb.tui.standins_weights import WeightsPane
from specdb.tui.standins_words import comparison_lines, left_out_lines, title_line, work_lines
from specdb.tui.tab_line import TabLine

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.matching.doubt import Doubt
    from specdb.matching.result import Substitute
    from specdb.verbs.installed_profiles import ProfilePair
    from specdb.verbs.substitutes import SubstitutesAnswer

DIFFERENCES, PROFILES, WORK, WEIGHTS, LEFT_OUT = range(5)
TABS = ("Differences", "Profiles", "Work", "Weights", "Left out")
_IDS = ("differences", "profiles", "work", "weights", "left-out")
_DOTS = "Dots: one standard deviation to either side. d: in percent, or both."
_NEAREST = 3  # stand-ins named under the weights, where the list is not in sight


class StandInDetail(Vertical):
    """Everything about one stand-in."""

    DEFAULT_CSS = """
    StandInDetail { height: 1fr; background: $background; }
    StandInDetail #which { height: 1; padding: 0 1; background: $surface; }
    StandInDetail #pages { height: 1fr; }
    StandInDetail #pages > * { height: 1fr; }
    StandInDetail VerticalScroll { padding: 0 1; scrollbar-size-vertical: 1; }
        StandInDetail #profiles-words { height: 1; padding: 0 1; color: $quiet; }
    StandInDetail #weights-nearest { height: auto; margin-top: 1; }
    StandInDetail #left-counts { height: auto; max-height: 8; padding: 0 1; }
    StandInDetail #left-why { height: 3; padding: 0 1; background: $surface; }
    """

    def __init__(self) -> None:
        super().__init__(id="detail")
        self._found: Substitute | None = None
        self._pair: ProfilePair | None = None
        self._doubt: Doubt | None = None
        self._in_percent = False

    def compose(self) -> ComposeResult:
        """The tabs and what lies under each."""
        yield LinesView(id="which")
        yield TabLine(TABS, id="tabs")
        with ContentSwitcher(initial=_IDS[0], id="pages"):
            with VerticalScroll(id="differences"):
                yield LinesView(id="differences-text")
            with Vertical(id="profiles"):
                yield CurvesView(id="curves")
                yield LinesView(id="profiles-words")
            with VerticalScroll(id="work"):
                yield LinesView(id="work-text")
            with VerticalScroll(id="weights", can_focus=False):
                yield WeightsPane(id="weights-pane")
                yield LinesView(id="weights-nearest")
            with Vertical(id="left-out"):
                yield LinesView(id="left-counts")
                yield PagedTable(empty="Every shaft of the catalogue is proposed.", id="left-list")
                yield LinesView(id="left-why")

    # ---- tabs

    @property
    def opened(self) -> int:
        """Which tab is open."""
        return self.query_one(TabLine).opened

    def open_tab(self, number: int) -> None:
        """Open a tab.

        Parameters
        ----------
        number : int
            Which.
        """
        self.query_one(TabLine).opened = number
        self.query_one("#pages", ContentSwitcher).current = _IDS[number]
        self.query_one("#which").display = number != LEFT_OUT  # that one is not among them

    def focus_page(self) -> None:
        """Put the keys to what the tab shows."""
        page = {WEIGHTS: "#weights-pane", LEFT_OUT: "#left-list", DIFFERENCES: "#differences", WORK: "#work"}
        target = page.get(self.opened)
        if target is not None:
            self.query_one(target).focus()

    # ---- what is shown

    @property
    def _width(self) -> int:
        return max((self.size.width or self.screen.size.width) - 3, 40)

    def show(self, found: Substitute | None, nothing: str = "") -> None:
        """Show a stand-in.

        Parameters
        ----------
        found : Substitute or None
            The stand-in; None where there is none.
        nothing : str
            Why there is none.
        """
        if found is None or self._found is None or found.shaft_id != self._found.shaft_id:
            self.query_one("#differences", VerticalScroll).scroll_home(animate=False)
            self.query_one("#work", VerticalScroll).scroll_home(animate=False)
            self._pair = self._doubt = None
            self.query_one(CurvesView).say("Drawing …" if found is not None else nothing)
        self._found = found
        self.redraw(nothing)

    def redraw(self, nothing: str = "") -> None:
        """Write everything again, as wide as there is room.

        Parameters
        ----------
        nothing : str
            Why there is no stand-in, where there is none.
        """
        which, differences, work = (
            self.query_one(f"#{name}", LinesView) for name in ("which", "differences-text", "work-text")
        )
        found, width = self._found, self._width
        if found is None:
            which.show([])
            differences.show(sentence(nothing, width))
            work.show([])
            return
        which.show([title_line(found, width)])
        differences.show(comparison_lines(found, width, self._doubt))
        work.show(work_lines(found, width))

    def show_profiles(self, shaft_id: str, pair: ProfilePair | str, doubt: Doubt | None = None) -> None:
        """Draw the two installed profiles, and say what the doubt is made of.

        Parameters
        ----------
        shaft_id : str
            The stand-in they were worked out for.
        pair : ProfilePair or str
            The profiles; a sentence where there are none.
        doubt : Doubt or None
            What its uncertainty is made of.
        """
        if self._found is None or self._found.shaft_id != shaft_id:
            return
        self._doubt = doubt
        self.query_one("#differences-text", LinesView).show(comparison_lines(self._found, self._width, doubt))
        if isinstance(pair, str):
            self._pair = None
            self.query_one(CurvesView).say(pair)
            return
        self._pair = pair
        self._draw()

    def switch_curves(self) -> None:
        """Draw the difference in percent, or the stiffnesses themselves."""
        self._in_percent = not self._in_percent
        self._draw()

    def _draw(self) -> None:
        pair = self._pair
        if pair is None:
            return
        curves, words = self.query_one(CurvesView), self.query_one("#profiles-words", LinesView)
        if self._in_percent:
            what = "stiffness of the stand-in against the fitted shaft, %"
            curves.show(difference_curves(pair), x=ALONG, y=Axis(0.0, 0.0, what))
        else:
            curves.show(stiffness_curves(pair), x=ALONG, y=Axis(0.0, 0.0, "installed stiffness EI, N·m²"))
        words.show([((_DOTS, "quiet"),)])

    def show_nearest(self, answer: SubstitutesAnswer) -> None:
        """Name the nearest stand-ins under the weights, where the list itself is not in sight.

        Parameters
        ----------
        answer : SubstitutesAnswer
            The answer.
        """
        lines = [
            sentence(
                f"score {r.score:.2f}, all inside tolerance {chance(r.within_tolerance_probability)} %",
                self._width,
                before=((f"{r.rank}. {r.shaft_id}  ", "strong"),),
            )[0]
            for r in answer.report.results[:_NEAREST]
        ]
        self.query_one("#weights-nearest", LinesView).show(lines)

    def show_left_out(self, answer: SubstitutesAnswer, table: pa.Table) -> None:
        """Show what was left out.

        Parameters
        ----------
        answer : SubstitutesAnswer
            The answer.
        table : pyarrow.Table
            Every shaft left out, with its reason.
        """
        self.query_one("#left-counts", LinesView).show(left_out_lines(answer, self._width))
        self.query_one("#left-list", PagedTable).set_table(table, left_out_columns(self._width + 2))

    @on(PagedTable.RowHighlighted, "#left-list")
    def _left_out_row(self, message: PagedTable.RowHighlighted) -> None:
        message.stop()
        values = message.table.row_values(message.row) or {}
        lines = sentence(f"{values.get('reason', '')}.", self._width, before=((f"{message.key}: ", "strong"),))
        self.query_one("#left-why", LinesView).show(lines[:3])
