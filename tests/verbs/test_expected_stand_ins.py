"""Shafts that are only expected stand in where that gets an order out sooner or nearer: held against every shaft."""

from __future__ import annotations

import datetime as dt
import random
import shutil
from dataclasses import replace
from pathlib import Path

import pyarrow as pa
import pytest

from specdb.catalogue import Catalogue
from specdb.orders.demand import Demand, Group, Option, PlanRules, Standing, Way
from specdb.orders.needs import Need, UnitKey
from specdb.orders.shelf import Arrival, Shelf
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.matching.substitutes import SearchOptions, substitutes_of
from specdb.verbs.orders.allocation import MOST_SCORE, AllocationOptions, plan_orders
from specdb.verbs.orders.changes import Wanted, add_order
from tests.bench.references import add_fixed_parts
from tests.orders.allocation_cases import TODAY, aims_of, day, exhaustive
from tests.support.random_catalogue import random_shafts

CLUBS, ON_SHELF, COMING = 3, 3, 3


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """Shafts and fitted clubs without stock, and the woods nearest to one of them."""
    path = tmp_path_factory.mktemp("expected") / "shop.duckdb"
    add_fixed_parts(path)
    shop = Catalogue(path)
    shafts, readings = random_shafts(300, seed=11)
    woods = [r["id"] for r in shafts.select(["id", "club_type"]).to_pylist() if r["club_type"] == "wood"]
    with shop.write() as w:
        w.put_many("shaft", shafts)
        ids = pa.array([f"r{i}" for i in range(readings.num_rows)])
        w.put_many("shaft_reading", readings.set_column(0, "id", ids))
    with shop.write() as w:
        w.put("club", {**_CLUB, "id": "club", "shaft_id": woods[0]})
    near = substitutes_of(shop, ClubRequest(club="club"), SearchOptions(top=14)).report.results
    names = [woods[0], *(r.shaft_id for r in near if r.shaft_id != woods[0])]
    with shop.write() as w:
        for n, shaft in enumerate(names):
            w.put("club", {**_CLUB, "id": f"club-{n}", "shaft_id": shaft})
    return path, names


_CLUB = {"head_id": "bench-head", "grip_id": "bench-grip", "playing_length_in": 44.5, "tip_trim_in": 0.5}


def _scores(shop: Catalogue, club: str) -> dict[str, float]:
    """Every shaft that can stand in for a club, by the search over the whole catalogue."""
    found = substitutes_of(shop, ClubRequest(club=club), SearchOptions(top=200)).report.results
    return {r.shaft_id: r.score for r in found if r.score <= MOST_SCORE}


def test_no_plan_with_any_shaft_of_the_catalogue_is_better(bare: tuple[Path, list[str]], tmp_path: Path) -> None:
    path, names = bare
    waited = stood_in = 0
    scores: dict[str, dict[str, float]] = {}
    for seed in range(8):
        dice = random.Random(seed)
        shop = Catalogue(Path(shutil.copy(path, tmp_path / f"{seed}.duckdb")))
        fitted = [dice.randrange(3) for _ in range(CLUBS)]
        on_hand = dict.fromkeys(dice.sample(names[3:], ON_SHELF - dice.randint(0, 2)), 1)
        coming = {s: Arrival(dice.randint(1, 2), day(dice.randint(2, 60))) for s in dice.sample(names, COMING)}
        with shop.write() as w:
            for shaft in on_hand:
                w.put("stock_move", {"kind": "shaft", "item_id": shaft, "quantity": 1, "reason": "received"})
            for shaft, arrival in coming.items():
                row = {"kind": "shaft", "item_id": shaft, "ordered": arrival.pieces, "expected_on": arrival.day}
                w.put("supply", {**row, "supplier": "x"})
        demands = []
        for n, which in enumerate(fitted):
            wanted = day(dice.randint(0, 40))
            club, own = f"club-{which}", names[which]
            add_order(shop, f"o-{n}", [Wanted(club_id=club)], wanted_on=wanted)
            if club not in scores:
                scores[club] = _scores(shop, club)
            options = [Option(own, (Need("shaft", own),))]
            options += [
                Option(s, (Need("shaft", s),), score, Standing.PROPOSED)
                for s, score in scores[club].items()
                if s != own and (s in on_hand or s in coming)
            ]
            group = Group((UnitKey(f"o-{n}", 1, 1, club),), tuple(Way((o,)) for o in options))
            demands.append(Demand(f"o-{n}", (group,), wanted))
        shelf = Shelf(
            {("shaft", s): n for s, n in on_hand.items()},
            {},
            {("shaft", s): (a,) for s, a in coming.items()},
            frozenset({"shaft"}),
        )
        plan = plan_orders(shop, AllocationOptions(today=TODAY)).plan
        assert plan.proved
        best = exhaustive(demands, shelf, PlanRules(today=TODAY))
        assert aims_of(replace(plan)) == best, seed
        units = [u for o in plan.orders for u in o.units]
        stood_in += sum(u.option.standing is Standing.PROPOSED for u in units)
        waited += sum(u.option.standing is Standing.PROPOSED and u.waits_until is not None for u in units)
    assert stood_in > waited > 2  # the cases do ask for it


def test_what_comes_after_the_fitted_shaft_is_not_looked_at(bare: tuple[Path, list[str]], tmp_path: Path) -> None:
    path, names = bare
    shop = Catalogue(Path(shutil.copy(path, tmp_path / "late.duckdb")))

    def planned() -> tuple[str, dt.date | None]:
        (order,) = plan_orders(shop, AllocationOptions(today=TODAY)).plan.orders
        return order.units[0].option.shaft_id, order.day

    def expect(shaft: str, number: int) -> None:
        row = {"kind": "shaft", "item_id": shaft, "ordered": 1, "expected_on": day(number), "supplier": "x"}
        with shop.write() as w:
            w.put("supply", row)

    with shop.write() as w:  # shafts are counted here
        w.put("stock_move", {"kind": "shaft", "item_id": names[9], "quantity": 1, "reason": "received"})
        w.put("stock_move", {"kind": "shaft", "item_id": names[9], "quantity": -1, "reason": "damaged"})
    add_order(shop, "o-1", [Wanted(club_id="club-0")], wanted_on=day(5))
    expect(names[0], 30)
    assert planned() == (names[0], day(30))
    expect(names[2], 35)
    assert planned() == (names[0], day(30))
    expect(names[1], 10)  # late, but sooner than its own
    assert planned() == (names[1], day(10))
