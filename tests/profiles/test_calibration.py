"""Instruments against references: the fit, what it is sure of, and what it asks about.

Outside references: ``scipy.optimize.least_squares`` with every unknown written out, ``scipy.stats.linregress`` where
the prior does not matter, and simulated instruments whose truth is known.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.stats import linregress

from specdb.profiles.calibrate import calibrate
from specdb.profiles.calibration import MOVES, PERIOD_DAYS, USUAL, Calibration, corrected
from specdb.records.rows import ReferenceReading, ShaftReading

DAY = dt.date(2026, 3, 2)
TYPICAL = {
    "frequency": 250.0,
    "ei": 40.0,
    "deflection": 150.0,
    "torque": 4.0,
    "weight": 65.0,
    "balance": 23.0,
    "outside_diameter": 0.35,
}


def reference(number: int, true: float, value: float, days: int = 0, **more: Any) -> ReferenceReading:
    fields: dict[str, Any] = {
        "id": f"r{number:04d}",
        "instrument": "meter 1",
        "reference": "piece A",
        "quantity": "frequency",
        "taken_on": DAY + dt.timedelta(days=days),
    }
    return ReferenceReading(**(fields | more), true_value=true, value=value)


def bench(value: float, days: int = 0, **more: Any) -> ShaftReading:
    fields: dict[str, Any] = {
        "id": "b",
        "shaft_id": "s",
        "sample": "p1",
        "quantity": "frequency",
        "instrument": "meter 1",
        "taken_on": DAY + dt.timedelta(days=days),
    }
    return ShaftReading(**(fields | more), value=value)


def only(readings: list[ReferenceReading]) -> Calibration:
    found = list(calibrate(readings))
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize("quantity", TYPICAL)
@pytest.mark.parametrize("references", [1, 3])
def test_the_fit_is_that_of_a_general_solver_with_all_unknowns(quantity: str, references: int) -> None:
    usual, typical = USUAL[quantity], TYPICAL[quantity]
    rng = np.random.default_rng(references)
    stated = typical * np.linspace(0.8, 1.3, references)
    noise = np.array([usual.noise_at(t) for t in stated])
    true_sd = 0.6 * noise
    of = np.repeat(np.arange(references), 4)
    scale = 1.0 - 0.5 * usual.scale_sd
    value = 0.3 * usual.offset_sd + scale * stated[of] + noise[of] * rng.normal(size=of.size)
    found = only(
        [
            reference(i, float(stated[k]), float(v), reference=f"R{k}", quantity=quantity, true_sd=float(true_sd[k]))
            for i, (k, v) in enumerate(zip(of.tolist(), value.tolist(), strict=True))
        ]
    )

    def misfit(x: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
        # all in standard deviations, so that no unknown is small
        a, b, u = x[0] * usual.offset_sd, 1.0 + x[1] * usual.scale_sd, x[2:] * true_sd
        return np.concatenate([(value - a - b * (stated + u)[of]) / (found.spread * noise[of]), x])

    solved = least_squares(misfit, np.zeros(2 + references), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    covariance = np.linalg.inv(solved.jac.T @ solved.jac)
    size = np.array([usual.offset_sd, usual.scale_sd])
    assert found.offset / usual.offset_sd == pytest.approx(solved.x[0], abs=1e-5)
    assert (found.scale - 1.0) / usual.scale_sd == pytest.approx(solved.x[1], abs=1e-5)
    assert found.covariance / np.outer(size, size) == pytest.approx(covariance[:2, :2], abs=1e-5)
    # the repeatability: four readings' worth of the usual one, and the residuals with the freedom they have left
    data = solved.jac[: of.size]
    free = of.size - np.trace(data @ covariance @ data.T)
    square = np.square(solved.fun[: of.size] * found.spread).sum()
    assert found.spread**2 == pytest.approx((4.0 + square) / (4.0 + free), rel=1e-3)


def test_with_many_sure_references_it_is_the_regression_line() -> None:
    rng = np.random.default_rng(7)
    true = rng.uniform(150.0, 400.0, 400)
    value = 1.4 + 0.985 * true + 1.3 * rng.normal(size=true.size)
    readings = [
        reference(i, float(t), float(v), reference=f"R{i}", true_sd=0.0)
        for i, (t, v) in enumerate(zip(true, value, strict=True))
    ]
    # the scatter is told apart from the spread of the references: one reading a reference
    found = only(readings)
    line = linregress(true, value)
    assert found.scale == pytest.approx(line.slope, abs=0.2 * line.stderr)
    assert found.offset == pytest.approx(line.intercept, abs=0.2 * line.intercept_stderr)
    assert np.sqrt(found.covariance[1, 1]) == pytest.approx(line.stderr, rel=0.10)
    assert found.residual_sd == pytest.approx(1.3, rel=0.1)


def simulated(rng: np.random.Generator, quantity: str) -> tuple[float, float, float]:
    """A shaft read on an instrument that was calibrated: true value, corrected value and its sd."""
    usual, typical = USUAL[quantity], TYPICAL[quantity]
    offset, scale = rng.normal(0.0, usual.offset_sd), rng.normal(1.0, usual.scale_sd)
    stated = typical * rng.uniform(0.7, 1.4, rng.integers(1, 4))
    true_sd = 0.5 * usual.noise_at(typical)
    really = stated + rng.normal(0.0, true_sd, stated.size)
    taken: list[ReferenceReading] = []
    periods = int(rng.integers(1, 5))
    for period in range(periods):
        if period:
            offset += rng.normal(0.0, MOVES * usual.offset_sd)
            scale += rng.normal(0.0, MOVES * usual.scale_sd)
        for _ in range(int(rng.integers(1, 6))):
            k = int(rng.integers(stated.size))
            value = offset + scale * really[k] + rng.normal(0.0, usual.noise_at(float(stated[k])))
            named = {"reference": f"R{k}", "quantity": quantity, "true_sd": true_sd}
            taken.append(reference(len(taken), float(stated[k]), float(value), 30 * period, **named))
    true = typical * float(rng.uniform(0.6, 1.5))
    read = offset + scale * true + rng.normal(0.0, usual.noise_at(true))
    found = corrected(bench(read, 30 * periods, quantity=quantity), calibrate(taken))
    assert found is not None
    return true, found.value, found.sd


@pytest.mark.parametrize("quantity", TYPICAL)
def test_nine_in_ten_true_values_lie_in_the_ninety_percent_band(quantity: str) -> None:
    rng = np.random.default_rng(11)
    true, value, sd = np.array([simulated(rng, quantity) for _ in range(400)]).T
    inside = np.abs(value - true) < 1.645 * sd
    assert 0.85 <= inside.mean() <= 0.95  # 90 %, with three sd of 400 trials


def of_shift(rng: np.random.Generator, shift: float) -> Calibration:
    readings = [
        reference(i, 250.0, 247.0 + shift * (i >= 6) + float(rng.normal(0.0, 1.0)), 0 if i < 3 else 30 if i < 6 else 60)
        for i in range(9)
    ]
    return list(calibrate(readings))[-1]


def test_a_drift_is_found_and_none_is_found_too_often() -> None:
    rng = np.random.default_rng(5)
    still = [of_shift(rng, 0.0).drift for _ in range(800)]
    alarms = np.mean([d is not None and d.found for d in still])
    assert alarms <= 0.01  # one in a hundred is meant, where the usual repeatability is wrong
    moved = [of_shift(rng, 4.0).drift for _ in range(100)]
    assert np.mean([d is not None and d.found for d in moved]) > 0.9
    assert np.mean([d.shift for d in moved if d is not None]) == pytest.approx(4.0, abs=0.3)


def test_a_changed_instrument_starts_afresh() -> None:
    before = [reference(i, 250.0, 250.0 + 0.5 * (-1) ** i) for i in range(8)]
    after = [reference(10 + i, 250.0, 240.0 + 0.5 * (-1) ** i, 40) for i in range(2)]
    first, second = calibrate([*before, *after])
    assert first.drift is None
    assert second.drift is not None
    assert second.drift.found
    assert second.drift.shift == pytest.approx(-10.0, abs=0.5)
    assert float(second.true_of(240.0, 1.0)[0]) == pytest.approx(250.0, abs=0.6)


def test_one_check_reading_does_not_undo_a_careful_calibration() -> None:
    careful = [reference(i, t, 1.0 + 0.97 * t, reference=f"R{t:g}") for i, t in enumerate([160.0, 250.0, 420.0] * 4)]
    check = reference(50, 250.0, 243.0, 30, reference="R250")
    first, second = calibrate([*careful, check])
    alone = only([check])
    far = (1.0 + 0.97 * 420.0, 1.0)
    assert float(second.true_of(*far)[2]) < 0.75 * float(alone.true_of(*far)[2])
    assert float(second.true_of(*far)[0]) == pytest.approx(420.0, abs=2.0)
    assert second.count == 1
    # what came later does not change what was worked out before
    assert first.scale == only(careful).scale


@given(
    st.sampled_from(sorted(TYPICAL)),
    st.floats(0.5, 1.8),
    st.floats(-2.5, 2.5),
    st.floats(-2.5, 2.5),
)
def test_one_reading_gives_a_sensible_instrument(quantity: str, part: float, offset: float, scale: float) -> None:
    usual, true = USUAL[quantity], part * TYPICAL[quantity]
    value = offset * usual.offset_sd + (1.0 + scale * usual.scale_sd) * true
    found = only([reference(0, true, value, quantity=quantity)])
    assert abs(found.offset) <= 4.0 * usual.offset_sd
    assert abs(found.scale - 1.0) <= 4.0 * usual.scale_sd
    at, own, common = found.true_of(value, np.nan)
    sd = np.hypot(own, common)
    assert abs(float(at) - true) <= abs(value - true) + 1e-9
    assert usual.noise_at(true) < float(sd) < 4.0 * usual.noise_at(true) + usual.offset_sd
    # the one that instruments differ by more takes most of it
    by_scale, by_offset = (found.scale - 1.0) * true, found.offset
    if usual.scale_sd * true > 2.0 * usual.offset_sd:
        assert abs(by_scale) >= abs(by_offset)
    if usual.offset_sd > 2.0 * usual.scale_sd * true:
        assert abs(by_offset) >= abs(by_scale)


def test_impossible_readings_are_not_used_and_asked_about() -> None:
    good = [reference(i, 250.0, 247.0) for i in range(3)]
    found = calibrate([*good, reference(9, 250.0, 75.0)])
    assert [c.count for c in found] == [3]
    doubt = found.doubts[0]
    assert not doubt.used
    assert "read 75 cpm on 2026-03-02 on reference 'piece A', which is 250 cpm" in doubt.message
    assert doubt.message.endswith("?")


def test_references_that_imply_an_impossible_scale_are_named_and_give_none() -> None:
    found = calibrate([reference(0, 250.0, 250.0), reference(1, 270.0, 256.0, reference="piece B")])
    assert not found
    assert corrected(bench(251.0), found) is None
    doubt = found.doubts[0]
    assert "'piece A' (250 cpm)" in doubt.message
    assert "'piece B' (270 cpm)" in doubt.message
    assert "scale of 0.30" in doubt.message
    assert "?" in doubt.message


def test_an_outlier_is_named_and_counts() -> None:
    readings = [reference(i, 250.0, 248.0 + 0.4 * (-1) ** i) for i in range(9)]
    found = calibrate([*readings, reference(20, 250.0, 258.0)])
    assert [(d.used, "258 cpm" in d.message) for d in found.doubts] == [(True, True)]
    assert [c.count for c in found] == [10]
    assert calibrate(readings).doubts == ()


def test_which_calibration_holds() -> None:
    found = calibrate(
        [reference(i, 250.0, 250.0 - i, days) for i, days in enumerate([0, PERIOD_DAYS - 1, PERIOD_DAYS, 60])]
    )
    assert [(c.first_day, c.count) for c in found] == [
        (DAY, 2),
        (DAY + dt.timedelta(days=PERIOD_DAYS), 1),
        (DAY + dt.timedelta(days=60), 1),
    ]
    for days, first in ((0, 0), (PERIOD_DAYS - 1, 0), (PERIOD_DAYS, PERIOD_DAYS), (59, PERIOD_DAYS), (900, 60)):
        taken = corrected(bench(250.0, days), found)
        assert taken is not None
        assert taken.calibration.first_day == DAY + dt.timedelta(days=first)
        assert taken.note == ""
    early = corrected(bench(250.0, -1), found)
    assert early is not None
    assert early.calibration.first_day == DAY
    assert "before the first calibration" in early.note
    undated = corrected(bench(250.0, taken_on=None), found)
    assert undated is not None
    assert undated.calibration.first_day == DAY + dt.timedelta(days=60)
    assert "day is unknown" in undated.note


def test_what_is_corrected() -> None:
    found = calibrate([reference(i, 250.0, 246.0) for i in range(4)])
    taken = corrected(bench(246.0, instrument=" Meter  1"), found)
    assert taken is not None
    assert taken.read == 246.0
    assert taken.value == pytest.approx(250.0, abs=0.5)
    for other in ({"instrument": "meter 2"}, {"instrument": None}, {"sample": "published"}, {"quantity": "ei"}):
        assert corrected(bench(246.0, **other), found) is None


def test_the_doubt_of_the_calibration_is_in_the_corrected_reading() -> None:
    one = calibrate([reference(0, 250.0, 246.0, true_sd=0.0)])
    many = calibrate([reference(i, 250.0, 246.0, true_sd=0.0) for i in range(40)])
    unsure = calibrate([reference(i, 250.0, 246.0, true_sd=3.0) for i in range(40)])
    sd = [taken.sd for c in (one, many, unsure) if (taken := corrected(bench(246.0, sd=1.0), c)) is not None]
    assert sd[1] < sd[0]
    assert sd[1] == pytest.approx(1.0, rel=0.05)
    assert sd[2] == pytest.approx(np.hypot(1.0, 3.0), rel=0.10)
    far = corrected(bench(600.0, sd=1.0), many)
    assert far is not None
    assert far.sd > 2.0 * sd[1]  # the reference tells little so far away
