"""What the plan of all orders says: when each is built, with what, why not; stand-ins to approve; what is proved."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from specdb.orders.demand import Standing
from specdb.orders.plan import Outcome
from specdb.tui.orders.words import wait_words
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.days import counted, short_day, wanted_words
from specdb.tui.widgets.prose import Line, heading, sentence
from specdb.units.writing import begun

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.orders.plan import Aim, Plan, PlannedOrder, PlannedUnit
    from specdb.records.rows import Order
    from specdb.verbs.orders.allocation import AllocationAnswer, AllocationOptions
    from specdb.verbs.orders.waits import Wait

BROAD = 110
_NOT_ROUND = "the fitted shaft does not go round"
_AIMS = {
    "orders_in_full": "weight of the orders in full",
    "days_late": "days late, all orders together",
    "score": "score of the stand-ins",
    "to_approve": "stand-ins to approve",
}
_AIM_HELP = {
    "orders_in_full": "most orders in full come first; wanted within a week weighs 12, within four weeks 11, else 10",
    "days_late": "then the fewest days late; an order left short counts as built a year from now",
    "score": "then the stand-ins that play nearest",
    "to_approve": "then the fewest for a person to approve",
}


@dataclass(frozen=True, slots=True)
class Proposal:
    """Stand-ins that a person is asked about together: that of one club, or all of a set.

    Attributes
    ----------
    key : str
        Which, within the plan.
    order : PlannedOrder
        The order.
    units : tuple of PlannedUnit
        The clubs.
    decided : str
        ``approved`` or ``turned down`` since the plan was made; empty where nothing is decided.
    """

    key: str
    order: PlannedOrder
    units: tuple[PlannedUnit, ...]
    decided: str = ""

    @property
    def what(self) -> str:
        """The club or the set."""
        first = self.units[0]
        return f"set {first.set_id}" if first.set_id else first.key.club_id

    @property
    def stand_in(self) -> str:
        """The shaft, or the model of a set."""
        first = self.units[0]
        return first.model or first.option.shaft_id

    @property
    def score(self) -> float:
        """Its score; of a set the root mean square of its clubs."""
        squares = [u.option.score**2 for u in self.units]
        return float((sum(squares) / len(squares)) ** 0.5)


def proposals(plan: Plan) -> list[Proposal]:
    """The stand-ins that a person has yet to approve, club by club; the clubs of a set together.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    found = []
    for order in plan.orders:
        groups: dict[str, list[PlannedUnit]] = {}
        for unit in order.to_approve:
            name = f"set {unit.set_id}" if unit.set_id else unit.key.club_id
            if all(u.key.club_id != unit.key.club_id for u in groups.get(f"{name}/{_chosen(unit)}", ())):
                groups.setdefault(f"{name}/{_chosen(unit)}", []).append(unit)
        found += [Proposal(f"{order.order_id}|{name}", order, tuple(some)) for name, some in groups.items()]
    return found


def _chosen(unit: PlannedUnit) -> str:
    return unit.model or unit.option.shaft_id


# ---- the head


def head_lines(answer: AllocationAnswer, options: AllocationOptions, said: str, width: int) -> list[Line]:
    """How many orders can be built, what it rests on, and how sure it is that no plan is better.

    Parameters
    ----------
    answer : AllocationAnswer
        The plan.
    options : AllocationOptions
        How it was made.
    said : str
        What has become of it since; empty for nothing.
    width : int
        Columns there are.
    """
    plan = answer.plan
    counts = {o: len(plan.of(o)) for o in Outcome}
    asked = len(proposals(plan))
    text = (
        f"{plan.built} of {len(plan.orders)} open orders can be built in full: {counts[Outcome.TODAY]} today, "
        f"{counts[Outcome.LATER]} later; {counts[Outcome.SHORT]} left short"
    )
    text += f"; {asked} stand-in{'s' if asked != 1 else ''} to approve." if asked else "."
    lines = sentence(text, width, part="strong")
    lines += sentence(f"{proof_words(plan)} {option_words(options)}", width, part="quiet")
    if said:
        lines += sentence(said, width, before=(("! ", "doubt"),), part="doubt")
    return lines


def proof_words(plan: Plan) -> str:
    """How sure it is that no plan is better.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    if plan.proved:
        return "Proved: no plan is better."
    if plan.stopped:
        return f"Stopped: the best plan found until then, within {100.0 * plan.gap:.2g} % of the best (3 tells more)."
    return f"Proved to within {100.0 * plan.gap:.2g} % of the best (3 tells more)."


def option_words(options: AllocationOptions) -> str:
    """What the plan rests on.

    Parameters
    ----------
    options : AllocationOptions
        How it is made.
    """
    until = "all that is expected" if options.until is None else f"what comes by {_day(options.until)}"
    propose = "near stand-ins are proposed" if options.propose else "approved stand-ins only"
    first = f"; first {', '.join(options.first)}" if options.first else ""
    return f"Counted on: {until}; {propose}{first}."


def _day(day: dt.date) -> str:
    return f"{day.day} {day:%b} {day.year}"


# ---- the orders


def plan_table(answer: AllocationAnswer, width: int) -> tuple[pa.Table, list[ColumnSpec]]:
    """Orders as rows: those that can be built today, later by day, and those left short.

    Parameters
    ----------
    answer : AllocationAnswer
        The plan.
    width : int
        Columns of the list.
    """
    import pyarrow as pa

    from specdb.tui.widgets.columns import measured

    plan, today = answer.plan, answer.today
    later = sorted(plan.of(Outcome.LATER), key=lambda o: o.day or dt.date.max)
    orders = [*plan.of(Outcome.TODAY), *later, *plan.of(Outcome.SHORT)]
    heads = [answer.orders[o.order_id] for o in orders]
    columns = {
        "when": [when_words(o, today) for o in orders],
        "id": [o.order_id for o in orders],
        "wanted": [wanted_words(h.wanted_on, today) for h in heads],
        "late": [counted(o.days_late) if o.days_late else "" for o in orders],
        "with": [with_words(o) for o in orders],
        "for": [h.customer or "" for h in heads],
    }
    rows = pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()})
    specs = [
        ColumnSpec("when", "built"),
        ColumnSpec("id", "order"),
        ColumnSpec("wanted", "wanted"),
        *([ColumnSpec("late", "late", right=True)] if any(columns["late"]) else []),
        *([ColumnSpec("for", "for", width=24)] if width >= BROAD else []),
    ]
    taken = sum(c.width + 2 for c in measured(rows, specs)) + 3  # a scroll bar too
    return rows, [*specs, ColumnSpec("with", "with", width=max(width - taken, 16))]


def when_words(order: PlannedOrder, today: dt.date) -> str:
    """When an order can be built in full.

    Parameters
    ----------
    order : PlannedOrder
        The order.
    today : date
        The day of the plan.
    """
    if order.day is None:
        return "short"
    return "today" if order.outcome is Outcome.TODAY else short_day(order.day, today)


def with_words(order: PlannedOrder) -> str:
    """With which shafts, or what is lacking.

    Parameters
    ----------
    order : PlannedOrder
        The order.
    """
    if order.outcome is Outcome.SHORT:
        lacks = [f"{lack.part[0]} {lack.part[1]}" for lack in order.lacks]
        return f"lacks {', '.join(lacks)}" if lacks else "; ".join(order.reasons)
    named = {(_chosen(u), u.option.standing) for u in order.units if u.option.standing is not Standing.FITTED}
    if not named:
        return "as fitted"
    asked = sum(s is Standing.PROPOSED for _, s in named)
    names = ", ".join(sorted(name for name, _ in named))
    return f"{asked} to approve: {names}" if asked else f"approved: {names}"


def planned_lines(order: PlannedOrder, head: Order, today: dt.date, width: int) -> list[Line]:
    """One order of the plan: why it waits or is short, and its clubs with their shafts.

    Parameters
    ----------
    order : PlannedOrder
        The order.
    head : Order
        The order itself.
    today : date
        The day of the plan.
    width : int
        Columns there are.
    """
    lines: list[Line] = [((f"{order.order_id}  ", "head"), (head.customer or "", "strong"))]
    wanted = "no day is wanted" if head.wanted_on is None else f"wanted {wanted_words(head.wanted_on, today)}"
    late = f", {counted(order.days_late)} late" if order.days_late else ""
    built = {
        Outcome.TODAY: "can be built in full today",
        Outcome.LATER: f"can be built in full on {'' if order.day is None else _day(order.day)}{late}",
        Outcome.SHORT: "is left short",
    }[order.outcome]
    lines += sentence(f"It {built}; {wanted}.", width, part="bad" if order.outcome is Outcome.SHORT else "plain")
    for reason in order.reasons:
        lines += sentence(f"{begun(reason)}.", width, before=(("- ", "plain"),))
    if order.units:
        lines += heading("Clubs")
    for unit in order.units:
        lines += unit_lines(unit, today, width)
    return lines


def unit_lines(unit: PlannedUnit, today: dt.date, width: int) -> list[Line]:
    """One club of the plan with its shaft.

    Parameters
    ----------
    unit : PlannedUnit
        The club.
    today : date
        The day of the plan.
    width : int
        Columns there are.
    """
    option = unit.option
    part = {Standing.FITTED: "plain", Standing.APPROVED: "good", Standing.PROPOSED: "doubt"}[option.standing]
    words = f"{option.shaft_id}, {_standing(option.standing)}"
    if option.standing is not Standing.FITTED:
        words += f", score {option.score:.2f}"
        if option.tip_trim_in is not None:
            words += f", tip trim {option.tip_trim_in:g} in"
    if option.preparation:
        words += f"; {', '.join(option.preparation)}"
    if unit.waits_until is not None and unit.waits_until > today:
        words += f"; waits until {short_day(unit.waits_until, today)}"
    return sentence(words, width, before=((f"{unit.key.club_id}: ", "plain"),), part=part, hanging=4)


def _standing(standing: Standing) -> str:
    return {Standing.FITTED: "as fitted", Standing.APPROVED: "approved", Standing.PROPOSED: "to approve"}[standing]


# ---- the stand-ins


def proposal_table(found: Sequence[Proposal], width: int) -> tuple[pa.Table, list[ColumnSpec]]:
    """Stand-ins to approve as rows.

    Parameters
    ----------
    found : sequence of Proposal
        The stand-ins.
    width : int
        Columns of the list.
    """
    import pyarrow as pa

    from specdb.tui.widgets.columns import measured

    columns = {
        "key": [p.key for p in found],
        "order": [p.order.order_id for p in found],
        "club": [p.what for p in found],
        "score": [f"{p.score:.2f}" for p in found],
        "decided": [p.decided or "to decide" for p in found],
        "shaft": [p.stand_in for p in found],
    }
    rows = pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()})
    specs = [
        ColumnSpec("order", "order"),
        ColumnSpec("club", "club"),
        ColumnSpec("score", "score", right=True),
        ColumnSpec("decided", "decision"),
    ]
    taken = sum(c.width + 2 for c in measured(rows, specs)) + 3  # a scroll bar too
    return rows, [*specs, ColumnSpec("shaft", "stand-in", width=max(width - taken, 16))]


def proposal_lines(
    one: Proposal, waits: Mapping[str, Sequence[Wait]], summaries: Mapping[str, str], today: dt.date, width: int
) -> list[Line]:
    """One stand-in: instead of what and why, how near it plays, what the workshop does.

    Parameters
    ----------
    one : Proposal
        The stand-in.
    waits : mapping
        What each order waits for.
    summaries : mapping of str to str
        What differs in play, by club.
    today : date
        The day of the plan.
    width : int
        Columns there are.
    """
    lines: list[Line] = [((f"{one.what}  ", "head"), (f"order {one.order.order_id}", "strong"))]
    lines += sentence(f"{one.stand_in}, score {one.score:.2f}", width, before=(("Instead: ", "quiet"),), part="strong")
    clubs = {u.key.club_id for u in one.units}
    short = [w for w in waits.get(one.order.order_id, ()) if w.kind == "shaft" and clubs & set(w.clubs)]
    for wait in short:
        words = "; ".join(wait_words(wait, None, today))
        lines += sentence(f"{wait.item_id} is short: {words}.", width, before=(("Why: ", "quiet"),))
    groups = [g for g in one.order.demand.groups if clubs & {key.club_id for key in g.units}]
    if not short:
        options = [o for g in groups for way in g.ways for o in way.options]
        approved = any(o.standing is Standing.APPROVED for o in options)
        what = "neither the fitted shaft nor what is approved goes round" if approved else _NOT_ROUND
        lines += sentence(f"{what} among all orders; others have it.", width, before=(("Why: ", "quiet"),))
    for text in dict.fromkeys(text for g in groups for text in g.dropped):
        lines += sentence(f"{text}.", width, before=(("Not taken: ", "doubt"),))
    for unit in one.units:
        trim = "" if unit.option.tip_trim_in is None else f"tip trim {unit.option.tip_trim_in:g} in"
        comes = unit.shaft_comes_on
        day = "" if comes is None else f"the shaft is expected {short_day(comes, today)}"
        work = ", ".join(t for t in (trim, *unit.option.preparation, day) if t)
        named = f"{unit.key.club_id}: {unit.option.shaft_id}" if len(one.units) > 1 else "The work"
        lines += sentence(f"{named}: {work or 'nothing beside'}.", width, hanging=4)
        said = summaries.get(unit.key.club_id)
        if said:
            lines += sentence(f"{begun(said)}.", width, before=(("    ", "plain"),))
    return lines


# ---- the proof


def proof_lines(answer: AllocationAnswer, seconds: float, width: int) -> list[Line]:
    """What was sought, what the plan reaches of it, and what is proved.

    Parameters
    ----------
    answer : AllocationAnswer
        The plan.
    seconds : float
        How long it took, s.
    width : int
        Columns there are.
    """
    plan = answer.plan
    lines: list[Line] = [((proof_words(plan).partition(" (")[0].rstrip("."), "strong"), (".", "strong"))]
    lines += sentence("What is sought, each before all that follow:", width)
    head = f"{'aim':<32}{'this plan':>12}{'at best':>12}{'gap':>9}{'time':>9}"
    lines += [(("", "plain"),), ((head, "quiet"),)]
    for aim in plan.aims:
        lines.append(((_aim_row(aim), "plain" if aim.gap == 0.0 else "doubt"),))
        lines += sentence(_AIM_HELP[aim.name], width, before=(("    ", "plain"),), part="quiet")
    lines.append((("", "plain"),))
    places = "1 place" if answer.looked == 1 else f"{answer.looked} places"
    took = f"all of it took {seconds:.1f} s, the solver {plan.seconds:.1f} s of it"
    lines += sentence(f"Stand-ins were looked for in {places}; {took}.", width)
    for text in answer.not_compared:
        lines += sentence(f"{begun(text)}.", width, before=(("Not compared: ", "doubt"),), hanging=2)
    return lines


def _aim_row(aim: Aim) -> str:
    gap = "proved" if aim.gap == 0.0 else f"{100.0 * aim.gap:.2g} %"
    return f"{_AIMS[aim.name]:<32}{aim.value:>12.6g}{aim.bound:>12.6g}{gap:>9}{aim.seconds:>7.1f} s"
