"""A dialog that shows lines of text to scroll through."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.prose import Line, content


class LinesDialog(Dialog[bool | None]):
    """Lines to read.

    Parameters
    ----------
    title : str
        Title of the dialog.
    lines : sequence of Line
        What it shows.
    """

    place = "to read"
    ACTIONS: ClassVar[Sequence[Action]] = (Action("close", "escape,enter", "close", "Close it."),)
    DEFAULT_CSS = """
    LinesDialog > .dialog { width: 96; height: auto; max-height: 100%; }
    LinesDialog VerticalScroll { height: auto; max-height: 1fr; scrollbar-size-vertical: 1; }
    LinesDialog Static { height: auto; }
    """

    def __init__(self, title: str, lines: Sequence[Line]) -> None:
        super().__init__()
        self._heading, self._lines = title, list(lines)

    def compose(self) -> ComposeResult:
        """The lines."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._heading
            with VerticalScroll():
                yield Static(content(self._lines))
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Let the arrow keys scroll."""
        self.query_one(VerticalScroll).focus()

    def action_close(self) -> None:
        """Close it."""
        self.dismiss(None)
