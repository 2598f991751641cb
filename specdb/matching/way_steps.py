"""The preparation of one stand-in written out by the fit-up planner's own words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from specdb.fitup.cautions import for_question
from specdb.fitup.check import check_named
from specdb.fitup.options import BoreOption
from specdb.fitup.question import FitQuestion
from specdb.fitup.report import CheckVerdict, Step
from specdb.fitup.steps import Candidate, prepared, steps_of
from specdb.matching.index import MatchIndex
from specdb.matching.question import SubstituteQuestion
from specdb.matching.ways import Way
from specdb.records.rows import Shaft, ShaftReading

_LOOKED_AT = frozenset({"tip_in_bore", "ferrule", "bond"})


@dataclass(frozen=True, slots=True)
class Prepared:
    """What the workshop does for a stand-in, the tip trim apart.

    Attributes
    ----------
    steps : tuple of Step
        In order of work.
    cautions : tuple of str
        What to mind.
    remarks : tuple of str
        What the checks of ferrule and bond found to say against it.
    """

    steps: tuple[Step, ...]
    cautions: tuple[str, ...]
    remarks: tuple[str, ...]


def way_steps(way: Way, index: MatchIndex, row: int, trim_in: float, question: SubstituteQuestion) -> Prepared:
    """Preparation of a stand-in.

    Parameters
    ----------
    way : Way
        How its tip goes in.
    index : MatchIndex
        The shafts.
    row : int
        Row of the stand-in.
    trim_in : float
        Its tip trim, in.
    question : SubstituteQuestion
        What was asked.
    """
    club = question.club
    named = {"ferrule": club.ferrule is not None, "bond": question.adhesive is not None}
    if not way.option.operations and not any(named.values()):
        return Prepared((), _cautions(index.material[row], way.option, trim_in), ())
    asked = FitQuestion(
        shaft=_tip_record(index, row),
        readings=_tip_readings(index, row),
        head=club.head,
        adapter=club.adapter,
        setting=question.setting,
        grip=club.grip,
        ferrule=club.ferrule,
        adhesive=question.adhesive,
        tip_trim_in=trim_in,
        insertion_in=club.insertion_in,
        playing_length_in=club.playing_length_in,
        limits=question.limits,
    )
    candidate = Candidate(way.option, trim_in, None, way.option.operations)
    after = prepared(asked, candidate)
    checks = tuple(check_named(after, _LOOKED_AT))
    steps = steps_of(asked, after, candidate, checks, question.shelf)
    texts = (*_cautions(index.material[row], way.option, trim_in), *(s.caution for s in steps))
    against = [c.detail for c in checks if named.get(c.name) and c.verdict != CheckVerdict.FITS]
    return Prepared(steps, tuple(dict.fromkeys(t for t in texts if t)), tuple(against))


def _cautions(material: str | None, option: BoreOption, trim_in: float) -> tuple[str, ...]:
    return for_question(
        material,
        tip_trim=trim_in > 0,
        sleeve=option.sleeve is not None,
        adapter=option.adapter is not None,
        bending=False,
    )


def _tip_record(index: MatchIndex, row: int) -> Shaft:
    """The shaft as far as its tip goes; what the planner looks at here is no more."""
    tips, tip = index.tips, int(index.tip_of[row])

    def known(value: float) -> float | None:
        return float(value) if np.isfinite(value) else None

    return Shaft(
        id=index.table.ids[row],
        club_type=str(index.club_type[row]),
        material=index.material[row],
        tip_dia_in=known(tips.tip_dia_in[tip]),
        tip_form="taper" if tips.taper[tip] else "parallel",
        tip_parallel_in=known(tips.parallel_in[tip]),
        tip_growth_in_per_in=known(tips.growth_in_per_in[tip]),
    )


def _tip_readings(index: MatchIndex, row: int) -> tuple[ShaftReading, ...]:
    """Its readings of outside diameter, as the index keeps them."""
    read, tip = index.tips.readings, int(index.tip_of[row])
    if read is None:
        return ()
    part = slice(int(read.start[tip]), int(read.start[tip + 1]))
    return tuple(
        ShaftReading(
            id=f"{index.table.ids[row]}-{place:g}",
            shaft_id=index.table.ids[row],
            sample="index",
            quantity="outside_diameter",
            value=float(value),
            position_in=float(place),
        )
        for place, value in zip(read.position_in[part], read.dia_in[part], strict=True)
    )
