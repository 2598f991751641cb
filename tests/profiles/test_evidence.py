"""Readings that no shaft can give are refused with the reason; the rest enter as they are."""

from __future__ import annotations

import math
from typing import Any

import pytest

from specdb.errors import MissingDataError
from specdb.profiles.estimate import estimate
from specdb.profiles.evidence import make_case
from specdb.profiles.population import builtin
from specdb.profiles.readings import Kind
from specdb.records.rows import Shaft, ShaftReading

SHAFT = Shaft(id="invented", club_type="wood", material="graphite", raw_length_in=46.0, weight_g=62.0)


def row(quantity: str, value: float, **more: Any) -> ShaftReading:
    return ShaftReading(**({"id": "r1", "shaft_id": "invented", "sample": "A"} | more), quantity=quantity, value=value)


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (row("ei", 40.0, position_in=47.0), "past the butt"),
        (row("ei", 40.0, position_in=20.0, span_in=50.0), "longer than the shaft"),
        (row("ei", 40.0, position_in=3.0, span_in=12.0), "beyond the tip"),
        (row("ei", 40.0, position_in=44.0, span_in=12.0), "beyond the butt"),
        (row("ei", -3.0, position_in=20.0), "no positive number"),
        (row("ei", 40.0), "place along the shaft"),
        (row("frequency", 2500.0, free_length_in=41.0, tip_mass_g=200.0), "no golf shaft"),
        (row("frequency", 6.0, free_length_in=41.0, tip_mass_g=200.0), "no golf shaft"),
        (row("frequency", 0.0, free_length_in=41.0, tip_mass_g=200.0), "no positive number"),
        (row("frequency", math.nan, free_length_in=41.0, tip_mass_g=200.0), "no positive number"),
        (row("frequency", 255.0, free_length_in=47.0, tip_mass_g=200.0), "free length"),
        (row("frequency", 255.0, tip_mass_g=200.0), "free length is not said"),
        (row("frequency", 255.0, free_length_in=41.0), "tip mass"),
        (row("deflection", 0.5, free_length_in=41.0, load_n=20.0), "no golf shaft"),
        (row("deflection", 80.0, free_length_in=41.0), "load"),
        (row("balance", 50.0), "past the butt"),
    ],
)
def test_impossible_readings_are_refused(reading: ShaftReading, words: str) -> None:
    case = make_case(SHAFT, [reading])
    assert not any(r.piece == "A" for r in case.readings)
    (refused,) = case.refused
    assert words in refused.reason
    assert refused.reading_id == "r1"
    assert estimate(case, builtin()).refused == (refused,)


def test_frequency_that_rises_with_the_free_length_is_refused() -> None:
    """A longer cantilever is a softer one whatever its stiffness: Rayleigh's principle."""
    long = row("frequency", 300.0, free_length_in=41.0, tip_mass_g=200.0)
    short = row("frequency", 280.0, free_length_in=36.0, tip_mass_g=200.0)
    case = make_case(SHAFT, [long, short])
    assert len(case.refused) == 2
    assert all("no positive stiffness" in r.reason for r in case.refused)
    # the same on two pieces is no contradiction
    other = row("frequency", 280.0, free_length_in=36.0, tip_mass_g=200.0, sample="B")
    assert not make_case(SHAFT, [long, other]).refused


def test_nothing_is_estimated_without_a_raw_length() -> None:
    with pytest.raises(MissingDataError, match="raw length"):
        make_case(Shaft(id="x", club_type="wood"), [])


def test_what_was_assumed_is_said() -> None:
    case = make_case(Shaft(id="x", club_type="iron", raw_length_in=40.0, torque_deg=2.0, tip_ei_n_m2=30.0))
    said = " ".join(case.assumed)
    assert "material unknown: steel" in said
    assert "torque gauge length" in said
    assert "place of the tip stiffness figure" in said


def test_sd_of_a_reading_is_its_own_where_given() -> None:
    usual, own = (
        make_case(SHAFT, [row("frequency", 255.0, free_length_in=41.0, tip_mass_g=200.0, sd=sd)]) for sd in (None, 4.0)
    )
    sds = [next(r.sd for r in case.readings if r.kind == Kind.FREQUENCY) * 60.0 for case in (usual, own)]
    assert sds == pytest.approx([1.0, 4.0], rel=0.02)
