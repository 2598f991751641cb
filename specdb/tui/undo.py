"""Undoing the last change, after asking."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import Dialog, PlaceScreen
from specdb.tui.frame import KeyLine

if TYPE_CHECKING:
    from specdb.catalogue.journal import ChangeSummary

_LOOKED_AT = 50


class AskDialog(Dialog[bool]):
    """A question answered with yes or no."""

    place = "question"
    ACTIONS = (
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
    """Undo the latest change that stands, after asking.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    """
    catalogue = screen.desk.catalogue

    def look() -> ChangeSummary | None:
        from specdb.verbs.journal import changes

        return next((c for c in changes(catalogue, limit=_LOOKED_AT) if c.undoes is None and c.undone_by is None), None)

    def ask(change: ChangeSummary | None) -> None:
        if change is None:
            screen.notify("There is no change to undo.")
            return
        screen.app.push_screen(AskDialog("Undo", _question(change)), partial(answered, change.change_no))

    def answered(change_no: int, yes: bool | None) -> None:
        if yes:
            screen.work(lambda: take_back(change_no), tell, group="undo", what="undo a change", changes=True)

    def take_back(change_no: int) -> str:
        from specdb.verbs.journal import undo

        return undo(catalogue, change_no)

    def tell(done: str) -> None:
        screen.notify(done, title="Undone", markup=False)

    screen.work(look, ask, group="undo", what="look for the last change")


def _question(change: ChangeSummary) -> str:
    rows = ", ".join(f"{count} {kind.replace('_', ' ')}" for kind, count in change.rows.items())
    when = change.at.replace(tzinfo=dt.UTC).astimezone()
    by = f" by {change.by}" if change.by else ""
    why = f" ({change.why})" if change.why else ""
    return (
        f"Undo change {change.change_no}: '{change.done}' of {rows}, on {when:%Y-%m-%d at %H:%M}{by}{why}?\n\n"
        "The undo is a change of its own and can be undone too."
    )
