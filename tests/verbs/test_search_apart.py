"""Stand-ins looked for with a second process: the same answers as with one, whatever becomes of that process."""

from __future__ import annotations

import datetime as dt
import os
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

from specdb.catalogue import Catalogue
from specdb.child import Child, ChildGoneError
from specdb.orders.demand import PlanRules, Standing
from specdb.verbs.orders import search_apart
from specdb.verbs.orders.allocation import AllocationOptions, plan_orders
from specdb.verbs.orders.allocation_search import Answer, Ask, StandIns
from specdb.verbs.orders.changes import Wanted, add_order
from specdb.verbs.orders.orders import read_book
from specdb.verbs.orders.search_apart import Searching, look_up
from tests.bench.references import add_fixed_parts
from tests.support.random_catalogue import random_shafts

RULES = PlanRules(today=dt.date(2031, 3, 2))
CLUBS, NEVER = 6, 1_000
_CLUB = {"head_id": "bench-head", "grip_id": "bench-grip", "tip_trim_in": 0.5}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Clubs whose shafts are not there, one of which cannot be worked out, and other shafts that are."""
    path = tmp_path_factory.mktemp("apart") / "shop.duckdb"
    add_fixed_parts(path)
    shop = Catalogue(path)
    shafts, readings = random_shafts(40, seed=5)
    woods = [r["id"] for r in shafts.select(["id", "club_type"]).to_pylist() if r["club_type"] == "wood"]
    dice = random.Random(4)
    with shop.write() as w:
        w.put_many("shaft", shafts)
        ids = pa.array([f"r{i}" for i in range(readings.num_rows)])
        w.put_many("shaft_reading", readings.set_column(0, "id", ids))
        w.put("shaft", {"id": "unknown", "club_type": "wood"})
        for n, shaft in enumerate([*dice.sample(woods, CLUBS - 1), "unknown"]):
            w.put("club", {**_CLUB, "id": f"club-{n}", "shaft_id": shaft, "playing_length_in": 44.5})
        for shaft in dice.sample(woods, 10):
            w.put("stock_move", {"kind": "shaft", "item_id": shaft, "quantity": 1, "reason": "received"})
    for n in range(CLUBS):
        add_order(shop, f"o-{n}", [Wanted(club_id=f"club-{n}")])
    return path


@contextmanager
def _searching(path: Path) -> Iterator[tuple[StandIns, list[Ask], Searching]]:
    with Catalogue(path).read() as reader:
        book = read_book(reader)
        asks = [Ask(None, (book.clubs[f"club-{n}"],), None) for n in range(CLUBS)]
        yield StandIns(reader, book, 4, 3.0, RULES), asks, Searching(path, 4, 3.0, RULES)


def _answers(path: Path, fewest: int) -> tuple[list[Answer], list[str], int]:
    told: list[tuple[int, int]] = []
    with _searching(path) as (stand_ins, asks, how):
        look_up(stand_ins, [*asks, asks[0]], how, lambda done, total: told.append((done, total)), fewest)
        assert all(stand_ins.known(ask) for ask in asks)
        answers = [stand_ins.answer(ask) for ask in asks]
        assert stand_ins.looked == CLUBS  # what asks the same is looked for once
        assert told[0] == (0, CLUBS)
        assert told[-1] == (CLUBS, CLUBS)
        return answers, sorted(stand_ins.failed), stand_ins.looked


def _instead(program: str) -> Callable[[str, str], Child | None]:
    start = Child.start
    return lambda module, function: start(module, function, program)


def test_two_processes_find_what_one_finds(shop: Path) -> None:
    alone, together = _answers(shop, NEVER), _answers(shop, 1)
    assert together == alone
    assert any(len(a.clubs) > 1 for a in alone[0])
    assert [text.partition(":")[0] for text in alone[1]] == [f"club-{CLUBS - 1}"]


def test_a_child_does_the_work_where_it_is_given_all_of_it(shop: Path) -> None:
    alone, _, _ = _answers(shop, NEVER)
    with _searching(shop) as (_, asks, how):
        child = Child.start("specdb.verbs.orders.search_apart", "serve")
        assert child is not None
        try:
            for ask, answer in zip(asks, alone, strict=True):
                child.ask((how, ask))
                assert child.answer(120.0) == (answer,)
        finally:
            child.end()
        with pytest.raises(ProcessLookupError):
            os.kill(child.pid, 0)


@pytest.mark.parametrize("program", ["raise SystemExit(1)", "import time; time.sleep(600)"])
def test_a_child_that_dies_loses_no_answer(shop: Path, program: str, monkeypatch: pytest.MonkeyPatch) -> None:
    alone = _answers(shop, NEVER)
    monkeypatch.setattr(Child, "start", _instead(program))
    monkeypatch.setattr(search_apart, "_PATIENCE_SECONDS", 1.0)
    assert _answers(shop, 1) == alone


def test_whoever_stops_it_leaves_no_child_behind(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ended: list[int] = []
    end = Child.end

    def ending(child: Child) -> None:
        ended.append(child.pid)
        end(child)

    monkeypatch.setattr(Child, "end", ending)

    def stop(done: int, _total: int) -> None:
        if done:
            raise KeyboardInterrupt

    with _searching(shop) as (stand_ins, asks, how), pytest.raises(KeyboardInterrupt):
        look_up(stand_ins, asks, how, stop, 1)
    assert len(ended) == 1
    with pytest.raises(ProcessLookupError):
        os.kill(ended[0], 0)


def test_the_plan_asks_beforehand_all_that_it_needs(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def again(_: StandIns, ask: Ask) -> Answer:
        raise AssertionError(ask)

    def beforehand(*how: Any) -> None:
        look_up(*how)
        monkeypatch.setattr(StandIns, "work_out", again)

    monkeypatch.setattr("specdb.verbs.orders.allocation.look_up", beforehand)
    answer = plan_orders(Catalogue(shop), AllocationOptions(today=RULES.today))
    assert answer.looked > 1
    standings = {unit.option.standing for order in answer.plan.orders for unit in order.units}
    assert Standing.PROPOSED in standings


def test_a_child_that_is_gone_says_so() -> None:
    child = Child.start("specdb.verbs.orders.search_apart", "serve", "raise SystemExit(1)")
    if child is not None:
        with pytest.raises(ChildGoneError):
            child.answer(20.0)
        child.end()
