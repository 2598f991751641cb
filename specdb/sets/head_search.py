"""The nearest alternatives to a head: what is left different after its adapter's setting, bending and added weight.

``score = sqrt(Σ (difference/step)² / n)`` over the n features that both have, plus what bending, weight, another
adapter and the preparation cost. With a fitted club the differences of its frequency and swingweight count, too.
Heads are taken in the order of the part that needs no fit-up, which the rest can only raise, until none left out can be
among the best.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

from specdb.errors import indefinite
from specdb.matching.reference import Reference, solve_reference
from specdb.mechanics import swingweight
from specdb.records.rows import Head
from specdb.sets.head_club import Built, build_with
from specdb.sets.head_question import (
    ADD_COST,
    FREQUENCY,
    LIE,
    LOFT,
    MOST_LIE_OFF_DEG,
    MOST_LOFT_OFF_DEG,
    OF_CLUB,
    OF_HEAD,
    SWING,
    WEIGHT,
    HeadFeature,
    HeadQuestion,
)
from specdb.sets.head_result import HeadDifference, HeadOut, HeadReport, HeadStandIn
from specdb.sets.head_setting import RETIRED, Setup, Wanted, setups, wanted_angles
from specdb.sets.head_words import cautions_of, notes_of, summary_of, title_of


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What is wanted of the head and of the club."""

    angles: Wanted
    of_head: dict[str, float | None]
    reference: Reference | None
    added_g: float
    most_add_g: float

    def features(self) -> tuple[HeadFeature, ...]:
        known = tuple(f for f in OF_HEAD if self.of_head[f.key] is not None)
        return known if self.reference is None else (*known, *OF_CLUB)


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A head that may stand in, set up; its score is bounded from below."""

    head: Head
    setup: Setup
    differences: tuple[HeadDifference, ...]
    lacking: tuple[str, ...]
    count: int
    bound: float


def find_heads(asked: HeadQuestion) -> HeadReport:
    """Find the heads that come nearest to one that cannot be had.

    Parameters
    ----------
    asked : HeadQuestion
        The head, the club it belongs to, and the limits.

    Raises
    ------
    BuildError, MissingDataError
        If the fitted club itself cannot be computed.
    """
    start = time.perf_counter()
    wanted = _wanted(asked)
    out: list[HeadOut] = []
    candidates: list[_Candidate] = []
    for head in asked.pool:
        refused = _refused(asked, head)
        found = None if refused else _candidate(asked, wanted, head)
        if refused:
            out.append(refused)
        elif isinstance(found, HeadOut):
            out.append(found)
        elif found is not None:
            candidates.append(found)
    candidates.sort(key=lambda c: (len(c.lacking), c.bound, c.head.id))
    results: list[tuple[tuple[int, float, str], HeadStandIn]] = []
    less_near: list[str] = []
    for i, candidate in enumerate(candidates):
        key = (len(candidate.lacking), candidate.bound, candidate.head.id)
        if len(results) >= asked.top and key > sorted(k for k, _ in results)[asked.top - 1]:
            less_near += [c.head.id for c in candidates[i:]]
            break
        done = _finished(asked, wanted, candidate)
        if isinstance(done, HeadOut):
            out.append(done)
            continue
        results.append(((len(candidate.lacking), done.score, done.head_id), done))
    results.sort(key=lambda pair: pair[0])
    return HeadReport(
        head_id=asked.head.id,
        title=title_of(asked.head),
        club_id=None if asked.member is None else asked.member.club_id,
        wanted={**wanted.of_head, **_wanted_club(wanted)},
        results=tuple(_ranked(r, i) for i, (_, r) in enumerate(results[: asked.top], start=1)),
        excluded=tuple(sorted(out, key=lambda o: o.head_id)),
        less_near=tuple(sorted([*less_near, *(r.head_id for _, r in results[asked.top :])])),
        elapsed_ms=1000.0 * (time.perf_counter() - start),
        notes=_notes(asked),
    )


def _ranked(found: HeadStandIn, rank: int) -> HeadStandIn:
    from dataclasses import replace

    return replace(found, rank=rank)


def _wanted(asked: HeadQuestion) -> _Wanted:
    angles, head = wanted_angles(asked), asked.head
    reference = None if asked.member is None else solve_reference(asked.member.parts)
    added = 0.0 if reference is None else float(reference.state.head_add_g[0])
    most = asked.most_add_g if reference is None else reference.head_add_limit_g(asked.max_head_add_g)
    weight = None if head.weight_g is None else head.weight_g + added
    of_head = {
        "loft_deg": angles.loft,
        "lie_deg": angles.lie,
        "face_angle_deg": angles.face,
        "weight_g": weight,
        "offset_in": head.offset_in,
        "volume_cc": head.volume_cc,
    }
    return _Wanted(angles, of_head, reference, added, most)


def _wanted_club(wanted: _Wanted) -> dict[str, float | None]:
    if wanted.reference is None:
        return {}
    state = wanted.reference.state
    return {
        FREQUENCY.key: float(state.frequency_cpm[0]),
        SWING.key: swingweight.moment_to_points(float(state.swing_moment_in_oz[0])),
    }


def _refused(asked: HeadQuestion, head: Head) -> HeadOut | None:
    """What no look at its figures is needed for."""
    own = asked.head
    if head.id == own.id:
        return HeadOut(head.id, "the head itself", "the head itself")
    if head.status == RETIRED:
        return HeadOut(head.id, RETIRED, RETIRED)
    if head.club_type != own.club_type:
        said = f"{indefinite(head.club_type)} head, wanted is {indefinite(own.club_type)} head"
        return HeadOut(head.id, "for another kind of club", said)
    if head.hand != own.hand:
        return HeadOut(head.id, "for the other hand", f"for the {head.hand} hand, wanted for the {own.hand} hand")
    if asked.in_stock and asked.stock.get(head.id, 0) <= 0:
        return HeadOut(head.id, "none free", "none free")
    return None


def _candidate(asked: HeadQuestion, wanted: _Wanted, head: Head) -> _Candidate | HeadOut:
    """A head in its best setting, or why it is out."""
    ways = setups(asked, head, wanted.angles)
    if not ways:
        text = f"takes a '{head.connection}' adapter for the {head.hand} hand, and the catalogue has none"
        return HeadOut(head.id, "no adapter for its connection", text)
    made = [_one(wanted, head, setup) for setup in ways]
    best = min(made, key=lambda c: (len(c.lacking), c.bound))
    for feature, most in ((LOFT, MOST_LOFT_OFF_DEG), (LIE, MOST_LIE_OFF_DEG)):
        off = next((d.difference for d in best.differences if d.key == feature.key), 0.0)
        if abs(off) > most + 1e-9:
            why = "; ".join(t for t in best.setup.refused if t.startswith(feature.title)) or "no setting reaches it"
            text = f"{feature.title} stays {abs(off):.1f}° off, more than {most:g}°: {why}"
            return HeadOut(head.id, f"{feature.title} too far off", text)
    return best


def _one(wanted: _Wanted, head: Head, setup: Setup) -> _Candidate:
    own: dict[str, float | None] = {
        **setup.finished,
        "weight_g": head.weight_g,
        "offset_in": head.offset_in,
        "volume_cc": head.volume_cc,
    }
    differences, lacking = [], []
    for feature in OF_HEAD:
        target, value = wanted.of_head[feature.key], own[feature.key]
        if target is None:
            continue
        if value is None:
            lacking.append(feature.key)
            continue
        if feature is WEIGHT:
            # lighter heads take weight; how much exactly is worked out with the club
            value = max(value, min(target, value + wanted.most_add_g))
        differences.append(_difference(feature, target, value))
    count = len(differences) + (0 if wanted.reference is None else len(OF_CLUB))
    sure = [d for d in differences if d.key != WEIGHT.key or wanted.reference is None]
    bound = _root(sure, count) + setup.cost
    if wanted.reference is None and head.weight_g is not None and wanted.of_head["weight_g"] is not None:
        bound += ADD_COST * _to_add(wanted, head)
    return _Candidate(head, setup, tuple(differences), tuple(lacking), count, bound)


def _to_add(wanted: _Wanted, head: Head) -> float:
    """Weight that a lighter head takes, without a club, g."""
    target = wanted.of_head["weight_g"]
    if target is None or head.weight_g is None:
        return 0.0
    return min(max(target - head.weight_g, 0.0), wanted.most_add_g)


def _difference(feature: HeadFeature, reference: float, candidate: float) -> HeadDifference:
    return HeadDifference(
        feature.key, feature.title, feature.unit, feature.decimals, reference, candidate, feature.step
    )


def _root(differences: list[HeadDifference], count: int) -> float:
    return float((sum(d.units_off**2 for d in differences) / max(count, 1)) ** 0.5)


def _finished(asked: HeadQuestion, wanted: _Wanted, candidate: _Candidate) -> HeadStandIn | HeadOut:
    """A candidate with everything, or why it is out."""
    head, setup = candidate.head, candidate.setup
    differences = list(candidate.differences)
    built = Built(None, None)
    cost, add = setup.cost, _to_add(wanted, head)
    target = wanted.of_head["weight_g"]
    excess = 0.0 if target is None or head.weight_g is None else max(head.weight_g - target, 0.0)
    if asked.member is not None and wanted.reference is not None:
        if head.weight_g is None:
            return HeadOut(head.id, "its weight is unknown", "its weight is unknown: weigh it")
        built = build_with(asked, asked.member, wanted.reference, head, setup, wanted.most_add_g)
        if built.club is None or built.report is None:
            return HeadOut(head.id, built.short, built.why_not)
        values = built.club.values
        add, excess = float(values["head_add_g"]), float(values["head_excess_g"])
        weight = head.weight_g + add
        differences = [_difference(WEIGHT, d.reference, weight) if d.key == WEIGHT.key else d for d in differences]
        points = swingweight.moment_to_points(float(values["swing_moment_in_oz"]))
        fitted = _wanted_club(wanted)
        for feature, value in ((FREQUENCY, float(values["frequency_cpm"])), (SWING, points)):
            differences.append(_difference(feature, float(fitted[feature.key] or 0.0), value))
        cost += built.report.cost
    cost += ADD_COST * max(add - wanted.added_g, 0.0)
    booked = asked.stock.get(head.id, 0) if asked.booked else None
    return HeadStandIn(
        rank=0,
        head_id=head.id,
        title=title_of(head),
        score=_root(differences, candidate.count) + cost,
        cost=cost,
        adapter_id=_adapter_id(built, setup),
        setting=None if setup.setting is None else setup.setting.setting,
        bends=setup.bends,
        refused=setup.refused,
        head_add_g=add,
        head_excess_g=excess,
        differences=tuple(differences),
        not_compared=candidate.lacking,
        club=built.club,
        summary=summary_of(differences, setup, add, excess, wanted.added_g),
        cautions=cautions_of(setup, built, asked),
        notes=notes_of(asked, head, built),
        in_stock=booked,
        price=head.price,
        currency=head.currency,
    )


def _adapter_id(built: Built, setup: Setup) -> str | None:
    if built.club is not None:
        return built.club.parts["adapter"]
    return None if setup.adapter is None else setup.adapter.id


def _notes(asked: HeadQuestion) -> tuple[str, ...]:
    if asked.member is not None:
        return ()
    return ("no club named: heads are compared alone; --club adds the fit-up of its shaft and what the club becomes",)
