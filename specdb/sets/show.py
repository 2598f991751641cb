"""From the best variants of a set to what a person reads: trim chart, differences, pieces, words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from specdb.matching.doubt import Doubts
from specdb.matching.index import MatchIndex
from specdb.matching.result import Substitute
from specdb.matching.show import describe, doubts_of
from specdb.matching.weighting import COMPARED
from specdb.matching.words import summarise
from specdb.mechanics.constants import IN
from specdb.sets.models import ShaftModels
from specdb.sets.question import SetQuestion
from specdb.sets.result import Pieces, SetClub, SetStandIn
from specdb.sets.sides import Side
from specdb.sets.spread import frequency_covariance
from specdb.sets.variants import STEPPED_WORDS, SetVariant

if TYPE_CHECKING:
    from specdb.sets.search import Best, SetStage

ONE_FOR_ALL = "one shaft for all"
_SLOPE_WORTH_SAYING = 0.5  # cpm per half inch


def describe_set(
    index: MatchIndex, models: ShaftModels, asked: SetQuestion, stage: SetStage, best: Sequence[Best]
) -> list[SetStandIn]:
    """Results of a search, in order.

    Parameters
    ----------
    index, models, asked, stage
        Of the search.
    best : sequence of Best
        The best models, in order.
    """
    clubs = [_clubs(index, side, [b.variant for b in best], c) for c, side in enumerate(stage.sides)]
    return [
        _one(index, models, asked, stage, b, rank, tuple(c[rank - 1] for c in clubs))
        for rank, b in enumerate(best, start=1)
    ]


def way_words(variant: SetVariant) -> str:
    """How a variant supplies the set, in a word or two.

    Parameters
    ----------
    variant : SetVariant
        The variant.
    """
    return ONE_FOR_ALL if variant.stepped is None else STEPPED_WORDS[variant.stepped]


def _clubs(index: MatchIndex, side: Side, variants: Sequence[SetVariant], place: int) -> list[SetClub]:
    """One club with the stand-in of every result."""
    solved = [side.variant(v.rows[place], v.trims_in[place]) for v in variants]
    found = describe(index, side.question, side.reference, side.stage, solved)
    member, head = side.member, side.member.parts.head
    fitted = side.reference
    out = []
    for variant, substitute in zip(solved, found, strict=True):
        state = side.stage.batches[variant.batch]
        sd = np.hypot(state.sd_shaft[variant.place, 0], fitted.state.sd_shaft[0, 0])
        out.append(
            SetClub(
                club_id=member.club_id,
                label=member.label,
                number=member.number or "",
                head_id=head.id,
                substitute=substitute,
                head_weight_g=(head.weight_g or 0.0) + substitute.head_add_g,
                fitted_cpm=side.frequency_cpm,
                cpm=float(state.frequency_cpm[variant.place]),
                cpm_sd=float(sd),
                fitted_trim_in=fitted.assembly.tip_trim_in,
            )
        )
    return out


def _one(
    index: MatchIndex,
    models: ShaftModels,
    asked: SetQuestion,
    stage: SetStage,
    best: Best,
    rank: int,
    clubs: tuple[SetClub, ...],
) -> SetStandIn:
    variant = best.variant
    own = [c.substitute for c in clubs]
    price = [s.price for s in own if s.price is not None]
    ids = index.table.ids
    counts = Counter(variant.rows)
    least_known = max(range(len(own)), key=lambda i: own[i].noise_floor)
    return SetStandIn(
        rank=rank,
        model=models.titles[variant.rows[0]],
        way=way_words(variant),
        first_trim_in=variant.first_in,
        trim_step_in=variant.step_in,
        score=best.total,
        clubs_score=best.clubs,
        slope_term=best.total - best.clubs,
        slope=best.slope,
        slope_sd=_slope_sd(index, stage, variant),
        fitted_slope=stage.fitted_slope if stage.coefficient is not None else float("nan"),
        clubs=clubs,
        pieces=tuple(
            Pieces(ids[r], k, None if asked.pieces is None else int(asked.pieces[r])) for r, k in counts.items()
        ),
        within_tolerance_probability=min(s.within_tolerance_probability for s in own),
        noise_floor=float(np.sqrt(np.mean([s.noise_floor**2 for s in own]))),
        summary=_summary(own, best.slope - stage.fitted_slope if stage.coefficient is not None else 0.0),
        price=round(sum(price), 2) if len(price) == len(own) else None,
        other_ways=tuple((way_words(v), score) for v, score in best.others),
        cautions=_cautions(own),
        notes=_notes(clubs),
        least_known=least_known,
        doubts=_doubts(index, stage.sides[least_known], variant, least_known, own[least_known]),
    )


def _doubts(index: MatchIndex, side: Side, variant: SetVariant, place: int, own: Substitute) -> Doubts:
    solved = side.variant(variant.rows[place], variant.trims_in[place])
    return doubts_of(index, side.reference, side.stage, [solved], [own])


def _slope_sd(index: MatchIndex, stage: SetStage, variant: SetVariant) -> float:
    if stage.coefficient is None:
        return float("nan")
    solved = [side.variant(r, t) for side, r, t in zip(stage.sides, variant.rows, variant.trims_in, strict=True)]
    sides = list(zip(stage.sides, solved, strict=True))
    covariance = frequency_covariance(
        [index.model(v.row) for v in solved],
        np.array(variant.trims_in) * IN,
        [side.stage.ways[v.way].build for side, v in sides],
        [float(side.stage.batches[v.batch].sd_total[v.place, 0]) for side, v in sides],
        [index.table.ids[v.row] for v in solved],
    )
    c = stage.coefficient
    return float(np.sqrt(max(float(c @ covariance @ c), 0.0)))


def _summary(own: Sequence[Substitute], slope_off: float) -> str:
    """The mean differences that matter most, and the slope where it differs."""
    differences, units, spread = [], [], []
    for feature in COMPARED:
        found = [f for s in own for f in s.features if f.key == feature.key]
        whole = len(found) == len(own)
        differences.append(float(np.mean([f.difference for f in found])) if whole else float("nan"))
        units.append(float(np.mean([f.units_off for f in found])) if whole else float("nan"))
        spread.append(float(np.mean([f.units_sd for f in found])) if whole else float("nan"))
    said = f"over the set {summarise(differences, units, spread)}"
    if abs(slope_off) >= _SLOPE_WORTH_SAYING:
        way = "steeper" if slope_off > 0 else "flatter"
        said += f"; the slope comes out {abs(slope_off):.1f} cpm a half inch {way}"
    worst = max(own, key=lambda s: s.score)
    best = min(own, key=lambda s: s.score)
    if worst.score > best.score + 0.5:
        said += f"; least near at {_club_of(own, worst)}"
    return said


def _club_of(own: Sequence[Substitute], one: Substitute) -> str:
    at = next(i for i, s in enumerate(own) if s is one)
    return f"club {at + 1} of {len(own)} (score {one.score:.2f})"


def _cautions(own: Sequence[Substitute]) -> tuple[str, ...]:
    texts = [t for s in own for t in (*s.cautions, *(step.caution for step in s.preparation if step.caution))]
    return tuple(dict.fromkeys(texts))


def _notes(clubs: Sequence[SetClub]) -> tuple[str, ...]:
    """Notes of the clubs, each once, with the clubs it holds for where it does not hold for all."""
    where: dict[str, list[str]] = {}
    for club in clubs:
        for text in club.substitute.notes:
            where.setdefault(text, []).append(club.club_id)
    return tuple(t if len(own) == len(clubs) else f"{', '.join(own)}: {t}" for t, own in where.items())
