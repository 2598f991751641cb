"""What is kept for another club is no stand-in that lies on the shelf; what is kept for the club itself is."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pytest

from specdb.catalogue import Catalogue
from specdb.verbs.catalogue.changing import move_stock
from specdb.verbs.catalogue.holdings import free_pieces
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.matching.substitutes import SearchOptions, SubstitutesAnswer, substitutes_of
from specdb.verbs.orders.changes import Wanted, add_order
from specdb.verbs.orders.parts import reserve_parts
from specdb.verbs.stiffness.like import like
from tests.bench.references import add_fixed_parts
from tests.support.random_catalogue import random_shafts

_CLUB = {"head_id": "bench-head", "grip_id": "bench-grip", "playing_length_in": 44.5, "tip_trim_in": 0.5}
EVERYTHING, FREE = SearchOptions(top=40), SearchOptions(top=40, in_stock=True)


@pytest.fixture
def shop(tmp_path: Path) -> tuple[Catalogue, str]:
    """Two fitted clubs of different shafts, both kept for orders, and the key of the second one's shaft."""
    path = tmp_path / "shop.duckdb"
    add_fixed_parts(path)
    shop = Catalogue(path)
    shafts, readings = random_shafts(40, seed=3)
    woods = [r["id"] for r in shafts.select(["id", "club_type"]).to_pylist() if r["club_type"] == "wood"]
    with shop.write() as w:
        w.put_many("shaft", shafts)
        ids = pa.array([f"r{i}" for i in range(readings.num_rows)])
        w.put_many("shaft_reading", readings.set_column(0, "id", ids))
        w.put("club", {**_CLUB, "id": "mine", "shaft_id": woods[0]})
    near = substitutes_of(shop, ClubRequest(club="mine"), EVERYTHING).report.results
    other = next(r.shaft_id for r in near if r.shaft_id != woods[0])
    with shop.write() as w:
        w.put("club", {**_CLUB, "id": "theirs", "shaft_id": other})
    for shaft in (woods[0], other):
        move_stock(shop, "receive", "shaft", shaft, 1)
    add_order(shop, "o-mine", [Wanted(club_id="mine")])
    add_order(shop, "o-theirs", [Wanted(club_id="theirs")])
    return shop, other


def _free(answer: SubstitutesAnswer) -> dict[str, int | None]:
    return {r.shaft_id: r.in_stock for r in answer.report.results}


def _asked(shop: Catalogue, club: str, how: SearchOptions) -> dict[str, int | None]:
    return _free(substitutes_of(shop, ClubRequest(club=club), how))


def test_a_piece_kept_for_another_club_is_not_free(shop: tuple[Catalogue, str]) -> None:
    catalogue, other = shop
    assert _asked(catalogue, "mine", FREE)[other] == 1
    assert other in {n.shaft_id for n in like(catalogue, _own(catalogue), top=40, in_stock=True).results}
    reserve_parts(catalogue, "o-theirs")
    assert other not in _asked(catalogue, "mine", FREE)
    assert _asked(catalogue, "mine", EVERYTHING)[other] == 0
    left_out = substitutes_of(catalogue, ClubRequest(club="mine"), FREE).report.excluded
    assert left_out.why(other) == "none free"
    assert other not in {n.shaft_id for n in like(catalogue, _own(catalogue), top=40, in_stock=True).results}


def test_a_piece_kept_for_the_club_itself_is_free_for_it(shop: tuple[Catalogue, str]) -> None:
    catalogue, other = shop
    reserve_parts(catalogue, "o-theirs")
    with catalogue.read() as reader:
        assert free_pieces(reader, "shaft")[other] == 0
        assert free_pieces(reader, "shaft", ["theirs"])[other] == 1


def test_of_the_fitted_shaft_all_pieces_are_said(shop: tuple[Catalogue, str]) -> None:
    catalogue, _ = shop
    reserve_parts(catalogue, "o-mine")
    answer = substitutes_of(catalogue, ClubRequest(club="mine"), EVERYTHING)
    assert (answer.on_hand, answer.kept_for) == (1, (("o-mine", 1),))


def _own(catalogue: Catalogue) -> str:
    with catalogue.read() as reader:
        shaft: str = reader.get("club", "mine").shaft_id
    return shaft
