"""Build sheets: one page a club, and a trim chart for a set."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import NotFoundError, UsageError
from specdb.orders.needs import retired_of_set
from specdb.records.rows import Club, Order, StockMove
from specdb.sheets.content import ClubSheet, Expected, Part, SetSheet, Target, TrimRow
from specdb.units.lengths import cut_length, length_in_both
from specdb.verbs.building.prepared_build import PreparedBuild, SheetRequest, aimed_moment_in_oz, prepared_build
from specdb.verbs.building.raw_weight import RawWeight, expected_raw
from specdb.verbs.building.sheet_code import UnitMeant, code_of
from specdb.verbs.building.sheet_steps import PARTS, mouth_of, work_steps
from specdb.verbs.building.sheet_verdict import sheet_verdict
from specdb.verbs.clubs.clubs import NamedClub
from specdb.verbs.clubs.fitted_angles import fitted_angles
from specdb.verbs.clubs.fitup import shelf_of
from specdb.verbs.orders.orders import order_alone

__all__ = ["SheetRequest", "club_sheet", "clubs_of_set", "order_sheets", "set_sheet", "sheet_of", "write_pdf"]


def club_sheet(catalogue: Catalogue, asked: SheetRequest, *, today: dt.date | None = None) -> ClubSheet:
    """The build sheet of one club.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    asked : SheetRequest
        Which club.
    today : date or None
        Day of the sheet; today where None.

    Raises
    ------
    NotFoundError
        If the catalogue lacks the club, a part or the order.
    BuildError, MissingDataError
        If the club cannot be built, or a measurement is missing.
    """
    with catalogue.read() as reader:
        return sheet_of(reader, asked, today or dt.date.today())  # noqa: DTZ011 (the shop's own day)


def sheet_of(reader: Reader, asked: SheetRequest, today: dt.date, *, piece: str | None = None) -> ClubSheet:
    """The build sheet of one club of an open catalogue.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    asked : SheetRequest
        Which club.
    today : date
        Day of the sheet.
    piece : str or None
        The piece of the shaft that goes in: its raw weight is not expected from its own weighing.
    """
    built = prepared_build(reader, asked)
    return _written(reader, asked, built, today, piece)


def _written(
    reader: Reader, asked: SheetRequest, built: PreparedBuild, today: dt.date, piece: str | None = None
) -> ClubSheet:
    from specdb.mechanics.assembly import assemble
    from specdb.mechanics.constants import GRAM, IN
    from specdb.mechanics.defaults import head_add_limit_g
    from specdb.sheets.drawing import Line, profile_svg
    from specdb.verbs.stiffness.installed_profiles import installed_profile

    record, club, report, values = built.record, built.club, built.report, built.values
    order: Order | None = None if asked.order is None else reader.get("order", asked.order)
    model = assemble(club.parts()).model
    raw = (model.mass_kg / GRAM, model.mass_sd_kg / GRAM)
    weight = RawWeight.of(*((expected_raw(reader, club.shaft.id, piece) if piece else None) or raw))
    profile = installed_profile(
        model,
        club.shaft.id,
        tip_trim_in=values["tip_trim_in"],
        insertion_in=values["insertion_in"],
        exposed_in=values["exposed_length_in"],
    )
    line = Line(profile.shaft_id, profile.from_hosel_in.tolist(), profile.ei_n_m2.tolist(), profile.sd_n_m2.tolist())
    verdict = sheet_verdict(club, report)
    steps = work_steps(built, verdict, weight, head_add_limit_g(record.head_add_g or 0.0))
    notes = [*built.said, *values["assumed"], *values["cautions"]]
    notes += [f"missing for the fit-up: {name}" for name in report.missing]
    return ClubSheet(
        club_id=record.id,
        title=", ".join(t for t in (record.label, record.player) if t) or record.id,
        customer="" if order is None else order.customer or "",
        order_ref="" if order is None else order.id,
        made_on=today.isoformat(),
        verdict=verdict.said,
        reasons=verdict.reasons,
        parts=tuple(_parts(reader, club, record)),
        steps=tuple(steps),
        expected=tuple(_expected(values, raw, model.raw_length_m / IN)),
        targets=() if verdict.refused else tuple(_targets(built, fitted_angles(reader, record))),
        cautions=tuple(dict.fromkeys(text for step in steps for text in step.hazards)),
        notes=tuple(dict.fromkeys(notes)),
        code=code_of(UnitMeant(record.id, asked.order, asked.line, asked.unit)),
        picture=profile_svg([line], mouth=mouth_of(club)),
        picture_caption="Stiffness along the installed shaft, with one standard deviation.",
        raw_weight_g=weight.expected_g,
        raw_within_g=weight.within_g,
    )


def order_sheets(catalogue: Catalogue, order_id: str, *, today: dt.date | None = None) -> list[ClubSheet]:
    """The sheets of all clubs of an order, in the order of its lines.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    order_id : str
        The order.
    today : date or None
        Day of the sheets.

    Raises
    ------
    UsageError
        If the order has no lines.
    """
    day = today or dt.date.today()  # noqa: DTZ011 (the shop's own day)
    with catalogue.read() as reader:
        view = order_alone(reader, order_id)
        if not view.lines:
            raise UsageError(f"order {order_id} has no lines")
        shelf = shelf_of(reader)
        asked = [SheetRequest(u.key.club_id, order=order_id, line=u.key.line, unit=u.key.unit) for u in view.units]
        return [_written(reader, a, prepared_build(reader, a, shelf=shelf), day) for a in asked]


def set_sheet(
    catalogue: Catalogue, set_id: str, *, order: str | None = None, today: dt.date | None = None
) -> tuple[SetSheet, list[ClubSheet]]:
    """The trim chart of a fitted set, and the sheets of its clubs.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    set_id : str
        The set.
    order : str or None
        Key of the order.
    today : date or None
        Day of the sheets.

    Raises
    ------
    NotFoundError
        If no club is of that set.
    """
    day = today or dt.date.today()  # noqa: DTZ011 (the shop's own day)
    with catalogue.read() as reader:
        clubs, missing = clubs_of_set(reader, set_id), retired_of_set(reader.rows("club"), set_id)
        wanted = None if order is None else reader.get("order", order)
        shelf = shelf_of(reader)
        asked = [SheetRequest(club.id, order=order) for club in clubs]
        builds = [prepared_build(reader, a, shelf=shelf) for a in asked]
        sheets = [_written(reader, a, built, day) for a, built in zip(asked, builds, strict=True)]
    slope, notes = _slope(clubs, [built.values for built in builds])
    held = [f"{s.club_id}: {s.verdict} {'; '.join(s.reasons)}" for s in sheets if s.reasons]
    chart = SetSheet(
        set_id=set_id,
        customer="" if wanted is None else wanted.customer or "",
        order_ref=order or "",
        made_on=day.isoformat(),
        rows=tuple(_trim_row(built, refused=not s.targets) for built, s in zip(builds, sheets, strict=True)),
        slope=slope,
        notes=(*([missing] if missing else []), *held, *notes),
    )
    return chart, sheets


def clubs_of_set(reader: Reader, set_id: str) -> list[Club]:
    """Clubs of a set, the longest first.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    set_id : str
        The set.

    Raises
    ------
    NotFoundError
        If no club is of that set.
    """
    everyone: list[Club] = reader.rows("club", include_retired=False)
    own = [c for c in everyone if c.set_id == set_id]
    if not own:
        raise NotFoundError("set", set_id, sorted({c.set_id for c in everyone if c.set_id})[:3])
    return sorted(own, key=lambda c: (-c.playing_length_in, c.id))


def _parts(reader: Reader, club: NamedClub, fitted: Club) -> list[Part]:
    found = []
    for kind in PARTS:
        record = getattr(club, kind)
        if record is None:
            continue
        name = " ".join(str(v) for f in ("maker", "model", "flex") if (v := getattr(record, f, None)))
        moves: list[StockMove] = reader.rows("stock_move", where=f"kind = '{kind}' and item_id = '{record.id}'")
        places: dict[str, int] = {}
        for move in moves:
            places[move.location or "?"] = places.get(move.location or "?", 0) + move.quantity
        lies = ", ".join(place for place, count in sorted(places.items()) if count > 0 and place != "?")
        on_hand = str(sum(m.quantity for m in moves)) if moves else "not booked"
        found.append(Part(kind, record.id, name, lies or "-", on_hand, _note(kind, club, fitted)))
    return found


def _note(kind: str, club: NamedClub, fitted: Club) -> str:
    if kind == "shaft" and fitted.shaft_id != club.shaft.id:
        return f"stand-in for {fitted.shaft_id}"
    if kind == "adapter" and club.request.setting:
        return f"setting {club.request.setting}"
    if kind == "head":
        angles = [f"{v:g}° {n}" for n in ("loft", "lie") if (v := getattr(club.head, f"{n}_deg")) is not None]
        return ", ".join(angles)
    return ""


def _pm(values: dict[str, Any], key: str, decimals: int, unit: str) -> str:
    value, sd = values.get(key), values["sd"].get(key)
    if value is None:
        return "not known"
    spread = f" ± {sd:.{decimals}f}" if sd else ""
    return f"{value:.{decimals}f}{spread} {unit}"


def _expected(values: dict[str, Any], raw: tuple[float, float], raw_in: float) -> list[Expected]:
    return [
        Expected("raw shaft", f"{raw[0]:.1f} ± {raw[1]:.1f} g, {raw_in:g} in"),
        Expected("cut shaft", _pm(values, "shaft_weight_g", 1, "g")),
        Expected("weight added at the head", _pm(values, "head_add_g", 1, "g")),
        Expected("swingweight", str(values["swingweight"])),
        Expected("total weight", _pm(values, "total_weight_g", 1, "g")),
        Expected(f"frequency, clamp {values['clamp_in']:g} in, no grip", _pm(values, "frequency_cpm", 1, "cpm")),
        Expected("torque", _pm(values, "torque_deg", 2, "deg")),
        Expected("MOI about the butt", _pm(values, "moi_butt_kg_cm2", 0, "kg·cm²")),
    ]


def swingweight_words(record: Club, values: dict[str, Any]) -> str:
    """The swingweight that a club is judged by, and what it comes out at where that cannot be had.

    Parameters
    ----------
    record : Club
        The fitted club.
    values : dict
        Numbers of the build, by the keys of ``mechanics``.
    """
    from specdb.mechanics.swingweight import from_moment_in_oz

    aim = from_moment_in_oz(aimed_moment_in_oz(record, values))
    comes_out = str(values["swingweight"])
    return aim if aim == comes_out else f"{aim} (comes out at {comes_out})"


def _targets(built: PreparedBuild, angles: tuple[float | None, float | None]) -> list[Target]:
    from specdb.orders.tolerances import TOLERANCES

    record, club, values = built.record, built.club, built.values
    loft, lie = angles
    grip = None if club.grip is None else club.grip.core_dia_in
    wanted = {
        "length": length_in_both(record.playing_length_in),
        "weight": f"{values['total_weight_g']:.0f} g",
        "swingweight": swingweight_words(record, values),
        "frequency": f"{values['frequency_cpm']:.0f} cpm",
        "loft": None if loft is None else f"{loft:g}°",
        "lie": None if lie is None else f"{lie:g}°",
        "grip_size": None if grip is None else "as fitted",
        "head_weight": None if club.head.weight_g is None else f"{club.head.weight_g + values['head_add_g']:.1f} g",
    }
    return [
        Target(t.title + ("" if t.required else " *"), target, t.said)
        for name, t in TOLERANCES.items()
        if (target := wanted[name]) is not None
    ]


def _trim_row(built: PreparedBuild, *, refused: bool) -> TrimRow:
    """A club in the trim chart, as it is prepared; no cut of a club that is not to be built."""
    record, club, values = built.record, built.club, built.values
    head = f"{club.head.id}" + (f" ({club.head.number})" if club.head.number else "")
    trim, butt = values["tip_trim_in"], values["butt_trim_in"]
    return TrimRow(
        club=record.label or record.id,
        head=head,
        shaft=club.shaft.id,
        tip_trim="NOT TO BE BUILT" if refused else cut_length(trim) if trim else "none",
        butt_trim="-" if refused else cut_length(butt),
        cut_length="-" if refused else cut_length(values["cut_length_in"]),
        playing_length=length_in_both(record.playing_length_in),
        swingweight=swingweight_words(record, values),
        frequency=_pm(values, "frequency_cpm", 1, "").strip(),
    )


def _slope(clubs: Sequence[Club], values: Sequence[dict[str, Any]]) -> tuple[str, list[str]]:
    """The line of frequency against length in words, fitted as in the set's mechanics, and the clubs far from it."""
    import numpy as np

    from specdb.sets.slope import line_through

    variance = np.diag([(v["sd"]["frequency_cpm"] or 0.0) ** 2 for v in values])
    frequency = np.array([v["frequency_cpm"] for v in values])
    line = line_through(np.array([c.playing_length_in for c in clubs]), frequency, variance)
    if line is None:
        return "", []
    slope = f"Frequency rises by {line.slope:.1f} cpm for each half inch that the clubs get shorter."
    far = [
        f"{c.label or c.id} lies {o:+.1f} cpm off that line" for c, o in zip(clubs, line.off, strict=True) if abs(o) > 3
    ]
    return slope, far


def write_pdf(
    path: Path, sheets: Sequence[ClubSheet], chart: SetSheet | None = None, *, paper: str = "a4", force: bool = False
) -> None:
    """Write sheets to a PDF file, all of it or nothing.

    Parameters
    ----------
    path : Path
        The file, ending in ``.pdf``.
    sheets : sequence of ClubSheet
        The clubs.
    chart : SetSheet or None
        The set.
    paper : str
        ``a4`` or ``letter``.
    force : bool
        Whether a file that is there may be overwritten.

    Raises
    ------
    UsageError
        If the file cannot or must not be written to.
    """
    from specdb.sheets.pdf import sheets_pdf

    if path.suffix.lower() != ".pdf":
        raise UsageError(f"a sheet is written as .pdf; '{path.name}' ends otherwise")
    if not path.parent.is_dir():
        raise UsageError(f"there is no folder {path.parent}")
    if path.is_dir() or (path.exists() and not force):
        raise UsageError(f"{path} is there already; name another file" + ("" if path.is_dir() else ", or use --force"))
    data = sheets_pdf(sheets, chart, paper=paper)
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
