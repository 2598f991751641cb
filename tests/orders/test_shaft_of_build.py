"""One shaft goes into one club: the list of parts, the plan of all orders and the sheet name the same one."""

from __future__ import annotations

import datetime as dt

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.exporting import export_package
from specdb.catalogue.package import import_package
from specdb.errors import UsageError
from specdb.orders.choosing import latest_first
from specdb.records.rows import Choice
from specdb.verbs.building.shaft_of_build import ShaftOfBuild, shaft_of_build
from specdb.verbs.catalogue.changing import decide, move_stock
from specdb.verbs.catalogue.journal import undo
from specdb.verbs.orders.changes import Wanted, add_order
from specdb.verbs.orders.orders import order_of
from specdb.verbs.orders.parts import reserve_parts

DRIVER = Wanted(club_id="driver")


def to_build(
    shop: Catalogue, order: str | None = None, line: int | None = None, unit: int | None = None
) -> ShaftOfBuild:
    with shop.read() as reader:
        return shaft_of_build(reader, reader.get("club", "driver"), order=order, line=line, unit=unit)


@pytest.mark.parametrize(
    ("decided", "first"),
    [
        ("sedge", "sedge"),
        ("sedge bulrush", "bulrush"),
        ("sedge bulrush sedge", "sedge"),
        ("bulrush sedge sedge", "sedge"),
    ],
)
def test_the_stand_in_that_was_chosen_last_is_built_also_when_all_is_decided_on_one_day(
    shop: Catalogue, decided: str, first: str
) -> None:
    for shaft in decided.split():
        decide(shop, "driver", shaft, "chosen", tip_trim_in=0.5, by="Robin", why="close")
    found = to_build(shop)
    assert (found.stand_in, found.tip_trim_in) == (first, 0.5)
    others = sorted(set(decided.split()) - {first})
    assert [s for s in found.said if "chosen for this club too" in s] == [
        f"chosen for this club too: {o}" for o in others
    ]
    # the parts of an order name the same one (both lie on the shelf, the fitted one does not)
    move_stock(shop, "count", "shaft", "reed", 0)
    move_stock(shop, "receive", "shaft", "bulrush", 1)
    add_order(shop, "o-1", [DRIVER])
    assert order_of(shop, "o-1").units[0].stand_in == first
    assert to_build(shop, "o-1").stand_in == first


def test_deciding_the_same_again_with_nothing_in_between_changes_nothing(shop: Catalogue) -> None:
    say = {"tip_trim_in": 0.5, "score": 0.4}
    assert decide(shop, "driver", "sedge", "chosen", **say) == "added"  # type: ignore[arg-type]
    assert decide(shop, "driver", "sedge", "chosen", **say) == "unchanged"  # type: ignore[arg-type]
    decide(shop, "driver", "bulrush", "chosen")
    assert decide(shop, "driver", "sedge", "chosen", **say) == "changed"  # type: ignore[arg-type]
    # taken back, the other one comes first again
    undo(shop)
    assert to_build(shop).stand_in == "bulrush"


def test_a_stand_in_turned_down_since_is_not_built(shop: Catalogue) -> None:
    decide(shop, "driver", "sedge", "chosen")
    decide(shop, "driver", "bulrush", "chosen")
    decide(shop, "driver", "bulrush", "rejected")
    assert to_build(shop).stand_in == "sedge"
    decide(shop, "driver", "sedge", "rejected")
    assert to_build(shop) == ShaftOfBuild()


def test_an_order_is_built_with_what_is_kept_for_it(shop: Catalogue) -> None:
    decide(shop, "driver", "sedge", "chosen", why="close", by="Petra Osk")
    add_order(shop, "o-1", [Wanted(club_id="driver", quantity=2)])
    move_stock(shop, "receive", "head", "wren", 2)
    reserve_parts(shop, "o-1")  # one fitted shaft on the shelf, so the second club gets the stand-in
    assert [u.stand_in for u in order_of(shop, "o-1").units] == [None, "sedge"]
    first, second = (to_build(shop, "o-1", 1, unit) for unit in (1, 2))
    assert first.stand_in is None
    assert first.said == ("built with the fitted reed for order o-1, though chosen as stand-in: sedge",)
    assert (second.stand_in, second.said) == ("sedge", ("stand-in sedge for reed, chosen by Petra Osk: close",))
    # a later choice does not take out what is kept, but is told
    decide(shop, "driver", "bulrush", "chosen")
    assert to_build(shop, "o-1", 1, 2).said[1] == "chosen for this club too: bulrush; bulrush was chosen last"
    for line, unit in ((2, 1), (1, 3)):
        with pytest.raises(UsageError, match=rf"order o-1 has no club driver on line {line}, club {unit}"):
            to_build(shop, "o-1", line, unit)


def test_decisions_without_a_number_come_before_any_with_one_and_keep_their_days() -> None:
    def choice(key: str, number: int | None, day: int) -> Choice:
        on = dt.date(2031, 5, day)
        return Choice(id=key, club_id="driver", shaft_id=key, decision="chosen", on=on, decided_no=number)

    rows = [choice("a", None, 9), choice("b", 1, 2), choice("c", None, 10), choice("d", 2, 1)]
    assert [c.id for c in latest_first(rows)] == ["d", "b", "c", "a"]


def test_the_order_of_decisions_survives_export_and_import(
    shop: Catalogue, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("package")
    for shaft in ("sedge", "bulrush", "sedge"):
        decide(shop, "driver", shaft, "chosen")
    export_package(shop, folder / "out")
    again = Catalogue.create(folder / "again.duckdb")
    import_package(again, folder / "out")
    assert to_build(again).stand_in == "sedge"
