"""Codes of build sheets: written, read, and refused in a sentence."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.errors import UsageError
from specdb.verbs.building.sheet_code import UnitMeant, code_of, has_code, read_code

KEYS = st.from_regex(r"[a-z0-9][a-z0-9._-]{0,40}", fullmatch=True)
UNITS = st.one_of(
    st.builds(UnitMeant, KEYS),
    st.builds(UnitMeant, KEYS, KEYS),
    st.builds(UnitMeant, KEYS, KEYS, st.integers(1, 999), st.integers(1, 99)),
)


@given(UNITS)
def test_a_code_means_what_it_was_written_for(meant: UnitMeant) -> None:
    code = code_of(meant)
    assert read_code(code) == meant
    assert read_code(f" {code}\r\n") == meant  # as scanners end what they type
    assert read_code(code.upper()) == meant  # with the capitals locked
    assert read_code(code[1:]) == meant  # its first letter opened the entry
    assert has_code(f"45 1/4{code}") == 6


@given(st.text(max_size=60))
def test_anything_else_is_refused_or_is_a_name(text: str) -> None:
    try:
        meant = read_code(text)
    except UsageError:
        return
    assert code_of(meant).startswith("specdb:club/")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("https://example.org/club/1", "is no code of a build sheet"),
        ("WIFI:S:shop;T:WPA;P:secret;;", "is no code of a build sheet"),
        ("specdb-club-ashby/driver", "is no code of a build sheet"),
        ("specdb:club/", "is only a part"),
        ("specdb:club/ashby-driver/o-1041/1", "is only a part"),
        ("specdb:club/ashby-driver/o-1041/0/1", "is only a part"),
        ("", "cannot be the name of a club"),
    ],
)
def test_what_is_wrong_is_said(text: str, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        read_code(text)


def test_a_value_is_no_code() -> None:
    assert has_code("45 1/4") == -1
    assert has_code("D2.5") == -1
