"""What the allocation may choose from: fitted, approved and kept shafts of clubs and sets."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pyarrow as pa
import pytest

from specdb.orders.availability import Book
from specdb.orders.demand import Demand, Standing
from specdb.orders.needs import Swap
from specdb.orders.shelf import Shelf
from specdb.records.rows import Choice, Club, Order, OrderLine, Reservation
from specdb.verbs.orders.allocation_ways import UNSCORED, Demands

IRONS = ("i5", "i7")
KINDS = frozenset({"shaft", "head", "sleeve", "grip"})


class _Titles:
    """Stands where the reader is: of shafts only maker, model and flex are asked for."""

    def arrow(self, kind: str, columns: tuple[str, ...]) -> pa.Table:
        assert kind == "shaft"
        rows = [
            {"id": f"{model}-{number}", "maker": "Invented", "model": model, "flex": "S"}
            for model in ("reed", "sedge", "rush")
            for number in ("5", "7", "all")
        ]
        return pa.Table.from_pylist(rows).select(list(columns))


def _club(key: str, shaft: str, set_id: str | None = None, **more: Any) -> Club:
    return Club(id=key, shaft_id=shaft, head_id=f"head-{key}", playing_length_in=40.0, set_id=set_id, **more)


def _choice(club: str, shaft: str, decision: str = "chosen", score: float | None = 0.5, day: int = 1) -> Choice:
    return Choice(
        id=f"{club}-{shaft}-{decision}", club_id=club, shaft_id=shaft, decision=decision, score=score,
        tip_trim_in=0.75, on=dt.date(2026, 3, day),
    )  # fmt: skip


def _kept(club: str, kind: str, item: str, state: str = "held") -> Reservation:
    return Reservation(
        id=f"{club}-{item}",
        order_id="o",
        line=1,
        unit=1,
        club_id=club,
        kind=kind,
        item_id=item,
        quantity=1,
        state=state,
    )


def _demand(*, clubs: list[Club], line: dict[str, Any], **more: Any) -> Demand:
    book = Book(
        orders=(Order(id="o", state="open"),),
        lines=(OrderLine(order_id="o", line=1, quantity=1, **line),),
        clubs={c.id: c for c in clubs},
        shelf=Shelf(kept=KINDS),
        **more,
    )
    found = Demands(_Titles(), book, None).all()  # type: ignore[arg-type]
    return found[0]


def _one(**more: Any) -> Demand:
    return _demand(clubs=[_club("c", "reed-all")], line={"club_id": "c"}, **more)


def _set(**more: Any) -> Demand:
    clubs = [_club("i5", "reed-5", "irons"), _club("i7", "reed-7", "irons")]
    return _demand(clubs=clubs, line={"set_id": "irons"}, **more)


def _ways(demand: Demand) -> list[tuple[str, ...]]:
    return [tuple(o.shaft_id for o in way.options) for way in demand.groups[0].ways]


def test_a_club_may_take_its_fitted_shaft_and_every_approved_one() -> None:
    demand = _one(choices=(_choice("c", "sedge-all"), _choice("c", "rush-all", score=None, day=2)))
    assert _ways(demand) == [("reed-all",), ("rush-all",), ("sedge-all",)]
    fitted, latest, other = (way.options[0] for way in demand.groups[0].ways)
    assert (fitted.standing, fitted.score) == (Standing.FITTED, 0.0)
    assert (latest.standing, latest.score, latest.tip_trim_in) == (Standing.APPROVED, UNSCORED, 0.75)
    assert other.score == 0.5
    assert [n.part for n in fitted.parts] == [("shaft", "reed-all"), ("head", "head-c")]


def test_what_was_turned_down_is_never_taken() -> None:
    demand = _one(choices=(_choice("c", "sedge-all"), _choice("c", "sedge-all", "rejected", day=2)))
    assert _ways(demand) == [("reed-all",)]


def test_parts_that_are_kept_or_built_in_are_not_asked_for_again() -> None:
    kept = (_kept("c", "shaft", "reed-all"), _kept("c", "head", "head-c", "used"))
    demand = _one(reservations=kept, choices=(_choice("c", "sedge-all"),))
    assert _ways(demand) == [("reed-all",)]  # a kept shaft stays
    assert demand.groups[0].ways[0].options[0].parts == ()


def test_an_approved_stand_in_that_is_kept_stays() -> None:
    demand = _one(reservations=(_kept("c", "shaft", "sedge-all"),), choices=(_choice("c", "sedge-all"),))
    assert _ways(demand) == [("sedge-all",)]


@pytest.mark.parametrize("choices", [(), (_choice("c", "sedge-all", "rejected"),)])
def test_a_kept_shaft_that_is_neither_fitted_nor_approved_stands_in_the_way(choices: tuple[Choice, ...]) -> None:
    demand = _one(reservations=(_kept("c", "shaft", "sedge-all"),), choices=choices)
    assert demand.obstacles == (
        "sedge-all is kept for c, but it is neither the fitted shaft nor approved: release it or choose it",
    )
    # once it was built in it is a fact
    used = _one(reservations=(_kept("c", "shaft", "sedge-all", "used"),), choices=choices)
    assert (used.obstacles, _ways(used)) == ((), [("sedge-all",)])


def test_a_stand_in_brings_its_own_parts() -> None:
    def swap(_club: Club, _shaft: str) -> Swap:
        return Swap({"sleeve": "thin"}, "look at the tip")

    demand = _one(choices=(_choice("c", "sedge-all"),), swap_of=swap)
    option = demand.groups[0].ways[1].options[0]
    assert [n.part for n in option.parts] == [("shaft", "sedge-all"), ("head", "head-c"), ("sleeve", "thin")]
    assert option.preparation == ("look at the tip",)


def test_a_set_mixes_no_models_whatever_was_approved() -> None:
    # sedge for both; rush, chosen later, for one of them alone
    choices = (_choice("i5", "sedge-5"), _choice("i7", "sedge-7"), _choice("i5", "rush-5", day=9))
    demand = _set(choices=choices)
    assert len(demand.groups) == 1
    assert sorted(_ways(demand)) == [("reed-5", "reed-7"), ("sedge-5", "sedge-7")]
    assert {way.model for way in demand.groups[0].ways} == {"", "Invented sedge S"}


def test_one_club_of_a_set_may_be_changed_within_its_model() -> None:
    demand = _set(choices=(_choice("i7", "reed-5"),))  # hard-stepped: its neighbour's shaft
    assert _ways(demand) == [("reed-5", "reed-7"), ("reed-5", "reed-5")]
    assert [o.standing for o in demand.groups[0].ways[1].options] == [Standing.FITTED, Standing.APPROVED]


def test_a_set_with_some_of_its_shafts_kept_is_built_of_that_model() -> None:
    choices = (_choice("i5", "sedge-5"), _choice("i7", "sedge-7"))
    demand = _set(choices=choices, reservations=(_kept("i7", "shaft", "sedge-7"),))
    assert _ways(demand) == [("sedge-5", "sedge-7")]
    parts = [n.part for o in demand.groups[0].ways[0].options for n in o.parts]
    assert parts == [("shaft", "sedge-5"), ("head", "head-i5"), ("head", "head-i7")]


def test_a_kept_shaft_of_which_no_whole_model_is_to_be_had_stands_in_the_way() -> None:
    demand = _set(choices=(_choice("i7", "sedge-7"),), reservations=(_kept("i7", "shaft", "sedge-7"),))
    assert len(demand.obstacles) == 1
    assert demand.obstacles[0].startswith("sedge-7 is kept for set irons, but no model with it is fitted")


def test_lines_that_cannot_be_built_are_said() -> None:
    gone = _demand(clubs=[], line={"club_id": "c"})
    assert gone.obstacles == ("line 1: there is no club c",)
    retired = _demand(
        clubs=[_club("i5", "reed-5", "irons"), _club("i7", "reed-7", "irons", status="retired")],
        line={"set_id": "irons"},
    )
    assert retired.obstacles == ("line 1: club i7 of set irons is retired, so the set is not whole",)
    assert _demand(clubs=[], line={"set_id": "irons"}).obstacles == ("line 1: no club belongs to set irons",)


def test_every_club_of_a_line_is_one_of_its_own_and_a_set_is_one() -> None:
    book = Book(
        orders=(Order(id="o", state="open"),),
        lines=(
            OrderLine(order_id="o", line=1, quantity=2, club_id="c"),
            OrderLine(order_id="o", line=2, quantity=2, set_id="irons"),
        ),
        clubs={
            c.id: c for c in (_club("c", "reed-all"), _club("i5", "reed-5", "irons"), _club("i7", "reed-7", "irons"))
        },
        shelf=Shelf(kept=KINDS),
    )
    groups = Demands(_Titles(), book, None).all()[0].groups  # type: ignore[arg-type]
    assert [(len(g.units), g.units[0].unit, g.set_id) for g in groups] == [
        (1, 1, None), (1, 2, None), (2, 1, "irons"), (2, 2, "irons"),
    ]  # fmt: skip
