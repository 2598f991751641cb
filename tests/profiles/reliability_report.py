"""``RELIABILITY.md``: what ``reliability`` finds, as tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from specdb.matching.weighting import COMPARED
from specdb.profiles.population import Population
from tests.profiles import reliability as r
from tests.profiles.figures import Figures, taught_by
from tests.profiles.fresh_truth import fresh_shafts
from tests.profiles.shop import BENCHED, THREE, Knows, open_shop

KEPT = Path(__file__).with_name("RELIABILITY.md")
KINDS = ("wood", "iron")

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
        ("other shafts of the same makers", r.taught_by_makers("C", seed=351)),
        ("other makers", r.taught_by_makers("A")),
    ):
        for kind in KINDS:
            found = r.by_state(r.pieces(kind, "C", 150, 361), population, 362)
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


def bands() -> str:
    """What the 90 % bands hold."""
    parts = []
    for taught, population in (
        ("six other makers of tubes, 25 shafts each of woods and irons", r.taught_by_makers("A")),
        ("four makers of another generator", taught_by(("plies", "steps", "smooth", "coarse steps"), 120, 301)),
    ):
        found = r.never_seen(population, "C", 170, 371)
        if "generator" in taught:
            found = {k: v for k, v in found.items() if "generator" not in k}
        rows = [_band_row(name, f) for name, f in found.items()]
        rows.append(_band_row("all", r.pooled(list(found.values()))))
        head = ("tested", "shafts", "EI in its band, % (tip / middle / butt)", "frequency in its band, %")
        parts.append(f"Learned from {taught}:\n\n" + _table(head, rows))
    return (
        "## Bands of 90 %\n\nMakers and generators that taught nothing; a quarter of the shafts known by leaflet, one "
        "butt frequency, seven frequencies, eight bending stations.\n\n" + "\n".join(parts)
    )


def _reliability_row(name: str, pairs: r.Pairs) -> tuple[object, ...]:
    cells = [f"{100 * p:.0f} → {100 * y:.0f} ({n})" if n else "" for n, p, y in pairs.table()]
    return name, *cells, f"{pairs.brier:.4f} ({pairs.brier_of_rate:.4f})"


def _probabilities(population: Population | None) -> str:
    each = {kind: r.pairs(kind, "C", population, range(381, 385), 20) for kind in KINDS}
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
        shop = open_shop(kind, fresh_shafts(30, 391, kind, "C"), 391, population)
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
    text = f"{INTRO}\n{accuracy()}\n{bands()}\n{probabilities()}\n{linearisation()}\n{matching()}"
    print(text)
    if keep:
        KEPT.write_text(text, encoding="utf-8")
