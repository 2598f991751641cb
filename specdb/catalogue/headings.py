"""Which field each heading of a file means, and the unit its numbers are in."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from specdb.catalogue.cells import Sheet
from specdb.errors import ImportFileError, indefinite
from specdb.schema import Field, Table
from specdb.units import UNITS, factor, unit_label

REASON = "reason"
OTHER_REASON = "rejected_because"
_MOST_NAMED = 12
# what leaflets and other people's lists call a field; only proposed, as a wrong guess would spoil the catalogue
_TRADE_WORDS = {
    "brand": ("maker",),
    "manufacturer": ("maker",),
    "make": ("maker",),
    "name": ("model",),
    "type": ("club_type",),
    "club": ("club_type", "club_id"),
    "stiffness": ("flex",),
    "length": ("raw_length_in", "length_in", "playing_length_in"),
    "tip": ("tip_dia_in",),
    "tip_size": ("tip_dia_in",),
    "tip_diameter": ("tip_dia_in",),
    "butt_diameter": ("butt_dia_in",),
    "butt_size": ("butt_dia_in",),
    "bore": ("bore_dia_in",),
    "bore_diameter": ("bore_dia_in",),
    "hosel": ("bore_dia_in",),
    "core": ("core_dia_in",),
    "core_size": ("core_dia_in",),
    "bend_point": ("kick_label",),
    "kick_point": ("kick_label",),
    "balance_point": ("balance_from_tip_in", "balance_from_cap_in"),
    "tip_trim": ("max_tip_trim_in", "tip_trim_in"),
    "handedness": ("hand",),
    "rh_lh": ("hand",),
    "cost": ("price",),
    "swing_weight": ("swingweight",),
    "comments": ("notes",),
    "remarks": ("notes",),
}


@dataclass(frozen=True, slots=True)
class Match:
    """A column of a file and the field it fills.

    Attributes
    ----------
    column : int
        Column, counted from 0.
    field : Field
        The field.
    unit : str
        Unit that plain numbers of the column are in where it is not the field's; else empty.
    """

    column: int
    field: Field
    unit: str = ""


def reason_heading(table: Table) -> str:
    """Heading of the column that says why a row was rejected; it is passed over when the file is imported."""
    return OTHER_REASON if REASON in table.field_names else REASON


def is_reason(table: Table, heading: str) -> bool:
    """Whether a column says why a row was rejected."""
    return _plain(heading) == reason_heading(table)


def _plain(text: str) -> str:
    return re.sub(r"[^\w%°²³·/*]+", "_", text.strip().lower()).strip("_")


def match_headings(table: Table, sheet: Sheet) -> list[Match]:
    """Find the field of every heading.

    Parameters
    ----------
    table : Table
        Kind of the rows.
    sheet : Sheet
        The table of the file.

    Raises
    ------
    ImportFileError
        If a heading is not known, two mean the same field, or the headings are not in the first row.
    """
    stems = _stems(table)
    found: dict[str, Match] = {}
    unknown: list[str] = []
    for at, heading in enumerate(sheet.headings):
        if is_reason(table, heading):
            continue
        meant = _meaning(table, stems, heading)
        if meant is None:
            unknown.append(heading)
            continue
        field, unit = meant
        if field.name in found:
            first = sheet.headings[found[field.name].column]
            raise ImportFileError(
                f"{sheet.file}: the headings '{first}' and '{heading}' both mean {field.name}",
                sheet.file,
                column=heading,
            )
        found[field.name] = Match(at, field, unit)
    if unknown:
        raise ImportFileError(_unknown(table, stems, sheet, unknown), sheet.file, column=unknown[0])
    if not found:
        raise ImportFileError(f"{sheet.file} has no heading that is a field of {indefinite(table.name)}", sheet.file)
    return list(found.values())


def _stems(table: Table) -> dict[str, Field]:
    """Fields by their name without the unit, where that is no other field's name."""
    stems: dict[str, Field] = {}
    for field in table.fields:
        if field.unit and field.name.endswith(f"_{field.unit}"):
            stem = field.name[: -len(field.unit) - 1]
            if stem not in table.field_names and stem:
                stems[stem] = field
    return stems


def _meaning(table: Table, stems: Mapping[str, Field], heading: str) -> tuple[Field, str] | None:
    """Field and other unit; None where the heading is not known."""
    whole = _plain(heading)
    fields = {f.name: f for f in table.fields}
    if whole in fields:
        return fields[whole], ""
    if whole in stems:
        return stems[whole], ""
    bracket = re.fullmatch(r"(.*?)\s*[(\[]\s*([^()\[\]]*?)\s*[)\]]\s*", heading.strip(), re.DOTALL)
    if bracket:
        base = _plain(bracket[1])
        return _with_unit(table, stems.get(base) or fields.get(base), bracket[2])
    for stem, field in {**stems, **{n: fields[n] for n in table.value_fields}}.items():
        if whole.startswith(f"{stem}_"):
            meant = _with_unit(table, field, whole[len(stem) + 1 :])
            if meant is not None:
                return meant
    return None


def _with_unit(table: Table, field: Field | None, name: str) -> tuple[Field, str] | None:
    if field is None:
        return None
    if field.name in table.value_fields:
        known = any(_spelling(name, unit) for unit in set(table.value_units.values()))
        return (field, name) if known else None
    if not field.unit:
        return None
    spelling = _spelling(name, field.unit)
    if not spelling:
        return None
    return field, "" if factor(spelling, field.unit) == 1.0 else spelling


def _spelling(name: str, unit: str) -> str | None:
    """The unit's name as it is understood; None where it is no unit of the kind."""
    if _plain(name) in (_plain(unit), _plain(unit_label(unit))):
        return next(iter(UNITS[unit])) if unit in UNITS else None
    for spelling in (name, name.replace("_", " "), name.replace("_", "·")):
        if factor(spelling, unit) is not None:
            return spelling
    return None


def heading_factor(name: str, unit: str) -> float | None:
    """Factor from the unit in a heading into a stored unit; None where it is no such unit."""
    spelling = _spelling(name, unit)
    return None if spelling is None else factor(spelling, unit)


def _unknown(table: Table, stems: Mapping[str, Field], sheet: Sheet, unknown: Sequence[str]) -> str:
    for number, cells in sheet.top[1:]:
        known = sum(isinstance(c, str) and _meaning(table, stems, c) is not None for c in cells)
        if known >= 2 and known > len(sheet.headings) - len(unknown):
            return (
                f"{sheet.file}: row {sheet.top[0][0]} has no headings of {indefinite(table.name)}; the headings seem "
                f"to be in row {number}: delete the rows above it"
            )
    parts = []
    for heading in unknown[:_MOST_NAMED]:
        near = difflib.get_close_matches(_plain(heading), [*table.field_names, *stems], n=2, cutoff=0.6)
        near = list(dict.fromkeys(stems[n].name if n in stems else n for n in near))
        near = [n for n in _TRADE_WORDS.get(_plain(heading), ()) if n in table.field_names] or near
        shown = " ".join(heading.split())[:60]
        parts.append(f"'{shown}'" + (f" (did you mean {' or '.join(near)}?)" if near else ""))
    more = f" and {len(unknown) - _MOST_NAMED} more" if len(unknown) > _MOST_NAMED else ""
    plural = "s" if len(unknown) > 1 else ""
    return (
        f"{sheet.file}: {indefinite(table.name)} has no field for the heading{plural} {', '.join(parts)}{more}; "
        f"rename or delete the column{plural}. The fields are: {', '.join(table.field_names)}"
    )
