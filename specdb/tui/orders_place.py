"""The place Orders: what is on the order list, how its parts stand, the plan of all orders, sheets for the bench."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.events import Resize

from specdb.tui.actions import Action
from specdb.tui.ask import WordDialog
from specdb.tui.base import PlaceScreen
from specdb.tui.columns import measured
from specdb.tui.lines_dialog import LinesDialog
from specdb.tui.lines_view import LinesView
from specdb.tui.orders_words import order_lines, orders_table, plan_lines
from specdb.tui.paged import PagedTable
from specdb.verbs.orders import orders_of

if TYPE_CHECKING:
    from specdb.orders.availability import OrderView
    from specdb.verbs.allocation import AllocationAnswer

_LAST = "orders.last"
_BESIDE_COLUMNS = 130
_STATES = ("open", "at bench", "finished", "collected", "cancelled")


class OrdersScreen(PlaceScreen):
    """Orders."""

    place = "orders"
    ACTIONS = (
        Action("build", "b", "build", "Go to the bench with the first club of the order that is not measured."),
        Action("keep", "k", "keep parts", "Keep what is free on the shelf for this order."),
        Action("free", "g", "give free", "Give the parts that are kept for it free again."),
        Action("plan", "p", "plan all", "Plan all open orders together against the shelf and what is expected."),
        Action("state", "t", "state", "Move the order to another state."),
        Action("sheets", "x", "sheets", "Write the build sheets of the order to a PDF file."),
        Action("standins", "s", "stand-ins", "Find what can stand in for a shaft that is short."),
        Action("edit", "e", "edit", "Open the order in its form.", shown=False),
        Action("new", "n", "new", "Enter an order."),
        Action("line", "l", "add a line", "Add a club or a set to the order.", shown=False),
        Action("all", "a", "all states", "Show finished orders too, or only open ones.", shown=False),
        Action("back", "escape", "back", "Go back.", shown=False),
    )
    DEFAULT_CSS = """
    OrdersScreen #main { height: 1fr; }
    OrdersScreen #main PagedTable { width: 1fr; height: 1fr; }
    OrdersScreen #detail { height: 55%; padding: 0 1; background: $surface; border-top: solid $panel;
        scrollbar-size-vertical: 1; }
    OrdersScreen.-beside #main { layout: horizontal; }
    OrdersScreen.-beside #detail { width: 50%; height: 1fr; border-top: none; border-left: solid $panel; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._views: dict[str, OrderView] = {}
        self._all = False
        self._first = True

    def compose(self) -> ComposeResult:
        """List and detail."""
        with Container(id="main"):
            yield PagedTable(empty="Loading …")
            with VerticalScroll(id="detail"):
                yield LinesView()

    def on_mount(self) -> None:
        """Get the orders."""
        self.set_focus(self.query_one(PagedTable))
        self._load()

    def opened(self, order: str | None = None, **_: Any) -> None:  # noqa: ANN401 (as the place screen's)
        """Go to an order.

        Parameters
        ----------
        order : str or None
            Its key.
        """
        if order is not None:
            self.memory.put(_LAST, order)
            self._first = True
            self._load()

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Get the orders again."""
        self._load()

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= _BESIDE_COLUMNS, "-beside")
        self.call_after_refresh(self._show)

    def _load(self) -> None:
        catalogue, states = self.desk.catalogue, None if self._all else ("open", "at_bench")
        self.work(lambda: orders_of(catalogue, states), self._loaded, group="list", what="list the orders")

    def _loaded(self, views: list[OrderView]) -> None:
        self._views = {v.order.id: v for v in views}
        table = self.query_one(PagedTable)
        table.set_empty("No order is open. n enters one; a shows finished ones too.")
        rows, specs = orders_table(views)
        table.set_table(rows, measured(rows, specs), key=("id",))
        if self._first:
            self._first = False
            table.show_row(str(self.memory.get(_LAST, "")))
        self._show()

    @property
    def order(self) -> str | None:
        """Key of the order of the cursor."""
        return self.query_one(PagedTable).cursor_key

    @on(PagedTable.RowHighlighted)
    def _highlighted(self, message: PagedTable.RowHighlighted) -> None:
        self.memory.put(_LAST, message.key)
        self._show()

    @on(PagedTable.RowPicked)
    def _picked(self, message: PagedTable.RowPicked) -> None:
        view = self._views.get(message.key)
        if view is not None:
            self.app.push_screen(LinesDialog(f"Order {message.key}", order_lines(view, 88)))

    def _show(self) -> None:
        view = self._views.get(self.order or "")
        beside = self.has_class("-beside")
        width = (self.size.width // 2 if beside else max(self.size.width, 60)) - 5
        self.query_one(LinesView).show([] if view is None else order_lines(view, width))

    # ---- what is done with an order

    def _change(self, what: str, job: Callable[[], str]) -> None:
        self.work(job, self._told, group="change", what=what, changes=True)

    def _told(self, said: str) -> None:
        self.app.notify(said, markup=False)
        self._load()

    def action_keep(self) -> None:
        """Keep what is free on the shelf for this order."""
        if self.order is None:
            return
        catalogue, order = self.desk.catalogue, self.order

        def job() -> str:
            from specdb.verbs.order_parts import reserve_parts

            done = reserve_parts(catalogue, order)
            short = f"; {len(done.short)} short" if done.short else ""
            return f"{order}: {done.pieces} pieces kept{short}"

        self._change("keep parts", job)

    def action_free(self) -> None:
        """Give the parts that are kept for it free again."""
        if self.order is None:
            return
        catalogue, order = self.desk.catalogue, self.order

        def job() -> str:
            from specdb.verbs.order_parts import release_parts

            return f"{order}: {release_parts(catalogue, order).pieces} pieces given free"

        self._change("give parts free", job)

    def action_state(self) -> None:
        """Move the order to another state."""
        view = self._views.get(self.order or "")
        if view is not None:
            now = view.order.state.replace("_", " ")
            dialog = WordDialog(f"State of {view.order.id}", _STATES, now, may_clear=False)
            self.app.push_screen(dialog, partial(self._to_state, view.order.id))

    def _to_state(self, order: str, state: str | None) -> None:
        if not state:
            return
        catalogue = self.desk.catalogue

        def job() -> str:
            from specdb.verbs.order_changes import set_order_state

            done = set_order_state(catalogue, order, state)
            return "; ".join((f"{order}: {done.before} → {done.after}".replace("_", " "), *done.notes))

        self._change("change the state", job)

    def action_plan(self) -> None:
        """Plan all open orders together."""
        catalogue = self.desk.catalogue

        def job() -> AllocationAnswer:
            from specdb.verbs.allocation import plan_orders

            return plan_orders(catalogue)

        self.app.notify("Planning all open orders …", timeout=3)
        self.work(job, self._planned, group="plan", what="plan the orders")

    def _planned(self, answer: AllocationAnswer) -> None:
        self.app.push_screen(LinesDialog("The plan", plan_lines(answer, 88)))

    def action_sheets(self) -> None:
        """Write the build sheets of the order to a PDF file."""
        if self.order is None:
            return
        catalogue, order = self.desk.catalogue, self.order
        target = Path.cwd() / f"{order}.pdf"

        def job() -> str:
            from specdb.verbs.build_sheet import order_sheets, write_pdf

            write_pdf(target, order_sheets(catalogue, order), force=True)
            return f"Written: {target}"

        self._change("write the sheets", job)

    def action_build(self) -> None:
        """Go to the bench with this order."""
        view = self._views.get(self.order or "")
        if view is None or not view.units:
            return
        unit = next((u for u in view.units if not u.built), view.units[0])
        key = unit.key
        self.specdb.open_place("build", club=key.club_id, order=key.order_id, line=key.line, unit=key.unit)

    def action_standins(self) -> None:
        """Find what can stand in for a shaft that is short."""
        view = self._views.get(self.order or "")
        if view is None or not view.units:
            return
        short = [u for u in view.units if any(s.need.kind == "shaft" and s.waiting for s in u.states)]
        self.specdb.open_place("standins", club=(short or list(view.units))[0].club.id)

    # ---- forms

    def _form(self, kind: str, key: str | None, **arguments: Any) -> None:  # noqa: ANN401 (as of the form)
        from specdb.tui.form_screen import form_screen

        self.app.push_screen(form_screen(kind, key, **arguments))

    def action_edit(self) -> None:
        """Open the order in its form."""
        if self.order is not None:
            self._form("order", self.order)

    def action_new(self) -> None:
        """Enter an order."""
        self._form("order", None)

    def action_line(self) -> None:
        """Add a club or a set to the order."""
        self._form("order_line", None)

    def action_all(self) -> None:
        """Show finished orders too, or only open ones."""
        self._all = not self._all
        self._load()
