"""The state of an order follows the work on its clubs; one outside its tolerance is finished only with a reason."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import specdb
from specdb.catalogue import Catalogue
from specdb.errors import ConflictError
from specdb.orders.tolerances import TOLERANCES
from specdb.verbs.building.as_built import Finished, built_answer
from specdb.verbs.building.finished_clubs import Measured, keep_built
from specdb.verbs.orders.changes import set_order_state
from specdb.verbs.orders.orders import order_of
from specdb.verbs.orders.parts import Which, reserve_parts, use_parts
from specdb.verbs.orders.working import (
    OutsideToleranceError,
    look_at_finishing,
    put_on_bench,
    take_off_bench,
)
from tests.support.copies import demo_copy

ORDER, CLUBS = "o-1043", ("tansley-6-iron", "tansley-8-iron", "tansley-pw")


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("working") / "demo.duckdb"
    demo_copy(path)
    return path


@pytest.fixture
def shop(demo_file: Path, tmp_path: Path) -> Catalogue:
    path = tmp_path / "demo.duckdb"
    shutil.copy(demo_file, path)
    return specdb.open(path)


def _state(shop: Catalogue) -> str:
    return order_of(shop, ORDER).order.state


def _finished(shop: Catalogue, club: str) -> Finished:
    unit = next(u.key for u in order_of(shop, ORDER).units if u.key.club_id == club)
    return Finished(club=club, order=ORDER, line=unit.line, unit=unit.unit)


def _as_wanted(shop: Catalogue, club: str) -> dict[str, float]:
    expected = built_answer(shop, _finished(shop, club)).expected
    assert expected is not None
    aims = {q: a.target for q, a in expected.aims.items() if TOLERANCES[q].required}
    return {q: target for q, target in aims.items() if target is not None}


def test_the_first_part_built_in_brings_the_order_to_the_bench_in_the_same_change(shop: Catalogue) -> None:
    reserve_parts(shop, ORDER)
    assert _state(shop) == "open"
    done = use_parts(shop, ORDER, Which(club_id=CLUBS[0]))
    assert "order o-1043 is at the bench now" in done.said
    assert _state(shop) == "at_bench"
    with shop.read() as reader:
        newest = reader.history("order", ORDER, limit=1)[0]
        assert newest.differences()["state"] == ("open", "at_bench")
        assert newest.change_no == reader.last_change()
    specdb.undo(shop)
    assert _state(shop) == "open"
    assert all(s.reserved and not s.used for s in order_of(shop, ORDER).states)


def test_the_first_value_measured_does_too_and_one_cancelled_is_left_alone(shop: Catalogue) -> None:
    answer = keep_built(shop, _finished(shop, CLUBS[0]), Measured(values={"length": 37.0}))
    assert "order o-1043 is at the bench now" in answer.said
    assert _state(shop) == "at_bench"
    again = keep_built(shop, _finished(shop, CLUBS[0]), Measured(values={"length": 37.03125}))
    assert again.said == ()
    set_order_state(shop, ORDER, "cancelled")
    keep_built(shop, _finished(shop, CLUBS[0]), Measured(values={"length": 37.0}))
    assert _state(shop) == "cancelled"


def test_a_tick_brings_it_to_the_bench_and_its_taking_back_takes_it_off(shop: Catalogue) -> None:
    assert put_on_bench(shop, ORDER, CLUBS[0], by="Robin")
    assert _state(shop) == "at_bench"
    assert put_on_bench(shop, ORDER, CLUBS[1]) == ""
    assert take_off_bench(shop, ORDER, CLUBS[1]) == ""  # it came with another club
    assert take_off_bench(shop, ORDER, CLUBS[0])
    assert _state(shop) == "open"
    put_on_bench(shop, ORDER, CLUBS[0])
    reserve_parts(shop, ORDER)
    use_parts(shop, ORDER, Which(club_id=CLUBS[0]))
    assert take_off_bench(shop, ORDER, CLUBS[0]) == ""  # parts are built in
    assert _state(shop) == "at_bench"
    with shop.read() as reader:
        before = reader.last_change()
    assert put_on_bench(shop, ORDER, CLUBS[0]) == ""
    with shop.read() as reader:
        assert reader.last_change() == before


def test_it_is_offered_as_finished_with_the_last_club_measured(shop: Catalogue) -> None:
    for club in CLUBS[:2]:
        keep_built(shop, _finished(shop, club), Measured(values=_as_wanted(shop, club)))
    look = look_at_finishing(shop, ORDER)
    assert not look.offered
    assert [one.key.club_id for one in look.unmeasured] == [CLUBS[2]]
    with pytest.raises(ConflictError, match=r"to be measured, or waived with a reason: tansley-pw \(playing length"):
        set_order_state(shop, ORDER, "finished", why="it is late")
    keep_built(shop, _finished(shop, CLUBS[2]), Measured(values=_as_wanted(shop, CLUBS[2])))
    look = look_at_finishing(shop, ORDER)
    assert look.offered
    assert look.outside == ()
    assert look.offer.startswith("order o-1043: all 3 clubs are built and measured; not every part of")
    assert set_order_state(shop, ORDER, "finished").after == "finished"
    assert not look_at_finishing(shop, ORDER).offered


def test_a_club_outside_its_tolerance_is_named_and_needs_a_reason(shop: Catalogue) -> None:
    for club in CLUBS:
        values = _as_wanted(shop, club)
        if club == CLUBS[1]:
            values["length"] += 0.5
        keep_built(shop, _finished(shop, club), Measured(values=values))
    look = look_at_finishing(shop, ORDER)
    assert look.offered
    assert [(one.key.club_id, one.found) for one in look.outside] == [
        (CLUBS[1], ("playing length 1/2 in (12.7 mm) long",))
    ]
    assert "outside tolerance: tansley-8-iron (playing length 1/2 in (12.7 mm) long)" in look.offer
    for why in (None, " "):
        with pytest.raises(OutsideToleranceError, match=r"tansley-8-iron \(playing length 1/2 in \(12\.7 mm\) long\)"):
            set_order_state(shop, ORDER, "finished", why=why)
    assert _state(shop) == "at_bench"
    done = set_order_state(shop, ORDER, "finished", why="the customer wants it so")
    assert "outside tolerance: tansley-8-iron" in done.notes[0]
    with shop.read() as reader:
        assert reader.history("order", ORDER, limit=1)[0].why == "the customer wants it so"
