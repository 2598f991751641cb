"""``specdb profile``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import json_option
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    from specdb.profiles.estimate import Evidence
    from specdb.verbs.profiles import ProfileAnswer, Stiffness

_THIRD_NAMES = {"tip": "tip third", "mid": "middle third", "butt": "butt third"}


@command(
    "profile",
    "specdb profile quern-teasel-60-s",
    "specdb profile --shaft ambrel-drugget-55-s --json",
)
@click.argument("key", metavar="[SHAFT]", required=False, shell_complete=complete_key_of("shaft"))
@click.option("--shaft", metavar="ID", shell_complete=complete_key_of("shaft"), help="The shaft, named as an option.")
@json_option
def profile(key: str | None, shaft: str | None, as_json: bool) -> None:
    """Estimate the stiffness of a SHAFT along its length, with its uncertainty, from whatever is known of it.

    Data sheet figures, words, stiffness tables and bench readings all count, each by how sure it is. What shafts
    are usually like is learned from the other shafts of the catalogue that have a stiffness table.

    Not used by 'specdb substitutes' yet: stand-ins are still searched with stiffness tables and two-figure
    stiffness only.
    """
    from specdb.verbs.profiles import profile_of

    if key is not None and shaft is not None and key != shaft:
        raise click.UsageError(f"two shafts are named: {key} and {shaft}")
    named = key if key is not None else shaft
    if named is None:
        raise click.UsageError("name a shaft: specdb profile SHAFT")
    answer = profile_of(settings().open(), named)
    if as_json:
        output.emit_json(answer.to_json())
    else:
        write(answer)


def write(answer: ProfileAnswer) -> None:
    """Write a profile for a person.

    Parameters
    ----------
    answer : ProfileAnswer
        The answer.
    """
    found = answer.estimate
    output.title(f"Stiffness profile: shaft {answer.shaft.id}, {output.number(answer.shaft.raw_length_in, 2)} in raw")
    output.section("Known, and from where")
    for source in answer.known:
        output.sentence(f"{source.name}: {', '.join(source.known)}", indent="- ", hanging="  ")
    output.sentence(_taught(answer), indent="- ", hanging="  ")
    output.section("Readings against the estimated shaft")
    _write_readings(found.evidence)
    if found.outliers:
        output.section("To be asked about")
        output.bullets(_question(e) for e in found.outliers)
    if found.refused:
        output.section("Refused")
        output.bullets(f"{r.name}: {r.reason}" for r in found.refused)
    output.section("Stiffness from the raw tip, N·m², ± one standard deviation")
    _write_picture(answer)
    output.section("By thirds of the raw shaft (mean)")
    for key, third in answer.thirds.items():
        pct = 100.0 * third.sd_n_m2 / third.ei_n_m2
        output.line(f"  {_THIRD_NAMES[key]:<12} {_plus_minus(third)} N·m²  ({pct:.1f} %)")
    output.sentence(
        f"This is the nominal shaft; a single piece differs from it by about {100.0 * found.piece_sd:.1f} % more.",
        indent="  ",
    )
    if found.assumed:
        output.section("Assumed")
        output.bullets(found.assumed)
    output.line()
    from specdb.verbs.profiles import NOT_USED

    output.sentence(NOT_USED)


def _taught(answer: ProfileAnswer) -> str:
    if not answer.teachers:
        return "usual shafts: no other shaft here has a stiffness table; built-in figures with wide bands are used"
    taught = f"{output.plural(answer.teachers, 'shaft')} of {output.plural(answer.makers, 'maker')}"
    own = (
        "this maker is among them"
        if answer.maker_known
        else "too few of this maker among them, so that the bands are wider"
    )
    return f"usual shafts: learned from the stiffness tables of {taught}; {own}"


def _write_readings(evidence: tuple[Evidence, ...]) -> None:
    columns = [
        Column("reading", wraps=True, keep=True),
        Column("reads", right=True, keep=True),
        Column("± sd", right=True, keep=True),
        Column("model", right=True, keep=True),
        Column("off, sd", right=True, keep=True),
        Column("unit"),
    ]
    rows = [
        [
            output.printable(e.name),
            f"{e.value:.4g}",
            f"{e.sd:.2g}",
            f"{e.model:.4g}",
            output.signed(e.off, 1) + (" !" if e.outlier else ""),
            e.unit,
        ]
        for e in evidence
    ]
    show(columns, rows)
    output.sentence(
        "off: how far the reading lies from what all else leads to, in standard deviations; the model follows the "
        "reading in part, and that is allowed for."
    )


def _question(e: Evidence) -> str:
    side = "above" if e.off > 0.0 else "below"
    return (
        f"{e.name} reads {e.value:.4g} {e.unit}, {abs(e.off):.1f} sd {side} what all else leads to (the estimate, "
        f"which follows it in part, has {e.model:.4g}). It is counted. Is it of this shaft, and are its figure, "
        "place and set-up right?"
    )


def _plus_minus(stiffness: Stiffness) -> str:
    return f"{stiffness.ei_n_m2:6.1f} ± {stiffness.sd_n_m2:4.1f}"


def _write_picture(answer: ProfileAnswer) -> None:
    heads = [
        f"  {place:5.1f} in  {_plus_minus(s)}  " for place, s in zip(answer.station_in, answer.stations, strict=True)
    ]
    room = min(60, output.width() - max(len(h) for h in heads))
    per = room / max(s.ei_n_m2 + s.sd_n_m2 for s in answer.stations)
    for head, s in zip(heads, answer.stations, strict=True):
        output.line(head + _bar(s, per))
    output.sentence("= up to one sd below the estimate, | the estimate, - within one sd of it", indent="  ")


def _bar(s: Stiffness, per: float) -> str:
    """A bar to the estimate; what lies within one standard deviation of it is drawn with dashes."""
    low, mid, high = (max(0, round(per * v)) for v in (s.ei_n_m2 - s.sd_n_m2, s.ei_n_m2, s.ei_n_m2 + s.sd_n_m2))
    mid = max(mid, 1)
    low = min(low, mid - 1)
    return "=" * low + "-" * (mid - 1 - low) + "|" + "-" * max(0, high - mid)
