"""``specdb demo``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from specdb.cli import fitup, mechanics, output, substitutes
from specdb.cli.base import command, settings
from specdb.cli.progress import steps

if TYPE_CHECKING:
    from specdb.verbs.catalogue.demonstration import DemoAnswer


@command("demo", "specdb demo", "specdb demo --catalogue /tmp/demo.duckdb")
def demo() -> None:
    """Make the demonstration catalogue and run the main job on it.

    The catalogue is specdb-demo.duckdb in this folder, or the file named with --catalogue. Everything in it is
    invented. One that is there already is used as it is; any other file is left alone.
    """
    from specdb.verbs.catalogue.demonstration import FILE_NAME
    from specdb.verbs.catalogue.demonstration import demo as run_demo

    chosen = settings()
    path = Path(chosen.catalogue) if chosen.catalogue else Path(FILE_NAME)
    with steps() as tell:
        answer = run_demo(path, progress=tell)
    write(answer)


def write(answer: DemoAnswer) -> None:
    """Write the demonstration.

    Parameters
    ----------
    answer : DemoAnswer
        What it shows.
    """
    counts = [output.plural(n, kind.replace("_", " ")) for kind, n in answer.counts.items()]
    what = "Made the demonstration catalogue" if answer.made else "Using the demonstration catalogue"
    output.sentence(f"{what} {answer.path}: {output.join(counts)}. Everything in it is invented.")
    output.section("1. THE QUESTION: a club was fitted, and its shaft is backordered")
    substitutes.write_reference(answer.search)
    results = answer.search.report.results
    if not results or answer.fit is None or answer.build is None:
        output.line("No shaft on hand can stand in for it.")
        return
    output.section("2. THE ANSWER: what is on the shelf and plays nearest in that same build, and its preparation")
    substitutes.write_ranking(answer.search.report)
    # the cautions come with the fit
    substitutes.write_details(results[0], substitutes.shared_texts(results[:1]), answer.search.report.doubts.all[0])
    output.section("3. THE FIT: does its tip go in the bore, as prepared?")
    fitup.write(answer.fit)
    output.section("4. THE BUILD: the club with the stand-in, cut, glued and gripped")
    mechanics.write(answer.build)
    _write_next(answer)


def _write_next(answer: DemoAnswer) -> None:
    first = answer.search.report.results[0]
    trim = f" --tip-trim {output.number(first.tip_trim_in)}" if first.tip_trim_in else ""
    here = f"--catalogue {answer.path}"
    output.section("Try next")
    for words in (
        f"specdb substitutes --club {answer.club} {here}",
        f"specdb substitutes --club {answer.club} --in-stock --top 3 --json {here}",
        f"specdb fitup --club {answer.club} --shaft {first.shaft_id}{trim} {here}",
        f"specdb show shaft {first.shaft_id} {here}",
        f"specdb choose --club {answer.club} --shaft {first.shaft_id} --why 'nearest in feel' {here}",
        f"specdb list club {here}",
        "specdb --help",
    ):
        output.line(f"  {words}")
