"""Rows of small entries for numbers, walked through by enter and the arrows; what is wrong stands under the row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, HorizontalScroll, Vertical
from textual.events import DescendantFocus, Key
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from specdb.tui.bench.setup import Slot

_NUMBERS = set("0123456789.,-/ ")
_ALSO = {"ei": set("mM")}  # a three-point reading may be typed in mm


class ReadingInput(Input):
    """An entry for one number; letters are left to the keys of the screen."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "along(1)", show=False),
        Binding("up", "across(-1)", show=False),
        Binding("down", "across(1)", show=False),
    ]
    DEFAULT_CSS = """
    ReadingInput, ReadingInput.-textual-compact {
        border: none; height: 1; width: 1fr; padding: 0; background: $panel; color: $foreground;
    }
    ReadingInput:focus { border: none; background: $picked; text-style: bold; }
    ReadingInput.wrong { color: $error; text-style: bold; }
    ReadingInput.off { color: $warning; text-style: bold; }
    """

    class Walk(Message):
        """Another entry is wanted."""

        def __init__(self, slot: Slot, along: int, across: int) -> None:
            super().__init__()
            self.slot, self.along, self.across = slot, along, across

    def __init__(self, slot: Slot, text: str) -> None:
        super().__init__(text, id=f"entry-{slot.id}", compact=True, select_on_focus=False)
        self.slot = slot
        self._taken = _NUMBERS | _ALSO.get(slot.quantity, set())

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Whether a key is typed here rather than left to the screen."""
        return character is not None and character in self._taken and super().check_consume_key(key, character)

    async def _on_key(self, event: Key) -> None:
        if event.is_printable and event.character not in self._taken:
            event.prevent_default()  # not typed here: it bubbles to the keys of the screen
            return
        ends = {"left": self.cursor_position == 0, "right": self.cursor_position >= len(self.value)}
        if ends.get(event.key):
            event.stop()
            event.prevent_default()
            self.action_along(1 if event.key == "right" else -1)

    def action_along(self, step: int) -> None:
        """Go to the next entry, or the one before."""
        self.post_message(self.Walk(self.slot, step, 0))

    def action_across(self, step: int) -> None:
        """Go to the row below or above."""
        self.post_message(self.Walk(self.slot, 0, step))


class ReadingRow(Widget):
    """Entries of one kind side by side, each under its place.

    Parameters
    ----------
    above, beside : str
        What stands before the places and before the entries.
    slots : sequence of Slot
        The entries.
    texts : mapping of str to str
        What stands in them.
    """

    DEFAULT_CSS = """
    ReadingRow { height: auto; padding: 0 1; }
    ReadingRow > Horizontal { height: 2; }
    ReadingRow .row-name { width: 15; color: $foreground; }
    ReadingRow HorizontalScroll { height: 2; width: 1fr; scrollbar-size-horizontal: 0; }
    ReadingRow .cell { width: 6; height: 2; padding-right: 1; }
    ReadingRow.roomy .cell { width: 13; }
    ReadingRow .place { height: 1; color: $quiet; }
    ReadingRow .wrong-text { height: auto; display: none; color: $error; text-style: bold; }
    ReadingRow .wrong-text.said { display: block; }
    """

    def __init__(
        self, above: str, beside: str, slots: Sequence[Slot], texts: dict[str, str], *, roomy: bool = False
    ) -> None:
        super().__init__(classes="roomy" if roomy else None)
        self._names = f"{above}\n{beside}"
        self.slots = tuple(slots)
        self.entries = {slot.id: ReadingInput(slot, texts.get(slot.id, "")) for slot in self.slots}
        self._places = {slot.id: Static(slot.label, classes="place", markup=False) for slot in self.slots}
        self._marked: set[str] = set()
        self._said = ""
        self._wrong = Static("", classes="wrong-text", markup=False)

    def compose(self) -> ComposeResult:
        """The entries."""
        with Horizontal():
            yield Static(self._names, classes="row-name", markup=False)
            with HorizontalScroll(can_focus=False):
                for slot in self.slots:
                    with Vertical(classes="cell"):
                        yield self._places[slot.id]
                        yield self.entries[slot.id]
        yield self._wrong

    def say(self, wrong: Sequence[tuple[Slot, str]], off: Sequence[str]) -> None:
        """Say what is wrong, and mark what is off.

        Parameters
        ----------
        wrong : sequence of (Slot, str)
            Entries of this row that cannot be taken, with the reason.
        off : sequence of str
            Slots that are outliers.
        """
        names = {slot.id for slot, _ in wrong}
        for slot in self.slots:
            entry = self.entries[slot.id]
            entry.set_class(slot.id in names, "wrong")
            entry.set_class(slot.id in off and slot.id not in names, "off")
            marked = slot.id in names or slot.id in off  # said by a sign as well as by colour
            if marked != (slot.id in self._marked):
                self._places[slot.id].update(f"{slot.label}{' !' if marked else ''}", layout=False)
        self._marked = names | set(off)
        focused = next((p for p in wrong if self.entries[p[0].id].has_focus), None)
        said = focused or (wrong[0] if wrong else None)
        text = "" if said is None else f"! {said[0].name}: {said[1]}"
        if text != self._said:
            self._said = text
            self._wrong.set_class(bool(text), "said")
            self._wrong.update(text)

    @on(DescendantFocus)
    def _seen(self, event: DescendantFocus) -> None:
        event.widget.scroll_visible(animate=False)
