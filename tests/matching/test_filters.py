"""What may be left out of a search, and that each shaft is told its own reason."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from specdb.fitup.report import Operation
from specdb.matching import find_substitutes
from tests.matching.conftest import HEAD, Shop

FITTED = "invented-000010"


def test_without_reaming_nothing_is_reamed_and_the_sentence_says_so(shop: Shop) -> None:
    # a 0.350 in tip goes in a 0.338 in bore only where the bore is reamed (arithmetic)
    index = shop.index()
    thick = [s for s, row in zip(index.table.ids, index.tip_of, strict=True) if index.tips.tip_dia_in[row] == 0.350]
    ask: dict[str, Any] = {"club": {"head": replace(HEAD, max_ream_dia_in=0.36)}, "top": 400}
    with_it = find_substitutes(index, shop.ask(FITTED, **ask))
    reamed = {r.shaft_id for r in with_it.results if any(s.operation == Operation.REAM for s in r.preparation)}
    assert reamed
    assert reamed <= set(thick)
    without = find_substitutes(index, shop.ask(FITTED, **ask, without=frozenset({Operation.REAM})))
    assert {r.shaft_id for r in without.results}.isdisjoint(reamed)
    for shaft in reamed:
        assert "reaming left out" in str(without.excluded.why(shaft))
    assert {r.shaft_id for r in with_it.results} - reamed == {r.shaft_id for r in without.results}
    nowhere = [s for s in without.excluded.ids if "does not go in" in str(with_it.excluded.why(s))]
    assert nowhere
    assert all("left out" not in str(with_it.excluded.why(s)) for s in nowhere)


def test_each_shaft_is_told_its_own_reasons(shop: Shop) -> None:
    index = shop.index()
    names = [r.shaft_id for r in find_substitutes(index, shop.ask(FITTED)).results[:3]]
    rows = [index.row_of(n) for n in names]
    held, light = np.ones(len(index), dtype=bool), np.ones(len(index), dtype=bool)
    held[[rows[0], rows[2]]] = False
    light[[rows[1], rows[2]]] = False
    left = find_substitutes(
        index,
        shop.ask(FITTED, only=held & light, only_reason="out", filters=(("not in stock", held), ("above 60 g", light))),
    ).excluded
    assert [left.why(n) for n in names] == ["not in stock", "above 60 g", "not in stock and above 60 g"]


def test_one_unit_of_tolerance_goes_with_each_difference(shop: Shop) -> None:
    best = find_substitutes(shop.index(), shop.ask(FITTED, top=3)).results
    for feature in (f for r in best for f in r.features):
        assert feature.units_off == pytest.approx(feature.difference / feature.one_unit)
        assert feature.units_sd == pytest.approx(feature.sd / feature.one_unit)
        expected = {"frequency_cpm": 2.5, "torque_deg": 0.3, "tip_ei_n_m2": 0.05 * abs(feature.reference)}
        if feature.key in expected:
            assert feature.one_unit == pytest.approx(expected[feature.key])
