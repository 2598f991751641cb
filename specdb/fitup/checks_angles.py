"""Checks of the finished club: wanted loft and lie, Rules of Golf."""

from __future__ import annotations

from dataclasses import replace

from specdb.fitup import rules as golf
from specdb.fitup.checks_tip import Seat
from specdb.fitup.question import FitQuestion
from specdb.fitup.report import Check, CheckVerdict
from specdb.records.rows import AdapterSetting


def _setting_of(question: FitQuestion) -> AdapterSetting | None:
    adapter = question.adapter
    if adapter is None or question.setting is None:
        return None
    return next((s for s in question.settings if s.adapter_id == adapter.id and s.setting == question.setting), None)


def _bend(question: FitQuestion, angle: str) -> tuple[float | None, list[str]]:
    """Bending needed for loft or lie (None unknown) and what is missing for it."""
    wanted: float | None = getattr(question, f"wanted_{angle}_deg")
    own: float | None = getattr(question.head, f"{angle}_deg")
    if wanted is None:
        return 0.0, []
    missing = [] if own is not None else [f"head.{angle}_deg"]
    change: float | None = 0.0
    if question.adapter is not None:
        setting = _setting_of(question)
        change = None if setting is None else getattr(setting, f"{angle}_change_deg")
        if change is None:
            missing.append("adapter_setting.setting" if setting is None else f"adapter_setting.{angle}_change_deg")
    if own is None or change is None:
        return None, missing
    return wanted - own - change, []


def _settings_that_reach(question: FitQuestion) -> str:
    """Which settings of the adapter need no bending, in words."""
    if question.adapter is None:
        return ""
    good = []
    for setting in question.settings:
        if setting.adapter_id != question.adapter.id:
            continue
        bends = [_bend(replace(question, setting=setting.setting), a)[0] for a in ("loft", "lie")]
        if all(b is not None and abs(b) <= question.limits.no_bend_deg for b in bends):
            good.append(setting.setting)
    return f"; without bending at setting {' or '.join(good)}" if good else ""


def loft_lie_bend(question: FitQuestion) -> Check | None:
    """Whether wanted loft and lie can be had by bending within the head's limit; None where not asked.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    name, head, limits = "loft_lie_bend", question.head, question.limits
    asked = [a for a in ("loft", "lie") if getattr(question, f"wanted_{a}_deg") is not None]
    if not asked:
        return None
    figures: dict[str, float] = {}
    missing: list[str] = []
    for angle in asked:
        bend, lacking = _bend(question, angle)
        missing += lacking
        if bend is not None:
            figures[f"{angle}_bend_deg"] = bend
    if head.max_bend_deg is not None:
        figures["max_bend_deg"] = head.max_bend_deg
    bends = {a: figures[f"{a}_bend_deg"] for a in asked if f"{a}_bend_deg" in figures}
    needed = {a: b for a, b in bends.items() if abs(b) > limits.no_bend_deg}
    said = ", ".join(f"{a} by {b:+.2f}°" for a, b in needed.items())
    reach = _settings_that_reach(question)
    if head.max_bend_deg is not None:
        over = [a for a, b in needed.items() if abs(b) > head.max_bend_deg + 1e-9]
        if over:
            return Check(
                name,
                CheckVerdict.DOES_NOT_FIT,
                f"needs bending {said}; the head allows {head.max_bend_deg:g}°{reach}",
                figures,
                tuple(dict.fromkeys(missing)),
            )
    elif needed:
        missing.append("head.max_bend_deg")
    if missing:
        missing = list(dict.fromkeys(missing))
        need = f"needs bending {said}; " if said else ""
        return Check(
            name,
            CheckVerdict.UNKNOWN,
            f"{need}cannot be told without {', '.join(missing)}: ask the head's maker or measure{reach}",
            figures,
            tuple(missing),
        )
    if not needed:
        return Check(name, CheckVerdict.FITS, "wanted loft and lie without bending", figures)
    return Check(name, CheckVerdict.FITS, f"bend {said}, within the head's {head.max_bend_deg:g}°{reach}", figures)


def bends(check: Check | None, limit_deg: float) -> bool:
    """Whether a check of loft and lie asks for bending.

    Parameters
    ----------
    check : Check or None
        From :func:`loft_lie_bend`.
    limit_deg : float
        Differences up to this need none, deg.
    """
    if check is None:
        return False
    return any(abs(v) > limit_deg for k, v in check.figures.items() if k in ("loft_bend_deg", "lie_bend_deg"))


def rules(question: FitQuestion, seat: Seat) -> Check:
    """The build against the Rules of Golf.

    Advice only: a club outside them can be built, and is said to be outside.

    Parameters
    ----------
    question : FitQuestion
        The build.
    seat : Seat
        From :func:`specdb.fitup.checks_tip.seat_of`.
    """
    depth, ground = seat.hole.depth_in, seat.hole.to_ground_in
    found = golf.hold_against_rules(
        club_type=question.head.club_type,
        playing_length_in=question.playing_length_in,
        lie_deg=question.head.lie_deg if question.wanted_lie_deg is None else question.wanted_lie_deg,
        volume_cc=question.head.volume_cc,
        neck_in=None if depth is None or ground is None else depth + ground,
        grip_length_in=None if question.grip is None else question.grip.length_in,
        has_grip=question.grip is not None,
    )
    tail = f" ({golf.EDITION})"
    if found.breaches:
        text = "outside the Rules of Golf: " + "; ".join([*found.breaches, *found.remarks])
        return Check("rules", CheckVerdict.WARNING, text + tail, found.figures, tuple(found.missing))
    if found.missing:
        text = f"not known to conform without {', '.join(found.missing)}"
        return Check("rules", CheckVerdict.UNKNOWN, text + tail, found.figures, tuple(found.missing))
    text = "; ".join(["no figure outside the Rules of Golf", *found.remarks])
    verdict = CheckVerdict.WARNING if found.remarks else CheckVerdict.FITS
    return Check("rules", verdict, text + tail, found.figures)
