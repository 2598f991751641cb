"""The work on one club, step by step, with dimensions: what the workshop does in which order."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from specdb.sheets.content import MEASURED, RAW_WEIGHT, Figure, WorkStep
from specdb.units.lengths import cut_length, depth_at_most
from specdb.units.writing import begun
from specdb.verbs.building.sheet_verdict import checks_of_build
from specdb.verbs.building.sheet_weight import weight_step

if TYPE_CHECKING:
    from specdb.fitup.report import Check, FitReport
    from specdb.verbs.building.prepared_build import PreparedBuild
    from specdb.verbs.building.raw_weight import RawWeight
    from specdb.verbs.building.sheet_verdict import SheetVerdict
    from specdb.verbs.clubs.clubs import NamedClub

PARTS = ("shaft", "head", "adapter", "sleeve", "ferrule", "grip", "adhesive")
_SEEN_IN = 1.0 / 32.0  # less of an adapter above its seat is no place to measure from


def work_steps(built: PreparedBuild, verdict: SheetVerdict, raw: RawWeight, usual_head_add_g: float) -> list[WorkStep]:
    """Steps of the work in order; where the build is refused, that nothing is to be done.

    Parameters
    ----------
    built : PreparedBuild
        The build.
    verdict : SheetVerdict
        What the sheet says of its fit-up.
    raw : RawWeight
        What the raw shaft should weigh.
    usual_head_add_g : float
        More weight than this at the head is cautioned of, g.
    """
    club, report, values = built.club, built.report, built.values
    if verdict.refused:
        told = "nothing is bent, cut or glued for it: show the fitter this sheet."
        return [WorkStep("Not to be built", told, part_kinds=PARTS)]
    first = WorkStep(
        "Check the parts",
        f"against the list; weigh the raw shaft: {raw.expected_g:.1f} g expected, tell the fitter where it "
        f"is more than {raw.within_g:.1f} g off.",
        figures=(Figure(f"{raw.expected_g:.1f} g", "", f"raw shaft, within {raw.within_g:.1f} g"),),
        part_kinds=PARTS,
        asks=RAW_WEIGHT,
    )
    weight = weight_step(club, values, usual_head_add_g)
    prepared, glue = _of_tip(club, report, values)
    before = [*_find_out(verdict), *_of_head(report), *prepared, weight]
    steps = [*before, glue, *_of_butt(club, report, values)]
    # what belongs to no single step is read before the work begins
    known = {text for step in steps for text in step.hazards}
    return [replace(first, hazards=tuple(text for text in report.cautions if text not in known)), *steps]


def _find_out(verdict: SheetVerdict) -> list[WorkStep]:
    """What is not known, before anything is done that cannot be undone."""
    if not verdict.reasons:
        return []
    return [WorkStep("Find out first", f"before anything is bent, cut or glued: {'; '.join(verdict.reasons)}.")]


def _of_head(report: FitReport) -> list[WorkStep]:
    """Bending the head, and the preparation of the bore."""
    from specdb.fitup.cautions import BENDING, metal_dust
    from specdb.fitup.report import Operation

    steps = []
    bend = _check(report, "loft_lie_bend")
    said = _bend_words(bend)
    if said:
        steps.append(
            WorkStep(
                "Bend the head", f"{said}; measure before and after.", BENDING, _bends(bend), (BENDING,), ("head",)
            )
        )
    for step in report.preparation:
        if step.operation != Operation.TIP_TRIM:
            place = "" if step.in_stock is not False else " (not on the shelf)"
            kinds = () if step.part_kind is None else (step.part_kind,)
            dusty = (metal_dust(),) if step.operation == Operation.REAM else ()
            hazards = tuple(t for t in (step.caution, *dusty) if t)
            steps.append(WorkStep(_title(str(step.operation)), step.detail + place, step.caution, (), hazards, kinds))
    return steps


def _of_tip(club: NamedClub, report: FitReport, values: dict[str, Any]) -> tuple[list[WorkStep], WorkStep]:
    """Tip trim and what makes the tip ready for the glue; and the bond with its cure."""
    from specdb.fitup.cautions import BOND, dust, for_operation
    from specdb.fitup.report import Operation

    trim, dusty = values["tip_trim_in"], dust(club.shaft.material)
    if trim:
        own = for_operation(Operation.TIP_TRIM)
        steps = [
            WorkStep(
                "Tip trim",
                f"cut {cut_length(trim)} off the raw tip end; measure from that end, cut square.",
                own,
                (figure(trim, "off the raw TIP end, measured from it"),),
                (own, *dusty),
                ("shaft",),
            )
        ]
    else:
        steps = [WorkStep("No tip trim", "the tip end stays as it is.", part_kinds=("shaft",))]
    inserted = values["insertion_in"]
    deep = depth_at_most(inserted)
    if club.sleeve is not None and Operation.SLEEVE not in {step.operation for step in report.preparation}:
        steps.append(_sleeve(club.sleeve.id, deep))
    dry = "dry-fit" if club.sleeve is None else f"dry-fit with sleeve {club.sleeve.id}"
    steps.append(
        WorkStep(
            "Abrade and dry-fit",
            f"abrade {deep} from the cut tip end, as the shaft's maker says; degrease; {dry}, and mark that depth "
            "on the shaft.",
            "",
            (_in_large(deep, "from the cut TIP end, no deeper"),),
            dusty,
            ("shaft",) if club.sleeve is None else ("shaft", "sleeve"),
        )
    )
    adapter = (for_operation(Operation.OTHER_ADAPTER),) if club.adapter is not None else ()
    sleeve = (for_operation(Operation.SLEEVE),) if club.sleeve is not None else ()
    glue = _glue(club, deep)
    return steps, replace(glue, hazards=(BOND, *(t for t in (*sleeve, *adapter) if t in report.cautions)))


def _sleeve(key: str, deep: str) -> WorkStep:
    """A sleeve that is part of the club as it was fitted."""
    from specdb.fitup.cautions import for_operation
    from specdb.fitup.report import Operation

    own = for_operation(Operation.SLEEVE)
    said = f"sleeve {key}, cut to the insertion, {deep}; bond it on both sides."
    return WorkStep("Sleeve", said, own, (_in_large(deep, "length of the sleeve"),), (own,), ("sleeve",))


def _of_butt(club: NamedClub, report: FitReport, values: dict[str, Any]) -> list[WorkStep]:
    """Butt cut, grip, and what is measured."""
    from specdb.fitup.cautions import dust

    cut = values["cut_length_in"]
    places = _seen_places(club, values["exposed_length_in"])
    seen = ", ".join(f"{cut_length(length)} from {words}" for length, words, _ in places)
    butt = WorkStep(
        "Cut the butt",
        f"after the cure: {cut_length(cut)} from the cut tip end, that is {seen}; about "
        f"{cut_length(values['butt_trim_in'])} comes off. Check the playing length on the sole before cutting.",
        "",
        (
            *(figure(length, f"from {where} to the butt") for length, _, where in places),
            figure(cut, "from the cut TIP end to the butt"),
        ),
        dust(club.shaft.material),
    )
    done = "everything in the table; the club is done when each value is in, or waived."
    measure = WorkStep("Measure", done, asks=MEASURED)
    return [butt, _grip(club, _check(report, "grip_core")), measure]


def _seen_places(club: NamedClub, exposed_in: float) -> list[tuple[float, str, str]]:
    """Where the butt can be measured from on the glued club: lengths (in), each in words and for large print.

    In an adapter the shaft ends out of sight, and the bore's mouth is the adapter's top, which may stand above its seat
    on the hosel or lie in the hosel below it.
    """
    from specdb.mechanics.cut import bored

    adapter = club.adapter
    if adapter is None:
        return [(exposed_in, "the mouth of the hosel", "the MOUTH of the hosel")]
    above = bored(club.head, adapter).above_hosel_in
    seat = (exposed_in + above, "its seat, the top of the hosel", "the adapter's SEAT, the top of the hosel,")
    if above > _SEEN_IN:
        return [(exposed_in, f"the top of adapter {adapter.id}", "the TOP of the adapter"), seat]
    return [(seat[0], f"the seat of adapter {adapter.id}, the top of the hosel", seat[2])]


def mouth_of(club: NamedClub) -> str:
    """Of what the shaft comes out: the adapter where one is fitted, else the hosel.

    Parameters
    ----------
    club : NamedClub
        The build.
    """
    return "adapter" if club.adapter is not None else "hosel"


def figure(value_in: float, where: str) -> Figure:
    """A length in large print.

    Parameters
    ----------
    value_in : float
        Length, in.
    where : str
        What it is, and from which end it is measured.
    """
    return _in_large(cut_length(value_in), where)


def _in_large(both: str, where: str) -> Figure:
    """A length that is written in two units, in large print."""
    inches, _, other = both.partition(" (")
    return Figure(inches, other.rstrip(")"), where)


def _bends(check: Check | None) -> tuple[Figure, ...]:
    if check is None:
        return ()
    bends = ((angle, check.figures.get(f"{angle}_bend_deg", 0.0)) for angle in ("loft", "lie"))
    ways = {"loft": ("weaker", "stronger"), "lie": ("more upright", "flatter")}
    return tuple(
        Figure(f"{abs(bend):.1f}°", "", f"{angle}, {ways[angle][bend < 0]}")
        for angle, bend in bends
        if abs(bend) > 0.05
    )


def _bend_words(check: Check | None) -> str:
    """What is to be bent, within a limit that is known; empty where nothing is."""
    if check is None or check.verdict != "fits":
        return ""
    found = [
        f"{angle} by {bend:+.1f}°"
        for angle in ("loft", "lie")
        if abs(bend := check.figures.get(f"{angle}_bend_deg", 0.0)) > 0.05
    ]
    if not found:
        return ""
    return f"{' and '.join(found)} (the head allows {check.figures['max_bend_deg']:g}°)"


def _title(operation: str) -> str:
    words = operation.replace("_", " ")
    return begun(words)


def _check(report: FitReport, name: str) -> Check | None:
    return next((c for c in checks_of_build(report) if c.name == name), None)


def _glue(club: NamedClub, deep: str) -> WorkStep:
    from specdb.fitup.cautions import BOND

    glue = club.adhesive
    name = "with the adhesive of the shop (none is named for this club)" if glue is None else f"with {glue.id}"
    name += "" if club.sleeve is None else f", sleeve {club.sleeve.id} bonded on both sides,"
    hours = None if glue is None else glue.cure_hours
    cure = f"let it cure {hours:g} h" if hours is not None else "let it cure as the adhesive's maker says"
    where = f"into adapter {club.adapter.id}" if club.adapter is not None else "into the hosel"
    if club.adapter is not None and club.request.setting:
        where += f", setting {club.request.setting}"
    ferrule = f"ferrule {club.ferrule.id} first, then " if club.ferrule is not None else ""
    said = f"{ferrule}{name} {where}, {deep} deep; align; {cure} before anybody swings it."
    figures = [_in_large(deep, "deep")]
    figures += [] if hours is None else [Figure(f"{hours:g} h", "", "cure before anybody swings it")]
    kinds = ("adhesive", "ferrule", "adapter", "sleeve", "head")
    return WorkStep("Glue", said, BOND, tuple(figures), (), kinds)


def _grip(club: NamedClub, core: Check | None) -> WorkStep:
    from specdb.fitup.cautions import GRIP

    if club.grip is None:
        return WorkStep("Grip", "none is named for this club.")
    over = None if core is None else core.figures.get("over_size_in")
    size = ""
    if over is not None:
        side = "over" if over > 0 else "under"
        size = f"; over this butt it comes out {abs(over):.3f} in {side} its size"
    said = f"{club.grip.id}, tape and solvent as its maker says{size}."
    return WorkStep("Grip", said, "", (), (GRIP,), ("grip",))
