"""``specdb built``: entering what was measured on a finished club."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from specdb.catalogue import Catalogue
from specdb.verbs.building.bench_units import bench_units
from tests.cli.conftest import Command
from tests.support.copies import demo_copy

GOOD = ("--length", "45 1/4", "--weight", "319", "--swingweight", "D3.5", "--frequency", "252", "--loft", "10.5")


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("built") / "demo.duckdb"
    demo_copy(path)
    return path


@pytest.fixture
def demo(demo_file: Path, tmp_path: Path) -> Path:
    path = tmp_path / "demo.duckdb"
    shutil.copy(demo_file, path)
    return path


def test_a_club_is_done_when_all_is_in(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    ran = specdb("built", "ashby-driver", *GOOD, *here)
    assert "Order o-1041 asks for ashby-driver, so it is that one: line 1, club 1." in " ".join(ran.err.split())
    assert ran.status == 1
    assert "Not done: still to be measured, or waived with a reason: lie." in " ".join(ran.out.split())
    ran = specdb("built", "ashby-driver", "--waive", "lie=no gauge for woods", "--json", *here)
    assert ran.status == 0
    assert (ran.json["done"], ran.json["as_fitted"], ran.json["still_wanted"]) == (True, True, [])
    lie = next(v for v in ran.json["values"] if v["quantity"] == "lie")
    assert (lie["judgement"], lie["value"]) == ("waived", None)
    frequency = next(v for v in ran.json["values"] if v["quantity"] == "frequency")
    assert frequency["target"] == pytest.approx(252.2, abs=0.5)
    # seen again without values, and in the journal as one change that can be undone
    assert specdb("built", "ashby-driver", "--json", *here).json["done"] is True
    assert specdb("undo", *here).status == 0
    assert specdb("built", "ashby-driver", "--json", *here).json["still_wanted"] == ["lie"]


WAIVED = [word for q in ("length", "weight", "swingweight", "frequency", "loft", "lie")
          for word in ("--waive", f"{q}=a test")]  # fmt: skip


def _rows(demo: Path, specdb: Command, club: str) -> list[tuple[str | None, int | None, int | None, str]]:
    rows = specdb("list", "as_built", "--where", f"club_id = '{club}'", "--json", "--catalogue", str(demo)).json
    return sorted((r["order_id"], r["line"], r["unit"], r["quantity"]) for r in rows)


def test_a_club_named_alone_is_that_of_the_order_that_asks_for_it(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    specdb("built", "ashby-driver", "--length", "45 1/4", *here)
    # measured again it is the same club: its value is replaced, and nothing stands twice
    ran = specdb("built", "ashby-driver", "--length", "45 5/16", "--json", *here)
    assert (ran.json["order"], ran.json["line"], ran.json["unit"]) == ("o-1041", 1, 1)
    assert _rows(demo, specdb, "ashby-driver") == [("o-1041", 1, 1, "length")]
    # done, and measured once more: still that one
    specdb("built", "ashby-driver", *WAIVED[2:], *here)
    assert specdb("built", "ashby-driver", "--lie", "58.5", "--json", *here).json["unit"] == 1
    # without an order only where that is said
    ran = specdb("built", "ashby-driver", "--length", "45 1/4", "--no-order", "--json", *here)
    assert (ran.json["order"], ran.json["still_wanted"][0]) == (None, "weight")


def test_a_club_with_a_spoilt_part_is_measured_again(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    all_ = ("built", "wexcombe-7-iron", *WAIVED, "--order", "o-1045", *here)
    assert specdb(*all_).status == 0
    assert specdb("order", "spoil", "o-1045", "shaft", "--why", "broke", *here).status == 0
    ran = specdb("built", "wexcombe-7-iron", "--order", "o-1045", *here)
    assert ran.status == 1
    said = " ".join(ran.out.split())
    assert "Its shaft was spoilt (broke) after it was measured. What was measured before no longer counts." in said
    assert "Finish it" not in said
    ran = specdb("order", "state", "o-1045", "finished", *here)
    assert ran.status != 0
    assert "wexcombe-7-iron (its shaft was spoilt (broke) after it was measured: playing" in " ".join(ran.err.split())
    rows = _rows(demo, specdb, "wexcombe-7-iron")  # nothing is lost
    assert len(rows) == 6
    # the list of Build says the same, taking the change back makes it done again, and so does measuring it again
    assert next(u for u in bench_units(Catalogue(demo)) if u.meant.order == "o-1045").measured == 0
    specdb("undo", *here)
    assert specdb("built", "wexcombe-7-iron", "--order", "o-1045", "--json", *here).json["done"] is True
    specdb("order", "spoil", "o-1045", "shaft", "--why", "broke", *here)
    ran = specdb(*all_, "--json")
    assert (ran.json["done"], ran.json["spoilt"]) == (True, "")  # the same values on the same day, too
    specdb("undo", *here)
    assert specdb("built", "wexcombe-7-iron", "--order", "o-1045", "--json", *here).json["done"] is False
    assert _rows(demo, specdb, "wexcombe-7-iron") == rows


def test_done_says_what_was_waived_and_what_stands_in(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    words = ("built", "ashby-driver", *GOOD, "--waive", "lie=no gauge for woods", "--no-order", *here)
    said = " ".join(specdb(*words, "--shaft", "hollin-reach-holm-60-s").out.split())
    assert "it is the club that was fitted" not in said
    assert "not measured: lie; shaft hollin-reach-holm-60-s stands in for the fitted" in said


def test_an_order_half_built_says_what_is_built_in(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    specdb("order", "use", "o-1045", "shaft", *here)
    said = " ".join(specdb("order", "show", "o-1045", *here).out.split())
    assert "1 of its 4 parts is built in; the rest can be built today." in said
    assert "used" not in said


def test_which_order_is_asked_where_several_ask_for_the_club(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    specdb("order", "add", "o-2001", "--club", "ashby-driver:2", "--wanted", "2026-12-01", *here)
    before = specdb("history", "--json", *here).out
    ran = specdb("built", "ashby-driver", "--length", "45 1/4", *here)
    assert ran.status == 2
    assert "orders o-2001 and o-1041 ask for ashby-driver: name one (--order), or" in " ".join(ran.err.split())
    assert specdb("history", "--json", *here).out == before
    # of an order the first club that is not measured yet; asked where all are
    for unit in (1, 2):
        ran = specdb("built", "ashby-driver", *WAIVED, "--order", "o-2001", "--json", *here)
        assert (ran.json["line"], ran.json["unit"]) == (1, unit)
    # what is measured takes no more part in the question
    assert specdb("built", "ashby-driver", "--json", *here).json["order"] == "o-1041"
    ran = specdb("built", "ashby-driver", "--lie", "58", "--order", "o-2001", *here)
    assert "say which is meant (--order, --line, --unit): o-2001 1.1, o-2001 1.2" in " ".join(ran.err.split())


def test_a_gross_slip_is_asked_about_and_kept_only_when_sure(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    before = specdb("history", "--json", *here).out
    words = ("built", "wexcombe-7-iron", "--length", "45 1/4", "--lie", "62.5")
    ran = specdb(*words, *here)
    assert ran.status == 2
    said = " ".join(ran.err.split())
    assert "playing length: 45 1/4 in is 8 1/4 in more than ordered: measured again? Nothing is kept;" in said
    assert "(--sure)" in said
    assert "cut" not in said
    assert specdb("history", "--json", *here).out == before
    ran = specdb(*words, "--sure", *here)
    assert ran.status == 1
    assert "Cut 8 1/4 in (210 mm) off the butt" in " ".join(ran.out.split())


@pytest.mark.parametrize(
    ("words", "value"),
    [
        (("--swingweight", "D3 1/2"), 213.5 + 1.75 * 3.5),
        (("--swingweight", "d3,5"), 213.5 + 1.75 * 3.5),
        (("--swingweight", "D3½"), 213.5 + 1.75 * 3.5),
        (("--weight", "319 gr"), 319.0),  # in grains it would be 20.7 g
        (("--weight", "4923 gr"), 4923 * 0.06479891),  # the grain is 64.79891 mg exactly (NIST SP 811)
        (("--weight", "205 dwt"), 205 * 24 * 0.06479891),  # the pennyweight has 24 grains (NIST SP 811)
    ],
)
def test_values_are_read_as_the_trade_writes_them(
    words: tuple[str, ...], value: float, demo: Path, specdb: Command
) -> None:
    ran = specdb("built", "ashby-driver", *words, "--json", "--catalogue", str(demo))
    assert ran.json["values"][0]["value"] == pytest.approx(value)


def test_a_club_of_a_closed_order_is_said(demo: Path, specdb: Command) -> None:
    ran = specdb("built", "tansley-driver", "--catalogue", str(demo))
    assert "No open order asks for tansley-driver; it was measured for o-1039 before." in " ".join(ran.err.split())


def test_what_is_outside_is_told_with_what_to_do(demo: Path, specdb: Command) -> None:
    ran = specdb("built", "ashby-driver", "--swingweight", "D2", "--catalogue", str(demo))
    assert ran.status == 1
    said = " ".join(ran.out.split())
    assert "swingweight: 1.5 points light. Add 2.5 g at the head." in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--length", "45.5 mm"), "is the unit right?"),
        (("--length", "45.5 g"), "no unit of this kind"),
        (("--swingweight", "H9"), "swingweight"),
        (("--swingweight", "D3/2"), "is no swingweight: a letter A to G and points, such as D2.5 or D2 1/2"),
        (("--swingweight", "5"), "'5' lacks its letter: write it such as D2.5"),
        (("--weight", "20 gr"), "can be meant in two ways: write 'g' for grams or 'grains'"),
        (("--frequency", "many"), "frequency"),
        (("--waive", "lie"), "WHAT=WHY"),
        (("--waive", "lie="), "say why lie is not measured"),
        (("--waive", "colour=no"), "is not measured on a club"),
        (("--lie", "58", "--waive", "lie=no gauge"), "given and waived at once"),
        (("--raw-weight", "64"), "need the name of the piece"),
        (("--raw-frequency", "231", "--piece", "p7"), "free length and tip mass"),
        (("--lie", "58", "--order", "o-none"), "o-none"),
        (("--lie", "58", "--no-order", "--unit", "1"), "--no-order goes without"),
    ],
)
def test_bad_values_write_nothing(words: tuple[str, ...], said: str, demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    before = specdb("history", "--json", *here).out
    ran = specdb("built", "ashby-driver", *words, *here)
    assert ran.status == 2
    assert said in " ".join(ran.err.split())
    assert specdb("history", "--json", *here).out == before


def test_raw_readings_go_to_the_piece_and_move_what_is_expected(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    before = specdb("built", "ashby-driver", "--frequency", "252", "--json", *here).json
    words = ("--piece", "p77", "--raw-weight", "66", "--raw-frequency", "236")
    more = ("--free-length", "41", "--tip-mass", "205")
    after = specdb("built", "ashby-driver", "--frequency", "252", *words, *more, "--json", *here).json
    rows = specdb("list", "shaft_reading", "--where", "sample = 'p77'", "--json", *here).json
    assert {r["quantity"] for r in rows} == {"weight", "frequency"}
    target = {k: next(v for v in a["values"] if v["quantity"] == "frequency") for k, a in (("b", before), ("a", after))}
    assert target["a"]["target_sd"] < target["b"]["target_sd"]  # the very piece is known better than any piece


def test_bias_says_with_which_instrument_on_a_narrow_screen(
    demo: Path, specdb: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    lines = specdb("bias", "--catalogue", str(demo)).out.splitlines()
    assert lines[0].split()[:2] == ["what", "with"]
    assert any(line.split()[:2] == ["playing", "length"] and "club ruler" in line for line in lines)
    assert all(len(line) <= 80 for line in lines)


def test_bias_over_finished_clubs(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    before = {b["quantity"]: b["clubs"] for b in specdb("bias", "--json", *here).json["all"]}
    for club, frequency in (("ashby-driver", "255"), ("quilter-5-iron", "299"), ("quilter-7-iron", "309")):
        specdb("built", club, "--frequency", frequency, "--instrument", "meter 9", *here)
    answer = specdb("bias", "--json", *here).json
    all_of = next(b for b in answer["all"] if b["quantity"] == "frequency")
    assert all_of["clubs"] == before.get("frequency", 0) + 3
    own = next(b for b in answer["by_instrument"] if b["instrument"] == "meter 9")
    assert (own["quantity"], own["clubs"]) == ("frequency", 3)
    assert own["mean"] == pytest.approx(3.2, abs=0.8)
    assert own["found"]
    assert "more than chance" in specdb("bias", *here).out


def test_without_finished_clubs_there_is_no_bias(tmp_path: Path, specdb: Command) -> None:
    from specdb.verbs.catalogue.opening import create

    create(tmp_path / "empty.duckdb")
    assert (
        "No finished club has been measured yet." in specdb("bias", "--catalogue", str(tmp_path / "empty.duckdb")).out
    )


def test_a_club_of_an_order_that_is_done_takes_its_parts_off_the_shelf(demo: Path, specdb: Command) -> None:
    here = ("--catalogue", str(demo))
    values = ("--length", "37", "--weight", "393", "--swingweight", "D0", "--frequency", "284", "--loft", "31")
    ran = specdb("built", "wexcombe-7-iron", "--order", "o-1045", *values, "--json", *here)
    assert (ran.status, ran.json["parts_built_in"]) == (1, [])
    ran = specdb("built", "wexcombe-7-iron", "--order", "o-1045", "--lie", "62.5", *here)
    assert ran.status == 0
    assert "Booked as built in: head brackwater-groyne-7-lh, shaft hollin-reach-holm-iron-75-r" in " ".join(
        ran.out.split()
    )
    # found again by whoever asks for that one club of the order
    unit = ("--order", "o-1045", "--line", "1", "--unit", "1")
    assert specdb("built", "wexcombe-7-iron", *unit, "--json", *here).json["done"] is True


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--order", "o-1045"), "go with --club"),
        (("--club", "ashby-driver", "--line", "1"), "go together, with --order"),
        (("--club", "ashby-driver", "--serve"), "do not go together"),
    ],
)
def test_the_interface_is_not_opened_at_half_a_club(words: tuple[str, ...], said: str, specdb: Command) -> None:
    ran = specdb("ui", *words)
    assert ran.status == 2
    assert said in " ".join(ran.err.split())
