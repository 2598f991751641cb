"""Many shafts at once against the list of options: the same answers as the planner gives one at a time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.fitup import FitQuestion, Operation, Shelf, Verdict, plan
from specdb.fitup.choose import choose_options
from specdb.fitup.geometry import FITS, NOT_KNOWN, TOO_LOOSE, TOO_TIGHT, TipArrays
from specdb.fitup.limits import FitLimits
from specdb.fitup.options import preparation_options
from specdb.fitup.tips import tip_arrays
from specdb.records.rows import Adapter, Head, Shaft, ShaftReading
from tests.fitup import parts

LIMITS = FitLimits()
TRIM_SETTLED = frozenset(Operation) - {Operation.TIP_TRIM}
TRIMS = np.array([0.0, 0.75, 1.5])


def random_shafts(rng: np.random.Generator, count: int) -> list[Shaft]:
    return [
        parts.shaft(
            id=f"s{i}",
            tip_dia_in=None if rng.random() < 0.05 else round(float(rng.uniform(0.33, 0.375)), 4),
            tip_form=str(rng.choice(["parallel", "taper"], p=[0.7, 0.3])),
            tip_parallel_in=None if rng.random() < 0.1 else round(float(rng.uniform(0.5, 5.0)), 2),
            tip_growth_in_per_in=None if rng.random() < 0.3 else 0.006,
        )
        for i in range(count)
    ]


def random_readings(rng: np.random.Generator, shafts: list[Shaft]) -> list[ShaftReading]:
    return [
        ShaftReading(
            id=f"{s.id}-{position}",
            shaft_id=s.id,
            sample="piece-1",
            quantity="outside_diameter",
            value=(s.tip_dia_in or 0.35) + float(rng.uniform(-0.002, 0.004)),
            position_in=position,
        )
        for s in shafts
        if rng.random() < 0.3
        for position in (0.0, 1.0, 2.5)
    ]


def random_place(rng: np.random.Generator) -> tuple[Head, Adapter | None, Shelf]:
    def size(base: float) -> float:
        return round(base + float(rng.uniform(-0.01, 0.01)), 4)

    form = str(rng.choice(["parallel", "taper"]))
    sleeves = tuple(
        parts.sleeve(size(0.352), size(0.362), id=f"sl{i}", length_in=float(rng.choice([1.15, 1.5]))) for i in range(4)
    )
    adapters = tuple(
        parts.adapter(id=f"a{i}", bore_dia_in=size(0.352), bore_form=form, bore_depth_in=1.25, weight_g=7.0 + i)
        for i in range(3)
    )
    shelf = Shelf(adapters=adapters, sleeves=sleeves, in_stock=lambda _, item: int(item.endswith("1")))
    if rng.random() < 0.5:
        return parts.wood_head(), adapters[0], shelf
    head = parts.head(bore_dia_in=size(0.358), bore_form=form, max_ream_dia_in=size(0.365))
    return head, None, shelf


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_engine_and_planner_agree_on_fit_and_cost(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shafts = random_shafts(rng, 8)
    readings = random_readings(rng, shafts)
    head, adapter, shelf = random_place(rng)
    options = preparation_options(head, adapter, shelf, LIMITS)
    chosen = choose_options(options, tip_arrays(shafts, readings), TRIMS[:, None], LIMITS)
    assert chosen.option.shape == chosen.cost.shape == chosen.code.shape == (3, 8)
    for t, trim in enumerate(TRIMS):
        for i, shaft in enumerate(shafts):
            question = FitQuestion(
                shaft=shaft, readings=tuple(readings), head=head, adapter=adapter, tip_trim_in=float(trim)
            )
            report = plan(question, shelf, allowed=TRIM_SETTLED)
            number = int(chosen.option[t, i])
            if report.verdict is Verdict.UNKNOWN:
                assert number == -1
                assert chosen.code[t, i] != FITS
                continue
            fits = report.verdict in (Verdict.FITS, Verdict.FITS_WITH_PREPARATION)
            assert (number >= 0) == fits
            assert (chosen.code[t, i] == FITS) == fits
            if fits:
                assert chosen.cost[t, i] == pytest.approx(report.cost)
                assert options[number].operations == tuple(s.operation for s in report.preparation)
                assert [p[1] for p in options[number].parts] == [s.part_id for s in report.preparation if s.part_id]


def test_the_list_is_in_order_of_preference_and_begins_with_the_bore_as_it_is() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        head, adapter, shelf = random_place(rng)
        options = preparation_options(head, adapter, shelf, LIMITS)
        assert options[0].operations == ()
        keys = [(len(o.operations), round(o.cost, 6)) for o in options]
        assert keys == sorted(keys)
        assert all(len(o.operations) <= 3 for o in options)


def test_added_mass_is_against_the_build_as_asked() -> None:
    asked = parts.adapter(weight_g=8.0)
    shelf = Shelf(
        adapters=(parts.adapter(id="b", bore_dia_in=0.352, weight_g=9.5),), sleeves=(parts.sleeve(0.340, 0.3485),)
    )
    options = preparation_options(parts.wood_head(), asked, shelf, LIMITS)
    mass = {o.parts: o.added_mass_g for o in options}
    assert mass[()] == 0.0
    assert mass[(("adapter", "b"),)] == pytest.approx(1.5)
    assert mass[(("adapter", "b"), ("sleeve", "sleeve-3400-3485"))] == pytest.approx(2.7)


def test_an_adapter_that_does_not_go_on_is_no_option() -> None:
    shelf = Shelf(adapters=(parts.adapter(id="left", hand="left"), parts.adapter(id="turn", connection="tallow-turn")))
    assert preparation_options(parts.wood_head(), parts.adapter(hand="left"), shelf, LIMITS) == []
    assert preparation_options(parts.wood_head(), None, shelf, LIMITS) == []


def test_a_bore_too_shallow_is_no_option() -> None:
    assert preparation_options(parts.head(bore_depth_in=1.0), None, Shelf(), LIMITS) == []


def test_why_not_is_said_by_code() -> None:
    bore = preparation_options(parts.head(bore_dia_in=0.3535, max_ream_dia_in=None), None, Shelf(), LIMITS)
    tips = TipArrays(
        np.array([0.350, 0.370, 0.335, np.nan]), np.full(4, 6.0), np.full(4, 0.0075), np.zeros(4, dtype=bool)
    )
    chosen = choose_options(bore, tips, 0.0, LIMITS)
    assert chosen.code.tolist() == [FITS, TOO_TIGHT, TOO_LOOSE, NOT_KNOWN]
    assert chosen.option.tolist() == [0, -1, -1, -1]
    assert np.isnan(chosen.cost[1:]).all()


def test_an_unknown_is_measured_and_not_prepared_around() -> None:
    """Read as far as 1.15 in only: a shallower insertion would be known to fit, and is not proposed for that."""
    shaft = parts.shaft(tip_dia_in=None, tip_form=None, tip_parallel_in=None)
    readings = [
        ShaftReading(id=f"r{p}", shaft_id=shaft.id, sample="a", quantity="outside_diameter", value=0.370, position_in=p)
        for p in (0.0, 1.15)
    ]
    head = parts.head()
    options = preparation_options(head, None, Shelf(), LIMITS)
    assert any(o.fit(tip_arrays([shaft], readings), 0.0, LIMITS)[0] == FITS for o in options)
    chosen = choose_options(options, tip_arrays([shaft], readings), 0.0, LIMITS)
    assert (chosen.option.tolist(), chosen.code.tolist()) == ([-1], [NOT_KNOWN])
    report = plan(FitQuestion(shaft=shaft, readings=tuple(readings), head=head), Shelf())
    assert report.verdict is Verdict.UNKNOWN
    assert set(report.missing) == {"shaft.tip_dia_in", "shaft.tip_form", "shaft.tip_parallel_in"}


def test_nothing_to_choose_from() -> None:
    chosen = choose_options([], tip_arrays([parts.shaft()]), 0.0, LIMITS)
    assert chosen.option.tolist() == [-1]
    assert np.isnan(chosen.cost).all()
