"""The place Catalogue: the list of a kind."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult

from specdb.schema import load_schema
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.columns import spec_of
from specdb.tui.kinds import first_columns
from specdb.tui.paged import PagedTable


class CatalogueScreen(PlaceScreen):
    """Lists of every kind."""

    place = "catalogue"
    ACTIONS = (Action("back", "escape", "back", "Go back.", shown=False),)

    def compose(self) -> ComposeResult:
        """The list."""
        yield PagedTable(empty="Loading …")

    def on_mount(self) -> None:
        """Get the rows."""
        self.query_one(PagedTable).focus()
        self._load()

    def _load(self) -> None:
        table = load_schema().table("shaft")
        specs = [spec_of(table.field(n)) for n in first_columns(table)]
        self.work(
            lambda: self.desk.table("shaft"),
            lambda rows: self.query_one(PagedTable).set_table(rows, specs),
            group="load",
            what="list the shafts",
        )

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Get the rows again."""
        self._load()

    @on(PagedTable.RowPicked)
    def _picked(self, message: PagedTable.RowPicked) -> None:
        self.notify(message.key)
