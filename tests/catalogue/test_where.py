"""Conditions as people write them."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from specdb.catalogue import Catalogue
from specdb.catalogue.where import WhereError, parse_where
from specdb.errors import SpecdbError, UnknownKindError


@pytest.fixture
def rack(empty: Catalogue) -> Catalogue:
    """Four shafts; 'd' says little about itself."""
    rows: list[dict[str, Any]] = [
        {"id": "a", "maker": "Northfold", "model": "Trine", "weight_g": 62.5, "tip_dia_in": 0.335, "raw_length_in": 46},
        {
            "id": "b",
            "maker": "northfold",
            "model": "Trine S",
            "weight_g": 75,
            "tip_dia_in": 0.37,
            "raw_length_in": 40.5,
        },
        {"id": "c", "maker": "O'Dell & and", "model": "50%", "weight_g": 110, "tip_dia_in": 0.355, "tip_ei_at_in": 4},
        {"id": "d"},
    ]
    with empty.write() as w:
        for row in rows:
            w.put("shaft", {"club_type": "iron" if row["id"] == "c" else "wood", **row})
    return empty


@pytest.mark.parametrize(
    ("condition", "expected"),
    [
        ("weight_g < 70", "a"),
        ("weight_g<70 and tip_dia_in=0.335", "a"),
        ("weight_g >= 75", "bc"),
        ("weight_g != 75", "ac"),
        ("weight_g <> 75", "ac"),
        ("not weight_g = 75", "ac"),
        ("not (weight_g = 75 or weight_g = 110)", "a"),
        ("weight_g < 70 or weight_g > 100 and club_type = wood", "a"),
        ("(weight_g < 70 or weight_g > 100) and club_type = iron", "c"),
        ("weight_g < 2.5 oz", "a"),
        ("raw_length_in = 40 1/2", "b"),
        ("raw_length_in = '40 1/2 in'", "b"),
        ("raw_length_in > 1156 mm and weight_g < 80", "a"),
        ("tip_dia_in = .370", "b"),
        ("tip_dia_in in (.335, .37)", "ab"),
        ("tip_dia_in not in (.335, .37)", "c"),
        ("maker = NORTHFOLD", "ab"),
        ("maker = 'O''Dell & and'", "c"),
        ("model = Trine S", "b"),
        ("model like 'trine%'", "ab"),
        ("model not like trine%", "c"),
        ("club_type in (iron, wedge)", "c"),
        ("maker is empty", "d"),
        ("maker is not empty and weight_g is not empty", "abc"),
        ("MAKER IS EMPTY", None),
        ("maker IS NOT EMPTY AND NOT id = a", "bc"),
        ("tip_ei_at_in < raw_length_in", ""),
        ("weight_g = -5", ""),
        ('id = "d"', "d"),
    ],
)
def test_rows_found(rack: Catalogue, condition: str, expected: Any) -> None:
    with rack.read() as r:
        if expected is None:
            with pytest.raises(WhereError, match="no field 'MAKER'"):
                r.rows("shaft", where=condition)
        else:
            assert "".join(s.id for s in r.rows("shaft", where=condition)) == expected


def test_other_types(shop: Catalogue) -> None:
    with shop.write() as w:
        base = {"kind": "shaft", "item_id": "trine"}
        w.put("supply", {**base, "id": "x", "backordered": True, "expected_on": "2026-04-01", "ordered": 3})
        w.put("supply", {**base, "id": "y", "backordered": False, "expected_on": "2026-05-01", "ordered": 4})
        for condition, expected in (
            ("backordered = yes", "x"),
            ("backordered = false", "y"),
            ("expected_on < 2026-04-15", "x"),
            ("expected_on = '2026-05-01'", "y"),
            ("ordered > 3.5", "y"),
            ("ordered = 3", "x"),
            ("kind = shaft and item_id = trine", "xy"),
        ):
            assert "".join(s.id for s in w.rows("supply", where=condition)) == expected


@pytest.mark.parametrize(
    ("condition", "position", "message"),
    [
        ("", 1, "empty"),
        ("wieght_g < 70", 1, "no field 'wieght_g'"),
        ("weight_g < 70 and spoon = 3", 19, "no field 'spoon'; it has: id, "),
        ("weight < 70", 1, "no field 'weight'; did you mean weight_g[?] It has: id, "),
        ("Torque < 5", 1, "did you mean torque_deg or torque_gauge_in[?]"),
        ("weight_g < heavy", 12, "weight_g"),
        ("weight_g", 9, "after 'weight_g' a comparison"),
        ("weight_g <", 11, "a value for 'weight_g'"),
        ("weight_g < 70 and", 18, "name of a field"),
        ("weight_g < and", 12, "a value for 'weight_g'"),
        ("(weight_g < 70", 15, "'\\)' was expected"),
        ("weight_g < 70)", 14, "'and' or 'or'"),
        ("weight_g in (60, 70", 20, "'\\)' was expected"),
        ("weight_g in 60", 13, "'\\(' was expected"),
        ("maker = 'Northfold", 9, "never closed"),
        ("maker ! x", 7, "means nothing"),
        ("maker = ''", 9, "write 'maker is empty'"),
        ("maker is Northfold", 10, "only 'empty'"),
        ("weight_g like 6", 10, "'like' is for text"),
        ("club_type = driver", 13, "one of wood, hybrid"),
        ("weight_g < 70; drop table shaft", 12, "weight_g"),
        ("weight_g < tip_dia_in", 12, "not of one kind"),
        ("(" * 60 + "weight_g < 1" + ")" * 60, 51, "50 brackets"),
        ("raw_length_in < 46 g", 17, "raw_length_in"),
    ],
)
def test_mistakes_name_the_place(condition: str, position: int, message: str) -> None:
    with pytest.raises(WhereError, match=message) as caught:
        parse_where("shaft", condition)
    assert caught.value.position == position
    assert f"character {position} " in str(caught.value)


def test_an_unknown_kind() -> None:
    with pytest.raises(UnknownKindError):
        parse_where("spoon", "a = 1")


def test_values_never_reach_the_sql() -> None:
    condition = parse_where("shaft", "maker = 'x'') OR 1=1 --' and weight_g < 70")
    assert condition.sql == '(lower("maker") = lower(?)) AND ("weight_g" < ?)'
    assert condition.parameters == ("x') OR 1=1 --", 70.0)


LANGUAGE = ["<", "=", "!=", "(", ")", ",", "and", "or", "not", "in", "like", "is", "empty"]
OTHERS = ["weight_g", "maker", "'", '"', "70", "1/2", "oz", ";", "--", "Trine", "\u0000", "é", " "]
WORDS = st.sampled_from([*LANGUAGE, *OTHERS])


@settings(max_examples=300, deadline=None)
@given(st.one_of(st.lists(WORDS, max_size=12).map(" ".join), st.text(max_size=40)))
def test_any_text_is_a_condition_or_a_plain_error(text: str) -> None:
    try:
        condition = parse_where("shaft", text)
    except SpecdbError as error:
        said = str(error)
        assert said
    else:
        assert condition.sql.count("?") == len(condition.parameters)
