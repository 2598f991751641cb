"""Small tables of text: every row as wide as the others, and never wider than there is room."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.tui.widgets.text_rows import TextColumn, text_rows

CELLS = st.text(st.characters(min_codepoint=33, max_codepoint=126), max_size=12)


def texts(columns: list[TextColumn], width: int) -> list[str]:
    return ["".join(text for text, _ in line) for line in text_rows(columns, width)]


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), min_size=1, max_size=6), st.integers(30, 90))
def test_rows_are_as_wide_as_each_other_and_fit(rows: list[tuple[str, str, str]], width: int) -> None:
    names = [f"{a}-a-rather-long-name-{i}" for i, (a, _, _) in enumerate(rows)]
    columns = [
        TextColumn("club", "", names, right=False),
        TextColumn("off", "cpm", [b for _, b, _ in rows]),
        TextColumn("shaft", "", [c for _, _, c in rows], right=False, optional=True),
    ]
    found = texts(columns, width)
    assert len(found) == 2 + len(rows)
    assert all(len(line) <= width for line in found)
    assert len({len(line) for line in found[2:]}) == 1


@pytest.mark.parametrize(("width", "shown"), [(60, True), (20, False)])
def test_what_may_go_goes_before_a_name_is_cut(width: int, shown: bool) -> None:
    columns = [
        TextColumn("club", "", ["quilter-5-iron"], right=False),
        TextColumn("cpm", "", ["295.9"]),
        TextColumn("shaft", "", ["stavely-tenter-105-s-5"], right=False, optional=True),
    ]
    row = texts(columns, width)[-1]
    assert ("stavely" in row) is shown
    assert "295.9" in row
