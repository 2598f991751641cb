"""The app: its places, themes, memory and the catalogue; how it starts, ends and says what went wrong."""

from __future__ import annotations

import asyncio
import datetime as dt
import os
import signal
import sys
import traceback
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

from textual.app import SystemCommand
from textual.color import Color
from textual.filter import LineFilter, Monochrome
from textual.message import Message
from textual.screen import Screen

from specdb.catalogue import Catalogue
from specdb.catalogue.promises import Beyond
from specdb.errors import CatalogueDamagedError, CatalogueTooNewError, SpecdbError
from specdb.tui import places
from specdb.tui.actions import EVERYWHERE, Action, actions_of, bindings_of, register
from specdb.tui.base import PlaceScreen, Working
from specdb.tui.desk import Desk
from specdb.tui.frame import WaitingLine
from specdb.tui.jobs import Job, Jobs
from specdb.tui.keys_in_order import KeysInOrder
from specdb.tui.memory import Memory, default_state_folder
from specdb.tui.notices import Notices
from specdb.tui.themes import DARK, LIGHT, THEME_NAMES, PlainFilter, themes
from specdb.units.writing import begun

WELCOME = "welcome"
FINISH_SECONDS = 20.0
_LAST_SECONDS = 5.0
_WAITING_EVERY_SECONDS = 0.2
_THEME = "theme"

register(
    (
        Action("help", "f1,question_mark", "help", "Show what can be done here, with its keys."),
        Action("undo", "ctrl+z", "undo", "Undo the last change of the catalogue, after asking.", shown=False),
        Action("change_theme", "", "theme", "Change between the light and the dark theme.", shown=False),
        Action("command_palette", "ctrl+p", "commands", "Find anything that can be done by its name.", shown=False),
        Action("quit", "ctrl+q", "quit", "End; what is half typed is kept.", shown=False, priority=True),
    )
)


class CatalogueChanged(Message):
    """The watch saw a change of the catalogue."""

    def __init__(self, change_no: int) -> None:
        super().__init__()
        self.change_no = change_no


class SpecdbApp(Notices[SpecdbError], KeysInOrder[SpecdbError]):
    """The terminal interface.

    Parameters
    ----------
    path : Path
        The catalogue file; need not be there.
    state_folder : Path or None
        Where is remembered what is remembered; the user's state folder where None.
    start : str
        The place to start at.
    arguments : mapping of str to object, optional
        What that place is opened with.
    """

    TITLE = "specdb"
    ENABLE_COMMAND_PALETTE = True
    COMMAND_PALETTE_BINDING = "ctrl+p"
    CSS = (
        """
    Input.-textual-compact > .input--placeholder, Input.-textual-compact > .input--suggestion { color: $quiet; }
    """
        + Notices.NOTICES_CSS
    )
    BINDINGS: ClassVar[Any] = [
        *bindings_of(a for a in actions_of(EVERYWHERE) if a.id != "command_palette"),
    ]

    def __init__(
        self,
        path: Path,
        *,
        state_folder: Path | None = None,
        start: str = "catalogue",
        arguments: Mapping[str, object] | None = None,
    ) -> None:
        self.DEFAULT_MODE = start if path.exists() else WELCOME  # type: ignore[misc]  # no blank screen comes first
        super().__init__()
        self.desk = Desk(path)
        self.desk.catalogue.after_shafts = self._estimate
        self.desk.catalogue.when_beyond = self._say_beyond
        self.jobs = Jobs()
        self.state_folder = state_folder or default_state_folder()
        self.memory = Memory(self.state_folder, path)
        self._start = start
        self._arguments = dict(arguments or {})
        self._came_from: list[str] = []
        for theme in themes():
            self.register_theme(theme)
        remembered = self.memory.get(_THEME, DARK)
        self.theme = remembered if remembered in THEME_NAMES else DARK
        if self.no_color:
            self._take_colour_away()
        for place in places.offered():
            self.add_mode(place.name, _maker(place))
        self.add_mode(WELCOME, _welcome)
        for place in places.offered():
            self.bind(place.key, f"open_place('{place.name}')", description=place.title, show=False)

    def _take_colour_away(self) -> None:
        page = Color.parse(self.current_theme.background or "#000000")
        kept: list[LineFilter] = [f for f in self._filters if not isinstance(f, Monochrome)]
        self._filters = [*kept, PlainFilter(page)]

    def on_mount(self) -> None:
        """Begin the watch."""
        self._mind_signals()
        self.desk.watch(self._saw_change)
        self.set_interval(_WAITING_EVERY_SECONDS, self._say_waiting)
        if self._arguments and self.has_catalogue:
            self.call_after_refresh(partial(self.open_place, self._start, **self._arguments))

    def _saw_change(self, change_no: int) -> None:
        # in the thread of the watch or of a job
        self.post_message(CatalogueChanged(change_no))

    def _say_beyond(self, short: tuple[Beyond, ...]) -> None:
        """Say which orders a count or damage has hit; in the thread of a job."""
        for found in short:
            self.notify(found.message, title="Held for orders", severity="warning", timeout=20, markup=False)

    def _estimate(self, catalogue: Catalogue) -> None:
        """Bring the stiffness estimates up to date after a change of shafts, while one goes on with other things."""

        def refresh() -> None:
            from specdb.verbs.stiffness.estimates import refresh_quietly

            self.guard_in_thread("estimate the stiffness of shafts", lambda: refresh_quietly(catalogue))
            self.desk.look_now()

        self.jobs.start("estimates", Job(refresh, "estimate the stiffness of shafts", changes=False))

    def _say_waiting(self) -> None:
        if self.memory.trouble:
            self.notify(self.memory.trouble, title="Not remembered", severity="warning", markup=False)
            self.memory.trouble = ""
        text = self.desk.waiting()
        for screen in self._screen_stack[-1:]:  # none yet, or none any more, when the timer ticks at either end
            for line in screen.query(WaitingLine):
                line.say(text)

    def on_catalogue_changed(self, message: CatalogueChanged) -> None:
        """Tell every screen."""
        message.stop()
        for stack in list(self._screen_stacks.values()):
            for screen in stack:
                if isinstance(screen, Working):
                    self.guard("show the change", partial(screen.catalogue_changed, message.change_no))

    # ---- places

    def open_place(self, name: str, **arguments: Any) -> None:  # noqa: ANN401 (each place has its own)
        """Go to a place.

        Parameters
        ----------
        name : str
            Its name, such as ``standins``.
        **arguments
            Handed to the ``opened`` of its screen; what lies over that screen is closed then.

        Raises
        ------
        UsageError
            If there is no such place.
        """
        places.place_named(name)
        if not self.has_catalogue:
            self.bell()
            return
        if name != self.current_mode:
            self._came_from = [n for n in self._came_from if n != self.current_mode] + [self.current_mode]
            self.switch_mode(name)
        stack = self._screen_stacks[name]
        if arguments:
            while len(stack) > 1:
                self.pop_screen()
        screen = stack[0]
        if isinstance(screen, PlaceScreen) and len(stack) == 1:
            screen.call_later(screen.opened, **arguments)

    def action_open_place(self, name: str) -> None:
        """Go to a place, by its key."""
        if isinstance(self.screen, Working) and self.screen.is_modal:
            self.bell()  # a dialog is answered first
            return
        self.open_place(name)

    def open_view(self, view: places.View) -> None:
        """Go to a place, and open a view over what lies there.

        Parameters
        ----------
        view : View
            The view.
        """
        self.open_place(view.place)
        kind = places.screen_class(view)
        if not isinstance(self.screen, kind):
            self.push_screen(kind())

    def open_row(self, kind: str, key: str) -> None:
        """Open an item over the place one is at.

        Parameters
        ----------
        kind, key : str
            The item.
        """
        from specdb.tui.forms.screen import form_screen

        self.push_screen(form_screen(kind, key))

    def go_back(self) -> None:
        """Close what lies over the place, else go back to the place we came from."""
        if len(self.screen_stack) > 1:
            self.pop_screen()
        elif self._came_from:
            self.switch_mode(self._came_from.pop())

    @property
    def has_catalogue(self) -> bool:
        """Whether there is a catalogue to go to places with."""
        return self.current_mode != WELCOME

    def begin(self) -> None:
        """Leave the welcome, now that there is a catalogue."""
        self.desk.look_now()
        self.switch_mode(self._start)

    # ---- what went wrong

    def guard(self, what: str, act: Callable[[], object]) -> None:
        """Do something on the interface's thread; an error becomes a notice, and the interface stays up.

        Parameters
        ----------
        what : str
            What is done, in words.
        act : callable
            Does it.
        """
        try:
            act()
        except SpecdbError as error:
            self.tell_error(error)
        except Exception as error:  # noqa: BLE001 (the last resort: the interface stays up and says so)
            self.tell_failure(what, error, traceback.format_exc())

    def guard_in_thread(self, what: str, act: Callable[[], object]) -> None:
        """As :meth:`guard`, in a thread; the notice is shown on the interface's thread.

        Parameters
        ----------
        what : str
            What is done, in words.
        act : callable
            Does it.
        """
        try:
            act()
        except SpecdbError as error:
            self.call_later(self.tell_error, error)
        except Exception as error:  # noqa: BLE001 (the last resort: the interface stays up and says so)
            self.call_later(self.tell_failure, what, error, traceback.format_exc())

    def tell_error(self, error: SpecdbError) -> None:
        """Show an error that is a sentence for the user; end where the file cannot be worked with at all.

        Parameters
        ----------
        error : SpecdbError
            The error.
        """
        if isinstance(error, CatalogueDamagedError | CatalogueTooNewError) and not self.desk.was_read:
            # the screen may not be whole yet
            self.call_later(self.exit, error, int(error.exit_code))
            return
        text = str(error)
        self.notify(begun(text), title=error.title, severity="error", timeout=12, markup=False)

    def tell_failure(self, what: str, error: Exception, trace: str) -> None:
        """Say that specdb itself failed, and keep the traceback in a file.

        Parameters
        ----------
        what : str
            What was being done.
        error : Exception
            The error.
        trace : str
            Its traceback.
        """
        kept = self._keep_trace(what, trace)
        first = (str(error).strip().splitlines() or [""])[0][:160]
        self.notify(
            f"specdb itself failed to {what} ({type(error).__name__}: {first}).{kept}",
            title="Failed",
            severity="error",
            timeout=20,
            markup=False,
        )

    def _keep_trace(self, what: str, trace: str) -> str:
        path = self.state_folder / "failures.log"
        try:
            self.state_folder.mkdir(parents=True, exist_ok=True)
            with path.open("a", encoding="utf-8") as file:
                file.write(f"{dt.datetime.now(dt.UTC).isoformat(timespec='seconds')} {what}\n{trace}\n")
        except OSError:
            return ""
        return f" More is in {path}."

    # ---- actions of everywhere

    def action_help(self) -> None:
        """Show the help of the screen."""
        from specdb.tui.help import HelpDialog

        if not isinstance(self.screen, HelpDialog):
            self.push_screen(HelpDialog(self.screen))

    def action_change_theme(self) -> None:
        """Change between light and dark."""
        self.theme = LIGHT if self.theme == DARK else DARK
        self.memory.put(_THEME, self.theme)
        if self.no_color:
            self._take_colour_away()

    def action_undo(self) -> None:
        """Undo the last change, after asking."""
        from specdb.tui.dialogs.undo import ask_to_undo

        if isinstance(self.screen, PlaceScreen):
            ask_to_undo(self.screen)

    async def action_quit(self) -> None:
        """End, after the changes that are under way."""
        under_way = self.jobs.changes_under_way()
        if under_way:
            self.notify(f"Finishing first: {', '.join(under_way)}.", markup=False)
            self.run_worker(self._quit_when_finished(), exclusive=True)
        else:
            self.exit()

    async def _quit_when_finished(self) -> None:
        while self.jobs.changes_under_way():
            await asyncio.sleep(0.05)
        self.exit()

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """What the palette offers: the actions of the screen, the places, what can be done everywhere."""
        if isinstance(screen, Working):
            for action in screen.ACTIONS:
                if screen.check_action(action.id.partition("(")[0], ()):
                    yield SystemCommand(_sentence_case(action.label), action.help, _runner(screen, action))
        for place in places.offered():
            yield SystemCommand(f"Go to {place.title}", place.summary, partial(self.open_place, place.name))
        if self.has_catalogue:
            for view in places.VIEWS:
                if not isinstance(screen, Working) or screen.place != view.place:  # which offers it with its key
                    yield SystemCommand(view.title, view.summary, partial(self.open_view, view))
        for action in actions_of(EVERYWHERE):
            if action.id != "command_palette":
                yield SystemCommand(_sentence_case(action.label), action.help, _runner(self, action))

    @property
    def failure(self) -> Exception | None:
        """What the interface fell over; None where it did not."""
        return self._exception

    def close_down(self) -> bool:
        """Give up what is held, after the app has ended; False where threads still wait for another program."""
        self.memory.flush()
        self.jobs.finish_changes(FINISH_SECONDS)
        idle = self.jobs.finish(_LAST_SECONDS, self.desk.catalogue.waiting_count)
        watched = self.desk.close()
        self.memory.close()
        return idle and watched

    def _fatal_error(self) -> None:
        # as Textual's, but a person is not shown a traceback: whoever runs the app says what happened
        error = self._exception
        if error is not None:
            self.memory.flush()
            self._keep_trace("go on", "".join(traceback.format_exception(error)))
        self._close_messages_no_wait()

    def _mind_signals(self) -> None:
        """Keep what is half typed when the terminal is closed, and end in good order when asked to."""
        loop = asyncio.get_running_loop()
        if self.is_headless or self.is_web or os.name != "posix":
            return
        loop.add_signal_handler(signal.SIGHUP, self._hung_up)
        loop.add_signal_handler(signal.SIGTERM, self.exit)

    def _hung_up(self) -> None:
        # there is no terminal any more to put back in order
        self.memory.flush()
        self.jobs.finish_changes(FINISH_SECONDS)
        os._exit(128 + signal.SIGHUP)


def _sentence_case(text: str) -> str:
    return begun(text)


def _runner(target: Any, action: Action) -> Callable[[], Any]:  # noqa: ANN401 (a screen or the app)
    return lambda: target.run_action(action.id)


def _maker(place: places.Place) -> Callable[[], Screen[Any]]:
    return lambda: places.screen_class(place)()


def _welcome() -> Screen[Any]:
    from specdb.tui.welcome import WelcomeScreen

    return WelcomeScreen()


def make_app(
    path: str | os.PathLike[str],
    *,
    state_folder: Path | None = None,
    start: str = "catalogue",
    arguments: Mapping[str, object] | None = None,
) -> SpecdbApp:
    """The app on a catalogue, for the command, for tests and for pictures.

    Parameters
    ----------
    path : path
        The catalogue file; need not be there.
    state_folder : Path or None
        Where is remembered what is remembered; the user's state folder where None.
    start : str
        The place to start at.
    arguments : mapping of str to object, optional
        What that place is opened with.
    """
    return SpecdbApp(Path(path), state_folder=state_folder, start=start, arguments=arguments)


def run(
    path: str | os.PathLike[str],
    *,
    state_folder: Path | None = None,
    start: str = "catalogue",
    arguments: Mapping[str, object] | None = None,
) -> None:
    """Run the interface until the user ends it.

    Parameters
    ----------
    path : path
        The catalogue file; need not be there.
    state_folder, start, arguments
        As for :func:`make_app`.

    Raises
    ------
    SpecdbError
        What the interface could not go on with.
    """
    app = make_app(path, state_folder=state_folder, start=start, arguments=arguments)
    try:
        error = app.run()
    finally:
        ended = app.close_down()
    if app.failure is not None:
        raise app.failure
    if error is not None:
        raise error
    if not ended:
        # a thread that is cut off within the database would bring the program down with a noise
        sys.stdout.flush()
        os._exit(0)
