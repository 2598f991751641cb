"""Plan the preparation: the shortest, then cheapest, list of allowed operations that leads to a fit.

Nothing is looked up: every way the bore can present itself (:mod:`specdb.fitup.options`), at every tip trim
the maker allows, is a candidate; those that the tip does not go in are sieved out by geometry, the rest is
tried in order of preference against *all* checks of the build, and the first that passes is the answer.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from specdb.fitup import geometry as geo
from specdb.fitup.check import all_checks, check_fit, check_named
from specdb.fitup.hole import hole_of
from specdb.fitup.options import COST, BoreOption, preparation_options
from specdb.fitup.question import FitQuestion, Shelf
from specdb.fitup.ream import reams
from specdb.fitup.report import (
    ADVISORY,
    Check,
    CheckVerdict,
    FitReport,
    Operation,
    Verdict,
    missing_of,
    overall,
)
from specdb.fitup.steps import Candidate, prepared, steps_of
from specdb.fitup.tips import tip_arrays
from specdb.records.rows import Ferrule

ALL_OPERATIONS = frozenset(Operation)
TRIM_SETTLED = ALL_OPERATIONS - {Operation.TIP_TRIM}  # for a shaft whose stiffness, so whose tip trim, was fitted
BEYOND_PREPARATION = frozenset({"hand"})


def plan(question: FitQuestion, shelf: Shelf, *, allowed: frozenset[Operation] = ALL_OPERATIONS) -> FitReport:
    """Judge a build and, where it does not fit, plan what must be done first.

    Parameters
    ----------
    question : FitQuestion
        The build as asked.
    shelf : Shelf
        Parts that may be used.
    allowed : frozenset of Operation
        Operations that may be planned; ``TRIM_SETTLED`` where the tip trim is settled.

    Returns
    -------
    FitReport
        ``checks`` are those of the build as asked; ``prepared_checks`` those with the preparation done.
        Where a number that the preparation does not touch is missing, the preparation is given and the
        verdict is ``unknown``.

    Raises
    ------
    UsageError
        If the question makes no sense, such as a negative tip trim.
    """
    asked = check_fit(question)
    if asked.verdict is not Verdict.DOES_NOT_FIT:
        return asked
    failing = _names(asked.checks, CheckVerdict.DOES_NOT_FIT)
    stuck = failing & BEYOND_PREPARATION
    if stuck:
        return _refused(question, asked, f"no preparation changes the {' or '.join(sorted(stuck))}")
    known_gaps = _gaps(asked.checks)
    almost: list[Check] = []
    for candidate in _candidates(question, shelf, allowed, "ferrule" in failing):
        after = prepared(question, candidate)
        if any(c.verdict is CheckVerdict.DOES_NOT_FIT for c in check_named(after, failing)):
            continue
        checks = all_checks(after)
        if overall(checks) is Verdict.DOES_NOT_FIT:
            continue
        if not _gaps(checks) <= known_gaps:
            almost += [c for c in checks if c.verdict is CheckVerdict.UNKNOWN and c.name not in ADVISORY]
            continue
        return _planned(question, asked, (candidate, after, checks), shelf)
    if almost:
        return _open_ended(asked, almost)
    return _refused(question, asked, _why_nothing_helps(question, shelf, failing, allowed))


def _names(checks: tuple[Check, ...], verdict: CheckVerdict) -> frozenset[str]:
    return frozenset(c.name for c in checks if c.verdict is verdict and c.name not in ADVISORY)


def _gaps(checks: tuple[Check, ...]) -> frozenset[str]:
    """Fields for want of which a binding check is unknown."""
    unknown = _names(checks, CheckVerdict.UNKNOWN)
    return frozenset(name for c in checks if c.name in unknown for name in c.missing)


@dataclass(frozen=True, slots=True)
class _Ranked:
    preference: tuple[object, ...]
    candidate: Candidate


def _trims(question: FitQuestion, allowed: frozenset[Operation]) -> list[float]:
    """Tip trims to try: as asked first, then every step from none to the maker's limit, nearest first."""
    asked, most, step = question.tip_trim_in, question.shaft.max_tip_trim_in, question.limits.trim_step_in
    if Operation.TIP_TRIM not in allowed:
        return [asked]
    upper = asked if most is None else most  # unknown limit: never more than asked
    grid = {round(float(k * step), 6) for k in range(int(upper / step + 1e-9) + 1)}
    grid |= {asked + k * step for k in range(-int(asked / step) - 1, int(max(upper - asked, 0.0) / step) + 1)}
    grid |= {upper}
    others = [t for t in grid if 0.0 <= t <= upper + geo.TOLERANCE_IN and abs(t - asked) > geo.TOLERANCE_IN]
    return [asked, *sorted(set(others), key=lambda t: (abs(t - asked), t))]


def _candidates(
    question: FitQuestion, shelf: Shelf, allowed: frozenset[Operation], ferrule_fails: bool
) -> Iterator[Candidate]:
    """Preparations that the tip goes in, best first."""
    limits = question.limits
    options = preparation_options(
        question.head,
        question.adapter,
        shelf,
        limits,
        gap_limits=question.gap_limits,
        insertion_in=question.insertion_in,
        sleeve=question.sleeve,
        settings=question.settings,
        setting=question.setting,
    )
    tip = tip_arrays([question.shaft], question.readings)
    trims = _trims(question, allowed)
    column = np.array(trims)[:, None]
    ranked: list[_Ranked] = []
    for option in options:
        if not allowed.issuperset(option.operations):
            continue
        codes = option.fit(tip, column, question.gap_limits)[:, 0]
        # the hole as asked may be known in part: what is missing there is missing in the question, too
        good = codes == geo.FITS
        if Operation.OTHER_ADAPTER not in option.operations:
            good |= codes == geo.NOT_KNOWN
        for i in np.flatnonzero(good):
            ranked += _with_ferrules(question, shelf, option, trims[int(i)], allowed, ferrule_fails)
    ranked.sort(key=lambda r: r.preference)
    return (r.candidate for r in ranked)


def _with_ferrules(
    question: FitQuestion,
    shelf: Shelf,
    option: BoreOption,
    trim: float,
    allowed: frozenset[Operation],
    ferrule_fails: bool,
) -> Iterator[_Ranked]:
    """A candidate with the ferrule as asked, and with every other one."""
    change = abs(trim - question.tip_trim_in)
    before = (Operation.TIP_TRIM,) if change > geo.TOLERANCE_IN else ()
    ferrules: list[Ferrule | None] = [None]
    if question.ferrule is not None and Operation.OTHER_FERRULE in allowed:
        moved = bool(before) or bool(option.operations)
        ferrules += [
            f
            for f in shelf.ferrules
            if f.status != "retired" and f.id != question.ferrule.id and (ferrule_fails or moved)
        ]
    for ferrule in ferrules:
        after = () if ferrule is None else (Operation.OTHER_FERRULE,)
        operations = (*before, *option.operations, *after)
        if not 0 < len(operations) <= question.limits.max_operations:
            continue
        cost = round(sum(COST[o] for o in operations), 9)
        stock = [option.in_stock] if option.parts else []
        stock += [] if ferrule is None else [shelf.has("ferrule", ferrule.id)]
        rank = max(({True: 0, None: 1, False: 2}[s] for s in stock), default=0)
        preference = (
            len(operations),
            cost,
            rank,
            round(change, 9),
            option.preference,
            trim,
            "" if ferrule is None else ferrule.id,
        )
        yield _Ranked(preference, Candidate(option, trim, ferrule, operations))


def _planned(
    question: FitQuestion,
    asked: FitReport,
    found: tuple[Candidate, FitQuestion, tuple[Check, ...]],
    shelf: Shelf,
) -> FitReport:
    candidate, after, checks = found
    steps = steps_of(question, after, candidate, checks, shelf)
    known = overall(checks) is Verdict.FITS
    warned = [c.detail for c in checks if c.verdict is CheckVerdict.WARNING]
    texts = [*asked.cautions, *(s.caution for s in steps), *warned]
    return FitReport(
        verdict=Verdict.FITS_WITH_PREPARATION if known else Verdict.UNKNOWN,
        checks=asked.checks,
        preparation=steps,
        missing=missing_of(checks),
        cautions=tuple(dict.fromkeys(texts)),
        prepared=after,
        prepared_checks=checks,
    )


def _closed(asked: FitReport, verdict: Verdict, check: Check) -> FitReport:
    checks = (*asked.checks, check)
    return FitReport(verdict=verdict, checks=checks, missing=missing_of(checks), cautions=asked.cautions)


def _refused(question: FitQuestion, asked: FitReport, why: str) -> FitReport:
    missing = _missing_for_reaming(question, asked)
    if missing:
        why += f"; reaming is refused without {', '.join(missing)}"
    return _closed(
        asked, Verdict.DOES_NOT_FIT, Check("preparation", CheckVerdict.DOES_NOT_FIT, why, missing=tuple(missing))
    )


def _open_ended(asked: FitReport, almost: list[Check]) -> FitReport:
    """Some preparation may do, but a number that only it needs is missing."""
    missing = missing_of(almost)
    text = f"a preparation may lead to a fit; it cannot be told without {', '.join(missing)} of the parts it takes"
    return _closed(asked, Verdict.UNKNOWN, Check("preparation", CheckVerdict.UNKNOWN, text, missing=missing))


def _missing_for_reaming(question: FitQuestion, asked: FitReport) -> list[str]:
    check = asked.check("tip_in_bore")
    tight = check is not None and "too_tight_by_in" in check.figures
    if not tight or question.adapter is not None or question.head.connection:
        return []
    return reams(question.head, hole_of(question.head, None, question.limits), question.limits)[1]


def _why_nothing_helps(
    question: FitQuestion, shelf: Shelf, failing: frozenset[str], allowed: frozenset[Operation]
) -> str:
    """What was tried, in words."""
    trims = _trims(question, allowed)
    tip = f"tip trims up to {max(trims):g} in" if len(trims) > 1 else f"the tip trim of {trims[0]:g} in as it is"
    tried = [tip, f"{len(shelf.sleeves)} sleeves"]
    if question.head.connection:
        same = sum(a.connection == question.head.connection for a in shelf.adapters)
        tried.append(f"{same} adapters of connection '{question.head.connection}'")
    elif question.head.max_ream_dia_in is not None and question.head.hosel_outer_dia_in is not None:
        most = min(
            question.head.max_ream_dia_in,
            question.head.hosel_outer_dia_in - 2.0 * question.limits.wall_min_in,
        )
        tried.append(f"reaming up to {most:.4f} in")
    least = question.limits.insertion_min_in(question.head.club_type)
    tried.append(f"insertions down to {least:.2f} in")
    names = ", ".join(name.replace("_", " ") for name in sorted(failing))
    return (
        f"no allowed preparation of up to {question.limits.max_operations} operations cures {names}: tried "
        f"{', '.join(tried)}; no tip is turned down to size"
    )
