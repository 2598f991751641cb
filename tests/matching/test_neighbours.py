"""Nearest raw shafts against distances worked out by SciPy, and the words for what differs."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from scipy.spatial.distance import cdist

from specdb.matching.neighbours import (
    BALANCE,
    LENGTH,
    PLACES,
    RAW_FEATURES,
    TORQUE,
    WEIGHT,
    filled,
    neighbours,
)
from specdb.matching.raw_shafts import raw_features
from specdb.matching.raw_words import differences, summary
from specdb.mechanics.shaft_table import ShaftTable
from specdb.profiles.columns import EstimateColumns
from specdb.profiles.estimate import estimate_many
from specdb.profiles.evidence import make_case
from specdb.profiles.population import builtin
from specdb.records.rows import Shaft, ShaftReading
from tests.support.random_catalogue import random_shafts

FloatArray = npt.NDArray[np.float64]

# stated anew: one unit is 5 % of stiffness, 4 g, 0.3 deg, 0.9 % of the length, 0.5 in; stiffness counts three times
UNIT = np.array([0.05] * 8 + [4.0, 0.3, 0.9, 0.5])
WEIGHTS = np.array([3.0 / 8.0] * 8 + [1.0] * 4)


def _shafts(count: int, seed: int) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(seed)
    level = rng.normal(0.0, 0.15, (count, 1))
    ei = np.log(np.linspace(20.0, 65.0, 8)) + level + rng.normal(0.0, 0.05, (count, 8))
    others = rng.normal([62.0, 4.2, 51.5, 46.0], [8.0, 0.7, 1.2, 0.4], (count, 4))
    return np.hstack([ei, others]), np.abs(rng.normal(0.5, 0.4, (count, 12))) * UNIT


def _squares(features: FloatArray, sd: FloatArray, row: int) -> tuple[FloatArray, FloatArray]:
    """Squared distances without doubt and the doubt, by SciPy's standardised Euclidean distance."""
    variance = UNIT**2 * WEIGHTS.sum() / WEIGHTS
    apart = cdist(features[row][None, :], features, "seuclidean", V=variance)[0] ** 2
    doubt = ((sd**2 + sd[row] ** 2) * WEIGHTS / UNIT**2).sum(axis=1) / WEIGHTS.sum()
    return apart, doubt


@pytest.mark.parametrize("seed", range(5))
def test_equals_brute_force(seed: int) -> None:
    features, sd = _shafts(700, seed)
    for row in (0, 350, 699):
        found = neighbours(features, sd, row, top=25)
        apart, doubt = _squares(features, sd, row)
        total = apart + doubt
        total[row] = np.inf
        nearest = np.argsort(total)[:25]
        assert found.rows.tolist() == nearest.tolist()
        assert found.distance == pytest.approx(np.sqrt(total[nearest]))
        assert found.apart == pytest.approx(np.sqrt(apart[nearest]))
        assert found.doubt == pytest.approx(np.sqrt(doubt[nearest]))


def test_without_doubt_equals_scipys_tree() -> None:
    features, _ = _shafts(2000, 9)
    scaled = features * np.sqrt(WEIGHTS / WEIGHTS.sum()) / UNIT
    distance, nearest = cKDTree(scaled).query(scaled[17], 11)
    found = neighbours(features, np.zeros_like(features), 17, top=10)
    assert found.rows.tolist() == nearest[1:].tolist()
    assert found.distance == pytest.approx(distance[1:])
    assert found.apart == pytest.approx(found.distance)


def test_distance_is_the_expected_one() -> None:
    """The square of the distance against a simulation: both shafts drawn from what is known of them."""
    features, sd = _shafts(2, 3)
    rng = np.random.default_rng(1)
    drawn = features + sd * rng.standard_normal((200_000, 2, 12))
    square = ((drawn[:, 0] - drawn[:, 1]) ** 2 * WEIGHTS / UNIT**2).sum(axis=1) / WEIGHTS.sum()
    found = neighbours(features, sd, 0, top=1)
    assert found.distance[0] ** 2 == pytest.approx(square.mean(), rel=4.0 * square.std() / square.mean() / 447.0)


def test_known_badly_does_not_win_by_being_near_on_paper() -> None:
    features, sd = _shafts(3, 4)
    features[1] = features[0]
    sd[1] = 3.0 * UNIT
    features[2] = features[0] + UNIT
    sd[0] = sd[2] = 0.1 * UNIT
    assert neighbours(features, sd, 0, top=2).rows.tolist() == [2, 1]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 40), st.integers(2, 30))
def test_itself_never_equals_in_order_and_no_more_than_asked(seed: int, top: int, copies: int) -> None:
    rng = np.random.default_rng(seed)
    one, sd = _shafts(copies, seed)
    which = rng.integers(0, copies, 40)
    features, sd = one[which], sd[which]
    row = int(rng.integers(0, 40))
    eligible = rng.random(40) < 0.7
    found = neighbours(features, sd, row, top=top, eligible=eligible)
    rows = found.rows.tolist()
    assert row not in rows
    assert eligible[rows].all()
    assert len(rows) == min(top, int(eligible.sum()) - int(eligible[row]))
    keys = list(zip(found.distance.tolist(), rows, strict=True))
    assert keys == sorted(keys)  # copies are exactly as far
    again = neighbours(features, sd, row, top=top, eligible=eligible)
    assert again.rows.tolist() == rows
    assert (again.distance == found.distance).all()


def test_what_is_unknown_of_the_shaft_is_not_compared() -> None:
    features, sd = _shafts(200, 5)
    features[0, TORQUE] = sd[0, TORQUE] = np.nan
    found = neighbours(features, sd, 0, top=20)
    assert np.flatnonzero(~found.compared).tolist() == [TORQUE]
    keep = np.arange(12) != TORQUE
    weights, unit = WEIGHTS[keep], UNIT[keep]
    square = ((features - features[0])[:, keep] ** 2 + sd[:, keep] ** 2 + sd[0, keep] ** 2) * weights / unit**2
    distance = np.sqrt(square.sum(axis=1) / weights.sum())
    distance[0] = np.inf
    assert found.rows.tolist() == np.argsort(distance)[:20].tolist()
    assert found.distance == pytest.approx(np.sort(distance)[:20])


def test_what_is_unknown_of_another_counts_as_usual_with_doubt() -> None:
    features, sd = _shafts(400, 6)
    kinds = np.arange(400) % 2
    features[kinds == 1, WEIGHT] += 45.0  # iron shafts are heavier (common practice, no source)
    gone = [7, 8]
    features[gone, WEIGHT] = sd[gone, WEIGHT] = np.nan
    usual, doubt = filled(features, sd, kinds)
    for row in gone:
        others = (kinds == kinds[row]) & np.isfinite(features[:, WEIGHT])
        assert usual[row, WEIGHT] == pytest.approx(features[others, WEIGHT].mean())
        assert doubt[row, WEIGHT] == pytest.approx(max(features[others, WEIGHT].std(), 8.0))
    kept = np.isfinite(features)
    assert (usual[kept] == features[kept]).all()
    assert (doubt[kept] == sd[kept]).all()
    assert np.isnan(features[gone, WEIGHT]).all()  # what was given stays as it was


def test_nothing_known_of_anybody() -> None:
    features, sd = _shafts(5, 7)
    features[:, TORQUE] = sd[:, TORQUE] = np.nan
    found = neighbours(features, sd, 0, top=3)
    assert np.isfinite(found.distance).all()
    features[:] = np.nan
    assert neighbours(features, sd, 0, top=3).rows.size == 0
    assert neighbours(features[:1], sd[:1], 0, top=3).rows.size == 0


def test_features_are_what_the_table_says() -> None:
    shafts, readings = random_shafts(60, 3)
    table = ShaftTable.from_arrow(shafts, readings)
    features, sd = raw_features(table)
    rows = shafts.to_pylist()
    for i in (0, 7, 59):
        raw = rows[i]["raw_length_in"]
        own = [r for r in readings.to_pylist() if r["shaft_id"] == rows[i]["id"]]
        place = raw * (np.arange(8) + 0.5) / 8.0
        read = np.interp(place, [r["position_in"] for r in own], [r["value"] for r in own])
        assert np.exp(features[i, :PLACES]) == pytest.approx(read)
        expected = [rows[i]["weight_g"], rows[i]["torque_deg"], 100.0 * rows[i]["balance_from_tip_in"] / raw, raw]
        assert features[i, [WEIGHT, TORQUE, BALANCE, LENGTH]] == pytest.approx(expected)
    assert ((sd[:, :PLACES] > 0.03) & (sd[:, :PLACES] < 0.05)).all()


def test_features_of_an_estimated_shaft() -> None:
    """Against the estimate's own model: stiffness by a straight line, its variance by differences."""
    shaft = Shaft(id="lone", club_type="wood", raw_length_in=46.0, weight_g=60.0, torque_deg=4.0)
    reading = ShaftReading(
        id="r", shaft_id="lone", sample="p1", quantity="frequency", value=250.0, free_length_in=41.0, tip_mass_g=205.0
    )
    estimates = estimate_many([make_case(shaft, [reading])], builtin())
    table = ShaftTable.from_records([shaft], [reading]).with_estimates(EstimateColumns.of(estimates).profiles())
    features, sd = raw_features(table)
    model = estimates[0].model()
    place = model.raw_length_m * (np.arange(8) + 0.5) / 8.0
    assert np.exp(features[0, :PLACES]) == pytest.approx(np.interp(place, model.station_m, model.ei_n_m2), rel=1e-5)
    step = 1e-5
    slopes = np.array(
        [
            (np.log(np.interp(place, model.station_m, model.ei_n_m2 * np.exp(step * unit))) - features[0, :PLACES])
            for unit in np.eye(model.station_m.size)
        ]
    )
    base = np.log(np.interp(place, model.station_m, model.ei_n_m2)) - features[0, :PLACES]
    slopes = (slopes - base) / step
    assert sd[0, :PLACES] == pytest.approx(np.sqrt(np.diag(slopes.T @ model.log_ei_cov @ slopes)), rel=1e-3)


def test_stations_that_end_early_are_held_and_a_bare_shaft_has_none() -> None:
    shafts = [
        Shaft(id="a", club_type="wood", raw_length_in=46.0, weight_g=60.0),
        Shaft(id="b", club_type="wood", raw_length_in=46.0, weight_g=60.0),
    ]
    readings = [
        ShaftReading(id=f"r{x}", shaft_id="b", sample="published", quantity="ei", value=20.0 + x, position_in=x)
        for x in (11.0, 16.0, 21.0, 26.0, 31.0, 36.0)
    ]
    features, sd = raw_features(ShaftTable.from_records(shafts, readings))
    assert np.isnan(features[0, :PLACES]).all()
    assert np.isnan(sd[0, [TORQUE, BALANCE]]).all()
    assert np.exp(features[1, 0]) == pytest.approx(31.0)
    assert np.exp(features[1, 7]) == pytest.approx(56.0)


def _words(**off: float) -> str:
    features, _ = _shafts(1, 8)
    other = features[0].copy()
    for name, value in off.items():
        at = {"tip": [0, 1, 2], "mid": [3, 4], "butt": [5, 6, 7], "weight": [WEIGHT], "torque": [TORQUE]}
        at |= {"balance": [BALANCE], "length": [LENGTH]}
        other[at[name]] += value
    return summary(differences(features[0], np.full(12, 0.01), other, np.full(12, 0.01)))


def test_words_name_what_stands_out_largest_first() -> None:
    assert _words() == "no difference of half a unit in anything"
    assert _words(tip=np.log(1.08), mid=np.log(1.08), butt=np.log(1.08)) == "8 % stiffer all along"
    assert _words(tip=np.log(0.9), weight=6.0) == "tip 10 % softer, 6 g heavier"
    assert _words(torque=-0.4, weight=-12.0, length=-1.0, balance=0.5) == (
        "12 g lighter, raw length 1 in less, 0.4 deg less torque"
    )
    assert _words(balance=-1.0) == "balance point 1.0 % nearer the tip"
    assert _words(tip=np.log(1.1), butt=np.log(0.9)) == "butt 10 % softer, tip 10 % stiffer"


def test_the_units_are_the_stated_ones() -> None:
    assert [f.one_unit for f in RAW_FEATURES] == pytest.approx(UNIT.tolist())
    assert [f.weight for f in RAW_FEATURES] == pytest.approx(WEIGHTS.tolist())
    # the same as where installed shafts are compared: 0.4 in on a driver shaft
    assert RAW_FEATURES[BALANCE].one_unit / 100.0 * 46.0 == pytest.approx(0.4, rel=0.05)
