"""How alike shafts of one maker and of one model are: effects of maker, model and shaft on top of each other.

The state of a shaft, less the mean of its kind, is the sum of what its maker, its model and it alone add to it, each
normal with a covariance of its own. The covariances are learned by expectation-maximisation, shrunk to parts of the
built-in one as if that came from a stated number of makers, models and shafts; what a maker and a model add follows
from the shafts that teach. Of a maker of whom nobody teaches, all three are open, and so is, with few makers, how far
makers differ at all and how their shafts scatter.

References
----------
Nested random effects: Searle, Casella & McCulloch, *Variance Components*, chapter 3; expectation-maximisation for
them: Dempster, Laird & Rubin, J. R. Stat. Soc. B 39 (1977) 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
import numpy.typing as npt

from specdb.profiles.state import SIZE

FloatArray = npt.NDArray[np.float64]
StrArray = npt.NDArray[np.str_]

# parts of the built-in scatter that are between makers, between models of one maker, between shafts of one model
# (stated judgements, no source), and how many of each that judgement counts for
OF_MAKERS, OF_MODELS, OF_SHAFTS = 0.50, 0.25, 0.25
_MAKERS_WEIGHT, _MODELS_WEIGHT = 4.0, 12.0
_ROUNDS = 12


@dataclass(frozen=True, slots=True)
class _Maker:
    """What is known of one maker: sums over its models, and the models' own."""

    precision: FloatArray  # of the maker's effect, its prior in it
    pull: FloatArray
    models: dict[str, tuple[FloatArray, int]]  # mean of the members and their number


@dataclass(frozen=True, slots=True)
class Likeness:
    """Effects of maker, model and shaft within one material.

    Attributes
    ----------
    maker_cov, model_cov, shaft_cov : ndarray, shape (SIZE, SIZE)
        Covariance of each effect.
    shaft_id, maker, model : ndarray of str, shape (T,)
        The shafts that taught.
    away : ndarray, shape (T, SIZE)
        Their states less the mean of their kind.
    """

    maker_cov: FloatArray
    model_cov: FloatArray
    shaft_cov: FloatArray
    shaft_id: StrArray
    maker: StrArray
    model: StrArray
    away: FloatArray
    _kept: dict[str, _Maker] = field(default_factory=dict, compare=False, repr=False)

    @classmethod
    def builtin(cls, covariance: FloatArray) -> Likeness:
        """Before anything is learned.

        Parameters
        ----------
        covariance : ndarray, shape (SIZE, SIZE)
            The built-in covariance.
        """
        nobody: StrArray = np.empty(0, dtype=np.str_)
        parts = (OF_MAKERS * covariance, OF_MODELS * covariance, OF_SHAFTS * covariance)
        return cls(*parts, nobody, nobody, nobody, np.empty((0, SIZE)))

    ARRAYS: ClassVar[tuple[str, ...]] = (
        "maker_cov",
        "model_cov",
        "shaft_cov",
        "teacher",
        "teacher_maker",
        "teacher_model",
        "teacher_away",
    )

    def to_arrays(self) -> dict[str, npt.NDArray[np.generic]]:
        """Plain arrays, for storing; :meth:`from_arrays` turns them back."""
        values = (
            self.maker_cov,
            self.model_cov,
            self.shaft_cov,
            self.shaft_id,
            self.maker,
            self.model,
            self.away,
        )
        return dict(zip(self.ARRAYS, values, strict=True))

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, npt.NDArray[np.generic]]) -> Likeness:
        """What :meth:`to_arrays` stored.

        Parameters
        ----------
        arrays : mapping of str to ndarray
            As stored.
        """
        numbers = [np.asarray(arrays[n], dtype=np.float64) for n in cls.ARRAYS[:3]]
        words = [np.asarray(arrays[n], dtype=np.str_) for n in cls.ARRAYS[3:6]]
        return cls(
            numbers[0],
            numbers[1],
            numbers[2],
            words[0],
            words[1],
            words[2],
            np.asarray(arrays[cls.ARRAYS[6]], dtype=np.float64),
        )

    @property
    def makers(self) -> int:
        """How many makers taught."""
        return len(np.unique(self.maker))

    def of(self, maker: str, model: str, shaft_id: str) -> tuple[FloatArray, FloatArray]:
        """What is to be expected of a shaft beside the mean of its kind, what it taught itself left out.

        Parameters
        ----------
        maker, model, shaft_id : str
            Its maker and model, empty where unknown, and its key.

        Returns
        -------
        mean : ndarray, shape (SIZE,)
        covariance : ndarray, shape (SIZE, SIZE)
        """
        own = np.flatnonzero((self.shaft_id == shaft_id) & (self.maker == maker)) if maker else np.empty(0, int)
        known = self._maker(maker) if maker else None
        if known is None:
            return self._of_nobody()
        precision, pull = known.precision, known.pull
        mean, count = known.models.get(model, (np.zeros(SIZE), 0))
        if count:
            seen = np.linalg.inv(self.model_cov + self.shaft_cov / count)
            precision, pull = precision - seen, pull - seen @ mean
        if own.size and count:
            mean = (count * mean - self.away[own].sum(axis=0)) / max(count - own.size, 1)
            count -= own.size
        if len(known.models) == int(model in known.models) and not count:
            return self._of_nobody()
        by_maker = np.linalg.inv(precision)
        expected, covariance = by_maker @ pull, by_maker + self.model_cov
        if count:
            gain = np.linalg.solve(covariance + self.shaft_cov / count, covariance).T
            expected = expected + gain @ (mean - expected)
            covariance = covariance - gain @ covariance
        covariance = covariance + self.shaft_cov
        return expected, 0.5 * (covariance + covariance.T)

    def _of_nobody(self) -> tuple[FloatArray, FloatArray]:
        # the mean of the makers and, once it is learned, how they and their shafts scatter are known from few only
        unlike = 1.0 + 1.0 / (1.0 + self.makers)
        own = 1.0
        if self.makers:
            seen = self.makers + _MAKERS_WEIGHT
            own = seen / (seen - 2.0)
        return np.zeros(SIZE), own * (unlike * self.maker_cov + self.model_cov + self.shaft_cov)

    def _maker(self, name: str) -> _Maker | None:
        if name not in self._kept:
            rows = self.maker == name
            if not rows.any():
                return None
            self._kept[name] = _gather(
                self.model[rows], self.away[rows], self.maker_cov, self.model_cov, self.shaft_cov
            )
        return self._kept[name]


def _gather(
    model: StrArray, away: FloatArray, maker_cov: FloatArray, model_cov: FloatArray, shaft_cov: FloatArray
) -> _Maker:
    precision: FloatArray = np.asarray(np.linalg.inv(maker_cov), dtype=np.float64)
    pull: FloatArray = np.zeros(SIZE)
    models: dict[str, tuple[FloatArray, int]] = {}
    seen_of: dict[int, FloatArray] = {}
    for name in np.unique(model).tolist():
        members = away[model == name]
        count = len(members)
        if count not in seen_of:
            seen_of[count] = np.asarray(np.linalg.inv(model_cov + shaft_cov / count), dtype=np.float64)
        mean: FloatArray = np.asarray(members.mean(axis=0), dtype=np.float64)
        models[name] = (mean, count)
        precision += seen_of[count]
        pull += seen_of[count] @ mean
    return _Maker(precision, pull, models)


def learn_likeness(
    builtin: FloatArray,
    names: tuple[Sequence[str], Sequence[str], Sequence[str]],
    away: FloatArray,
    doubt: FloatArray,
    weight: float,
) -> Likeness:
    """Learn the effects within one material.

    Parameters
    ----------
    builtin : ndarray, shape (SIZE, SIZE)
        Built-in covariance of a state within its kind.
    names : tuple of three sequences of str, T of each
        Maker, model and key of the shafts that teach; a shaft of no model is one by itself.
    away, doubt : ndarray, shape (T, SIZE), (T, SIZE, SIZE)
        Their states less the mean of their kind, and the covariance of those.
    weight : float
        Shafts that the built-in covariance counts for.

    Returns
    -------
    Likeness
    """
    start = Likeness.builtin(builtin)
    if not len(away):
        return start
    maker, shaft_id = np.array(names[0], dtype=np.str_), np.array(names[2], dtype=np.str_)
    model = np.array([m or f"\x1e{s}" for m, s in zip(names[1], names[2], strict=True)], dtype=np.str_)
    covs = (start.maker_cov, start.model_cov, start.shaft_cov)
    for _ in range(_ROUNDS):
        squares, counts = _expected(maker, model, away, doubt.sum(axis=0), covs)
        weights = (_MAKERS_WEIGHT, _MODELS_WEIGHT, weight)
        parts = (start.maker_cov, start.model_cov, start.shaft_cov)
        first, second, third = (
            (s + w * p) / (n + w) for s, n, w, p in zip(squares, counts, weights, parts, strict=True)
        )
        covs = (first, second, third)
    return Likeness(*covs, shaft_id, maker, model, away)


def _expected(
    maker: StrArray,
    model: StrArray,
    away: FloatArray,
    doubt: FloatArray,
    covs: tuple[FloatArray, FloatArray, FloatArray],
) -> tuple[tuple[FloatArray, FloatArray, FloatArray], tuple[int, int, int]]:
    """Expected squares of the three effects, and how many of each there are."""
    _, model_cov, shaft_cov = covs
    of_makers, of_models, of_shafts = np.zeros_like(doubt), np.zeros_like(doubt), doubt.copy()
    makers = np.unique(maker).tolist()
    models = 0
    for name in makers:
        rows = maker == name
        known = _gather(model[rows], away[rows], *covs)
        spread = np.linalg.inv(known.precision)
        effect = spread @ known.pull
        of_makers += np.outer(effect, effect) + spread
        for which, (mean, count) in known.models.items():
            gain = np.linalg.solve(model_cov + shaft_cov / count, model_cov).T
            left = model_cov - gain @ model_cov
            added = gain @ (mean - effect)
            of_models += np.outer(added, added) + left + gain @ spread @ gain.T
            rest = np.eye(SIZE) - gain
            off = away[rows][model[rows] == which] - effect - added
            of_shafts += off.T @ off + count * (left + rest @ spread @ rest.T)
            models += 1
    return (of_makers, of_models, of_shafts), (len(makers), models, len(away))
