"""What every screen of a place shares: its frame, its actions, work off the interface's thread."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar, cast

from textual import on
from textual.binding import Binding
from textual.events import ScreenResume
from textual.geometry import Size
from textual.message import Message
from textual.screen import ModalScreen, Screen
from textual.widget import Widget

from specdb.errors import SpecdbError
from specdb.tui.actions import Action, bindings_of, register
from specdb.tui.frame import KeyLine, PlaceBar, WaitingLine
from specdb.tui.jobs import Job

if TYPE_CHECKING:
    from specdb.tui.app import SpecdbApp
    from specdb.tui.desk import Desk
    from specdb.tui.memory import Memory

T = TypeVar("T")
R = TypeVar("R")


class Done(Message):
    """A job is done; handled on the interface's thread."""

    def __init__(self, group: str, number: int, finish: Callable[[], None], *, always: bool) -> None:
        super().__init__()
        self.group = group
        self.number = number
        self.finish = finish
        self.always = always


class Working(Screen[R], Generic[R]):
    """A screen that works off the interface's thread; its actions come from ``ACTIONS``.

    Attributes
    ----------
    place : str
        Name of the place it belongs to; its actions are registered under it.
    ACTIONS : sequence of Action
        What can be done here; each runs ``action_<id>``.
    """

    place: ClassVar[str] = ""
    ACTIONS: ClassVar[Sequence[Action]] = ()

    def __init_subclass__(cls, **kwargs: Any) -> None:  # noqa: ANN401 (as Textual's)
        if "ACTIONS" in cls.__dict__:
            cls.ACTIONS = tuple(replace(a, place=cls.place) for a in cls.ACTIONS)
            register(cls.ACTIONS)
            cls.BINDINGS = [*cls.__dict__.get("BINDINGS", []), *bindings_of(cls.ACTIONS)]
        super().__init_subclass__(**kwargs)

    def __init__(self, name: str | None = None, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002 (as Textual's)
        super().__init__(name, id, classes)
        self._numbers: dict[str, int] = {}
        self._held_app: SpecdbApp | None = None
        self._laid_out: dict[Widget, Any] = {}

    def _refresh_layout(self, size: Size | None = None, scroll: bool = False) -> None:
        # Textual works its map of the widgets out anew, too, when asked for a place between two layouts; what grew in
        # that moment would count as unchanged then, and its new lines would stay unpainted
        whole = not scroll or bool(self._layout_widgets)
        if whole and self._laid_out:
            self._compositor._full_map = self._laid_out  # noqa: SLF001 (there is no other way)
        super()._refresh_layout(size, scroll)
        if whole:
            self._laid_out = self._compositor._full_map  # noqa: SLF001

    @property
    def specdb(self) -> SpecdbApp:
        """The app; a job that outlives its screen still finds it."""
        try:
            self._held_app = cast("SpecdbApp", self.app)
        except RuntimeError:  # the screen has been taken away meanwhile
            if self._held_app is None:
                raise
        return self._held_app

    @property
    def desk(self) -> Desk:
        """The catalogue and what is kept of it."""
        return self.specdb.desk

    @property
    def memory(self) -> Memory:
        """What is remembered between runs."""
        return self.specdb.memory

    def work(
        self,
        job: Callable[[], T],
        then: Callable[[T], None],
        *,
        group: str,
        what: str,
        failed: Callable[[SpecdbError], None] | None = None,
        changes: bool = False,
    ) -> None:
        """Do a job in a thread, then something with its result on the interface's thread.

        A job that only asks is superseded by a newer one of its group: it is left out if it has not begun, and its
        result is dropped if it has. A job that changes something (``changes=True``) is always done, in order, and
        its result always handed on; the program does not end before it is done.

        Parameters
        ----------
        job : callable
            The job; it may read and change the catalogue, and must not touch widgets.
        then : callable
            Takes the result.
        group : str
            What it is for, within this screen.
        what : str
            What it does, in words.
        failed : callable or None
            Takes an error that is a sentence for the user; shown as a notice where None.
        changes : bool
            Whether it may change the catalogue or a file.
        """
        number = self._numbers.get(group, 0) + 1
        self._numbers[group] = number
        held = self.specdb  # so that the job finds it, whatever becomes of the screen

        def run() -> None:
            finish: Callable[[], None]
            try:
                result = job()
            except SpecdbError as error:
                finish = partial(failed or held.tell_error, error)
            except Exception as error:  # noqa: BLE001 (the last resort: the interface stays up and says so)
                finish = partial(held.tell_failure, what, error, traceback.format_exc())
            else:
                finish = partial(then, result)
            if changes:
                held.desk.look_now()
            self.post_message(Done(group, number, finish, always=changes))

        held.jobs.start((id(self), group), Job(run, what, changes))

    def drop(self, group: str) -> None:
        """Drop the result of a question that is still being worked on.

        Parameters
        ----------
        group : str
            Its group.
        """
        self._numbers[group] = self._numbers.get(group, 0) + 1

    def on_done(self, message: Done) -> None:
        """Hand a result on, unless a newer question has been asked."""
        message.stop()
        if message.always or message.number == self._numbers.get(message.group):
            self.specdb.guard("show the result", message.finish)

    def catalogue_changed(self, change_no: int) -> None:
        """Called when this or another process has changed the catalogue; does nothing by itself.

        Parameters
        ----------
        change_no : int
            Number of the latest change.
        """

    @on(ScreenResume)
    def _tell_what_waited(self) -> None:
        self.specdb.tell_what_waited()

    def watch_focused(self) -> None:
        """Keep notices away from the line that is typed in."""
        self.call_after_refresh(self.specdb.place_notices)

    def actions_changed(self) -> None:
        """Have the line of keys written again, after something that allows or forbids an action."""
        for line in self.query(KeyLine):
            line.refresh()


class PlaceScreen(Working[None]):
    """A screen of a place, with the places in the top line and the keys in the bottom line.

    Subclasses set ``place`` and ``ACTIONS`` and write ``compose`` for what lies between the lines.
    """

    LAYERS: ClassVar[Sequence[str]] = ("default", "waiting")
    DEFAULT_CSS = """
    PlaceScreen {
        layers: default waiting;
        background: $background;
        color: $foreground;
    }
    """

    def _extend_compose(self, widgets: list[Widget]) -> None:
        widgets[:0] = [PlaceBar(), KeyLine(self.place), WaitingLine()]
        super()._extend_compose(widgets)

    def opened(self, **arguments: Any) -> None:  # noqa: ANN401 (each place has its own)
        """Called when the place is opened with :meth:`SpecdbApp.open_place`, after it was composed.

        Parameters
        ----------
        **arguments
            What it was opened with.
        """

    def action_back(self) -> None:
        """Go back to where we came from."""
        self.specdb.go_back()


class Dialog(ModalScreen[R], Working[R], Generic[R]):
    """A dialog over a screen; its actions are registered under its own ``place`` and shown in its last line."""

    BINDINGS: ClassVar[Any] = [Binding("f1,question_mark", "app.help", "help", show=False)]
    DEFAULT_CSS = """
    Dialog {
        align: center middle;
        background: $background 60%;
    }
    Dialog > .dialog {
        width: 76;
        max-width: 100%;
        height: auto;
        max-height: 90%;
        background: $surface;
        color: $foreground;
        border: round $accent;
        padding: 0 1;
    }
    Dialog > .dialog > KeyLine { background: $surface; }
    """
