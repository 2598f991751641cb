"""A question answered with yes or no, and undoing the last change after asking it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import Dialog, PlaceScreen
from specdb.tui.frame import KeyLine


class AskDialog(Dialog[bool]):
    """A question answered with yes or no."""

    place = "question"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("answer(True)", "y", "yes", "Do it."),
        Action("answer(False)", "n,escape", "no", "Leave it as it is."),
    )

    def __init__(self, title: str, text: str) -> None:
        super().__init__()
        self._title = title
        self._text = text

    def compose(self) -> ComposeResult:
        """The question and its keys."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._title
            yield Static(self._text, markup=False)
            yield KeyLine(self.place)

    def action_answer(self, yes: bool) -> None:
        """Close with the answer."""
        self.dismiss(yes)


def ask_to_undo(screen: PlaceScreen) -> None:
    """Undo the latest change that stands, after saying what it was and what would go back.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    """
    from specdb.tui.dialogs.take_back import ask_to_take_back

    ask_to_take_back(screen, None)
