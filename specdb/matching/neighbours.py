"""Nearest shafts, raw against raw, for browsing.

Shafts are compared as they come, uncut and in no club, by stiffness at eight places along the raw length, weight,
torque, balance point and raw length. Differences are counted in stated units, the same that the comparison of
installed shafts counts in, so that a distance means the same in every catalogue and next year: with ``Δ`` a difference,
``u`` its standard deviation and ``w`` the weights,

``distance = sqrt( Σ w·(Δ² + u²)/unit² / Σ w )``.

The doubt ``u`` is in the distance: a shaft that is known badly cannot come first by being near on paper. As
``E|x - y|² = |mean x - mean y|² + Σ var x + Σ var y``, one more coordinate with the doubt of each shaft turns this into
an ordinary distance between points, for which scikit-learn's tree finds the nearest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

PLACES = 8
PLACE_T: FloatArray = (np.arange(PLACES) + 0.5) / PLACES  # of the raw length, from the tip
THIRD_OF_PLACE: IntArray = (3.0 * PLACE_T).astype(np.int64)  # 0 tip, 1 middle, 2 butt
_UNKNOWN_UNITS = 2.0  # least doubt, in units, about what is not known at all (a stated judgement, no source)


@dataclass(frozen=True, slots=True)
class RawFeature:
    """One compared figure of a raw shaft.

    Attributes
    ----------
    key : str
        Key in JSON answers, with its unit.
    title, unit : str
        For a person.
    one_unit : float
        Difference that counts as one unit.
    weight : float
        Weight in the distance.
    """

    key: str
    title: str
    unit: str
    one_unit: float
    weight: float


# stiffness counts as much as three features: one a third of the shaft, as where installed shafts are compared
_STIFFNESS = tuple(
    RawFeature(f"ln_ei_at_{100.0 * t:g}_pct", f"ln EI at {100.0 * t:g} % of the length", "", 0.05, 3.0 / PLACES)
    for t in PLACE_T.tolist()
)
RAW_FEATURES: tuple[RawFeature, ...] = (
    *_STIFFNESS,
    RawFeature("weight_g", "weight", "g", 4.0, 1.0),
    RawFeature("torque_deg", "torque", "deg", 0.3, 1.0),
    RawFeature("balance_pct", "balance point from the tip", "% of the raw length", 0.9, 1.0),  # 0.4 in on 46 in
    RawFeature("raw_length_in", "raw length", "in", 0.5, 1.0),
)
WEIGHT, TORQUE, BALANCE, LENGTH = range(PLACES, PLACES + 4)
_UNIT: FloatArray = np.array([f.one_unit for f in RAW_FEATURES])
_WEIGHT: FloatArray = np.array([f.weight for f in RAW_FEATURES])


@dataclass(frozen=True, slots=True)
class Neighbours:
    """The nearest of N shafts, nearest first.

    Attributes
    ----------
    rows : ndarray of int, shape (K,)
        Which they are.
    distance : ndarray, shape (K,)
        In units, doubt in it.
    apart : ndarray, shape (K,)
        The same of the differences alone.
    doubt : ndarray, shape (K,)
        The same of the doubt alone, that about the shaft they are near to in it: ``distance² = apart² + doubt²``.
    compared : ndarray of bool, shape (F,)
        Features that count: those known of the shaft they are near to.
    """

    rows: IntArray
    distance: FloatArray
    apart: FloatArray
    doubt: FloatArray
    compared: BoolArray


def filled(features: FloatArray, sd: FloatArray, group: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Unknown features as what is usual in the group, with the spread there as their doubt.

    Parameters
    ----------
    features, sd : ndarray, shape (N, F)
        Features and standard deviations; NaN where a feature is unknown.
    group : array_like of int, shape (N,)
        Group of each shaft, such as its kind of club.

    Returns
    -------
    features, sd : ndarray, shape (N, F)
        Without NaN. Where nobody in the group is known, what is usual of all; where nobody is, zero with no doubt, so
        that it does not count.
    """
    features, sd = features.copy(), sd.copy()
    groups = np.asarray(group)
    least = _UNKNOWN_UNITS * _UNIT
    for f in range(features.shape[1]):
        known = np.isfinite(features[:, f])
        for one in np.unique(groups[~known]).tolist():
            mine = groups == one
            teachers = known & mine if (known & mine).any() else known
            values = features[teachers, f] if teachers.any() else np.zeros(1)
            doubt = max(float(values.std()), float(least[f])) if teachers.any() else 0.0
            features[mine & ~known, f], sd[mine & ~known, f] = values.mean(), doubt
    return features, sd


def in_units(features: FloatArray, compared: BoolArray | None = None) -> FloatArray:
    """Features (or their standard deviations) scaled so that distances between them are in units.

    Parameters
    ----------
    features : ndarray, shape (..., F)
        In the features' own units.
    compared : ndarray of bool, shape (F,), or None
        Features that count; all where None.
    """
    weight = _WEIGHT if compared is None else np.where(compared, _WEIGHT, 0.0)
    scaled: FloatArray = features * (np.sqrt(weight / weight.sum()) / _UNIT)
    return scaled


def neighbours(
    features: FloatArray,
    sd: FloatArray,
    row: int,
    *,
    top: int,
    eligible: BoolArray | None = None,
    group: npt.ArrayLike | None = None,
) -> Neighbours:
    """The shafts nearest to one of them, which itself is never among them.

    Parameters
    ----------
    features, sd : ndarray, shape (N, F)
        Features in the order of ``RAW_FEATURES`` and their standard deviations; NaN where a feature is unknown. What is
        unknown of the shaft itself is not compared; what is unknown of another counts as usual, with its doubt.
    row : int
        The shaft.
    top : int
        At most this many.
    eligible : ndarray of bool, shape (N,), or None
        Which may be found; all where None.
    group : array_like of int, shape (N,), or None
        Where what is usual is taken from; all where None.

    Returns
    -------
    Neighbours
        Shafts at the same distance in the order of their rows.
    """
    # 0.7 s to load, so only here
    from sklearn.neighbors import NearestNeighbors

    compared = np.isfinite(features[row])
    wanted = np.ones(len(features), dtype=np.bool_) if eligible is None else eligible.copy()
    wanted[row] = False
    rows = np.flatnonzero(wanted)
    count = min(top, rows.size)
    if count < 1 or not compared.any():
        none = np.empty(0)
        return Neighbours(np.empty(0, dtype=np.int64), none, none, none, compared)
    usual, doubtful = filled(features, sd, np.zeros(len(features)) if group is None else group)
    point = in_units(usual, compared)
    doubt = np.sqrt(np.square(in_units(doubtful, compared)).sum(axis=1))
    places = np.column_stack([point, doubt])
    asked = np.append(point[row], 0.0)[None, :]
    tree = NearestNeighbors(algorithm="kd_tree").fit(places[rows])
    reach = float(tree.kneighbors(asked, count)[0][0, -1])
    # everything as near as the last one, so that rows decide among equals and not the shape of the tree
    near = np.sort(tree.radius_neighbors(asked, reach * (1.0 + 1e-9), return_distance=False)[0])
    apart2 = np.square(point[rows[near]] - point[row]).sum(axis=1)
    doubt2 = np.square(doubt[rows[near]]) + doubt[row] ** 2
    order = np.argsort(apart2 + doubt2, kind="stable")[:count]
    apart2, doubt2 = apart2[order], doubt2[order]
    return Neighbours(rows[near][order], np.sqrt(apart2 + doubt2), np.sqrt(apart2), np.sqrt(doubt2), compared)
