"""The allocation equals an exhaustive search on small cases, and keeps its promises on larger ones."""

from __future__ import annotations

from dataclasses import replace

import pytest

from specdb.orders.allocation import allocate
from specdb.orders.demand import Demand, Group, Option, PlanRules, Standing, Way
from specdb.orders.needs import Need, Part, UnitKey
from specdb.orders.plan import Plan
from specdb.orders.shelf import Arrival, Shelf
from tests.orders.allocation_cases import TODAY, aims_of, check_promises, club, day, exhaustive, option, random_case

RULES = PlanRules(today=TODAY)
KINDS = frozenset({"shaft", "head"})


def _shelf(arrivals: dict[Part, tuple[Arrival, ...]] | None = None, **shafts: int) -> Shelf:
    return Shelf({("shaft", s): n for s, n in shafts.items()}, {}, arrivals or {}, KINDS)


def _coming(**shafts: Arrival) -> dict[Part, tuple[Arrival, ...]]:
    return {("shaft", s): (a,) for s, a in shafts.items()}


def _outcomes(plan: Plan) -> dict[str, tuple[str, int | None]]:
    return {o.order_id: (str(o.outcome), None if o.day is None else (o.day - TODAY).days) for o in plan.orders}


@pytest.mark.parametrize("block", range(8))
def test_equal_to_exhaustive_search(block: int) -> None:
    contended = 0
    for seed in range(60 * block, 60 * (block + 1)):
        demands, shelf, held = random_case(seed)
        rules = replace(RULES, by=day(9)) if seed % 5 == 0 else RULES
        plan = allocate(demands, shelf, rules, held)
        full, late, points, approve = aims_of(plan)
        assert (full, late, points, approve) == exhaustive(demands, shelf, rules), seed
        assert plan.proved, seed
        # what is reported is what is planned
        assert [a.value for a in plan.aims] == pytest.approx([-full, late, points / 1000, approve])
        check_promises(plan, demands, shelf, rules)
        contended += 0 < plan.built < len(demands)
    assert contended > 12  # the cases do ask for choices


@pytest.mark.parametrize("seed", range(16))
def test_larger_plans_keep_every_promise_and_are_the_same_each_time(seed: int) -> None:
    demands, shelf, held = random_case(1000 + seed, 25, 4)
    shelf = replace(shelf, on_hand={p: 3 * n for p, n in shelf.on_hand.items()})
    plan = allocate(demands, shelf, RULES, held)
    assert plan.proved
    check_promises(plan, demands, shelf, RULES)
    again = allocate(list(reversed(demands)), shelf, RULES, held)
    assert again.orders == plan.orders


@pytest.mark.parametrize("seed", range(24))
def test_more_stock_is_never_worse(seed: int) -> None:
    demands, shelf, held = random_case(2000 + seed, 8, 3)
    before = aims_of(allocate(demands, shelf, RULES, held))
    part = sorted(shelf.on_hand)[seed % len(shelf.on_hand)]
    more = replace(shelf, on_hand={**shelf.on_hand, part: shelf.on_hand[part] + 1})
    assert aims_of(allocate(demands, more, RULES, held)) <= before
    coming = {**shelf.arrivals, part: (*shelf.arrivals.get(part, ()), Arrival(1, day(3)))}
    assert aims_of(allocate(demands, replace(shelf, arrivals=coming), RULES, held)) <= before


def test_without_time_a_plan_stands_and_says_how_far_it_may_be_off() -> None:
    demands, shelf, held = random_case(7, 60, 4)
    shelf = replace(shelf, on_hand={p: 6 * n for p, n in shelf.on_hand.items()})
    plan = allocate(demands, shelf, replace(RULES, seconds=0.0), held)
    check_promises(plan, demands, shelf, RULES)
    best = allocate(demands, shelf, RULES, held)
    assert best.proved
    assert plan.aims[0].value <= best.aims[0].value <= plan.aims[0].bound


def test_one_shaft_goes_into_one_club_and_the_other_order_is_told_who_has_it() -> None:
    demands = [Demand(o, (club(o, 1, option("reed")),), day(5)) for o in ("o1", "o2")]
    plan = allocate(demands, _shelf(reed=1), RULES)
    assert _outcomes(plan) == {"o1": ("today", 0), "o2": ("short", None)}
    lack = plan.orders[1].lacks[0]
    assert (lack.part, lack.needed, lack.on_hand, lack.goes_to) == (("shaft", "reed"), 1, 1, (("o1", 1),))
    said = "1 shaft reed for o2-club-1 short (1 on the shelf; in this plan for o1; none on order)"
    assert plan.orders[1].reasons[0] == said


def test_the_order_that_would_be_late_is_not_the_one_that_is_dropped() -> None:
    # one piece comes on day 10; the order wanted first gets it, late as it is
    demands = [Demand(o, (club(o, 1, option("reed")),), day(d)) for o, d in (("easy", 24), ("late", 8))]
    plan = allocate(demands, _shelf(_coming(reed=Arrival(1, day(10)))), RULES)
    assert _outcomes(plan) == {"late": ("later", 10), "easy": ("short", None)}
    assert plan.orders[0].days_late == 2


def test_an_urgent_order_is_built_before_one_that_has_time() -> None:
    demands = [Demand(o, (club(o, 1, option("reed")),), wanted) for o, wanted in (("a", None), ("b", day(2)))]
    assert _outcomes(allocate(demands, _shelf(reed=1), RULES)) == {"b": ("today", 0), "a": ("short", None)}


def test_a_stand_in_frees_the_shaft_that_another_order_cannot_do_without() -> None:
    demands = [
        Demand("o1", (club("o1", 1, option("reed"), option("sedge", score=0.6)),), day(5)),
        Demand("o2", (club("o2", 1, option("reed")),), day(5)),
    ]
    plan = allocate(demands, _shelf(reed=1, sedge=1), RULES)
    assert [o.units[0].option.shaft_id for o in plan.orders] == ["sedge", "reed"]
    assert [len(o.to_approve) for o in plan.orders] == [1, 0]


def test_the_fitted_shaft_is_waited_for_while_it_comes_in_time() -> None:
    shelf = _shelf(_coming(reed=Arrival(1, day(10))), sedge=1)
    groups = (club("o", 1, option("reed"), option("sedge", score=0.6)),)
    in_time = allocate([Demand("o", groups, day(12))], shelf, RULES).orders[0]
    assert (in_time.day, in_time.units[0].option.shaft_id) == (day(10), "reed")
    assert in_time.reasons == ("1 shaft reed for o-club-1 comes on 2026-03-12 (none on the shelf)",)
    too_late = allocate([Demand("o", groups, day(1))], shelf, RULES).orders[0]
    assert (too_late.day, too_late.units[0].option.shaft_id) == (TODAY, "sedge")


def test_with_even_scores_the_approved_stand_in_is_taken() -> None:
    asked = option("sedge", score=0.6)
    approved = option("rush", score=0.6, standing=Standing.APPROVED)
    plan = allocate([Demand("o", (club("o", 1, asked, approved),))], _shelf(sedge=1, rush=1), RULES)
    assert plan.orders[0].units[0].option == approved


def test_a_set_takes_all_its_shafts_from_one_model() -> None:
    units = tuple(UnitKey("o", 1, 1, f"iron-{n}") for n in (5, 7))
    fitted = Way((option("reed-5"), option("reed-7")))
    other = Way((option("sedge", score=0.6), option("sedge", score=0.6)), "Sedge")
    demand = Demand("o", (Group(units, (fitted, other), "irons"),))
    short = allocate([demand], Shelf({("shaft", "reed-5"): 1, ("shaft", "sedge"): 1}, {}, {}, KINDS), RULES)
    assert short.built == 0  # one of each would be enough for two clubs, but no model has both
    assert short.orders[0].lacks[0].clubs == ("iron-7",)
    assert "the one other model that was looked at is not to be had either" in short.orders[0].reasons[1]
    plan = allocate([demand], Shelf({("shaft", "reed-5"): 1, ("shaft", "sedge"): 2}, {}, {}, KINDS), RULES)
    assert {u.model for u in plan.orders[0].units} == {"Sedge"}


def test_what_is_kept_is_not_handed_out_and_the_reason_names_the_order_it_is_kept_for() -> None:
    shelf = Shelf({("shaft", "reed"): 2}, {("shaft", "reed"): 2}, {}, KINDS)
    demand = Demand("o", (club("o", 1, option("reed")),))
    plan = allocate([demand], shelf, RULES, {("shaft", "reed"): {"p": 1, "q": 1}})
    assert plan.built == 0
    assert plan.orders[0].lacks[0].kept_for == (("p", 1), ("q", 1))
    assert "2 on the shelf; kept for p, q" in plan.orders[0].reasons[0]


def test_a_club_that_has_its_parts_takes_none() -> None:
    has_all = Demand("has", (Group((UnitKey("has", 1, 1, "c"),), (Way((Option("reed", ()),)),)),), day(30))
    plan = allocate([has_all, Demand("o", (club("o", 1, option("reed")),), day(1))], _shelf(reed=1), RULES)
    assert _outcomes(plan) == {"o": ("today", 0), "has": ("today", 0)}


def test_what_is_overdue_or_has_no_day_is_not_counted_on() -> None:
    demand = Demand("o", (club("o", 1, option("reed")),))
    plan = allocate([demand], _shelf({("shaft", "reed"): (Arrival(3, day(-5)), Arrival(2, None))}), RULES)
    assert _outcomes(plan) == {"o": ("short", None)}
    assert "3 due on 2026-02-25 have not come; 2 on order, no day known" in plan.orders[0].reasons[0]
    today = allocate([demand], _shelf(_coming(reed=Arrival(1, TODAY))), RULES)
    assert _outcomes(today) == {"o": ("later", 1)}  # expected today is not on the shelf yet


def test_only_what_comes_by_a_day_counts() -> None:
    demand = Demand("o", (club("o", 1, option("reed")),))
    shelf = _shelf(_coming(reed=Arrival(1, day(10))))
    assert _outcomes(allocate([demand], shelf, replace(RULES, by=day(10)))) == {"o": ("later", 10)}
    plan = allocate([demand], shelf, replace(RULES, by=day(9)))
    assert _outcomes(plan) == {"o": ("short", None)}
    assert "1 expected on 2026-03-12, too late for this plan" in plan.orders[0].reasons[0]


def test_an_order_may_come_first_whatever_it_costs_the_others() -> None:
    both = Demand("both", (club("both", 1, option("reed")), club("both", 2, option("reed"))), day(40))
    others = [Demand(o, (club(o, 1, option("reed")),), day(1)) for o in ("o1", "o2")]
    assert _outcomes(allocate([both, *others], _shelf(reed=2), RULES))["both"] == ("short", None)
    first = replace(RULES, first=("both",))
    plan = allocate([both, *others], _shelf(reed=2), first)
    assert _outcomes(plan) == {"o1": ("short", None), "o2": ("short", None), "both": ("today", 0)}
    cannot = allocate([both, *others], _shelf(reed=1), first)
    assert _outcomes(cannot)["o1"] == ("today", 0)
    assert "it cannot be built in full even if it comes first" in cannot.orders[-1].reasons


def test_what_cannot_be_planned_is_left_with_its_reason_and_the_others_are_planned() -> None:
    bad = Demand("bad", (club("bad", 1, option("reed")),), day(1), obstacles=("line 1: there is no club ashby-9",))
    empty = Demand("empty", (Group((UnitKey("empty", 1, 1, "c"),), ()),))
    good = Demand("good", (club("good", 1, option("reed")),), day(9))
    plan = allocate([bad, empty, good], _shelf(reed=1), RULES)
    assert _outcomes(plan) == {"bad": ("short", None), "good": ("today", 0), "empty": ("short", None)}
    assert plan.orders[0].reasons == ("line 1: there is no club ashby-9",)
    assert plan.orders[2].reasons == ("c: there is no shaft that could go in",)


def test_a_retired_shaft_that_will_not_come_again_is_said_to_be_so() -> None:
    shelf = replace(_shelf(), retired=frozenset({("shaft", "reed")}))
    plan = allocate([Demand("o", (club("o", 1, option("reed")),))], shelf, RULES)
    assert "no longer offered" in plan.orders[0].reasons[0]


def test_kinds_without_booked_stock_are_never_short() -> None:
    demand = Demand("o", (club("o", 1, option("reed", "g0")),))
    assert allocate([demand], _shelf(reed=1), RULES).built == 1
    booked = replace(_shelf(reed=1), kept=frozenset({"shaft", "grip"}))
    assert allocate([demand], booked, RULES).orders[0].lacks[0].part == ("grip", "g0")


def test_more_than_one_piece_of_a_part_for_one_club() -> None:
    two = Option("reed", (Need("shaft", "reed", 2),))
    order = allocate(
        [Demand("o", (club("o", 1, two),))], _shelf(_coming(reed=Arrival(1, day(4))), reed=1), RULES
    ).orders[0]
    assert order.day == day(4)
    assert [(p.need.quantity, p.arrives_on) for p in order.units[0].pieces] == [(1, None), (1, day(4))]


def test_nothing_to_plan() -> None:
    plan = allocate([], Shelf(), RULES)
    assert (plan.orders, plan.built, plan.gap, plan.proved) == ((), 0, 0.0, True)


def test_a_way_names_a_shaft_for_every_club() -> None:
    with pytest.raises(ValueError, match="one shaft for every club"):
        Group((UnitKey("o", 1, 1, "a"), UnitKey("o", 1, 1, "b")), (Way((option("reed"),)),))
