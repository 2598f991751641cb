"""Keeping what was measured: with its parts in one change, seen by others, corrected for its instruments."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import specdb
from specdb.catalogue import Catalogue
from specdb.errors import UsageError
from specdb.orders.tolerances import TOLERANCES
from specdb.verbs.building.as_built import Finished, built_answer
from specdb.verbs.building.bench_units import NEEDED, bench_units
from specdb.verbs.building.finished_clubs import Measured, MeasuredMeanwhileError, RawReadings, keep_built
from tests.support.copies import demo_copy

UNIT = Finished(club="wexcombe-7-iron", order="o-1045", line=1, unit=1)  # its parts are kept on the shelf
GOOD = {"length": 37.0, "weight": 393.0, "swingweight": 213.5, "frequency": 284.0, "loft": 31.0, "lie": 62.5}


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kept") / "demo.duckdb"
    demo_copy(path)
    return path


@pytest.fixture
def shop(demo_file: Path, tmp_path: Path) -> Catalogue:
    path = tmp_path / "demo.duckdb"
    shutil.copy(demo_file, path)
    return specdb.open(path)


def _states(shop: Catalogue) -> dict[str, tuple[str, int]]:
    with shop.read() as reader:
        mine = [r for r in reader.rows("reservation") if r.order_id == "o-1045"]
        return {r.kind: (r.state, reader.stock(r.kind)[r.item_id]) for r in mine}


def test_parts_leave_the_shelf_in_the_change_that_finishes_the_club(shop: Catalogue) -> None:
    before = _states(shop)
    assert {state for state, _ in before.values()} == {"held"}
    some = {q: GOOD[q] for q in ("length", "weight")}
    answer = keep_built(shop, UNIT, Measured(values=some))
    assert (answer.done, answer.used, _states(shop)) == (False, (), before)
    answer = keep_built(shop, UNIT, Measured(values={q: v for q, v in GOOD.items() if q not in some}))
    assert answer.done
    assert len(answer.used) == len(before)
    assert _states(shop) == {kind: ("used", count - 1) for kind, (_, count) in before.items()}
    # done already: measuring again books nothing again
    again = keep_built(shop, UNIT, Measured(values={"length": 37.03125}))
    assert again.used == ()
    assert _states(shop) == {kind: ("used", count - 1) for kind, (_, count) in before.items()}
    # taken back as one change
    specdb.undo(shop, again.change_no)
    specdb.undo(shop, answer.change_no)
    assert _states(shop) == before
    assert built_answer(shop, UNIT).wanted == ("swingweight", "frequency", "loft", "lie")


def test_parts_that_were_not_kept_are_named_and_not_booked(shop: Catalogue) -> None:
    unit = Finished(club="tansley-6-iron", order="o-1043", line=1, unit=1)
    with shop.read() as reader:
        before = {kind: dict(reader.stock(kind)) for kind in ("shaft", "head", "grip")}
    answer = keep_built(shop, unit, Measured(waived={q: "a test" for q, t in TOLERANCES.items() if t.required}))
    assert answer.done
    assert answer.used == ()
    assert "not kept for it, so not booked off the shelf: shaft stavely-tenter-parallel-115-s" in answer.said[0]
    with shop.read() as reader:
        assert {kind: dict(reader.stock(kind)) for kind in ("shaft", "head", "grip")} == before


def test_a_club_of_an_order_is_found_without_its_line(shop: Catalogue) -> None:
    answer = keep_built(shop, Finished(club="wexcombe-7-iron", order="o-1045"), Measured(values=GOOD))
    assert (answer.finished.line, answer.finished.unit) == (1, 1)
    assert built_answer(shop, UNIT).done
    with pytest.raises(UsageError, match="does not ask for ashby-driver"):
        keep_built(shop, Finished(club="ashby-driver", order="o-1045"), Measured(values={"length": 45.0}))


def test_what_another_kept_meanwhile_is_not_overwritten_unseen(shop: Catalogue) -> None:
    keep_built(shop, UNIT, Measured(values={"length": 37.0}), by="Robin")
    # who saw nothing kept, and measured something else
    with pytest.raises(MeasuredMeanwhileError) as caught:
        keep_built(shop, UNIT, Measured(values={"length": 37.0625, "loft": 31.0}), seen={})
    assert [(r.quantity, r.value, r.taken_by) for r in caught.value.rows] == [("length", 37.0, "Robin")]
    assert set(built_answer(shop, UNIT).rows) == {"length"}  # nothing half written
    # the same result is no conflict; one that was seen may be replaced
    keep_built(shop, UNIT, Measured(values={"length": 37.0, "loft": 31.0}), seen={})
    keep_built(shop, UNIT, Measured(values={"length": 37.0625}), seen={"length": (37.0, None)})
    assert built_answer(shop, UNIT).rows["length"].value == 37.0625
    with pytest.raises(MeasuredMeanwhileError):
        keep_built(shop, UNIT, Measured(waived={"length": "tape lost"}), seen={"length": (37.0, None)})


def test_of_two_instruments_on_one_day_the_one_kept_last_counts(shop: Catalogue) -> None:
    for name, value in (("meter b", 284.0), ("meter a", 281.0), ("meter c", 283.0)):
        keep_built(shop, UNIT, Measured(values={"frequency": value}, instruments={"frequency": name}))
        row = built_answer(shop, UNIT).rows["frequency"]
        assert (row.instrument, row.value) == (name, value)


def test_a_reading_is_judged_by_what_its_instrument_should_have_read(shop: Catalogue) -> None:
    # four bars of known frequency, each read 6 cpm too much, four times
    with shop.write(by="tests") as writer:
        for n in range(16):
            true = (220.0, 250.0, 280.0, 310.0)[n % 4]
            writer.put(
                "reference_reading",
                {"instrument": "meter 9", "quantity": "frequency", "reference": f"bar {true:g}", "true_value": true,
                 "value": true + 6.0, "taken_on": "2026-11-02", "repeat": n + 1},
            )  # fmt: skip
    answer = keep_built(shop, UNIT, Measured(values={"frequency": 290.0}, instruments={"frequency": "meter 9"}))
    (judged,) = answer.judged
    assert judged.value == 290.0  # as read
    assert judged.corrected == pytest.approx(284.0, abs=0.5)
    assert judged.off == pytest.approx(284.0 - (judged.aim.target or 0.0), abs=0.5)
    plain = keep_built(shop, UNIT, Measured(values={"frequency": 290.0}, instruments={"frequency": "meter 2"}))
    assert plain.judged[0].corrected is None


def test_the_frequency_is_kept_with_the_clamp_that_it_is_for(shop: Catalogue) -> None:
    specdb.set_fields(shop, "club", "wexcombe-7-iron", ["frequency_clamp_in=6"])
    row = keep_built(shop, UNIT, Measured(values={"frequency": 284.0})).rows["frequency"]
    assert row.clamp_in == 6.0


def test_raw_readings_alone_move_no_part_and_name_the_piece(shop: Catalogue) -> None:
    before = _states(shop)
    piece = Finished(club=UNIT.club, order=UNIT.order, line=1, unit=1, piece="piece 4")
    answer = keep_built(shop, piece, Measured(raw=RawReadings(weight_g=74.8, weighed_with="scale 1")))
    assert answer.rows == {}
    assert _states(shop) == before
    with shop.read() as reader:
        (own,) = [r for r in reader.readings_of(answer.shaft) if r.sample == "piece 4"]
    assert (own.quantity, own.value, own.instrument) == ("weight", 74.8, "scale 1")


def test_clubs_to_build_are_those_of_the_open_orders_first(shop: Catalogue) -> None:
    units = bench_units(shop)
    ordered = [u for u in units if u.meant.order]
    assert units[: len(ordered)] == tuple(ordered)
    days = [u.wanted_on for u in ordered if u.wanted_on]
    assert days == sorted(days)
    assert {u.meant.club for u in units if not u.meant.order} == {u.meant.club for u in units}
    first = ordered[0]
    assert (first.meant.club, first.parts, first.measured) == ("wexcombe-7-iron", "kept", 0)
    keep_built(shop, UNIT, Measured(values={"length": 37.0}, waived={"lie": "no gauge"}))
    assert bench_units(shop)[0].measured == 2
    keep_built(shop, UNIT, Measured(values=GOOD))
    found = bench_units(shop)[0]
    assert (found.measured, found.done, found.parts) == (NEEDED, True, "built in")
