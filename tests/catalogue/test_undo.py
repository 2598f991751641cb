"""History, and taking changes back."""

import datetime as dt
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from specdb.catalogue import Catalogue, Writer
from specdb.catalogue.integrity import check_catalogue
from specdb.errors import ConflictError, FieldError, NotFoundError, UsageError
from tests.catalogue.samples import CLUB, READING, SHAFT, move
from tests.support.thorough import many


def change(catalogue: Catalogue, kind: str, values: dict[str, Any], **stamp: Any) -> None:
    with catalogue.write(**stamp) as w:
        w.put(kind, values)


def undo(catalogue: Catalogue, number: int | None = None, **stamp: Any) -> Any:
    with catalogue.write(**stamp) as w:
        return w.undo(number)


def weight(catalogue: Catalogue) -> Any:
    with catalogue.read() as r:
        found = r.find("shaft", "trine")
    return found and found.weight_g


def test_history_says_what_when_who_why_before_and_after(shop: Catalogue) -> None:
    began = dt.datetime.now(dt.UTC).replace(tzinfo=None)
    change(shop, "shaft", {"id": "trine", "weight_g": 63.0}, by="ben", why="put on the scale", done="set")
    with shop.read() as r:
        latest, first = r.history("shaft", "trine")
        assert len(r.history()) == 3
        assert len(r.history(limit=1)) == 1
        assert r.history("shaft", "none") == []
    assert (first.action, first.by, first.before, first.after) == ("added", "ada", None, SHAFT)
    assert (latest.action, latest.by, latest.why, latest.done) == ("changed", "ben", "put on the scale", "set")
    assert latest.differences() == {"weight_g": (62.5, 63.0)}
    assert dt.timedelta() <= latest.at - began < dt.timedelta(minutes=1)


def test_the_name_of_the_user_stands_in_where_nobody_is_named(shop: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOGNAME", "carla")
    change(shop, "shaft", {"id": "trine", "weight_g": 63.0})
    with shop.read() as r:
        assert r.history(limit=1)[0].by == "carla"


def test_undo_and_undo_of_undo(shop: Catalogue) -> None:
    change(shop, "shaft", {"id": "trine", "weight_g": 63.0, "notes": "new"})
    summary = undo(shop, by="ben", why="wrong scale")
    assert (summary.undone, summary.change_no, summary.changed) == (2, 3, 1)
    assert weight(shop) == 62.5
    assert undo(shop, 3).undone == 3
    assert weight(shop) == 63.0
    with shop.read() as r:
        listed = [(c.change_no, c.done, c.undoes, c.undone_by, dict(c.rows)) for c in r.changes()]
        assert r.history("shaft", "trine")[1].why == "wrong scale"
    assert listed == [
        (4, "undo", 3, None, {"shaft": 1}),
        (3, "undo", 2, 4, {"shaft": 1}),
        (2, "set", None, None, {"shaft": 1}),
        (1, "set", None, None, {"head": 1, "shaft": 1}),
    ]


def test_undo_without_a_number_walks_back(shop: Catalogue) -> None:
    for grams in (63.0, 64.0):
        change(shop, "shaft", {"id": "trine", "weight_g": grams})
    assert [undo(shop).undone for _ in range(3)] == [3, 2, 1]
    assert weight(shop) is None
    with pytest.raises(NotFoundError):
        undo(shop)
    with pytest.raises(NotFoundError):
        undo(shop, 99)


def test_undo_refuses_what_was_changed_since_and_names_the_change(shop: Catalogue) -> None:
    change(shop, "shaft", {"id": "trine", "weight_g": 63.0})
    change(shop, "shaft", {"id": "trine", "weight_g": 64.0}, by="ben", done="import")
    with pytest.raises(ConflictError, match=r"shaft 'trine' was changed since, in change 3 \(import by ben\)"):
        undo(shop, 2)
    assert weight(shop) == 64.0
    undo(shop, 3)
    undo(shop, 2)
    assert weight(shop) == 62.5


def test_undo_refuses_to_take_away_what_is_referred_to(shop: Catalogue) -> None:
    change(shop, "club", CLUB)
    with pytest.raises(ConflictError, match="club 'ada-driver' refers to it"):
        undo(shop, 1)
    assert weight(shop) == 62.5


def test_undo_refuses_to_put_back_what_refers_to_nothing(shop: Catalogue) -> None:
    change(shop, "shaft_reading", {**READING, "id": "r"})
    with shop.write() as w:
        w.remove("shaft_reading", "r")
    with shop.write() as w:
        w.remove("shaft", "trine")
    with pytest.raises(ConflictError, match="cannot be put back: shaft_id is trine"):
        undo(shop, 3)
    undo(shop, 4)
    undo(shop, 3)
    with shop.read() as r:
        assert [x.value for x in r.readings_of("trine")] == [31.5]


def test_a_row_put_and_removed_within_one_change(shop: Catalogue) -> None:
    with shop.write() as w:
        w.put("shaft", {"id": "brief", "club_type": "iron"})
        w.put("shaft", {"id": "trine", "weight_g": 70})
        w.put("shaft", {"id": "trine", "weight_g": 71})
        w.remove("shaft", "brief")
    summary = undo(shop)
    assert (summary.added, summary.changed, summary.removed) == (0, 1, 0)
    assert weight(shop) == 62.5


def test_an_undo_is_a_change_of_its_own(shop: Catalogue) -> None:
    change(shop, "shaft", {"id": "trine", "weight_g": 63.0})
    with shop.write() as w:
        w.put("shaft", {"id": "trine", "weight_g": 64.0})
        with pytest.raises(UsageError, match="of its own"):
            w.undo(2)


def test_after_a_failed_step_the_change_is_given_up(shop: Catalogue) -> None:
    change(shop, "club", CLUB)

    def going_on() -> None:
        with shop.write() as w:
            with pytest.raises(ConflictError, match="refers"):
                w.undo(1)
            w.put("shaft", {"id": "trine", "weight_g": 64.0})

    with pytest.raises(ConflictError, match="given up as a whole"):
        going_on()
    assert weight(shop) == 62.5


def test_tiny_differences_are_kept_to_the_last_digit(shop: Catalogue) -> None:
    awkward = 62.300000000000004
    change(shop, "shaft", {"id": "trine", "weight_g": awkward, "notes": 'a "quoted" \\ line\nand é, 東 \u2028.'})
    change(shop, "shaft", {"id": "trine", "weight_g": 63.0, "notes": None})
    undo(shop)
    with shop.read() as r:
        found = r.get("shaft", "trine")
    assert (found.weight_g, found.notes) == (awkward, 'a "quoted" \\ line\nand é, 東 \u2028.')


KEYS = st.sampled_from(["trine", "b", "c"])
NUMBERS = st.one_of(st.none(), st.floats(20, 250))
STEPS = st.one_of(
    st.tuples(st.just("put"), KEYS, NUMBERS, st.one_of(st.none(), st.text(max_size=5))),
    st.tuples(st.just("read"), KEYS, st.floats(3, 400), st.floats(0, 40)),
    st.tuples(st.just("remove"), KEYS),
    st.tuples(st.just("retire"), KEYS),
    st.tuples(st.just("move"), KEYS, st.integers(1, 9)),
    st.tuples(st.just("use"), KEYS, st.integers(1, 9)),
    st.tuples(st.just("undo"), st.integers(1, 12)),
)


def apply(w: Writer, step: Any) -> None:
    name, *values = step
    if name == "put":
        key, grams, notes = values
        w.put("shaft", {"id": key, "club_type": "wood", "weight_g": grams, "notes": notes})
    elif name == "read":
        key, value, place = values
        w.put("shaft_reading", {**READING, "shaft_id": key, "value": value, "position_in": place})
    elif name == "remove":
        w.remove("shaft", values[0])
    elif name == "retire":
        w.retire("shaft", values[0])
    elif name in ("move", "use"):
        key, count = values
        signed, reason = (count, "received") if name == "move" else (-count, "used")
        w.put("stock_move", move(signed, reason, item_id=key), mode="add")
    else:
        w.undo(values[0])


def contents(catalogue: Catalogue) -> Any:
    with catalogue.read() as r:
        return {kind: r.rows(kind) for kind in ("shaft", "shaft_reading", "stock_move")}


@pytest.mark.slow
@settings(max_examples=many(5, 10), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@example(steps=[[("put", "trine", None, None)], [("put", "c", None, None), ("remove", "c")]], many=0)
@given(
    steps=st.lists(st.lists(STEPS, min_size=1, max_size=3), min_size=1, max_size=6),
    many=st.sampled_from([0, 20_000]),  # from how many rows on they are taken away by making the table anew
)
def test_undoing_everything_gives_what_was_at_first(
    tmp_path_factory: pytest.TempPathFactory, steps: list[list[Any]], many: int
) -> None:
    """Whatever was done (and whatever of it was refused), walking back ends where it began; so does walking forth."""
    catalogue = Catalogue.create(tmp_path_factory.mktemp("undo") / "shop.duckdb")
    change(catalogue, "shaft", SHAFT)
    states = [contents(catalogue)]
    for together in steps:
        try:
            with catalogue.write() as w:
                for step in together:
                    apply(w, step)
        except (ConflictError, NotFoundError, FieldError, UsageError):
            assert contents(catalogue) == states[-1]
            continue
        if contents(catalogue) != states[-1]:
            states.append(contents(catalogue))
    with catalogue.read() as r:
        last = r.last_change()
    with patch("specdb.catalogue.undo._MANY", many):
        for number in range(last, 1, -1):
            undo(catalogue, number)
    assert contents(catalogue) == states[0]
    with catalogue.read() as r:
        # a row added and removed within one change leaves its undo nothing to do, so that it is no change
        made = range(r.last_change(), last, -1)
    for number in made:
        undo(catalogue, number)
    assert contents(catalogue) == states[-1]
    assert [f for f in check_catalogue(catalogue.path) if f.severity == "error"] == []
