"""What happened to a row, or in the catalogue at all: before and after, and any change taken back from here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.dialogs.take_back import ask_to_take_back, differences
from specdb.tui.widgets.columns import ColumnSpec, plain
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.words import moment
from specdb.units.writing import begun
from specdb.verbs.catalogue.change_words import change_words, counted_rows, why_words

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.catalogue.journal import ChangeSummary
    from specdb.verbs.catalogue.journal import JournalLine

_MOST_CHANGES = 20_000
_MOST_ROWS = 200

_COLUMNS = (
    ColumnSpec("change", "Change", right=True),
    ColumnSpec("when", "When"),
    ColumnSpec("what", "What"),
    ColumnSpec("by", "By"),
    ColumnSpec("undone", "Undone"),
    ColumnSpec("why", "Why"),
)


class HistoryScreen(PlaceScreen):
    """The changes of a row, or all changes.

    Parameters
    ----------
    kind, key : str or None
        The row; all changes of the catalogue where None.
    """

    place = "history"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("undo_this", "u", "undo this one", "Undo the change of the cursor, after asking."),
        Action("open_row", "o", "open the row", "Open the row that the change touched, if it was only one."),
        Action("back", "escape", "back", "Go back."),
    )
    DEFAULT_CSS = """
    HistoryScreen .history--title { height: 1; padding: 0 1; text-style: bold; }
    HistoryScreen PagedTable { height: 1fr; }
    HistoryScreen VerticalScroll { height: 45%; padding: 0 1; background: $surface; border-top: solid $panel;
        scrollbar-size-vertical: 1; }
    HistoryScreen VerticalScroll Static { height: auto; }
    """

    def __init__(self, kind: str | None = None, key: str | None = None) -> None:
        super().__init__()
        self._kind = kind
        self._key = key
        self._changes: dict[int, ChangeSummary] = {}
        self._lines: dict[int, list[JournalLine]] = {}

    def compose(self) -> ComposeResult:
        """The changes, and what the one of the cursor did."""
        whole = "All changes of the catalogue, the latest first"
        title = whole if self._kind is None else f"History of {self._kind.replace('_', ' ')} {self._key}"
        yield Static(title, classes="history--title", markup=False)
        yield PagedTable(key=("change",), empty="Loading …")
        with VerticalScroll(can_focus=True):
            yield Static("", id="what")

    def on_mount(self) -> None:
        """Get the changes."""
        self.query_one(PagedTable).focus()
        self._load()

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Get the changes again."""
        self._load()

    def _load(self) -> None:
        self.work(self._look, self._show, group="load", what="read the journal")

    def _look(self) -> tuple[list[ChangeSummary], dict[int, list[JournalLine]]]:
        from specdb.verbs.catalogue.journal import changes, history

        summaries = {c.change_no: c for c in changes(self.desk.catalogue, limit=_MOST_CHANGES)}
        if self._kind is None:
            return list(summaries.values()), {}
        lines: dict[int, list[JournalLine]] = {}
        for line in history(self.desk.catalogue, self._kind, self._key):
            lines.setdefault(line.change_no, []).append(line)
        return [summaries[n] for n in lines if n in summaries], lines

    def _show(self, found: tuple[list[ChangeSummary], dict[int, list[JournalLine]]]) -> None:
        changes, self._lines = found
        self._changes = {c.change_no: c for c in changes}
        named = next((line.title for lines in self._lines.values() for line in lines), None)
        if self._kind is not None and named is not None:
            self.query_one(".history--title", Static).update(f"History of {plain(named)}")
        table = self.query_one(PagedTable)
        table.set_empty("Nothing has been changed yet.")
        table.set_table(_as_table(changes, self._lines), _COLUMNS)
        self._tell_of(table.cursor_key)

    @on(PagedTable.RowHighlighted)
    def _moved(self, message: PagedTable.RowHighlighted) -> None:
        self._tell_of(message.key)

    @on(PagedTable.RowPicked)
    def _picked(self) -> None:
        self.query_one(VerticalScroll).focus()

    def _tell_of(self, key: str | None) -> None:
        number = None if key is None else int(key)
        if number is None or number not in self._changes:
            self.query_one("#what", Static).update("")
            return
        if number in self._lines:
            self._write(number)
            return
        catalogue = self.desk.catalogue

        def look() -> list[JournalLine]:
            from specdb.verbs.catalogue.journal import history

            return history(catalogue, change=number, limit=_MOST_ROWS)

        def show(lines: list[JournalLine]) -> None:
            self._lines[number] = lines
            self._write(number)

        self.work(look, show, group="rows", what="read a change")

    def _write(self, number: int) -> None:
        change, lines = self._changes[number], self._lines[number]
        said, why = plain(change_words(change)), plain(why_words(change))
        parts: list[tuple[str, str]] = [(f"{begun(said)}.\n", ""), *([(f"{why}\n", "")] if why else [])]
        if change.undone_by is not None:
            parts.append((f"Taken back by change {change.undone_by}.\n", "bold"))
        more = sum(change.rows.values()) - len(lines)
        if more > 0:
            count = f"{more:,} more row{'s' if more > 1 else ''}".replace(",", " ")
            parts.append((f"The change touched {count} than are shown here.\n", "$text-muted"))
        for line in lines:
            parts.append((f"{plain(line.title)} {line.action}\n", "bold"))
            parts += differences(line)
        what = self.query_one("#what", Static)
        what.update(Content.assemble(*parts).rstrip())
        self.query_one(VerticalScroll).scroll_home(animate=False)

    @property
    def _here(self) -> int | None:
        key = self.query_one(PagedTable).cursor_key
        return None if key is None else int(key)

    def action_undo_this(self) -> None:
        """Undo the change of the cursor, after asking."""
        number = self._here
        if number is None:
            return
        change = self._changes[number]
        if change.undone_by is not None:
            self.notify(f"Change {number} was taken back already, by change {change.undone_by}.")
            return
        ask_to_take_back(self, number)

    def action_open_row(self) -> None:
        """Open the row that the change touched."""
        lines = self._lines.get(self._here or -1, [])
        if self._kind is not None:
            self.action_back()
        elif len(lines) == 1 and lines[0].action != "removed":
            from specdb.tui.forms.screen import form_screen

            self.app.push_screen(form_screen(lines[0].kind, lines[0].key))
        else:
            self.notify("The change touched several rows, or one that is no longer there.")


def _as_table(changes: Sequence[ChangeSummary], lines: dict[int, list[JournalLine]]) -> pa.Table:
    import pyarrow as pa

    return pa.table(
        {
            "change": pa.array([c.change_no for c in changes], pa.int64()),
            "when": pa.array([moment(c.at) for c in changes], pa.string()),
            "what": pa.array([_what(c, lines.get(c.change_no, [])) for c in changes], pa.string()),
            "by": pa.array([c.by for c in changes], pa.string()),
            "undone": pa.array(
                [f"by {c.undone_by}" if c.undone_by is not None else None for c in changes], pa.string()
            ),
            "why": pa.array([c.why for c in changes], pa.string()),
        }
    )


def _what(change: ChangeSummary, lines: list[JournalLine]) -> str:
    """What a change did; of one row, what it did to that."""
    if change.undoes is not None:
        return f"undo of {change.undoes}"
    if lines:
        names = [n.replace("_", " ") for line in lines for n in line.differences]
        action = lines[0].action
        return action if action != "changed" or len(names) > 2 else f"changed {', '.join(names)}"
    done = change.done or "change"
    if sum(change.rows.values()) == 1:
        return done
    return f"{done}: {', '.join(counted_rows(change))}"
