"""The place Catalogue: a list of any kind, searched, filtered, sorted, with the columns one wants."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Input, Label, Static

from specdb.catalogue.where import WhereError
from specdb.errors import SpecdbError
from specdb.schema import Table, load_schema
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.catalogue.kinds import as_listed, counted, first_columns, first_sort, plural
from specdb.tui.catalogue.lists import Asked, Found, Lists
from specdb.tui.catalogue.row_actions import ADD_ACTIONS, ROW_ACTIONS, RowActions
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.where_field import WhereField

if TYPE_CHECKING:
    from specdb.verbs.catalogue.details import Details

# enter opens the form already
_ROW_ACTIONS = tuple(replace(a, shown=a.shown and a.id != "edit_row") for a in ROW_ACTIONS)
_KIND, _RETIRED = "list/kind", "list/retired"
_PREVIEW_WIDTH = 160  # from here on there is room for the row of the cursor beside the list
_PREVIEW_SECONDS = 0.15


class CatalogueScreen(RowActions, PlaceScreen):
    """Lists of every kind."""

    place = "catalogue"
    ACTIONS = (
        Action("search", "slash", "search", "Search as you type, over maker, model and id."),
        Action("where", "w", "filter", "Filter by a condition on any field, with units: weight_g < 2.3 oz."),
        Action("kind", "k", "kind", "Choose what is listed: shafts, heads, grips and so on."),
        Action("sort", "s", "sort", "Choose what the list is sorted by; the same field again turns it round."),
        Action("columns", "c", "columns", "Choose the columns and their order; they are remembered."),
        Action("nearest_heads", "a", "alternatives", "Find the heads that come nearest to the one of the cursor."),
        Action("view_row", "v", "all of it", "Show everything about the row: readings, stock, what refers to it."),
        *ADD_ACTIONS[:1],
        *_ROW_ACTIONS,
        *ADD_ACTIONS[1:],
        Action("retired", "r", "retired", "Show or hide what is retired."),
        Action("next_kind(1)", "right_square_bracket", "next kind", "List the next kind.", shown=False),
        Action("next_kind(-1)", "left_square_bracket", "kind before", "List the kind before.", shown=False),
        Action("back", "escape", "back", "Clear search and filter; with none, go back.", shown=False),
    )
    DEFAULT_CSS = """
    CatalogueScreen #asked { height: 1; background: $surface; }
    CatalogueScreen #kind { width: auto; padding: 0 1; text-style: bold; color: $accent; }
    CatalogueScreen #words { width: 1fr; max-width: 60; background: $panel; color: $foreground; padding: 0 1;
        margin: 0 1; }
    CatalogueScreen #state { height: 1; background: $surface; color: $quiet; padding: 0 1; dock: bottom;
        margin-bottom: 1; }
    CatalogueScreen #preview { width: 62; display: none; padding: 0 1; background: $surface; overflow-y: auto;
        scrollbar-size-vertical: 1; height: 1fr; }
    CatalogueScreen #preview Static { height: auto; }
    CatalogueScreen.-roomy #preview { display: block; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._lists = Lists(self.desk)
        self._typed: dict[str, tuple[str, str]] = {}  # words and condition, by kind
        self._found: Found | None = None
        self._wanted_row: str | None = None  # where the cursor is to go once the rows are there
        kinds = load_schema().kinds
        remembered = self.memory.get(_KIND, "shaft")
        self._kind = load_schema().table(remembered if remembered in kinds else "shaft")

    # ---- what is shown

    def compose(self) -> ComposeResult:
        """What is asked for, the list, and how it stands."""
        with Horizontal(id="asked"):
            yield Label(self._kind_label(), id="kind")
            yield Input(placeholder="/ search maker, model, id", id="words", compact=True)
        yield WhereField(self._as_listed)
        with Horizontal():
            yield PagedTable(key=self._kind.primary_key, empty="Loading …")
            with Vertical(id="preview"):
                yield Static("")
        yield Static("", id="state", markup=False)

    def on_mount(self) -> None:
        """Get the rows."""
        self.set_focus(self.table)
        self._ask(fresh=True)

    def on_screen_resume(self) -> None:
        """Look at the file again, in case it changed meanwhile."""
        if self._found is not None:
            self._ask(fresh=True)

    def on_resize(self, event: events.Resize) -> None:
        """Show the row of the cursor beside the list where there is room."""
        self.set_class(event.size.width >= _PREVIEW_WIDTH, "-roomy")

    @property
    def table(self) -> PagedTable:
        """The list."""
        return self.query_one(PagedTable)

    @property
    def kind(self) -> Table:
        """The kind that is listed."""
        return self._kind

    @property
    def _as_listed(self) -> Table:
        """The kind with what a list shows beyond what is stored."""
        return as_listed(self._kind.name)

    def opened(self, kind: str | None = None, key: str | None = None, words: str | None = None, **_: Any) -> None:  # noqa: ANN401 (as the hook)
        """Called when the place is opened.

        Parameters
        ----------
        kind : str or None
            List this kind.
        key : str or None
            Put the cursor on this row.
        words : str or None
            Search for these words.
        """
        if kind is not None:
            self._list(load_schema().table(kind))
        if words is not None:
            self.query_one("#words", Input).value = words
        if key is not None:
            self._ask(fresh=True, then_at=key)

    def row_meant(self) -> tuple[str, str | None]:
        """The row of the cursor."""
        return self._kind.name, self.table.cursor_key

    def row_kept(self, key: str) -> None:
        """Put the cursor on a row that was saved.

        Parameters
        ----------
        key : str
            The row.
        """
        self._ask(fresh=True, then_at=key)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave out what does not go with the kind."""
        if action == "nearest_heads" and self._kind.name != "head":
            return False
        allowed = self.row_action_allowed(action) if self.is_mounted else None
        return super().check_action(action, parameters) if allowed is None else allowed

    def action_nearest_heads(self) -> None:
        """Find the heads that come nearest."""
        from specdb.tui.standins.heads_screen import HeadsScreen

        if self.table.cursor_key is not None:
            self.app.push_screen(HeadsScreen(self.table.cursor_key))

    def action_view_row(self) -> None:
        """Show everything about the row."""
        from specdb.tui.catalogue.details_view import DetailsScreen

        key = self.table.cursor_key
        if key is not None:
            self.app.push_screen(DetailsScreen(self._kind.name, key))

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Get the rows again."""
        self._ask(fresh=True)

    def _kind_label(self) -> str:
        return f"{plural(self._kind)} ▾"

    def _asked(self) -> Asked:
        names = self._as_listed.field_names
        remembered = self.memory.get(f"list/{self._kind.name}/columns", ())
        columns = tuple(n for n in remembered if n in names) or first_columns(self._as_listed)
        retired = bool(self.memory.get(_RETIRED, False))
        if retired and "status" in names and "status" not in columns:
            columns = (*columns[:2], "status", *columns[2:])
        sort = self.memory.get(f"list/{self._kind.name}/sort")
        kept_sort = (sort[0], bool(sort[1])) if sort and sort[0] in names else first_sort(self._kind)
        words, where = self._typed.get(self._kind.name, ("", ""))
        return Asked(self._kind.name, columns, words, where, kept_sort, retired)

    def _ask(self, *, fresh: bool, then_at: str | None = None) -> None:
        asked = self._asked()

        if then_at is not None:
            self._wanted_row = then_at

        def show(found: Found) -> None:
            self._show(found)
            # a newer question takes the place of this one, and must not lose the row
            if self._wanted_row is not None and self.table.show_row(self._wanted_row):
                self._wanted_row = None

        self.work(
            lambda: self._lists.find(asked, fresh=fresh),
            show,
            group="list",
            what=f"list the {plural(self._kind).lower()}",
            failed=self._refused,
        )

    def _refused(self, error: SpecdbError) -> None:
        if isinstance(error, WhereError):
            self.query_one(WhereField).say_error(error)
        else:
            self.table.set_empty(str(error))
            self.specdb.tell_error(error)

    def _show(self, found: Found) -> None:
        first = self._found is None
        another = self._found is None or found.asked.kind != self._found.asked.kind
        self._found = found
        self.table.set_empty(self._why_empty(found))
        self.table.set_table(
            found.rows,
            found.columns,
            order=found.order,
            key=self._kind.primary_key,
            sorted_by=found.asked.sort,
            keep=not another,
        )
        self.query_one("#state", Static).update(self._state(found))
        self.actions_changed()
        if first:
            from specdb.tui.forms.half_typed import bring_back

            bring_back(self)

    def _state(self, found: Found) -> str:
        shown, total = len(found.order), found.rows.num_rows
        asked = found.asked
        searched = asked.words.strip() or asked.where.strip()
        parts = [f"{shown:,} of {counted(total, self._kind)}" if searched else counted(shown, self._kind)]
        if found.retired_hidden:
            parts.append(f"{found.retired_hidden:,} retired hidden")
        falling = ", falling" if asked.sort[1] else ""
        field = self._as_listed.field(asked.sort[0])
        parts.append(f"by {field.title if field.title.isupper() else field.title.lower()}{falling}")
        return "  ·  ".join(parts)

    def _why_empty(self, found: Found) -> str:
        if not found.rows.num_rows:
            return f"There are no {plural(self._kind).lower()} in the catalogue yet."
        hidden = f"; {found.retired_hidden} retired hidden, r shows them" if found.retired_hidden else ""
        return f"Nothing matches{hidden}. Esc clears search and filter."

    # ---- what is typed

    @on(Input.Changed, "#words")
    def _words_typed(self, message: Input.Changed) -> None:
        _, where = self._typed.get(self._kind.name, ("", ""))
        self._typed[self._kind.name] = (message.value, where)
        self._ask(fresh=False)

    @on(Input.Submitted, "#words")
    def _words_entered(self) -> None:
        self.set_focus(self.table)

    @on(WhereField.Changed)
    def _where_typed(self, message: WhereField.Changed) -> None:
        words, _ = self._typed.get(self._kind.name, ("", ""))
        self._typed[self._kind.name] = (words, message.where)
        self._ask(fresh=False)

    @on(WhereField.Left)
    def _where_entered(self) -> None:
        self.set_focus(self.table)

    def on_key(self, event: events.Key) -> None:
        """Go from a line one types in to the list with the arrow down."""
        if event.key == "down" and isinstance(self.focused, Input):
            self.set_focus(self.table)
            event.stop()

    def on_click(self, event: events.Click) -> None:
        """Choose the kind where its name is clicked."""
        if self.query_one("#kind").region.contains(event.screen_x, event.screen_y):
            self.action_kind()

    # ---- actions

    def action_search(self) -> None:
        """Type words to search for."""
        # set at once, as a focus that comes later would miss what a quick hand types next
        self.set_focus(self.query_one("#words", Input))

    def action_where(self) -> None:
        """Type a condition."""
        self.query_one(WhereField).take_focus()

    def action_back(self) -> None:
        """Leave a line one types in; else clear search and filter; else go back."""
        if self.focused is not self.table:
            self.set_focus(self.table)
        elif any(self._typed.get(self._kind.name, ())):
            self._typed[self._kind.name] = ("", "")
            self._show_typed()
            self._ask(fresh=False)
        else:
            super().action_back()

    def _show_typed(self) -> None:
        words, where = self._typed.get(self._kind.name, ("", ""))
        line = self.query_one("#words", Input)
        with line.prevent(Input.Changed):
            line.value = words
        self.query_one(WhereField).set_kind(self._as_listed, where)

    def action_retired(self) -> None:
        """Show or hide what is retired."""
        self.memory.put(_RETIRED, not self.memory.get(_RETIRED, False))
        self._ask(fresh=False)

    def action_kind(self) -> None:
        """Choose the kind."""
        from specdb.tui.dialogs.chooser import Chooser

        schema = load_schema()
        rows = [(kind, plural(schema.table(kind)), schema.table(kind).description) for kind in schema.kinds]
        columns = [ColumnSpec("title", ""), ColumnSpec("what", "", width=44)]
        self.app.push_screen(Chooser("List", columns, rows, chosen=self._kind.name), self._kind_chosen)

    def _kind_chosen(self, kind: str | None) -> None:
        if kind is not None:
            self._list(load_schema().table(kind))

    def action_next_kind(self, step: int) -> None:
        """List the next kind, or the one before."""
        kinds = load_schema().kinds
        at = (kinds.index(self._kind.name) + step) % len(kinds)
        self._list(load_schema().table(kinds[at]))

    def _list(self, kind: Table) -> None:
        if kind.name == self._kind.name:
            return
        self._kind = kind
        self.memory.put(_KIND, kind.name)
        self.query_one("#kind", Label).update(self._kind_label())
        self._show_typed()
        self.set_focus(self.table)
        self._ask(fresh=True)

    def action_sort(self) -> None:
        """Choose what the list is sorted by."""
        from specdb.tui.dialogs.sorting import sort_chooser

        if self._found is None:
            return
        shown = self._found.asked.columns
        names = [*shown, *(n for n in self._as_listed.field_names if n not in shown)]
        self.app.push_screen(sort_chooser(self._as_listed, names, self._found.asked.sort), self._sort_chosen)

    def _sort_chosen(self, name: str | None) -> None:
        if name is None or self._found is None:
            return
        from specdb.tui.dialogs.sorting import sorted_anew

        self.memory.put(f"list/{self._kind.name}/sort", list(sorted_anew(name, self._found.asked.sort)))
        self._ask(fresh=False)

    @on(PagedTable.HeadingPicked)
    def _heading_clicked(self, message: PagedTable.HeadingPicked) -> None:
        self._sort_chosen(message.name)

    def action_columns(self) -> None:
        """Choose the columns."""
        from specdb.tui.dialogs.columns import ColumnsDialog

        if self._found is not None:
            self.app.push_screen(ColumnsDialog(self._as_listed, self._found.asked.columns), self._columns_chosen)

    def _columns_chosen(self, columns: tuple[str, ...] | None) -> None:
        if columns is not None:
            self.memory.put(f"list/{self._kind.name}/columns", list(columns))
            self._ask(fresh=False)

    @on(PagedTable.RowPicked)
    def _picked(self, message: PagedTable.RowPicked) -> None:
        self.specdb.open_row(self._kind.name, message.key)

    @on(PagedTable.RowHighlighted)
    def _highlighted(self) -> None:
        if self.has_class("-roomy"):
            self.set_timer(_PREVIEW_SECONDS, self._preview)

    def _preview(self) -> None:
        from specdb.tui.catalogue.details_view import describe

        kind, key = self._kind.name, self.table.cursor_key
        if key is None:
            return

        def look() -> Details:
            from specdb.verbs.catalogue.details import details_of

            return details_of(self.desk.catalogue, kind, key)

        def show(details: Details) -> None:
            self.query_one("#preview Static", Static).update(describe(details))

        self.work(look, show, group="preview", what="show the row", failed=lambda _: None)
