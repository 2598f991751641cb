"""The stand-in that is looked at: its differences, profiles, work, the weights, and what was left out, in tabs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import Vertical, VerticalScroll
from textual.widget import Widget

from specdb.tui.standins.curves import ALONG, difference_curves, stiffness_curves
from specdb.tui.standins.detail_tabs import DetailTabs
from specdb.tui.standins.lists import left_out_columns
from specdb.tui.standins.weights import WeightsPane
from specdb.tui.standins.words import comparison_lines, left_out_lines, title_line, work_lines
from specdb.tui.widgets.curves import Axis
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.numbers import chance
from specdb.tui.widgets.prose import sentence

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.matching.doubt import Doubt
    from specdb.matching.result import Substitute
    from specdb.verbs.matching.substitutes import SubstitutesAnswer
    from specdb.verbs.stiffness.installed_profiles import ProfilePair

PROFILES, WEIGHTS, LEFT_OUT = 1, 3, 4
_DOTS = "Dots: one standard deviation to either side. d: in percent, or both."
_NEAREST = 3  # stand-ins named under the weights, where the list is not in sight


class StandInDetail(DetailTabs):
    """Everything about one stand-in."""

    TABS = ("Differences", "Profiles", "Work", "Weights", "Left out")
    IDS = ("differences", "profiles", "work", "weights", "left-out")
    NONE_LEFT_OUT = "Every shaft of the catalogue is proposed."
    _HANGING = -1
    DEFAULT_CSS = """
    StandInDetail #profiles-words { height: 1; padding: 0 1; color: $quiet; }
    StandInDetail #weights-nearest { height: auto; margin-top: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._found: Substitute | None = None
        self._pair: ProfilePair | None = None
        self._doubt: Doubt | None = None
        self._in_percent = False

    def page(self, name: str) -> Widget:
        """What lies under a tab."""
        if name == "profiles":
            return Vertical(CurvesView(id="curves"), LinesView(id="profiles-words"), id=name)
        if name == "weights":
            return VerticalScroll(WeightsPane(id="weights-pane"), LinesView(id="weights-nearest"), id=name,
                                  can_focus=False)  # fmt: skip
        return super().page(name)

    def open_tab(self, number: int) -> None:
        """Open a tab."""
        super().open_tab(number)
        self.query_one("#which").display = number != LEFT_OUT  # that one is not among them

    def focus_page(self) -> None:
        """Put the keys to what the tab shows; the curves take none."""
        if self.opened == WEIGHTS:
            self.query_one(WeightsPane).focus()
        elif self.opened != PROFILES:
            super().focus_page()

    # ---- what is shown

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
            self.scroll_pages_home()
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
        which = self.query_one("#which", LinesView)
        differences, work = self.lines_of("differences"), self.lines_of("work")
        found, width = self._found, self.room
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
        self.lines_of("differences").show(comparison_lines(self._found, self.room, doubt))
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
                self.room,
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
        self.list_left_out(left_out_lines(answer, self.room), table, left_out_columns(self.room + 2))
