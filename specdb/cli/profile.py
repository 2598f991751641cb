"""``specdb profile``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_key_of
from specdb.cli.options import json_option
from specdb.cli.tables import Column, show

if TYPE_CHECKING:
    from specdb.profiles.estimate import Evidence
    from specdb.verbs.stiffness.profiles import ProfileAnswer

_WIDEST = 100  # columns of the picture
_STATION = 8  # columns of the figures at a station
_THIRD_NAMES = {"tip": "tip third", "mid": "middle third", "butt": "butt third"}


@command(
    "profile",
    "specdb profile quern-teasel-60-s",
    "specdb profile quern-withy-65-s --picture quern-withy-65-s.svg",
    "specdb profile --shaft ambrel-drugget-55-s --json",
)
@click.argument("key", metavar="[SHAFT]", required=False, shell_complete=complete_key_of("shaft"))
@click.option("--shaft", metavar="ID", shell_complete=complete_key_of("shaft"), help="The shaft, named as an option.")
@click.option(
    "--picture", metavar="FILE", type=click.Path(path_type=Path), help="Write the picture to FILE (.svg or .png) too."
)
@click.option("--force", is_flag=True, help="Overwrite FILE if it is there.")
@json_option
def profile(key: str | None, shaft: str | None, picture: Path | None, force: bool, as_json: bool) -> None:
    """Estimate the stiffness of a SHAFT along its length, with its uncertainty, from whatever is known of it.

    Data sheet figures, words, stiffness tables, bench readings and frequencies of finished clubs all count, each by
    how sure it is. What shafts are usually like is learned from the other shafts of the catalogue that have a
    stiffness table. A reading that does not go with the others is named and asked about; the more surely they
    contradict it the less it counts, but it is never dropped.

    Where a shaft has no complete EI table, clubs and stand-ins are worked out from this estimate, which is kept in
    the catalogue ('specdb estimate').
    """
    from specdb.verbs.stiffness.pictures import check_target, picture_of, write_picture
    from specdb.verbs.stiffness.profiles import profile_of

    if key is not None and shaft is not None and key != shaft:
        raise click.UsageError(f"two shafts are named: {key} and {shaft}")
    named = key if key is not None else shaft
    if named is None:
        raise click.UsageError("name a shaft: specdb profile SHAFT")
    if force and picture is None:
        raise click.UsageError("--force goes with --picture")
    if picture is not None:
        check_target(picture, force=force)
    answer = profile_of(settings().open(), named)
    if picture is not None:
        write_picture(picture_of(answer), picture, force=force)
    if as_json:
        output.emit_json(answer.to_json())
    else:
        write(answer)
    if picture is not None:
        output.note(f"Picture written: {picture}")


def write(answer: ProfileAnswer) -> None:
    """Write a profile for a person.

    Parameters
    ----------
    answer : ProfileAnswer
        The answer.
    """
    from specdb.verbs.stiffness.outlier_words import how_to_mend, questions
    from specdb.verbs.stiffness.pictures import taught

    found, shaft = answer.estimate, answer.shaft
    output.title(f"Stiffness profile: shaft {shaft.id}, {output.number(shaft.raw_length_in, 2)} in raw")
    named = " ".join(text for text in (shaft.maker, shaft.model, shaft.flex) if text)
    if named:
        output.sentence(named, indent="  ")
    output.line()
    _write_picture(answer)
    output.section("Estimate, N·m²")
    _write_stations(answer)
    output.line()
    for key, third in answer.thirds.items():
        pct = 100.0 * third.sd_n_m2 / third.ei_n_m2
        output.line(f"{_THIRD_NAMES[key]:<12}  mean {third.ei_n_m2:6.1f} ± {third.sd_n_m2:4.1f}  ({pct:.1f} %)")
    output.sentence(
        "±: one standard deviation of the nominal shaft; a single piece differs from it by about "
        f"{100.0 * found.piece_sd:.1f} % more."
    )
    output.section("Known, and from where")
    for source in answer.known:
        output.sentence(f"{source.name}: {', '.join(source.known)}", indent="- ", hanging="  ")
    output.sentence(taught(answer), indent="- ", hanging="  ")
    output.section("Readings against the estimated shaft")
    _write_readings(found.evidence)
    if answer.corrected:
        output.section("Corrected for the instrument")
        output.bullets(f"{c.name}: {c.told}" for c in answer.corrected)
    if found.outliers:
        output.section("To be asked about, the worst first" if len(found.outliers) > 1 else "To be asked about")
        output.bullets(questions(found.outliers))
        output.sentence(how_to_mend(shaft.id, found.outliers))
    if found.refused:
        output.section("Refused")
        output.bullets(f"{r.name}: {r.reason}" for r in found.refused)
    if found.assumed:
        output.section("Assumed")
        output.bullets(found.assumed)
    output.line()
    output.sentence(answer.used)


def _write_picture(answer: ProfileAnswer) -> None:
    from specdb.verbs.stiffness.shaft_curves import DRAWN_WITH, curve_of_answer, key_of, text_picture

    curves = [curve_of_answer(answer)]
    plain = not output.can_show(DRAWN_WITH)
    for text in text_picture(curves, width=min(output.width(), _WIDEST), plain=plain):
        output.line(text)
    output.sentence(key_of(curves, plain=plain))


def _write_stations(answer: ProfileAnswer) -> None:
    """Figures at the stations, side by side as far as there is room."""
    heads = ("in from tip", "EI", "± 1 sd")
    columns = [
        (f"{place:.1f}", f"{s.ei_n_m2:.1f}", f"{s.sd_n_m2:.1f}")
        for place, s in zip(answer.station_in, answer.stations, strict=True)
    ]
    widest = max(len(h) for h in heads)
    at_once = max(1, (output.width() - widest) // _STATION)
    for start in range(0, len(columns), at_once):
        for row, head in enumerate(heads):
            cells = "".join(f"{c[row]:>{_STATION}}" for c in columns[start : start + at_once])
            output.line(f"{head:<{widest}}{cells}")


def _write_readings(evidence: Sequence[Evidence]) -> None:
    from specdb.verbs.stiffness.outlier_words import counted, counts_less, is_word

    less = any(counts_less(e) for e in evidence)
    columns = [
        Column("reading", wraps=True, keep=True),
        Column("reads", right=True, keep=True),
        Column("± sd", right=True, keep=True),
        Column("model", right=True, keep=True),
        Column("unit"),
        Column("off, sd", right=True, keep=True),
        *([Column("counts", right=True, keep=True)] if less else []),
    ]
    rows = []
    for e in evidence:
        figures = ["", "", "", ""] if is_word(e) else [f"{e.value:.4g}", f"{e.sd:.2g}", f"{e.model:.4g}", e.unit]
        off = output.signed(e.off, 1) + (" !" if e.outlier else "  ")
        rows.append(
            [output.printable(e.name), *figures, off, *([counted(e) if counts_less(e) else ""] if less else [])]
        )
    show(columns, rows)
    asked = " !: to be asked about, see below." if any(e.outlier for e in evidence) else ""
    output.sentence(
        "off: how far the reading lies from what all else leads to, in standard deviations; the model follows the "
        f"reading in part, and that is allowed for.{asked}"
        + (" counts: in parts of what its sd says, as the others contradict it." if less else "")
    )
