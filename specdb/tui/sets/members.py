"""Which clubs belong to a set: all fitted clubs, those of the set marked; typing searches, enter takes in or out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input

from specdb.tui.actions import Action
from specdb.tui.catalogue.search import nearest_first
from specdb.tui.dialogs.chooser import SIDEWAYS, ChoosingDialog
from specdb.tui.frame import KeyLine
from specdb.tui.sets.words import missing_words
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.numbers import plural
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.prose import sentence
from specdb.verbs.sets.lists import missing_numbers

if TYPE_CHECKING:
    from specdb.catalogue import Catalogue
    from specdb.records.rows import Club, Head

_WIDTH = 92
_IN, _OUT = "[x]", "[ ]"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A fitted club that may belong to a set.

    Attributes
    ----------
    key, player, number, set_id : str
        Its key, whose it is, the number of its head and the set it belongs to; empty where there is none.
    length_in : float
        Playing length.
    """

    key: str
    player: str
    number: str
    set_id: str
    length_in: float


def candidates_of(catalogue: Catalogue) -> list[Candidate]:
    """Every fitted club that is not retired; for jobs.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    """
    with catalogue.read() as reader:
        clubs: list[Club] = reader.rows("club", include_retired=False)
        heads: dict[str, Head] = {h.id: h for h in reader.rows("head")}
    return [
        Candidate(
            c.id,
            c.player or "",
            (heads[c.head_id].number or "") if c.head_id in heads else "",
            c.set_id or "",
            c.playing_length_in,
        )
        for c in clubs
    ]


class SetMembersDialog(ChoosingDialog):
    """Take clubs in and out of a set; closes with their keys joined by line breaks, or with None.

    Parameters
    ----------
    set_id : str
        The set; need not be there.
    """

    place = "clubs of a set"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("pick", "enter", "in or out", "Take the club of the cursor into the set, or out of it.", priority=True),
        Action("keep", "ctrl+s", "keep", "Keep the set as it is marked here.", priority=True),
        Action("give_up", "escape", "back", "Close; the set stays as it was.", priority=True),
        *SIDEWAYS,
    )
    DEFAULT_CSS = f"""
    SetMembersDialog > .dialog {{ width: {_WIDTH + 4}; height: 90%; }}
    SetMembersDialog #members-said {{ height: 2; }}
    """

    def __init__(self, set_id: str) -> None:
        super().__init__(f"Clubs of set {set_id}", "type a part of a key or a player to find clubs")
        self._set_id = set_id
        self._all: list[Candidate] = []
        self._marked: set[str] = set()

    def compose(self) -> ComposeResult:
        """A line to type in, the list, what the set would be."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._title
            yield Input(placeholder=self._hint, compact=True)
            table = PagedTable(empty="Loading …", followed=True)
            table.can_focus = False
            yield table
            yield LinesView(id="members-said")
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Get the clubs."""
        catalogue = self.desk.catalogue
        self.work(lambda: candidates_of(catalogue), self._loaded, group="load", what="list the fitted clubs")

    def _loaded(self, found: list[Candidate]) -> None:
        self._marked = {c.key for c in found if c.set_id == self._set_id}
        players = {c.player for c in found if c.key in self._marked and c.player}
        # those of the set first, then the player's other clubs
        self._all = sorted(found, key=lambda c: (c.key not in self._marked, c.player not in players, c.player,
                                                 -c.length_in, c.key))  # fmt: skip
        self.search(self.query_one(Input).value)

    @property
    def marked(self) -> list[Candidate]:
        """The clubs that are marked, the longest first."""
        return sorted((c for c in self._all if c.key in self._marked), key=lambda c: (-c.length_in, c.key))

    def search(self, words: str) -> None:
        """Show the clubs that have the words typed.

        Parameters
        ----------
        words : str
            As typed.
        """
        import pyarrow as pa

        wanted = words.lower().split()
        having = [c for c in self._all if all(w in f"{c.key} {c.player} {c.set_id}".lower() for w in wanted)]
        shown = nearest_first(words, having, lambda c: c.key)
        columns = {
            "id": [c.key for c in shown],
            "mark": [_IN if c.key in self._marked else _OUT for c in shown],
            "number": [c.number for c in shown],
            "length": [f"{c.length_in:.2f}" for c in shown],
            "player": [c.player for c in shown],
            "set": [c.set_id for c in shown],
        }
        table = pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()})
        specs = [
            ColumnSpec("mark", "in"),
            ColumnSpec("id", "club"),
            ColumnSpec("number", "number"),
            ColumnSpec("length", "length", "in", right=True),
            ColumnSpec("player", "player"),
            ColumnSpec("set", "set it is in"),
        ]
        self.table.set_empty("No fitted club has that in its key, player or set.")
        self.table.set_table(table, specs)
        self._say()

    def _say(self) -> None:
        marked = self.marked
        numbers = [c.number for c in marked]
        row = " ".join(n or "?" for n in numbers)
        missing = missing_words(numbers, missing_numbers(numbers), gaps=False)
        said = f"{plural(len(marked), 'club')}{f': {row}' if row else ''}. {missing}"
        others = sorted({c.set_id for c in marked if c.set_id and c.set_id != self._set_id})
        if others:
            said += f" Clubs are taken out of set {', '.join(others)}."
        if len(marked) == 1:
            said += " A set takes at least two to be worked out."
        self.query_one("#members-said", LinesView).show(sentence(said.strip(), _WIDTH)[:2])

    @on(PagedTable.RowPicked)
    def _clicked(self, message: PagedTable.RowPicked) -> None:
        message.stop()
        self._toggle(message.key)

    def action_pick(self) -> None:
        """Take the club of the cursor in or out."""
        key = self.table.cursor_key
        if key is not None:
            self._toggle(key)

    def _toggle(self, key: str) -> None:
        self._marked ^= {key}
        line = self.query_one(Input)
        line.select_all()  # the next letter begins the search for another club; the list stays until then
        self.search(line.value)

    def action_keep(self) -> None:
        """Close with the clubs that are marked."""
        self.dismiss("\n".join(c.key for c in self.marked))


def keys_of(closed: str) -> Sequence[str]:
    """The clubs that a :class:`SetMembersDialog` closed with.

    Parameters
    ----------
    closed : str
        What it closed with.
    """
    return [key for key in closed.split("\n") if key]
