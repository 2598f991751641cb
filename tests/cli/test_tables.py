"""Tables fit the terminal without cutting a value."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.cli import output
from specdb.cli.tables import Column, lay_out

cells = st.text(st.characters(codec="ascii", categories=["L", "N", "P", "Zs"]), max_size=30).map(
    lambda t: " ".join(t.split())
)
columns = st.lists(
    st.tuples(st.from_regex(r"[a-z]{1,6}(_[a-z]{1,6}){0,2}", fullmatch=True), st.booleans(), st.booleans()),
    min_size=1,
    max_size=9,
)


@given(columns, st.data(), st.integers(40, 160))
def test_lines_fit_and_no_cell_is_lost(heads: list[tuple[str, bool, bool]], data: st.DataObject, width: int) -> None:
    shape = [Column(title, right=right, wraps=wraps, keep=i == 0) for i, (title, right, wraps) in enumerate(heads)]
    rows = data.draw(st.lists(st.lists(cells, min_size=len(shape), max_size=len(shape)), min_size=1, max_size=4))
    lines, left_out = lay_out(shape, rows, width)
    longest = max(output.text_width(line) for line in lines)
    only_the_first = len(left_out) == len(shape) - 1
    assert longest <= width or only_the_first
    titles = [c.title for c in shape]
    shown = titles[: len(titles) - len(left_out)]
    assert sorted([*shown, *left_out]) == sorted(titles)
    # every word of every cell that is shown is there, broken at most where a cell may be broken
    text = re.sub(r"\s+", "", "".join(lines))
    kept = [i for i, c in enumerate(shape) if c.title not in left_out]
    if len(set(titles)) == len(titles):
        for row in rows:
            for i in kept:
                if not shape[i].wraps:
                    assert re.sub(r"\s+", "", row[i]) in text


def test_a_column_without_room_is_left_out_and_named() -> None:
    shape = [Column("id", keep=True), Column("one", right=True), Column("two", right=True)]
    lines, left_out = lay_out(shape, [["x" * 30, "1" * 8, "2" * 8]], 42)
    assert left_out == ["two"]
    assert all(len(line) <= 42 for line in lines)


def test_keys_are_never_broken() -> None:
    key = "a-long-key-" * 10
    lines, _ = lay_out([Column("id", keep=True)], [[key]], 40)
    assert key in lines


def test_wide_characters_count_double() -> None:
    lines, _ = lay_out([Column("maker"), Column("x")], [["東京シャフト", "1"], ["ab", "2"]], 80)
    assert output.text_width(lines[2]) == output.text_width(lines[3])


def test_stored_text_cannot_steer_the_terminal() -> None:
    assert output.printable("a\x1b[31mb\x07\u202e") == "a\\x1b[31mb\\x07\\u202e"
    assert output.cell("two\nlines\tand tabs") == "two lines and tabs"


@pytest.mark.parametrize(
    ("value", "decimals", "said"),
    [
        (-0.0, 1, "0.0"),
        (-0.04, 1, "0.0"),
        (0.05, 2, "0.05"),
        (float("nan"), 1, "-"),
        (None, 1, "-"),
        (45.0, None, "45"),
    ],
)
def test_numbers(value: float | None, decimals: int | None, said: str) -> None:
    assert output.number(value, decimals) == said


def test_signs() -> None:
    assert [output.signed(v, 1) for v in (1.0, -1.0, 0.0, -0.01, 0.01)] == ["+1.0", "-1.0", "0.0", "0.0", "0.0"]


def test_a_unit_stays_with_its_name_in_a_heading() -> None:
    shape = [Column("id", keep=True), Column("raw_length_in", right=True), Column("tip_dia_in", right=True)]
    heading = "\n".join(lay_out(shape, [["x" * 40, "46", "0.335"]], 64)[0])
    assert "length_in" in heading
    assert "dia_in" in heading
