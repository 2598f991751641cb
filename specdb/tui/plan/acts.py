"""What is done with the plan of all orders: how it is made, stand-ins decided about, its parts kept."""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from specdb.errors import SpecdbError, UnitError
from specdb.tui.base import PlaceScreen
from specdb.tui.dialogs.undo import AskDialog
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.plan.run import Planned, Stage, make_plan
from specdb.tui.widgets import days
from specdb.tui.widgets.words import day, remember_who, who
from specdb.units import day_in_full, parse_day_ahead
from specdb.units.writing import begun
from specdb.verbs.orders.allocation import AllocationOptions, PlanStoppedError

if TYPE_CHECKING:
    from specdb.orders.plan import PlannedOrder
    from specdb.tui.plan.words import Proposal

_OPTIONS = "plan.options"
_LOOKED_AT = 60
_MOST_WHY, _MOST_BY = 1000, 120


class PlanActs(PlaceScreen):
    """How the plan is made and what comes of it; the screen itself shows it.

    Parameters
    ----------
    first : tuple of str
        Orders that are to be built in full before all others.
    """

    def __init__(self, first: tuple[str, ...] = ()) -> None:
        super().__init__()
        self.options = AllocationOptions(first=first)
        self.plan: Planned | None = None
        self.said = ""  # what has become of the plan since it was made
        self.stage = Stage("", 0, 1, threading.Event())
        self.summaries: dict[str, str] = {}
        self._run = 0
        self._began: float | None = None
        self._decisions = 0
        self._reserved_as = ""  # what was kept as planned
        self._outdated = False  # by what was done here since
        self._keep_after = False  # the parts are asked about once there is a new plan
        self._remembered = False
        self._why = ""  # of the last approval, offered for the next

    @property
    def running(self) -> bool:
        """Whether it is being planned."""
        return self._began is not None

    @property
    def seconds(self) -> float:
        """How long it has been planned, s."""
        return 0.0 if self._began is None else time.monotonic() - self._began

    @property
    def outdated(self) -> bool:
        """Whether the catalogue has changed since the plan was made."""
        plan = self.plan
        return plan is not None and (self._outdated or self.desk.last_change > plan.answer.change_no)

    @property
    def proposal(self) -> Proposal | None:
        """The stand-in of the cursor."""
        raise NotImplementedError

    @property
    def planned(self) -> PlannedOrder | None:
        """The order of the cursor."""
        raise NotImplementedError

    def plan_begins(self) -> None:
        """Show that it is being planned."""
        raise NotImplementedError

    def plan_ends(self, plan: Planned | None) -> None:
        """Show the plan, or that it was stopped."""
        raise NotImplementedError

    def show_decision(self, one: Proposal, decided: str) -> None:
        """Mark a stand-in as decided."""
        raise NotImplementedError

    def _write(self) -> None:
        """Write everything anew."""
        raise NotImplementedError

    def _show(self) -> None:
        """Write the detail anew."""
        raise NotImplementedError

    # ---- planning

    def action_plan(self) -> None:
        """Plan all open orders again."""
        if self.running:
            return
        if not self._remembered:
            self._remembered = True
            kept = self.memory.get(_OPTIONS, {})
            if isinstance(kept, dict):
                self.options = replace(self.options, propose=bool(kept.get("propose", True)))
        self._run += 1
        self._began = time.monotonic()
        self._decisions, self._reserved_as = 0, ""
        self.said = ""
        self.summaries = {}
        self.stage = stage = Stage("", 0, 1, threading.Event())
        catalogue, options, run = self.desk.catalogue, replace(self.options, today=days.shop_day()), self._run
        self.plan_begins()
        self.work(
            lambda: make_plan(catalogue, options, stage),
            partial(self._made, run),
            group=f"plan {run}",  # one that was stopped may still be ending
            what="plan the orders",
            failed=partial(self._failed, run),
        )

    def stop_planning(self) -> None:
        """Stop it: with the best plan found so far where the solver is at it, else with none."""
        if self.stage.text == "planning":
            self.stage.stop.set()  # its thread ends at once, with what there is
            return
        self._drop_run()
        self._keep_after = False
        self.said = "The planning was stopped: p plans again."
        self.plan_ends(None)

    def _drop_run(self) -> None:
        self.stage.stop.set()
        self._run += 1
        self._began = None

    def _renew(self) -> None:
        """Plan again with what was decided meanwhile; the old plan stays in sight until the new one is there."""
        if self.running:
            self._drop_run()
        decisions = self._decisions
        self.action_plan()
        self._decisions = decisions
        many = "1 stand-in was" if decisions == 1 else f"{decisions} stand-ins were"
        self.said = f"{many} decided about since this plan was made: a new one is being made with that."
        self._write()

    def _made(self, run: int, plan: Planned) -> None:
        if run != self._run:
            return
        self._began = None
        self._decisions, self._outdated = 0, False
        self.plan = plan
        self.said = self._since() if self.outdated else ""
        self.plan_ends(plan)
        if self._keep_after:
            self._keep_after = False
            self.action_reserve()

    def _failed(self, run: int, error: SpecdbError) -> None:
        if run != self._run:
            return
        self._began = None
        self._keep_after = False
        text = str(error)
        self.said = f"{begun(text)}."
        if self.options.first and not isinstance(error, PlanStoppedError):
            self.options = replace(self.options, first=())  # an order that was to be first is open no more
        self.plan_ends(None)

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the hook)
        """Say that the plan may not hold any more."""
        if self.plan is None or self.running or not self.is_mounted:
            return
        self.said = self._since()
        self._write()

    def _since(self) -> str:
        if self._reserved_as:
            return f"Kept as planned: {self._reserved_as}. p plans again with what is left."
        return "The catalogue has changed since this plan was made: p plans again."

    # ---- how

    def _replan(self, **changes: Any) -> None:  # noqa: ANN401 (fields of the options)
        if self.running:
            self._drop_run()
        self.options = replace(self.options, **changes)
        self.memory.put(_OPTIONS, {"propose": self.options.propose})
        self.action_plan()

    def action_proposals(self) -> None:
        """Only approved stand-ins, or also propose near ones."""
        self._replan(propose=not self.options.propose)

    def action_first(self) -> None:
        """Build this order before all others, or no longer."""
        planned = self.planned
        if planned is None:
            return
        order, first = planned.order_id, self.options.first
        self._replan(first=tuple(o for o in first if o != order) if order in first else (*first, order))

    def action_until(self) -> None:
        """Count only on what arrives by a day."""
        now = self.options.until
        dialog = WordsDialog(
            "Count on what arrives by",
            [Wanted("day", "day", "" if now is None else day(now), "31 Mar, Friday, in 3 weeks; empty for all")],
            check=_no_day,
            understood=_day_understood,
        )

        def typed(found: Mapping[str, str] | None) -> None:
            if found is not None:
                self._replan(until=parse_day_ahead(found["day"], days.shop_day()) if found["day"] else None)

        self.app.push_screen(dialog, typed)

    # ---- stand-ins

    def explain(self, one: Proposal) -> None:
        """Find out how a proposed shaft differs in play, where it is for one club.

        Parameters
        ----------
        one : Proposal
            The stand-in.
        """
        club, shaft = one.units[0].key.club_id, one.units[0].option.shaft_id
        if len(one.units) > 1 or club in self.summaries:
            return
        desk = self.desk

        def look() -> str:
            from specdb.verbs.clubs.clubs import ClubRequest
            from specdb.verbs.matching.substitutes import SearchOptions, substitutes_of

            options = SearchOptions(in_stock=True, top=_LOOKED_AT)
            answer = substitutes_of(desk.catalogue, ClubRequest(club=club), options, index=desk.index())
            return next((r.summary for r in answer.report.results if r.shaft_id == shaft), "")

        def show(summary: str) -> None:
            self.summaries[club] = summary
            self._show()

        self.work(look, show, group="explain", what="compare the shafts", failed=lambda _: None)

    def action_approve(self) -> None:
        """Approve this stand-in."""
        self._ask(approve=True)

    def action_turn_down(self) -> None:
        """Turn this stand-in down."""
        self._ask(approve=False)

    def _ask(self, *, approve: bool) -> None:
        one = self.proposal
        if one is None:
            return
        said = (
            f"{one.stand_in}, score {one.score:.2f}, goes into {one.what} instead of the fitted shaft."
            if approve
            else f"{one.stand_in} is not proposed for {one.what} again."
        )
        hint = "same feel, on the shelf" if approve else "the player did not like it"
        dialog = WordsDialog(
            f"{'Approve' if approve else 'Turn down'} for {one.what}",
            [
                Wanted("by", "who decides", who(self.memory)),
                Wanted("why", "why", self._why if approve else "", hint=hint),
            ],
            said=said,
            check=_wrong,
        )
        self.app.push_screen(dialog, partial(self._decide, one, approve))

    def _decide(self, one: Proposal, approve: bool, typed: Mapping[str, str] | None) -> None:
        if typed is None:
            return
        catalogue = self.desk.catalogue
        remember_who(self.memory, typed["by"])
        if approve:
            self._why = typed["why"]

        def keep() -> str:
            from specdb.verbs.orders.plan_approval import decide_planned

            decide_planned(catalogue, one.units, approve=approve, by=typed["by"] or None, why=typed["why"])
            return f"{one.stand_in} is {'approved' if approve else 'turned down'} for {one.what}."

        self.work(keep, partial(self._decided, one, approve), group="decide", what="keep the decision", changes=True)

    def _decided(self, one: Proposal, approve: bool, said: str) -> None:
        self._decisions += 1
        self.notify(f"{said} ^z takes it back.", title="Kept", markup=False)
        self._renew()
        self.show_decision(one, "approved" if approve else "turned down")

    def action_standins(self) -> None:
        """See this club in Stand-ins."""
        one = self.proposal
        if one is None:
            return
        set_id = one.units[0].set_id
        if set_id is None:
            self.specdb.open_place("standins", club=one.units[0].key.club_id)
        else:
            from specdb.tui.sets.standins import SetStandInsScreen

            self.app.push_screen(SetStandInsScreen(set_id))

    def action_order(self) -> None:
        """Go to this order in the list."""
        planned = self.planned
        if planned is not None:
            self.specdb.open_place("orders", order=planned.order_id)

    # ---- keeping the parts

    def action_reserve(self) -> None:
        """Keep the parts of all orders that are built today, as planned."""
        from specdb.orders.plan import Outcome

        if self.running or self.outdated:
            self._keep_after = True
            self.notify("A new plan is being made; the parts are asked about once it is there.", markup=False)
            self.action_plan()  # nothing where it is being made already
            return
        if self.plan is None:
            return
        today = self.plan.answer.plan.of(Outcome.TODAY)
        ready = {o.order_id: sum(n.quantity for _, n in o.from_shelf()) for o in today if not o.to_approve}
        ready = {order: pieces for order, pieces in ready.items() if pieces}
        asked = [o.order_id for o in today if o.to_approve]
        later = f" Not {', '.join(asked)}: a stand-in is still to be approved." if asked else ""
        if not ready:
            self.notify(f"No part is to be kept for an order that is built today.{later}", markup=False)
            return
        named = ", ".join(f"{order} ({pieces})" for order, pieces in ready.items())
        gone = [f"{kind} {item} ({unit.order_id})" for unit, (kind, item) in self.plan.answer.given_up]
        freed = f" No longer kept, as not there: {', '.join(gone)}." if gone else ""
        text = f"Keep the parts as planned for {named}, in one change?{freed}{later}"
        self.app.push_screen(AskDialog("Keep the parts", text), self._reserve)

    def _reserve(self, yes: bool | None) -> None:
        plan = self.plan
        if not yes or plan is None:
            return
        catalogue, by = self.desk.catalogue, who(self.memory) or None

        def keep() -> dict[str, int]:
            from specdb.verbs.orders.allocation import reserve_plan

            return reserve_plan(catalogue, plan.answer, by=by)

        self.work(keep, self._reserved, group="reserve", what="keep the parts", changes=True)

    def _reserved(self, kept: dict[str, int]) -> None:
        named = ", ".join(f"{order} ({pieces})" for order, pieces in kept.items())
        said = f"Kept: {named} pieces. ^z gives them free again." if kept else "Nothing more was to be kept."
        self.notify(said, markup=False, timeout=8)
        if kept:
            self._reserved_as = ", ".join(kept)
            self._outdated = True
            self.said = self._since()
            self._write()


def _no_day(typed: Mapping[str, str]) -> str:
    if not typed["day"]:
        return ""
    try:
        found: dt.date = parse_day_ahead(typed["day"], days.shop_day())
    except UnitError as error:
        text = str(error)
        return f"{begun(text)}."
    return "That day is past." if found < days.shop_day() else ""


def _day_understood(typed: Mapping[str, str]) -> str:
    if not typed["day"]:
        return ""
    try:
        return day_in_full(parse_day_ahead(typed["day"], days.shop_day()), days.shop_day())
    except UnitError:
        return ""


def _wrong(typed: Mapping[str, str]) -> str:
    if not typed["why"]:
        return "Say why, in a few words: the next one to look at this club will ask."
    if len(typed["why"]) > _MOST_WHY or len(typed["by"]) > _MOST_BY:
        return f"At most {_MOST_WHY} letters of why and {_MOST_BY} of who can be kept."
    return ""
