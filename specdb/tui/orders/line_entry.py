"""One line of an order as it is typed: a club or a set, how many times, and what that is or what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Click
from textual.message import Message
from textual.widgets import Input, Label, Static

from specdb.schema import load_schema
from specdb.tui.catalogue.search import nearest_first
from specdb.tui.dialogs.chooser import ChoosingDialog
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.entry import EntryInput
from specdb.verbs.catalogue.forms import form_of, read_value
from specdb.verbs.orders.entry import LineRead

if TYPE_CHECKING:
    import pyarrow as pa

_MOST = 80
_NARROW = 100


class LineEntry(Horizontal):
    """A line of an order.

    Parameters
    ----------
    line : int or None
        Its number in the order; None for a new one.
    what, quantity : str
        What stands in it at first.
    """

    DEFAULT_CSS = """
    LineEntry { height: auto; padding: 0 1; }
    LineEntry .line--number { width: 4; color: $quiet; }
    LineEntry .line--sign { width: 3; padding: 0 1; color: $quiet; }
    LineEntry .line--what { width: 30; }
    LineEntry .line--quantity { width: 6; }
    LineEntry .line--said { width: 1fr; height: auto; padding: 0 0 0 2; color: $quiet; }
    LineEntry .line--row { width: 48; height: 1; }
    LineEntry.-narrow { layout: vertical; }
    LineEntry.-narrow .line--said { width: 1fr; padding: 0 0 0 5; }
    LineEntry.-narrow.-silent .line--said { display: none; }
    LineEntry.-wrong .line--said { color: $error; text-style: bold; }
    """

    class Typed(Message):
        """Something was typed in a line."""

        def __init__(self, entry: LineEntry) -> None:
            super().__init__()
            self.entry = entry

    class ListWanted(Message):
        """The list of clubs and sets is wanted."""

        def __init__(self, entry: LineEntry) -> None:
            super().__init__()
            self.entry = entry

    def __init__(self, line: int | None = None, what: str = "", quantity: str = "1") -> None:
        super().__init__()
        self.line = line
        self.read = LineRead(None)
        self.read_of = ""  # the text that it was read of
        self._refused = ""
        self._twice = ""
        self.what = EntryInput(what, compact=True, max_length=_MOST, classes="line--what", placeholder="club or set")
        self._beside = Static("", classes="line--said", markup=False)
        self.quantity = EntryInput(quantity, compact=True, max_length=4, classes="line--quantity")

    def compose(self) -> ComposeResult:
        """The inputs and what is said of them."""
        with Horizontal(classes="line--row"):
            yield Label("new" if self.line is None else str(self.line), classes="line--number")
            yield self.what
            yield Label("▾", classes="line--sign", id="sign")
            yield Label("×", classes="line--sign")
            yield self.quantity
        yield self._beside

    def on_mount(self) -> None:
        """Say what there is to say."""
        self._say()

    def on_resize(self) -> None:
        """On a narrow screen what is said stands under the line."""
        self.set_class(self.size.width < _NARROW, "-narrow")

    @property
    def text(self) -> str:
        """Name of the club or set, as typed."""
        return self.what.value.strip()

    @property
    def is_empty(self) -> bool:
        """Whether it asks for nothing."""
        return not self.text

    @property
    def count(self) -> int | None:
        """How many times; None where that cannot be read."""
        found = read_value(form_of("order_line"), "quantity", self.quantity.value)
        return int(found.value) if isinstance(found.value, int) and not found.error else None

    @property
    def error(self) -> str:
        """What is wrong with it, as a sentence; empty if nothing is known to be."""
        if self.is_empty:
            return self._refused
        if self.count is None:
            said = read_value(form_of("order_line"), "quantity", self.quantity.value).error
            return said or "Say how many times: a whole number from 1."
        return self._refused or self._twice or (self.read.error if self.read_of == self.text else "")

    def know(self, text: str, read: LineRead) -> None:
        """Take what a typed name means.

        Parameters
        ----------
        text : str
            The name.
        read : LineRead
            What it means.
        """
        self.read_of, self.read = text, read
        self._say()

    def refuse(self, why: str) -> None:
        """Say why the line cannot be, until something is typed in it.

        Parameters
        ----------
        why : str
            A sentence.
        """
        self._refused = why
        self._say()

    def twice(self, why: str) -> None:
        """Say that another line asks for the same; an empty text takes it back.

        Parameters
        ----------
        why : str
            A sentence.
        """
        if why != self._twice:
            self._twice = why
            self._say()

    def _say(self) -> None:
        if not self.is_attached:
            return
        error = self.error
        said = f"! {error}" if error else ("" if self.is_empty else self.read.said if self.read_of == self.text else "")
        self.set_class(bool(error), "-wrong")
        self.set_class(not said, "-silent")
        self._beside.update(Content(said))

    def put(self, text: str) -> None:
        """Put a name in, as if it had been typed.

        Parameters
        ----------
        text : str
            The name.
        """
        self.what.value = text
        self.what.cursor_position = len(text)

    @on(Input.Changed)
    def _on_typed(self, event: Input.Changed) -> None:
        event.stop()
        self._refused = ""
        self._say()
        self.post_message(self.Typed(self))

    def on_click(self, event: Click) -> None:
        """The sign behind the name shows the list."""
        if event.widget is not None and event.widget.id == "sign":
            event.stop()
            self.post_message(self.ListWanted(self))


@dataclass(frozen=True, slots=True)
class _Offer:
    key: str
    kind: str
    label: str
    of: str
    shaft: str


class ClubOrSetPicker(ChoosingDialog):
    """Choose a fitted club or a set by typing a part of its name, label, player or shaft; closes with its name."""

    place = "chooser"
    DEFAULT_CSS = """
    ClubOrSetPicker > .dialog { width: 110; height: 90%; }
    """
    _COLUMNS: ClassVar = (
        ColumnSpec("key", "name"),
        ColumnSpec("kind", "what"),
        ColumnSpec("label", "label"),
        ColumnSpec("of", "player"),
        ColumnSpec("shaft", "shaft"),
    )

    def __init__(self) -> None:
        super().__init__("Which club or set?", "part of name, label, player or shaft")
        self.begin = ""
        self._picked_early = False
        self._offers: list[_Offer] | None = None

    def on_mount(self) -> None:
        """Get the clubs."""
        if self.begin:
            self.query_one(Input).value = self.begin
        self.work(self._read, self._loaded, group="load", what="list the clubs")

    def _read(self) -> list[_Offer]:
        return offers(self.desk.table("club"))

    def _loaded(self, found: list[_Offer]) -> None:
        self._offers = found
        self.search(self.query_one(Input).value)
        if self._picked_early:
            self.action_pick()

    def action_pick(self) -> None:
        """Close with the row of the cursor; as soon as there is one, where the keys were faster than the list."""
        self._picked_early = self._offers is None
        super().action_pick()

    def search(self, words: str) -> None:
        """Show the clubs and sets that have the words typed.

        Parameters
        ----------
        words : str
            As typed.
        """
        import pyarrow as pa

        if self._offers is None:
            return
        wanted = words.lower().split()
        having = [o for o in self._offers if all(w in f"{o.key} {o.label} {o.of} {o.shaft}".lower() for w in wanted)]
        shown = nearest_first(words, having, lambda o: o.key)
        names = [c.name for c in self._COLUMNS]
        rows = pa.table({n: pa.array([getattr(o, n) for o in shown], pa.string()) for n in names})
        self.table.set_empty("No fitted club and no set has that in its name.")
        self.table.set_table(rows, self._COLUMNS, keep=False)


def offers(clubs: pa.Table) -> list[_Offer]:
    """Sets, then clubs, that can be ordered.

    Parameters
    ----------
    clubs : pyarrow.Table
        All fitted clubs.
    """
    from specdb.orders.needs import RETIRED

    names = [n for n in ("id", "set_id", "label", "player", "shaft_id", "status") if n in _club_fields()]
    rows = [r for r in clubs.select(names).to_pylist() if r.get("status") != RETIRED]
    sets: dict[str, list[dict[str, str | None]]] = {}
    for row in rows:
        if row["set_id"]:
            sets.setdefault(row["set_id"], []).append(row)
    found = [
        _Offer(
            key,
            f"set of {len(some)}",
            ", ".join(r["label"] or r["id"] or "" for r in some),
            some[0]["player"] or "",
            "",
        )
        for key, some in sorted(sets.items())
    ]
    return found + [
        _Offer(r["id"] or "", "club", r["label"] or "", r["player"] or "", r["shaft_id"] or "") for r in rows
    ]


def _club_fields() -> frozenset[str]:
    return frozenset(load_schema().table("club").field_names)
