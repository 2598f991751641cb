"""``specdb allocate`` on the demonstration catalogue, and what it keeps."""

from __future__ import annotations

import datetime as dt
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.verbs.orders.allocation import AllocationOptions, plan_orders
from tests.cli.conftest import Command
from tests.support.copies import demo_copy


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("allocate") / "demo.duckdb"
    demo_copy(path)
    return path


@pytest.fixture
def demo(demo_file: Path, tmp_path: Path) -> Path:
    path = tmp_path / "demo.duckdb"
    shutil.copy(demo_file, path)
    return path


def _orders(answer: Any) -> dict[str, Any]:
    return {o["order"]: o for o in answer["orders"]}


def test_every_open_order_is_planned_or_has_a_reason(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    answer = specdb("allocate", "--json", *here).json
    opened = {o["id"] for o in specdb("list", "order", "--json", *here).json if o["state"] in ("open", "at_bench")}
    assert set(_orders(answer)) == opened
    for order in answer["orders"]:
        assert order["today"] != bool(order["reasons"])
        assert (order["built_on"] is None) == (order["outcome"] == "short")
        assert bool(order["clubs"]) == (order["built_on"] is not None)
    assert answer["proved_best"]
    text = specdb("allocate", *here).out
    for key in opened:
        assert key in text
    assert "Proved: no plan is better" in text
    assert [a["aim"] for a in answer["aims"]] == ["orders_in_full", "days_late", "score", "to_approve"]


def test_a_stand_in_is_proposed_approved_turned_down(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    first = _orders(specdb("allocate", "--json", *here).json)["o-1041"]
    proposed = next(c for c in first["clubs"] if c["to_approve"])
    assert proposed["club"] == "ashby-driver"
    assert proposed["shaft"] != "hollin-reach-sker-60-s"
    # without proposals the order waits for the fitted shaft
    alone = _orders(specdb("allocate", "--approved-only", "--json", *here).json)["o-1041"]
    assert alone["outcome"] in ("later", "short")
    specdb("reject", "--club", "ashby-driver", "--shaft", proposed["shaft"], "--why", "too light", *here)
    second = _orders(specdb("allocate", "--json", *here).json)["o-1041"]
    assert all(c["shaft"] != proposed["shaft"] for c in second["clubs"])
    other = next(c for c in second["clubs"] if c["to_approve"])
    specdb(
        "choose", "--club", "ashby-driver", "--shaft", other["shaft"], "--by", "Robin", "--why", "feels right", *here
    )
    third = _orders(specdb("allocate", "--approved-only", "--json", *here).json)["o-1041"]
    assert [c["shaft"] for c in third["clubs"] if c["club"] == "ashby-driver"] == [other["shaft"]]
    assert third["to_approve"] == 0


def test_reserve_keeps_only_what_needs_no_approval_and_never_twice(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    plan = _orders(specdb("allocate", "--json", *here).json)
    today = {k for k, o in plan.items() if o["today"] and not o["to_approve"]}
    kept = specdb("allocate", "--reserve", "--json", "--by", "Robin", *here).json["reserved"]
    assert set(kept) <= today
    assert kept
    again = specdb("allocate", "--reserve", "--json", *here).json
    assert again["reserved"] == {}
    assert {k for k, o in _orders(again).items() if o["today"]} >= today
    assert specdb("check", *here).status == 0
    # what is kept for one order is not there for another
    rows = specdb("list", "reservation", "--json", *here).json
    for key in today:
        assert any(r["order_id"] == key for r in rows)


def test_an_order_that_cannot_be_built_is_left_with_the_reason(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    specdb("set", "club", "ashby-driver", "status=retired", *here)
    found = _orders(specdb("allocate", "--json", *here).json)
    assert any("retired" in r for r in found["o-1041"]["reasons"])
    assert sum(o["built_on"] is not None for o in found.values()) >= 3


def test_why_an_order_waits_or_is_short_is_said_with_part_and_day(demo: Path) -> None:
    # the demonstration's dates stand still, so the day of the plan is given
    options = AllocationOptions(propose=False, today=dt.date(2026, 11, 25))
    waits = _orders(plan_orders(Catalogue(demo), options).to_json())["o-1041"]
    assert (waits["outcome"], waits["built_on"], waits["days_late"]) == ("later", "2027-02-19", 70)
    assert [(x["item_id"], x["comes_on"]) for x in waits["lacks"]] == [("hollin-reach-sker-60-s", "2027-02-19")]
    assert "comes on 2027-02-19 (none on the shelf)" in waits["reasons"][0]
    arrives = {p["item_id"]: p["arrives_on"] for c in waits["clubs"] for p in c["parts"]}
    assert arrives["hollin-reach-sker-60-s"] == "2027-02-19"
    # counting only on what comes before, it is left short, and told so
    early = replace(options, until=dt.date(2027, 2, 18))
    short = _orders(plan_orders(Catalogue(demo), early).to_json())["o-1041"]
    assert short["outcome"] == "short"
    assert any("expected on 2027-02-19, too late for this plan" in r for r in short["reasons"])


def test_what_is_kept_for_one_order_is_named_to_the_other(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    specdb("stock", "receive", "shaft", "hollin-reach-sker-60-s", "1", *here)
    assert specdb("order", "reserve", "o-1041", *here).status in (0, 1)
    specdb("set", "order", "o-2000", "state=open", "--new", *here)
    specdb("set", "order_line", "o-2000/1", "club_id=ashby-driver", "quantity=1", "--new", *here)
    found = _orders(specdb("allocate", "--approved-only", "--json", *here).json)["o-2000"]
    lack = next(x for x in found["lacks"] if x["item_id"] == "hollin-reach-sker-60-s")
    assert lack["kept_for"] == {"o-1041": 1}
    assert any("kept for o-1041" in r for r in found["reasons"])


def test_clubs_that_ask_the_same_are_looked_up_once(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    before = specdb("allocate", "--json", *here).json["stand_ins_looked_for"]
    specdb("set", "order", "o-2000", "state=open", "--new", *here)
    specdb("set", "order_line", "o-2000/1", "club_id=ashby-driver", "quantity=3", "--new", *here)
    after = specdb("allocate", "--json", *here).json
    assert after["stand_ins_looked_for"] == before
    assert len(_orders(after)["o-2000"]["clubs"]) in (0, 3)


def test_an_order_may_come_first_and_must_be_open(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    assert specdb("allocate", "--first", "o-1041", *here).status == 0
    ran = specdb("allocate", "--first", "o-9999", *here)
    assert ran.status == 2
    assert "o-9999" in ran.err


def test_no_stand_in_above_the_largest_score_is_proposed(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    for limit in ("0.1", "0.8"):
        answer = specdb("allocate", "--max-score", limit, "--json", *here).json
        scores = [c["score"] for o in answer["orders"] for c in o["clubs"] if c["to_approve"]]
        assert all(s <= float(limit) for s in scores)


def _irons(plan: dict[str, Any]) -> list[Any]:
    return [c for c in plan["o-1043"]["clubs"] if c["set"] == "tansley-irons"]


def test_a_set_is_proposed_approved_and_turned_down_as_one_model(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    assert {c["standing"] for c in _irons(_orders(specdb("allocate", "--json", *here).json))} == {"fitted"}
    specdb("stock", "count", "shaft", "stavely-tenter-parallel-115-s", "2", *here)  # three are needed
    proposed = _irons(_orders(specdb("allocate", "--json", *here).json))
    assert [c["standing"] for c in proposed] == ["proposed"] * 3
    assert len({c["model"] for c in proposed}) == 1
    text = specdb("allocate", *here).out
    assert proposed[0]["model"] in " ".join(text.split())
    shaft = proposed[0]["shaft"]
    assert specdb("choose", "--set", "tansley-irons", "--shaft", shaft, "--by", "Robin", *here).status == 0
    approved = _irons(_orders(specdb("allocate", "--approved-only", "--json", *here).json))
    assert [(c["standing"], c["shaft"]) for c in approved] == [("approved", c["shaft"]) for c in proposed]
    # turned down for one of its clubs, the model is out for the set
    specdb("reject", "--club", proposed[0]["club"], "--shaft", shaft, "--why", "too heavy", *here)
    after = _irons(_orders(specdb("allocate", "--json", *here).json))
    assert all(c["shaft"] != shaft for c in after)
    assert len({c["model"] for c in after}) <= 1


def test_a_club_whose_shaft_was_retired_gets_a_stand_in_or_its_order_the_reason(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    specdb("retire", "shaft", "hollin-reach-sker-60-s", *here)
    plan = _orders(specdb("allocate", "--json", *here).json)
    assert [c["shaft"] for c in plan["o-1041"]["clubs"] if c["club"] == "ashby-driver"] != ["hollin-reach-sker-60-s"]
    alone = _orders(specdb("allocate", "--approved-only", "--until", "2026-01-01", "--json", *here).json)
    assert alone["o-1041"]["outcome"] == "short"
    assert any("no longer offered" in r for r in alone["o-1041"]["reasons"])
    assert alone["o-1045"]["outcome"] == "today"  # the others are planned
