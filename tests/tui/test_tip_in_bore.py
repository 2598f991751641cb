"""The drawing of tip in bore: what stands where, read back from the characters and held against the numbers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.fitup.checks_tip import seat_of, tip_in_bore
from specdb.tui.fitup.tip_in_bore import MIDDLE, Picture, draw
from specdb.tui.fitup.tip_scene import Scene, scene_of
from tests.fitup import parts

QUADRANTS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"


def scene(**fields: Any) -> Scene:
    found = scene_of(parts.question(**fields))
    assert isinstance(found, Scene), found
    return found


def picture(width: int = 78, height: int = 16, **fields: Any) -> Picture:
    return draw(scene(**fields), width, height)


def lines(drawn: Picture) -> list[str]:
    return ["".join(run.text for run in line) for line in drawn.lines]


def right_half(drawn: Picture) -> np.ndarray[Any, Any]:
    """Characters of the right half of the drawing, by rows and columns."""
    start = drawn.scales.half_columns + MIDDLE
    body = lines(drawn)[drawn.first_row : drawn.first_row + drawn.scales.rows]
    return np.array([list(line[start : start + drawn.scales.half_columns]) for line in body])


def quarters(drawn: Picture) -> np.ndarray[Any, Any]:
    """Right half by half rows and half columns: whether it is solid ink (the wall, and the skin of the tip)."""
    cells = right_half(drawn)
    found = np.zeros((2 * cells.shape[0], 2 * cells.shape[1]), dtype=bool)
    for (i, j), sign in np.ndenumerate(cells):
        bits = QUADRANTS.index(sign) if sign in QUADRANTS else 0
        for bit in range(4):
            found[2 * i + bit // 2, 2 * j + bit % 2] = bool(bits >> bit & 1)
    return found


def edges(drawn: Picture, half_row: int) -> tuple[int, int]:
    """Half columns at which the skin of the tip ends and the wall begins; the row's length where there is no wall."""
    row = quarters(drawn)[half_row]
    skin = int(np.argmax(row))
    end = skin + int(np.argmin(row[skin:]))
    wall = end + int(np.argmax(row[end:])) if row[end:].any() else len(row)
    return end, wall


def gap_in(drawn: Picture, half_row: int) -> float:
    """Radial gap between tip and wall in a half row, in, counted in half columns."""
    end, wall = edges(drawn, half_row)
    return (wall - end) * drawn.scales.column_in / 2.0


def depth_at(drawn: Picture, half_row: int) -> float:
    return ((half_row + 0.5) / 2.0 - drawn.scales.rows_above) / drawn.scales.rows_per_in


@pytest.mark.parametrize("clearance", [0.002, 0.0035, 0.006, 0.009])
def test_clearance_is_drawn_to_scale(clearance: float) -> None:
    drawn = picture(head=parts.head(bore_dia_in=0.370 + clearance))
    half_column = drawn.scales.column_in / 2.0
    middle = 2 * drawn.scales.rows_above + 4
    assert gap_in(drawn, middle) == pytest.approx(clearance / 2.0, abs=half_column + 1e-9)
    assert gap_in(drawn, middle) > 0.0, "a clearance of 0.002 in and more is seen"


def test_a_clearance_of_two_thousandths_is_seen_beside_a_sleeve_too() -> None:
    drawn = picture(
        shaft=parts.shaft(tip_dia_in=0.335), head=parts.head(bore_dia_in=0.3725), sleeve=parts.sleeve(0.337, 0.3705)
    )
    assert drawn.scales.column_in <= 0.002
    row = "".join(right_half(drawn)[drawn.scales.rows_above + 3])
    assert "▒" in row
    inside, outside = row.split("▒", 1)[0], row.rsplit("▒", 1)[1]
    assert set(inside.lstrip("░")) & set(" ▌▐"), "between tip and sleeve"
    assert set(outside) & set(" ▌▐"), "between sleeve and wall"


@settings(max_examples=60, deadline=None)
@given(
    tip=st.floats(0.330, 0.400),
    clearance=st.floats(0.0015, 0.012),
    parallel=st.floats(2.5, 8.0),
    depth=st.floats(1.0, 1.8),
    height=st.integers(16, 40),
)
def test_every_edge_stands_at_its_number(
    tip: float, clearance: float, parallel: float, depth: float, height: int
) -> None:
    drawn = picture(
        height=height,
        shaft=parts.shaft(tip_dia_in=tip, tip_parallel_in=parallel),
        head=parts.head(bore_dia_in=tip + clearance, bore_depth_in=depth),
    )
    scales = drawn.scales
    half_column = scales.column_in / 2.0
    for half_row in range(2 * scales.rows):
        if not 0.05 < depth_at(drawn, half_row) < depth - 0.5 / scales.rows_per_in:
            continue
        end, wall = edges(drawn, half_row)
        # an edge stands within half of a half column of its number
        assert abs(scales.core_in + end * half_column - tip / 2.0) <= half_column / 2.0 + 1e-9
        assert abs(scales.core_in + wall * half_column - (tip + clearance) / 2.0) <= half_column / 2.0 + 1e-9


@pytest.mark.parametrize("height", [14, 18, 30])
def test_tip_end_and_bottom_stand_at_their_depths(height: int) -> None:
    drawn = picture(height=height, insertion_in=1.0, head=parts.head(bore_depth_in=1.5))
    column = quarters(drawn)[:, 1]  # beside the axis: skin of the tip end, gap under it, floor
    skin = int(np.argmax(column))
    end = skin + int(np.argmin(column[skin:]))
    floor = end + int(np.argmax(column[end:]))
    half_row = 0.5 / drawn.scales.rows_per_in
    mouth = drawn.scales.rows_above / drawn.scales.rows_per_in
    assert end * half_row - mouth == pytest.approx(1.0, abs=half_row)
    assert floor * half_row - mouth == pytest.approx(1.5, abs=half_row)


def test_growth_behind_the_parallel_part_is_drawn() -> None:
    drawn = picture(height=40, shaft=parts.shaft(tip_parallel_in=2.0), tip_trim_in=1.25)
    widths = np.array([edges(drawn, i)[0] for i in range(2 * drawn.scales.rows_above)])
    assert (np.diff(widths) <= 0).all(), "wider the further up"
    top, low = depth_at(drawn, 0), depth_at(drawn, len(widths) - 1)
    grown = (widths[0] - widths[-1]) * drawn.scales.column_in / 2.0
    assert grown == pytest.approx((low - top) * 0.0075 / 2.0, abs=drawn.scales.column_in)


def test_a_tip_that_is_too_large_is_crossed() -> None:
    assert "╳" in picture(head=parts.head(bore_dia_in=0.365)).text
    assert "╳" not in picture().text


def test_a_tip_deeper_than_the_bore_is_crossed_and_said() -> None:
    text = picture(insertion_in=1.35).text
    assert "╳" in text
    assert "tip 0.100 in too deep" in text


@pytest.mark.parametrize("trim", [0.0, 1.25, 2.25])
def test_figures_are_those_of_the_check(trim: float) -> None:
    question = parts.question(shaft=parts.shaft(tip_parallel_in=2.0, max_tip_trim_in=4.0), tip_trim_in=trim)
    found = scene_of(question)
    assert isinstance(found, Scene)
    figures = tip_in_bore(question, seat_of(question)).figures
    by_name = {p.name: p for p in found.places()}
    assert by_name["tip at mouth"].clearance_in == pytest.approx(figures["clearance_at_mouth_in"])
    assert by_name["tip end"].clearance_in == pytest.approx(figures["clearance_at_bottom_in"])
    assert by_name["tip at mouth"].hole_in == pytest.approx(figures["bore_dia_at_mouth_in"])
    assert by_name["tip end"].part_in == pytest.approx(figures["outside_dia_at_bottom_in"])
    text = draw(found).text
    for key in ("clearance_at_mouth_in", "clearance_at_bottom_in"):
        assert f"{figures[key]:.4f}" in text


def test_the_end_of_the_parallel_part_is_named_where_it_lies_in_the_bore() -> None:
    places = scene(shaft=parts.shaft(tip_parallel_in=2.0), tip_trim_in=1.25).places()
    ends = next(p for p in places if p.name == "parallel ends")
    assert ends.depth_in == pytest.approx(1.25 - 0.75)  # 0.75 in of it is left, 1.25 in sits in the bore
    assert all(p.name != "parallel ends" for p in scene().places())


def test_the_sleeve_has_figures_of_its_own() -> None:
    places = {
        p.name: p for p in scene(shaft=parts.shaft(tip_dia_in=0.335), sleeve=parts.sleeve(0.3385, 0.3705)).places()
    }
    assert places["tip at mouth"].clearance_in == pytest.approx(0.0035)
    assert places["sleeve at mouth"].clearance_in == pytest.approx(0.0030)


def test_a_taper_bore_narrows_like_the_tip() -> None:
    found = scene(
        shaft=parts.shaft(tip_dia_in=0.355, tip_form="taper", tip_parallel_in=None),
        head=parts.head(bore_dia_in=0.3675, bore_form="taper"),
    )
    mouth, end = (p for p in found.places() if p.name in ("tip at mouth", "tip end"))
    assert mouth.hole_in - end.hole_in == pytest.approx(1.25 * 0.0075)
    assert mouth.clearance_in == pytest.approx(end.clearance_in)


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"head": parts.head(bore_dia_in=None)}, "head.bore_dia_in"),
        ({"head": parts.head(bore_depth_in=None)}, "head.bore_depth_in"),
        ({"shaft": parts.shaft(tip_dia_in=None)}, "shaft.tip_dia_in"),
        ({"head": parts.wood_head()}, "adapter"),
    ],
)
def test_what_cannot_be_drawn_names_what_is_missing(fields: dict[str, Any], named: str) -> None:
    found = scene_of(parts.question(**fields))
    assert isinstance(found, str)
    assert named in found


def test_an_unknown_depth_has_no_floor() -> None:
    drawn = picture(head=parts.head(bore_depth_in=None), insertion_in=1.2)
    assert "depth of the bore unknown" in drawn.text
    assert math.isnan(scene(head=parts.head(bore_depth_in=None), insertion_in=1.2).under_tip_in)
    assert set("".join(right_half(drawn)[-1])) == {" "}


@pytest.mark.parametrize(("width", "height"), [(72, 12), (78, 16), (118, 30), (198, 50)])
@pytest.mark.parametrize("trim", [0.0, 2.0])
def test_it_stays_within_its_room(width: int, height: int, trim: float) -> None:
    drawn = picture(
        width,
        height,
        shaft=parts.shaft(tip_dia_in=0.335, tip_parallel_in=3.0),
        sleeve=parts.sleeve(0.3385, 0.3705),
        ferrule=parts.ferrule(),
        tip_trim_in=trim,
    )
    found = lines(drawn)
    assert len(found) <= height
    assert max(len(line.rstrip()) for line in found) <= width
    for word in ("tip at mouth", "sleeve at mouth", "tip end  ", "sleeve end", "insertion", "bore 1.250 in deep"):
        assert sum(word in line for line in found) == 1, word


def test_both_halves_are_mirror_images() -> None:
    drawn = picture(shaft=parts.shaft(tip_parallel_in=2.0), tip_trim_in=1.25)
    half = drawn.scales.half_columns
    mirror = {"▌": "▐", "▐": "▌", "▘": "▝", "▝": "▘", "▖": "▗", "▗": "▖", "▛": "▜", "▜": "▛", "▙": "▟", "▟": "▙"}
    mirror |= {"▚": "▞", "▞": "▚"}
    for line in lines(drawn)[drawn.first_row : drawn.first_row + drawn.scales.rows]:
        left, right = line[:half], line[half + MIDDLE : 2 * half + MIDDLE]
        assert "".join(mirror.get(c, c) for c in reversed(left)) == right
