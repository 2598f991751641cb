"""Rules of Golf figures and published figures of the trade, in both units that they are stated in."""

from __future__ import annotations

import pytest

from specdb.fitup import rules
from specdb.fitup.rules import hold_against_rules
from specdb.mechanics.constants import IN, TAPER_GROWTH_IN_PER_IN
from specdb.mechanics.cut import Bored, cut

# R&A and USGA, Equipment Rules, Part 2, 2019 text seen in a stored copy: rule, figure of the package, inches, metres
PUBLISHED = [
    ("2.1c least length", rules.LENGTH_MIN_IN, 18.0, 0.457),
    ("2.1c greatest length", rules.LENGTH_MAX_IN, 48.0, 1.219),
    ("G-10 local rule", rules.LENGTH_LOCAL_RULE_IN, 46.0, 1.1684),
    ("2.2c neck", rules.NECK_MAX_IN, 5.0, 0.127),
    ("2.3a grip length", rules.GRIP_LENGTH_MIN_IN, 7.0, 0.1778),
    ("2.3b grip width", rules.GRIP_WIDTH_MAX_IN, 1.75, 0.04445),
]


@pytest.mark.parametrize(("rule", "figure", "inches", "metres"), PUBLISHED)
def test_length_figures_of_the_rules(rule: str, figure: float, inches: float, metres: float) -> None:
    assert figure == inches, rule
    assert figure * IN == pytest.approx(metres, abs=5e-4), rule


def test_head_volume_and_putter_lie_of_the_rules() -> None:
    """2.4b: 460 cm³ and 10 cm³ tolerance; 2.1d: shaft at least 10° off vertical."""
    assert (rules.WOOD_VOLUME_MAX_CC, rules.WOOD_VOLUME_TOLERANCE_CC) == (460.0, 10.0)
    assert rules.PUTTER_LIE_MAX_DEG == 90.0 - 10.0
    assert "check the current edition" in rules.EDITION


def breaches(club_type: str = "wood", **figures: float) -> list[str]:
    known: dict[str, float | None] = {"playing_length_in": 45.0, "lie_deg": 58.0, "volume_cc": 455.0, "neck_in": 2.0}
    known |= figures
    found = hold_against_rules(
        club_type=club_type,
        playing_length_in=known["playing_length_in"],
        lie_deg=known["lie_deg"],
        volume_cc=known["volume_cc"],
        neck_in=known["neck_in"],
        grip_length_in=known.get("grip_length_in", 10.5),
        has_grip=True,
    )
    assert found.missing == []
    return found.breaches


@pytest.mark.parametrize(
    ("club_type", "figure", "inside", "outside", "rule"),
    [
        ("wood", "playing_length_in", 48.0, 48.01, "2.1c"),
        ("iron", "playing_length_in", 18.0, 17.99, "2.1c"),
        ("putter", "playing_length_in", 18.0, 17.99, "2.1c"),
        ("putter", "lie_deg", 80.0, 80.1, "2.1d"),
        ("wood", "volume_cc", 470.0, 470.1, "2.4b"),
        ("iron", "neck_in", 5.0, 5.01, "2.2c"),
        ("iron", "grip_length_in", 7.0, 6.99, "2.3a"),
    ],
)
def test_each_figure_holds_to_its_edge_and_not_beyond(
    club_type: str, figure: str, inside: float, outside: float, rule: str
) -> None:
    assert breaches(club_type, **{figure: inside}) == []
    (said,) = breaches(club_type, **{figure: outside})
    assert rule in said


def test_putters_are_exempt_from_the_greatest_length_and_others_from_the_lie() -> None:
    """Equipment Rules 2.1c, 2.1d."""
    assert breaches("putter", playing_length_in=52.0, lie_deg=72.0) == []
    assert breaches("iron", playing_length_in=38.0, lie_deg=84.0) == []


def test_bottom_of_bore_to_ground_of_the_published_example() -> None:
    """Hosel 2.375 in less insertion 1.125 in is 1.25 in; 0.25 in more of it is 0.25 in more club.

    Source: worked example of a component supplier, seen in a stored copy.
    """
    hosel, insertion = 2.375, 1.125
    ground = hosel - insertion
    assert ground == 1.25
    first = cut(Bored(insertion, ground), 37.0, None, None)
    second = cut(Bored(insertion, ground + 0.25), 37.25, None, None)
    assert first.cut_length_in == second.cut_length_in == 37.0 - 1.25


def test_taper_tips_and_holes_of_the_trade_are_one_cone() -> None:
    """0.355 in taper tips reach the 0.370 in of parallel ones 2 in up (common practice, no source; within 10 %)."""
    assert pytest.approx(0.370 - 0.355, rel=0.10) == 2.0 * TAPER_GROWTH_IN_PER_IN
