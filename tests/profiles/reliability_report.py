"""``RELIABILITY.md``: what ``reliability`` finds, as tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from specdb.matching.weighting import COMPARED
from specdb.profiles.population import Population
from tests.profiles import attainable as a
from tests.profiles import reliability as r
from tests.profiles.figures import Figures, taught_by
from tests.profiles.fresh_truth import fresh_shafts
from tests.profiles.shop import BENCHED, THREE, Knows, open_shop
from tests.profiles.truth import FREE_LENGTHS_IN

KEPT = Path(__file__).with_name("RELIABILITY.md")
KINDS = ("wood", "iron")
TESTED, TESTED_TOO = "R", "S"  # makers

INTRO = """# How far estimates and comparisons can be relied on

Made by `python -m tests.profiles.reliability --write`; do not edit. Everything is simulated: shafts drawn as tubes with
plies or step-downs (`fresh_truth.py`), of makers that were not looked at while the estimator was mended. Readings and
leaflets scatter as the product takes them to where nobody says otherwise (`specdb/mechanics/defaults.py`). What real
leaflets are like no simulation can tell, and that real shafts scatter as these do is a judgement.
"""


def _table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    lines = [" | ".join(head), " | ".join(["---"] * len(head)), *(" | ".join(str(c) for c in row) for row in rows)]
    return "\n".join(f"| {line} |" for line in lines) + "\n"


def _thirds(values: Sequence[float], decimals: int = 1) -> str:
    return " / ".join(f"{100 * v:.{decimals}f}" for v in values)


_WANTED = {
    Knows.LEAFLET: "",
    Knows.ONE: "14 / 8 / 9; 1.5",
    Knows.SEVEN: "5 / 3 / 5",
    Knows.BEND: "5 / 3 / 4",
}


def accuracy() -> str:
    """RMS errors by state of knowledge."""
    rows = []
    for taught, population in (
        ("150 woods and 150 irons of the same makers", r.taught_by_makers(TESTED, seed=351)),
        ("600 woods and 600 irons of the same makers", r.taught_by_makers(TESTED, 600, 352)),
        ("other makers", r.taught_by_makers("A")),
    ):
        for kind in KINDS:
            found = r.by_state(r.pieces(kind, TESTED, 150, 361), population, 362)
            rows += [
                (taught, kind, state.value, _thirds(f.rms.tolist()), f"{100 * f.frequency_rms:.2f}", _WANTED[state])
                for state, f in found.items()
            ]
    head = ("learned from", "kind", "known", "EI, % (tip / middle / butt)", "frequency, %", "asked for")
    return (
        "## Accuracy\n\nRMS error of EI in each third and of the installed frequency, 150 pieces each, beside leaflets "
        "with weight, torque and balance point.\n\n" + _table(head, rows)
    )


def _band_row(name: str, figures: Figures) -> tuple[object, ...]:
    return name, len(figures.frequency_off), _thirds(figures.held.tolist()), f"{100 * figures.frequency_held:.1f}"


def attainable() -> str:
    """What seven frequencies could tell at best."""
    rows, told = [], []
    for kind in KINDS:
        tested = a.draw(kind, TESTED, 150, 361)
        own, others = a.draw(kind, TESTED, 2000, 9000), a.draw(kind, a.OTHERS, 2000, 9100)
        for name, taught, known in (
            ("2,000 shafts of the same makers, the mean of each maker known", own, True),
            ("2,000 shafts of the same makers", own, False),
            ("2,000 shafts of sixty other makers", others, False),
        ):
            rows.append((kind, name, _thirds(a.best_linear(taught, tested, maker_known=known).tolist())))
        for steel in np.unique(others.steel).tolist():
            of_one = a.of_one(others, steel=steel)
            for noise in (0.005, 0.001):
                before, after = a.information(of_one, noise)
                told.append(
                    (
                        f"{'steel' if steel else 'graphite'} {kind}s",
                        f"{100 * noise:.1f}",
                        _thirds(before.tolist()),
                        _thirds(after.tolist()),
                    )
                )
    return f"""## What seven frequencies can tell at best

Worked out without the estimator (`attainable.py`). RMS error of EI of the best linear estimate from the logarithms of
seven frequencies (0.5 % noise) and the leaflet's figures, by one who saw thousands of such shafts exactly, each
material by itself; tested on the 150 pieces of the table above:

{_table(("kind", "learned from", "EI, % (tip / middle / butt)"), rows)}
And by the information in the readings: standard deviation of ln EI given the leaflet, without and with the seven
frequencies, from their sensitivities by the exact mechanics and the covariance of 2,000 shafts of sixty makers:

{_table(("shafts", "noise, %", "without, %", "with seven frequencies, %"), told)}
Where the tip third of woods is asked to be within 5 %, seven frequencies of such shafts do not hold that much: the mode
of vibration bends the tip so little that even readings five times as good would leave more. What is missing is a
bending reading near the tip. The estimator comes near to the best that can be had where it has seen many shafts of the
kind; from few it cannot know what kind that is.
"""


def bands() -> str:
    """What the 90 % bands hold."""
    parts = []
    bench = [*r.on_the_bench(TESTED, 30, 372), *r.on_the_bench(TESTED_TOO, 30, 373)]
    tables, generators = (
        "six other makers of tubes, 25 shafts each of woods and irons",
        "four makers of another generator",
    )
    kinds = ("plies", "steps", "smooth", "coarse steps")
    few = "60 woods and 60 irons of the tested makers on the bench, a third of them at eight stations, which teach"
    for taught, seen, population in (
        (tables, "nothing else on the bench", r.taught_by_makers("A")),
        (tables, few, r.taught_by_makers("A", benched=bench)),
        (generators, "nothing else on the bench", taught_by(kinds, 120, 301)),
        (generators, few, taught_by(kinds, 120, 301, bench)),
    ):
        found = r.never_seen(population, TESTED, 105, 371) | r.never_seen(population, TESTED_TOO, 105, 374)
        if taught == generators:
            found = {k: v for k, v in found.items() if "generator" not in k}
        rows = [_band_row(name, f) for name, f in found.items()]
        rows.append(_band_row("all", r.pooled(list(found.values()))))
        head = ("tested", "shafts", "EI in its band, % (tip / middle / butt)", "frequency in its band, %")
        parts.append(f"Learned from {taught}; in the catalogue {seen}:\n\n" + _table(head, rows))
    return (
        "## Bands of 90 %\n\nMakers and generators that taught nothing; a quarter of the shafts known by leaflet, one "
        "butt frequency, seven frequencies, eight bending stations. Other shafts of those makers that were read on the "
        "bench show how far such shafts depart from what was learned. Where all was learned from shafts of quite "
        "another kind, two or three of a maker that teach pull the estimates of its others further than they should."
        "\n\n" + "\n".join(parts)
    )


def wrong_readings() -> str:
    """What a mistyped frequency does."""
    rows = []
    for kind in KINDS:
        for length, found in zip(FREE_LENGTHS_IN, r.mistyped(kind, TESTED, 60, 361), strict=True):
            cells = (f"{found.cpm:.0f}", f"{found.weight:.2f}", _thirds(found.moved), _thirds(found.moved_plain))
            rows.append((kind, f"{length / 46:.2f}", *cells))
    clean = [f"{100 * r.lost_by_clean(kind, TESTED, 60, 361):.2f} %" for kind in KINDS]
    head = (
        "kind",
        "free length / raw",
        "reads, cpm",
        "counts",
        "EI moves, RMS % (tip / middle / butt)",
        "if counted in full",
    )
    return f"""## A frequency that is mistyped by 20 cpm

One of seven, 60 shafts each; learned from other makers. Near the tip 20 cpm is a few standard deviations of the
reading: what cannot be told from noise counts, as noise does. Where the reading nearest the butt is wrong, the butt
is known by what the others tell of it.

{_table(head, rows)}
Weight lost by readings that are right: {clean[0]} (woods), {clean[1]} (irons).
"""


def _reliability_row(name: str, pairs: r.Pairs) -> tuple[object, ...]:
    cells = [f"{100 * p:.0f} → {100 * y:.0f} ({n})" if n else "" for n, p, y in pairs.table()]
    return name, *cells, f"{pairs.brier:.4f} ({pairs.brier_of_rate:.4f})"


def _probabilities(population: Population | None) -> str:
    each = {kind: r.pairs(kind, TESTED, population, range(381, 385), 20) for kind in KINDS}
    found = r.all_pairs(list(each.values()))
    rows = [
        _reliability_row("all", found),
        *(_reliability_row(f"{kind}s", p) for kind, p in each.items()),
        _reliability_row("ranked first", found.only(found.rank == 1)),
        _reliability_row("ranked first to fifth", found.only(found.rank <= 5)),
        *(_reliability_row(f"stand-in: {s.value}", found.only(found.candidate == s.value)) for s in THREE),
        *(_reliability_row(f"fitted: {s.value}", found.only(found.fitted == s.value)) for s in THREE),
    ]
    head = ("pairs", "0-5 %", "5-20 %", "20-40 %", "40-60 %", "60-80 %", "80-100 %", "Brier (of the rate alone)")
    return _table(head, rows)


def probabilities() -> str:
    """Reliability of the probability that all stays inside tolerance."""
    return f"""## Probability that all features stay inside tolerance

Mean promised → came, in percent, and the number of pairs. 160 fitted clubs, catalogues of 75 shafts of one kind, a
third known by EI table, by bench readings, by leaflet only; every shaft of the catalogue is a stand-in. Questions at
one, two, three and four times the usual tolerances, for at the usual ones hardly any pair stays inside in all ten
features. What came is a piece of each shaft, drawn anew, cut and glued, by the exact mechanics.

The population learned from the catalogue's own tables, as the product does:

{_probabilities(None)}
The population learned from other makers:

{_probabilities(r.taught_by_makers("A"))}
"""


def linearisation() -> str:
    """Linearised standard deviations against drawn shafts."""
    population = r.taught_by_makers("A")
    rows = []
    for kind in KINDS:
        shop = open_shop(kind, fresh_shafts(30, 391, kind, TESTED), 391, population)
        for state in THREE:
            ratio = r.linearised(shop, state, 5, 2000, 391).mean(axis=0)
            rows.append((kind, state.value, *(f"{v:.3f}" for v in ratio)))
    return (
        "## Linearised standard deviations\n\nAs told, by that of 2,000 drawn shafts through the exact mechanics; mean "
        "of five shafts each.\n\n" + _table(("kind", "known", *(f.title for f in COMPARED)), rows)
    )


def matching() -> str:
    """The true best stand-in among the first five."""
    rows, by = [], []
    for name, states in (("frequency, frequencies or bending", BENCHED), ("table, bench or leaflet", THREE)):
        found = {k: [f for s in range(401, 406) for f in r.matched(k, "D", states, s, 20)] for k in KINDS}
        both = [f for own in found.values() for f in own]
        for kind, own in (("woods", found["wood"]), ("irons", found["iron"]), ("both", both)):
            missed = [f.doubt for f in own if f.rank > 5]
            rows.append(
                (
                    name,
                    kind,
                    len(own),
                    f"{100 * r.in_first(own):.1f}",
                    f"{100 * np.mean([f.near for f in own]):.1f}",
                    f"{100 * r.in_first(own, 10):.1f}",
                    f"{np.mean([f.lost for f in own]):.3f}",
                    f"{np.median([f.doubt for f in own if f.rank <= 5]):.2f}",
                    f"{np.median(missed):.2f}" if missed else "",
                    f"{r.doubt_is_larger(own):.3f}",
                )
            )
        by += [
            (name, s.value, len(own), f"{100 * r.in_first(own):.0f}")
            for s in states
            if (own := [f for f in both if f.best == s])
        ]
    head = (
        "known by",
        "clubs",
        "number",
        "in first five, %",
        f"one within {r.NEAR:g} of it, %",
        "in first ten, %",
        "mean score lost",
        "doubt where found",
        "where missed",
        "p",
    )
    return f"""## Is the true best stand-in among the first five?

Catalogues of 150 shafts, half woods and half irons, a third in each state of knowledge, the fitted shaft too; the
population is learned from the catalogue's own tables. True best: the same search with everything known and u = 0.
Doubt: mean noise floor of the first five; p: rank test that it is no larger where the true best was missed.

{_table(head, rows)}
By what is known of the true best:

{_table(("known by", "the true best", "clubs", "in first five, %"), by)}
A shaft known by its leaflet only is rarely among the first where others are known well and play nearly as near: its
own uncertainty is part of its score, and is meant to be. One butt frequency mends that.
"""


def write(*, keep: bool) -> None:
    """Work everything out and print it; keep it beside this file."""
    parts = (accuracy, attainable, bands, wrong_readings, probabilities, linearisation, matching)
    text = "\n".join([INTRO, *(part() for part in parts)])
    print(text)
    if keep:
        KEPT.write_text(text, encoding="utf-8")
