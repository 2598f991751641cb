"""Fitted sets, the second tab of the place Clubs: the sets, the clubs of one in numbers, its picture, what deviates."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, Horizontal, Vertical, VerticalScroll
from textual.events import Resize, ScreenResume
from textual.timer import Timer

from specdb.errors import SpecdbError
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.sets.acts import SetActs
from specdb.tui.sets.words import (
    ALONG,
    clubs_table,
    frequency_picture,
    missing_words,
    picture_axis,
    plain_clubs,
    set_lines,
    sets_table,
    title_words,
)
from specdb.tui.standins.words import cut_line
from specdb.tui.widgets.columns import measured
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import Line, sentence
from specdb.tui.widgets.tab_line import TabLine
from specdb.units.writing import begun
from specdb.verbs.sets.lists import FittedSet, fitted_sets

if TYPE_CHECKING:
    from specdb.verbs.sets.sets import SetMechanicsAnswer

TABS = ("Clubs", "Sets")
_LAST = "sets.last"
_TALL, _BROAD, _TWO_PANES = 34, 172, 110
_LIST_LOW, _LIST_TALL = 4, 8  # sets that are seen at once above the clubs of one
_PAUSE_SECONDS = 0.08
_ONE_ONLY = (
    "One club only: a set takes at least two to be worked out; its stand-ins are those of the club (F4). e takes "
    "fitted clubs in; d enters the next one down, copied from this one."
)
_NONE_YET = "No fitted club belongs to a set yet. n puts a set together from fitted clubs."


@dataclass(frozen=True, slots=True)
class Worked:
    """A set that was worked out, or why it cannot be.

    Attributes
    ----------
    found : FittedSet
        The set.
    answer : SetMechanicsAnswer or None
        In numbers.
    said : str
        Why it has none.
    """

    found: FittedSet
    answer: SetMechanicsAnswer | None
    said: str = ""


class SetsScreen(SetActs, PlaceScreen):
    """Fitted sets.

    Parameters
    ----------
    set_id : str or None
        The set to begin at; the last one looked at where None.
    """

    place = "sets"
    ACTIONS = (
        Action("clubs", "1", "clubs", "Go to the list of fitted clubs.", shown=False),
        Action("picture", "v", "picture", "Draw frequency against length as large as it goes, or show the list again."),
        Action("standins", "s", "stand-ins", "Find the models that can supply every shaft of the set."),
        Action("members", "e", "its clubs", "Take fitted clubs into the set, or out of it."),
        Action("down", "d", "next down", "Enter the next club down the set, copied from the club of the cursor."),
        Action("new", "n", "new set", "Put a new set together from fitted clubs."),
        Action("sheets", "x", "sheets", "Write trim chart and build sheets of the set to a PDF file."),
        Action("heads", "h", "heads", "Find the nearest heads to that of the club of the cursor."),
        Action("numbers", "i", "all numbers", "Show all numbers of the club of the cursor.", shown=False),
        Action("step(1)", "full_stop", "next", "Look at the next set.", shown=False),
        Action("step(-1)", "comma", "last", "Look at the set before.", shown=False),
        Action("back", "escape", "back", "Back to the sets, then to the clubs.", shown=False),
    )
    DEFAULT_CSS = """
    SetsScreen #sets-top { height: 1; background: $surface; }
    SetsScreen #sets-tabs { width: 18; }
    SetsScreen #sets-hint { width: 1fr; padding: 0 1; background: $surface; color: $quiet; }
    SetsScreen #sets-main { height: 1fr; }
    SetsScreen #set-list { height: 6; }
    SetsScreen #set { height: 1fr; width: 1fr; }
    SetsScreen #set-head { height: 1; padding: 0 1; background: $panel; }
    SetsScreen #set-clubs { height: auto; max-height: 70%; }
    SetsScreen #set-below { height: 1fr; }
    SetsScreen #set-words { height: 1fr; width: 1fr; padding: 0 1; scrollbar-size-vertical: 1;
        background: $surface; }
    SetsScreen #set-curve { display: none; width: 1fr; }
    SetsScreen.-drawn #set-curve { display: block; }
    SetsScreen.-two #set-below { layout: horizontal; }
    SetsScreen.-two #set-words { width: 50%; border-left: solid $panel; }
    SetsScreen.-large #set-list, SetsScreen.-large #set-clubs, SetsScreen.-large #set-words { display: none; }
    SetsScreen.-large #set-curve { display: block; }
    SetsScreen.-beside #sets-main { layout: horizontal; }
    SetsScreen.-beside #set-list { width: 62; height: 1fr; border-right: solid $panel; }
    """

    def __init__(self, set_id: str | None = None) -> None:
        super().__init__()
        self._wanted = set_id
        self._sets: dict[str, FittedSet] = {}
        self._worked: Worked | None = None
        self._late: Timer | None = None
        self._first, self._stale = True, False

    def compose(self) -> ComposeResult:
        """The tabs, the sets, and one of them."""
        with Horizontal(id="sets-top"):
            tabs = TabLine(TABS, id="sets-tabs")
            tabs.opened = 1
            yield tabs
            yield LinesView(id="sets-hint")
        with Container(id="sets-main"):
            yield PagedTable(empty="Loading …", id="set-list")
            with Vertical(id="set"):
                yield LinesView(id="set-head")
                yield PagedTable(id="set-clubs")
                with Container(id="set-below"):
                    yield CurvesView(id="set-curve")
                    with VerticalScroll(id="set-words"):
                        yield LinesView(id="set-text")

    def on_mount(self) -> None:
        """Get the sets."""
        self.query_one("#sets-hint", LinesView).show([(("Fitted sets; enter goes to the clubs of one.", "quiet"),)])
        self._list.focus()
        if self._wanted is not None:
            self.memory.put(_LAST, self._wanted)
        self._load()

    @property
    def _list(self) -> PagedTable:
        return self.query_one("#set-list", PagedTable)

    @property
    def _clubs(self) -> PagedTable:
        return self.query_one("#set-clubs", PagedTable)

    @property
    def set_id(self) -> str | None:
        """Name of the set of the cursor."""
        return self._list.cursor_key

    @property
    def club(self) -> str | None:
        """Key of the club of the cursor."""
        return self._clubs.cursor_key

    # ---- the sets

    def show_set(self, set_id: str) -> None:
        """Go to a set.

        Parameters
        ----------
        set_id : str
            Its name.
        """
        self.memory.put(_LAST, set_id)
        self._first = True
        self._load()

    def _load(self) -> None:
        catalogue = self.desk.catalogue
        self.work(lambda: fitted_sets(catalogue), self._loaded, group="list", what="list the fitted sets")

    def _loaded(self, sets: list[FittedSet]) -> None:
        self._sets = {s.set_id: s for s in sets}
        table, specs = sets_table(sets, self._list.size.width or self.size.width)
        self._list.set_empty(_NONE_YET)
        self._list.set_table(table, measured(table, specs))
        self._fit_list()
        if self._first:
            self._first = False
            self._list.show_row(str(self.memory.get(_LAST, "")))
        if self.set_id is None:
            self._worked = None
            self._show()
        else:
            self._work_out(self.set_id)

    @on(PagedTable.RowHighlighted, "#set-list")
    def _highlighted(self, message: PagedTable.RowHighlighted) -> None:
        self.memory.put(_LAST, message.key)
        if self._worked is not None and self._worked.found.set_id == message.key:
            return
        if self._late is not None:
            self._late.stop()
        self._late = self.set_timer(_PAUSE_SECONDS, partial(self._work_out, message.key))

    def _work_out(self, set_id: str) -> None:
        from specdb.verbs.sets.sets import set_mechanics_of

        found, catalogue = self._sets.get(set_id), self.desk.catalogue
        if found is None:
            return
        if len(found.clubs) == 1:
            self.drop("numbers")
            self._worked_out(Worked(found, None, _ONE_ONLY))
            return

        def failed(error: SpecdbError) -> None:
            text = str(error)
            self._worked_out(Worked(found, None, f"{begun(text)}."))

        self.work(
            lambda: Worked(found, set_mechanics_of(catalogue, set_id)),
            self._worked_out,
            group="numbers",
            what="work the set out",
            failed=failed,
        )

    # ---- one set

    def _worked_out(self, worked: Worked) -> None:
        again = self._worked is not None and self._worked.found.set_id == worked.found.set_id
        self._worked = worked
        table, specs = plain_clubs(worked.found) if worked.answer is None else clubs_table(worked.answer)
        self._clubs.set_table(table, measured(table, specs), keep=again)
        if not again:
            self.query_one("#set-words", VerticalScroll).scroll_home(animate=False)
        self._show()
        self.actions_changed()

    def _show(self) -> None:
        worked = self._worked
        head, text, curve = (
            self.query_one("#set-head", LinesView),
            self.query_one("#set-text", LinesView),
            self.query_one("#set-curve", CurvesView),
        )
        if worked is None:
            head.show([])
            text.show([])
            curve.say("")
            return
        room = max(self.query_one("#set").size.width - 2, 40)
        head.show([cut_line(title_words(worked.found, room), room)])
        width = max(self.query_one("#set-words").size.width - 3, 36)
        missing = missing_words(worked.found.numbers, worked.found.missing)
        if worked.answer is None:
            lines: list[Line] = sentence(worked.said, width, part="bad")
            lines += sentence(missing, width) if missing else []
            text.show(lines)
            curve.say("")
            return
        text.show(set_lines(worked.answer, missing, width))
        numbers = worked.answer.numbers
        curve.show(*frequency_picture(numbers), x=ALONG, y=picture_axis(numbers))

    @on(PagedTable.RowPicked, "#set-list")
    def _set_picked(self) -> None:
        self.remove_class("-large")
        self._clubs.focus()

    @on(PagedTable.RowPicked, "#set-clubs")
    def _club_picked(self, message: PagedTable.RowPicked) -> None:
        from specdb.tui.clubs.form import ClubForm

        self.app.push_screen(ClubForm(message.key, kept=self._kept))

    def _kept(self, _: str) -> None:
        self._load()

    @on(TabLine.Chosen)
    def _tab_chosen(self, message: TabLine.Chosen) -> None:
        if message.number == 0:
            self.action_clubs()

    def action_clubs(self) -> None:
        """Go to the list of fitted clubs."""
        self.specdb.go_back()

    def action_picture(self) -> None:
        """Draw frequency against length large, or show the list again."""
        self.toggle_class("-large")
        if self.has_class("-large"):
            self.set_focus(None)
        else:
            self._list.focus()

    def action_step(self, step: int) -> None:
        """Look at another set."""
        self._list.action_move(step)

    def action_numbers(self) -> None:
        """Show all numbers of the club of the cursor."""
        from specdb.tui.clubs.numbers_dialog import NumbersDialog
        from specdb.verbs.clubs.fitted import ClubNumbers, numbers_of

        club, catalogue = self.club, self.desk.catalogue
        if club is None:
            return

        def show(numbers: ClubNumbers) -> None:
            self.app.push_screen(NumbersDialog(club, numbers))

        self.work(lambda: numbers_of(catalogue, club), show, group="club", what="work the club out")

    def action_back(self) -> None:
        """Back to the sets, then to the clubs."""
        if self.has_class("-large"):
            self.action_picture()
        elif not self._list.has_focus:
            self._list.focus()
        else:
            super().action_back()

    # ---- changes and sizes

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Get the sets again, now or when we are back."""
        if self.is_current:
            self._load()
        else:
            self._stale = True

    @on(ScreenResume)
    def _resumed(self) -> None:
        if self._stale:
            self._stale = False
            self._load()

    @on(Resize)
    def _resized(self) -> None:
        width, height = self.size
        self.set_class(width >= _BROAD, "-beside")
        self.set_class(height >= _TALL, "-drawn")
        self.set_class(height >= _TALL and width >= _TWO_PANES, "-two")
        self._fit_list()
        self.call_after_refresh(self._show)

    def _fit_list(self) -> None:
        if self.has_class("-beside"):
            self._list.styles.height = "1fr"
        else:
            most = _LIST_TALL if self.has_class("-drawn") else _LIST_LOW
            self._list.styles.height = (
                min(max(self._list.row_count, 1), most) + self._list.head_lines + (0 if self._list.row_count else 1)
            )
