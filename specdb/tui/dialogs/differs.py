"""Someone else changed the row while the form was open: what they changed, what was typed here, and which counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.columns import plain
from specdb.tui.widgets.words import moment, value_words
from specdb.verbs.catalogue.form_rows import Difference, Kept
from specdb.verbs.catalogue.forms import Form

MINE, THEIRS = "mine", "theirs"


class DiffersDialog(Dialog[dict[str, str] | None]):
    """Decide field by field, or all at once, whose value counts; closes with a decision a field, or None.

    Parameters
    ----------
    form : Form
        The form.
    kept : Kept
        What came of trying to keep the row.
    """

    place = "differs"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("save", "ctrl+s", "save so", "Save the row with what is marked.", priority=True),
        Action("turn", "space,enter", "the other", "Let the other value of the field count.", priority=True),
        Action("all('theirs')", "t", "all theirs", "Let what the other has count everywhere."),
        Action("all('mine')", "m", "all mine", "Let what you typed count everywhere."),
        Action("give_up", "escape", "back", "Go back to the form; nothing is saved.", priority=True),
    )
    DEFAULT_CSS = """
    DiffersDialog > .dialog { width: 100; height: auto; }
    DiffersDialog Static { height: auto; }
    DiffersDialog OptionList { height: auto; max-height: 1fr; padding: 0; margin: 1 0;
        background: $surface; }
    DiffersDialog OptionList > .option-list--option-highlighted { background: $picked; color: $foreground; }
    DiffersDialog OptionList:focus > .option-list--option-highlighted { background: $picked; color: $foreground; }
    """

    def __init__(self, form: Form, kept: Kept) -> None:
        super().__init__()
        self._form = form
        self._kept = kept
        # what only the other changed is theirs unless one says otherwise; what both changed is typed here
        self._choice = {d.field: MINE if d.is_contested else THEIRS for d in kept.differences}

    def compose(self) -> ComposeResult:
        """What happened, and the fields."""
        with Vertical(classes="dialog") as box:
            box.border_title = "Changed meanwhile"
            yield Static(self._what(), markup=False)
            yield OptionList(
                *(Option(self._row(d), id=d.field) for d in self._kept.differences), markup=False, compact=True
            )
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Begin on the first field."""
        fields = self.query_one(OptionList)
        fields.highlighted = 0
        fields.focus()

    def _what(self) -> str:
        names = list(
            dict.fromkeys(plain(d.origin.by or "Someone") for d in self._kept.differences if d.origin is not None)
        )
        who = " and ".join(names) or "Someone"
        return (
            f"{who} changed this {self._form.table.title.lower()} while the form was open. Nothing is saved yet. "
            "What is marked ● will count."
        )

    def _row(self, difference: Difference) -> Text:
        quantity = str(self._kept.now.get("quantity") or "")
        words = [
            value_words(self._form, difference.field, v, quantity)
            for v in (difference.opened, difference.now, difference.typed)
        ]
        mine = self._choice[difference.field] == MINE
        title = self._form.table.field(difference.field).title
        theirs_mark, mine_mark = (" ", "●") if mine else ("●", " ")
        same = "" if difference.is_contested else " (as it was)"
        text = Text(overflow="fold")
        text.append(title, "bold")
        text.append(f", was {words[0]}{_by(difference)}\n")
        text.append(f"  {theirs_mark} theirs  {words[1]}\n", "" if mine else "bold")
        text.append(f"  {mine_mark} mine    {words[2]}{same}", "bold" if mine else "")
        return text

    def _show(self) -> None:
        fields = self.query_one(OptionList)
        for difference in self._kept.differences:
            fields.replace_option_prompt(difference.field, self._row(difference))

    def action_turn(self) -> None:
        """Let the other value of the field count."""
        number = self.query_one(OptionList).highlighted
        if number is not None:
            field = self._kept.differences[number].field
            self._choice[field] = THEIRS if self._choice[field] == MINE else MINE
            self._show()

    @on(OptionList.OptionSelected)
    def _clicked(self) -> None:
        self.action_turn()

    def action_all(self, whose: str) -> None:
        """Let one side count everywhere."""
        self._choice = dict.fromkeys(self._choice, whose)
        self._show()

    def action_save(self) -> None:
        """Close with the decisions."""
        self.dismiss(self._choice)

    def action_give_up(self) -> None:
        """Close without."""
        self.dismiss(None)


def _by(difference: Difference) -> str:
    """Who changed a field, when and why."""
    origin = difference.origin
    if origin is None:
        return ""
    why = f": {plain(origin.why)}" if origin.why else ""
    return f"; changed by {plain(origin.by or 'someone')}, {moment(origin.at)}{why}"
