"""Keys worked out from the other fields: readable, stable, and different where the items are."""

import hashlib
import re
from typing import Any

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from specdb.catalogue.keys import slug
from specdb.catalogue.validate import derive_key, derive_keys, number_repeats
from specdb.errors import UsageError
from tests.catalogue.samples import READING

PATTERN = re.compile(r"[a-z0-9][a-z0-9._-]{0,79}")  # as data_schema says of every id


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Northfold", "northfold"),
        ("  Trine  60 ", "trine-60"),
        ("Émile & Søn", "emile-and-son"),
        ("S+", "s-plus"),
        ("R/S", "r-s"),
        ("5.0", "5.0"),
        ("-x-", "x"),
    ],
)
def test_words(text: str, expected: Any) -> None:
    assert slug(text) == expected


def test_letters_without_a_plain_form_stay_different() -> None:
    """Two names that lose all or some of their letters must not become one key."""
    names = ["東風", "西風", "東風 S", "西風 S"]
    keys = {slug(n) for n in names}
    assert len(keys) == 4
    assert all(PATTERN.fullmatch(k) for k in keys)


@given(st.text(max_size=200).filter(lambda t: t.strip()))
def test_any_maker_gives_a_key_that_is_allowed(text: str) -> None:
    key = derive_key("shaft", {"maker": text})
    assert key is not None
    assert PATTERN.fullmatch(key)


def test_a_shaft_key_tells_the_flex_and_the_weight() -> None:
    shaft = {"maker": "Northfold", "model": "Trine", "flex": "S+", "weight_g": 62.5, "club_number": None}
    assert derive_key("shaft", shaft) == "northfold-trine-s-plus-62.5"
    assert derive_key("shaft", {"model": "Trine", "weight_g": 65.0}) == "trine-65"
    assert derive_key("shaft", {}) is None


def test_a_weight_alone_names_no_shaft_but_diameters_name_a_ferrule() -> None:
    assert derive_key("shaft", {"weight_g": 65.0}) is None
    assert derive_keys("shaft", pa.table({"weight_g": [65.0]})).to_pylist() == [None]
    assert derive_key("ferrule", {"inner_dia_in": 0.335, "length_in": 1.0}) == "0.335-1"


def test_long_names_are_cut_but_stay_different() -> None:
    keys = {derive_key("shaft", {"maker": "m" * 100, "model": f"x{n}"}) for n in range(3)}
    assert len(keys) == 3
    assert all(k is not None and len(k) <= 80 for k in keys)


def test_kinds_that_must_be_given_a_key() -> None:
    with pytest.raises(UsageError, match="must be given an id"):
        derive_key("adhesive", {})
    with pytest.raises(UsageError, match="adapter_id and setting"):
        derive_key("adapter_setting", {"adapter_id": "a"})


def test_a_reading_key_depends_on_its_conditions_not_on_its_value() -> None:
    key = derive_key("shaft_reading", READING)
    assert derive_key("shaft_reading", {**READING, "value": 99.0, "notes": "again"}) == key
    assert derive_key("shaft_reading", {**READING, "position_in": 6.0000000001}) == key
    others: list[dict[str, Any]] = [
        {"position_in": 8},
        {"sample": "2"},
        {"quantity": "torque"},
        {"span_in": 6},
        {"taken_on": "2026-01-01"},
    ]
    assert len({derive_key("shaft_reading", {**READING, **o}) for o in others}) == len(others)
    # a value in one field is not the same value in another
    first, second = ({**READING, f: 12.0} for f in ("span_in", "free_length_in"))
    assert derive_key("shaft_reading", first) != derive_key("shaft_reading", second)


def test_digest_keys_stay_the_same_for_good() -> None:
    """A catalogue made by an earlier version must know its rows again when their file is imported again."""
    parts = ["trine", "published", "ei", "6000000", "", "", "", "", "", "", ""]
    digest = hashlib.blake2b("\x1f".join(parts).encode(), digest_size=10).hexdigest()
    assert derive_key("shaft_reading", READING) == digest == "36372583435df60c3dff"


def test_whole_tables_give_the_keys_of_their_rows() -> None:
    rows = [READING, {**READING, "position_in": 8, "taken_on": None}, {**READING, "sample": "é", "load_n": 2.5}]
    full = [{**r, "load_n": r.get("load_n")} for r in rows]
    assert derive_keys("shaft_reading", pa.Table.from_pylist(full)).to_pylist() == [
        derive_key("shaft_reading", r) for r in rows
    ]
    words = pa.table({"maker": ["A", None], "model": ["x", None], "weight_g": [60.0, None]})
    assert derive_keys("shaft", words).to_pylist() == ["a-x-60", None]


def test_repeated_rows_are_numbered_within_their_file() -> None:
    assert number_repeats(pa.array(["a", "b", "a", None, "a", None])).to_pylist() == [
        "a",
        "b",
        "a-2",
        None,
        "a-3",
        None,
    ]


@pytest.mark.slow
def test_keys_of_a_big_file_are_all_different() -> None:
    count = 400_000
    table = pa.table(
        {
            "shaft_id": [f"s{n // 16}" for n in range(count)],
            "sample": ["published"] * count,
            "quantity": ["ei"] * count,
            "position_in": [float(n % 16) for n in range(count)],
        }
    )
    keys = number_repeats(derive_keys("shaft_reading", table))
    assert len(set(keys.to_pylist())) == count
    assert re.fullmatch(r"[0-9a-f]{20}", keys[0].as_py())


def test_a_key_has_no_more_digits_than_a_person_would_type() -> None:
    """2.3 oz is 65.2038... g and 15 mm is 0.59055... in (NIST SP 811, appendix B)."""
    shaft = {"maker": "Northfold", "model": "Trine", "flex": "S", "weight_g": 2.3 * 28.349523125}
    assert derive_key("shaft", shaft) == "northfold-trine-s-65.2"
    grip = {"maker": "Northfold", "model": "Cord", "weight_g": 51.0, "core_dia_in": 15 / 25.4}
    assert derive_key("grip", grip) == "northfold-cord-51-0.591"
    head = {"maker": "Northfold", "model": "Keel", "loft_deg": 8.25, "hand": "left"}
    assert derive_key("head", head) == "northfold-keel-8.25-left"
