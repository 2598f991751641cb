"""Write the operations of a preparation out: dimension, part, stock, caution and cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from specdb.fitup.cautions import for_operation
from specdb.fitup.geometry import TOLERANCE_IN
from specdb.fitup.hole import hole_of
from specdb.fitup.options import COST, BoreOption
from specdb.fitup.question import FitQuestion, Shelf
from specdb.fitup.report import Check, Operation, Step
from specdb.fitup.tips import tip_arrays
from specdb.records.rows import Ferrule


@dataclass(frozen=True, slots=True)
class Candidate:
    """One preparation under trial.

    Attributes
    ----------
    option : BoreOption
        How the bore presents itself.
    tip_trim_in : float
        Tip trim, in.
    ferrule : Ferrule or None
        Another ferrule, where one is taken.
    operations : tuple of Operation
        Everything that it does, in order of work.
    """

    option: BoreOption
    tip_trim_in: float
    ferrule: Ferrule | None
    operations: tuple[Operation, ...]


def prepared(question: FitQuestion, candidate: Candidate) -> FitQuestion:
    """The build with a preparation done.

    Parameters
    ----------
    question : FitQuestion
        The build as asked.
    candidate : Candidate
        What is done to it.
    """
    option, head, insertion = candidate.option, question.head, question.insertion_in
    if option.ream is not None:
        bore = option.reamed
        if bore is None:
            tip = tip_arrays([question.shaft], question.readings)
            bore = option.bore_for(tip, candidate.tip_trim_in, question.gap_limits)
        head = replace(head, bore_dia_in=float(bore.dia_at(0.0).ravel()[0]), bore_form=bore.form)
    shallower = option.insertion_in < option.full_insertion_in - TOLERANCE_IN
    if shallower or (insertion is not None and option.full_insertion_in < insertion - TOLERANCE_IN):
        insertion = option.insertion_in
    return replace(
        question,
        head=head,
        adapter=option.adapter,
        settings=option.settings,
        sleeve=option.sleeve,
        insertion_in=insertion,
        tip_trim_in=candidate.tip_trim_in,
        ferrule=question.ferrule if candidate.ferrule is None else candidate.ferrule,
    )


def steps_of(
    question: FitQuestion, after: FitQuestion, candidate: Candidate, checks: tuple[Check, ...], shelf: Shelf
) -> tuple[Step, ...]:
    """The steps of a preparation, in order of work.

    Parameters
    ----------
    question, after : FitQuestion
        The build as asked, and with the preparation done.
    candidate : Candidate
        The preparation.
    checks : tuple of Check
        Of the prepared build.
    shelf : Shelf
        For the stock.
    """
    reached = next((c.figures for c in checks if c.name == "tip_in_bore"), {})
    return tuple(_step(operation, question, after, candidate, reached, shelf) for operation in candidate.operations)


def _step(
    operation: Operation,
    question: FitQuestion,
    after: FitQuestion,
    candidate: Candidate,
    reached: Mapping[str, float],
    shelf: Shelf,
) -> Step:
    text, figures, part = _WRITERS[operation](question, after, candidate)
    stock = None if part is None else shelf.has(*part)
    if part is not None:
        text += {True: "; in stock", False: "; not in stock", None: "; stock unknown"}[stock]
    clear = {k: reached[k] for k in ("clearance_smallest_in", "clearance_largest_in") if k in reached}
    if len(clear) == 2 and operation in (Operation.REAM, Operation.SLEEVE, Operation.OTHER_ADAPTER):
        text += (
            f"; clearance of the tip then {clear['clearance_smallest_in']:.4f} to "
            f"{clear['clearance_largest_in']:.4f} in"
        )
        figures |= clear
    cost = COST[operation]
    return Step(
        operation=operation,
        detail=text,
        part_kind=None if part is None else part[0],
        part_id=None if part is None else part[1],
        in_stock=stock,
        caution=for_operation(operation),
        cost=cost,
        figures=figures,
    )


_Written = tuple[str, dict[str, float], tuple[str, str] | None]


def _tip_trim(question: FitQuestion, after: FitQuestion, _: Candidate) -> _Written:
    old, new = question.tip_trim_in, after.tip_trim_in
    text = (
        f"tip trim {new:.3f} in instead of {old:.3f} in, {abs(new - old):.3f} in "
        f"{'more' if new > old else 'less'}: this changes how the shaft plays and is for the fitter to agree"
    )
    return text, {"tip_trim_in": new, "tip_trim_change_in": new - old}, None


def _other_adapter(_: FitQuestion, after: FitQuestion, candidate: Candidate) -> _Written:
    adapter = after.adapter
    if adapter is None:  # an option with this operation always has one
        raise AssertionError
    figures: dict[str, float] = {}
    text = f"use adapter {adapter.id}"
    if adapter.bore_dia_in is not None and adapter.bore_depth_in is not None:
        figures = {"bore_dia_in": adapter.bore_dia_in, "bore_depth_in": adapter.bore_depth_in}
        text += f", {adapter.bore_form} bore {adapter.bore_dia_in:.3f} in, {adapter.bore_depth_in:.3f} in deep"
    if candidate.option.to_ground_in is not None:
        figures["bore_to_ground_in"] = candidate.option.to_ground_in
        text += f", bottom of bore to ground {candidate.option.to_ground_in:.3f} in"
    if adapter.weight_g is not None:
        figures["weight_g"] = adapter.weight_g
        text += f", {adapter.weight_g:g} g"
    return text, figures, ("adapter", adapter.id)


def _ream(question: FitQuestion, after: FitQuestion, candidate: Candidate) -> _Written:
    old, new, ream = question.head, after.head, candidate.option.ream
    if ream is None or new.bore_dia_in is None or old.bore_dia_in is None or new.hosel_outer_dia_in is None:
        raise AssertionError  # reaming is offered only where all are known
    wall = (new.hosel_outer_dia_in - new.bore_dia_in) / 2.0
    figures = {
        "bore_dia_before_in": old.bore_dia_in,
        "bore_dia_after_in": new.bore_dia_in,
        "depth_in": ream.depth_in,
        "wall_left_in": wall,
        "wall_min_in": question.limits.wall_min_in,
    }
    if new.max_ream_dia_in is not None:
        figures["max_ream_dia_in"] = new.max_ream_dia_in
    text = (
        f"ream the {old.bore_form} bore from {old.bore_dia_in:.4f} in to {new.bore_form} "
        f"{new.bore_dia_in:.4f} in at the mouth, {ream.depth_in:.3f} in deep; at most "
        f"{new.max_ream_dia_in:.4f} in; wall left {wall:.4f} in, at least {question.limits.wall_min_in:.3f} "
        "in"
    )
    return text, figures, None


def _sleeve(_: FitQuestion, after: FitQuestion, candidate: Candidate) -> _Written:
    sleeve = after.sleeve
    if sleeve is None:  # an option with this operation always has one
        raise AssertionError
    length = candidate.option.insertion_in
    figures = {
        "inner_dia_in": sleeve.inner_dia_in,
        "outer_dia_in": sleeve.outer_dia_in,
        "cut_to_in": length,
    }
    text = (
        f"sleeve {sleeve.id}, {sleeve.inner_form} {sleeve.inner_dia_in:.4f} in inside, {sleeve.outer_form} "
        f"{sleeve.outer_dia_in:.4f} in outside, cut to {length:.3f} in"
    )
    if sleeve.weight_g is not None:
        figures["weight_g"] = sleeve.weight_g
        text += f", {sleeve.weight_g:g} g uncut"
    return text, figures, ("sleeve", sleeve.id)


def _leave_out_sleeve(question: FitQuestion, _: FitQuestion, __: Candidate) -> _Written:
    name = "" if question.sleeve is None else f" {question.sleeve.id}"
    return f"leave sleeve{name} out", {}, None


def _shallower(question: FitQuestion, after: FitQuestion, candidate: Candidate) -> _Written:
    option = candidate.option
    least = question.limits.insertion_min_in(question.head.club_type)
    figures = {
        "insertion_in": option.insertion_in,
        "insertion_before_in": option.full_insertion_in,
        "insertion_min_in": least,
    }
    depth = hole_of(after.head, after.adapter, after.limits).depth_in
    above = "" if depth is None else f", its end {depth - option.insertion_in:.3f} in above the bottom of the bore"
    text = (
        f"insert the tip {option.insertion_in:.4f} in instead of {option.full_insertion_in:.4f} in{above}; "
        f"at least {least:.2f} in; the cut length is shorter by the difference"
    )
    return text, figures, None


def _other_ferrule(_: FitQuestion, after: FitQuestion, __: Candidate) -> _Written:
    ferrule = after.ferrule
    if ferrule is None:  # a candidate with this operation always has one
        raise AssertionError
    return (
        f"ferrule {ferrule.id}, hole {ferrule.inner_dia_in:.4f} in",
        {"inner_dia_in": ferrule.inner_dia_in},
        ("ferrule", ferrule.id),
    )


_WRITERS = {
    Operation.TIP_TRIM: _tip_trim,
    Operation.OTHER_ADAPTER: _other_adapter,
    Operation.REAM: _ream,
    Operation.SLEEVE: _sleeve,
    Operation.LEAVE_OUT_SLEEVE: _leave_out_sleeve,
    Operation.SHALLOWER_INSERTION: _shallower,
    Operation.OTHER_FERRULE: _other_ferrule,
}
