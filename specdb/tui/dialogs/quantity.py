"""Typing one quantity, with what it was understood as and what is wrong with it below."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, Static

from specdb.errors import SpecdbError
from specdb.schema import load_schema
from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.frame import KeyLine
from specdb.units import format_quantity
from specdb.units.writing import begun
from specdb.verbs.catalogue.values import parse_value


class TypeDialog(Dialog[tuple[float | None] | None]):
    """One quantity as typed; closes with a tuple of it (None where empty), or with None.

    Parameters
    ----------
    kind, field : str
        The field that it means the same as.
    title : str
        Title of the dialog.
    text : str
        What stands there at first.
    """

    place = "type a quantity"
    ACTIONS = (
        Action("take", "enter", "take", "Take what is typed.", priority=True),
        Action("give_up", "escape", "back", "Leave it as it was.", priority=True),
    )
    DEFAULT_CSS = """
    TypeDialog > .dialog { width: 60; }
    TypeDialog Input { border: none; height: 1; padding: 0; background: $panel; }
    TypeDialog Static { height: auto; }
    TypeDialog .error { color: $text-error; text-style: bold; }
    """

    def __init__(self, kind: str, field: str, title: str, text: str) -> None:
        super().__init__()
        self._table = load_schema().table(kind)
        self._field = self._table.field(field)
        self._heading = title
        self._text = text

    def compose(self) -> ComposeResult:
        """A line to type in, and what was understood."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._heading
            yield Input(self._text)
            yield Static("", id="meaning", markup=False)
            yield Static(f"{self._field.description} {self._field.allowed()}.", markup=False)
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Begin to type."""
        self.query_one(Input).focus()

    def _read(self) -> tuple[float | None] | str:
        try:
            return (parse_value(self._table, self._field, self.query_one(Input).value),)
        except SpecdbError as error:
            return str(error)

    @on(Input.Changed)
    def _typed(self) -> None:
        read = self._read()
        meaning = self.query_one("#meaning", Static)
        meaning.set_class(isinstance(read, str), "error")
        if isinstance(read, str):
            meaning.update(begun(read))
        else:
            meaning.update("" if read[0] is None else f"= {format_quantity(read[0], self._field.unit or '')}")

    def action_take(self) -> None:
        """Close with what is typed, if it can be read."""
        read = self._read()
        if isinstance(read, str):
            self.app.bell()
        else:
            self.dismiss(read)

    def action_give_up(self) -> None:
        """Close without."""
        self.dismiss(None)
