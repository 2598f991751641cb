"""A plan is stopped while the solver is at it: at once, with the best plan so far and how far it may be off."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import replace

import pytest

from specdb.catalogue import Catalogue
from specdb.child import Child
from specdb.orders import apart
from specdb.orders.allocation import allocate
from specdb.orders.apart import Question, Solver, answer
from specdb.orders.demand import PlanRules
from specdb.orders.programme import Programme
from specdb.orders.reduce import cases_of, components
from specdb.orders.supply import supply_of
from specdb.verbs.orders.allocation import AllocationOptions, PlanStoppedError, plan_orders
from specdb.verbs.orders.changes import Wanted, add_order
from tests.orders.allocation_cases import TODAY, check_promises, random_case

RULES = PlanRules(today=TODAY, seconds=60.0)


def _questions(seed: int) -> list[Question]:
    demands, shelf, _ = random_case(seed, 25, 4)
    supply = supply_of(shelf, RULES)
    cases, _ = cases_of(demands, supply, TODAY)
    found = []
    for company in components(cases):
        p = Programme(company, supply, RULES)
        found.append(Question(p.aims[0], p.matrix, *p.limits(), p.upper, 60.0))
    return found


def _running(program: str) -> Callable[[str, str], Child | None]:
    """Starts a child that does something else than it should."""
    start = Child.start
    return lambda module, function: start(module, function, program)


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_the_child_finds_what_is_found_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "_HERE_COLUMNS", 0)
    with Solver(lambda: False) as solver:
        for question in _questions(3):
            here, there = answer(question), solver.solve(question)
            assert there is not None
            assert there.x is not None
            assert here.x is not None
            assert (there.proved, float(question.aim @ there.x)) == (here.proved, float(question.aim @ here.x))
        child = solver._child
        assert child is not None  # one for all of them
    assert not _alive(child.pid)


def test_a_child_that_is_stopped_is_gone_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "_HERE_COLUMNS", 0)
    monkeypatch.setattr(Child, "start", _running("import time; time.sleep(600)"))  # a solver that never answers
    asked = [0]

    def stopped() -> bool:
        asked[0] += 1
        return asked[0] > 5

    question = _questions(3)[0]
    with Solver(stopped) as solver:
        solver._start()
        child = solver._child
        assert child is not None
        assert solver.solve(question) is None
        assert not _alive(child.pid)
        assert solver.solve(question) is None  # and it stays stopped
    assert asked[0] < 20


def test_a_child_that_dies_costs_nothing_but_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "_HERE_COLUMNS", 0)
    monkeypatch.setattr(Child, "start", _running("raise SystemExit(1)"))
    question = _questions(3)[0]
    with Solver(lambda: False) as solver:
        found = solver.solve(question)
    assert found is not None
    assert found.proved


def test_a_plan_that_is_stopped_stands_and_says_so() -> None:
    demands, shelf, held = random_case(7, 60, 4)
    shelf = replace(shelf, on_hand={p: 6 * n for p, n in shelf.on_hand.items()})
    plan = allocate(demands, shelf, RULES, held, stopped=lambda: True)
    check_promises(plan, demands, shelf, RULES)
    assert plan.stopped
    assert not plan.proved
    best = allocate(demands, shelf, RULES, held, stopped=lambda: False)
    assert best.proved
    assert not best.stopped
    assert plan.aims[0].value <= best.aims[0].value <= plan.aims[0].bound


def test_stopped_before_there_is_a_plan_nothing_is_changed(shop: Catalogue) -> None:
    add_order(shop, "o-1", [Wanted(club_id="driver")])
    with shop.read() as r:
        before = r.last_change()
    asked: list[float] = []

    def stopped() -> bool:
        asked.append(time.perf_counter())
        return len(asked) > 1

    with pytest.raises(PlanStoppedError, match="nothing was changed"):
        plan_orders(shop, AllocationOptions(), stopped=stopped)
    with shop.read() as r:
        assert r.last_change() == before
