"""Each check on worked examples; the arithmetic stands beside it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import pytest

from specdb.errors import UsageError
from specdb.fitup import Check, CheckVerdict, FitQuestion, Verdict, check_fit
from specdb.fitup.cautions import BENDING, BOND, DEFER
from specdb.records.rows import AdapterSetting, ShaftReading
from tests.fitup import parts

FITS, WARNING = CheckVerdict.FITS, CheckVerdict.WARNING
NO, UNKNOWN = CheckVerdict.DOES_NOT_FIT, CheckVerdict.UNKNOWN


def checked(name: str, **fields: Any) -> Check:
    found = check_fit(parts.question(**fields)).check(name)
    assert found is not None
    return found


def wood(**fields: Any) -> FitQuestion:
    known: dict[str, Any] = {
        "shaft": parts.shaft(club_type="wood", tip_dia_in=0.335, raw_length_in=46.0),
        "head": parts.wood_head(),
        "adapter": parts.adapter(),
    }
    return FitQuestion(**{**known, **fields})


def test_a_plain_fit() -> None:
    report = check_fit(parts.question())
    assert report.verdict is Verdict.FITS
    assert report.preparation == ()
    assert report.missing == ()
    figures = report.check("tip_in_bore").figures  # type: ignore[union-attr]
    assert figures["clearance_at_mouth_in"] == pytest.approx(0.0035)
    assert figures["clearance_at_bottom_in"] == pytest.approx(0.0035)


def test_short_parallel_section_binds_at_the_mouth_and_says_where_and_by_how_much() -> None:
    # 2.4 in parallel, 2 in trimmed: 0.4 in left of 1.25 in. Clearance 0.3735 - 0.370 = 0.0035 falls by 0.0075 an inch
    # behind that: under 0.001 from 0.4 + 0.0025/0.0075 = 0.73333 in; at the mouth 0.0035 - 0.85*0.0075 = -0.002875
    check = checked("tip_in_bore", shaft=parts.shaft(tip_parallel_in=2.4), tip_trim_in=2.0)
    assert check.verdict is NO
    assert check.figures["parallel_left_in"] == pytest.approx(0.4)
    assert check.figures["binds_from_tip_end_in"] == pytest.approx(0.733333, abs=1e-6)
    assert check.figures["clearance_at_mouth_in"] == pytest.approx(-0.002875)
    assert check.figures["too_tight_by_in"] == pytest.approx(0.003875)
    assert "at the mouth" in check.detail
    assert "0.733 in behind the tip end" in check.detail
    assert "0.517 in below the mouth" in check.detail


def test_too_loose_says_by_how_much() -> None:
    check = checked("tip_in_bore", shaft=parts.shaft(tip_dia_in=0.350))
    assert check.verdict is NO
    assert check.figures["too_loose_by_in"] == pytest.approx(0.3735 - 0.350 - 0.006)
    assert "sleeve" in check.detail


def test_the_adhesives_own_gap_limits_count() -> None:
    wide = parts.adhesive(gap_min_in=0.002, gap_max_in=0.012)
    assert checked("tip_in_bore", shaft=parts.shaft(tip_dia_in=0.363), adhesive=wide).verdict is FITS
    assert checked("tip_in_bore", shaft=parts.shaft(tip_dia_in=0.363)).verdict is NO
    assert checked("tip_in_bore", shaft=parts.shaft(tip_dia_in=0.3720), adhesive=wide).verdict is NO


def test_assumed_growth_is_said() -> None:
    short = parts.shaft(tip_parallel_in=1.0, tip_growth_in_per_in=None)
    assert "0.0075" in checked("tip_in_bore", shaft=short).detail
    assert "assumed" not in checked("tip_in_bore", shaft=parts.shaft(tip_growth_in_per_in=None)).detail
    # 6 in of parallel section: the growth does not enter
    assert "0.0075" not in checked("tip_in_bore", shaft=parts.shaft(tip_growth_in_per_in=None)).detail


def test_readings_win() -> None:
    fat = [
        ShaftReading(
            id=f"r{p}", shaft_id="tallow-parallel", sample="a", quantity="outside_diameter", value=0.3745, position_in=p
        )
        for p in (0.0, 1.5)
    ]
    assert checked("tip_in_bore", readings=tuple(fat)).verdict is NO


@pytest.mark.parametrize(
    ("club_type", "insertion", "verdict"),
    [("iron", 1.10, FITS), ("iron", 1.09, NO), ("wedge", 1.09, NO), ("wood", 1.00, FITS), ("hybrid", 0.99, NO)],
)
def test_least_insertion(club_type: str, insertion: float, verdict: CheckVerdict) -> None:
    """1.00 in for woods and hybrids, 1.10 in for irons and wedges (common practice, no source)."""
    head = parts.head(club_type=club_type)
    assert checked("insertion_depth", head=head, insertion_in=insertion).verdict is verdict


def test_no_deeper_than_the_bore() -> None:
    check = checked("insertion_depth", insertion_in=1.5)
    assert check.verdict is NO
    assert "0.250 in more" in check.detail


def test_bond_margin_by_hand() -> None:
    # area pi * 0.370 in * 1.25 in; a quarter of 20 MPa; pull 0.268 kg * 55^2 / 1 m
    check = checked("bond", adhesive=parts.adhesive())
    area_m2 = math.pi * 0.370 * 0.0254 * 1.25 * 0.0254
    assert check.figures["capacity_n"] == pytest.approx(area_m2 * 20e6 * 0.25)
    assert check.figures["pull_n"] == pytest.approx(0.268 * 55.0**2)
    assert check.figures["margin_1"] == pytest.approx(area_m2 * 5e6 / (0.268 * 3025.0))
    assert check.verdict is FITS
    assert checked("bond", adhesive=parts.adhesive(shear_mpa=2.0)).verdict is NO


def test_what_is_added_at_the_head_hangs_on_the_bond_too() -> None:
    # centripetal force m·v²/r: 0.268 kg and 0.045 kg at 55 m/s on 1 m (any text on dynamics)
    check = checked("bond", adhesive=parts.adhesive(), head_add_g=45.0)
    assert check.figures["pull_n"] == pytest.approx((0.268 + 0.045) * 55.0**2)


def test_without_an_adhesive_the_bond_says_what_it_needs() -> None:
    check = checked("bond")
    assert check.verdict is WARNING
    needed = check.figures["shear_needed_mpa"]
    just = checked("bond", adhesive=parts.adhesive(shear_mpa=needed * 1.0001))
    assert just.figures["margin_1"] == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize(("trim", "limit", "verdict"), [(2.0, 2.0, FITS), (2.25, 2.0, NO), (0.5, None, UNKNOWN)])
def test_tip_trim_limit(trim: float, limit: float | None, verdict: CheckVerdict) -> None:
    check = checked("tip_trim_limit", shaft=parts.shaft(max_tip_trim_in=limit), tip_trim_in=trim)
    assert check.verdict is verdict


def test_bottom_of_bore_to_ground_of_the_worked_example() -> None:
    """2.375 in hosel less 1.125 in insertion is 1.25 in, and 0.25 in more there is 0.25 in more club.

    Source: a component supplier's worked example, seen in a stored copy.
    """
    head = parts.head(bore_depth_in=1.125, bore_to_ground_in=2.375 - 1.125)
    check = checked("raw_length", head=head, playing_length_in=37.0)
    assert check.figures["bore_to_ground_in"] == pytest.approx(1.25)
    assert check.figures["cut_length_in"] == pytest.approx(37.0 - 1.25)
    longer = checked("raw_length", head=replace(head, bore_to_ground_in=1.50), playing_length_in=37.25)
    assert longer.figures["cut_length_in"] == pytest.approx(check.figures["cut_length_in"])


def test_raw_length_with_grip_cap_and_trim() -> None:
    # 37 - 0.25 - 1.25 = 35.5; raw 41 less 1 tip: 4.5 off the butt
    check = checked("raw_length", playing_length_in=37.0, grip=parts.grip(), tip_trim_in=1.0)
    assert check.figures["cut_length_in"] == pytest.approx(35.5)
    assert check.figures["butt_trim_in"] == pytest.approx(4.5)
    assert check.verdict is FITS


def test_raw_length_short_says_by_how_much() -> None:
    check = checked("raw_length", shaft=parts.shaft(raw_length_in=36.0), playing_length_in=37.0, tip_trim_in=1.0)
    assert check.verdict is NO
    assert check.figures["short_by_in"] == pytest.approx(0.75)
    assert "short by 0.750 in" in check.detail


def test_unknown_grip_cap_decides_only_where_it_could() -> None:
    no_cap = parts.grip(cap_in=None)
    short = parts.shaft(raw_length_in=35.5)  # 0.25 in short of 35.75
    assert checked("raw_length", playing_length_in=37.0, grip=no_cap).verdict is FITS
    check = checked("raw_length", shaft=short, playing_length_in=37.0, grip=no_cap)
    assert check.verdict is UNKNOWN
    assert check.missing == ("grip.cap_in",)
    hopeless = parts.shaft(raw_length_in=34.0)
    assert checked("raw_length", shaft=hopeless, playing_length_in=37.0, grip=no_cap).verdict is NO


def test_with_an_adapter_the_seat_counts() -> None:
    # 0.1 + 1.6 = 1.7 in from the bottom of the bore to the ground; 45 - 1.7 = 43.3
    check = check_fit(wood(playing_length_in=45.0)).check("raw_length")
    assert check is not None
    assert check.figures["cut_length_in"] == pytest.approx(43.3)


def test_connection() -> None:
    assert check_fit(wood()).verdict is Verdict.FITS
    other = check_fit(wood(adapter=parts.adapter(connection="tallow-turn")))
    assert other.check("connection").verdict is NO  # type: ignore[union-attr]
    assert other.verdict is Verdict.DOES_NOT_FIT
    assert check_fit(wood(adapter=None)).verdict is Verdict.DOES_NOT_FIT
    assert checked("connection", adapter=parts.adapter()).verdict is NO


def test_hands() -> None:
    assert checked("hand", hand="right").verdict is FITS
    assert checked("hand", hand="left").verdict is NO
    left = check_fit(wood(adapter=parts.adapter(hand="left")))
    assert left.check("adapter_hand").verdict is NO  # type: ignore[union-attr]
    assert check_fit(wood(adapter=parts.adapter(hand=None))).verdict is Verdict.UNKNOWN


def test_adapter_setting_exists() -> None:
    have = (AdapterSetting(adapter_id="tallow-click-335", setting="+1", loft_change_deg=1.0, lie_change_deg=0.0),)
    assert check_fit(wood(settings=have, setting="+1")).verdict is Verdict.FITS
    assert check_fit(wood(settings=have, setting="+2")).verdict is Verdict.DOES_NOT_FIT
    assert check_fit(wood(setting="+1")).verdict is Verdict.UNKNOWN


def test_club_type_is_a_warning_only() -> None:
    report = check_fit(parts.question(shaft=parts.shaft(club_type="hybrid")))
    assert report.check("club_type").verdict is WARNING  # type: ignore[union-attr]
    assert report.verdict is Verdict.FITS


@pytest.mark.parametrize(("inner", "verdict"), [(0.370, FITS), (0.362, FITS), (0.355, NO), (0.400, NO)])
def test_ferrule_hole_against_the_shaft(inner: float, verdict: CheckVerdict) -> None:
    assert checked("ferrule", ferrule=parts.ferrule(inner_dia_in=inner)).verdict is verdict


def test_ferrule_outside_against_the_hosel() -> None:
    assert checked("ferrule", ferrule=parts.ferrule(outer_dia_in=0.520)).verdict is WARNING
    proud = checked("ferrule", ferrule=parts.ferrule(outer_dia_in=0.560))
    assert proud.verdict is FITS
    assert proud.figures["ferrule_over_hosel_in"] == pytest.approx(0.020)
    assert checked("ferrule", ferrule=parts.ferrule(outer_dia_in=None)).verdict is UNKNOWN


def test_grip_comes_out_under_size_on_a_butt_that_is_cut() -> None:
    # cut 35.5 of 41: 5.5 off; line from 6 in (0.370) to 41 in (0.600): 0.230/35 an inch; 0.600 - 5.5*0.0065714
    check = checked("grip_core", grip=parts.grip(), playing_length_in=37.0)
    dia = 0.600 - 5.5 * 0.230 / 35.0
    assert check.figures["butt_dia_at_cut_in"] == pytest.approx(dia)
    assert check.figures["over_size_in"] == pytest.approx(dia - 0.600)
    assert check.verdict is WARNING
    assert "estimate" in check.detail
    assert "0.036 in under size" in check.detail


def test_grip_on_the_uncut_butt_is_no_estimate() -> None:
    check = checked(
        "grip_core", grip=parts.grip(core_dia_in=0.580), shaft=parts.shaft(raw_length_in=35.5), playing_length_in=37.0
    )
    assert check.figures["over_size_in"] == pytest.approx(0.020)
    assert "estimate" not in check.detail
    assert "0.020 in over size" in check.detail


def test_grip_by_readings_near_the_cut() -> None:
    readings = tuple(
        ShaftReading(
            id=f"r{p}", shaft_id="tallow-parallel", sample="a", quantity="outside_diameter", value=v, position_in=p
        )
        for p, v in ((35.0, 0.590), (36.0, 0.594))
    )
    check = checked("grip_core", grip=parts.grip(), playing_length_in=37.0, readings=readings)
    assert check.figures["butt_dia_at_cut_in"] == pytest.approx(0.592)
    assert "by readings" in check.detail


@pytest.mark.parametrize(
    ("loft", "limit", "verdict"),
    [
        (31.0, None, FITS),
        (32.0, 2.0, FITS),
        (33.5, 2.0, NO),
        (28.5, 2.0, NO),
        (29.0, 2.0, FITS),
        (32.0, 0.0, NO),
        (30.0, None, UNKNOWN),
    ],
)
def test_bending_within_the_heads_limit(loft: float, limit: float | None, verdict: CheckVerdict) -> None:
    """Own loft 31°. An unknown limit is asked for, never assumed."""
    check = checked("loft_lie_bend", head=parts.head(max_bend_deg=limit), wanted_loft_deg=loft)
    assert check.verdict is verdict
    assert (check.missing == ("head.max_bend_deg",)) == (verdict is UNKNOWN)


def test_a_setting_takes_the_place_of_bending() -> None:
    settings = (
        AdapterSetting(adapter_id="tallow-click-335", setting="std", loft_change_deg=0.0, lie_change_deg=0.0),
        AdapterSetting(adapter_id="tallow-click-335", setting="+1", loft_change_deg=1.0, lie_change_deg=-0.5),
    )
    asked = {"settings": settings, "wanted_loft_deg": 11.5, "wanted_lie_deg": 57.5}
    assert check_fit(wood(**asked, setting="+1")).verdict is Verdict.FITS
    no_bend = check_fit(wood(**asked, setting="std")).check("loft_lie_bend")
    assert no_bend is not None
    assert no_bend.verdict is NO
    assert "setting +1" in no_bend.detail


def test_bending_brings_its_caution() -> None:
    assert BENDING in check_fit(parts.question(wanted_loft_deg=32.0)).cautions
    assert BENDING not in check_fit(parts.question(wanted_loft_deg=31.0)).cautions


@pytest.mark.parametrize(
    ("material", "word"), [("graphite", "Carbon-fibre"), ("steel", "steel"), (None, "Carbon-fibre")]
)
def test_bond_dust_and_deference_are_always_there(material: str | None, word: str) -> None:
    texts = check_fit(parts.question(shaft=parts.shaft(material=material))).cautions
    assert BOND in texts
    assert DEFER in texts
    assert any(word in t and "respirator" in t for t in texts)


def test_a_sleeve_must_fit_on_both_sides_and_cover_the_insertion() -> None:
    thin = parts.shaft(tip_dia_in=0.350)
    good = parts.sleeve(0.3535, 0.370)
    assert check_fit(parts.question(shaft=thin, sleeve=good)).verdict is Verdict.FITS
    loose = check_fit(parts.question(shaft=thin, sleeve=parts.sleeve(0.3535, 0.364)))
    assert loose.check("sleeve_in_bore").verdict is NO  # type: ignore[union-attr]
    short = check_fit(parts.question(shaft=thin, sleeve=replace(good, length_in=1.0)))
    assert "0.250 in of the insertion unsleeved" in short.check("sleeve_in_bore").detail  # type: ignore[union-attr]
    tight = check_fit(parts.question(shaft=thin, sleeve=parts.sleeve(0.3505, 0.370)))
    assert tight.check("tip_in_bore").verdict is NO  # type: ignore[union-attr]


@pytest.mark.parametrize("fields", [{"tip_trim_in": -0.5}, {"insertion_in": 0.0}, {"playing_length_in": math.nan}])
def test_nonsense_is_refused(fields: dict[str, float]) -> None:
    with pytest.raises(UsageError):
        check_fit(parts.question(**fields))


def test_json_has_the_keys_of_the_interface_and_units_in_every_figure() -> None:
    found = check_fit(
        parts.question(
            playing_length_in=37.0,
            grip=parts.grip(),
            ferrule=parts.ferrule(),
            adhesive=parts.adhesive(),
            wanted_loft_deg=32.0,
            sleeve=parts.sleeve(0.3535, 0.370),
        )
    ).to_json()
    assert list(found) == ["verdict", "checks", "preparation", "missing", "cautions"]
    units = ("_in", "_deg", "_n", "_mpa", "_m_s", "_m", "_in2", "_cc", "_1", "_g")
    checks: Any = json.loads(json.dumps(found))["checks"]
    for check in checks:
        assert set(check) == {"name", "verdict", "detail", "figures"}
        assert all(key.endswith(units) for key in check["figures"])
