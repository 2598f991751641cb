"""Taking a change back, after saying what it was and what would go back."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from specdb.tui.base import Working
from specdb.tui.dialogs.undo import AskDialog
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.columns import plain
from specdb.verbs.catalogue.change_words import (
    BACK,
    UNDO_IS_A_CHANGE,
    difference_lines,
    more_rows,
    undo_question,
    why_words,
)

if TYPE_CHECKING:
    from specdb.verbs.catalogue.journal import JournalLine, ToUndo


class TakeBackDialog(AskDialog):
    """Whether to take a change back; closes with the answer.

    Parameters
    ----------
    found : ToUndo
        The change.
    """

    DEFAULT_CSS = """
    TakeBackDialog VerticalScroll { height: auto; max-height: 1fr; margin: 1 0; background: $surface;
        scrollbar-size-vertical: 1; }
    TakeBackDialog Static { height: auto; }
    """

    def __init__(self, found: ToUndo) -> None:
        asked = (undo_question(found), why_words(found.change))
        super().__init__("Undo", "\n".join(plain(text) for text in asked if text))
        self._found = found

    def compose(self) -> ComposeResult:
        """What it was, and what would go back."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._title
            yield Static(self._text, markup=False)
            with VerticalScroll():
                yield Static(what_goes_back(self._found))
            yield Static(UNDO_IS_A_CHANGE, markup=False)
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Let the keys scroll."""
        self.query_one(VerticalScroll).focus()


def what_goes_back(found: ToUndo) -> Content:
    """Rows and fields that an undo of a change would put back.

    Parameters
    ----------
    found : ToUndo
        The change.
    """
    parts: list[tuple[str, str]] = []
    for line in found.lines:
        parts += [(plain(line.title), "bold"), (f" {BACK[line.action]}\n", "")]
        if line.action == "changed":
            parts += differences(line, turned=True)
    if more := more_rows(found):
        parts.append((more, "$text-muted"))
    return Content.assemble(*parts).rstrip()


def differences(line: JournalLine, *, turned: bool = False) -> list[tuple[str, str]]:
    """The fields that a change of a row changed, one a line, to be shown under its name.

    Parameters
    ----------
    line : JournalLine
        The row.
    turned : bool
        From after to before, as an undo does.
    """
    return [(f"  {plain(text)}\n", "") for text in difference_lines(line, turned=turned)]


def ask_to_take_back(screen: Working[Any], change_no: int | None, then: Callable[[], None] | None = None) -> None:
    """Take a change back, after asking.

    Parameters
    ----------
    screen : Working
        Where it was asked for.
    change_no : int or None
        Which change; the latest that stands where None.
    then : callable or None
        Called when it was taken back.
    """
    catalogue = screen.desk.catalogue

    def look() -> ToUndo | None:
        from specdb.verbs.catalogue.journal import to_undo

        return to_undo(catalogue, change_no)

    def ask(found: ToUndo | None) -> None:
        if found is None:
            screen.notify("There is no change to undo.")
        else:
            screen.app.push_screen(TakeBackDialog(found), partial(answered, found.change.change_no))

    def answered(number: int, yes: bool | None) -> None:
        if yes:
            screen.work(lambda: take_back(number), tell, group="undo", what="undo a change", changes=True)

    def take_back(number: int) -> str:
        from specdb.tui.widgets.words import who
        from specdb.verbs.catalogue.journal import undo

        return undo(catalogue, number, by=who(screen.memory) or None)

    def tell(done: str) -> None:
        screen.notify(done, title="Undone", markup=False)
        if then is not None:
            then()

    screen.work(look, ask, group="undo", what="look for the change")
