"""The work on one club, step by step, with dimensions: what the workshop does in which order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from specdb.sheets.content import WorkStep, both, depth

if TYPE_CHECKING:
    from specdb.fitup.report import Check, FitReport
    from specdb.verbs.clubs import NamedClub

_RAW_WEIGHT_SDS = 2.0


def work_steps(club: NamedClub, report: FitReport, values: dict[str, Any], raw: tuple[float, float]) -> list[WorkStep]:
    """Steps of the work in order.

    Parameters
    ----------
    club : NamedClub
        The build, prepared.
    report : FitReport
        The fit-up of it.
    values : dict
        Its numbers, by the keys of ``mechanics``.
    raw : tuple of float
        Raw weight of the shaft and its standard deviation, g.
    """
    from specdb.fitup.cautions import BENDING, for_operation
    from specdb.fitup.report import Operation

    weight, sd = raw
    steps = [
        WorkStep(
            "Check the parts",
            f"against the list; weigh the raw shaft: {weight:.1f} g expected, tell the fitter where it is more than "
            f"{_RAW_WEIGHT_SDS * sd:.1f} g off.",
        )
    ]
    bend = _check(report, "loft_lie_bend")
    said = bend_words(bend)
    if said:
        steps.append(WorkStep("Bend the head", f"{said}; measure before and after.", BENDING))
    for step in report.preparation:
        if step.operation != Operation.TIP_TRIM:
            place = "" if step.in_stock is not False else " (not on the shelf)"
            steps.append(WorkStep(_title(str(step.operation)), step.detail + place, step.caution))
    trim = values["tip_trim_in"]
    if trim:
        steps.append(
            WorkStep(
                "Tip trim",
                f"cut {both(trim)} off the raw tip end; measure from that end, cut square.",
                for_operation(Operation.TIP_TRIM),
            )
        )
    else:
        steps.append(WorkStep("No tip trim", "the tip end stays as it is."))
    deep = depth(values["insertion_in"])
    steps.append(
        WorkStep(
            "Abrade and dry-fit",
            f"abrade {deep} from the cut tip end, as the shaft's maker says; degrease; dry-fit, and mark that depth "
            "on the shaft.",
        )
    )
    steps.append(_glue(club, deep))
    steps.append(
        WorkStep(
            "Cut the butt",
            f"after the cure: {both(values['cut_length_in'])} from the cut tip end, that is "
            f"{both(values['exposed_length_in'])} from the mouth of the hosel; about {both(values['butt_trim_in'])} "
            "comes off. Check the playing length on the sole before cutting.",
        )
    )
    steps.append(_weight(club, values))
    steps.append(_grip(club, _check(report, "grip_core")))
    steps.append(WorkStep("Measure", "everything in the table; the club is done when each value is in, or waived."))
    return steps


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
    return WorkStep("Glue", f"{ferrule}{name} {where}, {deep} deep; align; {cure} before anybody swings it.", BOND)


def _weight(club: NamedClub, values: dict[str, Any]) -> WorkStep:
    add, aim = values["head_add_g"], values["swingweight"]
    if club.request.swingweight is None and not add:
        return WorkStep("Head weight", f"none is asked for; the swingweight comes out at {aim}.")
    told = f"add {add:.1f} g at the head for {aim}" if add >= 0.05 else f"nothing to add for {aim}"
    excess = values["head_excess_g"]
    if excess and excess > 0.05:
        told = f"the club is {excess:.1f} g at the head over the swingweight asked for: tell the fitter"
    return WorkStep("Head weight", f"{told}; weigh on the scale before it is fixed.")


def _grip(club: NamedClub, core: Check | None) -> WorkStep:
    if club.grip is None:
        return WorkStep("Grip", "none is named for this club.")
    over = None if core is None else core.figures.get("over_size_in")
    size = ""
    if over is not None:
        side = "over" if over > 0 else "under"
        size = f"; over this butt it comes out {abs(over):.3f} in {side} its size"
    return WorkStep("Grip", f"{club.grip.id}, tape and solvent as its maker says{size}.")
