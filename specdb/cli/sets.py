"""``--set`` of ``specdb mechanics`` and ``specdb substitutes``: a whole fitted set."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from specdb.cli import output
from specdb.cli.base import settings
from specdb.cli.fitup import write_steps
from specdb.cli.options import no_club_beside_set
from specdb.cli.progress import steps
from specdb.cli.ranked import write_ranked, write_reason
from specdb.cli.tables import Column, show
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.fitup.report import Step
    from specdb.sets.result import SetReport, SetStandIn
    from specdb.verbs.matching.substitutes import SearchOptions
    from specdb.verbs.sets.sets import SetMechanicsAnswer
    from specdb.verbs.sets.substitutes import SetAnswer

_WAY_IN_TABLE = {"one shaft for all": "one for all", "by club number": "by number"}


def set_mechanics(set_id: str, given: Mapping[str, Any], *, as_json: bool) -> None:
    """Answer ``specdb mechanics --set``.

    Parameters
    ----------
    set_id : str
        The set.
    given : mapping
        The club options, which must be empty.
    as_json : bool
        Whether the answer is JSON.
    """
    from specdb.verbs.sets.sets import set_mechanics_of

    no_club_beside_set(given)
    answer = set_mechanics_of(settings().open(), set_id)
    if as_json:
        output.emit_json(answer.to_json())
    else:
        write_mechanics(answer)


def write_mechanics(answer: SetMechanicsAnswer) -> None:
    """Write a set in numbers for a person.

    Parameters
    ----------
    answer : SetMechanicsAnswer
        The answer.
    """
    found = answer.numbers
    output.title(f"Set {found.set_id}: {output.plural(len(found.clubs), 'club')}")
    columns = [
        Column("club", keep=True),
        Column("length in", right=True, keep=True),
        Column("cpm", right=True, keep=True),
        Column("off line", right=True),
        Column("swing", right=True, keep=True),
        Column("MOI", right=True),
        Column("total g", right=True),
        Column("head g", right=True),
        Column("loft", right=True),
        Column("gap", right=True),
        Column("lie", right=True),
        Column("shaft g", right=True),
        Column("measured", right=True),
    ]
    rows = [
        [
            club.club_id,
            output.number(club.playing_length_in),
            f"{output.number(club.frequency_cpm, 1)} ± {output.number(club.frequency_sd_cpm, 1)}",
            output.signed(club.off_line_cpm, 1),
            club.values["swingweight"],
            output.number(club.moi_kg_cm2, 0),
            output.number(club.total_weight_g, 0),
            output.number(club.head_weight_g, 1),
            output.number(club.loft_deg),
            output.signed(club.loft_gap_deg, 1),
            output.number(club.lie_deg),
            output.number(club.shaft_weight_g, 1),
            output.number(club.measured_cpm, 0),
        ]
        for club in found.clubs
    ]
    show(columns, rows, more="--json has everything.")
    output.line()
    if found.line is not None:
        measured = found.measured_line
        said = "" if measured is None else f"; as measured {output.number(measured.slope, 1)}"
        output.sentence(
            f"Frequency rises {output.number(found.line.slope, 1)} ± {output.number(found.line.slope_sd, 1)} cpm a "
            f"half inch (weighted least squares){said}; the clubs scatter {output.number(found.line.scatter, 1)} cpm "
            "about the line."
        )
    matched = "neither swingweight nor MOI" if found.matched_by == "neither" else found.matched_by
    output.sentence(
        f"Swingweight changes {output.signed(found.swing_points_a_club, 1)} points a club (spread "
        f"{output.number(found.swing_spread_points, 1)}), MOI {output.signed(found.moi_a_club_kg_cm2, 0)} kg·cm² "
        f"(spread {output.number(found.moi_spread_kg_cm2, 0)}), head weight {output.signed(found.head_a_club_g, 1)} g: "
        f"matched by {matched}."
    )
    output.section("What stands out")
    output.bullets(found.stands_out or ["nothing"])
    notes = (*answer.named.notes, *found.notes)
    if notes:
        output.section("Notes")
        output.bullets(notes)
    assumed = _assumed(answer)
    if assumed:
        output.section("Assumed")
        output.bullets(assumed)


def _assumed(answer: SetMechanicsAnswer) -> list[str]:
    """What was assumed, each once, with the clubs it holds for where it does not hold for all."""
    where: dict[str, list[str]] = {}
    for club in answer.numbers.clubs:
        for text in club.values["assumed"]:
            where.setdefault(text, []).append(club.club_id)
    every = len(answer.numbers.clubs)
    return [text if len(own) == every else f"{', '.join(own)}: {text}" for text, own in where.items()]


def set_substitutes(
    set_id: str,
    given: Mapping[str, Any],
    options: SearchOptions,
    *,
    details: int,
    why_not: str | None,
    as_json: bool,
) -> int:
    """Answer ``specdb substitutes --set``.

    Parameters
    ----------
    set_id : str
        The set.
    given : mapping
        The club options, which must be empty.
    options : SearchOptions
        How to look.
    details : int
        How many models are written in detail.
    why_not : str or None
        A shaft whose model is asked about.
    as_json : bool
        Whether the answer is JSON.
    """
    from specdb.verbs.sets.substitutes import set_substitutes_of, why_not_for_set

    no_club_beside_set(given)
    with steps() as tell:
        answer = set_substitutes_of(settings().open(), set_id, options, progress=tell)
    if why_not is not None:
        return write_reason("shaft_id", why_not, why_not_for_set(answer, why_not), as_json=as_json)
    return write_ranked(answer, lambda found: write_substitutes(found, details), as_json=as_json)


def write_substitutes(answer: SetAnswer, details: int) -> None:
    """Write the models for a set for a person.

    Parameters
    ----------
    answer : SetAnswer
        The answer.
    details : int
        How many are written in detail.
    """
    report = answer.report
    _write_fitted(answer)
    if report.results:
        output.section("Models that can supply the set, nearest first")
        _write_ranking(report)
        shown = report.results[:details]
        shared = _shared(shown)
        for result in shown:
            _write_details(result, shared)
        if shared:
            output.section("For all of these" if len(shown) > 1 else "Mind")
            output.bullets(shared)
    else:
        output.line()
        output.line("No model in the catalogue can supply the whole set as asked.")
    _write_excluded(answer)
    for text in (*answer.named.notes, *report.notes):
        output.sentence(f"Note: {text}.")


def _write_fitted(answer: SetAnswer) -> None:
    report = answer.report
    output.title(f"Set {report.set_id}: {output.plural(len(report.members), 'club')}")
    for member, club in zip(report.members, report.references, strict=True):
        values = club.to_json()
        output.sentence(
            f"{member.club_id}: {member.parts.shaft.id}, {output.number(member.parts.playing_length_in)} in, "
            f"{values['swingweight']}, {output.number(values['frequency_cpm'], 1)} cpm",
            indent="  ",
            hanging="    ",
        )
    if math.isfinite(report.fitted_slope):
        output.sentence(f"Frequency rises {output.number(report.fitted_slope, 1)} cpm a half inch.", indent="  ")
    counts = []
    needed = Counter(m.parts.shaft.id for m in report.members)
    for shaft, pieces in answer.pieces.items():
        state = answer.supply.get(shaft)
        words = [f"{needed[shaft]} needed", f"{pieces} free"]
        if state is not None and state.backordered:
            words.append("backordered")
        if state is not None and state.expected_on:
            words.append(f"expected {state.expected_on.isoformat()}")
        counts.append(f"{shaft} {', '.join(words)}")
    output.sentence(f"The fitted shafts: {'; '.join(counts)}.", indent="  ")


def _write_ranking(report: SetReport) -> None:
    from specdb.matching.result import IN_PART_SIGN, IN_PART_WORDS

    columns = [
        Column("#", right=True, keep=True),
        Column("model", keep=True, wraps=True),
        Column("score", right=True, keep=True),
        Column("way", keep=True),
        Column("first", right=True),
        Column("step", right=True),
        Column("slope", right=True),
        Column("sets", right=True),
        Column("price", right=True),
    ]
    rows = [
        [
            str(r.rank),
            r.model,
            f"{IN_PART_SIGN if r.compared_in_part else ''}{output.number(r.score, 2)}",
            _WAY_IN_TABLE.get(r.way, r.way),
            output.number(r.first_trim_in),
            output.number(r.trim_step_in),
            output.number(r.slope, 1),
            _sets_words(r),
            "" if r.price is None else f"{output.number(r.price)} {r.currency or ''}".strip(),
        ]
        for r in report.results
    ]
    show(columns, rows, more="--json has everything.")
    if any(r.compared_in_part for r in report.results):
        output.sentence(f"{IN_PART_WORDS}.")
    output.sentence(
        "score: root mean square of the clubs' scores and 0.10 for every 0.5 cpm a half inch that the slope is off; "
        "first, step: tip trim of the first club and how much more each further number takes; slope: cpm a half inch; "
        "sets: whole sets that the free pieces make, or the day that more are expected; price: of the set."
    )


def _sets_words(found: SetStandIn) -> str:
    count = found.sets_on_hand
    if count:
        return str(count)
    days = [p.expected_on for p in found.pieces if p.on_hand is not None and p.on_hand < p.needed]
    if days and all(d is not None for d in days):
        return max(d for d in days if d is not None)
    return "?" if count is None else "0"


def _write_details(found: SetStandIn, shared: Sequence[str]) -> None:
    output.section(f"{found.rank}. {found.model}, {found.way}")
    output.sentence(f"{begun(found.summary)}.")
    write_trim_chart(found)
    output.sentence(
        f"Clubs together {output.number(found.clubs_score, 2)}, slope {output.number(found.slope_term, 2)}"
        + (
            f" ({output.number(found.slope, 1)} ± {output.number(found.slope_sd, 1)} against "
            f"{output.number(found.fitted_slope, 1)} cpm a half inch)"
            if math.isfinite(found.slope)
            else ""
        )
        + f"; with no difference at all it would be {output.number(found.noise_floor, 2)}."
    )
    doubt, least_known = found.doubts.all[0], found.least_known_club
    output.sentence(f"Least known is {least_known.club_id}; that comes, by variance, from {doubt.sentence()}.")
    if doubt.settling is not None:
        output.sentence(f"Most worth measuring: {doubt.settling.sentence(least_known.substitute.shaft_id)}.")
    if found.other_ways:
        others = ", ".join(f"{way} {output.number(score, 2)}" for way, score in found.other_ways)
        output.sentence(f"The same model otherwise: {others}.")
    output.sentence(f"Pieces: {'; '.join(f'{one.shaft_id} {one.words}' for one in found.pieces)}.")
    _write_preparation(found)
    for text in (*(f"Caution: {t}" for t in found.cautions), *(f"Note: {t}" for t in found.notes)):
        if text.split(": ", 1)[1] not in shared:
            output.sentence(text, hanging="  ")


def write_trim_chart(found: SetStandIn) -> None:
    """Write the trim chart of a model.

    Parameters
    ----------
    found : SetStandIn
        The model.
    """
    one_shaft = len(set(found.shaft_ids)) == 1
    columns = [
        Column("club", keep=True),
        Column("head"),
        *([] if one_shaft else [Column("shaft")]),
        Column("tip in", right=True, keep=True),
        Column("cut in", right=True, keep=True),
        Column("butt in", right=True, keep=True),
        Column("head g", right=True),
        Column("cpm", right=True, keep=True),
        Column("fitted", right=True, keep=True),
        Column("off", right=True, keep=True),
        Column("score", right=True),
    ]
    # what has to go for want of room goes from the right: the long keys last in the row of columns
    order = [c for c in columns if c.title not in ("head", "shaft")] + [
        c for c in columns if c.title in ("head", "shaft")
    ]
    rows = []
    for club in found.clubs:
        own = club.substitute
        cells = {
            "club": club.club_id,
            "head": club.head_id,
            "shaft": own.shaft_id,
            "tip in": output.number(own.tip_trim_in),
            "cut in": output.number(own.cut_length_in, 3),
            "butt in": output.number(own.butt_trim_in, 3),
            "head g": output.number(club.head_weight_g, 1),
            "cpm": output.number(club.cpm, 1),
            "fitted": output.number(club.fitted_cpm, 1),
            "off": f"{output.signed(club.cpm - club.fitted_cpm, 1)} ± {output.number(club.cpm_sd, 1)}",
            "score": output.number(own.score, 2),
        }
        rows.append([cells[c.title] for c in order])
    show(order, rows, more="--json has everything.")


def _write_preparation(found: SetStandIn) -> None:
    """Steps beside the tip trim, once where they are the same for all clubs."""
    own = {c.club_id: tuple(s for s in c.substitute.preparation if str(s.operation) != "tip_trim") for c in found.clubs}
    groups: dict[tuple[str, ...], list[str]] = {}
    steps_by: dict[tuple[str, ...], tuple[Step, ...]] = {}
    for club, todo in own.items():
        key = tuple(s.detail for s in todo)
        groups.setdefault(key, []).append(club)
        steps_by[key] = todo
    for key, clubs in groups.items():
        if not key:
            continue
        which = "every club" if len(clubs) == len(own) else ", ".join(clubs)
        output.line(f"Preparation beside the tip trim, {which}:")
        write_steps(steps_by[key])


def _shared(results: Sequence[SetStandIn]) -> tuple[str, ...]:
    texts = [(*r.cautions, *r.notes) for r in results]
    if not texts:
        return ()
    return tuple(t for t in dict.fromkeys(texts[0]) if all(t in other for other in texts))


def _write_excluded(answer: SetAnswer) -> None:
    excluded = answer.report.excluded
    if not len(excluded):
        return
    output.section(f"Not proposed: {output.plural(len(excluded), 'model')}")
    for reason, count in excluded.counts():
        filtered = reason == "left out by the filter" and answer.filtered
        output.sentence(f"{count:>6}  {answer.filtered if filtered else reason}", hanging=" " * 8)
    output.line("  --why-not SHAFT gives the reason for the model of one shaft.")
