"""The work on one club, step by step, with dimensions: what the workshop does in which order."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from specdb.sheets.content import MEASURED, RAW_WEIGHT, Figure, WorkStep
from specdb.units.lengths import cut_length, depth_at_most

if TYPE_CHECKING:
    from specdb.fitup.report import Check, FitReport
    from specdb.verbs.building.raw_weight import RawWeight
    from specdb.verbs.clubs.clubs import NamedClub

PARTS = ("shaft", "head", "adapter", "sleeve", "ferrule", "grip", "adhesive")


def work_steps(club: NamedClub, report: FitReport, values: dict[str, Any], raw: RawWeight) -> list[WorkStep]:
    """Steps of the work in order.

    Parameters
    ----------
    club : NamedClub
        The build, prepared.
    report : FitReport
        The fit-up of it.
    values : dict
        Its numbers, by the keys of ``mechanics``.
    raw : RawWeight
        What the raw shaft should weigh.
    """
    first = WorkStep(
        "Check the parts",
        f"against the list; weigh the raw shaft: {raw.expected_g:.1f} g expected, tell the fitter where it "
        f"is more than {raw.within_g:.1f} g off.",
        figures=(Figure(f"{raw.expected_g:.1f} g", "", f"raw shaft, within {raw.within_g:.1f} g"),),
        part_kinds=PARTS,
        asks=RAW_WEIGHT,
    )
    steps = [*_of_head(report), *_of_tip(club, report, values), *_of_butt(club, report, values)]
    # what belongs to no single step is read before the work begins
    told = {text for step in steps for text in step.hazards}
    return [replace(first, hazards=tuple(text for text in report.cautions if text not in told)), *steps]


def _of_head(report: FitReport) -> list[WorkStep]:
    """Bending the head, and the preparation of the bore."""
    from specdb.fitup.cautions import BENDING, metal_dust
    from specdb.fitup.report import Operation

    steps = []
    bend = _check(report, "loft_lie_bend")
    said = bend_words(bend)
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


def _of_tip(club: NamedClub, report: FitReport, values: dict[str, Any]) -> list[WorkStep]:
    """Tip trim, bond, and cure."""
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
    steps.append(
        WorkStep(
            "Abrade and dry-fit",
            f"abrade {deep} from the cut tip end, as the shaft's maker says; degrease; dry-fit, and mark that depth "
            "on the shaft.",
            "",
            (_in_large(deep, "from the cut TIP end, no deeper"),),
            dusty,
            ("shaft",),
        )
    )
    adapter = (for_operation(Operation.OTHER_ADAPTER),) if club.adapter is not None else ()
    sleeve = (for_operation(Operation.SLEEVE),) if club.sleeve is not None else ()
    glue = _glue(club, deep)
    return [*steps, replace(glue, hazards=(BOND, *(t for t in (*sleeve, *adapter) if t in report.cautions)))]


def _of_butt(club: NamedClub, report: FitReport, values: dict[str, Any]) -> list[WorkStep]:
    """Butt cut, head weight, grip, and what is measured."""
    from specdb.fitup.cautions import dust

    mouth = mouth_of(club)
    cut, exposed = values["cut_length_in"], values["exposed_length_in"]
    butt = WorkStep(
        "Cut the butt",
        f"after the cure: {cut_length(cut)} from the cut tip end, that is {cut_length(exposed)} from the mouth of the "
        f"{mouth}; about {cut_length(values['butt_trim_in'])} comes off. Check the playing length on the sole before "
        "cutting.",
        "",
        (
            figure(exposed, f"from the MOUTH of the {mouth} to the butt"),
            figure(cut, "from the cut TIP end to the butt"),
        ),
        dust(club.shaft.material),
    )
    done = "everything in the table; the club is done when each value is in, or waived."
    measure = WorkStep("Measure", done, asks=MEASURED)
    return [butt, _weight(club, values), _grip(club, _check(report, "grip_core")), measure]


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


def bend_words(check: Check | None) -> str:
    """What is to be bent, with the limit; empty where nothing is.

    Parameters
    ----------
    check : Check or None
        The check of loft and lie.
    """
    if check is None:
        return ""
    found = [
        f"{angle} by {bend:+.1f}°"
        for angle in ("loft", "lie")
        if abs(bend := check.figures.get(f"{angle}_bend_deg", 0.0)) > 0.05
    ]
    if not found:
        return ""
    limit = check.figures.get("max_bend_deg")
    told = f"the head allows {limit:g}°" if limit is not None else "the head's limit is unknown: ask its maker first"
    return f"{' and '.join(found)} ({told})"


def _title(operation: str) -> str:
    words = operation.replace("_", " ")
    return words[:1].upper() + words[1:]


def _check(report: FitReport, name: str) -> Check | None:
    checks = report.prepared_checks or report.checks
    return next((c for c in checks if c.name == name), None)


def _glue(club: NamedClub, deep: str) -> WorkStep:
    from specdb.fitup.cautions import BOND

    glue = club.adhesive
    name = "with the adhesive of the shop (none is named for this club)" if glue is None else f"with {glue.id}"
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


def _weight(club: NamedClub, values: dict[str, Any]) -> WorkStep:
    add, aim = values["head_add_g"], values["swingweight"]
    if club.request.swingweight is None and not add:
        return WorkStep("Head weight", f"none is asked for; the swingweight comes out at {aim}.")
    told = f"add {add:.1f} g at the head for {aim}" if add >= 0.05 else f"nothing to add for {aim}"
    excess = values["head_excess_g"]
    if excess and excess > 0.05:
        told = f"the club is {excess:.1f} g at the head over the swingweight asked for: tell the fitter"
    figures = (Figure(f"{add:.1f} g", "", f"at the head, for {aim}"),) if add >= 0.05 else ()
    return WorkStep("Head weight", f"{told}; weigh on the scale before it is fixed.", "", figures)


def _grip(club: NamedClub, core: Check | None) -> WorkStep:
    if club.grip is None:
        return WorkStep("Grip", "none is named for this club.")
    over = None if core is None else core.figures.get("over_size_in")
    size = ""
    if over is not None:
        side = "over" if over > 0 else "under"
        size = f"; over this butt it comes out {abs(over):.3f} in {side} its size"
    return WorkStep("Grip", f"{club.grip.id}, tape and solvent as its maker says{size}.", part_kinds=("grip",))
