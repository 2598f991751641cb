"""Notices: over nothing that is read or typed in at the moment; where there is little room, on the bottom lines."""

from __future__ import annotations

from typing import TypeVar

from textual.app import App
from textual.notifications import Notification, Notify
from textual.screen import ModalScreen
from textual.widgets import Input

R = TypeVar("R")

ROOMY_COLUMNS = 110  # with fewer, a notice in the corner would cover half of what is read
ERROR = "error"
_ABOVE = "-above"


class Notices(App[R]):
    """An app whose notices wait while a dialog is open, and keep away from the line that is typed in."""

    HORIZONTAL_BREAKPOINTS = [(0, "-cramped"), (ROOMY_COLUMNS, "-ample")]  # noqa: RUF012 (as Textual's)
    # on a narrow screen and under a dialog a notice is as broad as the screen, and its title stands on the same line
    NOTICES_CSS = """
    Toast { background: $panel; color: $foreground; }
    .-cramped ToastRack, Dialog ToastRack { max-height: 6; }
    .-cramped Toast, Dialog Toast {
        width: 100%; max-width: 100%; max-height: 3; padding: 0 1; margin-top: 0;
    }
    Dialog ToastRack { margin-bottom: 0; }
    Dialog Toast { max-height: 2; }
    ToastRack.-above { dock: top; margin-top: 1; margin-bottom: 0; align: right top; }
    BuildScreen ToastRack.-above { margin-top: 2; }  /* its first line says which club of which order it is */
    """

    def __init__(self) -> None:
        super().__init__()
        self._waiting: list[Notification] = []

    def on_notify(self, event: Notify) -> None:
        """Keep a notice back until the dialog is closed; an error is of the dialog itself, and told under it."""
        notice = event.notification
        in_dialog = bool(self._screen_stack) and isinstance(self.screen, ModalScreen)
        if in_dialog and notice.severity != ERROR:
            event.prevent_default()
            self._waiting.append(notice)
            return
        if notice.title and (in_dialog or self.size.width < ROOMY_COLUMNS):
            notice.message, notice.title = f"{notice.title}: {notice.message}", ""
        self.call_next(self.place_notices)

    def tell_what_waited(self) -> None:
        """Show the notices that a dialog kept back, once none is open any more."""
        if isinstance(self.screen, ModalScreen):
            return
        waiting, self._waiting = self._waiting, []
        for n in waiting:
            self.notify(n.message, title=n.title, severity=n.severity, timeout=n.timeout, markup=n.markup)

    def place_notices(self) -> None:
        """Have the notices at the top while a line in the lower half is typed in, and at the bottom else."""
        if not self._screen_stack or isinstance(self.screen, ModalScreen):
            return
        line = self.focused
        low = isinstance(line, Input) and line.region.y >= self.size.height // 2
        for rack in self.screen.query("ToastRack"):
            rack.set_class(low, _ABOVE)
