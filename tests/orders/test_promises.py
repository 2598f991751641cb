"""Stock never goes negative unnoticed and no part is promised twice, whatever is done in whatever order.

What holds is counted from the journal and from the stored rows, independently of the code under test.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
from collections import Counter
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from specdb.catalogue.promises import Beyond
from specdb.errors import SpecdbError
from specdb.orders.plan import Outcome
from specdb.verbs.orders.allocation import AllocationOptions, plan_orders
from specdb.verbs.orders.changes import Wanted, add_order
from specdb.verbs.orders.orders import orders_of
from specdb.verbs.orders.parts import reserve_parts
from specdb.verbs.reports.reports import shortage_report
from tests.orders.replay import broken_promises, loose_ends, who_has_what
from tests.orders.workers import acts
from tests.support.thorough import many

STEPS = 20
WORKERS, EACH = 4, 20


def _orders(shop: Catalogue) -> None:
    """Some orders to begin with; what is kept for them is not all there is."""
    for number, line in enumerate((Wanted(club_id="driver"), Wanted(set_id="irons"), Wanted(club_id="driver"))):
        add_order(shop, f"o-{number}", [line])
    reserve_parts(shop, "o-1")


def _missing(shop: Catalogue) -> dict[tuple[str, str], int]:
    """By part, how many more are held than there are."""
    found: Counter[tuple[str, str]] = Counter()
    with shop.read() as r:
        for kept in r.rows("reservation"):
            if kept.state == "held":
                found[kept.kind, kept.item_id] += kept.quantity
        for part in found:
            found[part] -= r.stock(part[0]).get(part[1], 0)
    return {part: count for part, count in found.items() if count > 0}


def _short_orders_say_so(shop: Catalogue) -> None:
    """What is kept and not there is short for the orders that come last, in every view, and no plan builds on it."""
    dealt = who_has_what(shop)
    short = set()
    for view in orders_of(shop):
        for s in view.states:
            mine = (s.unit.order_id, s.unit.line, s.unit.unit, s.unit.club_id, s.need.part)
            assert (s.reserved, s.gone) == dealt.get(mine, (0, 0))
            assert s.waiting >= s.gone
            if s.gone:
                short.add(view.order.id)
                assert not view.buildable_now
                assert any(s.need.item_id in problem for problem in view.problems)
    today = plan_orders(shop, AllocationOptions(propose=False)).plan.of(Outcome.TODAY)
    # a club whose kept shaft is gone may be built today, but with another one
    for planned in today:
        for unit in planned.units:
            key = (unit.key.order_id, unit.key.line, unit.key.unit, unit.key.club_id)
            gone = {part for (*k, part), (_, lacks) in dealt.items() if tuple(k) == key and lacks}
            assert ("shaft", unit.option.shaft_id) not in gone
            assert not {part for part in gone if part[0] in ("grip", "head")}
    held_up = {order.partition(" ")[0] for line in shortage_report(shop).lines for order in line.orders}
    assert short <= held_up


@settings(max_examples=many(4, 8), deadline=None, suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 2**32 - 1))
def test_no_order_of_operations_breaks_a_promise(
    seed: int, filled: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("promises") / "shop.duckdb"
    shutil.copy(filled, path)
    told: list[Beyond] = []
    shop = Catalogue(path, when_beyond=told.extend)
    _orders(shop)
    dice = random.Random(seed)
    missing: dict[tuple[str, str], int] = {}
    for _ in range(STEPS):
        told.clear()
        name, act = acts(dice)
        with suppress(SpecdbError):
            act(shop)
        now = _missing(shop)
        worse = {part for part, count in now.items() if count > missing.get(part, 0)}
        assert worse == {(b.kind, b.item_id) for b in told}, name  # said at once, and only then
        assert not worse or name in ("count", "damage"), name
        assert all(b.orders and b.missing == now[b.kind, b.item_id] for b in told)
        if now or missing:
            _short_orders_say_so(shop)
        missing = now
    assert broken_promises(shop) == []
    assert loose_ends(shop) == []
    findings = check_catalogue(path)
    assert [f for f in findings if f.severity == "error"] == []
    assert len([f for f in findings if "cannot be had" in f.message]) == len(missing)


@pytest.mark.slow
def test_several_programs_at_once_break_no_promise(shop: Catalogue) -> None:
    _orders(shop)
    command = [sys.executable, "-m", "tests.orders.workers", str(shop.path)]
    running = [
        subprocess.Popen([*command, str(seed), str(EACH)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for seed in range(WORKERS)
    ]
    done: Counter[str] = Counter()
    refused: list[str] = []
    for process in running:
        out, err = process.communicate(timeout=240)
        assert (process.returncode, err) == (0, "")
        for line in out.splitlines():
            outcome, name, *_ = line.split()
            done[name] += outcome == "done"
            if outcome == "refused":
                refused.append(line)
    assert {"receive", "reserve", "undo"} <= {name for name, times in done.items() if times}
    assert not [line for line in refused if "Busy" in line]
    assert broken_promises(shop) == []
    assert loose_ends(shop) == []
    assert [f for f in check_catalogue(shop.path) if f.severity == "error"] == []


def test_the_judge_of_these_tests_sees_a_broken_promise(shop: Catalogue) -> None:
    """Rows written past the rules are found by the replay, so that the tests above can fail."""
    with shop.open_file(write=True, what="test") as con:
        con.execute(
            "INSERT INTO reservation (id, order_id, line, unit, club_id, kind, item_id, quantity, state) "
            "VALUES ('a', 'o-1', 1, 1, 'driver', 'shaft', 'reed', 2, 'held')"
        )
        after = json.dumps({"kind": "shaft", "item_id": "reed", "quantity": 2, "state": "held"})
        con.execute(
            'INSERT INTO change (change_no, row_no, "at", kind, item_key, action, after) '
            "VALUES (99, 1, now(), 'reservation', 'a', 'added', ?)",
            [after],
        )
    assert broken_promises(shop) == ["change 99 (None): -1 of ('shaft', 'reed') free"]
