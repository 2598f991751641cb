"""What comes back for a question, and what is left out with which reason."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from specdb.errors import BuildError, MissingDataError, UsageError
from specdb.fitup.question import Shelf
from specdb.fitup.report import Operation
from specdb.matching import Tolerances, find_substitutes
from specdb.records.rows import Ferrule, Sleeve, Weighting
from tests.matching.conftest import HEAD, Shop

FITTED = "invented-000040"


def test_score_follows_from_the_shown_differences(shop: Shop) -> None:
    report = find_substitutes(shop.index(), shop.ask(FITTED))
    assert len(report.results) == 20
    for result in report.results:
        squares = [
            f.units_off**2 + (f.sd * f.units_off / f.difference) ** 2 for f in result.features if f.difference != 0
        ]
        assert result.play_score == pytest.approx(np.sqrt(np.mean(squares)), rel=1e-9)
        assert result.score == pytest.approx(result.play_score + result.preparation_cost)
        assert result.noise_floor <= result.play_score
    scores = [r.score for r in report.results]
    assert scores == sorted(scores)
    assert [r.rank for r in report.results] == list(range(1, 21))


def test_every_stand_in_restores_the_swing_moment_or_says_by_how_much_not(shop: Shop) -> None:
    report = find_substitutes(shop.index(), shop.ask(FITTED, max_head_add_g=3.0))
    for result in report.results:
        if 0.01 < result.head_add_g < 2.99:
            assert result.swingweight == "D2.0"
        elif result.head_add_g >= 2.99:
            assert result.swingweight == "D2.0" or any("light" in n for n in result.notes)
        else:
            assert result.swingweight == "D2.0" or any("over" in n for n in result.notes)


def test_same_question_same_answer(shop: Shop) -> None:
    first = find_substitutes(shop.index(), shop.ask(FITTED)).to_json()
    second = find_substitutes(shop.index(), shop.ask(FITTED)).to_json()
    first.pop("elapsed_ms")
    second.pop("elapsed_ms")
    assert json.dumps(first) == json.dumps(second)


def test_a_twin_of_the_fitted_shaft_comes_first_with_the_same_trim(shop: Shop) -> None:
    rows, readings = shop.shafts.to_pylist(), shop.readings.to_pylist()
    twin = dict(next(r for r in rows if r["id"] == FITTED), id="twin")
    own = [dict(r, shaft_id="twin") for r in readings if r["shaft_id"] == FITTED]
    shop.shafts = pa.Table.from_pylist([*rows, twin], schema=shop.shafts.schema)
    shop.readings = pa.Table.from_pylist([*readings, *own], schema=shop.readings.schema)
    best = find_substitutes(shop.index(), shop.ask(FITTED)).results[0]
    assert best.shaft_id == "twin"
    assert best.tip_trim_in == 0.5
    assert best.play_score == pytest.approx(best.noise_floor)
    assert all(abs(f.units_off) < 1e-6 for f in best.features)


def test_reasons_of_what_is_left_out(shop: Shop) -> None:
    base = find_substitutes(shop.index(), shop.ask(FITTED))
    names = [r.shaft_id for r in base.results]
    shop.set(names[0], status="retired")
    shop.set(names[1], raw_length_in=40.0, balance_from_tip_in=20.5)
    shop.set(names[2], tip_dia_in=0.370)
    shop.set(names[3], tip_dia_in=None)
    shop.set(names[4], club_type="putter")
    shop.drop_readings(names[5])
    shop.set(names[6], weight_g=None)
    index = shop.index()
    only = np.ones(len(index), dtype=bool)
    only[index.row_of(names[7])] = False
    report = find_substitutes(
        index,
        shop.ask(FITTED, only=only, only_reason="not in stock", rejected={names[8]: "player did not like it"}),
    )
    left = report.excluded
    assert left.why(names[0]) == "retired"
    assert left.why(names[1]) == "needs 42.75 in, is 40"
    assert "does not go in" in str(left.why(names[2]))
    assert "0.370" in str(left.why(names[2]))
    assert "tip diameter, form or parallel length unknown" in str(left.why(names[3]))
    assert "putter" in str(left.why(names[4]))
    assert "stiffness" in str(left.why(names[5]))
    assert "would admit it" in str(left.why(names[5]))
    assert "weight_g" in str(left.why(names[6]))
    assert left.why(names[7]) == "not in stock"
    assert left.why(names[8]) == "turned down for this club: player did not like it"
    assert "fitted" in str(left.why(FITTED))
    assert left.why(names[9]) is None
    proposed = {r.shaft_id for r in report.results}
    assert proposed.isdisjoint(names[:9])
    assert names[9] in proposed
    assert sum(n for _, n in left.counts()) == len(left)
    assert {e["shaft_id"] for e in report.to_json()["excluded"]} >= set(names[:9])


def test_a_shaft_without_torque_ranks_behind_those_compared_on_more(shop: Shop) -> None:
    base = find_substitutes(shop.index(), shop.ask(FITTED, top=5))
    nearest = base.results[0].shaft_id
    shop.set(nearest, torque_deg=None)
    report = find_substitutes(shop.index(), shop.ask(FITTED, top=400))
    place = next(r for r in report.results if r.shaft_id == nearest)
    assert place.not_compared == ("torque_deg",)
    assert place.rank == len(report.results)
    assert "torque_deg" not in {f.key for f in place.features}


def test_where_the_fitted_shaft_has_no_torque_nothing_is_compared_on_it(shop: Shop) -> None:
    shop.set(FITTED, torque_deg=None)
    report = find_substitutes(shop.index(), shop.ask(FITTED, top=5))
    assert all(r.not_compared == ("torque_deg",) for r in report.results)


def test_a_shaft_known_badly_cannot_win_by_being_near_on_paper(shop: Shop) -> None:
    nearest = find_substitutes(shop.index(), shop.ask(FITTED, top=1)).results[0]
    row = next(r for r in shop.shafts.to_pylist() if r["id"] == FITTED)
    own = [r for r in shop.readings.to_pylist() if r["shaft_id"] == FITTED]
    # two figures read off the fitted shaft's own profile
    shop.drop_readings(nearest.shaft_id)
    shop.set(
        nearest.shaft_id,
        weight_g=row["weight_g"],
        torque_deg=row["torque_deg"],
        balance_from_tip_in=row["balance_from_tip_in"],
        tip_ei_n_m2=own[2]["value"],
        tip_ei_at_in=own[2]["position_in"],
        butt_ei_n_m2=own[-3]["value"],
        butt_ei_at_in=own[-3]["position_in"],
    )
    report = find_substitutes(shop.index(), shop.ask(FITTED, top=300))
    place = next(r for r in report.results if r.shaft_id == nearest.shaft_id)
    assert place.noise_floor > 2 * report.results[0].noise_floor
    assert place.rank > 1
    assert any("two figures" in n for n in place.notes)


def test_weighting_leaves_features_out(shop: Shop) -> None:
    features = ("tip_ei", "mid_ei", "butt_ei", "torque", "shaft_weight", "balance", "kick_point", "total_weight", "moi")
    left_out: dict[str, Any] = {f"{name}_weight": 0.0 for name in features}
    record = Weighting(id="frequency-only", frequency_unit=1.0, **left_out)
    report = find_substitutes(shop.index(), shop.ask(FITTED, tolerances=Tolerances.from_record(record), top=3))
    best = report.results[0]
    assert report.weighting == "frequency-only"
    assert [f.key for f in best.features] == ["frequency_cpm"]
    assert best.features[0].units_off == pytest.approx(best.features[0].difference)
    with pytest.raises(UsageError, match="every feature"):
        Tolerances.from_record(Weighting(id="nothing", frequency_weight=0.0, **left_out))


def test_a_thinner_tip_gets_a_sleeve_with_its_cost_and_weight(shop: Shop) -> None:
    head = replace(HEAD, bore_dia_in=0.353)
    shelf = Shelf(
        sleeves=(
            Sleeve(
                id="shim-335-350",
                inner_dia_in=0.338,
                inner_form="parallel",
                outer_dia_in=0.350,
                outer_form="parallel",
                length_in=1.5,
                weight_g=1.4,
            ),
        ),
        in_stock={("sleeve", "shim-335-350"): 2},
    )
    with_shelf = find_substitutes(shop.index(), shop.ask(FITTED, club={"head": head}, shelf=shelf, top=300))
    thin = [r for r in with_shelf.results if r.preparation_cost > 0]
    thick = [r for r in with_shelf.results if r.preparation_cost == 0]
    assert thin
    assert thick
    step = next(s for s in thin[0].preparation if s.operation == Operation.SLEEVE)
    assert step.part_id == "shim-335-350"
    assert step.in_stock is True
    assert thin[0].preparation_cost == pytest.approx(0.10)
    assert thin[0].score == pytest.approx(thin[0].play_score + 0.10)
    assert any("epoxy" in c.lower() or "bond" in c.lower() for c in thin[0].cautions)
    without = find_substitutes(shop.index(), shop.ask(FITTED, club={"head": head}, top=300))
    assert {r.shaft_id for r in without.results} == {r.shaft_id for r in thick}


def test_a_fitted_club_that_cannot_be_computed_is_said(shop: Shop) -> None:
    index = shop.index()
    with pytest.raises(BuildError, match=r"too short by"):
        find_substitutes(index, shop.ask(FITTED, club={"playing_length_in": 55.0}))
    shop.drop_readings(FITTED)
    with pytest.raises(MissingDataError, match="stiffness"):
        find_substitutes(shop.index(), shop.ask(FITTED))


def test_no_candidates_gives_an_empty_answer_not_an_error(shop: Shop) -> None:
    index = shop.index()
    report = find_substitutes(index, shop.ask(FITTED, only=np.zeros(len(index), dtype=bool)))
    assert report.results == ()
    assert len(report.excluded) == len(index)


def test_too_short_is_told_by_the_way_the_own_tip_goes_in(shop: Shop) -> None:
    """Another shaft sits shallower and so needs less; that is no measure for this one."""
    asked = shop.ask(FITTED)
    short, stepped = [r.shaft_id for r in find_substitutes(shop.index(), asked).results if not r.preparation][:2]
    shop.set(short, raw_length_in=42.7, tip_dia_in=0.335, tip_parallel_in=6.0)
    shop.set(stepped, tip_dia_in=0.335, tip_parallel_in=0.8, tip_growth_in_per_in=0.0075, max_tip_trim_in=0.0)
    report = find_substitutes(shop.index(), shop.ask(FITTED, top=300))
    shallow = next(r for r in report.results if r.shaft_id == stepped)
    assert [s.operation for s in shallow.preparation] == ["shallower_insertion"]
    assert shallow.cut_length_in < 42.7
    assert report.excluded.why(short) == "needs 42.75 in, is 42.7"


def test_weight_recorded_as_added_is_reported_and_raises_the_limit(shop: Shop) -> None:
    fitted = {"swingweight": None, "head_add_g": 18.0}
    report = find_substitutes(shop.index(), shop.ask(FITTED, club=fitted))
    assert report.reference["head_add_g"] == pytest.approx(18.0, abs=1e-9)
    bare = find_substitutes(shop.index(), shop.ask(FITTED, club={**fitted, "head_add_g": 0.0}))
    heavier = report.reference["total_weight_g"] - bare.reference["total_weight_g"]
    assert heavier == pytest.approx(18.0, abs=1e-4)
    assert any("up to 24.0 g" in note for note in report.notes)  # 6 g over what the fitted club takes
    # stand-ins start from the bare head: their weight is counted in full
    parts = shop.club(FITTED)
    assert parts.head.weight_g is not None
    assert parts.grip is not None
    assert parts.grip.weight_g is not None
    for result in report.results:
        if any(step.operation != "tip_trim" for step in result.preparation):
            continue
        weight = {name: entry["candidate"] for name, entry in result.to_json()["features"].items()}
        rest = weight["total_weight_g"] - weight["shaft_weight_g"]
        assert rest == pytest.approx(parts.head.weight_g + parts.grip.weight_g + result.head_add_g, abs=2e-3)


@pytest.mark.parametrize(
    "values", [{"trim_step_in": 0.3}, {"top": 0}, {"max_head_add_g": -1.0}, {"refine_in": 0.5}, {"trim_step_in": -0.25}]
)
def test_senseless_questions_are_refused(shop: Shop, values: dict[str, float]) -> None:
    with pytest.raises(UsageError):
        shop.ask(FITTED, **values)


def test_readings_of_the_tip_win_over_its_nominal_diameter(shop: Shop) -> None:
    nearest = find_substitutes(shop.index(), shop.ask(FITTED, top=1)).results[0].shaft_id
    thick = [
        {
            "id": f"od-{place}",
            "shaft_id": nearest,
            "sample": "piece 1",
            "quantity": "outside_diameter",
            "value": 0.3395,
            "position_in": place,
        }
        for place in (0.5, 1.5, 2.5)
    ]
    rows = [*shop.readings.to_pylist(), *thick]
    shop.readings = pa.Table.from_pylist(rows, schema=shop.readings.schema)
    report = find_substitutes(shop.index(), shop.ask(FITTED))
    assert "measured 0.3395 in, does not go in" in str(report.excluded.why(nearest))
    wider = replace(HEAD, bore_dia_in=0.3425)
    again = find_substitutes(shop.index(), shop.ask(FITTED, club={"head": wider}, top=300))
    assert nearest in {r.shaft_id for r in again.results}


def test_a_ferrule_too_narrow_for_the_stand_in_is_said(shop: Shop) -> None:
    narrow = Ferrule(id="narrow", inner_dia_in=0.300, outer_dia_in=0.500, length_in=0.5, weight_g=1.0)
    wide = replace(narrow, id="right", inner_dia_in=0.335)
    said = find_substitutes(shop.index(), shop.ask(FITTED, club={"ferrule": narrow}, top=3))
    assert all(any("ferrule" in n.lower() for n in r.notes) for r in said.results)
    fine = find_substitutes(shop.index(), shop.ask(FITTED, club={"ferrule": wide}, top=3))
    assert not any("ferrule" in n.lower() for r in fine.results for n in r.notes)
