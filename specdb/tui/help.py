"""Help for the screen one is at: what can be done, by which key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from specdb.tui.actions import EVERYWHERE, Action, actions_of, all_key_names, key_name
from specdb.tui.base import Dialog, Working
from specdb.tui.frame import KeyLine
from specdb.tui.places import PLACES, offered

if TYPE_CHECKING:
    from collections.abc import Iterable

_IN_LISTS = (
    ("↑ ↓ pgup pgdn home end", "move in the list"),
    ("← →", "move the list sideways"),
    ("enter", "open the row"),
    ("tab ⇧tab", "go to the next or the last field"),
)


class HelpDialog(Dialog[None]):
    """What can be done on a screen."""

    place = "help"
    ACTIONS = (Action("close", "escape,enter,f1,question_mark,q", "close", "Close the help."),)
    DEFAULT_CSS = """
    HelpDialog > .dialog { height: auto; }
    HelpDialog VerticalScroll { height: auto; max-height: 1fr; }
    HelpDialog Static { height: auto; }
    """

    def __init__(self, of: Screen[Any]) -> None:
        super().__init__()
        self._of = of

    def compose(self) -> ComposeResult:
        """The text and its last line."""
        with VerticalScroll(classes="dialog") as box:
            box.border_title = "Help"
            yield Static(self._text())
            yield KeyLine(self.place)

    def _text(self) -> Text:
        key = f"bold {self.app.theme_variables['accent']}"
        text = Text()
        place = next((p for p in PLACES if isinstance(self._of, Working) and p.name == self._of.place), None)
        if place is not None:
            text.append(f"{place.title}: {place.summary}\n", "bold")
        if isinstance(self._of, Working):
            self._section(text, "Here", _lines(actions_of(self._of.place)), key)
        self._section(text, "In lists", _IN_LISTS, key)
        self._section(text, "Places", [(key_name(p.key), f"{p.title}: {p.summary}") for p in offered()], key)
        everywhere = [*_lines(actions_of(EVERYWHERE)), ("esc", "Go back.")]
        self._section(text, "Everywhere", everywhere, key)
        text.rstrip()
        return text

    @staticmethod
    def _section(text: Text, title: str, lines: Iterable[tuple[str, str]], key: str) -> None:
        text.append(f"\n{title}\n", "bold")
        for keys, what in lines:
            text.append(f"  {keys:<12}", key)
            text.append(f" {what}\n")

    def action_close(self) -> None:
        """Close the help."""
        self.dismiss(None)


def _lines(actions: Iterable[Action]) -> list[tuple[str, str]]:
    return [(all_key_names(a.keys), a.help) for a in actions if a.keys]
