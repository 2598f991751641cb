"""The place Orders: what is ordered, how its parts stand, what it waits for; from here to plan and reports."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.events import Key, Resize, ScreenResume, ScreenSuspend
from textual.widgets import Input

from specdb.tui.actions import Action
from specdb.tui.orders.acts import OrderActs
from specdb.tui.orders.list_words import FIRST_SORT, orders_table, sort_names
from specdb.tui.orders.words import order_lines
from specdb.tui.widgets import days
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable

if TYPE_CHECKING:
    from specdb.orders.availability import OrderView
    from specdb.verbs.orders.waits import OrdersSeen

_LAST = "orders.last"
_SORT = "orders.sort"
_BESIDE_COLUMNS = 150
_LIST_COLUMNS = 84
_OPEN = ("open", "at_bench")


class OrdersScreen(OrderActs):
    """Orders."""

    place = "orders"
    ACTIONS = (
        Action("new", "n", "new order", "Enter an order with its lines."),
        Action("keep", "k", "keep parts", "Keep what is free on the shelf for this order."),
        Action("plan", "p", "plan all", "Plan all open orders together against the shelf and what is expected."),
        Action("reports", "r", "reports", "Open orders, shortages, what to reorder, stand-ins, prediction error."),
        Action("build", "b", "build", "Go to the bench with a club of this order that is not built."),
        Action("standins", "s", "stand-ins", "Find what can stand in for a shaft that is short."),
        Action("heads", "h", "heads", "Find the heads that can stand in for a head that is short."),
        Action("state", "t", "state", "Move the order to another state."),
        Action("edit", "e", "edit", "Change the order: customer, day, lines."),
        Action("search", "slash", "search", "Show only orders with what is typed: number, customer, club."),
        Action("import_list", "i", "import", "Take orders from a list: CSV or XLSX, after a look at what it would do."),
        Action("free", "g", "give free", "Give the parts that are kept for it free again."),
        Action("use", "u", "built in", "Book the kept parts of a club, or of all clubs, as built in."),
        Action("spoilt", "z", "spoilt", "Book a part as spoilt at the bench; the order needs it anew.", shown=False),
        Action("sheets", "x", "sheets", "Write the build sheets of the order to a PDF file."),
        Action("all", "a", "all states", "Show finished orders too, or only open ones."),
        Action("sort", "o", "sort", "Choose what the list is sorted by; a click on a heading does too.", shown=False),
        Action("half_typed", "d", "half typed", "Go on with an order that is half typed.", shown=False),
        Action("step(1)", "full_stop", "next order", "Look at the next order.", shown=False),
        Action("step(-1)", "comma", "order before", "Look at the order before.", shown=False),
        Action("plan_first", "f", "plan first", "Plan all orders, this one in full before all others.", shown=False),
        Action("back", "escape", "back", "Go back: to the whole list, to where we came from.", shown=False),
    )
    DEFAULT_CSS = """
    OrdersScreen #words { display: none; height: 1; border: none; padding: 0 1; background: $panel; }
    OrdersScreen.-search #words { display: block; }
    OrdersScreen #main { height: 1fr; }
    OrdersScreen #main PagedTable { width: 1fr; height: 1fr; }
    OrdersScreen #detail { height: 55%; padding: 0 1; background: $surface; border-top: solid $panel;
        scrollbar-size-vertical: 1; }
    OrdersScreen #detail:focus { border-top: solid $accent; }
    OrdersScreen.-reading #main PagedTable { display: none; }
    OrdersScreen.-reading #detail { height: 1fr; }
    OrdersScreen.-beside #main { layout: horizontal; }
    OrdersScreen.-beside #main PagedTable { display: block; }
    OrdersScreen.-beside #detail { width: 40%; height: 1fr; border-top: none; border-left: solid $panel; }
    OrdersScreen.-beside #detail:focus { border-top: none; border-left: solid $accent; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._seen: OrdersSeen | None = None
        self._texts: dict[str, str] = {}  # what is searched, by order
        self._all = False
        self._wanted: str | None = None  # the order that the cursor is to go to, as soon as it is listed
        self._insist = False  # whether it is looked for among finished ones too
        self._left = False  # whether one has been at another place since

    def compose(self) -> ComposeResult:
        """List and detail."""
        yield Input(placeholder="number, customer or club", id="words", compact=True)
        with Container(id="main"):
            yield PagedTable(empty="Loading …")
            with VerticalScroll(id="detail"):
                yield LinesView()

    def on_mount(self) -> None:
        """Get the orders, and bring back an order that was being typed when a terminal died."""
        self.set_focus(self._list)
        if self._wanted is None:
            self._wanted = str(self.memory.get(_LAST, "")) or None
        self._load()
        from specdb.tui.orders.drafts import bring_back

        bring_back(self)

    def opened(self, order: str | None = None, **_: Any) -> None:  # noqa: ANN401 (as the place screen's)
        """Go to an order.

        Parameters
        ----------
        order : str or None
            Its key.
        """
        if order is not None:
            self.show_order(order)

    def show_order(self, order: str) -> None:
        """Go to an order.

        Parameters
        ----------
        order : str
            Its key.
        """
        self._wanted, self._insist = order, True
        self._load()

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Get the orders again."""
        self._load()

    @property
    def _list(self) -> PagedTable:
        return self.query_one(PagedTable)

    @property
    def _detail(self) -> VerticalScroll:
        return self.query_one("#detail", VerticalScroll)

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= _BESIDE_COLUMNS, "-beside")
        self.call_after_refresh(self._write)

    @on(ScreenSuspend)
    def _suspended(self) -> None:
        self._left = self._left or self.specdb.current_mode != self.place

    @on(ScreenResume)
    def _resumed(self) -> None:
        self.call_after_refresh(self._write)  # another day may have begun
        if self._left:
            self._left = False
            self._load(anew=True)

    # ---- the list

    def _load(self, *, anew: bool = False) -> None:
        """Get the orders; the one of the cursor stays, and any that was moved on here, until the list is made anew."""
        catalogue, states = self.desk.catalogue, None if self._all else _OPEN
        if anew:
            self.moved.clear()
        at = None if anew else self._list.cursor_key
        stay = {*self.moved, *([at] if at is not None else [])}

        def job() -> OrdersSeen:
            from specdb.verbs.orders.waits import orders_seen

            return orders_seen(catalogue, states, tuple(stay))

        self.work(job, self._loaded, group="list", what="list the orders")

    def _loaded(self, seen: OrdersSeen) -> None:
        self._seen = seen
        self._texts = {v.order.id: _searched(v) for v in seen.views}
        self._write()
        if self._wanted is not None and self._insist and not self._all:
            self._all, self._insist = True, False  # it may be finished
            self._load()
        else:
            self._wanted, self._insist = None, False

    def _write(self) -> None:
        """Write the list anew."""
        if self._seen is None:
            return
        table = self._list
        words = self.query_one("#words", Input).value.lower().split() if self.has_class("-search") else []
        views = [v for v in self._seen.views if all(w in self._texts[v.order.id] for w in words)]
        table.set_empty(
            "No order has that in its number, customer or clubs. Escape shows all."
            if words
            else "No order is open. n enters one, i imports a list, a shows finished ones too."
        )
        rows, specs = orders_table(views, days.shop_day(), self._width, self._sort)
        table.set_table(rows, specs, key=("id",), sorted_by=self._sort)
        if self._wanted is not None and table.show_row(self._wanted):
            self.memory.put(_LAST, self._wanted)
            self._wanted = None
        self._show()

    @property
    def view(self) -> OrderView | None:
        """The order of the cursor."""
        key = self._list.cursor_key
        return next((v for v in self._seen.views if v.order.id == key), None) if self._seen is not None else None

    @on(PagedTable.RowHighlighted)
    def _highlighted(self, message: PagedTable.RowHighlighted) -> None:
        if self._wanted is None:
            self.memory.put(_LAST, message.key)
        self._detail.scroll_home(animate=False)
        self._show()

    @on(PagedTable.RowPicked)
    def _picked(self) -> None:
        self.add_class("-reading")
        self._detail.focus()
        self.call_after_refresh(self._show)

    def _show(self) -> None:
        view = self.view
        width = (self._detail.size.width or self.size.width - 4) - 2
        waits = () if view is None or self._seen is None else self._seen.waits.get(view.order.id, ())
        lines = [] if view is None else order_lines(view, waits, days.shop_day(), max(width, 40))
        self.query_one(LinesView).show(lines)

    def action_step(self, step: int) -> None:
        """Look at another order."""
        self._list.action_move(step)

    def action_all(self) -> None:
        """Show finished orders too, or only open ones."""
        self._all = not self._all
        self._load(anew=True)

    # ---- sorting

    @property
    def _width(self) -> int:
        """Columns of the list, as far as they are known."""
        beside = self.has_class("-beside")
        return self._list.size.width or max(self.size.width // (2 if beside else 1), _LIST_COLUMNS)

    @property
    def _sort(self) -> tuple[str, bool]:
        held = self.memory.get(_SORT, None)
        if isinstance(held, list) and len(held) == len(FIRST_SORT) and held[0] in dict(sort_names(self._width)):
            return held[0], bool(held[1])
        return FIRST_SORT

    def action_sort(self) -> None:
        """Choose what the list is sorted by."""
        from specdb.tui.dialogs.sorting import sort_of

        self.app.push_screen(sort_of(sort_names(self._width), self._sort), self._sort_chosen)

    @on(PagedTable.HeadingPicked)
    def _heading_clicked(self, message: PagedTable.HeadingPicked) -> None:
        self._sort_chosen(message.name)

    def _sort_chosen(self, name: str | None) -> None:
        from specdb.tui.dialogs.sorting import sorted_anew

        if name is not None:
            self.memory.put(_SORT, list(sorted_anew(name, self._sort)))
            self._write()

    def action_back(self) -> None:
        """Back to the list, to all orders, to where we came from."""
        if self.has_class("-search") and self.query_one("#words").has_focus:
            self._end_search()
        elif self.has_class("-reading"):
            self.remove_class("-reading")
            self._list.focus()
        elif self.has_class("-search"):
            self._end_search()
        else:
            super().action_back()

    # ---- searching

    def action_search(self) -> None:
        """Show only orders with what is typed."""
        self.remove_class("-reading")
        self.add_class("-search")
        self.query_one("#words").focus()
        self._load(anew=True)

    def _end_search(self) -> None:
        self.query_one("#words", Input).value = ""
        self.remove_class("-search")
        self._list.focus()
        self._write()

    @on(Input.Changed, "#words")
    def _searched_for(self) -> None:
        self._write()

    def on_key(self, event: Key) -> None:
        """Hand the keys that move in the list to it, while typing."""
        if event.key in ("up", "down") and self.query_one("#words").has_focus:
            self._list.action_move(1 if event.key == "down" else -1)
            event.stop()

    @on(Input.Submitted, "#words")
    def _search_done(self) -> None:
        self._list.focus()

    # ---- screens of their own

    def action_new(self) -> None:
        """Enter an order."""
        from specdb.tui.orders.form import OrderForm

        self.app.push_screen(OrderForm(kept=self.show_order))

    def action_edit(self) -> None:
        """Change the order."""
        from specdb.tui.orders.form import OrderForm

        if self.view is not None:
            self.app.push_screen(OrderForm(self.view.order.id, kept=self.show_order))

    def action_half_typed(self) -> None:
        """Go on with an order that is half typed."""
        from specdb.tui.orders.drafts import go_on

        go_on(self)

    def action_import_list(self) -> None:
        """Take orders from a list."""
        from specdb.tui.orders.import_list import OrderImportScreen

        self.app.push_screen(OrderImportScreen())

    def action_plan(self) -> None:
        """Plan all open orders together."""
        from specdb.tui.plan.view import PlanScreen

        self.app.push_screen(PlanScreen())

    def action_plan_first(self) -> None:
        """Plan all orders, this one in full before all others."""
        from specdb.tui.plan.view import PlanScreen

        if self.view is not None:
            self.app.push_screen(PlanScreen(first=(self.view.order.id,)))

    def action_reports(self) -> None:
        """Show the reports."""
        from specdb.tui.reports.view import ReportsScreen

        self.app.push_screen(ReportsScreen())


def _searched(view: OrderView) -> str:
    order = view.order
    clubs = " ".join(f"{u.club.id} {u.club.label or ''} {u.stand_in or ''} {u.club.shaft_id}" for u in view.units)
    sets = " ".join(line.set_id or "" for line in view.lines)
    return f"{order.id} {order.customer or ''} {order.state} {order.notes or ''} {clubs} {sets}".lower()
