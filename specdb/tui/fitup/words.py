"""A fit-up report in words, for the screen: verdict, preparation, what is missing, checks, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from specdb.errors import SpecdbError
from specdb.schema import load_schema
from specdb.tui.widgets.prose import Line, Piece, heading, sentence

if TYPE_CHECKING:
    from specdb.fitup.report import Check, FitReport, Step

VERDICTS: Mapping[str, tuple[str, str]] = {
    "fits": ("FITS", "good"),
    "fits_with_preparation": ("FITS WITH PREPARATION", "doubt"),
    "does_not_fit": ("DOES NOT FIT", "bad"),
    "unknown": ("UNKNOWN", "doubt"),
}
MARKS: Mapping[str, Piece] = {
    "does_not_fit": ("NO  ", "bad"),
    "unknown": ("?   ", "doubt"),
    "warning": ("mind", "doubt"),
    "fits": ("ok  ", "good"),
}
_UNITS = {
    "in_per_in": "in per in",
    "m_s": "m/s",
    "in2": "in²",
    "mpa": "MPa",
    "deg": "deg",
    "in": "in",
    "cc": "cc",
    "g": "g",
    "n": "N",
    "m": "m",
    "1": "",
}


def verdict_line(report: FitReport, width: int) -> list[Line]:
    """The verdict, and in at most one more line what it rests on.

    Parameters
    ----------
    report : FitReport
        The report.
    width : int
        Columns there are.
    """
    word, part = VERDICTS[str(report.verdict)]
    deciding = next((c for kind in ("does_not_fit", "unknown") for c in report.checks if str(c.verdict) == kind), None)
    if str(report.verdict) == "fits_with_preparation":
        steps = [str(step.operation).replace("_", " ") for step in report.preparation]
        why = f"first {', then '.join(steps)}" + ("" if deciding is None else f"; as asked: {deciding.detail}")
    elif str(report.verdict) == "fits":
        tip = report.check("tip_in_bore")
        why = "" if tip is None else tip.detail
    else:
        why = "" if deciding is None else deciding.detail
    lines = sentence(why, width, before=((f" {word} ", part), ("  ", "plain")), hanging=2)
    if len(lines) > 2:
        (text, role), *_ = lines[1]
        lines = [lines[0], ((f"{text[: width - 2]} …", role),)]
    return [*lines, *[(("", "plain"),)] * (2 - len(lines))]


def report_lines(report: FitReport, width: int, *, prepared: bool = False, figures: bool = False) -> list[Line]:
    """The whole report.

    Parameters
    ----------
    report : FitReport
        The report.
    width : int
        Columns there are.
    prepared : bool
        Show the checks of the build with the preparation done.
    figures : bool
        Write every figure of every check out.
    """
    lines: list[Line] = []
    if report.preparation:
        lines += heading("Preparation, in order of work")
        lines += _steps(report.preparation, width)
    if report.missing:
        lines += heading("What is missing")
        for name in report.missing:
            lines += sentence(field_in_words(name), width, before=(("- ", "plain"),))
    shown = report.prepared_checks if prepared else report.checks
    lines += heading("Checks with the preparation done" if prepared else "Checks")
    for check in in_order(shown):
        lines += check_lines(check, width, figures=figures)
    if report.cautions:
        lines += heading("Cautions")
        for caution in report.cautions:
            lines += sentence(caution, width, before=(("! ", "doubt"),))
    return lines[1:] if lines and lines[0] == (("", "plain"),) else lines


def in_order(checks: Iterable[Check]) -> list[Check]:
    """Checks as they are read: what stands against the build first.

    Parameters
    ----------
    checks : iterable of Check
        The checks.
    """
    return sorted(checks, key=lambda check: list(MARKS).index(str(check.verdict)))


def check_lines(check: Check, width: int, *, figures: bool) -> list[Line]:
    """One check: mark, name and detail, and its figures where they are wanted.

    Parameters
    ----------
    check : Check
        The check.
    width : int
        Columns there are.
    figures : bool
        Write its figures out.
    """
    mark = MARKS[str(check.verdict)]
    name = check.name.replace("_", " ")
    lines = sentence(check.detail, width, before=(mark, (" ", "plain"), (f"{name}: ", "strong")), hanging=5)
    if figures and check.figures:
        text = "; ".join(figure(key, value) for key, value in check.figures.items())
        lines += sentence(text, width, before=(("     ", "plain"),), part="quiet")
    return lines


def figure(key: str, value: float) -> str:
    """A figure with its name and unit in words.

    Parameters
    ----------
    key : str
        Its name, ending in its unit.
    value : float
        Its value.
    """
    for ending, unit in _UNITS.items():
        if key.endswith(f"_{ending}"):
            number = f"{value:.4f}" if unit == "in" else f"{value:.3f}"
            number = number.rstrip("0").rstrip(".") if "." in number else number
            return f"{key.removesuffix(f'_{ending}').replace('_', ' ')} {number} {unit}".rstrip()
    return f"{key.replace('_', ' ')} {value:g}"


def _steps(steps: Sequence[Step], width: int) -> list[Line]:
    lines: list[Line] = []
    for number, step in enumerate(steps, start=1):
        lines += sentence(step.weighed, width, before=((f"{number}. ", "strong"),))
        if step.caution:
            lines += sentence(step.caution, width, before=(("   ", "plain"), ("! ", "doubt")))
    return lines


def field_in_words(name: str) -> str:
    """A missing field as a person finds it in a form.

    Parameters
    ----------
    name : str
        Such as ``head.bore_depth_in``.
    """
    kind, _, field = name.partition(".")
    try:
        table = load_schema().table(kind)
        found = table.field(field) if field else None
    except SpecdbError:
        return name
    if found is None:
        return f"the {table.title.lower()}"
    description = found.description.rstrip(".")
    return f"{found.title} of the {table.title.lower()}: {description[:1].lower()}{description[1:]} ({name})"
