"""``specdb substitutes``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.fitup import write_steps
from specdb.cli.options import club_options, club_request, json_option, quantity, set_option
from specdb.cli.progress import steps
from specdb.cli.ranked import write_ranked, write_reason
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    from specdb.matching.doubt import Doubt
    from specdb.matching.result import Substitute, SubstituteReport
    from specdb.verbs.matching.substitutes import SubstitutesAnswer

_DETAILS = 3
FILTERED = "left out by the filter"


@command(
    "substitutes",
    "specdb substitutes --club ashby-driver",
    "specdb substitutes --club ashby-driver --in-stock --top 5 --max-price 180",
    "specdb substitutes --club ashby-driver --max-weight 60 --same-tip --no-reaming",
    "specdb substitutes --club ashby-driver --why-not hollin-reach-sker-50-s",
    "specdb substitutes --shaft hollin-reach-holm-60-s --head brackwater-gannet-1-10.5-rh --length 45 --json",
    "specdb substitutes --set quilter-irons --in-stock",
)
@club_options
@set_option
@click.option(
    "--in-stock", is_flag=True, help="Only shafts of which a piece is free: on hand and kept for no other club."
)
@click.option("--top", type=click.IntRange(1, 1000), default=20, show_default=True, help="How many.")
@quantity("--max-head-add", "head_add_g", "Most weight that may be added at the head.", metavar="G")
@click.option(
    "--weighting", metavar="NAME", shell_complete=complete_key_of("weighting"), help="What counts, and how much."
)
@quantity("--trim-step", "tip_trim_in", "Step of the tip trim, a multiple of 0.25.")
@quantity("--max-price", "price", "Only shafts whose price is known and not higher.", metavar="P", kind="shaft")
@quantity("--max-weight", "weight_g", "Only shafts whose weight is known and not higher.", metavar="G", kind="shaft")
@click.option("--same-tip", is_flag=True, help="Only shafts with the fitted one's tip diameter and form.")
@click.option("--no-reaming", is_flag=True, help="Only what goes in without reaming.")
@click.option("--details", type=click.IntRange(0), default=_DETAILS, show_default=True, help="How many in detail.")
@click.option("--why-not", metavar="ID", shell_complete=complete_key_of("shaft"), help="Why is it not proposed?")
@json_option
def substitutes(as_json: bool, details: int, why_not: str | None, set_id: str | None, **given: Any) -> int:  # noqa: ANN401
    """Rank the shafts that play nearest to a fitted club in that same build.

    Each is compared as it would be installed: with its own best tip trim, the preparation it needs, and the
    swingweight restored. The score is in units of tolerance; lower is nearer. With --set the models that can supply
    all shafts of a fitted set, each with its trim chart. Exit status 1: none can be built.
    """
    from specdb.verbs.matching.substitutes import SearchOptions, substitutes_of
    from specdb.verbs.matching.substitutes import why_not as explain

    names = (
        *("in_stock", "top", "max_head_add", "weighting", "trim_step"),
        *("max_price", "max_weight", "same_tip", "no_reaming"),
    )
    search = {name: given.pop(name) for name in names}
    options = SearchOptions(
        in_stock=search["in_stock"],
        top=search["top"],
        max_head_add_g=search["max_head_add"],
        weighting=search["weighting"],
        trim_step_in=search["trim_step"],
        max_price=search["max_price"],
        max_weight_g=search["max_weight"],
        same_tip=search["same_tip"],
        no_reaming=search["no_reaming"],
    )
    if set_id is not None:
        from specdb.cli.sets import set_substitutes

        return set_substitutes(set_id, given, options, details=details, why_not=why_not, as_json=as_json)
    with steps() as tell:
        answer = substitutes_of(settings().open(), club_request(given), options, progress=tell)
    if why_not is not None:
        return write_reason("shaft_id", why_not, explain(answer, why_not), as_json=as_json)
    return write_ranked(answer, lambda found: write(found, details), as_json=as_json)


def write(answer: SubstitutesAnswer, details: int = _DETAILS) -> None:
    """Write the stand-ins for a person.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer.
    details : int
        How many are written in detail.
    """
    report = answer.report
    write_reference(answer)
    if report.results:
        output.section("Stand-ins, nearest first")
        write_ranking(report)
        shown = report.results[:details]
        shared = shared_texts(shown)
        for result in shown:
            write_details(result, shared, answer.report.doubts.all[result.rank - 1])
        if shared:
            output.section("For all of these" if len(shown) > 1 else "Mind")
            output.bullets(shared)
    else:
        output.line()
        output.line("No shaft in the catalogue can stand in as asked.")
    write_excluded(answer)
    for text in report.notes:
        output.sentence(f"Note: {text}.")


def shared_texts(results: Sequence[Substitute]) -> tuple[str, ...]:
    """Cautions and notes that hold for every one of some stand-ins, so that they are said once.

    Parameters
    ----------
    results : sequence of Substitute
        The stand-ins.
    """
    texts = [(*_cautions(r), *r.notes) for r in results]
    if not texts:
        return ()
    return tuple(t for t in dict.fromkeys(texts[0]) if all(t in other for other in texts))


def _cautions(result: Substitute) -> tuple[str, ...]:
    return (*result.cautions, *(step.caution for step in result.preparation if step.caution))


def write_reference(answer: SubstitutesAnswer) -> None:
    """Write what is to be matched, and why it cannot be had.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer.
    """
    club, values, sd = answer.club, answer.report.reference, answer.report.reference["sd"]
    name = f"Club {club.record.id}: " if club.record else ""
    output.title(f"{name}shaft {club.shaft.id} in head {club.head.id}")
    output.sentence(
        f"{output.number(club.request.length_in)} in, {values['swingweight']}, "
        f"{_with_sd(values, sd, 'frequency_cpm', 1)} cpm, {_with_sd(values, sd, 'torque_deg', 1)} deg torque, "
        f"{_with_sd(values, sd, 'total_weight_g', 0)} g in all",
        indent="  ",
    )
    from specdb.verbs.catalogue.holdings import on_hand_words as on_hand

    state = answer.supply
    parts = [on_hand(answer.on_hand, answer.kept_for)]
    if state is not None:
        if state.backordered:
            parts.append("backordered")
        if state.ordered:
            parts.append(f"{state.ordered} on order")
        if state.expected_on:
            parts.append(f"expected {state.expected_on.isoformat()}")
    output.sentence(f"The fitted shaft: {', '.join(parts)}.", indent="  ")
    if answer.chosen:
        output.sentence(f"Chosen for this club before: {', '.join(answer.chosen)}.", indent="  ")


def _with_sd(values: Any, sd: Any, key: str, decimals: int) -> str:  # noqa: ANN401 (JSON values)
    spread = f" ± {output.number(sd[key], max(decimals, 1))}" if sd.get(key) else ""
    return output.number(values.get(key), decimals) + spread


def write_ranking(report: SubstituteReport) -> None:
    """Write the ranked table.

    Parameters
    ----------
    report : SubstituteReport
        What was found.
    """
    from specdb.matching.result import IN_PART_WORDS

    columns = [
        Column("#", right=True, keep=True),
        Column("shaft", keep=True),
        Column("score", right=True, keep=True),
        Column("trim", right=True, keep=True),
        Column("cpm", right=True),
        Column("within", right=True),
        Column("free", right=True),
        Column("prep", wraps=True),
        Column("price", right=True),
    ]
    rows = [_ranking_row(result) for result in report.results]
    show(columns, rows, more="--json has everything.")
    if any(r.compared_in_part for r in report.results):
        output.sentence(f"{IN_PART_WORDS}.")
    output.sentence(
        "score: root mean square difference in units of tolerance, with uncertainty and preparation; "
        "cpm: difference in frequency; within: chance that everything compared stays inside tolerance; "
        "free: pieces on hand that are kept for no other club, or the day that more are expected."
    )


def _ranking_row(result: Substitute) -> list[str]:
    from specdb.matching.result import IN_PART_SIGN

    frequency = next((f.difference for f in result.features if f.key == "frequency_cpm"), None)
    return [
        str(result.rank),
        result.shaft_id,
        f"{IN_PART_SIGN if result.compared_in_part else ''}{output.number(result.score, 2)}",
        output.number(result.tip_trim_in),
        output.signed(frequency, 1) if frequency is not None else "-",
        percent(result.within_tolerance_probability),
        free_words(result),
        preparation_words(result),
        "" if result.price is None else f"{output.number(result.price)} {result.currency or ''}".strip(),
    ]


def free_words(result: Substitute) -> str:
    """How many are free; where none is, the day more are expected.

    Parameters
    ----------
    result : Substitute
        The stand-in.
    """
    if result.in_stock:
        return str(result.in_stock)
    if result.expected_on:
        return result.expected_on
    return "?" if result.in_stock is None else "0"


def preparation_words(result: Substitute) -> str:
    """What must be done beside the tip trim, in a word or two.

    Parameters
    ----------
    result : Substitute
        The stand-in.
    """
    words = (str(step.operation).replace("_", " ") for step in result.preparation)
    return ", ".join(w for w in dict.fromkeys(words) if w != "tip trim") or "none"


def percent(probability: float) -> str:
    """A probability for a table.

    Parameters
    ----------
    probability : float
        From 0 to 1; NaN where unknown.
    """
    if probability != probability:  # noqa: PLR0124 (NaN)
        return "-"
    return "<1 %" if probability < 0.01 else f"{100 * probability:.0f} %"


def write_details(result: Substitute, shared: Sequence[str] = (), doubt: Doubt | None = None) -> None:
    """Write one stand-in: in words, its differences, its preparation.

    Parameters
    ----------
    result : Substitute
        The stand-in.
    shared : sequence of str
        Cautions and notes that are said elsewhere.
    doubt : Doubt or None
        What its uncertainty is made of.
    """
    output.section(f"{result.rank}. {result.shaft_id}")
    output.sentence(result.summary)
    output.sentence(
        f"Tip trim {output.number(result.tip_trim_in)} in, butt trim {output.number(result.butt_trim_in, 2)} in, "
        f"cut length {output.number(result.cut_length_in, 2)} in; {output.number(result.head_add_g, 1)} g added "
        f"at the head for {result.swingweight}."
    )
    output.line()
    write_features(result)
    if doubt is not None:
        write_doubt(result, doubt)
    if result.not_compared:
        output.sentence(f"Not compared, for want of data: {', '.join(result.not_compared)}.")
    if result.preparation:
        output.line("Preparation, in order of work:")
        write_steps(result.preparation)
    for text in dict.fromkeys(_cautions(result)):
        if text not in shared:
            output.sentence(text, indent="Caution: ", hanging="  ")
    for text in result.notes:
        if text not in shared:
            output.sentence(text, indent="Note: ", hanging="  ")


def write_doubt(result: Substitute, doubt: Doubt) -> None:
    """Write what the uncertainty of one stand-in is made of, and what would take most of it away.

    Parameters
    ----------
    result : Substitute
        The stand-in.
    doubt : Doubt
        Of it.
    """
    output.sentence(
        f"Doubt: with no difference at all the score would be {output.number(result.noise_floor, 2)}; "
        f"that comes, by variance, from {doubt.sentence()}."
    )
    if doubt.settling is not None:
        output.sentence(f"Most worth measuring: {doubt.settling.sentence(result.shaft_id)}.")


def write_features(result: Substitute) -> None:
    """Write the differences of one stand-in as a table.

    Parameters
    ----------
    result : Substitute
        The stand-in.
    """
    columns = [
        Column("feature", keep=True),
        Column("fitted", right=True, keep=True),
        Column("stand-in", right=True, keep=True),
        Column("difference", right=True, keep=True),
        Column("units off", right=True, keep=True),
    ]
    rows = [
        [
            f"{f.title}, {f.unit}",
            output.number(f.reference, 2),
            output.number(f.candidate, 2),
            f"{output.signed(f.difference, 2)} ± {output.number(f.sd, 2)}",
            output.signed(f.units_off, 1),
        ]
        for f in result.features
    ]
    show(columns, rows)


def write_excluded(answer: SubstitutesAnswer) -> None:
    """Write how many shafts are not proposed, by reason.

    Parameters
    ----------
    answer : SubstitutesAnswer
        What was found.
    """
    excluded = answer.report.excluded
    if not len(excluded):
        return
    output.section(f"Not proposed: {output.plural(len(excluded), 'shaft')}")
    for reason, count in excluded.counts():
        filtered = reason == FILTERED and answer.filtered
        output.sentence(f"{count:>6}  {answer.filtered if filtered else reason}", hanging=" " * 8)
    output.line("  --why-not ID gives the reason for one shaft.")
