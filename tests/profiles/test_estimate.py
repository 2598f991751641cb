"""Known tubes, outliers, pieces, words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from specdb.errors import NotFoundError, UsageError
from specdb.mechanics.bench import frequency_reading, three_point_ei
from specdb.mechanics.constants import DEG, FT_LB, IN
from specdb.profiles.batches import batch_difference
from specdb.profiles.estimate import estimate, estimate_many
from specdb.profiles.evidence import make_case
from specdb.profiles.population import builtin, learn
from specdb.records.rows import Shaft, ShaftReading
from tests.profiles.figures import cases_of, taught_by
from tests.profiles.truth import as_piece, bendings, deflection, frequencies, reading, tables, true_shafts
from tests.support.shafts import uniform_shaft

# Thin tube, steel 12.0 x 0.6 mm, E = 206 GPa: EI = 72.1098 N·m² [R]; the check is that of M. Brouillette, 'On measuring
# the flexural rigidity distribution of golf shafts', Science and Golf IV, 2002: a tube of known dimensions.
TUBE_EI = 72.1098
TUBE_G_PER_M = 7850.0 * np.pi / 4.0 * (0.012**2 - 0.0108**2) * 1e3


def tube_readings(how: str) -> tuple[Shaft, list[ShaftReading]]:
    raw_in = 40.0
    weight = TUBE_G_PER_M * raw_in * IN
    model = uniform_shaft(TUBE_EI, raw_in, weight / 1e3)
    shaft = Shaft(id="tube", club_type="iron", material="steel", raw_length_in=raw_in, weight_g=weight)
    common: dict[str, Any] = {"shaft_id": "tube", "sample": "A"}
    if how == "bending":
        at = np.linspace(5.0, 35.0, 8)
        value = three_point_ei([model] * 8, at * IN, 8.0 * IN)
        rows = [
            ShaftReading(id=f"{i}", quantity="ei", value=float(v), position_in=float(p), span_in=8.0, **common)
            for i, (p, v) in enumerate(zip(at, value, strict=True))
        ]
    else:
        free = np.linspace(13.0, 36.0, 7)
        value = frequency_reading([model] * 7, free * IN, 0.2)
        rows = [
            ShaftReading(
                id=f"{i}", quantity="frequency", value=float(v), free_length_in=float(p), tip_mass_g=200.0, **common
            )
            for i, (p, v) in enumerate(zip(free, value, strict=True))
        ]
    return shaft, rows


@pytest.mark.parametrize("how", ["bending", "frequency"])
def test_a_known_tube_is_recovered(how: str) -> None:
    """Uniform EI, very unlike a golf shaft at its tip: the readings must win over what shafts are usually like."""
    found = estimate(make_case(*tube_readings(how)), builtin())
    place = np.linspace(6.0, 34.0, 57) * IN
    ei, sd = found.band(place, "A")
    # readings of two per cent, one cpm
    assert ei == pytest.approx(TUBE_EI, rel=0.04)
    assert float(np.sqrt(np.mean((ei / TUBE_EI - 1.0) ** 2))) < 0.015
    assert (np.abs(np.log(ei / TUBE_EI)) < 2.5 * sd).all()


def test_torque_of_a_tube_gives_its_shear_stiffness() -> None:
    """GJ/EI = 1/(1 + ν) = 0.77 of an isotropic tube: Timoshenko & Gere, *Mechanics of Materials*."""
    shaft, rows = tube_readings("bending")
    twist = 38.0 * IN / (TUBE_EI / 1.3)
    found = estimate(make_case(replace(shaft, torque_deg=twist * FT_LB / DEG), rows), builtin())
    assert found.twist_rad_per_nm == pytest.approx(twist, rel=0.02)


# --- outliers ----------------------------------------------------------------------------------------------


def test_a_wrong_reading_is_named_and_kept() -> None:
    truth = true_shafts(1, 51)[0]
    rows = frequencies([truth], np.random.default_rng(1), 0.003)[0]
    clean = estimate(make_case(truth.shaft, rows), builtin())
    assert not clean.outliers
    wrong = [replace(rows[3], value=rows[3].value * 1.05), *rows[:3], *rows[4:]]
    found = estimate(make_case(truth.shaft, wrong), builtin())
    assert f"{rows[3].free_length_in:g} in" in max(found.outliers, key=lambda e: abs(e.off)).name
    assert len(found.evidence) == len(clean.evidence)


def test_residuals_are_in_the_units_of_the_readings() -> None:
    truth = true_shafts(1, 52)[0]
    rows = [
        *frequencies([truth], np.random.default_rng(1))[0],
        deflection(truth, 40.0, 20.0),
        reading(truth, "balance", 24.0),
    ]
    found = estimate(make_case(truth.shaft, rows), builtin())
    by_unit = {e.unit: e for e in found.evidence}
    for row, unit in ((rows[-3], "cpm"), (rows[-2], "mm")):
        assert by_unit[unit].value == pytest.approx(row.value, rel=1e-9)
    weight = next(e for e in found.evidence if e.name == "published weight")
    assert weight.value == pytest.approx(truth.shaft.weight_g)
    assert weight.unit == "g"
    balance = next(e for e in found.evidence if e.name.startswith("balance"))
    assert balance.value == pytest.approx(24.0)
    assert balance.unit == "in"
    for e in found.evidence:
        assert e.model == pytest.approx(e.value, abs=6.0 * e.sd)
        # the fit follows a reading, so that it is at least as many sd off as its residual
        assert abs(e.off) >= abs(e.value - e.model) / e.sd * 0.95


# --- pieces ------------------------------------------------------------------------------------------------


def pieces(levels: dict[str, float], noise: float = 0.002, seed: int = 53) -> tuple[Shaft, list[ShaftReading]]:
    truth = true_shafts(1, seed)[0]
    rng = np.random.default_rng(seed)
    rows = []
    for name, level in levels.items():
        rows += [replace(r, sample=name) for r in frequencies([as_piece(truth, level)], rng, noise)[0]]
    return truth.shaft, rows


def test_pieces_and_nominal() -> None:
    levels = {"A": 0.02, "B": -0.02, "C": 0.0}
    shaft, rows = pieces(levels)
    found = estimate(make_case(shaft, rows), builtin())
    assert [p.name for p in found.pieces] == ["A", "B", "C"]
    a, b, _ = found.pieces
    assert a.level - b.level == pytest.approx(0.04, abs=0.01)
    assert 0.010 < found.piece_sd < 0.022
    # the nominal is known worse than a piece that was measured
    place = np.linspace(8.0, 38.0, 30) * IN
    assert (found.band(place)[1] > found.band(place, "A")[1]).all()
    # another piece is known worse still
    assert np.diag(found.model().log_ei_cov).min() > np.diag(found.log_ei_cov).min()
    with pytest.raises(NotFoundError):
        found.model("D")


def test_more_pieces_tell_the_nominal_better() -> None:
    one = estimate(make_case(*pieces({"A": 0.0})), builtin())
    four = estimate(make_case(*pieces(dict.fromkeys("ABCD", 0.0))), builtin())
    middle = 8
    assert np.sqrt(four.log_ei_cov[middle, middle]) < 0.8 * np.sqrt(one.log_ei_cov[middle, middle])


def test_a_soft_delivery_shows_up() -> None:
    """Two per cent of frequency is four of stiffness, EI ∝ f²; six pieces scatter by far less in their mean."""
    rng = np.random.default_rng(54)
    old = {f"old{i}": float(rng.normal(0.0, 0.01)) for i in range(3)}
    new = {f"new{i}": float(rng.normal(-0.06, 0.01)) for i in range(3)}
    shaft, rows = pieces(old | new)
    found = batch_difference(make_case(shaft, rows), list(new), builtin())
    assert found.stiffer == pytest.approx(-0.06, abs=3.0 * found.stiffer_sd)
    assert found.chance < 0.001
    with pytest.raises(NotFoundError):
        batch_difference(make_case(shaft, rows), ["nobody"], builtin())
    with pytest.raises(UsageError):
        batch_difference(make_case(shaft, rows), [], builtin())


def test_equal_deliveries_are_not_called_different() -> None:
    """Under no difference the deviate is standard normal: about one in twenty beyond 1.96."""
    off = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        levels = {name: float(rng.normal(0.0, 0.015)) for name in ("a", "b", "c", "d")}
        shaft, rows = pieces(levels, 0.004, seed)
        off.append(batch_difference(make_case(shaft, rows), ["c", "d"], builtin()).off)
    assert float(np.std(off)) == pytest.approx(1.0, abs=0.25)
    assert abs(float(np.mean(off))) < 0.4


# --- population and words ----------------------------------------------------------------------------------


def test_population_survives_storing() -> None:
    kept = taught_by(("plies",), 20, 61)
    again = type(kept).from_arrays({k: np.array(v) for k, v in kept.to_arrays().items()})
    truth = true_shafts(1, 62)[0]
    case = make_case(truth.shaft, frequencies([truth], np.random.default_rng(1))[0])
    assert estimate(case, again).ei == pytest.approx(estimate(case, kept).ei, rel=1e-12)
    assert (again.teachers, again.made_on, again.recipe, again.makers) == (20, "2026-01-01", kept.recipe, kept.makers)


def test_learning_helps_and_says_how_much() -> None:
    few, many = taught_by(("plies",), 12, 63), taught_by(("plies",), 150, 64)
    assert many.teachers == 150
    truths = true_shafts(80, 65)
    true = np.array([[t.model.ei(s * t.model.raw_length_m) for s in (0.1, 0.5, 0.9)] for t in truths])

    def rms(population: object) -> float:
        found = estimate_many(cases_of(truths, [[] for _ in truths]), population)  # type: ignore[arg-type]
        guess = np.array([e.band(np.array([0.1, 0.5, 0.9]) * e.raw_m)[0] for e in found])
        return float(np.sqrt((np.log(guess / true) ** 2).mean()))

    assert rms(many) < rms(builtin())
    assert rms(many) <= rms(few) * 1.02
    # what cross-validation promised is what happens to shafts it never saw
    assert float(np.sqrt((many.error**2).mean())) == pytest.approx(rms(many), rel=0.25)


def test_nobody_teaches() -> None:
    assert learn([], "today").teachers == 0
    assert learn([], "today").mean == pytest.approx(builtin().mean)


def test_kick_word_is_learned_and_weak() -> None:
    rng = np.random.default_rng(66)
    truths = true_shafts(150, 66)
    contrast = np.array(
        [np.log(t.model.ei(0.85 * t.model.raw_length_m) / t.model.ei(0.1 * t.model.raw_length_m)) for t in truths]
    )
    noisy = (contrast - contrast.mean()) / contrast.std() + rng.normal(0.0, 0.6, contrast.size)
    words = np.array(["high", "mid-high", "mid", "mid-low", "low"])[np.digitize(noisy, [-1.2, -0.4, 0.4, 1.2])]
    labelled = [replace(t, shaft=replace(t.shaft, kick_label=str(w))) for t, w in zip(truths, words, strict=True)]
    taught = learn(cases_of(labelled, tables(labelled, rng)))
    assert taught.rule.kick_seen == 150
    assert taught.rule.kick_slope > 0.05

    def ratio(word: str | None) -> tuple[float, float]:
        found = estimate(make_case(replace(truths[0].shaft, id="new", kick_label=word)), taught)
        row = np.zeros(found.ei.size)
        row[-3:], row[:3] = 1 / 3, -1 / 3
        return float(row @ np.log(found.ei)), float(np.sqrt(row @ found.log_ei_cov @ row))

    (low, low_sd), (high, _), (_, unsaid_sd) = ratio("low"), ratio("high"), ratio(None)
    assert low > high  # a low kick point goes with a tip soft for its butt
    assert 0.4 * unsaid_sd < low_sd < unsaid_sd


def test_flex_letter_counts_within_its_family_only() -> None:
    """About ten cpm a flex step is eight per cent of stiffness [CP]."""
    truth = true_shafts(1, 67)[0]
    rng = np.random.default_rng(67)
    family = {"R": -0.08, "S": 0.0, "X": 0.08}
    shafts = [
        replace(as_piece(truth, level), shaft=replace(truth.shaft, id=f"invented-{letter}", model="one", flex=letter))
        for letter, level in family.items()
    ]
    others = true_shafts(30, 68)
    population = learn([*cases_of(shafts, tables(shafts, rng)), *cases_of(others, tables(others, rng))])

    def level(letter: str, model: str = "one") -> tuple[float, float]:
        case = make_case(replace(truth.shaft, id="new", model=model, flex=letter))
        found = estimate(case, population)
        row = np.full(found.ei.size, 1.0 / found.ei.size)
        return float(row @ np.log(found.ei)), float(np.sqrt(row @ found.log_ei_cov @ row))

    soft, stiff, stranger = level("R"), level("X"), level("X", "another")
    assert 0.03 < stiff[0] - soft[0] < 0.25
    assert stiff[1] < stranger[1]
    assert level("R", "another")[0] == pytest.approx(stranger[0], abs=1e-9)


def test_bending_and_frequency_agree() -> None:
    truths = true_shafts(20, 69)
    rng = np.random.default_rng(69)
    both = [a + b for a, b in zip(frequencies(truths, rng), bendings(truths, rng), strict=True)]
    found = estimate_many(cases_of(truths, both), builtin())
    flagged = sum(len(e.outliers) for e in found)
    # 15 readings each; three standard deviations leave 0.3 %
    assert flagged <= 4
