"""Help for the screen one is at: what can be done, by which key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from specdb.tui.actions import EVERYWHERE, Action, actions_of, all_key_names, key_name
from specdb.tui.base import Dialog, Working
from specdb.tui.frame import KeyLine
from specdb.tui.places import PLACES, offered

if TYPE_CHECKING:
    from collections.abc import Iterable

_IN_LISTS = (
    ("↑ ↓", "Move in the list, by rows; pgup and pgdn by pages, home and end to its ends."),
    ("← →", "Show the columns further to the left or the right."),
    ("enter", "Open the row; so does a click on it."),
    ("tab", "Go to the next field, with shift to the one before."),
)
_KEYS_WIDTH = 12


class HelpDialog(Dialog[None]):
    """What can be done on a screen."""

    place = "help"
    ACTIONS = (
        Action("close", "escape,enter,f1,question_mark,q", "close", "Close the help."),
        Action("commands", "ctrl+p", "all commands", "Find anything that can be done by its name, and do it."),
    )
    DEFAULT_CSS = """
    HelpDialog > .dialog { height: auto; }
    HelpDialog VerticalScroll { height: auto; max-height: 1fr; scrollbar-size-vertical: 1; }
    HelpDialog Static { height: auto; }
    """

    def __init__(self, of: Screen[Any]) -> None:
        super().__init__()
        self._of = of

    def compose(self) -> ComposeResult:
        """The text and its last line."""
        with Vertical(classes="dialog") as box:
            box.border_title = "Help"
            with VerticalScroll():
                yield Static(self._text())
            yield KeyLine(self.place)

    def _text(self) -> Table:
        key = f"bold {self.app.theme_variables['accent']}"
        text = Table.grid(padding=(0, 2, 0, 0))
        text.add_column(width=_KEYS_WIDTH, style=key)
        text.add_column()
        place = next((p for p in PLACES if isinstance(self._of, Working) and p.name == self._of.place), None)
        sections: list[tuple[str, Iterable[tuple[str, str]]]] = []
        if isinstance(self._of, Working):
            title = "Here" if place is None else f"{place.title}: {place.summary}"
            sections.append((title, _lines(self._of.ACTIONS)))
        sections.append(("In lists", _IN_LISTS))
        sections.append(("Places", [(key_name(p.key), f"{p.title}: {p.summary}") for p in offered()]))
        sections.append(("Everywhere", [*_lines(actions_of(EVERYWHERE)), ("esc", "Go back.")]))
        for n, (title, lines) in enumerate(sections):
            if n:
                text.add_row()
            text.add_row(Text(""), Text(title, "bold"))
            for keys, what in lines:
                text.add_row(Text(keys, justify="right"), Text(what))
        return text

    def action_close(self) -> None:
        """Close the help."""
        self.dismiss(None)

    def action_commands(self) -> None:
        """Close the help, and list what can be done on the screen under it."""
        app = self.app
        self.dismiss(None)
        app.call_later(app.action_command_palette)


def _lines(actions: Iterable[Action]) -> list[tuple[str, str]]:
    return [(all_key_names(a.keys), a.help) for a in actions if a.keys]
