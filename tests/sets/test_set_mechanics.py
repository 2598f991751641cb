"""A whole set in numbers, against the rules of thumb of the trade."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from specdb.errors import BuildError, UsageError
from specdb.mechanics.assembly import assemble
from specdb.mechanics.club import installed
from specdb.mechanics.constants import IN
from specdb.records.rows import AdapterSetting
from specdb.sets import SetMember, set_numbers
from specdb.sets.members import in_order, progression
from tests.support.random_sets import NUMBERS, iron_head, length_in, member, set_shafts

SHAFTS, READINGS = set_shafts(60, seed=3)
IRONS = [r for r in SHAFTS.to_pylist() if r["club_type"] == "iron"]
OWN = READINGS.to_pylist()


def fitted(shaft: dict[str, Any] | None = None, step: float = 0.5, first: float = 0.0) -> list[SetMember]:
    return [member(n, shaft or IRONS[0], OWN, first + step * n) for n in range(len(NUMBERS))]


@pytest.mark.parametrize("row", range(0, len(IRONS), 2))
def test_parallel_set_has_the_usual_slope(row: int) -> None:
    # common practice, no source: about 4 cpm a half inch with heads seven grams heavier a club and tips trimmed half an
    # inch more a club; a rule of thumb is held to 35 % of its figure
    found = set_numbers("irons", fitted(IRONS[row]))
    assert found.line is not None
    assert found.line.slope == pytest.approx(4.0, rel=0.35)


def test_without_rising_trim_the_slope_is_flatter() -> None:
    rising, level = set_numbers("a", fitted()), set_numbers("b", fitted(step=0.0))
    assert rising.line is not None
    assert level.line is not None
    # common practice, no source: an inch of tip trim is worth 3 to 7 cpm, so half an inch 1.5 to 3.5
    assert 1.0 < rising.line.slope - level.line.slope < 3.5


def test_each_club_is_as_computed_alone() -> None:
    members = fitted()
    found = set_numbers("irons", list(reversed(members)))
    assert [c.club_id for c in found.clubs] == [m.club_id for m in members]
    for row, one in zip(found.clubs, members, strict=True):
        club = assemble(one.parts)
        state = installed([club.model], [club.tip_trim_in * IN], club.build)
        assert row.frequency_cpm == pytest.approx(float(state.frequency_cpm[0]), rel=1e-12)
        assert row.moi_kg_cm2 == pytest.approx(float(state.moi_butt_kg_cm2[0]), rel=1e-12)
        assert row.head_weight_g == pytest.approx((one.parts.head.weight_g or 0) + float(state.head_add_g[0]))


def test_progressions_and_gaps() -> None:
    found = set_numbers("irons", fitted())
    assert found.matched_by == "swingweight"
    assert found.swing_points_a_club == pytest.approx(0.0, abs=1e-6)
    assert found.head_a_club_g == pytest.approx(7.0, rel=0.35)  # common practice, no source
    assert [c.loft_gap_deg for c in found.clubs] == [None] + 6 * [pytest.approx(4.0)]
    assert [c.lie_gap_deg for c in found.clubs] == [None] + 6 * [pytest.approx(0.5)]
    assert found.stands_out == ()


def test_gaps_are_for_one_club_where_numbers_are_left_out() -> None:
    some = [m for m in fitted() if m.number in ("4", "6", "9", "PW")]
    found = set_numbers("irons", some)
    assert [c.step for c in found.clubs] == [0, 2, 5, 6]
    assert [c.loft_gap_deg for c in found.clubs[1:]] == pytest.approx([4.0, 4.0, 4.0])
    assert any("5, 7, 8" in note for note in found.notes)


def test_moi_matched_set_is_called_so() -> None:
    def adding(grams: list[float]) -> list[SetMember]:
        return [
            replace(m, parts=replace(m.parts, swingweight=None, head_add_g=g))
            for m, g in zip(fitted(), grams, strict=True)
        ]

    bare = np.array([c.moi_kg_cm2 for c in set_numbers("x", adding([0.0] * 7)).clubs])
    ten = np.array([c.moi_kg_cm2 for c in set_numbers("x", adding([10.0] * 7)).clubs])
    grams = (bare.max() - bare) / (ten - bare) * 10.0  # MOI grows in proportion to what is added at one place
    found = set_numbers("z", adding(grams.tolist()))
    assert found.moi_spread_kg_cm2 == pytest.approx(0.0, abs=0.5)
    assert found.matched_by == "MOI"
    # common practice, no source: matched by MOI, the short clubs of a set swing heavier than the long ones
    assert found.swing_points_a_club > 0.1


def _changed(members: list[SetMember], at: int, **changes: Any) -> list[SetMember]:
    one = members[at]
    return [*members[:at], replace(one, parts=replace(one.parts, **changes)), *members[at + 1 :]]


@pytest.mark.parametrize(
    ("at", "changes", "words"),
    [
        (3, {"tip_trim_in": 4.5}, "club-7 lies"),
        (3, {"swingweight": "D5"}, "club-7 swings 3.0 points heavier"),
        (3, {"head": iron_head(3, loft_deg=36.5)}, "loft club-6 to club-7: +6.5° a club, the others +4.0°"),
        (3, {"head": iron_head(3, lie_deg=61.5)}, "lie club-6 to club-7: -0.50° a club"),
        (3, {"head": iron_head(3, weight_g=260.0), "swingweight": None}, "lighter than that of the longer club-6"),
        (6, {"playing_length_in": length_in(5)}, "is as long as"),
    ],
)
def test_what_stands_out_is_said(at: int, changes: dict[str, Any], words: str) -> None:
    found = set_numbers("irons", _changed(fitted(), at, **changes))
    assert any(words in text for text in found.stands_out), found.stands_out


def test_flat_slope_is_said() -> None:
    lengths = [replace(m, parts=replace(m.parts, head=iron_head(0), swingweight=None)) for m in fitted(step=0.0)]
    steep = set_numbers("irons", lengths)
    assert steep.line is not None
    assert steep.line.slope > 5.4
    assert any("steeper than the usual 2.6 to 5.4" in text for text in steep.stands_out)


def test_one_length_set_has_no_slope() -> None:
    members = [replace(m, parts=replace(m.parts, playing_length_in=37.0)) for m in fitted(step=0.0)]
    found = set_numbers("irons", members)
    assert found.line is None
    assert found.to_json()["slope_cpm_per_half_in"] is None
    assert any("one length" in text for text in found.stands_out)


def test_measured_frequencies_have_their_own_slope() -> None:
    members = [replace(m, measured_cpm=290.0 + 4.5 * n) for n, m in enumerate(fitted())]
    found = set_numbers("irons", members)
    assert found.measured_line is not None
    assert found.measured_line.slope == pytest.approx(4.5)
    assert set_numbers("irons", [*members[:-1], fitted()[-1]]).measured_line is None


def test_adapter_setting_counts_in_loft_and_lie() -> None:
    setting = AdapterSetting(adapter_id="a", setting="up", loft_change_deg=1.0, lie_change_deg=0.5)
    members = [replace(m, setting="up", settings=(setting,)) for m in fitted()]
    found = set_numbers("irons", members)
    assert found.clubs[0].loft_deg == pytest.approx(23.0)
    assert found.clubs[0].lie_deg == pytest.approx(61.5)
    # what was fitted wins over what is worked out
    recorded = set_numbers("irons", [replace(members[0], loft_deg=24.5), *members[1:]])
    assert recorded.clubs[0].loft_deg == pytest.approx(24.5)


def test_one_club_is_no_set() -> None:
    with pytest.raises(UsageError, match=r"set irons has one club only, club-4, .*'specdb substitutes --club club-4'"):
        set_numbers("irons", fitted()[:1])
    with pytest.raises(UsageError, match="no club"):
        set_numbers("irons", [])


def test_club_that_cannot_be_cut_to_length_is_named() -> None:
    short = {**IRONS[0], "raw_length_in": 36.0}
    members = [*fitted()[:5], member(5, short, OWN, 2.5), member(6, short, OWN, 3.0)]
    with pytest.raises(BuildError) as caught:
        set_numbers("irons", members)
    text = str(caught.value)
    assert text.startswith("set irons cannot be worked out: club club-9: shaft")
    assert "too short by" in text
    assert "club club-pw" in text


def test_head_without_weight_is_named() -> None:
    members = _changed(fitted(), 2, head=iron_head(2, weight_g=None))
    with pytest.raises(BuildError, match=r"club club-6: the weight of head head-6 is unknown"):
        set_numbers("irons", members)


def test_clubs_are_counted_by_length_where_numbers_do_not_rise() -> None:
    members = _changed(fitted(), 2, head=iron_head(2, number="4"))
    counted = progression(in_order(members))
    assert counted.steps == tuple(range(7))
    assert "order of length" in counted.said
    numbered = progression(in_order(fitted()))
    assert numbered.places == (4, 5, 6, 7, 8, 9, 10)
    assert np.array_equal(numbered.steps, range(7))
