"""Judge a build as it is asked for, without planning anything."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator

from specdb.errors import UsageError
from specdb.fitup import cautions, checks_angles, checks_build, checks_parts, checks_tip
from specdb.fitup.question import FitQuestion
from specdb.fitup.report import Check, CheckVerdict, FitReport, missing_of, overall


def validate(question: FitQuestion) -> None:
    """Refuse a question that makes no sense.

    Parameters
    ----------
    question : FitQuestion
        The build.

    Raises
    ------
    UsageError
        If tip trim is negative, or insertion or length is not positive.
    """
    trim = question.tip_trim_in
    if not (math.isfinite(trim) and trim >= 0):
        raise UsageError(f"the tip trim must be 0 in or more, is {trim:g} in")
    for name, value in (("insertion", question.insertion_in), ("playing length", question.playing_length_in)):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise UsageError(f"the {name} must be more than 0 in, is {value:g} in")


_MAKERS: dict[str, Callable[[FitQuestion, checks_tip.Seat], Check | None]] = {
    "connection": lambda q, _: checks_parts.connection(q),
    "hand": lambda q, _: checks_parts.hand(q),
    "adapter_hand": lambda q, _: checks_parts.adapter_hand(q),
    "adapter_setting": lambda q, _: checks_parts.adapter_setting(q),
    "club_type": lambda q, _: checks_parts.club_type(q),
    "tip_trim_limit": lambda q, _: checks_tip.tip_trim_limit(q),
    "insertion_depth": checks_tip.insertion_depth,
    "tip_in_bore": checks_tip.tip_in_bore,
    "sleeve_in_bore": checks_tip.sleeve_in_bore,
    "bond": checks_tip.bond_margin,
    "raw_length": checks_build.raw_length,
    "ferrule": checks_build.ferrule,
    "grip_core": checks_build.grip_core,
    "loft_lie_bend": lambda q, _: checks_angles.loft_lie_bend(q),
    "rules": checks_angles.rules,
}
CHECKS = tuple(_MAKERS)


def all_checks(question: FitQuestion) -> tuple[Check, ...]:
    """Every check that the question asks for, in a fixed order.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    return tuple(check_named(question, CHECKS))


def check_named(question: FitQuestion, names: Collection[str]) -> Iterator[Check]:
    """Some of the checks, one after the other, those that the question asks for.

    Parameters
    ----------
    question : FitQuestion
        The build.
    names : collection of str
        Out of ``CHECKS``.
    """
    seat = checks_tip.seat_of(question)
    for name, make in _MAKERS.items():
        if name in names:
            check = make(question, seat)
            if check is not None:
                yield check


def cautions_of(question: FitQuestion, checks: tuple[Check, ...]) -> tuple[str, ...]:
    """Cautions of a build as asked: what its own operations bring, and every warning of the checks.

    Parameters
    ----------
    question : FitQuestion
        The build.
    checks : tuple of Check
        From :func:`all_checks`.
    """
    bending = checks_angles.bends(
        next((c for c in checks if c.name == "loft_lie_bend"), None), question.limits.no_bend_deg
    )
    own = cautions.for_question(
        question.shaft.material,
        tip_trim=question.tip_trim_in > 0,
        sleeve=question.sleeve is not None,
        adapter=question.adapter is not None,
        bending=bending,
    )
    return (*own, *(c.detail for c in checks if c.verdict is CheckVerdict.WARNING))


def check_fit(question: FitQuestion) -> FitReport:
    """Judge a build as it is asked for.

    Parameters
    ----------
    question : FitQuestion
        The build.

    Returns
    -------
    FitReport
        Without a preparation; see :func:`specdb.fitup.planner.plan` for one.

    Raises
    ------
    UsageError
        If the question makes no sense, such as a negative tip trim.
    """
    validate(question)
    checks = all_checks(question)
    return FitReport(
        verdict=overall(checks),
        checks=checks,
        missing=missing_of(checks),
        cautions=cautions_of(question, checks),
    )
