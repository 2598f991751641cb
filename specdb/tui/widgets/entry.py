"""One field of a form: its title, what is typed, the unit, where the value comes from; checked while typing."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from rich.cells import cell_len
from rich.style import Style
from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.events import Blur, Click, Focus, Key
from textual.geometry import Size
from textual.message import Message
from textual.suggester import SuggestFromList
from textual.timer import Timer
from textual.widget import Widget
from textual.widgets import Input

from specdb.units import unit_label
from specdb.units.writing import begun
from specdb.verbs.catalogue.forms import Form, FormField, Read, read_value

LABEL, ROOM, UNIT = 19, 26, 7
WIDE_ROOM, WIDE = 40, 110
KEY_ROOM = 38  # a key that is cut may hide the hand of a head
_CHECK_SECONDS = 0.35  # an unfinished word is not yet an error
_MARK = "! "


def _nothing() -> Mapping[str, str]:
    return {}


class EntryInput(Input):
    """The input of a field; arrows go from field to field, enter chooses or goes on."""

    BINDINGS: ClassVar = [
        Binding("up", "other(-1)", show=False),
        Binding("down,enter", "other(1)", show=False),
    ]
    DEFAULT_CSS = """
    EntryInput, EntryInput.-textual-compact {
        height: 1;
        border: none;
        border-left: solid $quiet !important;
        padding: 0 1 0 1;
        background: $surface;
        color: $foreground;
    }
    EntryInput:focus, EntryInput.-textual-compact:focus {
        border-left: outer $accent !important;
        background: $panel;
    }
    EntryInput > .input--suggestion { color: $quiet; text-style: italic; }
    EntryInput > .input--placeholder { color: $quiet; text-style: italic; }
    """

    def action_other(self, step: int) -> None:
        """Go to the next field or the one before it."""
        if step > 0:
            self.screen.focus_next(EntryInput)
        else:
            self.screen.focus_previous(EntryInput)


class FieldEntry(Widget):
    """A field of a form.

    The title stands before the input, the unit behind it, then where the value comes from or what is wrong with it;
    the help of the field stands under it while it is the one being typed in.

    Parameters
    ----------
    form : Form
        The form it belongs to.
    field : FormField
        The field.
    text : str
        What stands in it at first.
    texts : callable
        Gives what stands in the other fields.
    sides : sequence of str
        Where the value comes from, in words, the longest first: the longest that fits is shown.
    origin : str
        Where it comes from, in full; told with the help.
    locked : bool
        Whether it cannot be changed.
    """

    DEFAULT_CSS = """
    FieldEntry { width: 1fr; height: auto; padding: 0 1; background: $background; }
    FieldEntry > EntryInput { margin-left: 20; width: 26; }
    FieldEntry.-key > EntryInput { width: 38; }
    FieldEntry.-wide > EntryInput { width: 40; }
    FieldEntry .entry--label { color: $foreground; }
    FieldEntry .entry--focused { color: $accent; text-style: bold; }
    FieldEntry .entry--quiet { color: $quiet; }
    FieldEntry .entry--error { color: $error; text-style: bold; }
    FieldEntry .entry--changed { color: $foreground; text-style: italic; }
    """
    COMPONENT_CLASSES: ClassVar = {
        "entry--label", "entry--focused", "entry--quiet", "entry--error", "entry--changed",
    }  # fmt: skip

    class Typed(Message):
        """Something was typed in a field."""

        def __init__(self, entry: FieldEntry) -> None:
            super().__init__()
            self.entry = entry

    class Left(Message):
        """A field was left after something was typed in it."""

        def __init__(self, entry: FieldEntry) -> None:
            super().__init__()
            self.entry = entry

    class ChoiceWanted(Message):
        """The list of what a field takes is wanted."""

        def __init__(self, entry: FieldEntry) -> None:
            super().__init__()
            self.entry = entry

    def __init__(
        self,
        form: Form,
        field: FormField,
        text: str = "",
        *,
        texts: Callable[[], Mapping[str, str]] = _nothing,
        sides: Sequence[str] = (),
        origin: str = "",
        locked: bool = False,
    ) -> None:
        super().__init__(id=f"field-{field.name}", classes="-key" if field.refers_to or field.refers_by else None)
        self.form = form
        self.field = field
        self.opened_text = text
        self.sides = tuple(sides)
        self.origin = origin
        self.hint = ""
        self.read = Read(None)
        self._texts = texts
        self._said = self._lacking = ""
        self._locked = locked
        self._late: Timer | None = None
        self._unsaid = False
        self._drawn = 0  # lines
        self.input = EntryInput(
            text,
            compact=True,
            disabled=locked,
            max_length=max(field.field.max_length or 0, 200),
            suggester=SuggestFromList(field.choices, case_sensitive=False) if field.choices else None,
        )
        if text:
            self.read = read_value(form, field.name, text, {field.name: text})

    def compose(self) -> ComposeResult:
        """The input; the rest is drawn around it."""
        yield self.input

    # ---- what stands in it

    @property
    def name_(self) -> str:
        """Name of the field."""
        return self.field.name

    @property
    def text(self) -> str:
        """What stands in it."""
        return self.input.value

    @property
    def is_changed(self) -> bool:
        """Whether something else stands in it than when the form was opened."""
        return self.text.strip() != self.opened_text.strip()

    @property
    def error(self) -> str:
        """What is wrong with it, as far as it has been said; empty if nothing is."""
        return "" if self._unsaid else self.read.error or self._said or self._lacking

    def put(self, text: str) -> None:
        """Put a text in, as if it had been typed.

        Parameters
        ----------
        text : str
            The text.
        """
        self.input.value = text
        self.input.cursor_position = len(text)
        self.check()

    def freeze(self) -> None:
        """Let it be changed no more."""
        self._locked = True
        self.input.disabled = True
        self._redraw()

    def say(self, error: str) -> None:
        """Say something that is wrong beyond the field itself; an empty text takes it back.

        Parameters
        ----------
        error : str
            A sentence.
        """
        if error != self._said:
            self._said = error
            self._redraw()

    def say_lacking(self, lacking: str) -> None:
        """Say why there is no list, until one types or goes on.

        Parameters
        ----------
        lacking : str
            A sentence.
        """
        self._lacking = lacking
        self._redraw()

    def say_from(self, sides: Sequence[str], origin: str = "") -> None:
        """Say where the value comes from.

        Parameters
        ----------
        sides : sequence of str
            The longest first.
        origin : str
            In full.
        """
        self.sides = tuple(sides)
        self.origin = origin
        self._redraw()

    def suggest(self, hint: str) -> None:
        """Show what will stand in it if nothing is typed.

        Parameters
        ----------
        hint : str
            Such as ``will be tallow-veer-62``.
        """
        if hint != self.hint:
            self.hint = hint
            self.refresh()

    def check(self) -> bool:
        """Check what stands in it, and say at once what is wrong; True if nothing is."""
        self._stop_waiting()
        self.read = read_value(self.form, self.field.name, self.text, self._texts())
        self._redraw()
        return not self.read.error

    def _stop_waiting(self) -> None:
        self._unsaid = False
        if self._late is not None:
            self._late.stop()
            self._late = None

    # ---- events

    @on(Input.Changed)
    def _on_typed(self, event: Input.Changed) -> None:
        event.stop()
        self._said = self._lacking = ""
        self._stop_waiting()
        self.read = read_value(self.form, self.field.name, self.text, self._texts())
        if self.read.error:
            self._unsaid = True
            self._late = self.set_timer(_CHECK_SECONDS, self.check)
        self._redraw()
        self.post_message(self.Typed(self))

    def on_descendant_focus(self, event: Focus) -> None:
        """Show the help."""
        event.stop()
        self._redraw()
        self.call_after_refresh(self.scroll_visible, animate=False)

    def on_descendant_blur(self, event: Blur) -> None:
        """Complete a word that can only mean one, and say what is wrong."""
        event.stop()
        self._lacking = ""
        if self.field.choices and self.text.strip():
            begun = [c for c in self.field.choices if c.lower().startswith(self.text.strip().lower())]
            if len(begun) == 1 and begun[0] != self.text:
                self.input.value = begun[0]
        if isinstance(self.read.value, dt.date) and self.read.meaning and not self._locked:
            self.input.value = self.read.value.isoformat()  # tomorrow is another day when a draft is opened again
        self.check()
        self.post_message(self.Left(self))

    def show_list(self) -> bool:
        """Ask for the list of what it takes; False where there is none."""
        if not self.can_choose or self._locked:
            return False
        self.post_message(self.ChoiceWanted(self))
        return True

    def on_key(self, event: Key) -> None:
        """Enter shows the list where there is one."""
        if event.key == "enter" and self.show_list():
            event.stop()
            event.prevent_default()

    def on_click(self, event: Click) -> None:
        """The sign behind the input shows the list; anywhere else in the line begins to type."""
        if self._locked:
            return
        if self.can_choose and event.y == 0 and event.widget is self and event.x > LABEL + self._room:
            self.post_message(self.ChoiceWanted(self))
        self.input.focus()

    @property
    def can_choose(self) -> bool:
        """Whether there is a list of what it takes."""
        return self.field.has_list

    # ---- drawing

    @property
    def _room(self) -> int:
        return self._room_in(self.size.width)

    def _room_in(self, width: int) -> int:
        if width >= WIDE:
            return WIDE_ROOM
        return KEY_ROOM if self.field.refers_to or self.field.refers_by else ROOM

    def on_resize(self) -> None:
        """More room for the input on a wide screen; help or an error that has come under it is brought into sight."""
        self.set_class(self.size.width >= WIDE, "-wide")
        if self.input.has_focus:
            self.call_after_refresh(self.scroll_visible, animate=False)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 (as Textual's)
        """Lines it needs: its own, and what stands under it."""
        return len(self._lines(width))

    def _redraw(self) -> None:
        """Draw it again; what stands below moves only if it needs more or fewer lines."""
        lines = len(self._lines(self.content_size.width)) if self.is_attached and self.content_size.width else 0
        self.refresh(layout=lines != self._drawn)
        self._drawn = lines

    def render(self) -> Text:
        """All of it but the input."""
        return Text("\n", end="").join(self._lines(self.content_size.width))

    def _style(self, part: str) -> Style:
        return self.get_component_rich_style(f"entry--{part}", partial=True)

    def _lines(self, width: int) -> list[Text]:
        room = self._room_in(width + 2)
        focused = self.input.has_focus
        begin = LABEL + 1 + room + 1
        side_room = max(width - begin - UNIT, 0)
        error = self.error
        beside = bool(error) and cell_len(_MARK + error) <= side_room
        labels = _wrapped(self.field.label, LABEL)
        line = Text(no_wrap=True, end="")
        line.append(labels[0].ljust(LABEL + 1), self._style("focused" if focused else "label"))
        line.append(" " * (room + 1))
        line.append(self._unit().ljust(UNIT), self._style("quiet"))
        if beside:
            line.append(_MARK + error, self._style("error"))
        elif side_room > 3:
            side, part = self._side(side_room)
            line.append(side, self._style(part))
        lines = [line]
        below: list[tuple[str, str]] = []
        if error and not beside:
            below += [(text, "error") for text in _wrapped(_MARK + error, max(width - LABEL - 2, 20))]
        if focused:
            meaning = f"= {self.read.meaning}" if self.read.meaning and not error else ""
            if meaning and not line.plain.count(meaning):  # no room for it beside
                below.append((meaning, "changed"))
            told = f"{self._help()} {self._from()}".strip()
            below += [(text, "quiet") for text in _wrapped(told, max(width - LABEL - 2, 20))]
        for number in range(max(len(below), len(labels) - 1)):
            label = labels[number + 1] if number + 1 < len(labels) else ""
            text, part = below[number] if number < len(below) else ("", "quiet")
            row = Text(no_wrap=True, end="")
            row.append(label.ljust(LABEL + 2), self._style("focused" if focused else "label"))
            row.append(text, self._style(part))
            lines.append(row)
        return lines

    def _unit(self) -> str:
        if self.can_choose:
            return "" if self._locked else "▾"
        unit = self.form.unit_of(self.field.name, self._texts())
        return unit_label(unit) if unit else ""

    def _help(self) -> str:
        told = self.form.help_of(self.field.name, self._texts())
        return f"{told} Enter shows the list." if self.can_choose else told

    def _from(self) -> str:
        """Where the value comes from, in full."""
        if self.is_changed:
            return f"Was {self.opened_text}." if self.opened_text else ""
        if not self.text or not self.origin:
            return ""
        return f"{begun(self.origin)}."

    def _side(self, room: int) -> tuple[str, str]:
        """What stands behind the unit, and how: how a value was understood, what it was, or where it comes from."""
        if self.is_changed:
            was = f"was {self.opened_text}" if self.opened_text else "new"
            means = f"= {self.read.meaning}" if self.read.meaning else was
            short = means.partition(",")[0] if isinstance(self.read.value, dt.date) else means
            ways = [", ".join(dict.fromkeys((means, was))), *([means, short] if short != means else [])]
            # half a name says less than that there was another; the whole of it stands below while one is there
            cut = _cut(ways[0] if self.read.meaning else "changed", room)
            return next((way for way in ways if cell_len(way) <= room), cut), "changed"
        if not self.text and self.hint:
            return _cut(self.hint, room), "quiet"
        if not self.text and self.field.field.required and not self.hint:
            return _cut("needed", room), "quiet"
        # stored in another unit than it was typed in
        meaning = [f"= {self.read.meaning}"] if self.read.meaning else []
        sides = [*(", ".join([*meaning, side]) for side in self.sides), *meaning]
        return next((side for side in sides if cell_len(side) <= room), _cut(sides[-1], room) if sides else ""), "quiet"


def _cut(text: str, room: int) -> str:
    return text if cell_len(text) <= room else text[: max(room - 1, 0)] + "…"


def _wrapped(text: str, width: int) -> list[str]:
    """A text in lines of at most a width; words that are longer are broken."""
    lines: list[str] = []
    words = [w[i : i + width] for w in re.split(r"\s+", text.strip()) for i in range(0, max(len(w), 1), width)]
    for word in words:
        if lines and cell_len(lines[-1]) + 1 + cell_len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines or [""]
