"""``specdb fitup``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import build_options, club_request, json_option, quantity
from specdb.errors import ExitCode

if TYPE_CHECKING:
    from specdb.fitup.report import Check, FitReport, Step

_VERDICTS = {
    "fits": "FITS",
    "fits_with_preparation": "FITS WITH PREPARATION",
    "does_not_fit": "DOES NOT FIT",
    "unknown": "UNKNOWN: a measurement is missing",
}
_MARKS = {"fits": "ok", "warning": "mind", "does_not_fit": "NO", "unknown": "?"}


@command(
    "fitup",
    "specdb fitup --shaft hollin-reach-holm-60-s --head brackwater-gannet-1-10.5-rh",
    "specdb fitup --club ashby-driver --shaft hollin-reach-holm-60-s --tip-trim 0.5",
    "specdb fitup --club ashby-driver --adapter vale-eight-eight-350 --length '45 1/2' --json",
)
@build_options
@click.option("--hand", type=click.Choice(["right", "left"]), help="Hand of the player.")
@quantity("--loft", "loft_deg", "Wanted loft.", metavar="DEG")
@quantity("--lie", "lie_deg", "Wanted lie.", metavar="DEG")
@json_option
def fitup(as_json: bool, hand: str | None, loft: float | None, lie: float | None, **given: Any) -> int:  # noqa: ANN401
    """Say whether a tip goes in a bore, with every figure, and what must be done first.

    Exit status 1: it does not fit, or a measurement that is needed is missing.
    """
    from dataclasses import replace

    from specdb.verbs.clubs.fitup import fitup_of

    request = replace(club_request(given), loft_deg=loft, lie_deg=lie)
    report = fitup_of(settings().open(), request, hand=hand)
    if as_json:
        output.emit_json(report.to_json())
    else:
        write(report)
    return int(ExitCode.DONE if str(report.verdict).startswith("fits") else ExitCode.NO)


def write(report: FitReport) -> None:
    """Write a fit-up report for a person.

    Parameters
    ----------
    report : FitReport
        The report.
    """
    output.line(output.heading(_VERDICTS[str(report.verdict)]))
    output.section("Checks")
    for check in report.checks:
        write_check(check)
    if report.preparation:
        output.section("Preparation, in order of work")
        write_steps(report.preparation, cautions=True)
    if report.missing:
        output.section("Missing measurements")
        output.bullets(report.missing)
    if report.cautions:
        output.section("Cautions")
        output.bullets(report.cautions)


def write_steps(steps: Sequence[Step], *, cautions: bool = False) -> None:
    """Write the steps of a preparation.

    Parameters
    ----------
    steps : sequence of Step
        In order of work.
    cautions : bool
        Whether each is followed by its caution.
    """
    for number, step in enumerate(steps, start=1):
        stock = {True: " (in stock)", False: " (NOT in stock)", None: ""}[step.in_stock]
        part = f" [{step.part_kind} {step.part_id}{stock}]" if step.part_id else ""
        output.sentence(f"{step.weighed}{part}", indent=f"{number}. ", hanging="   ")
        if cautions and step.caution:
            output.sentence(f"Caution: {step.caution}", indent="   ")


def write_check(check: Check) -> None:
    """Write one check: its mark, name and detail.

    Parameters
    ----------
    check : Check
        The check.
    """
    mark = _MARKS[str(check.verdict)]
    name = check.name.replace("_", " ")
    output.sentence(f"{name}: {check.detail}", indent=f"[{mark:<4}] ", hanging=" " * 7)
