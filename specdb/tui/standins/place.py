"""The place Stand-ins: a fitted club whose shaft cannot be had, and what plays nearest to it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.widgets import ContentSwitcher

from specdb.errors import SpecdbError
from specdb.tui.actions import Action
from specdb.tui.dialogs.picker import Picker
from specdb.tui.standins.acts import StandInActs, today
from specdb.tui.standins.asked import Ranked, from_memory, rank
from specdb.tui.standins.detail import PROFILES, StandInDetail
from specdb.tui.standins.lists import clubs_table, left_out_table, ranked_table
from specdb.tui.standins.words import filter_line, reference_lines
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import sentence
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.matching.substitutes import why_not
from specdb.verbs.matching.waiting import ON_HAND, FittedClub, fitted_clubs

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.matching.doubt import Doubt
    from specdb.matching.result import Substitute
    from specdb.verbs.stiffness.installed_profiles import ProfilePair

_CLUB = "standins.club"
CLUBS, RANKING = "clubs", "ranking"
_WITH_CLUBS = frozenset({"search", "edit_club"})
_WITH_BOTH = frozenset({"back", "spot", "whole_set", "heads"})
_NO_CLUBS = "No fitted club is in the catalogue yet. Enter one under Clubs (F3), or make one on the spot (m)."
_NONE_FOUND = "No shaft can stand in as asked. Tab 5 says why each was left out; a takes the filters away."


class StandInsScreen(StandInActs):
    """Fitted clubs by need, and the stand-ins of one of them."""

    place = "standins"
    ACTIONS = (
        Action("back", "escape", "back", "Go back: to the list, to the clubs, to where we came from."),
        Action("search", "slash", "search", "Choose a fitted club by typing a part of its name.", shown=True),
        Action("spot", "m", "on the spot", "Make a club on the spot: parts and lengths, without keeping it."),
        Action("edit_club", "e", "edit club", "Look at the club and change it (place Clubs)."),
        Action("in_stock", "s", "in stock", "Only shafts of which a piece is free, or all."),
        Action("choose", "c", "choose", "Choose this stand-in for the club, with who and why."),
        Action("turn_down", "x", "turn down", "Turn this stand-in down for the club, with who and why."),
        Action("max_price", "p", "price", "Only shafts whose price is known and not higher."),
        Action("max_weight", "w", "weight", "Only shafts whose weight is known and not higher."),
        Action("same_tip", "t", "same tip", "Only shafts with the fitted one's tip diameter and form, or all."),
        Action("no_reaming", "n", "reaming", "Only what goes in without reaming, or all."),
        Action("no_filter", "a", "all", "Take every filter away."),
        Action("weighting", "g", "weighting", "Choose a named weighting."),
        Action("keep_weights", "k", "keep weights", "Keep the weights and tolerances under a name.", shown=False),
        Action("fitup", "f", "fit-up", "See the tip of this stand-in in the bore (place Fit-up)."),
        Action("bench", "b", "bench", "Measure this stand-in (place Bench).", shown=False),
        Action("save", "o", "save", "Save the comparison as a text file."),
        Action("print", "P", "print", "Print the comparison.", shown=False),
        Action("why_not", "y", "why not", "Choose a shaft and see why it is not proposed.", shown=False),
        Action(
            "whole_set",
            "W",
            "whole set",
            "Find models for every shaft of the set that the club belongs to.",
            shown=False,
        ),
        Action("heads", "h", "heads", "Find the nearest heads to that of the club.", shown=False),
        Action("percent", "d", "percent", "Draw the difference of the profiles in percent, or both.", shown=False),
        Action("step(1)", "full_stop", "next", "Look at the next stand-in.", shown=False),
        Action("step(-1)", "comma", "last", "Look at the stand-in before.", shown=False),
        Action("tab(0)", "1", "differences", "Show the differences.", shown=False),
        Action("tab(1)", "2", "profiles", "Show the two installed profiles.", shown=False),
        Action("tab(2)", "3", "work", "Show the preparation, cautions and notes.", shown=False),
        Action("tab(3)", "4", "weights", "Change weights and tolerances.", shown=False),
        Action("tab(4)", "5", "left out", "Show what was left out, and why.", shown=False),
    )
    DEFAULT_CSS = """
    StandInsScreen #pages-of-place { height: 1fr; }
    StandInsScreen #clubs-head { height: auto; padding: 0 1; background: $surface; }
    StandInsScreen #ranking { height: 1fr; }
    StandInsScreen.beside #detail { border-left: none; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._left_out_of: Ranked | None = None
        self._read_at = -1

    def compose(self) -> ComposeResult:
        """The clubs, and the stand-ins of one of them."""
        with ContentSwitcher(initial=CLUBS, id="pages-of-place"):
            with Vertical(id=CLUBS):
                yield LinesView(id="clubs-head")
                yield PagedTable(empty="Loading …", id="club-list")
            with Vertical(id=RANKING):
                yield LinesView(id="head")
                with Container(id="both"):
                    yield PagedTable(empty="Looking …", id="ranked")
                    yield StandInDetail()

    def on_mount(self) -> None:
        """Load the clubs."""
        self._options = from_memory(self.memory.get(self.FILTERS, {}))
        self.query_one("#club-list").focus()
        self._load_clubs()

    @property
    def _detail(self) -> StandInDetail:
        return self.query_one(StandInDetail)

    @property
    def _page(self) -> str:
        return self.query_one("#pages-of-place", ContentSwitcher).current or CLUBS

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer what can be done on the page that is shown."""
        if not super().check_action(action, parameters):
            return False
        own = {a.id.partition("(")[0] for a in self.ACTIONS}
        if action not in own or action in _WITH_BOTH or not self.is_mounted:
            return True
        return (action in _WITH_CLUBS) == (self._page == CLUBS)

    # ---- the clubs

    def _load_clubs(self) -> None:
        catalogue = self.desk.catalogue
        self.work(lambda: fitted_clubs(catalogue), self._show_clubs, group="clubs", what="list the fitted clubs")

    def _show_clubs(self, clubs: list[FittedClub]) -> None:
        table, columns = clubs_table(clubs)
        listed = self.query_one("#club-list", PagedTable)
        listed.set_empty(_NO_CLUBS)
        listed.set_table(table, columns)
        waiting = sum(c.state < ON_HAND and not c.chosen for c in clubs)
        said = (
            "For which fitted club? Those whose shaft cannot be had stand first. Enter shows what plays nearest."
            if waiting
            else "For which fitted club? Enter shows what plays nearest to its shaft."
        )
        self.query_one("#clubs-head", LinesView).show(sentence(said, self._width))

    @on(PagedTable.RowPicked, "#club-list")
    def _club_picked(self, message: PagedTable.RowPicked) -> None:
        self._ask_for(ClubRequest(club=message.key))

    def action_search(self) -> None:
        """Choose a club by typing."""
        self.app.push_screen(Picker("club", where="status is empty or status != 'retired'"), self._club_chosen)

    def _club_chosen(self, key: str | None) -> None:
        if key is not None:
            self._ask_for(ClubRequest(club=key))

    def action_edit_club(self) -> None:
        """Look at the club where clubs are entered."""
        key = self.query_one("#club-list", PagedTable).cursor_key
        if key is not None:
            self.specdb.open_place("clubs", club=key)

    @property
    def _club_meant(self) -> str | None:
        """The fitted club of the cursor, or the one whose stand-ins are shown."""
        if self._page == CLUBS:
            return self.query_one("#club-list", PagedTable).cursor_key
        return None if self._request is None else self._request.club

    def action_whole_set(self) -> None:
        """Find models for the whole set."""
        from specdb.tui.sets.standins import open_set_of

        open_set_of(self, self._club_meant)

    def action_heads(self) -> None:
        """Find the nearest heads."""
        from specdb.tui.standins.heads_screen import HeadsScreen

        if self._club_meant is not None:
            self.app.push_screen(HeadsScreen(club=self._club_meant))

    def action_spot(self) -> None:
        """Make a club on the spot, beginning with the one that is looked at."""
        from specdb.tui.clubs.spot_dialog import SpotDialog, texts_of

        begin = {} if self._ranked is None or self._page == CLUBS else texts_of(self._ranked.answer.club.request)
        self.app.push_screen(SpotDialog(begin), self._made)

    def _made(self, request: ClubRequest | None) -> None:
        if request is not None:
            self._ask_for(request)

    # ---- asking

    def opened(self, **arguments: Any) -> None:  # noqa: ANN401 (as the place screen's)
        """Look for the stand-ins of a club.

        Parameters
        ----------
        **arguments
            Fields of a :class:`ClubRequest`, such as ``club``, or ``shaft``, ``head`` and ``length_in``.
        """
        if arguments:
            self._ask_for(ClubRequest(**arguments))

    def _ask_for(self, request: ClubRequest) -> None:
        self._request = request
        self._ranked = None
        self.memory.put(_CLUB, request.club or "")
        self.remove_class("looking")
        self.query_one("#pages-of-place", ContentSwitcher).current = RANKING
        name = request.club or f"{request.shaft} in {request.head}"
        self.query_one("#head", LinesView).show([((name, "head"),)])
        self._list.set_empty("Looking …")
        self._clear_list()
        self._list.focus()
        self._ask()
        self.actions_changed()
        if self._weights is None:
            self._load_weights(self._options.weighting)

    def _ask(self) -> None:
        request, options, desk = self._request, self._options, self.desk
        if request is None:
            return
        seen = self._changes
        # what was read before the catalogue changed is not used again
        before = self._ranked if self._read_at == seen else None
        self.work(
            lambda: rank(desk, request, options, before),
            partial(self._show, seen),
            group="rank",
            what="look for stand-ins",
            failed=self._failed,
        )

    def _clear_list(self) -> None:
        super()._clear_list()
        self._detail.show(None)

    def _failed(self, error: SpecdbError) -> None:
        self._ranked = None
        self._detail.show(None, self._say_failed(error))

    def _show(self, seen: int, ranked: Ranked) -> None:
        first = self._ranked is None
        self._read_at = seen
        self._ranked = ranked
        self._show_head()
        width = self._list.size.width or self._width
        table, columns = ranked_table(ranked.answer, width, today())
        self._list.set_empty("None. Press 5 to see why each shaft was left out.")
        self._list.set_table(table, columns, keep=not first)
        self._detail.show_nearest(ranked.answer)
        if not ranked.answer.report.results:
            self._detail.show(None, _NONE_FOUND)
        self._show_left_out()
        self.actions_changed()

    def _show_head(self) -> None:
        ranked, width = self._ranked, self._width
        if ranked is not None:
            lines = [*reference_lines(ranked.answer, width), filter_line(ranked.options, ranked.answer, width)]
            self.query_one("#head", LinesView).show(lines)

    @property
    def _found(self) -> Substitute | None:
        if self._ranked is None:
            return None
        key = self._list.cursor_key
        return next((r for r in self._ranked.answer.report.results if r.shaft_id == key), None)

    @property
    def _left_out(self) -> str | None:
        if self._page != RANKING or not self._detail.shows_left_out or not self._detail.display or self._list.has_focus:
            return None
        return self.query_one("#left-list", PagedTable).cursor_key

    @on(PagedTable.RowHighlighted, "#ranked")
    def _highlighted(self) -> None:
        found, ranked = self._found, self._ranked
        if found is None or ranked is None:
            return
        self._detail.show(found)

        def look() -> tuple[ProfilePair, Doubt]:
            from specdb.verbs.stiffness.installed_profiles import installed_profiles

            doubt = ranked.answer.report.doubts.all[found.rank - 1]
            return installed_profiles(ranked.answer, found, ranked.index), doubt

        def draw(made: tuple[ProfilePair, Doubt]) -> None:
            self._seen = (found.shaft_id, *made)
            self._detail.show_profiles(found.shaft_id, *made)

        def say(error: SpecdbError) -> None:
            self._detail.show_profiles(found.shaft_id, f"The profiles cannot be drawn: {error}.")

        self.work(look, draw, group="profiles", what="work out the profiles", failed=say)

    def action_back(self) -> None:
        """Back to the list, to the clubs, to where we came from."""
        if self._page == CLUBS:
            self.specdb.go_back()
        elif not self._back_to_list():
            self.query_one("#pages-of-place", ContentSwitcher).current = CLUBS
            self.query_one("#club-list").focus()
            self._load_clubs()
            self.actions_changed()

    # ---- tabs

    def action_percent(self) -> None:
        """Draw the difference in percent, or both curves."""
        self.action_tab(PROFILES)
        self._detail.switch_curves()

    def _show_left_out(self) -> None:
        ranked = self._ranked
        if ranked is None or not self._detail.shows_left_out or self._left_out_of is ranked:
            return

        def show(table: pa.Table) -> None:
            self._left_out_of = ranked
            self._detail.show_left_out(ranked.answer, table)

        self.work(lambda: left_out_table(ranked.answer), show, group="left out", what="list what was left out")

    def action_why_not(self) -> None:
        """Choose a shaft and see why it is not proposed."""
        self.app.push_screen(Picker("shaft", title="Why is it not proposed?"), self._say_why_not)

    def _say_why_not(self, key: str | None) -> None:
        if key is None or self._ranked is None:
            return
        if self._list.show_row(key):
            self._list.focus()
        self.notify(f"{why_not(self._ranked.answer, key)}.", title="Why not", timeout=12, markup=False)

    # ---- changes and sizes

    def _look_again(self) -> None:
        self._stale = False
        if self._page == CLUBS:
            self._load_clubs()
        else:
            self._ask()

    def _fit(self) -> None:
        if self._ranked is not None:
            self._show_head()
            table, columns = ranked_table(self._ranked.answer, self._list.size.width or self._width, today())
            self._list.set_table(table, columns)
            if self._found is not None:
                self._detail.redraw()
