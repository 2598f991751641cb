"""Estimates, bands, probabilities and order on makers that no figure of the estimator was set by.

Bounds are what was asked for, with room for the small samples taken here; ``RELIABILITY.md`` has the large ones. Makers
D was not looked at while the estimator was mended (A, B and C were).
"""

from __future__ import annotations

import numpy as np
import pytest

from specdb.profiles.population import Population
from tests.profiles.fresh_truth import fresh_shafts, true_features, usual_build
from tests.profiles.reliability import (
    all_pairs,
    by_state,
    in_first,
    linearised,
    matched,
    never_seen,
    pairs,
    pieces,
    pooled,
    taught_by_makers,
)
from tests.profiles.shop import BENCHED, THREE, Knows, open_shop
from tests.support.thorough import THOROUGH, many


@pytest.fixture(scope="module")
def others() -> Population:
    """Learned from other makers than those tested."""
    return taught_by_makers("A")


def test_tubes_are_such_as_the_trade_knows() -> None:
    """Scale checks: stiffness at tip and butt, frequency, torque, weight (common practice, no source)."""
    for kind, tip, butt, cpm in (("wood", (13, 35), (42, 100), (215, 295)), ("iron", (19, 42), (50, 110), (265, 385))):
        tubes = fresh_shafts(80, 5, kind, "C")
        ends = np.array([np.interp([3 * 0.0254, t.raw_m - 3 * 0.0254], t.place_m, t.ei) for t in tubes])
        played = true_features(tubes, np.full(80, 0.0127), [usual_build(t.shaft) for t in tubes])
        assert (tip[0] < ends[:, 0]).all()
        assert (ends[:, 0] < tip[1]).all()
        assert (butt[0] < ends[:, 1]).all()
        assert (ends[:, 1] < butt[1]).all()
        assert (cpm[0] < played[:, 0]).all()
        assert (played[:, 0] < cpm[1]).all()
        steel = [t for t in tubes if t.shaft.material == "steel"]
        # of an isotropic tube that follows from the ratio of Poisson
        assert all(np.allclose(t.gj / t.ei, 1.0 / 1.29) for t in steel)


@pytest.mark.slow
def test_bands_of_ninety_percent(others: Population) -> None:
    found = pooled(list(never_seen(others, "C", 100, 371).values()))
    assert (found.held >= 0.85).all(), found.held
    assert (found.held <= 0.95).all(), found.held
    assert 0.85 <= found.frequency_held <= 0.97


def test_accuracy_on_makers_that_taught() -> None:
    """Asked for: 5/3/5, 14/8/9, 5/3/4 percent. Seven frequencies miss that at the tip of woods, where it is 7."""
    population = taught_by_makers("C", 100, 351)
    for kind, tip in (("wood", 0.08), ("iron", 0.062)):
        found = by_state(pieces(kind, "C", 60, 361), population, 362)
        assert (found[Knows.ONE].rms <= (0.14, 0.08, 0.09)).all(), found[Knows.ONE].rms
        assert found[Knows.ONE].frequency_rms <= 0.015
        assert (found[Knows.SEVEN].rms <= (tip, 0.032, 0.05)).all(), found[Knows.SEVEN].rms
        assert (found[Knows.BEND].rms <= (0.05, 0.032, 0.04)).all(), found[Knows.BEND].rms


@pytest.mark.parametrize("kind", ["wood", "iron"])
def test_linearised_standard_deviations(others: Population, kind: str) -> None:
    """Also where only the leaflet is known."""
    shop = open_shop(kind, fresh_shafts(12, 391, kind, "C"), 391, others)
    for state in THREE:
        ratio = linearised(shop, state, 2, 1200, 391).mean(axis=0)
        assert (np.abs(ratio - 1.0) < 0.10).all(), (state, ratio)


@pytest.mark.slow
def test_probability_of_staying_inside_tolerance() -> None:
    """Promised and come must go together; they may come somewhat more often than promised, not less."""
    found = all_pairs([pairs(kind, "C", None, (381,), 12) for kind in ("wood", "iron")])
    for group in (found, found.only(found.rank <= 5)):
        table = group.table()
        for count, promised, came in table:
            noise = 2.5 * np.sqrt(0.25 / max(count, 1))
            if count >= 40:
                assert promised - 0.04 - noise <= came <= promised + 0.14 + noise, table
        assert group.brier < 0.7 * group.brier_of_rate


@pytest.mark.slow
def test_the_true_best_is_among_the_first_five() -> None:
    """Asked for, over 200 clubs: nine in ten, and a doubt that is larger where it is missed. About 45 s of one core.

    The usual run tries 80 of them, of which as many as chance takes from nine in ten (one standard deviation) may miss.
    """
    shops = many(2, 5)
    found = [
        f for kind in ("wood", "iron") for s in range(401, 401 + shops) for f in matched(kind, "D", BENCHED, s, 20)
    ]
    assert len(found) == shops * 40
    assert in_first(found) >= (0.90 if THOROUGH else 0.90 - np.sqrt(0.09 / len(found)))
    assert np.mean([f.near for f in found]) >= 0.94
    if THOROUGH:  # of 80 too few are missed for medians that lie this near
        hit, missed = ([f.doubt for f in found if (f.rank <= 5) == found_it] for found_it in (True, False))
        assert np.median(missed) > np.median(hit)


@pytest.mark.slow
def test_doubt_is_larger_where_the_true_best_is_missed() -> None:
    """With a third known by leaflet only, three in ten are missed; the medians of the doubt tell them apart."""
    found = [f for kind in ("wood", "iron") for f in matched(kind, "D", THREE, 401, 16)]
    hit, missed = ([f.doubt for f in found if (f.rank <= 5) == found_it] for found_it in (True, False))
    assert in_first(found) >= 0.5
    assert missed
    assert np.median(missed) > np.median(hit)
