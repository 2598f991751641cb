"""What frames every screen: the places in the top line, the keys in the bottom line, a word while we wait."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.cells import cell_len
from rich.text import Text
from textual.events import Click
from textual.widget import Widget

from specdb.tui.actions import EVERYWHERE, Action, actions_of, key_name
from specdb.tui.places import offered

if TYPE_CHECKING:
    from specdb.tui.app import SpecdbApp


class PlaceBar(Widget):
    """The places in the top line; the one we are at is marked, each may be clicked."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"placebar--key", "placebar--here", "placebar--there", "placebar--file"}
    DEFAULT_CSS = """
    PlaceBar {
        dock: top;
        height: 1;
        background: $panel;
        color: $foreground;
    }
    PlaceBar .placebar--key { color: $accent; }
    PlaceBar .placebar--there { color: $foreground; }
    PlaceBar .placebar--here { color: $on-accent; background: $accent; text-style: bold; }
    PlaceBar .placebar--file { color: $quiet; }
    """

    app: SpecdbApp

    def __init__(self) -> None:
        super().__init__()
        self._spans: list[tuple[int, int, str]] = []

    def render(self) -> Text:
        """The line."""
        key, there, here = (
            self.get_component_rich_style(f"placebar--{part}", partial=True) for part in ("key", "there", "here")
        )
        line = Text(no_wrap=True, end="")
        self._spans = []
        for place in offered() if self.app.has_catalogue else ():
            start = line.cell_len
            chosen = place.name == self.app.current_mode
            line.append(f" {key_name(place.key)}", here if chosen else key)
            line.append(f" {place.title} ", here if chosen else there)
            self._spans.append((start, line.cell_len, place.name))
        name = self.app.desk.path.name
        room = self.size.width - line.cell_len - cell_len(name) - 1
        if room >= 1:
            line.append(" " * room)
            line.append(name, self.get_component_rich_style("placebar--file", partial=True))
        return line

    def on_click(self, event: Click) -> None:
        """Open the place that was clicked."""
        for start, end, name in self._spans:
            if start <= event.x < end:
                self.app.open_place(name)
                return


class KeyLine(Widget):
    """The keys that do something here, as many as fit; each may be clicked."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"keyline--key", "keyline--label"}
    DEFAULT_CSS = """
    KeyLine {
        dock: bottom;
        height: 1;
        background: $panel;
        color: $foreground;
    }
    KeyLine .keyline--key { color: $accent; text-style: bold; }
    KeyLine .keyline--label { color: $foreground; }
    """

    def __init__(self, place: str, extra: tuple[Action, ...] = ()) -> None:
        super().__init__()
        self._place = place
        self._extra = extra
        self._spans: list[tuple[int, int, Action]] = []

    def _wanted(self) -> list[Action]:
        # the screen's own, as two screens of one place have different ones
        own = [*getattr(self.screen, "ACTIONS", actions_of(self._place)), *self._extra]
        always = [a for a in actions_of(EVERYWHERE) if a.id == "help" and not self.screen.is_modal]
        return [a for a in own if a.shown and a.keys and self._allowed(a)] + always

    def _allowed(self, action: Action) -> bool:
        name = action.id.partition("(")[0]
        return self.screen.check_action(name, ()) is True

    def render(self) -> Text:
        """The line."""
        key = self.get_component_rich_style("keyline--key", partial=True)
        label = self.get_component_rich_style("keyline--label", partial=True)
        actions = self._wanted()
        widths = [cell_len(key_name(a.keys)) + cell_len(a.label) + 3 for a in actions]
        # the last one is help, which tells the rest
        while len(actions) > 2 and sum(widths) > self.size.width:
            del actions[-2], widths[-2]
        line = Text(no_wrap=True, end="")
        self._spans = []
        for action in actions:
            start = line.cell_len
            line.append(f" {key_name(action.keys)}", key)
            line.append(f" {action.label} ", label)
            self._spans.append((start, line.cell_len, action))
        return line

    async def on_click(self, event: Click) -> None:
        """Do what was clicked."""
        for start, end, action in self._spans:
            if start <= event.x < end:
                target = self.app if action.place == EVERYWHERE else self.screen
                await self.app.run_action(action.id, target)
                return


class WaitingLine(Widget):
    """Says whom we wait for, over the line above the keys; not there otherwise."""

    DEFAULT_CSS = """
    WaitingLine {
        dock: bottom;
        layer: waiting;
        height: 1;
        margin-bottom: 1;
        background: $warning;
        color: $background;
        text-style: bold;
        display: none;
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self._text = ""

    def say(self, text: str) -> None:
        """Show a sentence; an empty one takes the line away.

        Parameters
        ----------
        text : str
            The sentence.
        """
        if text != self._text:
            self._text = text
            self.display = bool(text)
            self.refresh()

    def render(self) -> Text:
        """The line."""
        return Text(f" {self._text}", no_wrap=True, overflow="ellipsis", end="")
