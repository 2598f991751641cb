"""One line of tabs: a number and a name each, the one that is open marked by brackets as well as by its ground."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rich.text import Text
from textual.events import Click
from textual.message import Message
from textual.widget import Widget


class TabLine(Widget):
    """Tabs to choose from, by their number or the mouse.

    Parameters
    ----------
    names : sequence of str
        What the tabs are called, in order.
    """

    COMPONENT_CLASSES: ClassVar[set[str]] = {"tabs--key", "tabs--name", "tabs--open"}
    DEFAULT_CSS = """
    TabLine { height: 1; background: $panel; color: $foreground; }
    TabLine > .tabs--key { color: $accent; background: $panel; text-style: bold; }
    TabLine > .tabs--name { color: $foreground; background: $panel; }
    TabLine > .tabs--open { color: $accent; background: $background; text-style: bold; }
    """

    class Chosen(Message):
        """A tab was clicked."""

        def __init__(self, number: int) -> None:
            super().__init__()
            self.number = number

    def __init__(self, names: Sequence[str], *, id: str | None = None) -> None:  # noqa: A002 (as Textual's)
        super().__init__(id=id)
        self._names = tuple(names)
        self._open = 0
        self._spans: list[tuple[int, int]] = []

    @property
    def opened(self) -> int:
        """Which tab is open, from 0."""
        return self._open

    @opened.setter
    def opened(self, number: int) -> None:
        self._open = number
        self.refresh()

    def render(self) -> Text:
        """The line."""
        key, name, opened = (
            self.get_component_rich_style(f"tabs--{part}", partial=True) for part in ("key", "name", "open")
        )
        line = Text(no_wrap=True, end="", overflow="ellipsis")
        self._spans = []
        for i, title in enumerate(self._names):
            start = line.cell_len
            if i == self._open:
                line.append(f"[{i + 1} {title}]", opened)
            else:
                line.append(f" {i + 1}", key)
                line.append(f" {title} ", name)
            self._spans.append((start, line.cell_len))
        return line

    def on_click(self, event: Click) -> None:
        """Open the tab that was clicked."""
        for i, (start, end) in enumerate(self._spans):
            if start <= event.x < end:
                self.post_message(self.Chosen(i))
                return
