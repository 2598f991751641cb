"""Fitted clubs by need: backordered first, in words that say why."""

import datetime as dt
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.stock import SupplyState
from specdb.verbs.catalogue.changing import decide, move_stock, set_fields, set_supply
from specdb.verbs.matching.waiting import BACKORDERED, NONE_ON_HAND, NOT_BOOKED, ON_HAND, fitted_clubs, how_to_be_had


@pytest.fixture
def shop(tmp_path: Path) -> Catalogue:
    catalogue = Catalogue.create(tmp_path / "shop.duckdb")
    with catalogue.write() as w:
        w.put("head", {"id": "h", "club_type": "wood", "hand": "right"})
        for shaft in ("a", "b", "c"):
            w.put("shaft", {"id": shaft, "club_type": "wood"})
            club = {"id": f"club-{shaft}", "head_id": "h", "shaft_id": shaft, "playing_length_in": 45.0}
            w.put("club", club)
    return catalogue


def test_without_any_booking_nothing_is_said_to_be_missing(shop: Catalogue) -> None:
    found = fitted_clubs(shop)
    assert [c.key for c in found] == ["club-a", "club-b", "club-c"]
    assert {(c.state, c.supply) for c in found} == {(NOT_BOOKED, "no stock booked")}


def test_backordered_first_then_none_on_hand_then_the_rest(shop: Catalogue) -> None:
    move_stock(shop, "receive", "shaft", "a", 3)
    set_supply(shop, "shaft", "c", {"backordered": True, "ordered": 2, "expected_on": dt.date(2031, 2, 3)})
    found = fitted_clubs(shop)
    assert [(c.key, c.state) for c in found] == [
        ("club-c", BACKORDERED),
        ("club-b", NONE_ON_HAND),
        ("club-a", ON_HAND),
    ]
    assert [c.supply for c in found] == [
        "backordered, 2 on order, expected 2031-02-03",
        "none on hand",
        "3 on hand",
    ]


def test_a_club_with_its_stand_in_chosen_comes_after_those_without(shop: Catalogue) -> None:
    move_stock(shop, "receive", "shaft", "c", 1)
    decide(shop, "club-a", "c", "chosen")
    decide(shop, "club-b", "c", "rejected")
    found = fitted_clubs(shop)
    assert [c.key for c in found] == ["club-b", "club-a", "club-c"]
    assert [c.chosen for c in found] == [(), ("c",), ()]


def test_retired_clubs_wait_for_nothing(shop: Catalogue) -> None:
    set_fields(shop, "club", "club-b", ["status=retired"])
    assert [c.key for c in fitted_clubs(shop)] == ["club-a", "club-c"]


@pytest.mark.parametrize(
    ("pieces", "supply", "state", "words"),
    [
        (None, None, NOT_BOOKED, "no stock booked"),
        (0, None, NONE_ON_HAND, "none on hand"),
        (-1, None, NONE_ON_HAND, "none on hand"),
        (2, SupplyState(0, None, True), ON_HAND, "2 on hand, supplier has none"),
        (0, SupplyState(0, None, True), BACKORDERED, "backordered"),
        (None, SupplyState(4, dt.date(2031, 1, 2), False), NOT_BOOKED,
         "no stock booked, 4 on order, expected 2031-01-02"),
    ],
)  # fmt: skip
def test_how_a_part_is_to_be_had(pieces: int | None, supply: SupplyState | None, state: int, words: str) -> None:
    assert how_to_be_had(pieces, supply) == (state, words)
