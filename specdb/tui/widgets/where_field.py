"""The line a condition is typed in: fields are offered while typing, and what is wrong is said beneath it."""

from __future__ import annotations

import re

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.suggester import Suggester
from textual.timer import Timer
from textual.widgets import Input, Label, Static

from specdb.catalogue.where import WhereError, parse_where
from specdb.schema import Table
from specdb.units import unit_label
from specdb.units.writing import begun

_PAUSE_SECONDS = 0.6  # a condition half typed is not complained of while the keys still move
_LAST_WORD = re.compile(r"[a-z_]+$")
_MOST = 6


class _FieldSuggester(Suggester):
    """Completes the name of a field at the end of what was typed."""

    def __init__(self, table: Table) -> None:
        super().__init__(use_cache=False, case_sensitive=True)
        self._table = table

    async def get_suggestion(self, value: str) -> str | None:
        """The whole line with the name completed."""
        word = _LAST_WORD.search(value)
        if word is None:
            return None
        for name in self._table.field_names:
            if name.startswith(word.group()) and name != word.group():
                return value[: word.start()] + name
        return None


class WhereField(Vertical):
    """A condition, typed.

    Parameters
    ----------
    table : Table
        The kind it is about.
    """

    DEFAULT_CSS = """
    WhereField { height: auto; display: none; background: $surface; }
    WhereField.-filled { display: block; }
    WhereField Horizontal { height: 1; }
    WhereField Label { width: auto; padding: 0 1; color: $quiet; }
    WhereField Input { width: 1fr; background: $panel; color: $foreground; padding: 0 1; }
    WhereField #said { height: auto; max-height: 3; padding: 0 1 0 8; display: none; color: $quiet; }
    WhereField.-wrong #said { color: $error; }
    WhereField.-wrong Input { text-style: underline; }
    """

    class Changed(Message):
        """There is another condition, one that is understood.

        Attributes
        ----------
        where : str
            The condition; empty for none.
        """

        def __init__(self, where: str) -> None:
            super().__init__()
            self.where = where

    class Left(Message):
        """The field was left with enter or escape."""

    def __init__(self, table: Table) -> None:
        super().__init__()
        self._kind = table
        self._timer: Timer | None = None
        self._told = ""

    def compose(self) -> ComposeResult:
        """The line, and what is said of it."""
        with Horizontal():
            yield Label("where")
            yield Input(
                placeholder="such as weight_g < 2.3 oz and tip_dia_in = .335",
                suggester=_FieldSuggester(self._kind),
                compact=True,
            )
        yield Static("", id="said", markup=False)

    def set_kind(self, table: Table, where: str) -> None:
        """Take another kind, with the condition it had.

        Parameters
        ----------
        table : Table
            The kind.
        where : str
            Its condition.
        """
        self._kind = table
        line = self.query_one(Input)
        line.suggester = _FieldSuggester(table)
        self._told = where
        with self.prevent(Input.Changed):
            line.value = where
        self.set_class(bool(where), "-filled")
        self._say("")

    def take_focus(self) -> None:
        """Show the line and type in it."""
        self.add_class("-filled")
        self.screen.set_focus(self.input)

    @property
    def input(self) -> Input:
        """The line."""
        return self.query_one(Input)

    @on(Input.Changed)
    def _typed(self, message: Input.Changed) -> None:
        message.stop()
        if self._timer is not None:
            self._timer.stop()
        text = message.value.strip()
        trouble = self._trouble(text)
        if not trouble:
            self._say("")
            self._offer(message.value)
            if text != self._told:
                self._told = text
                self.post_message(self.Changed(text))
        else:
            self._offer(message.value)
            self._timer = self.set_timer(_PAUSE_SECONDS, lambda: self._say(trouble))

    @on(Input.Submitted)
    def _entered(self, message: Input.Submitted) -> None:
        message.stop()
        trouble = self._trouble(message.value.strip())
        if trouble:
            self._say(trouble)
        else:
            self._say("")
            self.post_message(self.Left())

    def on_descendant_blur(self) -> None:
        """Take the offers away, and the line where it is empty; an error stays."""
        self.set_class(bool(self.input.value.strip()), "-filled")
        if not self.has_class("-wrong"):
            self._say("")

    def say_error(self, error: WhereError) -> None:
        """Show an error that was found later.

        Parameters
        ----------
        error : WhereError
            The error.
        """
        self._say(_sentence(error))

    def _trouble(self, text: str) -> str:
        if not text:
            return ""
        try:
            parse_where(self._kind, text)
        except WhereError as error:
            return _sentence(error)
        return ""

    def _say(self, trouble: str) -> None:
        self.set_class(bool(trouble), "-wrong")
        said = self.query_one("#said", Static)
        said.update(trouble)
        said.display = bool(trouble)

    def _offer(self, value: str) -> None:
        """Name the fields that begin with the word at the end."""
        word = _LAST_WORD.search(value)
        fields = [f for f in self._kind.fields if word is not None and f.name.startswith(word.group())]
        if word is None or not fields or fields[0].name == word.group():
            if not self.has_class("-wrong"):
                self._say("")
            return
        self.set_class(False, "-wrong")
        named = [f"{f.name} ({unit_label(f.unit)})" if f.unit else f.name for f in fields[:_MOST]]
        rest = f", and {len(fields) - _MOST} more" if len(fields) > _MOST else ""
        said = self.query_one("#said", Static)
        said.update(Text(f"→ completes.  {', '.join(named)}{rest}", overflow="ellipsis", no_wrap=True))
        said.display = True


def _sentence(error: WhereError) -> str:
    text = str(error)
    return f"{begun(text)}."
