"""The fitted club with another head: fit-up of its shaft in that head, and what the club then becomes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from specdb.errors import MechanicsError
from specdb.fitup import FitQuestion, FitReport, Verdict, plan
from specdb.fitup.planner import TRIM_SETTLED
from specdb.matching.reference import Reference
from specdb.mechanics.assembly import Parts, assemble
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.mechanics.report import club_json
from specdb.records.rows import Head
from specdb.sets.head_question import LIE, LOFT, HeadQuestion
from specdb.sets.head_result import ClubWithHead
from specdb.sets.head_setting import Setup
from specdb.sets.members import SetMember


@dataclass(frozen=True, slots=True)
class Built:
    """A head in the fitted club, or why it cannot be built.

    Attributes
    ----------
    club : ClubWithHead or None
        What the club becomes.
    report : FitReport or None
        The fit-up.
    why_not, short : str
        Why it cannot be built, in full and in a few words; empty where it can.
    """

    club: ClubWithHead | None
    report: FitReport | None
    why_not: str = ""
    short: str = ""


def build_with(
    asked: HeadQuestion, member: SetMember, reference: Reference, head: Head, setup: Setup, most_add_g: float
) -> Built:
    """Build the fitted club with another head on paper.

    Parameters
    ----------
    asked : HeadQuestion
        What is asked.
    member : SetMember
        The fitted club.
    reference : Reference
        The same, computed.
    head : Head
        The other head.
    setup : Setup
        Its adapter, setting and bending.
    most_add_g : float
        Most weight that may be added at it, g.
    """
    question = _question(asked, member, head, setup)
    report = plan(question, asked.shelf, allowed=TRIM_SETTLED)
    if report.verdict is Verdict.DOES_NOT_FIT:
        return Built(None, report, _why(report), "the fitted shaft does not go in or is too short")
    if report.verdict is Verdict.UNKNOWN:
        missing = ", ".join(report.missing)
        return Built(None, report, f"whether the fitted shaft goes in cannot be told without {missing}", "unknown fit")
    final = question if report.prepared is None else report.prepared
    try:
        values = _numbers(_parts(member.parts, final), reference, most_add_g)
    except MechanicsError as error:
        return Built(None, report, str(error), "cannot be built")
    parts = {
        "adapter": None if final.adapter is None else final.adapter.id,
        "setting": final.setting,
        "sleeve": None if final.sleeve is None else final.sleeve.id,
        "ferrule": None if final.ferrule is None else final.ferrule.id,
    }
    return Built(ClubWithHead(values, reference.to_json(), str(report.verdict), report.preparation, parts), report)


def _question(asked: HeadQuestion, member: SetMember, head: Head, setup: Setup) -> FitQuestion:
    parts, adapter = member.parts, setup.adapter
    return FitQuestion(
        shaft=parts.shaft,
        readings=parts.readings,
        head=head,
        hand=asked.head.hand,
        adapter=adapter,
        settings=() if adapter is None else asked.shelf.settings_by_adapter.get(adapter.id, ()),
        setting=None if setup.setting is None else setup.setting.setting,
        sleeve=parts.sleeve,
        ferrule=parts.ferrule,
        grip=parts.grip,
        adhesive=member.adhesive,
        tip_trim_in=parts.tip_trim_in,
        playing_length_in=parts.playing_length_in,
        wanted_loft_deg=setup.finished.get(LOFT.key),
        wanted_lie_deg=setup.finished.get(LIE.key),
        limits=asked.limits,
    )


def _parts(fitted: Parts, built: FitQuestion) -> Parts:
    return replace(
        fitted,
        head=built.head,
        adapter=built.adapter,
        sleeve=built.sleeve,
        ferrule=built.ferrule,
        insertion_in=built.insertion_in,
        swingweight=None,
        head_add_g=None,
    )


def _numbers(parts: Parts, reference: Reference, most_add_g: float) -> dict[str, object]:
    assembly = assemble(parts)
    build = replace(assembly.build, target_moment_kg_m=reference.target_moment_kg_m, max_add_kg=most_add_g / 1000.0)
    assembly = replace(assembly, build=build)
    state = installed([assembly.model], np.array([assembly.tip_trim_in * IN]), build)
    return club_json(assembly, state)


def _why(report: FitReport) -> str:
    """The checks that fail, in words."""
    failing = [c.detail for c in report.checks if str(c.verdict) == "does_not_fit"]
    return "; ".join(dict.fromkeys(failing))
