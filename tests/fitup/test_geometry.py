"""Tip and bore geometry against plain arithmetic done here, one shaft and one place at a time."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.fitup.geometry import (
    FITS,
    NOT_KNOWN,
    TOO_LOOSE,
    TOO_TIGHT,
    Bore,
    TipArrays,
    clearance,
    direct_fit,
    gap_profile,
    outside_diameter,
)
from specdb.fitup.limits import FitLimits
from specdb.fitup.tips import tip_arrays
from specdb.records.rows import ShaftReading
from tests.fitup.parts import shaft

LIMITS = FitLimits()
NAN = math.nan


def one(dia: float, parallel: float = 6.0, growth: float = 0.0075, *, taper: bool = False) -> TipArrays:
    return TipArrays(np.array([dia]), np.array([parallel]), np.array([growth]), np.array([taper]))


def plain_diameter(dia: float, parallel: float, growth: float, taper: bool, s: float) -> float:
    """What a caliper would read ``s`` from the raw tip end."""
    straight = 0.0 if taper else parallel
    return dia if s <= straight else dia + growth * (s - straight)


def reading(position: float, value: float, sample: str = "piece-1") -> ShaftReading:
    return ShaftReading(
        id=f"r{position:g}{sample}",
        shaft_id="tallow-parallel",
        sample=sample,
        quantity="outside_diameter",
        value=value,
        position_in=position,
    )


def test_parallel_section_first_then_growth() -> None:
    # 6 in parallel, 1 in trimmed: 5 in left; at 7 in behind the new end, 2 in of growth
    tip = one(0.370)
    assert outside_diameter(tip, 1.0, 5.0)[0] == pytest.approx(0.370, abs=1e-12)
    assert outside_diameter(tip, 1.0, 7.0)[0] == pytest.approx(0.370 + 2 * 0.0075, abs=1e-12)


def test_taper_tip_grows_from_its_end_and_a_trimmed_one_is_larger() -> None:
    tip = one(0.355, taper=True)
    assert outside_diameter(tip, 0.0, 0.0)[0] == pytest.approx(0.355, abs=1e-12)
    assert outside_diameter(tip, 0.0, 1.25)[0] == pytest.approx(0.364375, abs=1e-12)
    assert outside_diameter(tip, 2.0, 0.0)[0] == pytest.approx(0.370, abs=1e-12)


def test_trim_beyond_the_parallel_section_makes_the_new_end_larger() -> None:
    tip = one(0.335, parallel=1.0, growth=0.010)
    assert outside_diameter(tip, 3.0, 0.0)[0] == pytest.approx(0.335 + 0.020, abs=1e-12)


def test_unknown_growth_is_taken_as_0_0075() -> None:
    """Common practice, no source."""
    tip = one(0.370, parallel=0.0, growth=NAN)
    assert outside_diameter(tip, 0.0, 2.0)[0] == pytest.approx(0.385, abs=1e-12)


@given(
    dia=st.floats(0.3, 0.4),
    parallel=st.floats(0, 8),
    growth=st.floats(0, 0.02),
    taper=st.booleans(),
    trim=st.floats(0, 4),
    insertion=st.floats(0.5, 2.0),
    mouth=st.floats(0.3, 0.4),
    bore_taper=st.booleans(),
)
def test_clearance_is_bore_minus_tip_everywhere(
    dia: float,
    parallel: float,
    growth: float,
    taper: bool,
    trim: float,
    insertion: float,
    mouth: float,
    bore_taper: bool,
) -> None:
    bore = Bore(mouth, "taper" if bore_taper else "parallel", 2.0)
    got = clearance(one(dia, parallel, growth, taper=taper), trim, insertion, bore)
    x = np.linspace(0.0, insertion, 201)
    gaps = [
        mouth
        - (0.0075 if bore_taper else 0.0) * (insertion - xi)
        - plain_diameter(dia, parallel, growth, taper, trim + xi)
        for xi in x
    ]
    assert got.at_bottom[0] == pytest.approx(gaps[0], abs=1e-12)
    assert got.at_mouth[0] == pytest.approx(gaps[-1], abs=1e-12)
    # no place of a fine walk along the tip is outside the extremes, and the extremes are reached to the walk's step
    assert got.smallest[0] <= min(gaps) + 1e-12
    assert got.largest[0] >= max(gaps) - 1e-12
    step = 0.0275 * insertion / 200
    assert got.smallest[0] >= min(gaps) - step
    assert got.largest[0] <= max(gaps) + step


def test_taper_tip_in_its_taper_bore_has_one_clearance() -> None:
    """A 0.355 in taper tip in a bore of the same taper, 0.003 in larger: parallel gap from end to end."""
    bore = Bore(0.355 + 0.0075 * 1.25 + 0.003, "taper", 1.25)
    got = clearance(one(0.355, taper=True), 0.0, 1.25, bore)
    assert got.smallest[0] == pytest.approx(0.003, abs=1e-12)
    assert got.largest[0] == pytest.approx(0.003, abs=1e-12)


def test_taper_tip_in_a_parallel_bore_differs_by_its_growth_between_the_ends() -> None:
    got = clearance(one(0.355, taper=True), 0.0, 1.2, Bore(0.365, "parallel", 1.2))
    assert got.at_bottom[0] == pytest.approx(0.010, abs=1e-12)
    assert got.at_mouth[0] == pytest.approx(0.001, abs=1e-12)


@pytest.mark.parametrize(
    ("bore_dia", "code"),
    [(0.3709, TOO_TIGHT), (0.371, FITS), (0.3735, FITS), (0.376, FITS), (0.3761, TOO_LOOSE), (NAN, NOT_KNOWN)],
)
def test_codes_at_the_edges_of_the_allowed_clearance(bore_dia: float, code: int) -> None:
    """0.001 to 0.006 in (common practice, no source), both ends allowed."""
    assert direct_fit(one(0.370), 0.0, 1.25, Bore(bore_dia, "parallel", 1.25), LIMITS)[0] == code


def test_what_is_surely_too_tight_is_so_whatever_is_unknown() -> None:
    tip = one(0.380, parallel=NAN)
    assert direct_fit(tip, 0.0, 1.25, Bore(0.3735, "parallel", 1.25), LIMITS)[0] == TOO_TIGHT
    assert direct_fit(one(0.370, parallel=NAN), 0.0, 1.25, Bore(0.3735, "parallel", 1.25), LIMITS)[0] == NOT_KNOWN


@given(
    dia=st.floats(0.33, 0.4),
    parallel=st.floats(0, 3),
    taper=st.booleans(),
    trim=st.floats(0, 2),
    mouth=st.floats(0.33, 0.4),
    wider=st.floats(0, 0.02),
    form=st.sampled_from(["parallel", "taper"]),
)
def test_a_wider_bore_never_turns_too_loose_into_too_tight(
    dia: float, parallel: float, taper: bool, trim: float, mouth: float, wider: float, form: str
) -> None:
    tip = one(dia, parallel, taper=taper)
    before = direct_fit(tip, trim, 1.25, Bore(mouth, form, 1.25), LIMITS)[0]
    after = direct_fit(tip, trim, 1.25, Bore(mouth + wider, form, 1.25), LIMITS)[0]
    order = {TOO_TIGHT: 0, FITS: 1, TOO_LOOSE: 2}
    assert order[int(after)] >= order[int(before)]


def test_readings_win_over_the_nominal_shape() -> None:
    tip = tip_arrays([shaft(tip_dia_in=0.370)], [reading(0.0, 0.3725), reading(2.0, 0.3725), reading(9.0, 0.3900)])
    assert outside_diameter(tip, 0.0, 1.0)[0] == pytest.approx(0.3725, abs=1e-12)
    # at a reading: the reading; beyond the last one the nominal growth goes on from it
    assert outside_diameter(tip, 0.0, 9.0)[0] == pytest.approx(0.3900, abs=1e-12)
    assert outside_diameter(tip, 0.0, 11.0)[0] == pytest.approx(0.3900 + 2 * 0.0075, abs=1e-12)


def test_a_reading_far_up_the_shaft_says_nothing_of_the_tip() -> None:
    """A plug gauge at the tip and a caliper at the butt measure different things: how fast the diameter grows between
    them is not known to a thousandth an inch (fact of geometry)."""
    bore = Bore(0.338, "parallel", 1.25)
    for tip_dia, far in ((0.335, 0.600), (0.350, 0.640), (0.370, 0.385)):
        for place in (10.0, 44.0):
            tip = tip_arrays([shaft(tip_dia_in=tip_dia, tip_parallel_in=3.0)], [reading(place, far)])
            assert outside_diameter(tip, 0.0, 1.25)[0] == pytest.approx(tip_dia, abs=1e-12)
            assert clearance(tip, 0.0, 1.25, bore).smallest[0] == pytest.approx(0.338 - tip_dia, abs=1e-12)
    both = tip_arrays([shaft(tip_dia_in=0.335, tip_parallel_in=3.0)], [reading(0.5, 0.336), reading(12.0, 0.500)])
    assert outside_diameter(both, 0.0, np.array([[0.0], [1.25], [3.0]]))[:, 0] == pytest.approx([0.336] * 3, abs=1e-12)


def test_a_reading_on_the_parallel_section_moves_all_of_it() -> None:
    tip = tip_arrays([shaft(tip_dia_in=0.335, tip_parallel_in=5.0)], [reading(4.5, 0.337)])
    assert outside_diameter(tip, 0.0, np.array([[0.0], [2.0], [5.0]]))[:, 0] == pytest.approx([0.337] * 3, abs=1e-12)


def test_a_reading_on_a_taper_is_good_for_two_inches_and_fades_over_as_many() -> None:
    for place, at_tip in ((1.0, 1.0), (2.0, 1.0), (3.0, 0.5), (3.5, 0.25), (4.0, 0.0), (9.0, 0.0)):
        nominal = 0.355 + 0.0075 * place
        tip = tip_arrays(
            [shaft(tip_dia_in=0.355, tip_form="taper", tip_parallel_in=None)], [reading(place, nominal + 0.002)]
        )
        assert outside_diameter(tip, 0.0, 0.0)[0] == pytest.approx(0.355 + 0.002 * at_tip, abs=1e-12)
        # the corners of the shift are looked at, so that the largest diameter is not passed over
        seen = clearance(tip, 0.0, 2.0, Bore(0.4, "parallel", 2.0))
        x = np.linspace(0.0, 2.0, 4001)[:, None]
        assert seen.smallest[0] == pytest.approx(float((0.4 - outside_diameter(tip, 0.0, x)).min()), abs=1e-9)


def test_measured_readings_win_over_a_published_table_and_pieces_are_averaged() -> None:
    readings = [reading(0.5, 0.360, "published"), reading(0.5, 0.371), reading(0.5, 0.373, "piece-2")]
    assert outside_diameter(tip_arrays([shaft()], readings), 0.0, 0.5)[0] == pytest.approx(0.372, abs=1e-12)


def test_readings_alone_are_known_between_near_readings_only() -> None:
    readings = [reading(0.0, 0.370), reading(1.5, 0.371), reading(9.0, 0.400)]
    tip = tip_arrays([shaft(tip_dia_in=None, tip_form=None, tip_parallel_in=None)], readings)
    assert outside_diameter(tip, 0.0, 0.75)[0] == pytest.approx(0.3705, abs=1e-12)
    assert math.isnan(outside_diameter(tip, 0.0, 5.0)[0])
    assert math.isnan(outside_diameter(tip, 0.0, 12.0)[0])


def test_a_bulge_between_the_ends_is_seen_through_its_reading() -> None:
    readings = [reading(0.0, 0.370), reading(0.6, 0.374), reading(1.25, 0.370)]
    tip = tip_arrays([shaft()], readings)
    bore = Bore(0.3735, "parallel", 1.25)
    got = clearance(tip, 0.0, 1.25, bore)
    assert got.smallest[0] == pytest.approx(-0.0005, abs=1e-12)
    assert direct_fit(tip, 0.0, 1.25, bore, LIMITS)[0] == TOO_TIGHT
    x, gap = gap_profile(tip, 0.0, 1.25, bore)
    assert x[np.argmin(gap)] == pytest.approx(0.6)


@settings(max_examples=30)
@given(st.integers(0, 2**32 - 1))
def test_many_shafts_at_once_equal_one_at_a_time(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shafts = [
        shaft(
            id=f"s{i}",
            tip_dia_in=float(rng.choice([0.335, 0.355, 0.370])),
            tip_form=str(rng.choice(["parallel", "taper"])),
            tip_parallel_in=None if rng.random() < 0.2 else float(rng.uniform(0, 3)),
        )
        for i in range(6)
    ]
    readings = [
        ShaftReading(
            id=f"{s.id}-{p}",
            shaft_id=s.id,
            sample="a",
            quantity="outside_diameter",
            value=0.35 + 0.01 * rng.random(),
            position_in=float(p),
        )
        for s in shafts[::2]
        for p in rng.choice(8, size=int(rng.integers(0, 4)), replace=False)
    ]
    trims = np.array([0.0, 0.5, 1.75])[:, None]
    bore = Bore(0.372, "parallel", 1.25)
    together = clearance(tip_arrays(shafts, readings), trims, 1.25, bore)
    codes = direct_fit(tip_arrays(shafts, readings), trims, 1.25, bore, LIMITS)
    for i, s in enumerate(shafts):
        tip = tip_arrays([s], readings)
        for t in range(3):
            alone = clearance(tip, float(trims[t, 0]), 1.25, bore)
            np.testing.assert_allclose(together.smallest[t, i], alone.smallest[0])
            np.testing.assert_allclose(together.largest[t, i], alone.largest[0])
            assert codes[t, i] == direct_fit(tip, float(trims[t, 0]), 1.25, bore, LIMITS)[0]
    picked = np.array([4, 1, 4])
    np.testing.assert_array_equal(
        direct_fit(tip_arrays(shafts, readings).take(picked), trims, 1.25, bore, LIMITS), codes[:, picked]
    )
