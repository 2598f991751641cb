"""Sets and heads answered from a catalogue."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.errors import BuildError, NotFoundError, UsageError
from specdb.verbs.catalogue.changing import set_fields
from specdb.verbs.catalogue.journal import undo
from specdb.verbs.matching.heads import HeadOptions, heads_of, why_not_head
from specdb.verbs.matching.substitutes import SearchOptions
from specdb.verbs.sets.decisions import choose_for_set
from specdb.verbs.sets.sets import set_mechanics_of
from specdb.verbs.sets.substitutes import set_substitutes_of, why_not_for_set
from tests.support.random_sets import GRIP, NUMBERS, iron_head, length_in, set_shafts


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    path = tmp_path_factory.mktemp("sets") / "shop.duckdb"
    shafts, readings = set_shafts(60, seed=9, models=1)
    fitted = next(r["id"] for r in shafts.to_pylist() if r["club_type"] == "iron" and r["club_number"] is None)
    catalogue = Catalogue.create(path)
    with catalogue.write(done="fill") as writer:
        writer.put_many("shaft", shafts)
        writer.put_many("shaft_reading", readings)
        writer.put("grip", asdict(GRIP))
        for n, word in enumerate(NUMBERS):
            writer.put("head", asdict(iron_head(n)))
            writer.put("head", asdict(iron_head(n, id=f"twin-{word.lower()}", model="Twin")))
            writer.put(
                "club",
                {
                    "id": f"club-{word.lower()}",
                    "label": word,
                    "set_id": "irons",
                    "head_id": f"head-{word.lower()}",
                    "grip_id": "grip",
                    "shaft_id": fitted,
                    "tip_trim_in": 0.5 + 0.5 * n,
                    "playing_length_in": length_in(n),
                    "swingweight": "D2",
                },
            )
    return path, str(fitted)


@pytest.fixture
def shop(filled: tuple[Path, str], tmp_path: Path) -> Catalogue:
    path = tmp_path / "shop.duckdb"
    path.write_bytes(filled[0].read_bytes())
    return Catalogue(path)


def test_set_in_numbers(shop: Catalogue) -> None:
    answer = set_mechanics_of(shop, "irons")
    values = answer.to_json()
    assert [c["club_id"] for c in values["clubs"]] == [f"club-{w.lower()}" for w in NUMBERS]
    # common practice, no source: about 4 cpm a half inch, to 35 %
    assert values["slope_cpm_per_half_in"] == pytest.approx(4.0, rel=0.35)
    assert values["matched_by"] == "swingweight"


def test_retired_club_is_left_out_and_said(shop: Catalogue) -> None:
    set_fields(shop, "club", "club-5", ["status=retired"])
    answer = set_mechanics_of(shop, "irons")
    assert len(answer.numbers.clubs) == 6
    assert "retired, so left out: club-5" in answer.to_json()["notes"]
    assert any(note.startswith("number 5 not in the set") for note in answer.numbers.notes)


def test_unknown_set_names_those_there_are(shop: Catalogue) -> None:
    with pytest.raises(NotFoundError, match="there is no set 'iron' in the catalogue; did you mean irons"):
        set_mechanics_of(shop, "iron")


def test_set_of_retired_clubs(shop: Catalogue) -> None:
    for word in NUMBERS:
        set_fields(shop, "club", f"club-{word.lower()}", ["status=retired"])
    with pytest.raises(UsageError, match="all clubs of set irons are retired"):
        set_mechanics_of(shop, "irons")


@pytest.mark.parametrize("kind", ["shaft", "head"])
def test_club_that_lacks_a_part_is_named(shop: Catalogue, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # a catalogue keeps parts that clubs refer to; a file that was tampered with may lack them all the same
    from specdb.catalogue.reader import Reader

    whole = Reader.get

    def without(self: Reader, asked: str, key: str) -> object:
        if asked == kind and (kind == "shaft" or key == "head-7"):
            raise NotFoundError(asked, key)
        return whole(self, asked, key)

    monkeypatch.setattr(Reader, "get", without)
    with pytest.raises(
        UsageError, match=rf"set irons is not whole: .*club club-7 lacks its {kind}: there is no {kind}"
    ):
        set_substitutes_of(shop, "irons")


def test_one_club_only(shop: Catalogue) -> None:
    set_fields(shop, "club", "club-7", ["set_id=lonely"])
    with pytest.raises(UsageError, match=r"set lonely has one club only, club-7, .*specdb substitutes --club club-7"):
        set_substitutes_of(shop, "lonely")


def test_club_that_cannot_be_cut_to_length(shop: Catalogue) -> None:
    set_fields(shop, "club", "club-4", ["playing_length_in=44.0"])
    for ask in (set_mechanics_of, set_substitutes_of):
        with pytest.raises(BuildError, match=r"set irons cannot be worked out: club club-4: .* too short by"):
            ask(shop, "irons")


def test_stand_ins_with_stock_and_orders(shop: Catalogue, filled: tuple[Path, str]) -> None:
    free = set_substitutes_of(shop, "irons")
    assert all(p.on_hand is None for r in free.report.results for p in r.pieces)
    with pytest.raises(UsageError, match="no stock of shafts is booked"):
        set_substitutes_of(shop, "irons", SearchOptions(in_stock=True))
    best = next(r for r in free.report.results if len(set(r.shaft_ids)) == 1)
    shaft = best.shaft_ids[0]
    with shop.write() as writer:
        writer.put("stock_move", {"kind": "shaft", "item_id": shaft, "quantity": 8, "reason": "received"})
    there = set_substitutes_of(shop, "irons", SearchOptions(in_stock=True)).report.results
    assert [r.shaft_ids[0] for r in there] == [shaft]
    assert there[0].pieces[0].on_hand == 8
    assert there[0].price == pytest.approx(7 * next(c.substitute.price or 0.0 for c in there[0].clubs), abs=0.01)
    # three are kept for clubs of which this set has one: six are too few for seven clubs
    with shop.write() as writer:
        writer.put("order", {"id": "o1", "state": "open"})
        writer.put("order_line", {"order_id": "o1", "line": 1, "club_id": "club-7", "quantity": 3})
        for unit in (1, 2, 3):
            writer.put(
                "reservation",
                {
                    "order_id": "o1", "line": 1, "unit": unit, "club_id": "club-7", "kind": "shaft", "item_id": shaft,
                    "quantity": 1, "state": "held",
                },
            )  # fmt: skip
    kept = set_substitutes_of(shop, "irons", SearchOptions(in_stock=True))
    assert kept.report.results == ()
    assert why_not_for_set(kept, shaft).endswith(f"not all pieces free: {shaft} 6 of 7")
    assert filled[1] in kept.pieces


def test_filters_and_reasons(shop: Catalogue, filled: tuple[Path, str]) -> None:
    answer = set_substitutes_of(shop, "irons", SearchOptions(top=5, max_price=100.0))
    assert all((c.substitute.price or 0.0) <= 100.0 for r in answer.report.results for c in r.clubs)
    assert answer.filtered == "price unknown or above 100"
    assert "the fitted shaft itself" in why_not_for_set(answer, filled[1])
    first = answer.report.results[0]
    assert "is proposed, as number 1" in why_not_for_set(answer, first.shaft_ids[0])
    with pytest.raises(NotFoundError):
        why_not_for_set(answer, "nothing")
    few = set_substitutes_of(shop, "irons", SearchOptions(top=1))
    second = set_substitutes_of(shop, "irons", SearchOptions(top=2)).report.results[1]
    assert "plays less near than the 1 shown" in why_not_for_set(few, second.shaft_ids[0])


def test_trim_steps_of_a_set_are_settled(shop: Catalogue) -> None:
    with pytest.raises(UsageError, match="quarters and eighths"):
        set_substitutes_of(shop, "irons", SearchOptions(trim_step_in=0.5))


def test_choosing_for_a_set_is_one_change(shop: Catalogue) -> None:
    best = set_substitutes_of(shop, "irons").report.results[0]
    clubs = choose_for_set(shop, "irons", best, by="Robin", why="all on the shelf")
    assert clubs == [f"club-{w.lower()}" for w in NUMBERS]
    with shop.read() as reader:
        choices = {c.club_id: c for c in reader.rows("choice")}
    assert len(choices) == 7
    for club in best.clubs:
        kept = choices[club.club_id]
        assert (kept.shaft_id, kept.tip_trim_in, kept.decision) == (
            club.substitute.shaft_id,
            club.substitute.tip_trim_in,
            "chosen",
        )
    undo(shop)
    with shop.read() as reader:
        assert reader.rows("choice") == []


def test_heads(shop: Catalogue) -> None:
    alone = heads_of(shop, "head-7")
    assert alone.report.results[0].head_id == "twin-7"
    answer = heads_of(shop, club="club-7", options=HeadOptions(top=3))
    best = answer.report.results[0]
    assert best.head_id == "twin-7"
    assert best.club is not None
    assert best.club.values["frequency_cpm"] == pytest.approx(best.club.fitted["frequency_cpm"])
    assert "is proposed, as number 1" in why_not_head(answer, "twin-7")
    assert "loft stays" in why_not_head(answer, "head-pw")
    with pytest.raises(NotFoundError):
        why_not_head(answer, "nothing")
    with pytest.raises(NotFoundError):
        heads_of(shop, "nothing")
    with pytest.raises(UsageError, match="name the head"):
        heads_of(shop)
    with pytest.raises(UsageError, match="club club-7 has head head-7"):
        heads_of(shop, "head-6", club="club-7")
    with pytest.raises(UsageError, match="no stock of heads"):
        heads_of(shop, "head-7", options=HeadOptions(in_stock=True))
