"""The plan of all orders: when each can be built, stand-ins to approve, what is proved; then its parts are kept."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.events import Resize
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.plan.acts import PlanActs
from specdb.tui.plan.run import Planned, progress_words
from specdb.tui.plan.words import (
    head_lines,
    option_words,
    plan_table,
    planned_lines,
    proof_lines,
    proposal_lines,
    proposal_table,
)
from specdb.tui.widgets import days
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.tab_line import TabLine

if TYPE_CHECKING:
    from specdb.orders.plan import PlannedOrder
    from specdb.tui.plan.words import Proposal

ORDERS, STAND_INS, PROOF = range(3)
_BESIDE_COLUMNS = 150
_TICK_SECONDS = 0.2


class PlanScreen(PlanActs):
    """The plan of all open orders.

    Parameters
    ----------
    first : tuple of str
        Orders that are to be built in full before all others.
    """

    place = "plan"
    ACTIONS = (
        Action("plan", "p", "plan again", "Plan all open orders again."),
        Action("approve", "c", "approve", "Approve this stand-in for the club, or the set, with who and why."),
        Action("turn_down", "x", "turn down", "Turn this stand-in down, with who and why; it is not proposed again."),
        Action("standins", "s", "stand-ins", "See this club in Stand-ins, with what is on the shelf (F4)."),
        Action("reserve", "k", "keep parts", "Keep the parts of all orders that are built today, as planned."),
        Action("first", "f", "this first", "Build this order in full before all others, or no longer."),
        Action("until", "u", "until a day", "Count only on what arrives by a day."),
        Action("proposals", "a", "approved only", "Only approved stand-ins, or also propose near ones."),
        Action("order", "o", "to the order", "Go to this order in the list of orders."),
        Action("tab(0)", "1", "orders", "Show the orders.", shown=False),
        Action("tab(1)", "2", "to approve", "Show the stand-ins to approve.", shown=False),
        Action("tab(2)", "3", "proof", "Show what was sought and what is proved.", shown=False),
        Action("step(1)", "full_stop", "next", "Look at the next one.", shown=False),
        Action("step(-1)", "comma", "last", "Look at the one before.", shown=False),
        Action("back", "escape", "back", "Stop the planning; else go back."),
    )
    DEFAULT_CSS = """
    PlanScreen #head { height: auto; padding: 0 1; background: $surface; }
    PlanScreen #progress { height: 1; padding: 0 1; background: $surface; display: none; }
    PlanScreen.-running #progress { display: block; }
    PlanScreen #main { height: 1fr; }
    PlanScreen #main PagedTable { width: 1fr; height: 1fr; }
    PlanScreen #detail { height: 50%; padding: 0 1; background: $surface; border-top: solid $panel;
        scrollbar-size-vertical: 1; }
    PlanScreen #detail:focus { border-top: solid $accent; }
    PlanScreen.-beside #main { layout: horizontal; }
    PlanScreen.-beside #detail { width: 40%; height: 1fr; border-top: none; border-left: solid $panel; }
    PlanScreen.-reading #main PagedTable, PlanScreen.-proof #main PagedTable { display: none; }
    PlanScreen.-beside.-reading #main PagedTable { display: block; }
    PlanScreen.-beside.-proof #main PagedTable { display: none; }
    PlanScreen.-reading #detail, PlanScreen.-proof #detail { height: 1fr; }
    PlanScreen.-beside.-proof #detail { width: 1fr; border-left: none; }
    """

    def compose(self) -> ComposeResult:
        """Head, tabs, list and detail."""
        yield LinesView(id="head")
        yield Static("", id="progress", markup=False)
        yield TabLine(("Orders", "To approve", "Proof"))
        with Container(id="main"):
            yield PagedTable(key=("id",), empty="Planning …")
            with VerticalScroll(id="detail"):
                yield LinesView(id="words")

    def on_mount(self) -> None:
        """Plan."""
        self.set_focus(self._list)
        self.set_interval(_TICK_SECONDS, self._tick)
        self.action_plan()

    @property
    def _list(self) -> PagedTable:
        return self.query_one(PagedTable)

    @property
    def _tab(self) -> int:
        return self.query_one(TabLine).opened

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= _BESIDE_COLUMNS, "-beside")
        self.call_after_refresh(self._write)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What can be done depends on the tab, and on whether there is a plan."""
        if not super().check_action(action, parameters):
            return False
        if not self.is_mounted:
            return True
        if action in ("approve", "turn_down", "standins"):
            return self._tab == STAND_INS and self.proposal is not None
        if action in ("first", "order"):
            return self._tab != PROOF and self.planned is not None
        if action == "reserve":
            return self.plan is not None or self.running
        if action == "plan":
            return not self.running
        return True

    # ---- what is shown

    @property
    def proposal(self) -> Proposal | None:
        """The stand-in of the cursor."""
        if self._tab != STAND_INS or self.plan is None:
            return None
        key = self._list.cursor_key
        return next((p for p in self.plan.proposals if p.key == key), None)

    @property
    def planned(self) -> PlannedOrder | None:
        """The order of the cursor."""
        if self.plan is None:
            return None
        one = self.proposal
        key = one.order.order_id if one is not None else self._list.cursor_key
        return next((o for o in self.plan.answer.plan.orders if o.order_id == key), None)

    def _write(self) -> None:
        """Write everything anew."""
        self.set_class(self._tab == PROOF, "-proof")
        width = max(self.size.width - 2, 40)
        plan = self.plan
        if plan is None:
            said = self.said or ("" if self.running else "Nothing is planned yet: p plans.")
            text = f"{option_words(self.options)} {said}".strip()
            self.query_one("#head", LinesView).show([((text, "quiet"),)])
            self._list.set_empty("Planning …" if self.running else "No plan.")
            self._show()
            return
        self.query_one("#head", LinesView).show(head_lines(plan.answer, plan.options, self.said, width))
        table = self._list
        room = table.size.width or width
        if self._tab == STAND_INS:
            table.set_empty("No stand-in waits for a person to approve it.")
            table.set_table(*proposal_table(plan.proposals, room), key=("key",))
        else:
            table.set_empty("No order is open.")
            table.set_table(*plan_table(plan.answer, room), key=("id",))
        self._show()
        self.actions_changed()

    def _show(self) -> None:
        """Write the detail anew."""
        plan, width = self.plan, max((self.query_one("#detail").size.width or self.size.width) - 3, 40)
        view = self.query_one("#words", LinesView)
        today = days.shop_day()
        if plan is None:
            view.show([])
        elif self._tab == PROOF:
            view.show(proof_lines(plan.answer, plan.seconds, width))
        elif self._tab == STAND_INS:
            one = self.proposal
            if one is not None:
                self.explain(one)
            view.show([] if one is None else proposal_lines(one, plan.waits, self.summaries, today, width))
        else:
            planned = self.planned
            heads = plan.answer.orders
            lines = [] if planned is None else planned_lines(planned, heads[planned.order_id], today, width)
            view.show(lines)

    @on(PagedTable.RowHighlighted)
    def _highlighted(self) -> None:
        self.query_one("#detail", VerticalScroll).scroll_home(animate=False)
        self._show()
        self.actions_changed()

    @on(PagedTable.RowPicked)
    def _picked(self) -> None:
        self.add_class("-reading")
        self.query_one("#detail").focus()

    def action_step(self, step: int) -> None:
        """Look at another one."""
        self._list.action_move(step)

    def action_tab(self, number: int) -> None:
        """Show orders, stand-ins or the proof."""
        self.query_one(TabLine).opened = number
        self.remove_class("-reading")
        self._write()
        self.query_one("#detail").focus() if number == PROOF else self._list.focus()
        self.actions_changed()

    @on(TabLine.Chosen)
    def _tab_clicked(self, message: TabLine.Chosen) -> None:
        self.action_tab(message.number)

    def action_back(self) -> None:
        """Stop the planning; else go back."""
        if self.running:
            self.stop_planning()
        elif self.has_class("-reading"):
            self.remove_class("-reading")
            self._list.focus()
        else:
            super().action_back()

    # ---- while it is planned

    def _tick(self) -> None:
        if self.running:
            self.query_one("#progress", Static).update(progress_words(self.stage, self.seconds, self.options.seconds))

    def plan_begins(self) -> None:
        """Show that it is being planned."""
        self.set_class(True, "-running")
        self._tick()
        self._write()
        self.actions_changed()

    def plan_ends(self, plan: Planned | None) -> None:
        """Show the plan, or that it was stopped."""
        self.set_class(False, "-running")
        if plan is not None and self._tab == STAND_INS and not plan.proposals:
            self.query_one(TabLine).opened = ORDERS
        self._write()
        self.actions_changed()

    def show_decision(self, one: Proposal, decided: str) -> None:
        """Mark a stand-in as decided, and go to the next."""
        plan = self.plan
        if plan is not None:
            fresh = tuple(replace(p, decided=decided) if p.key == one.key else p for p in plan.proposals)
            self.plan = replace(plan, proposals=fresh)
        self._write()
        left = [p for p in (self.plan.proposals if self.plan is not None else ()) if not p.decided]
        if left:
            self._list.show_row(left[0].key)
