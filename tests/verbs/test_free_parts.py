"""What is free of a part: what lies on the shelf less what is kept for orders, and the day more are expected."""

import datetime as dt
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.tui.widgets.words import free_words, shelf_words
from specdb.verbs.catalogue.changing import move_stock, set_supply
from specdb.verbs.catalogue.details import details_of
from specdb.verbs.catalogue.holdings import Free, free_parts, kept_for, on_hand_words, shelf
from specdb.verbs.matching.heads import heads_of
from specdb.verbs.matching.waiting import fitted_clubs
from specdb.verbs.orders.changes import add_order
from specdb.verbs.orders.checks import Wanted
from specdb.verbs.orders.parts import reserve_parts

TODAY = dt.date(2031, 2, 1)


@pytest.fixture
def shop(tmp_path: Path) -> Catalogue:
    catalogue = Catalogue.create(tmp_path / "shop.duckdb")
    with catalogue.write() as w:
        w.put("head", {"id": "h", "club_type": "wood", "hand": "right"})
        for shaft in ("a", "b", "c"):
            w.put("shaft", {"id": shaft, "club_type": "wood"})
        w.put("club", {"id": "club-a", "head_id": "h", "shaft_id": "a", "playing_length_in": 45.0})
    return catalogue


def _said(shop: Catalogue, part: str) -> str:
    with shop.read() as reader:
        found = free_parts(reader, "shaft")
    assert found is not None
    return free_words(found.get(part), TODAY)


def test_where_nothing_is_counted_nobody_is_told_that_there_is_none(shop: Catalogue) -> None:
    with shop.read() as reader:
        assert free_parts(reader, "shaft") is None
        assert free_parts(reader, "club") is None


def test_what_is_kept_for_an_order_is_not_free(shop: Catalogue) -> None:
    move_stock(shop, "receive", "shaft", "a", 2)
    assert _said(shop, "a") == "2 free"
    add_order(shop, "o1", [Wanted(club_id="club-a", quantity=1)])
    reserve_parts(shop, "o1")
    assert _said(shop, "a") == "1 free"
    add_order(shop, "o2", [Wanted(club_id="club-a", quantity=1)])
    reserve_parts(shop, "o2")
    with shop.read() as reader:
        assert (free_parts(reader, "shaft") or {})["a"] == Free(0, 2, None)
    assert _said(shop, "a") == "none free"


def test_what_is_kept_is_said_with_its_order_in_the_same_words_everywhere(shop: Catalogue) -> None:
    move_stock(shop, "receive", "shaft", "a", 3)
    move_stock(shop, "receive", "head", "h", 3)

    def said() -> set[str]:
        with shop.read() as reader:
            heads = kept_for(reader, "head")
        details = details_of(shop, "shaft", "a").shelf
        assert details is not None
        answer = heads_of(shop, "h")
        assert heads.get("h", ()) == answer.kept_for
        return {
            shelf(shop, "shaft", "a")[0].words,
            details.words,
            shelf_words(details)[0],
            on_hand_words(answer.on_hand, answer.kept_for),
            fitted_clubs(shop)[0].supply,
        }

    assert said() == {"3 on hand"}
    add_order(shop, "o1", [Wanted(club_id="club-a", quantity=1)])
    reserve_parts(shop, "o1")
    assert said() == {"3 on hand, 1 kept for o1"}
    add_order(shop, "o2", [Wanted(club_id="club-a", quantity=1)])
    reserve_parts(shop, "o2")
    assert said() == {"3 on hand, 2 kept for 2 orders"}
    line = shelf(shop, "shaft", "a")[0]
    assert (line.kept, line.free, line.to_json()["kept_for"]) == (2, 1, {"o1": 1, "o2": 1})


def test_what_is_on_its_way_is_said_with_its_day(shop: Catalogue) -> None:
    move_stock(shop, "receive", "shaft", "a", 1)
    set_supply(shop, "shaft", "b", {"ordered": 2, "expected_on": dt.date(2031, 2, 9)})
    assert _said(shop, "b") == "expected 9 Feb"
    assert _said(shop, "c") == "none"
