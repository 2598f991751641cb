"""Sheets as PDF, set by Typst from templates beside this module.

Nothing is fetched; the fonts come with installed packages.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import fields
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from specdb.errors import InstallationError
from specdb.sheets.content import TRIM_HEADINGS, ClubSheet, SetSheet

PAPERS = {"a4": "a4", "letter": "us-letter"}
_TEMPLATES = Path(__file__).with_name("templates")


def sheets_pdf(sheets: Sequence[ClubSheet], chart: SetSheet | None = None, *, paper: str = "a4") -> bytes:
    """Sheets as one PDF: the trim chart of a set first, where there is one, then each club on a page.

    Parameters
    ----------
    sheets : sequence of ClubSheet
        The clubs.
    chart : SetSheet or None
        The set.
    paper : str
        One of ``PAPERS``.
    """
    clubs = [
        {
            **s.to_json(),
            "cautions": s.cautions_left,
            "qr": code_svg(s.code),
            "raw_weight": f"{s.raw_weight_g:.1f} g",
            "raw_within": f"± {s.raw_within_g:.1f} g",
        }
        for s in sheets
    ]
    title = f"Set {chart.set_id}" if chart is not None else ", ".join(dict.fromkeys(s.club_id for s in sheets))
    data: dict[str, Any] = {"clubs": clubs, "title": f"Build sheet: {title}", "paper": PAPERS[paper], "chart": None}
    if chart is not None:
        rows = [[str(getattr(row, f.name)) for f in fields(row)] for row in chart.rows]
        data["chart"] = {**chart.to_json(), "rows": rows, "headings": list(TRIM_HEADINGS)}
    return _compile("sheets.typ", data, sheets[0].made_on if sheets else "")


def code_svg(text: str) -> str:
    """A QR code (ISO/IEC 18004) of a text, as SVG.

    Parameters
    ----------
    text : str
        The text.
    """
    import io

    import segno

    drawn = io.BytesIO()
    segno.make(text, error="m", micro=False).save(drawn, kind="svg", border=2, xmldecl=False)
    return drawn.getvalue().decode("utf-8")


def _compile(template: str, data: Mapping[str, Any], day: str) -> bytes:
    import typst

    found = typst.compile(
        str(_TEMPLATES / template),
        root=str(_TEMPLATES),
        font_paths=_font_folders(),
        ignore_system_fonts=True,
        timestamp=_seconds(day),  # the day of the sheet, so that the same sheet is the same file
        sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
    )
    if not isinstance(found, bytes):
        raise InstallationError("Typst gave no PDF: is its version one that specdb asks for?")
    return found


def _seconds(day: str) -> int:
    moment = dt.datetime.fromisoformat(day or "2000-01-01").replace(tzinfo=dt.UTC)
    return int(moment.timestamp())


def _font_folders() -> list[str]:
    """Where DejaVu Sans lies: it comes with matplotlib, which is not imported for it."""
    spec = find_spec("matplotlib")
    if spec is None or spec.origin is None:
        return []
    return [str(Path(spec.origin).with_name("mpl-data") / "fonts" / "ttf")]
