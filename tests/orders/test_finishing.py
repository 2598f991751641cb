"""An order is finished with its clubs as ordered, or with a reason that is kept."""

from __future__ import annotations

from pathlib import Path

import pytest

import specdb
from specdb.catalogue import Catalogue
from specdb.errors import ConflictError
from specdb.verbs.building.as_built import Finished
from specdb.verbs.building.finished_clubs import Measured, keep_built
from specdb.verbs.catalogue.demonstration import demo_catalogue
from specdb.verbs.orders.changes import set_order_state
from specdb.verbs.orders.finishing import OutsideToleranceError

UNIT = Finished(club="wexcombe-7-iron", order="o-1045", line=1, unit=1)
# a lie 1.5° upright is outside ± 0.5° (build tolerance of the trade: common practice, no source)
OFF = {"length": 37.0, "weight": 393.0, "swingweight": 213.5, "frequency": 284.0, "loft": 31.0, "lie": 64.0}


@pytest.fixture
def shop(tmp_path: Path) -> Catalogue:
    demo_catalogue(tmp_path / "demo.duckdb")
    return specdb.open(tmp_path / "demo.duckdb")


def _state(shop: Catalogue) -> str:
    with shop.read() as reader:
        return str(reader.get("order", "o-1045").state)


def test_a_club_outside_tolerance_is_told_and_finished_with_a_reason_only(shop: Catalogue) -> None:
    keep_built(shop, UNIT, Measured(values=OFF))
    with pytest.raises(OutsideToleranceError, match=r"wexcombe-7-iron \(lie 1\.5° upright\)") as caught:
        set_order_state(shop, "o-1045", "finished")
    assert [(u.key.club_id, [j.quantity for j in u.outside]) for u in caught.value.units] == [
        ("wexcombe-7-iron", ["lie"])
    ]
    with pytest.raises(OutsideToleranceError):
        set_order_state(shop, "o-1045", "finished", why="  ")
    assert _state(shop) == "at_bench"
    done = set_order_state(shop, "o-1045", "finished", why="agreed with the customer")
    assert "outside tolerance, and finished all the same: wexcombe-7-iron (lie 1.5° upright)" in done.notes
    assert _state(shop) == "finished"
    with shop.read() as reader:
        assert reader.changes(limit=1)[0].why == "agreed with the customer"


def test_a_club_that_was_mended_at_the_bench_needs_no_reason(shop: Catalogue) -> None:
    keep_built(shop, UNIT, Measured(values=OFF))
    keep_built(shop, UNIT, Measured(values={"lie": 62.5}))
    assert set_order_state(shop, "o-1045", "finished").notes == ()


def test_a_reason_does_not_stand_for_a_measurement(shop: Catalogue) -> None:
    keep_built(shop, UNIT, Measured(values={q: v for q, v in OFF.items() if q != "loft"}))
    with pytest.raises(ConflictError, match=r"still to be measured, or waived with a reason: wexcombe-7-iron \(loft\)"):
        set_order_state(shop, "o-1045", "finished", why="in a hurry")
