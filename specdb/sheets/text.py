"""Sheets as plain text, for a terminal or a printer without pictures."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import fields

from specdb.sheets.content import RAW_WEIGHT, TRIM_HEADINGS, ClubSheet, SetSheet, TrimRow

WIDTH = 80
BOX = "[          ]"
_FRACTION = re.compile(r"(\d+) (\d+/\d+) in")


def club_text(sheet: ClubSheet, width: int = WIDTH) -> str:
    """A club's sheet as text.

    Parameters
    ----------
    sheet : ClubSheet
        The sheet.
    width : int
        Columns.
    """
    head = [f"BUILD SHEET  {sheet.club_id}", sheet.title]
    for name, value in (("Customer", sheet.customer), ("Order", sheet.order_ref), ("Sheet of", sheet.made_on)):
        if value:
            head.append(f"{name}: {value}")
    head.append(sheet.verdict)
    lines = [part for text in head for part in textwrap.wrap(text, width)]
    for reason in sheet.reasons:
        lines += _wrap(f"- {reason}", width, "  ")
    lines += _section("Pull")
    lines += _table(
        ("part", "id", "lies at", "on hand", "note"),
        [(p.kind, p.item_id, p.place, p.on_hand, p.note) for p in sheet.parts],
        width,
    )
    lines += _section("Work, in this order")
    for number, step in enumerate(sheet.steps, start=1):
        lines += _wrap(f"{number:>2}. {step.title}: {step.detail}", width, "    ")
        if step.asks == RAW_WEIGHT:
            lines.append(f"    Raw shaft weighs {BOX} g   Piece {BOX}")
        if step.caution:
            lines += _wrap(f"    Caution: {step.caution}", width, "    ")
    lines += _section("Expected")
    lines += _pairs([(e.name, e.value) for e in sheet.expected])
    if sheet.targets:
        lines += _section("To measure")
        lines += _table(
            ("what", "target", "tolerance", "measured"),
            [(t.name, t.target, t.tolerance, BOX) for t in sheet.targets],
            width,
        )
        lines.append("* where it is asked for")
    for title, texts in (("Cautions", sheet.cautions_left), ("Assumed or not known", sheet.notes)):
        if texts:
            lines += _section(title)
            for text in texts:
                lines += _wrap(f"- {text}", width, "  ")
    return "\n".join(lines) + "\n"


def set_text(sheet: SetSheet, width: int = WIDTH) -> str:
    """A set's sheet as text.

    Parameters
    ----------
    sheet : SetSheet
        The sheet.
    width : int
        Columns; where the chart needs more, each club takes several lines.
    """
    lines = [f"SET  {sheet.set_id}"]
    for name, value in (("Customer", sheet.customer), ("Order", sheet.order_ref), ("Sheet of", sheet.made_on)):
        if value:
            lines.append(f"{name}: {value}")
    lines += _section("Trim chart")
    lines += _table(TRIM_HEADINGS, [_row(r) for r in sheet.rows], width)
    if sheet.slope:
        lines += ["", *_wrap(sheet.slope, width, "")]
    for note in sheet.notes:
        lines += _wrap(f"- {note}", width, "  ")
    return "\n".join(lines) + "\n"


def _row(row: TrimRow) -> tuple[str, ...]:
    return tuple(str(getattr(row, f.name)) for f in fields(row))


def _section(title: str) -> list[str]:
    return ["", title.upper()]


def _wrap(text: str, width: int, hanging: str) -> list[str]:
    whole = _FRACTION.sub("\\1\u00a0\\2\u00a0in", text)  # 1 9/16 in must not be read as 9/16 in
    return [line.replace("\u00a0", " ") for line in textwrap.wrap(whole, width, subsequent_indent=hanging)]


def _pairs(pairs: Sequence[tuple[str, str]]) -> list[str]:
    widest = max((len(name) for name, _ in pairs), default=0)
    return [f"{name:<{widest}}  {value}" for name, value in pairs]


def _table(headings: Sequence[str], rows: Iterable[Sequence[str]], width: int) -> list[str]:
    """Columns where they fit; else one block of named lines a row."""
    body = [tuple(row) for row in rows]
    used = [i for i in range(len(headings)) if any(row[i] for row in body)]
    wide = [max(len(headings[i]), *(len(row[i]) for row in body)) for i in used] if body else []
    if sum(wide) + 2 * (len(wide) - 1) <= width:
        lines = ["  ".join(f"{headings[i]:<{w}}" for i, w in zip(used, wide, strict=True)).rstrip()]
        return lines + ["  ".join(f"{row[i]:<{w}}" for i, w in zip(used, wide, strict=True)).rstrip() for row in body]
    out: list[str] = []
    for row in body:
        first, *rest = [i for i in used if row[i]]
        out += _wrap(row[first], width, "  ")
        for i in rest:
            out += _wrap(f"  {headings[i]}: {row[i]}", width, "    ")
    return out
