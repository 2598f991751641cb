"""Judge a build as it is asked for, without planning anything."""

from __future__ import annotations

import math

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


def all_checks(question: FitQuestion) -> tuple[Check, ...]:
    """Every check that the question asks for, in a fixed order.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    seat = checks_tip.seat_of(question)
    made = (
        checks_parts.connection(question),
        checks_parts.hand(question),
        checks_parts.adapter_hand(question),
        checks_parts.adapter_setting(question),
        checks_parts.club_type(question),
        checks_tip.tip_trim_limit(question),
        checks_tip.insertion_depth(question, seat),
        checks_tip.tip_in_bore(question, seat),
        checks_tip.sleeve_in_bore(question, seat),
        checks_tip.bond_margin(question, seat),
        checks_build.raw_length(question, seat),
        checks_build.ferrule(question, seat),
        checks_build.grip_core(question, seat),
        checks_angles.loft_lie_bend(question),
        checks_angles.rules(question, seat),
    )
    return tuple(check for check in made if check is not None)


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
