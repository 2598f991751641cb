"""Taking a change back, after saying what it was and what would go back."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from specdb.schema import load_schema
from specdb.tui.base import Working
from specdb.tui.catalogue.kinds import counted
from specdb.tui.dialogs.undo import AskDialog
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.columns import plain
from specdb.tui.widgets.words import listed, moment, value_words
from specdb.verbs.catalogue.forms import Form, form_of

if TYPE_CHECKING:
    from specdb.catalogue.journal import ChangeSummary
    from specdb.verbs.catalogue.journal import JournalLine, ToUndo

_BACK = {"added": "is taken away", "removed": "comes back", "changed": "goes back"}
_MOST_FIELDS = 12


class TakeBackDialog(AskDialog):
    """Whether to take a change back; closes with the answer.

    Parameters
    ----------
    found : ToUndo
        The change.
    """

    DEFAULT_CSS = """
    TakeBackDialog VerticalScroll { height: auto; max-height: 1fr; margin: 1 0; background: $surface;
        scrollbar-size-vertical: 1; }
    TakeBackDialog Static { height: auto; }
    """

    def __init__(self, found: ToUndo) -> None:
        super().__init__("Undo", f"Undo {change_words(found.change)}?{why_words(found.change)}")
        self._found = found

    def compose(self) -> ComposeResult:
        """What it was, and what would go back."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._title
            yield Static(self._text, markup=False)
            with VerticalScroll():
                yield Static(what_goes_back(self._found))
            yield Static("The undo is a change of its own and can be undone too.", markup=False)
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Let the keys scroll."""
        self.query_one(VerticalScroll).focus()


def change_words(change: ChangeSummary) -> str:
    """A change as a whole, in words: number, what it did, when, who, why.

    Parameters
    ----------
    change : ChangeSummary
        The change.
    """
    rows = listed(counted_rows(change))
    by = f" by {plain(change.by)}" if change.by else ""
    done = plain(change.done or "change")
    return f"change {change.change_no}, '{done}' ({rows}), on {moment(change.at)}{by}"


def counted_rows(change: ChangeSummary) -> list[str]:
    """How many rows of each kind a change touched: ``4 shafts``.

    Parameters
    ----------
    change : ChangeSummary
        The change.
    """
    tables = load_schema().tables
    return [counted(count, tables[kind]).replace(",", " ") for kind, count in change.rows.items()]


def why_words(change: ChangeSummary) -> str:
    """Why a change was made, on a line of its own; nothing where nobody said.

    Parameters
    ----------
    change : ChangeSummary
        The change.
    """
    return f"\nWhy: {plain(change.why)}" if change.why else ""


def what_goes_back(found: ToUndo) -> Content:
    """Rows and fields that an undo of a change would put back.

    Parameters
    ----------
    found : ToUndo
        The change.
    """
    parts: list[tuple[str, str]] = []
    for line in found.lines:
        parts += [(plain(line.title), "bold"), (f" {_BACK[line.action]}\n", "")]
        if line.action == "changed":
            parts += [part for text in difference_lines(line, turned=True) for part in (text, ("\n", ""))]
    more = found.rows - len(found.lines)
    if more > 0:
        parts.append((f"and {more:,} more rows".replace(",", " "), "$text-muted"))
    return Content.assemble(*parts).rstrip()


def difference_lines(line: JournalLine, *, turned: bool = False) -> list[tuple[str, str]]:
    """The fields that a change of a row changed, one a line.

    Parameters
    ----------
    line : JournalLine
        The row.
    turned : bool
        From after to before, as an undo does.
    """
    form = form_of(line.kind) if _has_form(line.kind) else None
    quantity = str((line.differences.get("quantity") or (None, ""))[1] or "")
    plain = line.action == "added" and not turned
    found = []
    for name, (before, after) in list(line.differences.items())[:_MOST_FIELDS]:
        old, new = (after, before) if turned else (before, after)
        title = form.table.field(name).title if form is not None and name in form.table.field_names else name
        shown = _shown(form, name, new, quantity)
        found.append((f"  {title}: {shown if plain else f'{_shown(form, name, old, quantity)} → {shown}'}", ""))
    more = len(line.differences) - _MOST_FIELDS
    return [*found, *([(f"  and {more} more fields", "$text-muted")] if more > 0 else [])]


def _has_form(kind: str) -> bool:
    return kind in load_schema().kinds


def _shown(form: Form | None, name: str, value: object, quantity: str) -> str:
    if form is None or name not in form.table.field_names:
        return "empty" if value is None else plain(value)
    return value_words(form, name, value, quantity)


def ask_to_take_back(screen: Working[Any], change_no: int | None, then: Callable[[], None] | None = None) -> None:
    """Take a change back, after asking.

    Parameters
    ----------
    screen : Working
        Where it was asked for.
    change_no : int or None
        Which change; the latest that stands where None.
    then : callable or None
        Called when it was taken back.
    """
    catalogue = screen.desk.catalogue

    def look() -> ToUndo | None:
        from specdb.verbs.catalogue.journal import to_undo

        return to_undo(catalogue, change_no)

    def ask(found: ToUndo | None) -> None:
        if found is None:
            screen.notify("There is no change to undo.")
        else:
            screen.app.push_screen(TakeBackDialog(found), partial(answered, found.change.change_no))

    def answered(number: int, yes: bool | None) -> None:
        if yes:
            screen.work(lambda: take_back(number), tell, group="undo", what="undo a change", changes=True)

    def take_back(number: int) -> str:
        from specdb.tui.widgets.words import who
        from specdb.verbs.catalogue.journal import undo

        return undo(catalogue, number, by=who(screen.memory) or None)

    def tell(done: str) -> None:
        screen.notify(done, title="Undone", markup=False)
        if then is not None:
            then()

    screen.work(look, ask, group="undo", what="look for the change")
