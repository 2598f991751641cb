"""When there is no catalogue yet: make an empty one, or the demonstration."""

from __future__ import annotations

from rich.table import Table
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen

_CHANGES = "make the catalogue"


class WelcomeScreen(PlaceScreen):
    """Offers to make a catalogue."""

    place = "welcome"
    ACTIONS = (
        Action("make_empty", "e", "empty catalogue", "Make an empty catalogue for your own shop."),
        Action("make_demo", "d", "demonstration", "Make the demonstration catalogue; everything in it is invented."),
    )
    DEFAULT_CSS = """
    WelcomeScreen { align: center middle; }
    WelcomeScreen > Vertical { width: 72; max-width: 100%; height: auto; padding: 1 2; background: $surface;
        border: round $accent; }
    WelcomeScreen Static { margin-bottom: 1; }
    """

    def compose(self) -> ComposeResult:
        """What there is to choose from."""
        with Vertical() as box:
            box.border_title = "No catalogue yet"
            yield Static(f"There is no catalogue at {self.desk.path}. Make one there:", markup=False)
            yield Static(self._ways())
            yield Static("Or name another when starting: specdb ui --catalogue FILE", id="said", markup=False)

    def _ways(self) -> Table:
        ways = Table.grid(padding=(0, 2, 0, 0))
        ways.add_column(style=f"bold {self.app.theme_variables['accent']}")
        ways.add_column()
        for action in self.ACTIONS:
            ways.add_row(action.keys, action.help)
        return ways

    def action_make_empty(self) -> None:
        """Make an empty catalogue."""
        from specdb.verbs.catalogue.opening import create

        self._say("Making an empty catalogue …")
        path = self.desk.path
        self.work(lambda: create(path), self._made, group="make", what=_CHANGES, changes=True)

    def action_make_demo(self) -> None:
        """Make the demonstration catalogue."""
        from specdb.verbs.catalogue.demonstration import demo_catalogue

        self._say("Making the demonstration catalogue; this takes a few seconds …")
        path = self.desk.path
        self.work(lambda: demo_catalogue(path), self._made, group="make", what=_CHANGES, changes=True)

    def _say(self, text: str) -> None:
        self.query_one("#said", Static).update(text)

    def _made(self, _: object) -> None:
        self.specdb.begin()
