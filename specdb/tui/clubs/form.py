"""The form of a fitted club, with its numbers worked out as one types."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, Vertical, VerticalScroll
from textual.events import Resize
from textual.timer import Timer
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.clubs.words import GRID_LINES, number_grid, number_lines
from specdb.tui.forms.body import FormBody
from specdb.tui.forms.row_form import RowForm
from specdb.tui.widgets.days import shop_day
from specdb.tui.widgets.prose import Line, content
from specdb.verbs.catalogue.form_rows import OpenedRow
from specdb.verbs.clubs.fitted import ClubNumbers, numbers_of_typed

BESIDE_COLUMNS, PANEL = 116, 50
_PAUSE_SECONDS = 0.12  # shorter than one waits for, longer than between two keys of someone who types
# what the numbers rest on; the rest of the record may be half typed
_USED = (
    "head_id", "adapter_id", "adapter_setting", "sleeve_id", "ferrule_id", "shaft_id", "shaft_sample", "tip_trim_in",
    "insertion_in", "playing_length_in", "grip_id", "adhesive_id", "swingweight", "head_add_g", "loft_deg", "lie_deg",
    "frequency_cpm", "frequency_clamp_in",
)  # fmt: skip
_REQUEST = {
    "shaft_id": "shaft",
    "shaft_sample": "sample",
    "head_id": "head",
    "adapter_id": "adapter",
    "adapter_setting": "setting",
    "sleeve_id": "sleeve",
    "ferrule_id": "ferrule",
    "grip_id": "grip",
    "adhesive_id": "adhesive",
    "tip_trim_in": "tip_trim_in",
    "insertion_in": "insertion_in",
    "playing_length_in": "length_in",
    "loft_deg": "loft_deg",
    "lie_deg": "lie_deg",
}


class ClubForm(RowForm):
    """The form of a fitted club; parameters as of :class:`RowForm`, without the kind."""

    place = "club form"
    ACTIONS: ClassVar[Sequence[Action]] = (
        *(a for a in RowForm.ACTIONS if a.id != "parts"),
        Action("standins", "ctrl+l", "stand-ins", "Save, and look for stand-ins for the shaft of this club.",
               priority=True),
        Action("numbers", "ctrl+o", "all numbers", "Show all numbers, what was assumed and what is to be minded.",
               priority=True),
        Action("fitup", "ctrl+g", "fit-up", "See whether the tip goes in the bore, as typed here.", priority=True),
    )  # fmt: skip
    DEFAULT_CSS = f"""
    ClubForm #main {{ height: 1fr; }}
    ClubForm #left {{ height: 1fr; width: 1fr; }}
    ClubForm .form--journal {{ margin-bottom: 0; }}
    ClubForm #live {{
        height: {GRID_LINES + 1}; padding: 0 1; background: $surface; border-top: solid $panel;
        scrollbar-size-vertical: 1;
    }}
    ClubForm #live Static {{ height: auto; }}
    ClubForm.-beside #main {{ layout: horizontal; }}
    ClubForm.-beside #live {{ width: {PANEL}; height: 1fr; border-top: none; border-left: solid $panel; }}
    """

    def __init__(self, key: str | None = None, **arguments: Any) -> None:  # noqa: ANN401 (as of RowForm)
        if arguments.get("similar"):
            # most often the same fitter goes on, and it is another day's work than that of the club it is like
            arguments["preset"] = {"fitted_on": shop_day().isoformat(), **(arguments.get("preset") or {})}
        super().__init__("club", key, **arguments)
        self.numbers: ClubNumbers | None = None
        self._stale: tuple[str, ...] = ()
        self._pause: Timer | None = None

    def compose(self) -> ComposeResult:
        """The form and the numbers."""
        with Container(id="main"):
            with Vertical(id="left"):
                yield from super().compose()
            with VerticalScroll(id="live", can_focus=False):
                yield Static("")

    def _begin(self, row: OpenedRow | None) -> None:
        super()._begin(row)
        self._work_out()

    @on(FormBody.Changed)
    def _typed_live(self) -> None:
        if self._pause is not None:
            self._pause.stop()
        self._pause = self.set_timer(_PAUSE_SECONDS, self._work_out)

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= BESIDE_COLUMNS, "-beside")
        self.call_after_refresh(self._show)

    def catalogue_changed(self, change_no: int) -> None:
        """Work the numbers out again: a part may have changed."""
        super().catalogue_changed(change_no)
        self._work_out()

    def _work_out(self) -> None:
        if not self.body.entries or self._done:
            return
        values, errors = self.body.values()
        self._stale = tuple(self.form.field(n).label for n in _USED if n in errors)
        if self._stale:
            # numbers of half a figure would mislead: those of before stay, and say so
            self.drop("numbers")
            self._show()
            return
        catalogue = self.desk.catalogue
        self.work(
            lambda: numbers_of_typed(catalogue, values), self._worked_out, group="numbers", what="work the club out"
        )

    def _worked_out(self, numbers: ClubNumbers) -> None:
        self.numbers = numbers
        self._show()

    def _show(self) -> None:
        beside = self.has_class("-beside")
        width = (PANEL if beside else max(self.size.width, 60)) - 4
        lines: list[Line] = []
        if self._stale:
            lines.append(((f"As before, until it can be read: {', '.join(self._stale)}", "doubt"),))
        if self.numbers is not None:
            lines += number_lines(self.numbers, width) if beside else number_grid(self.numbers, width)
        self.query_one("#live Static", Static).update(content(lines))

    def _request(self) -> dict[str, Any]:
        values = self.body.values()[0]
        return {new: values[old] for old, new in _REQUEST.items() if values.get(old) is not None}

    def action_numbers(self) -> None:
        """Show all numbers."""
        from specdb.tui.clubs.numbers_dialog import NumbersDialog

        if self.numbers is not None:
            self.app.push_screen(NumbersDialog(self.key or "New club", self.numbers))

    def action_fitup(self) -> None:
        """See whether the tip goes in the bore, as typed here."""
        asked = self._request()
        if "shaft" not in asked or "head" not in asked:
            self.notify("Name the shaft and the head first.")
            return
        self.specdb.open_place("fitup", **asked)

    def action_standins(self) -> None:
        """Save, and look for stand-ins."""

        def go(key: str) -> None:
            self._close()
            self.specdb.open_place("standins", club=key)

        self.action_save(go)

    def action_another(self) -> None:
        """Save, and begin a new club like this one."""
        self.action_save(self._another)

    def _another(self, key: str) -> None:
        self.app.switch_screen(ClubForm(similar=key, kept=self._kept))
