"""The allocation equals an exhaustive search on small cases, and keeps its promises on random ones.

The exhaustive search is written here on its own: every order of serving is not enough, so every combination of day and
options of every order is tried, and the best by the stated costs is taken.
"""

from __future__ import annotations

import datetime as dt
import itertools
import random

import pytest

from specdb.orders.allocation import Option, Plan, Stores, Wish, allocate, cost_of, days_of
from specdb.orders.needs import Part

TODAY = dt.date(2026, 3, 2)


def _day(number: int) -> dt.date:
    return TODAY + dt.timedelta(days=number)


def _fits(taken: list[tuple[dt.date, Option]], stores: Stores) -> bool:
    days = {d for d, _ in taken}
    for day in days:
        used: dict[Part, int] = {}
        for when, option in taken:
            if when <= day:
                for part, pieces in option.needs.items():
                    used[part] = used.get(part, 0) + pieces
        if any(n > stores.by(p, day) for p, n in used.items() if p[0] not in stores.unbooked):
            return False
    return True


def _exhaustive(wishes: list[Wish], stores: Stores) -> tuple[int, float]:
    """Most orders in full, and the least cost of such plans."""
    ways: list[list[tuple[dt.date, tuple[Option, ...]] | None]] = []
    for wish in wishes:
        own: list[tuple[dt.date, tuple[Option, ...]] | None] = [None]
        if not wish.cannot and wish.choices:
            own += [(d, combo) for d in days_of(wish, stores, TODAY) for combo in itertools.product(*wish.choices)]
        ways.append(own)
    best = (0, 0.0)
    for plan in itertools.product(*ways):
        taken = [(p[0], o) for p in plan if p is not None for o in p[1]]
        if not _fits(taken, stores):
            continue
        cost = sum(cost_of(w, p[1], p[0], TODAY) for w, p in zip(wishes, plan, strict=True) if p is not None)
        count = sum(p is not None for p in plan)
        if (-count, cost) < (-best[0], best[1]) or (count, best) == (0, (0, 0.0)):
            best = (count, cost)
    return best


def _random_case(seed: int, orders: int, options: int) -> tuple[list[Wish], Stores]:
    rng = random.Random(seed)
    shafts = [("shaft", f"s{i}") for i in range(4)]
    heads = [("head", f"h{i}") for i in range(2)]
    free = {p: rng.randint(0, 2) for p in shafts + heads}
    arrivals = {p: [(_day(rng.randint(1, 20)), rng.randint(1, 2))] for p in shafts if rng.random() < 0.5}
    wishes = []
    for i in range(orders):
        choices = []
        for _ in range(rng.choice([1, 1, 2])):
            own = rng.sample(shafts, rng.randint(1, options))
            head = rng.choice(heads)
            pieces = rng.choice([1, 1, 1, 2])
            choices.append(
                tuple(
                    Option(
                        p[1], {p: pieces, head: pieces}, 0.0 if k == 0 else round(rng.uniform(0.2, 2.0), 3), int(k > 0)
                    )
                    for k, p in enumerate(own)
                )
            )
        wishes.append(Wish(f"o{i}", _day(rng.randint(-3, 15)) if rng.random() < 0.8 else None, tuple(choices)))
    return wishes, Stores(free, arrivals)


def _check_promises(plan: Plan, wishes: list[Wish], stores: Stores) -> None:
    taken = []
    for wish, done in zip(wishes, plan.orders, strict=True):
        assert wish.order_id == done.order_id
        if done.day is None:
            assert done.options == ()
            assert done.reasons  # no order is left short without a reason
            continue
        assert not done.reasons
        assert len(done.options) == len(wish.choices)
        for option, choice in zip(done.options, wish.choices, strict=True):
            assert option in choice
        taken += [(done.day, o) for o in done.options]
    assert _fits(taken, stores)


@pytest.mark.parametrize("block", range(4))
def test_equal_to_exhaustive_search(block: int) -> None:
    for seed in range(40 * block, 40 * (block + 1)):
        wishes, stores = _random_case(seed, 3, 2)
        plan = allocate(wishes, stores, TODAY)
        count, cost = _exhaustive(wishes, stores)
        assert plan.built == count, seed
        assert plan.cost == pytest.approx(cost, abs=1e-6), seed
        assert (plan.gap, plan.built_gap) == (0.0, 0.0)
        _check_promises(plan, wishes, stores)


@pytest.mark.parametrize("seed", range(12))
def test_larger_plans_keep_every_promise_and_say_why(seed: int) -> None:
    wishes, stores = _random_case(1000 + seed, 25, 3)
    plan = allocate(wishes, stores, TODAY)
    _check_promises(plan, wishes, stores)
    assert allocate(wishes, stores, TODAY).orders == plan.orders  # the same question, the same answer


@pytest.mark.parametrize("seed", range(12))
def test_more_on_the_shelf_is_never_worse(seed: int) -> None:
    wishes, stores = _random_case(2000 + seed, 8, 3)
    before = allocate(wishes, stores, TODAY)
    part = sorted(stores.free)[seed % len(stores.free)]
    after = allocate(wishes, Stores({**stores.free, part: stores.free[part] + 1}, stores.arrivals), TODAY)
    assert after.built >= before.built
    if after.built == before.built:
        assert after.cost <= before.cost + 1e-6


def test_one_shaft_goes_into_one_club_and_the_other_order_is_told_who_has_it() -> None:
    option = Option("reed", {("shaft", "reed"): 1})
    wishes = [Wish("o1", _day(5), ((option,),)), Wish("o2", _day(1), ((option,),))]
    plan = allocate(wishes, Stores({("shaft", "reed"): 1}), TODAY)
    assert plan.built == 1
    left = next(p for p in plan.orders if p.day is None)
    won = next(p for p in plan.orders if p.day is not None)
    assert left.reasons == (f"1 shaft reed short: the 1 there are or come go into {won.order_id}",)


def test_a_stand_in_frees_the_shaft_that_another_order_cannot_do_without() -> None:
    reed, sedge = Option("reed", {("shaft", "reed"): 1}), Option("sedge", {("shaft", "sedge"): 1}, 0.6, 1)
    wishes = [Wish("o1", _day(5), ((reed, sedge),)), Wish("o2", _day(5), ((reed,),))]
    plan = allocate(wishes, Stores({("shaft", "reed"): 1, ("shaft", "sedge"): 1}), TODAY)
    assert [p.options[0].name for p in plan.orders] == ["sedge", "reed"]


def test_waiting_for_the_fitted_shaft_or_building_today_is_weighed_by_days_and_score() -> None:
    fitted = Option("reed", {("shaft", "reed"): 1})
    stand_in = Option("sedge", {("shaft", "sedge"): 1}, 0.6, 0)
    stores = Stores({("shaft", "sedge"): 1}, {("shaft", "reed"): [(_day(10), 1)]})
    in_time = allocate([Wish("o", _day(12), ((fitted, stand_in),))], stores, TODAY).orders[0]
    assert (in_time.day, in_time.options[0].name) == (_day(10), "reed")
    too_late = allocate([Wish("o", _day(1), ((fitted, stand_in),))], stores, TODAY).orders[0]
    assert (too_late.day, too_late.options[0].name) == (TODAY, "sedge")


def test_a_set_takes_all_its_shafts_from_one_model() -> None:
    one = Option("reed irons", {("shaft", "reed-5"): 1, ("shaft", "reed-7"): 1})
    other = Option("sedge irons", {("shaft", "sedge"): 2}, 1.2, 2)
    stores = Stores({("shaft", "reed-5"): 1, ("shaft", "sedge"): 1, ("shaft", "reed-7"): 0})
    plan = allocate([Wish("set", None, ((one, other),))], stores, TODAY)
    assert plan.built == 0  # one of each model would have been enough for two clubs, but no model has both
    assert plan.orders[0].reasons[0].startswith("1 shaft reed-7 short: none on the shelf free")
    stores = Stores({**stores.free, ("shaft", "sedge"): 2})
    assert allocate([Wish("set", None, ((one, other),))], stores, TODAY).orders[0].options == (other,)


def test_what_cannot_be_built_at_all_is_left_and_the_others_are_planned() -> None:
    good = Wish("good", None, ((Option("reed", {("shaft", "reed"): 1}),),))
    bad = Wish("bad", None, (), ("club ashby-9 is not in the catalogue",))
    empty = Wish("empty", None, ((),))
    plan = allocate([bad, good, empty], Stores({("shaft", "reed"): 1}), TODAY)
    assert [p.day for p in plan.orders] == [None, TODAY, None]
    assert plan.orders[0].reasons == ("club ashby-9 is not in the catalogue",)
    assert plan.orders[2].reasons == ("one of its clubs has no shaft that could go in",)


def test_kinds_without_booked_stock_are_never_short() -> None:
    wish = Wish("o", None, ((Option("reed", {("shaft", "reed"): 1, ("grip", "cord"): 1}),),))
    assert allocate([wish], Stores({("shaft", "reed"): 1}, unbooked=frozenset({"grip"})), TODAY).built == 1
    assert allocate([wish], Stores({("shaft", "reed"): 1}), TODAY).built == 0


def test_nothing_to_plan() -> None:
    plan = allocate([], Stores({}), TODAY)
    assert (plan.orders, plan.built, plan.cost) == ((), 0, 0.0)
