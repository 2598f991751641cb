"""What belongs to a row: the readings of a shaft, the settings of an adapter; listed, added, changed, taken away."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.widgets import Static

from specdb.schema import load_schema
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.catalogue.kinds import first_columns
from specdb.tui.catalogue.row_actions import ask_to_retire
from specdb.tui.widgets.columns import ColumnSpec, decimals_of, spec_of
from specdb.tui.widgets.paged import PagedTable
from specdb.units import unit_label

if TYPE_CHECKING:
    import pyarrow as pa

PARTS = {"shaft": ("shaft_reading", "shaft_id"), "adapter": ("adapter_setting", "adapter_id")}
"""For a kind the kind of its parts, and the field of those that names it."""
_READ = "read"


class PartsScreen(PlaceScreen):
    """The parts of a row.

    Parameters
    ----------
    kind, key : str
        The row.
    """

    place = "parts"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("new", "n", "new", "Type a new one."),
        Action("like", "l", "like this", "Type a new one like that of the cursor."),
        Action("edit", "e,enter", "edit", "Change the one of the cursor."),
        Action("remove", "x", "take away", "Take the one of the cursor away, after asking."),
        Action("history", "h", "history", "Show what happened to the one of the cursor."),
        Action("back", "escape", "back", "Go back."),
    )
    DEFAULT_CSS = """
    PartsScreen .parts--title { height: 1; padding: 0 1; text-style: bold; }
    """

    def __init__(self, kind: str, key: str) -> None:
        super().__init__()
        name, self._field = PARTS[kind]
        self._parts = load_schema().table(name)
        self._key = key
        self._kind = kind
        self._at: str | None = None

    def compose(self) -> ComposeResult:
        """The list."""
        yield Static(self._title(None), classes="parts--title", markup=False)
        yield PagedTable(key=self._parts.primary_key, empty="Loading …")

    def _title(self, count: int | None) -> str:
        what = self._parts.title.lower()
        number = "" if count is None else f"{count} "
        return f"{number}{what}{'' if count == 1 else 's'} of {self._kind} {self._key}"

    def on_mount(self) -> None:
        """Get the rows."""
        self.query_one(PagedTable).focus()
        self._load()

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Get the rows again."""
        self._load()

    def _load(self) -> None:
        self.work(self._look, self._show, group="load", what=f"list the {self._parts.title.lower()}s")

    def _look(self) -> pa.Table:
        import pyarrow as pa
        import pyarrow.compute as pc

        rows = self.desk.table(self._parts.name)
        rows = rows.filter(pc.equal(rows[self._field], self._key))
        if not self._parts.value_units:
            return rows
        rows = rows.sort_by([(n, "ascending") for n in ("sample", "quantity", "position_in", "free_length_in", "id")])
        # as many decimals as the values of a quantity need, so that they stand under each other
        decimals = {
            q: decimals_of(rows.filter(pc.equal(rows["quantity"], q))["value"]) for q in rows["quantity"].to_pylist()
        }
        pairs = zip(rows["value"].to_pylist(), rows["quantity"].to_pylist(), strict=True)
        texts = [f"{v:.{decimals[q]}f} {unit_label(self._parts.value_units.get(q, ''))}" for v, q in pairs]
        return rows.append_column(_READ, pa.array(texts, pa.string()))

    def _show(self, rows: pa.Table) -> None:
        names = [n for n in first_columns(self._parts) if n != self._field]
        specs = [
            ColumnSpec(_READ, "Value", right=True) if n == "value" and self._parts.value_units
            else spec_of(self._parts.field(n))
            for n in names
        ]  # fmt: skip
        table = self.query_one(PagedTable)
        table.set_empty(f"There are no {self._parts.title.lower()}s yet; n types one.")
        table.set_table(rows, specs)
        if self._at is not None:
            table.show_row(self._at)
            self._at = None
        self.query_one(".parts--title", Static).update(self._title(rows.num_rows))

    def _form(self, key: str | None = None, *, similar: str | None = None) -> None:
        from specdb.tui.forms.row_form import RowForm

        preset = {self._field: self._key} if key is None and similar is None else None
        form = RowForm(self._parts.name, key, similar=similar, preset=preset, kept=self._kept)
        self.app.push_screen(form)

    def _kept(self, key: str) -> None:
        self._at = key
        self._load()

    @on(PagedTable.RowPicked)
    def _picked(self, message: PagedTable.RowPicked) -> None:
        self._form(message.key)

    @property
    def _here(self) -> str | None:
        return self.query_one(PagedTable).cursor_key

    def action_new(self) -> None:
        """Type a new one."""
        self._form()

    def action_like(self) -> None:
        """Type a new one like that of the cursor."""
        if self._here is None:
            self._form()
        else:
            self._form(similar=self._here)

    def action_edit(self) -> None:
        """Change the one of the cursor."""
        if self._here is not None:
            self._form(self._here)

    def action_remove(self) -> None:
        """Take the one of the cursor away."""
        if self._here is not None:
            ask_to_retire(self, self._parts, self._here)

    def action_history(self) -> None:
        """Show what happened to the one of the cursor."""
        from specdb.tui.catalogue.history_view import HistoryScreen

        if self._here is not None:
            self.app.push_screen(HistoryScreen(self._parts.name, self._here))
