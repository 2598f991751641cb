"""``specdb allocate`` on the demonstration catalogue, and what it keeps."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from specdb.verbs.demonstration import demo_catalogue
from tests.cli.conftest import Command


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("allocate") / "demo.duckdb"
    demo_catalogue(path)
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
        assert (order["built_on"] is None) == bool(order["reasons"])
        assert bool(order["clubs"]) == (order["built_on"] is not None)
    assert answer["proved_best"]
    text = specdb("allocate", *here).out
    for key in opened:
        assert key in text
    assert "proved best" in text


def test_a_stand_in_is_proposed_approved_turned_down(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    first = _orders(specdb("allocate", "--json", *here).json)["o-1041"]
    proposed = next(c for c in first["clubs"] if c["to_approve"])
    assert proposed["club"] == "ashby-driver"
    assert proposed["shaft"] != "hollin-reach-sker-60-s"
    # without proposals the order waits for the fitted shaft, which is expected in February
    alone = _orders(specdb("allocate", "--approved-only", "--json", *here).json)["o-1041"]
    assert alone["built_on"] == "2027-02-19"
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
