"""All numbers of a club, with what was recorded, assumed and is to be minded, in full."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.clubs.words import number_lines
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.prose import content

if TYPE_CHECKING:
    from specdb.verbs.clubs.fitted import ClubNumbers

_FRAME = 8  # columns of a dialog that are no text


class NumbersDialog(Dialog[None]):
    """All numbers of a club.

    Parameters
    ----------
    title : str
        Title of the dialog.
    numbers : ClubNumbers
        The club.
    """

    place = "all numbers"
    ACTIONS = (Action("close", "escape,enter,i,ctrl+o", "close", "Close the numbers."),)
    DEFAULT_CSS = """
    NumbersDialog > .dialog { height: auto; max-height: 100%; }
    NumbersDialog VerticalScroll { height: auto; max-height: 1fr; scrollbar-size-vertical: 1; }
    NumbersDialog Static { height: auto; }
    """

    def __init__(self, title: str, numbers: ClubNumbers) -> None:
        super().__init__()
        self._heading = title
        self._of = numbers

    def compose(self) -> ComposeResult:
        """The numbers."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._heading
            with VerticalScroll():
                yield Static(content(number_lines(self._of, min(self.app.size.width, 76) - _FRAME)))
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Let the arrow keys scroll."""
        self.query_one(VerticalScroll).focus()

    def action_close(self) -> None:
        """Close the numbers."""
        self.dismiss(None)
