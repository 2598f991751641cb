"""A difference is said only as surely as it is known."""

from __future__ import annotations

from specdb.matching.weighting import COMPARED
from specdb.matching.words import summarise

NAMES = [f.name for f in COMPARED]


def _units(**named: float) -> list[float]:
    assert set(named) <= set(NAMES)
    return [named.get(name, 0.0) for name in NAMES]


def test_alike_and_well_known_is_alike() -> None:
    said = summarise(_units(), _units(), [0.5] * len(NAMES))
    assert said.endswith("expect no difference to notice")


def test_alike_but_hardly_known_promises_nothing() -> None:
    said = summarise(_units(), _units(), _units(frequency_cpm=10.0))
    assert "expect" not in said
    assert "known only roughly" in said


def test_a_difference_that_drowns_in_its_uncertainty_leads_to_no_flight() -> None:
    units = _units(tip_ei=-1.0, frequency_cpm=-1.0)
    assert "more height" in summarise(units, units, [0.5] * len(NAMES))
    said = summarise(units, units, _units(tip_ei=4.0, frequency_cpm=10.0))
    assert "tip noticeably softer" in said
    assert "height" not in said
    assert "known only roughly" in said


def test_a_great_difference_counts_though_it_is_known_roughly() -> None:
    units = _units(tip_ei=-6.0)
    said = summarise(units, units, _units(tip_ei=3.0))
    assert "more height" in said
    assert "known only roughly" in said
