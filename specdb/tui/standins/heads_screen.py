"""The nearest heads to one that cannot be had: what each takes of bending and weight, and how the fitted shaft fits."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Container

from specdb.errors import SpecdbError
from specdb.tui.actions import Action
from specdb.tui.dialogs.picker import Picker
from specdb.tui.sets.saving import ask_for_file, save_text
from specdb.tui.standins.acts import today
from specdb.tui.standins.detail_tabs import DetailTabs
from specdb.tui.standins.heads_words import (
    head_line,
    head_lines,
    head_work_lines,
    heads_line,
    heads_table,
    heads_text,
    left_out_head_counts,
    left_out_heads,
    wanted_lines,
)
from specdb.tui.standins.ranked_screen import RankedScreen
from specdb.tui.widgets.columns import ColumnSpec, measured, plain
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import sentence
from specdb.verbs.matching.heads import HeadOptions, HeadsAnswer, club_with_head, heads_of, why_not_head

if TYPE_CHECKING:
    from specdb.records.rows import Club
    from specdb.sets.head_result import HeadStandIn

TOP = 30
_FILTERS = "heads.filters"
_NONE_FOUND = "No head can stand in as asked. Tab 3 says why each was left out; a takes the filters away."


class HeadDetail(DetailTabs):
    """Everything about one head."""

    TABS = ("Differences", "Work", "Left out")
    IDS = ("differences", "work", "left-out")
    NONE_LEFT_OUT = "Every head is proposed."
    DEFAULT_CSS = """
    HeadDetail #left-counts { max-height: 6; }
    """


class HeadsScreen(RankedScreen):
    """Heads that can stand in for one.

    Parameters
    ----------
    head : str or None
        The head; that of the club where None.
    club : str or None
        The fitted club it belongs to.
    """

    place = "heads"
    ACTIONS = (
        Action("back", "escape", "back", "Back to the list, then to where we came from."),
        Action("in_stock", "s", "in stock", "Only heads of which a piece is free, or all."),
        Action("most_added", "w", "weight", "The most weight that may be added at the head."),
        Action("no_filter", "a", "all", "Take every filter away."),
        Action("fitup", "f", "fit-up", "See the fitted shaft in this head (place Fit-up)."),
        Action("club_with", "l", "club with it", "Enter a club like the fitted one, with this head."),
        Action("for_club", "k", "for a club", "Say for which fitted club with this head, so that its shaft counts."),
        Action("head_row", "e", "the head", "Open the head in its form.", shown=False),
        Action("save", "o", "save", "Save the comparison as a text file."),
        Action("why_not", "y", "why not", "Choose a head and see why it is not proposed."),
        Action("tab(0)", "1", "differences", "Show what is different.", shown=False),
        Action("tab(1)", "2", "work", "Show bending, weight, preparation and cautions.", shown=False),
        Action("tab(2)", "3", "left out", "Show what was left out, and why.", shown=False),
    )
    DEFAULT_CSS = """
    HeadsScreen.switch #ranked { height: 8; }
    HeadsScreen.switch #detail { display: block; height: 1fr; }
    """

    def __init__(self, head: str | None = None, club: str | None = None) -> None:
        super().__init__()
        self._head, self._club = head, club
        self._answer: HeadsAnswer | None = None
        self._options = HeadOptions(top=TOP)
        self._left_out_of: HeadsAnswer | None = None

    def compose(self) -> ComposeResult:
        """What is wanted, the heads, and everything about one."""
        yield LinesView(id="head")
        with Container(id="both"):
            yield PagedTable(empty="Looking …", id="ranked")
            yield HeadDetail()

    def on_mount(self) -> None:
        """Look for heads."""
        if self.memory.get(_FILTERS, {}) == {"in_stock": True}:
            self._options = replace(self._options, in_stock=True)
        self.query_one("#head", LinesView).show([((self._head or self._club or "", "head"),)])
        self._list.focus()
        self._ask()

    @property
    def _found(self) -> HeadStandIn | None:
        if self._answer is None:
            return None
        key = self._list.cursor_key
        return next((r for r in self._answer.report.results if r.head_id == key), None)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """The club is asked for only where none is named."""
        if action == "for_club" and self._club is not None:
            return False
        return super().check_action(action, parameters)

    # ---- asking

    def _ask(self) -> None:
        catalogue, head, club, options = self.desk.catalogue, self._head, self._club, self._options
        self.work(
            lambda: heads_of(catalogue, head, club=club, options=options),
            self._show_answer,
            group="rank",
            what="look for heads",
            failed=self._failed,
        )

    def _failed(self, error: SpecdbError) -> None:
        self._answer = None
        self._show_head(self._say_failed(error))

    def _show_answer(self, answer: HeadsAnswer) -> None:
        first = self._answer is None
        self._answer, self._head = answer, answer.head.id
        self._list.set_empty("None. Press 3 to see why each head was left out.")
        self._write_lists(keep=not first)
        if not answer.report.results:
            self._show_head(_NONE_FOUND)
        self._show_left_out()
        self.actions_changed()

    def _write_lists(self, *, keep: bool) -> None:
        answer = self._answer
        if answer is None:
            return
        lines = [*wanted_lines(answer, self._width), heads_line(self._options, answer, self._width)]
        self.query_one("#head", LinesView).show(lines)
        table, columns = heads_table(answer, self._list.size.width or self._width, today())
        self._list.set_table(table, columns, keep=keep)

    # ---- one head

    @on(PagedTable.RowHighlighted, "#ranked")
    def _highlighted(self) -> None:
        self._detail.scroll_pages_home()
        self._show_head()

    def _show_head(self, nothing: str = "") -> None:
        found, width = self._found, self._detail.room
        which, differences, work = (
            self.query_one("#which", LinesView),
            self._detail.lines_of("differences"),
            self._detail.lines_of("work"),
        )
        if found is None:
            which.show([])
            differences.show(sentence(nothing, width))
            work.show([])
            return
        which.show([head_line(found, width)])
        differences.show(head_lines(found, width))
        work.show(head_work_lines(found, width))

    def _show_left_out(self) -> None:
        answer = self._answer
        if answer is None or not self._detail.shows_left_out or self._left_out_of is answer:
            return
        self._left_out_of = answer
        room = self._detail.room
        name = min(30, (room + 3) // 3)
        table = left_out_heads(answer)
        specs = [
            ColumnSpec("id", "head", width=name),
            ColumnSpec("reason", "why it is not proposed", width=max(room - name - 2, 40)),
        ]
        self._detail.list_left_out(left_out_head_counts(answer, room), table, measured(table, specs))

    # ---- filters

    def _filter(self, **changes: Any) -> None:  # noqa: ANN401 (fields of the options)
        self._options = replace(self._options, **changes)
        self.memory.put(_FILTERS, {"in_stock": True} if self._options.in_stock else {})
        self._ask()

    def action_in_stock(self) -> None:
        """Only heads on hand, or all."""
        self._filter(in_stock=not self._options.in_stock)

    def action_no_filter(self) -> None:
        """Take every filter away."""
        self._filter(in_stock=False, max_head_add_g=None)

    def action_most_added(self) -> None:
        """The most weight that may be added."""
        from specdb.tui.dialogs.quantity import TypeDialog

        now = self._options.max_head_add_g

        def typed(found: tuple[float | None] | None) -> None:
            if found is not None:
                self._filter(max_head_add_g=found[0])

        title = "Most weight that may be added at the head; empty for the usual"
        self.app.push_screen(TypeDialog("club", "head_add_g", title, "" if now is None else f"{now:g}"), typed)

    def action_for_club(self) -> None:
        """Say for which fitted club."""
        self._ask_club(self._ask)

    def _ask_club(self, then: Any) -> None:  # noqa: ANN401 (a callable)
        if self._head is None:
            return

        def chosen(key: str | None) -> None:
            if key is not None:
                self._club = key
                then()

        where = "head_id = '" + self._head.replace("'", "''") + "'"
        self.app.push_screen(Picker("club", where=where, title=f"For which club with {self._head}?"), chosen)

    # ---- from here

    def _with_club(self, act: Any) -> None:  # noqa: ANN401 (a callable of the club's record and the head)
        """Do something with the fitted club and the head that is looked at."""
        found, club, catalogue = self._found, self._club, self.desk.catalogue
        if found is None:
            self.notify("There is no head here.")
            return
        if club is None:
            self.notify("Name the fitted club first: its shaft is what goes in.")
            self._ask_club(self._ask)
            return

        def read() -> Club:
            with catalogue.read() as reader:
                record: Club = reader.get("club", club)
                return record

        self.work(read, partial(act, found), group="club", what="read the club")

    def action_fitup(self) -> None:
        """See the fitted shaft in this head."""
        self._with_club(self._to_fitup)

    def _to_fitup(self, found: HeadStandIn, club: Club) -> None:
        new = club_with_head(club, found)
        asked = {
            "shaft": club.shaft_id,
            "sample": club.shaft_sample,
            "head": found.head_id,
            "adapter": new["adapter_id"],
            "setting": new["adapter_setting"],
            "sleeve": new["sleeve_id"],
            "ferrule": new["ferrule_id"],
            "grip": club.grip_id,
            "adhesive": club.adhesive_id,
            "tip_trim_in": club.tip_trim_in,
            "length_in": club.playing_length_in,
            "loft_deg": new["loft_deg"],
            "lie_deg": new["lie_deg"],
        }
        self.specdb.open_place("fitup", **{name: value for name, value in asked.items() if value is not None})

    def action_club_with(self) -> None:
        """Enter a club like the fitted one, with this head."""
        self._with_club(self._copy)

    def _copy(self, found: HeadStandIn, club: Club) -> None:
        from specdb.tui.clubs.form import ClubForm
        from specdb.verbs.catalogue.forms import as_typed

        new = club_with_head(club, found)
        preset = {name: "" if value is None else plain(as_typed(value)) for name, value in new.items()}
        self.app.push_screen(ClubForm(None, similar=club.id, preset=preset))
        kept = f" It is in no set; {club.id} stays in {club.set_id}." if club.set_id else ""
        if (new["loft_deg"], new["lie_deg"]) != (club.loft_deg, club.lie_deg):
            kept += " Loft and lie are those it can have."
        self.notify(f"Like {club.id}, with {found.head_id}.{kept} Look it over, then save.", timeout=10, markup=False)

    def action_head_row(self) -> None:
        """Open the head in its form."""
        if self._found is not None:
            self.specdb.open_row("head", self._found.head_id)

    def action_save(self) -> None:
        """Save the comparison."""
        found, answer = self._found, self._answer
        if found is None or answer is None:
            self.notify("There is no comparison here to save.")
            return
        text = heads_text(answer, self._options, found, today())
        name = f"stand-in-{answer.head.id}-{found.head_id}.txt"
        ask_for_file(self, "Save the comparison as text", name, "Plain text.", save_text(text))

    def action_why_not(self) -> None:
        """Choose a head and see why it is not proposed."""
        self.app.push_screen(Picker("head", title="Why is it not proposed?"), self._say_why_not)

    def _say_why_not(self, key: str | None) -> None:
        if key is None or self._answer is None:
            return
        if self._list.show_row(key):
            self._list.focus()
        self.notify(f"{why_not_head(self._answer, key)}.", title="Why not", timeout=12, markup=False)

    # ---- changes and sizes

    def _fit(self) -> None:
        if self._answer is not None:
            self._write_lists(keep=True)
            self._show_head()
