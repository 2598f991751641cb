"""Booking a move of stock: received, used, counted, returned, damaged; two keys where one piece moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Click, Key
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from specdb.errors import SpecdbError
from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.columns import plain
from specdb.tui.widgets.entry import EntryInput
from specdb.tui.widgets.words import day, remember_who, shelf_words, who
from specdb.units import parse_integer
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.records.rows import StockMove
    from specdb.verbs.catalogue.holdings import ShelfLine

MOVES = {"receive": "received", "use": "used", "count": "counted", "return": "returned", "damage": "damaged"}
_LEAVE = ("use", "damage")


@dataclass(frozen=True, slots=True)
class _Held:
    shelf: ShelfLine
    latest: list[StockMove]


class MoveLine(Widget, can_focus=True):
    """The moves to choose from, the chosen one in brackets."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"move--chosen", "move--other"}
    DEFAULT_CSS = """
    MoveLine { height: 1; width: 1fr; }
    MoveLine > .move--chosen { color: $accent; text-style: bold; }
    MoveLine > .move--other { color: $quiet; }
    MoveLine:focus > .move--chosen { color: $foreground; background: $picked; text-style: bold; }
    """

    class Chosen(Message):
        """Another move was chosen."""

    def __init__(self, move: str) -> None:
        super().__init__()
        self.move = move
        self._spans: list[tuple[int, int, str]] = []

    def render(self) -> Text:
        """The line."""
        chosen, other = (self.get_component_rich_style(f"move--{p}", partial=True) for p in ("chosen", "other"))
        line = Text(no_wrap=True, end="")
        self._spans = []
        for move, word in MOVES.items():
            start = line.cell_len
            line.append(f"[{word}]" if move == self.move else f" {word} ", chosen if move == self.move else other)
            self._spans.append((start, line.cell_len, move))
        return line

    def choose(self, move: str) -> None:
        """Choose a move.

        Parameters
        ----------
        move : str
            The move.
        """
        self.move = move
        self.refresh()
        self.post_message(self.Chosen())

    def on_key(self, event: Key) -> None:
        """Arrows go from one to the next, a letter to the one that begins with it."""
        moves = list(MOVES)
        if event.key in ("left", "right"):
            step = 1 if event.key == "right" else -1
            self.choose(moves[(moves.index(self.move) + step) % len(moves)])
            event.stop()
            return
        begin = [m for m in moves if event.character and MOVES[m].startswith(event.character.lower())]
        if begin:
            self.choose(begin[(begin.index(self.move) + 1) % len(begin)] if self.move in begin else begin[0])
            event.stop()

    def on_click(self, event: Click) -> None:
        """Choose the move that was clicked."""
        for start, end, move in self._spans:
            if start <= event.x < end:
                self.choose(move)


class StockDialog(Dialog[None]):
    """Book a move of a part.

    Parameters
    ----------
    kind, key : str
        The part.
    move : str
        ``receive``, ``use``, ``count``, ``return`` or ``damage``.
    """

    place = "stock"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("book", "enter,ctrl+s", "book it", "Book the move.", priority=True),
        Action("give_up", "escape", "back", "Close without booking.", priority=True),
        Action("step(1)", "down,tab", "next line", "Go to the next line.", shown=False, priority=True),
        Action("step(-1)", "up,shift+tab", "line before", "Go to the line before.", shown=False, priority=True),
    )
    DEFAULT_CSS = """
    StockDialog > .dialog { width: 72; }
    StockDialog Horizontal { height: 1; }
    StockDialog .label { width: 12; color: $foreground; }
    StockDialog EntryInput { width: 1fr; }
    StockDialog #pieces { width: 12; }
    StockDialog #then { width: 1fr; padding: 0 1; color: $foreground; }
    StockDialog #wrong { height: auto; color: $error; text-style: bold; display: none; margin-left: 12; }
    StockDialog #shelf { height: auto; margin-bottom: 1; }
    StockDialog #latest { height: auto; margin: 1 0; color: $quiet; }
    """

    def __init__(self, kind: str, key: str, move: str) -> None:
        super().__init__()
        self._kind = kind
        self._key = key
        self._first = move
        self._held: _Held | None = None
        self._booking = False

    def compose(self) -> ComposeResult:
        """What moves, how many, where."""
        with Vertical(classes="dialog") as box:
            box.border_title = f"Stock of {self._kind} {self._key}"
            yield Static(" ", id="shelf", markup=False)
            with Horizontal():
                yield Static("What", classes="label")
                yield MoveLine(self._first)
            with Horizontal():
                yield Static("Pieces", classes="label")
                yield EntryInput("1", id="pieces", compact=True)
                yield Static("", id="then", markup=False)
            yield Static("", id="wrong", markup=False)
            with Horizontal():
                yield Static("Location", classes="label")
                yield EntryInput(id="location", compact=True, max_length=120)
            with Horizontal():
                yield Static("Order", classes="label")
                yield EntryInput(id="order_ref", compact=True, max_length=120)
            with Horizontal():
                yield Static("By", classes="label")
                yield EntryInput(who(self.memory), id="by", compact=True, max_length=120)
            yield Static("", id="latest", markup=False)
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Get what is on hand."""
        self._input("pieces").focus()
        self._load()

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Get what is on hand again."""
        self._load()

    def _load(self) -> None:
        def look() -> _Held:
            from specdb.verbs.catalogue.holdings import latest_moves, shelf

            catalogue = self.desk.catalogue
            return _Held(shelf(catalogue, self._kind, self._key)[0], latest_moves(catalogue, self._kind, self._key))

        self.work(look, self._loaded, group="load", what="look at the shelf")

    def _loaded(self, held: _Held) -> None:
        first = self._held is None
        self._held = held
        self.query_one("#shelf", Static).update(shelf_words(held.shelf)[0])
        place = self._input("location")
        if first and not place.value and held.latest:
            place.value = held.latest[0].location or ""
        if first and self._move == "count" and self._input("pieces").value == "1":
            self._propose()
        self.query_one("#latest", Static).update(self._latest(held.latest))
        self._show()

    def _latest(self, moves: Sequence[StockMove]) -> Content:
        lines = []
        for move in moves:
            when = day(move.on) if move.on else "some day"
            parts = [f"{move.quantity:+d}", move.reason, when, move.by or "", move.location or "", move.order_ref or ""]
            lines.append("  ".join(plain(p) for p in parts if p))
        return Content("\n".join(["Latest moves:" if lines else "Nothing has moved yet.", *lines]))

    def _input(self, name: str) -> EntryInput:
        return self.query_one(f"#{name}", EntryInput)

    @property
    def _move(self) -> str:
        return self.query_one(MoveLine).move

    def _propose(self) -> None:
        """The number to begin with: what is on hand for a count, one piece else."""
        pieces = self._input("pieces")
        on_hand = 0 if self._held is None else self._held.shelf.on_hand
        pieces.value = str(on_hand) if self._move == "count" else "1"
        pieces.select_all()

    @on(MoveLine.Chosen)
    def _chosen(self) -> None:
        self._propose()
        self._show()

    @on(Input.Changed)
    def _typed(self) -> None:
        self._show()

    def _read(self) -> int | str:
        """The number typed, or what is wrong with it."""
        text, word = self._input("pieces").value.strip(), MOVES[self._move]
        if not text:
            return f"How many were {word}?"
        try:
            pieces = parse_integer(text)
        except SpecdbError as error:
            return f"{begun(str(error))}."
        if pieces < 0 or (pieces == 0 and self._move != "count"):
            return "A whole number above zero is wanted: what leaves is booked as used or damaged."
        on_hand = 0 if self._held is None else self._held.shelf.on_hand
        if self._held is not None and self._move in _LEAVE and pieces > on_hand:
            return f"There are {on_hand} on hand, so {pieces} cannot leave; count them first."
        return pieces

    def _show(self) -> None:
        read = self._read()
        wrong, then = self.query_one("#wrong", Static), self.query_one("#then", Static)
        wrong.display = isinstance(read, str)
        if isinstance(read, str):
            wrong.update(f"! {read}")
            then.update("")
        elif self._held is not None:
            before = self._held.shelf.on_hand
            after = read if self._move == "count" else before + (-read if self._move in _LEAVE else read)
            then.update(f"{before} on hand, then {after}")

    def action_step(self, step: int) -> None:
        """Go to the next line, or the one before."""
        if step > 0:
            self.focus_next()
        else:
            self.focus_previous()

    def action_book(self) -> None:
        """Book the move."""
        read = self._read()
        if isinstance(read, str) or self._booking:
            self._input("pieces").focus()
            self.app.bell()
            return
        self._booking = True
        catalogue, move, pieces = self.desk.catalogue, self._move, read
        place, order, by = (self._input(n).value.strip() or None for n in ("location", "order_ref", "by"))
        remember_who(self.memory, by or "")

        def book() -> tuple[int, int]:
            from specdb.verbs.catalogue.changing import move_stock

            return move_stock(catalogue, move, self._kind, self._key, pieces, location=place, order_ref=order, by=by)

        self.work(book, self._booked, group="book", what="book a move of stock", failed=self._failed, changes=True)

    def _failed(self, error: SpecdbError) -> None:
        self._booking = False
        wrong = self.query_one("#wrong", Static)
        text = str(error).partition("; count them first")[0]
        wrong.update(f"! {begun(text)}.")
        wrong.display = True

    def _booked(self, counts: tuple[int, int]) -> None:
        before, after = counts
        self.notify(
            f"{self._key}: {before} → {after} on hand. ^z takes it back.",
            title=MOVES[self._move].capitalize(),
            markup=False,
        )
        self.dismiss(None)

    def action_give_up(self) -> None:
        """Close without booking."""
        self.dismiss(None)
