"""``specdb mechanics``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import club_options, club_request, json_option, set_option

if TYPE_CHECKING:
    from specdb.verbs.clubs.mechanics import MechanicsAnswer

# label, key, unit, decimals
_CUT = (
    ("tip trim", "tip_trim_in", "in", 3),
    ("butt trim", "butt_trim_in", "in", 3),
    ("cut length", "cut_length_in", "in", 3),
    ("insertion", "insertion_in", "in", 3),
    ("exposed length", "exposed_length_in", "in", 3),
)
_WEIGHT = (
    ("shaft weight, cut", "shaft_weight_g", "g", 1),
    ("shaft balance from butt", "shaft_balance_from_butt_in", "in", 2),
    ("weight added at the head", "head_add_g", "g", 1),
    ("total weight", "total_weight_g", "g", 1),
    ("swing moment", "swing_moment_in_oz", "in·oz", 2),
    ("MOI about the butt", "moi_butt_kg_cm2", "kg·cm²", 0),
)
_BEND = (
    ("frequency", "frequency_cpm", "cpm", 1),
    ("tip compliance", "tip_compliance_mm_per_n", "mm/N", 3),
    ("kick point from the mouth", "kick_point_pct", "%", 1),
    ("installed torque", "torque_deg", "deg", 2),
)
_LABEL = 26


@command(
    "mechanics",
    "specdb mechanics --club ashby-driver",
    "specdb mechanics --club ashby-driver --shaft hollin-reach-holm-60-s --tip-trim 1 --json",
    "specdb mechanics --shaft hollin-reach-holm-60-s --head brackwater-gannet-1-10.5-rh --length '44 3/4'",
    "specdb mechanics --set quilter-irons",
)
@club_options
@set_option
@json_option
def mechanics(as_json: bool, set_id: str | None, **given: Any) -> None:  # noqa: ANN401
    """Work out the cut, glued, gripped club in numbers, each with its standard deviation.

    Name a fitted club, or its parts and the playing length; parts named beside a club take the place of its own.
    With --set a whole fitted set: frequency against length, swingweights, weights, lofts and lies with their gaps.
    """
    if set_id is not None:
        from specdb.cli.sets import set_mechanics

        set_mechanics(set_id, given, as_json=as_json)
        return
    from specdb.verbs.clubs.mechanics import mechanics_of

    answer = mechanics_of(settings().open(), club_request(given))
    if as_json:
        output.emit_json(answer.to_json())
    else:
        write(answer)


def write(answer: MechanicsAnswer) -> None:
    """Write a club in numbers for a person.

    Parameters
    ----------
    answer : MechanicsAnswer
        The answer.
    """
    values, sd = answer.values, answer.values["sd"]
    output.title(title(answer))
    output.section("Cut")
    for row in _CUT:
        _figure(*row, values, sd)
    output.section("Weight and balance")
    for row in _WEIGHT:
        _figure(*row, values, sd)
    points = sd.get("swingweight")
    spread = f" ± {output.number(points, 1)} points" if points and points >= 0.05 else ""
    output.line(f"  {'swingweight':<{_LABEL}} {values['swingweight']:>9}{spread}")
    output.section("Stiffness and twist")
    for row in _BEND:
        _figure(*row, values, sd)
        if row[1] == "frequency_cpm":
            clamp = f"clamped over {output.number(values['clamp_in'])} in"
            measured = answer.measured_frequency_cpm
            said = f"; measured on the fitted club: {output.number(measured, 1)} cpm" if measured else ""
            output.sentence(clamp + said, indent="    ")
    for zone, name in (("tip", "tip third"), ("mid", "middle third"), ("butt", "butt third")):
        _figure(f"stiffness, {name}", zone, "N·m²", 1, values["zone_ei_n_m2"], sd["zone_ei_n_m2"])
    if values["assumed"]:
        output.section("Assumed")
        output.bullets(values["assumed"])
    if values["cautions"]:
        output.section("Cautions")
        output.bullets(values["cautions"])


def title(answer: MechanicsAnswer) -> str:
    """The club in one line.

    Parameters
    ----------
    answer : MechanicsAnswer
        The answer.
    """
    club = answer.club
    name = f"Club {club.record.id}: " if club.record else ""
    parts = [f"shaft {club.shaft.id}", f"head {club.head.id}"]
    if club.adapter:
        parts.append(f"adapter {club.adapter.id}")
    if club.request.length_in is not None:
        parts.append(f"{output.number(club.request.length_in)} in")
    return name + ", ".join(parts)


def _figure(label: str, key: str, unit: str, decimals: int, values: dict[str, Any], sd: dict[str, Any]) -> None:
    value, spread = values.get(key), sd.get(key)
    if value is None:
        output.line(f"  {label:<{_LABEL}} {'unknown':>9}")
        return
    more = f" ± {output.number(spread, max(decimals, 1))}" if spread else ""
    output.line(f"  {label:<{_LABEL}} {output.number(value, decimals):>9}{more} {unit}")
