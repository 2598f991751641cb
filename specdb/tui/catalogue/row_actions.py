"""What can be done with the row of a cursor, wherever rows are listed or shown: edit, copy, history, retire, stock."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from specdb.errors import indefinite
from specdb.orders.needs import PIECES
from specdb.schema import Table, load_schema
from specdb.tui.actions import Action
from specdb.tui.dialogs.ask import Way, WaysDialog
from specdb.tui.widgets.words import who
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.tui.base import Working

    _Base = Working[None]
else:
    _Base = object

ROW_ACTIONS = (
    Action("edit_row", "e", "edit", "Change the row in a form."),
    Action("copy_row", "l", "like this", "Add a row that is like this one."),
    Action("row_history", "h", "history", "Show what happened to the row, and undo any of it."),
    Action(
        "retire_row", "x", "retire", "Retire the row, or take it away where it cannot be retired; asks.", shown=False
    ),
    Action("move_stock('receive')", "plus", "received", "Book pieces that came in."),
    Action("move_stock('use')", "minus", "used", "Book pieces that were used."),
    Action("move_stock('count')", "equals_sign", "counted", "Book how many were counted."),
    Action("row_parts", "p", "parts", "Show the readings of a shaft or the settings of an adapter.", shown=False),
)
"""Actions on one row."""
ADD_ACTIONS = (
    Action("new_row", "n", "new", "Add a row in an empty form."),
    Action("import_file", "i", "import", "Add and change rows from a file, after a look at what it would do."),
    Action("half_typed", "d", "half typed", "Go on with a form that is half typed.", shown=False),
    Action("all_changes", "", "all changes", "Show every change of the catalogue, and undo any.", shown=False),
)
"""Actions of a list."""


class RowActions(_Base):
    """Does :data:`ROW_ACTIONS` and :data:`ADD_ACTIONS`; a screen says which row is meant."""

    def row_meant(self) -> tuple[str, str | None]:
        """Kind, and key of the row that is meant; None where there is none."""
        raise NotImplementedError

    def row_kept(self, key: str) -> None:
        """Called when a row was saved in a form.

        Parameters
        ----------
        key : str
            The row.
        """

    def row_action_allowed(self, action: str) -> bool | None:
        """Whether an action goes with the kind; None where it is none of these.

        Parameters
        ----------
        action : str
            Name of the action.
        """
        kind, key = self.row_meant()
        table = load_schema().table(kind)
        if action == "move_stock":
            return key is not None and kind in load_schema().table("stock_move").field("kind").enum
        if action == "row_parts":
            return key is not None and kind in ("shaft", "adapter")
        if action in ("edit_row", "copy_row", "row_history"):
            return key is not None
        if action == "retire_row":
            return key is not None and not table.append_only
        return None

    def _form(self, key: str | None = None, *, similar: str | None = None) -> None:
        from specdb.tui.forms.screen import form_screen

        self.app.push_screen(form_screen(self.row_meant()[0], key, similar=similar, kept=self.row_kept))

    def action_new_row(self) -> None:
        """Add a row in an empty form."""
        self._form()

    def action_edit_row(self) -> None:
        """Change the row."""
        key = self.row_meant()[1]
        if key is not None:
            self._form(key)

    def action_copy_row(self) -> None:
        """Add a row like this one."""
        key = self.row_meant()[1]
        if key is not None:
            self._form(similar=key)

    def action_row_history(self) -> None:
        """Show what happened to the row."""
        from specdb.tui.catalogue.history_view import HistoryScreen

        kind, key = self.row_meant()
        if key is not None:
            self.app.push_screen(HistoryScreen(kind, key))

    def action_all_changes(self) -> None:
        """Show every change of the catalogue."""
        from specdb.tui.catalogue.history_view import HistoryScreen

        self.app.push_screen(HistoryScreen())

    def action_row_parts(self) -> None:
        """Show the readings of a shaft or the settings of an adapter."""
        from specdb.tui.catalogue.parts_view import PartsScreen

        kind, key = self.row_meant()
        if key is not None:
            self.app.push_screen(PartsScreen(kind, key))

    def action_retire_row(self) -> None:
        """Retire the row, after asking."""
        kind, key = self.row_meant()
        if key is not None:
            ask_to_retire(self, load_schema().table(kind), key)

    def action_move_stock(self, move: str) -> None:
        """Book a move of stock."""
        from specdb.tui.catalogue.stock_dialog import StockDialog

        kind, key = self.row_meant()
        if key is not None:
            self.app.push_screen(StockDialog(kind, key, move))

    def action_import_file(self) -> None:
        """Import a file."""
        from specdb.tui.catalogue.import_view import ImportScreen

        self.app.push_screen(ImportScreen(self.row_meant()[0]))

    def action_half_typed(self) -> None:
        """Go on with a form that is half typed."""
        from specdb.tui.forms.half_typed import go_on

        go_on(self)


_ORDERED = ("club", "adhesive", *PIECES)


def ask_to_retire(screen: Working[Any], table: Table, key: str, then: Callable[[], None] | None = None) -> None:
    """Retire a row, or take one away that has no status, after asking.

    Parameters
    ----------
    screen : Working
        Where it was asked for.
    table : Table
        Kind of the row.
    key : str
        The row.
    then : callable or None
        Called when it is done.
    """
    from specdb.verbs.catalogue.changing import remove_row, retire

    act: Callable[..., object]
    title = table.title.lower()
    named = f"this {title}" if table.key_style == "digest" else f"{title} {key}"
    if "status" in table.field_names:
        act, ways = retire, (Way("do", "y", f"Retire {named}"),)
        text = f"What refers to {named} keeps it; it is no longer offered. Its status brings it back, or an undo."
        heading, done = "Retire", "Retired"
    elif table.append_only:
        screen.notify(f"{indefinite(title).capitalize()} is never taken away; book a correcting one, or undo it.")
        return
    else:
        act, ways = remove_row, (Way("do", "y", f"Take {named} away"),)
        text = "The history keeps it, and an undo brings it back."
        heading, done = "Take away", "Taken away"
    catalogue = screen.desk.catalogue

    def answered(way: str | None) -> None:
        if way == "do":
            by = who(screen.memory) or None
            screen.work(
                lambda: act(catalogue, table.name, key, by=by), tell, group="retire", what=f"retire the {title}",
                changes=True,
            )  # fmt: skip

    def tell(_: object) -> None:
        screen.notify(f"{begun(named)}. ^z takes it back.", title=done, markup=False)
        if then is not None:
            then()

    def ask(wanted: str) -> None:
        said = f"{text} {begun(wanted)}." if wanted else text
        screen.app.push_screen(WaysDialog(heading, said, ways), answered)

    if act is not retire or table.name not in _ORDERED:
        ask("")
        return
    from specdb.verbs.orders.touched import wanted_by

    screen.work(lambda: wanted_by(catalogue, table.name, key), ask, group="retire", what="look at the orders")
