"""What the shafts of this catalogue are like: mean and covariance of the state, learned and shrunk.

Learned by expectation-maximisation over the shafts with profiles, with the estimator itself as the expectation step,
so that tables at any stations, missing torque or diameters and noise all enter as they are. The maximum is that of
the posterior under a normal-inverse-Wishart prior centred on the built-in figures: with n shafts the learned
covariance weighs n and the built-in one a number that cross-validation chooses, so that its part falls as the
catalogue grows.

Shafts of one maker are more alike than those of two, and those of one model more still; ``likeness`` tells how much
that says of the next one. A shaft of a maker that does not teach may be unlike all others, and how unlike makers are is
known from as many cases only as there are makers: with m makers, the mean for others is that of m learned and one
built-in.

References
----------
Dempster, Laird & Rubin, J. R. Stat. Soc. B 39 (1977) 1. Normal-inverse-Wishart prior: Gelman et al., *Bayesian Data
Analysis*, 3rd ed., section 3.6.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from specdb.profiles import labels
from specdb.profiles.evidence import Case
from specdb.profiles.fit import BENDING, fit
from specdb.profiles.judge import common_scale
from specdb.profiles.labels import LabelRule
from specdb.profiles.likeness import Likeness, learn_likeness
from specdb.profiles.maximum import COVARIANCE_WEIGHTS, best_weight, held_out, maximum
from specdb.profiles.prior import builtin_covariance, builtin_mean
from specdb.profiles.readings import Kind, Reading
from specdb.profiles.solver import Solution, Task, solve
from specdb.profiles.state import GROUPS, SIZE

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

RECIPE = 3  # of this module and the built-in prior; a stored population of another recipe is learned anew
MIN_STATIONS = 5  # of EI, for a shaft to teach
MAX_TEACHERS = 1200
MAX_BENCHED = 300
_ROUNDS = 4
MAKER_KNOWN = 8  # teachers of one material from which a maker is known
_CHUNK = 128


@dataclass(frozen=True, slots=True)
class Families:
    """Shafts with known profiles by maker and model, one row a shaft, sorted by family.

    Attributes
    ----------
    key, shaft_id : ndarray of str, shape (F,)
        Family and shaft.
    rank : ndarray, shape (F,)
        Flex rank; NaN where the label cannot be ordered.
    level : ndarray, shape (F,)
        Level of ln EI less the mean of its group.
    """

    key: npt.NDArray[np.str_]
    shaft_id: npt.NDArray[np.str_]
    rank: FloatArray
    level: FloatArray

    def of(self, family: str, shaft_id: str) -> tuple[FloatArray, FloatArray]:
        """Ranks and levels of the other members of a family."""
        low, high = (int(np.searchsorted(self.key, family, side)) for side in ("left", "right"))
        other = self.shaft_id[low:high] != shaft_id
        return self.rank[low:high][other], self.level[low:high][other]


@dataclass(frozen=True, slots=True)
class Population:
    """Prior of the state of any shaft, and how it was made.

    Attributes
    ----------
    mean : ndarray, shape (groups, SIZE)
        By club type and material.
    covariance : ndarray, shape (2, SIZE, SIZE)
        For graphite and steel, of whatever maker.
    other_mean : ndarray, shape (groups, SIZE)
        For shafts of makers that do not teach.
    likeness : tuple of two Likeness
        What maker and model say of a shaft, for graphite and steel.
    makers : frozenset of (str, int)
        Makers with enough shafts that teach to count as known, with the material (0 graphite, 1 steel).
    rule : LabelRule
        What words are worth.
    families : Families
        Shafts with known profiles, by family.
    teachers : int
        Shafts it was learned from; 0: built-in figures.
    weight : float
        Shafts that the built-in covariance counts for.
    error : ndarray, shape (3,)
        Cross-validated RMS error of ln EI in the tip, middle and butt third, for a shaft of which only club type,
        material, weight, length and diameters are known; NaN where nothing was learned.
    unusual : ndarray, shape (groups,)
        How far shafts of makers that do not teach depart from that, as bench readings of some show: ln scale of the
        covariance of stiffness.
    unusual_of : dict of (str, int) to float
        The same for each maker that teaches, by material, from what each of its shafts is beside the others.
    benched : int
        Shafts on the bench that do not teach.
    made_on : str
        Date, as its maker gave it.
    recipe : int
        Version of the recipe.
    """

    mean: FloatArray
    covariance: FloatArray
    other_mean: FloatArray
    likeness: tuple[Likeness, Likeness]
    makers: frozenset[tuple[str, int]]
    rule: LabelRule
    families: Families
    teachers: int
    weight: float
    error: FloatArray
    unusual: FloatArray = field(default_factory=lambda: np.zeros(len(GROUPS)))
    unusual_of: Mapping[tuple[str, int], float] = field(default_factory=dict)
    benched: int = 0
    made_on: str = ""
    recipe: int = RECIPE

    def prior(self, case: Case) -> tuple[FloatArray, FloatArray]:
        """Mean and covariance of the state of a shaft before its readings.

        Parameters
        ----------
        case : Case
            The shaft.
        """
        likeness = self.likeness[case.group % 2]
        shift, covariance = likeness.of(case.maker, case.family, case.shaft_id)
        known = bool(shift.any())
        return (self.mean if known else self.other_mean)[case.group] + shift, covariance

    def usual_scale(self, case: Case) -> float:
        """Expected ln scale of the covariance of a shaft's stiffness.

        Parameters
        ----------
        case : Case
            The shaft.
        """
        who = (case.maker, case.group % 2)
        return self.unusual_of[who] if who in self.unusual_of else float(self.unusual[case.group])

    def to_arrays(self) -> dict[str, npt.NDArray[np.generic]]:
        """Plain arrays, for storing; :meth:`from_arrays` turns them back."""
        rule = self.rule
        return {
            "mean": self.mean,
            "covariance": self.covariance,
            "other_mean": self.other_mean,
            **{f"{name}_{k}": v for k, one in enumerate(self.likeness) for name, v in one.to_arrays().items()},
            "maker": np.array([m for m, _ in sorted(self.makers)], dtype=np.str_),
            "maker_material": np.array([m for _, m in sorted(self.makers)], dtype=np.int64),
            "rule": np.array([rule.kick_slope, rule.kick_sd, rule.flex_step, rule.flex_sd]),
            "seen": np.array([rule.kick_seen, rule.flex_seen, self.teachers, self.recipe], dtype=np.int64),
            "weight": np.array([self.weight]),
            "unusual": self.unusual,
            "unusual_maker": np.array([m for m, _ in sorted(self.unusual_of)], dtype=np.str_),
            "unusual_material": np.array([m for _, m in sorted(self.unusual_of)], dtype=np.int64),
            "unusual_of": np.array([self.unusual_of[who] for who in sorted(self.unusual_of)], dtype=np.float64),
            "benched": np.array([self.benched], dtype=np.int64),
            "error": self.error,
            "made_on": np.array([self.made_on]),
            "family_key": self.families.key,
            "family_shaft": self.families.shaft_id,
            "family_rank": self.families.rank,
            "family_level": self.families.level,
        }

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, npt.NDArray[np.generic]]) -> Population:
        """The population stored by :meth:`to_arrays`.

        Parameters
        ----------
        arrays : mapping of str to ndarray
            As stored.
        """

        def floats(name: str) -> FloatArray:
            return np.asarray(arrays[name], dtype=np.float64)

        maker = np.asarray(arrays["maker"], dtype=np.str_).tolist()
        material = np.asarray(arrays["maker_material"], dtype=np.int64).tolist()
        named = [np.asarray(arrays[f"unusual_{what}"]).tolist() for what in ("maker", "material")]
        rule, seen = floats("rule"), np.asarray(arrays["seen"], dtype=np.int64)
        return cls(
            mean=floats("mean"),
            covariance=floats("covariance"),
            other_mean=floats("other_mean"),
            likeness=(_likeness(arrays, 0), _likeness(arrays, 1)),
            makers=frozenset(zip(maker, material, strict=True)),
            rule=LabelRule(float(rule[0]), float(rule[1]), float(rule[2]), float(rule[3]), int(seen[0]), int(seen[1])),
            families=Families(
                np.asarray(arrays["family_key"], dtype=np.str_),
                np.asarray(arrays["family_shaft"], dtype=np.str_),
                floats("family_rank"),
                floats("family_level"),
            ),
            teachers=int(seen[2]),
            weight=float(floats("weight")[0]),
            error=floats("error"),
            unusual=floats("unusual"),
            unusual_of=dict(zip(zip(*named, strict=True), floats("unusual_of").tolist(), strict=True)),
            benched=int(np.asarray(arrays["benched"], dtype=np.int64)[0]),
            made_on=str(arrays["made_on"][0]),
            recipe=int(seen[3]),
        )


def _likeness(arrays: Mapping[str, npt.NDArray[np.generic]], material: int) -> Likeness:
    return Likeness.from_arrays({n: arrays[f"{n}_{material}"] for n in Likeness.ARRAYS})


def _no_families() -> Families:
    nobody: npt.NDArray[np.str_] = np.empty(0, dtype=np.str_)
    return Families(nobody, nobody, np.empty(0), np.empty(0))


def builtin() -> Population:
    """The population that nothing was learned for.

    Returns
    -------
    Population
    """
    covariance = builtin_covariance()
    spread = float(np.sqrt(labels.CONTRAST @ covariance[0] @ labels.CONTRAST))
    mean = builtin_mean()
    return Population(
        mean=mean,
        covariance=covariance,
        other_mean=mean,
        likeness=(Likeness.builtin(covariance[0]), Likeness.builtin(covariance[1])),
        makers=frozenset(),
        rule=labels.builtin_rule(spread),
        families=_no_families(),
        teachers=0,
        weight=0.0,
        error=np.full(3, np.nan),
    )


def teaches(case: Case) -> bool:
    """Whether a shaft is known well enough to learn from: EI at five places or more, over half its length.

    Parameters
    ----------
    case : Case
        The shaft.
    """
    place = [0.5 * (r.low_m + r.high_m) for r in case.readings if _is_ei(r)]
    return len(place) >= MIN_STATIONS and max(place) - min(place) >= 0.5 * case.raw_m


def is_benched(case: Case) -> bool:
    """Whether a shaft that does not teach was read on the bench: it shows how far such shafts depart from the usual.

    Parameters
    ----------
    case : Case
        The shaft.
    """
    return any(r.kind in BENDING and r.piece is not None for r in case.readings) and not teaches(case)


def _is_ei(reading: Reading) -> bool:
    return reading.kind in (Kind.POINT, Kind.BEND) and reading.piece is not None


def learn(cases: Sequence[Case], made_on: str = "") -> Population:
    """Learn from the shafts that are known well enough.

    Parameters
    ----------
    cases : sequence of Case
        Shafts of the catalogue. Those with EI tables teach; beyond 1,200, every n-th. Of the others those that were
        read on the bench show how far they depart from what was learned; beyond 300, every n-th.
    made_on : str
        Date, kept with the result.

    Returns
    -------
    Population
        The built-in one where nobody teaches.
    """
    start = builtin()
    teachers = sorted((c for c in cases if teaches(c)), key=lambda c: c.shaft_id)
    benched = sorted((c for c in cases if is_benched(c)), key=lambda c: c.shaft_id)
    if not teachers:
        return _departing(replace(start, made_on=made_on), [], benched)
    step = -(-len(teachers) // MAX_TEACHERS)
    teachers = teachers[::step]
    group = np.array([c.group for c in teachers])
    weight = COVARIANCE_WEIGHTS[1]
    mean, covariance = start.mean, start.covariance
    for _ in range(_ROUNDS):
        solved = expectation(teachers, mean, covariance)
        state = np.array([s.state[:SIZE] for s in solved])
        doubt = np.array([s.covariance[:SIZE, :SIZE] for s in solved])
        weight = best_weight(start, group, state, doubt)
        mean, covariance = maximum(start, group, state, doubt, weight)
    error = held_out(start, group, state, doubt, weight)[1]
    away = state - mean[group]
    learned = Population(
        mean=mean,
        covariance=covariance,
        other_mean=_for_others(start, mean, teachers),
        likeness=_alike(start, teachers, away, doubt, weight),
        makers=_makers(teachers),
        rule=_labels(start.rule, teachers, away),
        families=_families(teachers, away),
        teachers=len(teachers),
        weight=weight,
        error=error,
        made_on=made_on,
    )
    return _departing(learned, teachers, benched)


def _departing(population: Population, teachers: Sequence[Case], benched: Sequence[Case]) -> Population:
    """How far shafts depart from what the others lead to: those of each maker that teaches, and those of others."""
    some = [*teachers, *(benched[:: -(-len(benched) // MAX_BENCHED)] if benched else [])]
    teach = {(c.maker, c.group % 2) for c in teachers if c.maker}
    evidence: dict[tuple[str, int], list[FloatArray]] = {}
    order = sorted(some, key=lambda c: len(c.readings))
    for first in range(0, len(order), _CHUNK):
        part = order[first : first + _CHUNK]
        tasks = [Task(c.raw_m, c.readings, *population.prior(c), c.pieces) for c in part]
        for case, found in zip(part, fit(tasks, np.zeros(len(part))), strict=True):
            who = (case.maker, case.group % 2)
            evidence.setdefault(who if who in teach else ("", case.group), []).append(found.evidence)
    unusual = np.zeros(len(GROUPS))
    of: dict[tuple[str, int], float] = {}
    for who, own in evidence.items():
        scale = common_scale(np.array(own))
        if who[0]:
            of[who] = scale
        else:
            unusual[who[1]] = scale
    return replace(population, unusual=unusual, unusual_of=of, benched=len(benched))


def expectation(cases: Sequence[Case], mean: FloatArray, covariance: FloatArray) -> list[Solution]:
    """States of shafts under a prior, words left out.

    Parameters
    ----------
    cases : sequence of Case
        The shafts.
    mean : ndarray, shape (groups, SIZE)
    covariance : ndarray, shape (2, SIZE, SIZE)
        The prior.

    Returns
    -------
    list of Solution
    """
    shared = [covariance[0], covariance[1]]
    tasks = [Task(c.raw_m, c.readings, mean[c.group], shared[c.group % 2], c.pieces) for c in cases]
    order = sorted(range(len(tasks)), key=lambda i: len(tasks[i].readings))
    out: list[Solution | None] = [None] * len(tasks)
    for first in range(0, len(order), _CHUNK):
        part = order[first : first + _CHUNK]
        for i, solution in zip(part, solve([tasks[i] for i in part]), strict=True):
            out[i] = solution
    return [s for s in out if s is not None]


def _makers(teachers: Sequence[Case]) -> frozenset[tuple[str, int]]:
    count = Counter((c.maker, c.group % 2) for c in teachers if c.maker)
    return frozenset(who for who, n in count.items() if n >= MAKER_KNOWN)


def _for_others(start: Population, mean: FloatArray, teachers: Sequence[Case]) -> FloatArray:
    """Mean for shafts of makers that do not teach."""
    other = mean.copy()
    for material in (0, 1):
        part = 1.0 / (1.0 + len({c.maker for c in teachers if c.group % 2 == material}))
        rows = slice(material, None, 2)
        other[rows] += part * (start.mean[rows] - mean[rows])
    return other


def _alike(
    start: Population, teachers: Sequence[Case], away: FloatArray, doubt: FloatArray, weight: float
) -> tuple[Likeness, Likeness]:
    def of(material: int) -> Likeness:
        rows = [i for i, c in enumerate(teachers) if c.group % 2 == material]
        own = [teachers[i] for i in rows]
        names = ([c.maker for c in own], [c.family for c in own], [c.shaft_id for c in own])
        return learn_likeness(start.covariance[material], names, away[rows], doubt[rows], weight)

    return of(0), of(1)


def _labels(rule: LabelRule, teachers: Sequence[Case], away: FloatArray) -> LabelRule:
    contrast, level = away @ labels.CONTRAST, away @ labels.LEVEL
    told = [(i, labels.KICK_SCORE[c.kick_label]) for i, c in enumerate(teachers) if c.kick_label in labels.KICK_SCORE]
    kick = (np.array([s for _, s in told]), contrast[[i for i, _ in told]])
    members: dict[str, list[tuple[float, float]]] = {}
    for i, case in enumerate(teachers):
        rank = labels.flex_rank(case.flex)
        if case.family and rank is not None:
            members.setdefault(case.family, []).append((rank, float(level[i])))
    pairs = [
        (b[0] - a[0], b[1] - a[1])
        for family in members.values()
        for a, b in zip(sorted(family), sorted(family)[1:], strict=False)
        if 0.0 < b[0] - a[0] < 3.0
    ]
    table = np.array(pairs, dtype=np.float64).reshape(-1, 2)
    return labels.learn_rule(rule, kick, (table[:, 0], table[:, 1]))


def _families(teachers: Sequence[Case], away: FloatArray) -> Families:
    level = away @ labels.LEVEL
    rows = sorted(
        (c.family, c.shaft_id, np.nan if (rank := labels.flex_rank(c.flex)) is None else rank, float(level[i]))
        for i, c in enumerate(teachers)
        if c.family
    )
    if not rows:
        return _no_families()
    key, shaft, rank_of, levels = zip(*rows, strict=True)
    return Families(np.array(key), np.array(shaft), np.array(rank_of), np.array(levels))
