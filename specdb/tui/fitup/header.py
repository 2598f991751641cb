"""The lines over a fit-up: which parts and lengths are asked about, each with the key that changes it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from specdb.tui.widgets.prose import Line, Piece

if TYPE_CHECKING:
    from specdb.fitup.question import FitQuestion
    from specdb.records.rows import AdapterSetting, Head, Shaft
    from specdb.verbs.clubs.clubs import ClubRequest

KEYS = {
    "shaft": "s",
    "head": "h",
    "adapter": "a",
    "setting": "e",
    "sleeve": "v",
    "ferrule": "f",
    "adhesive": "g",
    "tip trim": "t",
    "insertion": "i",
}
STEPS = {"←": "trim(-1)", "→": "trim(1)", "[": "insert(-1)", "]": "insert(1)"}
"""Signs beside the lengths, and the action that each is for."""


def asked_lines(asked: ClubRequest, question: FitQuestion | None, full_in: float | None, width: int) -> list[Line]:
    """Parts and lengths, as many a line as fit.

    Parameters
    ----------
    asked : ClubRequest
        What is asked.
    question : FitQuestion or None
        Its records, once they are read.
    full_in : float or None
        Depth of the bore, in.
    width : int
        Columns there are.
    """
    shaft = question.shaft if question is not None and question.shaft.id == asked.shaft else None
    head = question.head if question is not None and question.head.id == asked.head else None
    setting = None if question is None else next((s for s in question.settings if s.setting == asked.setting), None)
    wide = [
        _named("shaft", _shaft_name(shaft) if shaft else asked.shaft or "none yet"),
        _named("head", _head_name(head) if head else asked.head or "none yet"),
    ]
    parts: list[Line] = []
    if asked.adapter is not None or head is None or head.connection:
        parts.append(_named("adapter", asked.adapter or "none"))
    if asked.setting is not None or (question is not None and question.settings):
        parts.append(_named("setting", _setting(asked.setting, setting)))
    parts += [_named(kind, getattr(asked, kind) or "none") for kind in ("sleeve", "ferrule", "adhesive")]
    lengths = [
        (
            *_label("tip trim"),
            (" ← ", "key"),
            (f"{asked.tip_trim_in or 0.0:.3f}", "strong"),
            (" →", "key"),
            (" in", "plain"),
        ),
        (*_label("insertion"), (" [ ", "key"), (_insertion(asked.insertion_in, full_in), "strong"), (" ]", "key")),
    ]
    return [*_flowed(wide, width), *_flowed(parts, width), *_flowed(lengths, width)]


def part_at(lines: Sequence[Line], x: int, y: int) -> str:
    """Name of the part that stands at a place, or one of the signs of :data:`STEPS`; empty where there is none.

    Parameters
    ----------
    lines : sequence of lines
        From :func:`asked_lines`.
    x, y : int
        Column and line.
    """
    if not 0 <= y < len(lines):
        return ""
    at, found = 0, ""
    for text, _ in lines[y]:
        if text.strip() in KEYS:
            found = text.strip()
        at += len(text)
        if x < at:
            return text.strip() if text.strip() in STEPS else found
    return ""


def _label(name: str) -> Line:
    return ((f"{KEYS[name]} ", "key"), (name, "quiet"))


def _named(name: str, value: str) -> Line:
    return (*_label(name), (f" {value}", "quiet" if value in ("none", "none yet") else "strong"))


def _flowed(items: Sequence[Line], width: int) -> list[Line]:
    lines: list[list[Piece]] = []
    used = 0
    for item in items:
        length = sum(len(text) for text, _ in item)
        if lines and used + 3 + length <= width:
            lines[-1] += [("   ", "plain"), *item]
            used += 3 + length
        else:
            lines.append(list(item))
            used = length
    return [tuple(line) for line in lines]


def _shaft_name(shaft: Shaft) -> str:
    words = [shaft.maker, shaft.model, shaft.flex, shaft.club_number]
    return " ".join(w for w in words if w) or shaft.id


def _head_name(head: Head) -> str:
    number = f"no. {head.number}" if (head.number or "").isdigit() else head.number
    words = [head.maker, head.model, number]
    loft = f"{head.loft_deg:g}°" if head.loft_deg is not None else ""
    return " ".join([*(w for w in words if w), *([loft] if loft else []), head.hand])


def _setting(name: str | None, setting: AdapterSetting | None) -> str:
    if name is None:
        return "none"
    changes = [] if setting is None else [("loft", setting.loft_change_deg), ("lie", setting.lie_change_deg)]
    said = [f"{what} {value:+g}°" for what, value in changes if value]
    return f"{name} ({', '.join(said)})" if said else name


def _insertion(insertion_in: float | None, full_in: float | None) -> str:
    if insertion_in is not None:
        return f"{insertion_in:.3f} in"
    return "full depth" if full_in is None else f"{full_in:.3f} in, full depth"
