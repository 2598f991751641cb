"""What a result's uncertainty is made of, and what one reading would take away, held against doing it.

The promise is checked by conditioning the shaft's covariance on the reading (the textbook formula for normal variables,
e.g. Bishop, *Pattern Recognition and Machine Learning*, section 2.3) and computing the club again from scratch.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from specdb.matching.doubt import FITTED, STAND_IN, DoubtOf
from specdb.mechanics.build import Build
from specdb.mechanics.club import installed
from specdb.mechanics.profile import ShaftModel
from specdb.profiles.planned import sensitivities

IN = 0.0254
BUILD = Build(
    cut_length_m=44.0 * IN,
    insertion_m=1.2 * IN,
    clamp_m=5.0 * IN,
    head_kg=0.2,
    head_cg_m=0.02,
    mouth_kg=0.004,
    grip_kg=0.05,
    grip_balance_m=0.11,
    grip_cap_m=0.004,
    target_moment_kg_m=0.155,
)
SCALE = 1.0 / np.array([2.5, 1.2, 2.2, 3.2, 0.3, 4.0, 0.4, 0.75, 5.0, 12.0]) ** 2


def shaft(common: float, own: float) -> ShaftModel:
    place = np.linspace(0.05, 1.1, 12)
    return ShaftModel(
        raw_length_m=46.0 * IN,
        station_m=place,
        ei_n_m2=22.0 + 45.0 * place,
        log_ei_cov=np.full((12, 12), common**2) + np.eye(12) * own**2,
        mass_kg=0.06,
        mass_sd_kg=0.001,
        balance_from_tip_m=0.6,
        balance_sd_m=0.004,
        twist_rad_per_nm=0.05,
        twist_sd=0.003,
        twist_from_m=0.02,
        twist_to_m=1.14,
    )


def squared(model: ShaftModel) -> float:
    sd = installed([model], 0.0, BUILD).sd_shaft[0]
    return float(SCALE @ sd**2)


def test_parts_add_up_and_are_what_each_source_alone_gives() -> None:
    fitted, stand_in = shaft(0.02, 0.02), shaft(0.08, 0.03)
    doubt = DoubtOf(fitted, 0.0, BUILD).of([stand_in], np.zeros(1), [BUILD], [SCALE])[0]
    assert sum(doubt.parts.values()) == pytest.approx(1.0)
    total = squared(fitted) + squared(stand_in)
    only_torque = replace(stand_in, log_ei_cov=np.zeros((12, 12)), mass_sd_kg=0.0, balance_sd_m=0.0)
    assert doubt.parts[STAND_IN, "torque"] == pytest.approx(squared(only_torque) / total)
    only_weight = replace(stand_in, log_ei_cov=np.zeros((12, 12)), twist_sd=0.0)
    assert doubt.parts[STAND_IN, "weight_and_balance"] == pytest.approx(squared(only_weight) / total)
    only_ei = replace(fitted, mass_sd_kg=0.0, balance_sd_m=0.0, twist_sd=0.0)
    assert doubt.parts[FITTED, "stiffness"] == pytest.approx(squared(only_ei) / total)


def test_the_proposed_reading_takes_away_what_is_promised() -> None:
    fitted, stand_in = shaft(0.02, 0.02), shaft(0.08, 0.03)
    doubt = DoubtOf(fitted, 0.0, BUILD).of([stand_in], np.zeros(1), [BUILD], [SCALE])[0]
    most = doubt.settling
    assert most is not None
    assert most.of == STAND_IN  # the one that is known worse
    reading = sensitivities([stand_in])[0]
    row = reading.planned.index(most.planned)
    h = reading.by_log_ei[row]
    assert np.abs(h).sum() > 0
    # joint covariance of ln EI, mass and balance given the reading; what links them is left out on purpose
    full = np.zeros((14, 14))
    full[:12, :12] = stand_in.log_ei_cov
    full[12, 12], full[13, 13] = stand_in.mass_sd_kg**2, stand_in.balance_sd_m**2
    whole = np.concatenate([h, reading.by_inputs[row, :2]])
    seen = full @ whole
    after = full - np.outer(seen, seen) / (whole @ seen + reading.noise[row])
    learned = replace(stand_in, log_ei_cov=0.5 * (after[:12, :12] + after[:12, :12].T))
    promised = most.doubt_left**2
    got = (squared(learned) + squared(fitted)) / (squared(stand_in) + squared(fitted))
    assert got == pytest.approx(promised, rel=0.02)
    assert promised < 0.6  # a shaft off by 8 % as a whole: one reading settles most of it


def test_where_torque_is_all_the_doubt_torque_is_what_to_measure() -> None:
    sure = replace(shaft(0.0, 1e-4), mass_sd_kg=1e-6, balance_sd_m=1e-6, twist_sd=1e-6)
    doubt = DoubtOf(sure, 0.0, BUILD).of([replace(sure, twist_sd=0.01)], np.zeros(1), [BUILD], [SCALE])[0]
    assert doubt.settling is not None
    assert (doubt.settling.planned.quantity, doubt.settling.of) == ("torque", STAND_IN)
    assert "torque on the piece of x to be built" in doubt.settling.sentence("x")


def test_nothing_is_proposed_where_nothing_helps() -> None:
    fitted = replace(shaft(0.05, 0.05), twist_sd=0.02)
    sure = replace(shaft(0.0, 1e-5), mass_sd_kg=1e-7, balance_sd_m=1e-7, twist_sd=1e-7)
    # only features that no single reading tells apart from its own noise
    scale = np.zeros(10)
    doubt = DoubtOf(sure, 0.0, BUILD).of([sure], np.zeros(1), [BUILD], [scale])[0]
    assert doubt.parts == {}
    assert doubt.settling is None
    measured = DoubtOf(fitted, 0.0, BUILD).of([sure], np.zeros(1), [BUILD], [SCALE])[0]
    assert measured.settling is not None
    assert measured.settling.of == FITTED
