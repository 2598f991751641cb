"""A missing number never passes: each needed field is taken away in turn."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from specdb.fitup import CheckVerdict, FitQuestion, Shelf, Verdict, check_fit, plan
from specdb.records.rows import AdapterSetting
from tests.fitup import parts

SETTING = AdapterSetting(adapter_id="tallow-click-335", setting="+1", loft_change_deg=1.0, lie_change_deg=-0.5)

GLUED = parts.question(
    shaft=parts.shaft(tip_dia_in=0.350),
    sleeve=parts.sleeve(0.3535, 0.370),
    ferrule=parts.ferrule(inner_dia_in=0.350),
    grip=parts.grip(core_dia_in=0.565),
    adhesive=parts.adhesive(),
    tip_trim_in=0.5,
    playing_length_in=37.0,
    wanted_loft_deg=32.0,
    wanted_lie_deg=61.5,
)
WITH_ADAPTER = FitQuestion(
    shaft=parts.shaft(club_type="wood", tip_dia_in=0.335, raw_length_in=46.0),
    head=parts.wood_head(),
    adapter=parts.adapter(),
    settings=(SETTING,),
    setting="+1",
    adhesive=parts.adhesive(),
    tip_trim_in=0.5,
    playing_length_in=45.0,
    wanted_loft_deg=11.5,
    wanted_lie_deg=57.5,
)

BINDING = [
    (GLUED, "shaft", "tip_dia_in"),
    (GLUED, "shaft", "tip_form"),
    (GLUED, "shaft", "tip_parallel_in"),
    (GLUED, "shaft", "raw_length_in"),
    (GLUED, "shaft", "max_tip_trim_in"),
    (GLUED, "head", "bore_dia_in"),
    (GLUED, "head", "bore_form"),
    (GLUED, "head", "bore_depth_in"),
    (GLUED, "head", "bore_to_ground_in"),
    (GLUED, "head", "hosel_outer_dia_in"),
    (GLUED, "head", "weight_g"),
    (GLUED, "head", "loft_deg"),
    (GLUED, "head", "lie_deg"),
    (GLUED, "head", "max_bend_deg"),
    (GLUED, "sleeve", "inner_form"),
    (GLUED, "sleeve", "outer_form"),
    (GLUED, "sleeve", "length_in"),
    (GLUED, "ferrule", "outer_dia_in"),
    (GLUED, "adhesive", "shear_mpa"),
    (WITH_ADAPTER, "shaft", "tip_dia_in"),
    (WITH_ADAPTER, "adapter", "bore_dia_in"),
    (WITH_ADAPTER, "adapter", "bore_form"),
    (WITH_ADAPTER, "adapter", "bore_depth_in"),
    (WITH_ADAPTER, "adapter", "bore_to_seat_in"),
    (WITH_ADAPTER, "adapter", "hand"),
    (WITH_ADAPTER, "adapter", "weight_g"),
    (WITH_ADAPTER, "head", "seat_to_ground_in"),
    (WITH_ADAPTER, "head", "weight_g"),
]
ADVICE = [
    (GLUED, "shaft", "butt_dia_in", "grip_core"),
    (GLUED, "grip", "core_dia_in", "grip_core"),
    (GLUED, "grip", "length_in", "rules"),
    (WITH_ADAPTER, "head", "volume_cc", "rules"),
]


def without(question: FitQuestion, part: str, field: str) -> FitQuestion:
    record: Any = replace(getattr(question, part), **{field: None})
    changes: dict[str, Any] = {part: record}
    return replace(question, **changes)


@pytest.mark.parametrize("question", [GLUED, WITH_ADAPTER])
def test_the_whole_question_fits(question: FitQuestion) -> None:
    report = check_fit(question)
    assert report.verdict is Verdict.FITS
    assert report.missing == ()


@pytest.mark.parametrize(("question", "part", "field"), BINDING)
def test_without_a_needed_field_the_verdict_is_unknown_and_names_it(
    question: FitQuestion, part: str, field: str
) -> None:
    for report in (check_fit(without(question, part, field)), plan(without(question, part, field), Shelf())):
        assert report.verdict is Verdict.UNKNOWN
        assert f"{part}.{field}" in report.missing
        assert any(f"{part}.{field}" in c.missing and c.verdict is CheckVerdict.UNKNOWN for c in report.checks)


@pytest.mark.parametrize("angle", ["loft", "lie"])
def test_without_a_settings_change_the_verdict_is_unknown(angle: str) -> None:
    changes: dict[str, Any] = {f"{angle}_change_deg": None}
    report = check_fit(replace(WITH_ADAPTER, settings=(replace(SETTING, **changes),)))
    assert report.verdict is Verdict.UNKNOWN
    assert f"adapter_setting.{angle}_change_deg" in report.missing


@pytest.mark.parametrize(("question", "part", "field", "name"), ADVICE)
def test_advice_without_its_number_is_unknown_and_named_and_refuses_nothing(
    question: FitQuestion, part: str, field: str, name: str
) -> None:
    report = check_fit(without(question, part, field))
    check = report.check(name)
    assert check is not None
    assert check.verdict is CheckVerdict.UNKNOWN
    assert f"{part}.{field}" in report.missing
    assert report.verdict is Verdict.FITS


def test_any_two_needed_fields_away_never_fit() -> None:
    for q1, part1, field1 in BINDING:
        for q2, part2, field2 in BINDING:
            if q1 is q2 and (part1, field1) < (part2, field2):
                verdict = check_fit(without(without(q1, part1, field1), part2, field2)).verdict
                assert verdict is Verdict.UNKNOWN
