"""The weight at the head on a build sheet: put in before the glue, and checked on the dry-assembled club."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from specdb.sheets.content import Figure, WorkStep

if TYPE_CHECKING:
    from specdb.verbs.clubs.clubs import NamedClub

_NOTHING_G = 0.05


def dry_moment_in_oz(club: NamedClub, values: dict[str, Any], added_g: float) -> float:
    """Swing moment of the club as it is assembled dry, in·oz: tip trimmed, butt not cut yet, without glue and grip.

    Parameters
    ----------
    club : NamedClub
        The build, prepared.
    values : dict
        Its numbers, by the keys of ``mechanics``.
    added_g : float
        Weight at the head, g.
    """
    from specdb.mechanics.assembly import assemble
    from specdb.mechanics.club import installed
    from specdb.mechanics.constants import IN

    parts = club.parts()
    cap = 0.0 if club.grip is None or club.grip.cap_in is None else club.grip.cap_in
    length = parts.playing_length_in - cap + values["butt_trim_in"]  # the butt end, where the grip's cap will be
    dry = assemble(replace(parts, grip=None, playing_length_in=length, swingweight=None, head_add_g=added_g))
    state = installed([dry.model], [dry.tip_trim_in * IN], dry.build, with_sd=False)
    return float(state.swing_moment_in_oz[0])


def weight_step(club: NamedClub, values: dict[str, Any], usual_most_g: float) -> WorkStep:
    """The step that weighs the dry-assembled club and adds what is missing at the head.

    Parameters
    ----------
    club : NamedClub
        The build, prepared.
    values : dict
        Its numbers, by the keys of ``mechanics``.
    usual_most_g : float
        More than this at the head is cautioned of, g.
    """
    from specdb.fitup.cautions import head_weight
    from specdb.mechanics.swingweight import from_moment_in_oz

    add, comes_out, excess = values["head_add_g"], values["swingweight"], values["head_excess_g"]
    reads = from_moment_in_oz(dry_moment_in_oz(club, values, 0.0))
    how = "Dry-assembled, no grip, butt uncut, the scale reads"
    if add >= _NOTHING_G:
        full = from_moment_in_oz(dry_moment_in_oz(club, values, add))
        told = f"add {add:.1f} g at the head for {comes_out}. {how} {reads} without it, {full} with it."
        told += " In the tip or hosel it goes in before the glue; only outside on the head can it be changed later."
        caution = head_weight(add, usual_most_g)
        figures = (Figure(f"{add:.1f} g", "", f"at the head, for {comes_out}"), Figure(full, "", "dry, with it"))
        return WorkStep("Head weight", told, caution, figures, (caution,) if caution else ())
    if excess and excess > _NOTHING_G:
        told = f"the club is {excess:.1f} g at the head over the swingweight asked for: tell the fitter before the glue"
    elif club.request.swingweight is None:
        told = f"none is asked for; the swingweight comes out at {comes_out}"
    else:
        told = f"nothing to add for {comes_out}"
    return WorkStep("Head weight", f"{told}. {how} {reads}.", "", (Figure(reads, "", "dry, before the glue"),))
