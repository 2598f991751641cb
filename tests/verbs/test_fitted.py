"""A fitted club as typed in numbers, against the record, and two clubs held against each other."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.clubs.fitted import compare_clubs, numbers_of, numbers_of_typed
from specdb.verbs.clubs.fitup import fitup_of
from specdb.verbs.clubs.mechanics import mechanics_of
from tests.support.copies import demo_copy


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    path = tmp_path_factory.mktemp("fitted") / "demo.duckdb"
    demo_copy(path)
    return Catalogue(path)


def record(shop: Catalogue, key: str = "ashby-driver") -> dict[str, Any]:
    with shop.read() as reader:
        return asdict(reader.get("club", key))


def test_a_record_as_typed_has_the_numbers_of_the_fitted_club(shop: Catalogue) -> None:
    found = numbers_of_typed(shop, record(shop))
    assert found.values == mechanics_of(shop, ClubRequest(club="ashby-driver")).values
    assert found.missing == ()
    assert found.report is not None
    assert found.report.to_json() == fitup_of(shop, ClubRequest(club="ashby-driver")).to_json()
    assert numbers_of(shop, "ashby-driver").values == found.values


def test_what_is_recorded_is_held_against_what_is_computed(shop: Catalogue) -> None:
    frequency, added = numbers_of(shop, "ashby-driver").recorded
    assert (frequency.name, frequency.recorded, frequency.unit) == ("frequency", 253.0, "cpm")
    # the demonstration's frequencies were made with its own mechanics and a reading error
    assert frequency.sd is not None
    assert abs(frequency.difference) < 3.0 * frequency.sd
    assert (added.recorded, added.unit) == (3.0, "g")


def test_a_frequency_at_another_clamp_is_computed_at_that_clamp(shop: Catalogue) -> None:
    typed = {**record(shop), "frequency_clamp_in": 7.0, "frequency_cpm": 290.0}
    found = numbers_of_typed(shop, typed)
    assert found.values is not None
    assert found.values["clamp_in"] == 7.0
    plain = numbers_of_typed(shop, record(shop)).values
    assert plain is not None
    assert found.values["frequency_cpm"] > plain["frequency_cpm"], "a shorter free length vibrates faster"
    assert found.recorded[0].computed == found.values["frequency_cpm"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"shaft_id": None}, "Name the shaft"),
        ({"head_id": None}, "Name the head"),
        ({"playing_length_in": None}, "Name the playing length"),
        ({"shaft_id": "no-such-shaft"}, "There is no shaft 'no-such-shaft'"),
        ({"adapter_setting": "sideways"}, "sideways"),
        ({"playing_length_in": 55.0}, "too short by"),
    ],
)
def test_what_is_missing_or_wrong_is_a_sentence(shop: Catalogue, changes: dict[str, Any], words: str) -> None:
    found = numbers_of_typed(shop, {**record(shop), **changes})
    assert found.values is None
    assert words in " ".join(found.missing)


def test_a_club_without_a_length_is_judged_for_its_fit_all_the_same(shop: Catalogue) -> None:
    found = numbers_of_typed(shop, {**record(shop), "playing_length_in": None})
    assert found.report is not None
    assert found.report.check("tip_in_bore") is not None


def test_numbers_follow_what_is_typed(shop: Catalogue) -> None:
    known = record(shop)
    base, trimmed, longer = (
        numbers_of_typed(shop, typed).values
        for typed in (known, {**known, "tip_trim_in": 1.5}, {**known, "playing_length_in": 46.0})
    )
    assert base is not None
    assert trimmed is not None
    assert longer is not None
    # trade facts: tipping stiffens and takes off the butt less; a longer club is slower and wants less at the head
    assert trimmed["frequency_cpm"] > base["frequency_cpm"]
    assert trimmed["butt_trim_in"] == pytest.approx(base["butt_trim_in"] - 1.0)
    assert longer["cut_length_in"] == pytest.approx(base["cut_length_in"] + 0.75)
    assert longer["frequency_cpm"] < base["frequency_cpm"]


def test_two_clubs_are_compared_in_units_of_tolerance(shop: Catalogue) -> None:
    pair = compare_clubs(shop, "ashby-driver", "wexcombe-driver")
    frequency = pair.features[0]
    assert pair.one.values is not None
    assert pair.other.values is not None
    difference = pair.other.values["frequency_cpm"] - pair.one.values["frequency_cpm"]
    assert frequency.difference == pytest.approx(difference)
    assert frequency.units_off == pytest.approx(difference / 2.5)  # the default tolerance of a frequency
    tip = next(f for f in pair.features if f.key == "tip_ei_n_m2")
    assert tip.one_unit == pytest.approx(0.05 * pair.one.values["zone_ei_n_m2"]["tip"])
    assert "softer" in pair.summary
    assert [p.shaft_id for p in pair.profiles] == ["hollin-reach-sker-60-s", "hollin-reach-siskin-50-r"]


def test_a_comparison_the_other_way_round_turns_every_sign(shop: Catalogue) -> None:
    there = compare_clubs(shop, "ashby-driver", "wexcombe-driver").features
    back = compare_clubs(shop, "wexcombe-driver", "ashby-driver").features
    for one, other in zip(there, back, strict=True):
        assert one.difference is not None
        assert other.difference is not None
        assert one.difference == pytest.approx(-other.difference)
        assert one.sd == pytest.approx(other.sd)


def test_a_club_is_like_itself(shop: Catalogue) -> None:
    pair = compare_clubs(shop, "ashby-driver", "ashby-driver")
    assert all(f.units_off == 0.0 for f in pair.features)
    assert "expect no difference" in pair.summary or "known only roughly" in pair.summary


def test_profiles_begin_at_the_hosel_and_end_at_the_butt(shop: Catalogue) -> None:
    pair = compare_clubs(shop, "ashby-driver", "tansley-6-iron")
    for numbers, profile in zip((pair.one, pair.other), pair.profiles, strict=True):
        assert numbers.values is not None
        assert profile.from_hosel_in[0] == 0.0
        assert profile.from_hosel_in[-1] == pytest.approx(numbers.values["exposed_length_in"], abs=1e-4)


def test_a_club_that_cannot_be_worked_out_is_said_and_the_other_still_drawn(tmp_path: Path) -> None:
    path = tmp_path / "demo.duckdb"
    demo_copy(path)
    catalogue = Catalogue(path)
    set_fields(catalogue, "head", "castellan-fulmar-455-10.5-lh", ["weight_g="])
    pair = compare_clubs(catalogue, "ashby-driver", "wexcombe-driver")
    assert pair.features == ()
    assert "weight of head" in pair.other.missing[0]
    assert len(pair.profiles) == 1


def test_an_unknown_figure_has_no_units(shop: Catalogue) -> None:
    pair = compare_clubs(shop, "ashby-driver", "quilter-putter")
    for feature in pair.features:
        assert (feature.difference is None) == math.isnan(feature.units_off)


@pytest.mark.parametrize(
    ("label", "told"),
    [("6-iron", True), ("PW", True), ("7 iron", False), ("7i", False), ("the old one", False), (None, False)],
)
def test_a_label_against_the_number_of_the_head_is_told_and_the_club_still_worked_out(
    shop: Catalogue, label: str | None, told: bool
) -> None:
    typed = {**record(shop, "quilter-7-iron"), "label": label}
    with shop.read() as reader:
        assert reader.get("head", typed["head_id"]).number == "7"
    found = numbers_of_typed(shop, typed)
    assert found.values is not None
    assert bool(found.said) is told
    if told:
        assert f"label says {label}, the head is number 7" in found.said[0]
