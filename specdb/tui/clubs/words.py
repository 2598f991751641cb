"""A club in numbers, each with its doubt, as lines for the screen: one under the other, or side by side where low."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from specdb.tui.fitup.words import VERDICTS
from specdb.tui.widgets.numbers import number
from specdb.tui.widgets.prose import Line, Piece, heading, sentence
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.verbs.clubs.fitted import ClubNumbers, Recorded


@dataclass(frozen=True, slots=True)
class Row:
    """One number.

    Attributes
    ----------
    key : str
        As of :func:`specdb.verbs.clubs.mechanics.club_values`; ``zone/tip`` for a zone.
    title, short : str
        Its name, and one for narrow places.
    unit : str
        Its unit.
    decimals, sd_decimals : int
        Decimals of the number and of its doubt.
    """

    key: str
    title: str
    short: str
    unit: str
    decimals: int
    sd_decimals: int


GROUPS: tuple[tuple[str, tuple[Row, ...]], ...] = (
    (
        "Cut",
        (
            Row("cut_length_in", "cut length", "cut length", "in", 2, 2),
            Row("tip_trim_in", "tip trim", "tip trim", "in", 2, 2),
            Row("butt_trim_in", "butt trim", "butt trim", "in", 2, 2),
        ),
    ),
    (
        "Weight and swing",
        (
            Row("shaft_weight_g", "shaft, cut", "shaft", "g", 1, 1),
            Row("shaft_balance_from_butt_in", "its balance from butt", "balance", "in", 2, 2),
            Row("head_add_g", "added at the head", "at head", "g", 1, 1),
            Row("total_weight_g", "whole club", "club", "g", 1, 1),
            Row("swingweight", "swingweight", "swingweight", "", 1, 1),
            Row("moi_butt_kg_cm2", "MOI about the butt", "MOI", "kg·cm²", 0, 0),
        ),
    ),
    (
        "Stiffness and twist",
        (
            Row("frequency_cpm", "frequency", "frequency", "cpm", 1, 1),
            Row("torque_deg", "torque", "torque", "deg", 2, 2),
            Row("kick_point_pct", "kick point", "kick point", "%", 1, 1),
            Row("zone/tip", "tip third", "tip EI", "N·m²", 1, 1),
            Row("zone/mid", "middle third", "middle EI", "N·m²", 1, 1),
            Row("zone/butt", "butt third", "butt EI", "N·m²", 1, 1),
        ),
    ),
)
_BY_KEY = {row.key: row for _, rows in GROUPS for row in rows}
_GRID = (
    ("cut_length_in", "frequency_cpm", "swingweight"),
    ("tip_trim_in", "torque_deg", "head_add_g"),
    ("butt_trim_in", "kick_point_pct", "total_weight_g"),
    ("shaft_weight_g", "zone/tip", "moi_butt_kg_cm2"),
    ("shaft_balance_from_butt_in", "zone/mid", "zone/butt"),
)
GRID_LINES = len(_GRID) + 2
_LABEL = 21


def figure_of(values: Mapping[str, Any], row: Row) -> tuple[str, str]:
    """A number and its doubt, as text; the doubt is empty where there is none.

    Parameters
    ----------
    values : mapping
        As of :func:`specdb.verbs.clubs.mechanics.club_values`.
    row : Row
        Which number.
    """
    key = row.key
    zone = key.removeprefix("zone/")
    if zone != key:
        value, sd = values["zone_ei_n_m2"][zone], values["sd"]["zone_ei_n_m2"][zone]
    else:
        value, sd = values[key], values["sd"].get(key)
    text = str(value) if isinstance(value, str) else number(value, row.decimals)
    doubt = number(sd, row.sd_decimals) if sd else ""
    return text, "" if not doubt or float(doubt) == 0.0 else doubt


def number_lines(numbers: ClubNumbers, width: int) -> list[Line]:
    """A club in numbers, one under the other.

    Parameters
    ----------
    numbers : ClubNumbers
        The club.
    width : int
        Columns there are.
    """
    lines = [*_said(numbers, width), *verdict_lines(numbers, width)]
    if numbers.values is None:
        return [*lines, *_missing(numbers, width)]
    values = numbers.values
    for title, rows in GROUPS:
        lines += heading(title)
        for row in rows:
            text, doubt = figure_of(values, row)
            spread = f" ± {doubt}" if doubt else ""
            said = "points" if row.key == "swingweight" and doubt else row.unit
            lines.append(
                ((row.title.ljust(_LABEL), "quiet"), (text.rjust(9), "strong"), (f"{spread:<8} {said}", "plain"))
            )
            if row.key == "frequency_cpm":
                clamp = f"clamped over {values['clamp_in']:g} in"
                lines.append(((f"  {clamp}", "quiet"),))
    if numbers.recorded:
        lines += heading("Recorded of the fitted club")
        for recorded in numbers.recorded:
            lines += sentence(recorded_words(recorded), width, before=(_mark(recorded),), hanging=2)
    for title, said in (("Assumed", values["assumed"]), ("Cautions", values["cautions"])):
        if said:
            lines += heading(title)
            for text in said:
                lines += sentence(
                    _full(text), width, before=(("- ", "plain"),) if title == "Assumed" else (("! ", "doubt"),)
                )
    return lines


def number_grid(numbers: ClubNumbers, width: int, most: int = GRID_LINES) -> list[Line]:
    """The numbers side by side, with what was recorded, cautions and what was assumed as far as there is room.

    Parameters
    ----------
    numbers : ClubNumbers
        The club.
    width : int
        Columns there are.
    most : int
        Lines there are.
    """
    if numbers.values is None:
        found = [*_said(numbers, width), *verdict_lines(numbers, width), *_missing(numbers, width)]
        return _as_far(found, width, most)
    cells = [[_cell(numbers.values, _BY_KEY[key]) for key in keys] for keys in _GRID]
    widths = [[max(len(row[i][part]) for row in cells) for part in range(3)] for i in range(3)]
    gap = 2 if sum(map(sum, widths)) + 6 + 4 <= width else 1
    lines: list[Line] = []
    for row in cells:
        pieces: list[Piece] = []
        for (label, figure, doubt), (first, second, third) in zip(row, widths, strict=True):
            pieces += [
                (f"{label:<{first}} ", "quiet"),
                (f"{figure:>{second}} ", "strong"),
                (f"{doubt:<{third}}", "plain"),
            ]
            pieces.append((" " * gap, "plain"))
        lines.append(tuple(pieces[:-1]))
    lines += [*_said(numbers, width), *verdict_lines(numbers, width)]
    told = [recorded_words(r) for r in numbers.recorded]
    told += [*numbers.values["cautions"], *(f"assumed: {text}" for text in numbers.values["assumed"])]
    if len(lines) + 2 > most:
        lines += sentence(" ".join(map(_full, told)), width) if told else []
    else:
        for text in told:
            lines += sentence(_full(text), width, hanging=2)
    return _as_far(lines, width, most)


def _as_far(lines: list[Line], width: int, most: int) -> list[Line]:
    """Lines as far as there is room; that there are more is seen."""
    if len(lines) <= most:
        return lines
    text = "".join(piece for piece, _ in lines[most - 1]).rstrip()
    if len(text) > width - 2:
        text = text[: width - 1].rpartition(" ")[0]  # never within a word
    return [*lines[: most - 1], ((f"{text} …", "plain"),)]


def _cell(values: Mapping[str, Any], row: Row) -> tuple[str, str, str]:
    text, doubt = figure_of(values, row)
    return f"{row.short} {row.unit}".rstrip(), text, f"±{doubt}" if doubt else ""


def verdict_lines(numbers: ClubNumbers, width: int) -> list[Line]:
    """Whether the tip goes in the bore, in one line; nothing where nobody can ask yet.

    Parameters
    ----------
    numbers : ClubNumbers
        The club.
    width : int
        Columns there are.
    """
    report = numbers.report
    if report is None:
        return []
    word, part = VERDICTS[str(report.verdict)]
    steps = ", then ".join(str(s.operation).replace("_", " ") for s in report.preparation)
    missing = ", ".join(report.missing)
    more = f"first {steps}" if steps else f"without {missing}" if word == "UNKNOWN" and missing else ""
    room = width - len(word) - 10
    more = more if len(more) <= room else f"{more[: max(room - 1, 0)]}…"
    return [(("Fit-up: ", "quiet"), (word, part), (f"  {more}" if more else "", "plain"))]


def recorded_words(recorded: Recorded) -> str:
    """What the record says against what is computed, in a sentence.

    Parameters
    ----------
    recorded : Recorded
        Both figures.
    """
    off = recorded.difference
    more = (
        "as computed"
        if abs(off) < 0.05
        else f"{abs(off):.1f} {recorded.unit} {'more' if off > 0 else 'less'} than computed"
    )
    return f"{recorded.name} {recorded.recorded:.1f} {recorded.unit} recorded, {more} ({_in_doubt(recorded)})"


def _in_doubt(recorded: Recorded) -> str:
    if not recorded.sd:
        return "doubt unknown"
    times = abs(recorded.difference) / recorded.sd
    return "within its doubt" if times <= 2.0 else f"{times:.1f} times its doubt: look at both"


def _mark(recorded: Recorded) -> Piece:
    off = bool(recorded.sd) and abs(recorded.difference) > 2.0 * (recorded.sd or 0.0)
    return ("! ", "doubt") if off else ("- ", "plain")


def _said(numbers: ClubNumbers, width: int) -> list[Line]:
    return [line for text in numbers.said for line in sentence(text, width, before=(("! ", "doubt"),), hanging=2)]


def _missing(numbers: ClubNumbers, width: int) -> list[Line]:
    lines: list[Line] = [(("No numbers yet:", "doubt"),)]
    for text in numbers.missing:
        lines += sentence(text, width, before=(("- ", "plain"),))
    return lines


def _full(text: str) -> str:
    return f"{begun(text)}{'' if text.endswith(('.', '?', '!')) else '.'}"


def club_title(values: Mapping[str, Any]) -> str:
    """A fitted club in a few words.

    Parameters
    ----------
    values : mapping
        Stored values by field.
    """
    named = " ".join(str(values[n]) for n in ("player", "label") if values.get(n))
    return named or str(values.get("id") or "new club")


def rows_of_pair(one: Mapping[str, Any], other: Mapping[str, Any]) -> Iterator[tuple[Row, str, str]]:
    """Numbers of two clubs that are shown beside what is compared in units of tolerance.

    Parameters
    ----------
    one, other : mapping
        As of :func:`specdb.verbs.clubs.mechanics.club_values`.
    """
    for key in ("cut_length_in", "tip_trim_in", "butt_trim_in", "head_add_g", "swingweight"):
        row = _BY_KEY[key]
        yield row, figure_of(one, row)[0], figure_of(other, row)[0]
