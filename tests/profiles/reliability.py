"""How far estimates, their bands, the probabilities and the order of stand-ins can be relied on.

``python -m tests.profiles.reliability`` works everything out on shafts drawn as tubes (``fresh_truth``) and prints
it; ``--write`` keeps it as ``RELIABILITY.md`` beside this file. Makers A, B and C were looked at while the estimator
was mended; what is told is from makers D, R and S, which were not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from specdb.matching import find_substitutes
from specdb.matching.weighting import Tolerances
from specdb.mechanics.assembly import assemble
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.mechanics.profile import ShaftModel
from specdb.profiles.estimate import Evidence, estimate_many, make_tasks
from specdb.profiles.evidence import Case
from specdb.profiles.population import Population
from specdb.profiles.solver import OFFSET_OF, OFFSETS, solve
from specdb.profiles.state import EI, NODE_T, SIZE
from specdb.records.rows import ShaftReading
from tests.profiles.figures import Figures, cases_of, measure
from tests.profiles.fresh_truth import fresh_shafts
from tests.profiles.shop import Knows, Shop, open_shop, taught_by_tables
from tests.profiles.truth import Truth, bendings, frequencies, true_shafts

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

EDGES = (0.0, 0.05, 0.20, 0.40, 0.60, 0.80, 1.0)
NEAR = 0.10  # of a score: as good as the best
TRIMS_IN = (0.0, 0.5, 1.0)


def taught_by_makers(makers: str, count: int = 150, seed: int = 51, benched: Sequence[Case] = ()) -> Population:
    """A population learned from EI tables of woods and irons of some makers, others being on the bench."""
    woods, irons = fresh_shafts(count, seed, "wood", makers), fresh_shafts(count, seed + 1, "iron", makers)
    return taught_by_tables([*woods, *irons], seed, benched)


# --- accuracy and bands ------------------------------------------------------------------------------------


def pieces(kind: str, makers: str, count: int, seed: int) -> list[Truth]:
    """Pieces of shafts drawn as tubes, with the leaflets of the shafts."""
    rng = np.random.default_rng(seed)
    return [Truth(t.piece(rng).model(), t.shaft) for t in fresh_shafts(count, seed, kind, makers)]


def by_state(truths: Sequence[Truth], population: Population, seed: int) -> dict[Knows, Figures]:
    """Every shaft known in each of four ways."""
    rng = np.random.default_rng(seed)
    seven, bent = frequencies(truths, rng, 0.005), bendings(truths, rng, 0.02)
    known: dict[Knows, list[list[ShaftReading]]] = {
        Knows.LEAFLET: [[] for _ in truths],
        Knows.ONE: [own[-1:] for own in seven],
        Knows.SEVEN: seven,
        Knows.BEND: bent,
    }
    return {state: measure(truths, readings, population) for state, readings in known.items()}


def on_the_bench(makers: str, each: int, seed: int) -> list[Case]:
    """Shafts of a catalogue that were read on the bench, a third each by one frequency, by seven and by bending."""
    cases: list[Case] = []
    for kind in ("wood", "iron"):
        truths = pieces(kind, makers, each, seed)
        rng = np.random.default_rng(seed)
        seven, bent = frequencies(truths, rng, 0.005), bendings(truths, rng, 0.02)
        cases += cases_of(truths, [(seven[i][-1:], seven[i], bent[i])[i % 3] for i in range(each)])
    return cases


def never_seen(population: Population, makers: str, each: int, seed: int) -> dict[str, Figures]:
    """Shafts of makers, and of generators, that taught nothing; a quarter of them known in each of four ways."""
    groups = {
        f"woods of makers {makers}": pieces("wood", makers, each, seed),
        f"irons of makers {makers}": pieces("iron", makers, each, seed),
        "another generator, woods": true_shafts(each // 2, seed, "plies"),
        "another generator, irons": true_shafts(each // 2, seed, "steps"),
    }
    out = {}
    for name, truths in groups.items():
        rng = np.random.default_rng(seed)
        seven, bent = frequencies(truths, rng, 0.005), bendings(truths, rng, 0.02)
        known = [([], seven[i][-1:], seven[i], bent[i])[i % 4] for i in range(len(truths))]
        out[name] = measure(truths, known, population)
    return out


def pooled(figures: Sequence[Figures]) -> Figures:
    """Several put together."""
    names = ("ei_error", "ei_off", "frequency_error", "frequency_off")
    joined: list[FloatArray] = [np.concatenate([getattr(f, n) for f in figures]) for n in names]
    return Figures(joined[0], joined[1], joined[2], joined[3])


# --- wrong readings ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Mistyped:
    """One of seven frequencies is 20 cpm too high.

    Attributes
    ----------
    cpm : float
        What it should read, about.
    weight : float
        What it counts, on average.
    moved, moved_plain : list of float
        By how much EI moves, RMS by third; and where every reading counts in full.
    """

    cpm: float
    weight: float
    moved: list[float]
    moved_plain: list[float]


def mistyped(kind: str, makers: str, count: int, seed: int, by_cpm: float = 20.0) -> list[Mistyped]:
    """What a mistyped frequency does, for each free length."""
    population = taught_by_makers("A")
    truths = pieces(kind, makers, count, seed)
    seven = frequencies(truths, np.random.default_rng(seed), 0.005)
    right = _profiles(truths, seven, population)
    out = []
    for k in range(len(seven[0])):
        wrong = [[replace(r, value=r.value + by_cpm * (j == k)) for j, r in enumerate(own)] for own in seven]
        found = _profiles(truths, wrong, population)
        away = [
            np.sqrt(((f - g) ** 2).reshape(count, 3, -1).mean(axis=(0, 2))) for f, g in zip(found, right, strict=True)
        ]
        told = estimate_many(cases_of(truths, wrong), population)
        weight = [e.weight for one, own in zip(told, wrong, strict=True) for e in one.evidence if _is(e, own[k])]
        cpm = float(np.mean([own[k].value for own in seven]))
        out.append(Mistyped(cpm, float(np.mean(weight)), away[0].tolist(), away[1].tolist()))
    return out


def lost_by_clean(kind: str, makers: str, count: int, seed: int) -> float:
    """Part of their weight that seven right frequencies lose."""
    truths = pieces(kind, makers, count, seed)
    seven = frequencies(truths, np.random.default_rng(seed), 0.005)
    told = estimate_many(cases_of(truths, seven), taught_by_makers("A"))
    return 1.0 - float(np.mean([e.weight for one in told for e in one.evidence if e.unit == "cpm"]))


def _is(evidence: Evidence, row: ShaftReading) -> bool:
    return evidence.unit == "cpm" and abs(evidence.value - row.value) < 1e-6


def _profiles(
    truths: Sequence[Truth], readings: Sequence[Sequence[ShaftReading]], population: Population
) -> tuple[FloatArray, FloatArray]:
    """ln EI of the measured pieces at the nodes' places: as estimated, and with every reading at full weight."""
    cases = cases_of(truths, readings)
    place = (np.arange(99) + 0.5) / 99
    found = [np.log(e.band(place * e.raw_m, "A")[0]) for e in estimate_many(cases, population)]
    plain = []
    for solution in solve(make_tasks(cases, population)):
        log_ei = solution.state[EI] + solution.state[SIZE : SIZE + OFFSETS] @ OFFSET_OF[:, EI]
        plain.append(np.log(np.interp(place, NODE_T, np.exp(log_ei))))
    return np.array(found), np.array(plain)


# --- probability that all stays inside tolerance -----------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Pairs:
    """Fitted clubs and stand-ins: what was promised, what came."""

    probability: FloatArray
    inside: BoolArray
    rank: npt.NDArray[np.int64]
    fitted: npt.NDArray[np.str_]
    candidate: npt.NDArray[np.str_]
    kind: npt.NDArray[np.str_]

    def only(self, keep: BoolArray) -> Pairs:
        """Some of them."""
        return Pairs(
            self.probability[keep],
            self.inside[keep],
            self.rank[keep],
            self.fitted[keep],
            self.candidate[keep],
            self.kind[keep],
        )

    @property
    def brier(self) -> float:
        """Mean square of probability less outcome."""
        return float(np.mean((self.probability - self.inside) ** 2))

    @property
    def brier_of_rate(self) -> float:
        """The same for one who only knows how many there are."""
        return float(self.inside.mean() * (1.0 - self.inside.mean()))

    def table(self) -> list[tuple[int, float, float]]:
        """Number, mean probability and part that stayed inside, by bin."""
        out = []
        for low, high in pairwise(EDGES):
            here = (self.probability >= low) & ((self.probability < high) | (high == 1.0))
            seen = bool(here.any())
            out.append(
                (
                    int(here.sum()),
                    float(self.probability[here].mean()) if seen else float("nan"),
                    float(self.inside[here].mean()) if seen else float("nan"),
                )
            )
        return out


def pairs(
    kind: str,
    makers: str,
    population: Population | None,
    seeds: Sequence[int],
    clubs: int,
    multiples: Sequence[float] = (1.0, 2.0, 3.0, 4.0),
) -> Pairs:
    """Every shaft of a catalogue of 75 as a stand-in for some fitted clubs.

    At the usual tolerances next to nothing in such a catalogue stays inside in all ten features, and nothing is
    promised to; so questions are also put with tolerances that are multiples of the usual, as a shop may keep them.
    Without a population one is learned from the tables of the catalogue, as the product does. The truth is a piece of
    the stand-in beside a piece of the fitted shaft, each drawn anew.
    """
    usual = Tolerances.default()
    rows: list[tuple[float, bool, int, str, str, str]] = []
    for seed in seeds:
        shop = open_shop(kind, fresh_shafts(75, seed, kind, makers), seed, population)
        rng = np.random.default_rng(seed)
        for number in rng.permutation(len(shop.tubes))[:clubs].tolist():
            trim = float(rng.choice(TRIMS_IN))
            for multiple in multiples:
                wanted = Tolerances(f"{multiple:g} times", multiple * usual.unit, usual.weight)
                question = replace(shop.asked(number, trim, len(shop.tubes)), tolerances=wanted)
                report = find_substitutes(shop.index, question)
                true = shop.true_differences(number, trim, report, rng)
                for result, difference in zip(report.results, true, strict=True):
                    unit = np.array([f.one_unit for f in result.features])
                    rows.append(
                        (
                            result.within_tolerance_probability,
                            bool((np.abs(difference) <= unit).all()),
                            result.rank,
                            shop.knows[number].value,
                            shop.knows[shop.place(result.shaft_id)].value,
                            kind,
                        )
                    )
    columns = list(zip(*rows, strict=True))
    return Pairs(*(np.array(c) for c in columns))


def all_pairs(found: Sequence[Pairs]) -> Pairs:
    """Several put together."""
    return Pairs(*(np.concatenate([getattr(p, n) for p in found]) for n in Pairs.__slots__))


# --- linearisation -----------------------------------------------------------------------------------------


def linearised(shop: Shop, state: Knows, count: int, draws: int, seed: int) -> FloatArray:
    """Standard deviation of each feature as told, by that of drawn shafts, shape (count, features)."""
    rng = np.random.default_rng(seed)
    out = []
    for number in [i for i, k in enumerate(shop.knows) if k == state][:count]:
        assembly = assemble(shop.club(number, 0.5))
        told = installed([assembly.model], 0.5 * IN, assembly.build).sd_shaft[0]
        drawn = _drawn(assembly.model, draws, rng)
        features = [
            installed(drawn[s : s + 400], 0.5 * IN, assembly.build, with_sd=False).features
            for s in range(0, draws, 400)
        ]
        out.append(told / np.concatenate(features).std(axis=0))
    return np.array(out)


def _drawn(model: ShaftModel, draws: int, rng: np.random.Generator) -> list[ShaftModel]:
    log_ei = rng.multivariate_normal(np.log(model.ei_n_m2), model.log_ei_cov, draws)
    mass = rng.normal(model.mass_kg, model.mass_sd_kg, draws)
    balance = rng.normal(model.balance_from_tip_m or 0.0, model.balance_sd_m, draws)
    twist = rng.normal(model.twist_rad_per_nm or 0.0, model.twist_sd, draws)
    return [
        replace(
            model,
            ei_n_m2=np.exp(log_ei[i]),
            mass_kg=float(mass[i]),
            balance_from_tip_m=float(balance[i]),
            twist_rad_per_nm=float(twist[i]),
        )
        for i in range(draws)
    ]


# --- matching ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Found:
    """One fitted club: where the true best stand-in came out.

    Attributes
    ----------
    rank : int
        Its rank as far as the catalogue knows; 99 beyond what was looked at.
    near : bool
        Whether one as good as the true best, within ``NEAR`` of its score, is among the first five.
    lost : float
        True score of the truly best of the first five, less that of the true best.
    doubt : float
        Mean noise floor of the first five.
    fitted, best : Knows
        What is known of the fitted shaft and of the true best.
    """

    rank: int
    near: bool
    lost: float
    doubt: float
    fitted: Knows
    best: Knows


def matched(kind: str, makers: str, states: Sequence[Knows], seed: int, clubs: int, shafts: int = 75) -> list[Found]:
    """Stand-ins for fitted clubs from a catalogue that knows its shafts in several ways.

    The true best is what the same search finds when every shaft, the fitted one too, is known as it truly is, by the
    same score with u = 0. The population is learned from the catalogue's own tables, as the product does, and the
    fitted shaft is known as any other of the catalogue.
    """
    shop = open_shop(kind, fresh_shafts(shafts, seed, kind, makers), seed, states=states)
    rng = np.random.default_rng(seed)
    out = []
    for number in rng.permutation(shafts)[:clubs].tolist():
        trim = float(rng.choice(TRIMS_IN))
        report = find_substitutes(shop.index, shop.asked(number, trim, 20))
        truth = find_substitutes(shop.truth, shop.asked_of_truth(number, trim, 40))
        true_score = {r.shaft_id: r.score for r in truth.results}
        best = truth.results[0]
        first = [true_score.get(r.shaft_id, np.inf) for r in report.results[:5]]
        rank = next((r.rank for r in report.results if r.shaft_id == best.shaft_id), 99)
        out.append(
            Found(
                rank=rank,
                near=min(first) <= best.score + NEAR,
                lost=min(first) - best.score,
                doubt=float(np.mean([r.noise_floor for r in report.results[:5]])),
                fitted=shop.knows[number],
                best=shop.knows[shop.place(best.shaft_id)],
            )
        )
    return out


def in_first(found: Sequence[Found], count: int = 5) -> float:
    """Part of the clubs whose true best is among the first few."""
    return float(np.mean([f.rank <= count for f in found]))


def doubt_is_larger(found: Sequence[Found]) -> float:
    """Probability, by the rank test of Mann and Whitney, that doubt is no larger where the true best was missed."""
    from scipy.stats import mannwhitneyu

    hit = [f.doubt for f in found if f.rank <= 5]
    missed = [f.doubt for f in found if f.rank > 5]
    return float(mannwhitneyu(missed, hit, alternative="greater").pvalue) if hit and missed else float("nan")


if __name__ == "__main__":
    import sys

    from tests.profiles.reliability_report import write

    write(keep="--write" in sys.argv[1:])
