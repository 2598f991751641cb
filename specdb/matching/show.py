"""From solved variants to what a person reads: differences, uncertainty, preparation, words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from specdb.errors import indefinite
from specdb.fitup.cautions import for_operation
from specdb.fitup.report import Operation, Step
from specdb.matching.doubt import Doubt, DoubtOf, Doubts
from specdb.matching.index import MatchIndex
from specdb.matching.question import SubstituteQuestion
from specdb.matching.reference import Reference
from specdb.matching.refine import ExactStage, Variant
from specdb.matching.result import FeatureDifference, Substitute
from specdb.matching.score import score, within_probability
from specdb.matching.way_steps import way_steps
from specdb.matching.weighting import COMPARED
from specdb.matching.words import summarise
from specdb.mechanics import swingweight
from specdb.mechanics.constants import IN, IN_OZ, SWINGWEIGHT_POINT_IN_OZ

FloatArray = npt.NDArray[np.float64]

_BALANCE = next(i for i, f in enumerate(COMPARED) if f.name == "balance_in")


def describe(
    index: MatchIndex,
    question: SubstituteQuestion,
    reference: Reference,
    stage: ExactStage,
    best: Sequence[Variant],
) -> list[Substitute]:
    """Results of a search, in order.

    Parameters
    ----------
    index, question, reference, stage
        Of the search.
    best : sequence of Variant
        The best shafts, in order.
    """
    return [_one(index, question, reference, stage, v, rank) for rank, v in enumerate(best, start=1)]


def doubts_of(
    index: MatchIndex,
    reference: Reference,
    stage: ExactStage,
    best: Sequence[Variant],
    results: Sequence[Substitute],
) -> Doubts:
    """What the uncertainty of the results is made of, worked out when somebody asks.

    Parameters
    ----------
    index, reference, stage
        Of the search.
    best : sequence of Variant
        The best shafts, in order.
    results : sequence of Substitute
        The same, described.
    """
    assembly = reference.assembly
    whole = stage.target.weight / stage.target.unit**2
    left_out = [set(r.not_compared) for r in results]

    def work() -> list[Doubt]:
        return DoubtOf(assembly.model, assembly.tip_trim_in * IN, assembly.build).of(
            [index.model(v.row) for v in best],
            np.array([v.trim_in for v in best]) * IN,
            [stage.ways[v.way].build for v in best],
            [np.array([0.0 if f.key in out else s for f, s in zip(COMPARED, whole, strict=True)]) for out in left_out],
        )

    return Doubts(work)


def _one(
    index: MatchIndex,
    question: SubstituteQuestion,
    reference: Reference,
    stage: ExactStage,
    variant: Variant,
    rank: int,
) -> Substitute:
    way = stage.ways[variant.way]
    state, place = stage.batches[variant.batch], variant.place
    target = stage.target
    values = state.features[place].copy()
    if not np.isfinite(index.table.balance_m[variant.row]):
        values[_BALANCE] = np.nan
    difference = values - target.value
    covariance = state.cov_shaft[place] + reference.state.cov_shaft[0]
    sd = np.sqrt(np.diagonal(covariance))
    known = np.isfinite(difference) & (target.weight > 0)
    zero = np.where(known, 0.0, np.nan)
    masked = np.where(known, difference, np.nan)
    trimmed = _trim_step(variant.trim_in, reference.assembly.tip_trim_in)
    prepared = way_steps(way, index, variant.row, variant.trim_in, question)
    moment = float(state.swing_moment_in_oz[place])
    price = float(index.price[variant.row])
    return Substitute(
        rank=rank,
        shaft_id=index.table.ids[variant.row],
        score=variant.total,
        play_score=variant.total - way.cost,
        preparation_cost=way.cost,
        noise_floor=float(score(zero, sd, target.unit, target.weight)),
        tip_trim_in=variant.trim_in,
        butt_trim_in=float(state.butt_trim_m[place]) / IN,
        cut_length_in=way.build.cut_length_m / IN,
        insertion_in=way.build.insertion_m / IN,
        head_add_g=float(state.head_add_g[place]),
        head_excess_g=float(state.head_excess_g[place]),
        swingweight=swingweight.from_moment_in_oz(moment),
        preparation=(*trimmed, *prepared.steps),
        features=tuple(
            FeatureDifference(
                feature.key,
                feature.title,
                feature.unit,
                float(target.value[i]),
                float(values[i]),
                float(difference[i]),
                float(sd[i]),
                float(difference[i] / target.unit[i]),
                float(target.unit[i]),
            )
            for i, feature in enumerate(COMPARED)
            if known[i]
        ),
        not_compared=tuple(f.key for i, f in enumerate(COMPARED) if not np.isfinite(difference[i])),
        within_tolerance_probability=within_probability(masked, covariance, target.unit, target.weight),
        summary=summarise(masked.tolist(), (masked / target.unit).tolist(), (sd / target.unit).tolist()),
        cautions=prepared.cautions,
        notes=(
            *prepared.remarks,
            *_notes(index, question, reference, float(state.head_short_g[place]), moment, variant),
        ),
        price=price if np.isfinite(price) else None,
    )


def _trim_step(trim_in: float, fitted_in: float) -> tuple[Step, ...]:
    if trim_in == 0.0:
        return ()
    compared = "" if trim_in == fitted_in else f" (the fitted shaft: {fitted_in:g} in)"
    return (
        Step(
            Operation.TIP_TRIM,
            f"cut {trim_in:g} in off the tip{compared}",
            None,
            None,
            None,
            for_operation(Operation.TIP_TRIM),
            0.0,
            {"tip_trim_in": trim_in},
        ),
    )


def _notes(
    index: MatchIndex,
    question: SubstituteQuestion,
    reference: Reference,
    short_g: float,
    moment_in_oz: float,
    variant: Variant,
) -> list[str]:
    row = variant.row
    notes = list(index.table.assumed(row))
    off = (moment_in_oz - reference.target_moment_kg_m / IN_OZ) / SWINGWEIGHT_POINT_IN_OZ
    if off > 0.1:
        notes.append(
            f"comes out {off:.1f} swingweight points over with nothing added: a lighter adapter, a heavier grip or a "
            "counterweight at the butt would cure it"
        )
    if short_g > 0.05:
        notes.append(f"comes out {-off:.1f} swingweight points light: {short_g:.1f} g more would be wanted at the head")
    if index.trim_assumed[row] and variant.trim_in > 0:
        notes.append(
            f"the maker's limit of tip trim is unknown: {index.trim_limit_in[row]:g} in taken; ask before cutting"
        )
    kind, head = index.club_type[row], question.club.head.club_type
    if kind != head:
        notes.append(f"sold for {indefinite(kind or 'unknown kind')}; the head is {indefinite(head)}")
    number = index.club_number[row]
    if number is not None and number != question.club.head.number:
        notes.append(f"sold for club {number}; the head is number {question.club.head.number or 'unknown'}")
    return notes
