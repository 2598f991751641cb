"""The place Fitted clubs: the list, the numbers of the club of the cursor, and from there everything else."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, Horizontal, VerticalScroll
from textual.events import Key, Resize
from textual.timer import Timer
from textual.widgets import Input, Label, Static

from specdb.schema import load_schema
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.catalogue.lists import Asked, Found, Lists
from specdb.tui.clubs.words import GRID_LINES, club_title, number_grid, number_lines
from specdb.tui.dialogs.picker import Picker
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import Line, content
from specdb.tui.widgets.tab_line import TabLine
from specdb.verbs.clubs.fitted import ClubNumbers, numbers_of

BESIDE_COLUMNS, PANEL, TALL_LINES = 150, 50, 34
_MORE_LINES = 5
_COLUMNS = ("player", "label", "shaft_id", "head_id", "set_id", "id", "playing_length_in", "swingweight", "fitted_on")
_LAST, _SORT = "clubs.last", "clubs.sort"
_FIRST_SORT = ("player", False)
_WIDEST, _ROOMY_COLUMNS = 24, 160  # on a narrow screen long keys are cut, so that shaft and head are both seen
_PAUSE_SECONDS = 0.08  # the cursor runs over rows faster than anyone reads their numbers
_NONE_YET = "There is no fitted club yet. n enters one."


class ClubScreen(PlaceScreen):
    """Fitted clubs."""

    place = "clubs"
    ACTIONS = (
        Action("edit", "enter", "open", "Open the club in its form, with live numbers."),
        Action("new", "n", "new", "Enter a fitted club."),
        Action("like", "l", "another like it", "Enter a club like the one of the cursor."),
        Action("standins", "s", "stand-ins", "Find what plays nearest to its shaft."),
        Action("fitup", "f", "fit-up", "See whether its tip goes in its bore, and draw it."),
        Action("compare", "c", "compare", "Hold it against another fitted club."),
        Action("numbers", "i", "all numbers", "Show all its numbers, what was assumed and what is to be minded."),
        Action("heads", "h", "heads", "Find the nearest heads to its head."),
        Action("sets", "2", "sets", "Go to the fitted sets.", shown=False),
        Action("search", "slash", "search", "Search by player, label, shaft or id.", priority=True),
        Action("sort", "o", "sort", "Choose what the list is sorted by; the same again turns it round.", shown=False),
        Action("retired", "r", "retired", "Show or hide retired clubs.", shown=False),
        Action("back", "escape", "back", "Leave the search, else go back.", shown=False),
    )
    DEFAULT_CSS = f"""
    ClubScreen #asked {{ height: 1; background: $surface; padding: 0; }}
    ClubScreen #club-tabs {{ width: 18; margin-right: 1; }}
    ClubScreen #asked Label {{ color: $quiet; width: auto; margin-right: 1; }}
    ClubScreen #words {{ width: 1fr; border: none; height: 1; padding: 0; background: $surface; }}
    ClubScreen #main {{ height: 1fr; }}
    ClubScreen #main PagedTable {{ width: 1fr; height: 1fr; }}
    ClubScreen #numbers {{
        height: {GRID_LINES + 2}; padding: 0 1; background: $surface; border-top: solid $panel;
        scrollbar-size-vertical: 1;
    }}
    ClubScreen #numbers Static {{ height: auto; }}
    ClubScreen.-tall #numbers {{ height: {GRID_LINES + _MORE_LINES + 2}; }}
    ClubScreen.-beside #main {{ layout: horizontal; }}
    ClubScreen.-beside #numbers {{ width: {PANEL}; height: 1fr; border-top: none; border-left: solid $panel; }}
    """

    def __init__(self) -> None:
        super().__init__()
        self._lists = Lists(self.desk)
        self._found: Found | None = None
        self._retired = False
        self._shown: tuple[str, ClubNumbers] | None = None
        self._late: Timer | None = None
        self._first = True

    def compose(self) -> ComposeResult:
        """Search, list, numbers."""
        with Horizontal(id="asked"):
            yield TabLine(("Clubs", "Sets"), id="club-tabs")
            yield Label("/ search")
            yield Input(placeholder="part of player, label, shaft or id", id="words")
        with Container(id="main"):
            yield PagedTable(empty="Loading …")
            with VerticalScroll(id="numbers", can_focus=False):
                yield Static("")

    def on_mount(self) -> None:
        """Get the clubs."""
        self.set_focus(self.query_one(PagedTable))
        self._load()

    def opened(self, club: str | None = None, set_id: str | None = None, **_: Any) -> None:  # noqa: ANN401 (as the place screen's)
        """Go to a club, or to a set.

        Parameters
        ----------
        club : str or None
            Its key.
        set_id : str or None
            Name of the set.
        """
        if set_id is not None:
            self.action_sets(set_id)
        if club is not None:
            self.memory.put(_LAST, club)
            self._first = True
            self._load()

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Get the clubs again."""
        self._shown = None
        self._load()

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= BESIDE_COLUMNS, "-beside")
        self.set_class(self.size.height >= TALL_LINES, "-tall")
        if self._found is not None:
            self._loaded(self._found)
        self.call_after_refresh(self._show_numbers)

    # ---- the list

    def _load(self, *, fresh: bool = True) -> None:
        words = self.query_one("#words", Input).value
        asked = Asked("club", _COLUMNS, words=words, sort=self._sort, retired=self._retired)
        self.work(
            lambda: self._lists.find(asked, fresh=fresh), self._loaded, group="list", what="list the fitted clubs"
        )

    @property
    def _sort(self) -> tuple[str, bool]:
        """What the list is sorted by, and whether it falls."""
        held = self.memory.get(_SORT, None)
        if isinstance(held, list) and len(held) == len(_FIRST_SORT) and held[0] in _COLUMNS:
            return held[0], bool(held[1])
        return _FIRST_SORT

    def action_sort(self) -> None:
        """Choose what the list is sorted by."""
        from specdb.tui.dialogs.sorting import sort_chooser

        self.app.push_screen(sort_chooser(load_schema().table("club"), _COLUMNS, self._sort), self._sort_chosen)

    @on(PagedTable.HeadingPicked)
    def _heading_clicked(self, message: PagedTable.HeadingPicked) -> None:
        self._sort_chosen(message.name)

    def _sort_chosen(self, name: str | None) -> None:
        from specdb.tui.dialogs.sorting import sorted_anew

        if name is not None:
            self.memory.put(_SORT, list(sorted_anew(name, self._sort)))
            self._load(fresh=False)

    def _loaded(self, found: Found) -> None:
        self._found = found
        table = self.query_one(PagedTable)
        searched = bool(found.asked.words.strip())
        table.set_empty("No fitted club has that in its player, label, shaft or id." if searched else _NONE_YET)
        most = _WIDEST if self.size.width < _ROOMY_COLUMNS else _ROOMY_COLUMNS
        columns = [replace(c, width=min(c.width, most)) for c in found.columns]
        table.set_table(found.rows, columns, order=found.order, sorted_by=found.asked.sort)
        if self._first:
            self._first = False
            table.show_row(str(self.memory.get(_LAST, "")))
        if not table.row_count:
            self._shown = None
            self._show_numbers()

    @on(Input.Changed, "#words")
    def _searched(self) -> None:
        self._load(fresh=False)

    @on(Input.Submitted, "#words")
    def _search_done(self) -> None:
        self.set_focus(self.query_one(PagedTable))

    def on_key(self, event: Key) -> None:
        """Go from the search into the list."""
        if event.key == "down" and self.query_one("#words").has_focus:
            self.set_focus(self.query_one(PagedTable))
            event.stop()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """The sign that begins a search is a sign like any other while one types."""
        if action == "search" and isinstance(self.focused, Input):
            return False
        return super().check_action(action, parameters)

    def action_search(self) -> None:
        """Begin to search; at once, so that letters typed right after it are no actions."""
        self.set_focus(self.query_one("#words"))

    def action_retired(self) -> None:
        """Show or hide retired clubs."""
        self._retired = not self._retired
        self._load(fresh=False)

    # ---- the numbers of the club of the cursor

    @property
    def club(self) -> str | None:
        """Key of the club of the cursor."""
        return self.query_one(PagedTable).cursor_key

    @on(PagedTable.RowHighlighted)
    def _highlighted(self, message: PagedTable.RowHighlighted) -> None:
        self.memory.put(_LAST, message.key)
        if self._shown is not None and self._shown[0] == message.key:
            return
        if self._late is not None:
            self._late.stop()
        self._late = self.set_timer(_PAUSE_SECONDS, partial(self._work_out, message.key))

    def _work_out(self, key: str) -> None:
        catalogue = self.desk.catalogue
        self.work(
            lambda: numbers_of(catalogue, key),
            partial(self._worked_out, key),
            group="numbers",
            what="work the club out",
            failed=lambda _: None,  # it was taken away meanwhile; the list follows
        )

    def _worked_out(self, key: str, numbers: ClubNumbers) -> None:
        self._shown = (key, numbers)
        self._show_numbers()

    def _show_numbers(self) -> None:
        beside = self.has_class("-beside")
        width = (PANEL if beside else max(self.size.width, 60)) - 4
        lines: list[Line] = []
        if self._shown is not None:
            key, numbers = self._shown
            lines.append(((self._title(key), "head"), (f"  {key}", "quiet")))
            lines += (
                number_lines(numbers, width)
                if beside
                else number_grid(numbers, width, GRID_LINES + (_MORE_LINES if self.has_class("-tall") else 0))
            )
        self.query_one("#numbers Static", Static).update(content(lines))

    def _title(self, key: str) -> str:
        table = self.query_one(PagedTable)
        row = table.row_of(key)
        values = None if row is None else table.row_values(row)
        return key if values is None else club_title(values)

    # ---- from here

    def _form(self, key: str | None, **arguments: Any) -> None:  # noqa: ANN401 (as of the form)
        from specdb.tui.clubs.form import ClubForm

        self.app.push_screen(ClubForm(key, kept=self._kept, **arguments))

    def _kept(self, key: str) -> None:
        self.memory.put(_LAST, key)
        self._shown, self._first = None, True
        self._load()

    @on(PagedTable.RowPicked)
    def _picked(self, message: PagedTable.RowPicked) -> None:
        self._form(message.key)

    def action_edit(self) -> None:
        """Open the club in its form."""
        if self.club is not None:
            self._form(self.club)

    def action_numbers(self) -> None:
        """Show all numbers."""
        from specdb.tui.clubs.numbers_dialog import NumbersDialog

        if self._shown is not None:
            key, numbers = self._shown
            self.app.push_screen(NumbersDialog(self._title(key), numbers))

    def action_new(self) -> None:
        """Enter a fitted club."""
        self._form(None)

    def action_like(self) -> None:
        """Enter a club like the one of the cursor."""
        if self.club is not None:
            self._form(None, similar=self.club)

    def action_standins(self) -> None:
        """Find what plays nearest to its shaft."""
        if self.club is not None:
            self.specdb.open_place("standins", club=self.club)

    def action_fitup(self) -> None:
        """See whether its tip goes in its bore."""
        if self.club is not None:
            self.specdb.open_place("fitup", club=self.club)

    def action_heads(self) -> None:
        """Find the nearest heads to its head."""
        from specdb.tui.standins.heads_screen import HeadsScreen

        if self.club is not None:
            self.app.push_screen(HeadsScreen(club=self.club))

    def action_sets(self, set_id: str | None = None) -> None:
        """Go to the fitted sets."""
        from specdb.tui.sets.place import SetsScreen

        self.app.push_screen(SetsScreen(set_id))

    @on(TabLine.Chosen)
    def _tab_chosen(self, message: TabLine.Chosen) -> None:
        if message.number == 1:
            self.action_sets()

    def action_compare(self) -> None:
        """Hold it against another fitted club."""
        if self.club is None:
            return
        where = f"id != '{self.club}'"
        picker = Picker("club", where=where, title=f"Compare {self.club} with")
        self.app.push_screen(picker, partial(self._compare, self.club))

    def _compare(self, one: str, other: str | None) -> None:
        from specdb.tui.clubs.compare import CompareScreen

        if other is not None:
            self.app.push_screen(CompareScreen(one, other))

    def action_back(self) -> None:
        """Leave the search, else go back."""
        words = self.query_one("#words", Input)
        if words.has_focus or words.value:
            words.value = ""
            self.set_focus(self.query_one(PagedTable))
        else:
            super().action_back()
