"""Dialogs that ask for one answer: a word from a list, or one of a few ways to go on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.events import Key
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.frame import KeyLine

_LIST_CSS = """
    %s OptionList { height: auto; max-height: 16; padding: 0; background: $surface; }
    %s OptionList > .option-list--option-highlighted { background: $picked; color: $foreground; text-style: bold; }
    %s OptionList:focus > .option-list--option-highlighted { background: $picked; color: $foreground; }
"""


class WordDialog(Dialog[str | None]):
    """Choose one word of a list; typing its first letters goes to it. Closes with the word, or None.

    Parameters
    ----------
    title : str
        Title of the dialog.
    words : sequence of str
        The words.
    now : str
        The word that stands there now; the cursor begins on it.
    may_clear : bool
        Whether to leave it empty is one of the choices.
    """

    place = "words"
    ACTIONS = (
        Action("take", "enter", "choose", "Take the word of the cursor."),
        Action("give_up", "escape", "back", "Leave it as it was."),
    )
    DEFAULT_CSS = (
        "WordDialog > .dialog { width: 44; }\nWordDialog > .dialog > Static { color: $quiet; }\n"
        + _LIST_CSS % (("WordDialog",) * 3)
    )

    def __init__(self, title: str, words: Sequence[str], now: str = "", *, may_clear: bool = True) -> None:
        super().__init__()
        self._heading = title
        self._words = [*words, *([""] if may_clear and now else [])]
        self._now = now
        self._begun = ""

    def compose(self) -> ComposeResult:
        """The list."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._heading
            yield OptionList(*(Option(word or "(leave it empty)") for word in self._words), markup=False, compact=True)
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Begin on the word that stands there."""
        words = self.query_one(OptionList)
        words.highlighted = self._words.index(self._now) if self._now in self._words else 0
        words.focus()

    def on_key(self, event: Key) -> None:
        """Go to the word that begins as typed."""
        if event.character is None or not event.character.isprintable():
            return
        for begun in (self._begun + event.character.lower(), event.character.lower()):
            for number, word in enumerate(self._words):
                if word.lower().startswith(begun):
                    self._begun = begun
                    self.query_one(OptionList).highlighted = number
                    event.stop()
                    return

    @on(OptionList.OptionSelected)
    def _picked(self, message: OptionList.OptionSelected) -> None:
        self.dismiss(self._words[message.option_index])

    def action_take(self) -> None:
        """Close with the word of the cursor."""
        number = self.query_one(OptionList).highlighted
        self.dismiss(None if number is None else self._words[number])

    def action_give_up(self) -> None:
        """Close without."""
        self.dismiss(None)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to go on.

    Attributes
    ----------
    answer : str
        What the dialog closes with.
    key : str
        The letter that takes it.
    label : str
        What it does, in words.
    """

    answer: str
    key: str
    label: str


class WaysDialog(Dialog[str]):
    """A question with a few ways to go on, each by its letter; escape closes with the empty answer.

    Parameters
    ----------
    title : str
        Title of the dialog.
    text : str
        The question.
    ways : sequence of Way
        The ways.
    """

    place = "ways"
    ACTIONS = (Action("give_up", "escape", "back", "Go back without any of it."),)
    BINDINGS: ClassVar = [Binding("enter", "take", show=False)]
    DEFAULT_CSS = "WaysDialog > .dialog > Static { height: auto; margin-bottom: 1; }\n" + _LIST_CSS % (
        ("WaysDialog",) * 3
    )

    def __init__(self, title: str, text: str, ways: Sequence[Way]) -> None:
        super().__init__()
        self._heading = title
        self._text = text
        self._ways = tuple(ways)

    def compose(self) -> ComposeResult:
        """The question and the ways."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._heading
            yield Static(self._text, markup=False)
            yield OptionList(*(Option(self._line(way)) for way in self._ways), markup=False, compact=True)
            yield KeyLine(self.place)

    def _line(self, way: Way) -> Text:
        text = Text()
        text.append(f" {way.key} ", f"bold {self.app.theme_variables['accent']}")
        text.append(f" {way.label}")
        return text

    def on_mount(self) -> None:
        """Begin on the first way."""
        ways = self.query_one(OptionList)
        ways.highlighted = 0
        ways.focus()

    def on_key(self, event: Key) -> None:
        """Take the way of a letter."""
        for way in self._ways:
            if event.character == way.key:
                event.stop()
                self.dismiss(way.answer)
                return

    @on(OptionList.OptionSelected)
    def _picked(self, message: OptionList.OptionSelected) -> None:
        self.dismiss(self._ways[message.option_index].answer)

    def action_give_up(self) -> None:
        """Close with the empty answer."""
        self.dismiss("")
