"""``specdb order`` and ``specdb report`` as they are typed, on the shop of the tests of orders."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from specdb.verbs.catalogue.values import today
from tests.cli.conftest import Command
from tests.orders.shop import fill


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fill(tmp_path / "orders.duckdb")
    monkeypatch.setenv("SPECDB_CATALOGUE", str(tmp_path / "orders.duckdb"))
    monkeypatch.chdir(tmp_path)


def test_an_order_from_taking_to_collecting(specdb: Command) -> None:
    ran = specdb(
        "order", "add", "--club", "driver", "--set", "irons", "--wanted", "2031-05-01", "--customer", "R. Vetch"
    )
    assert (ran.status, ran.out) == (0, "Order o-1001 taken: 2 lines, 4 clubs.\n")
    assert "o-1001" in specdb("order").out
    ran = specdb("order", "reserve", "o-1001")
    assert ran.status == 0
    assert ran.out.startswith("16 parts kept:\n")
    assert specdb("order", "show", "o-1001").status == 0
    assert specdb("order", "reserve", "o-1001").out == "Nothing more to keep.\n"
    assert specdb("order", "state", "o-1001", "at bench").out == "Order o-1001: open -> at bench.\n"
    ran = specdb("order", "state", "o-1001", "finished")
    assert ran.status == 1
    assert "16 parts are still held" in ran.err
    assert specdb("order", "use", "o-1001", "--club", "driver").status == 0
    assert specdb("order", "use", "o-1001").status == 0
    assert specdb("stock", "list", "shaft", "rush", "--json").json[0]["on_hand"] == 3
    assert specdb("order", "state", "o-1001", "finished").status == 0
    assert specdb("order", "state", "o-1001", "collected").status == 0
    assert specdb("order", "list").out == "No such order.\n"
    assert "collected" in specdb("order", "list", "--state", "collected").out


def test_short_parts_are_named_and_the_exit_status_says_so(specdb: Command) -> None:
    specdb("supply", "set", "shaft", "reed", "--ordered", "1", "--expected", "2031-06-02")
    specdb("order", "add", "o-1", "--club", "driver:2")
    ran = specdb("order", "reserve", "o-1", "shaft", "--json")
    assert ran.status == 1
    assert [p["item_id"] for p in ran.json["done"]] == ["reed"]
    assert ran.json["short"] == [
        {
            "line": 1, "unit": 2, "club_id": "driver", "kind": "shaft", "item_id": "reed", "quantity": 1,
            "expected_on": "2031-06-02",
        }
    ]  # fmt: skip
    parts = {p["item_id"]: p for p in specdb("order", "parts", "o-1", "--json").json["parts"]}
    assert (parts["reed"]["needed"], parts["reed"]["reserved"], parts["reed"]["short"]) == (2, 1, 1)
    shown = specdb("order", "show", "o-1").out
    assert "expected on 2031-06-02" in shown
    assert "epoxy" in shown


def test_a_count_below_what_is_held_is_said_on_standard_error(specdb: Command) -> None:
    specdb("order", "add", "o-1", "--club", "driver")
    specdb("order", "reserve", "o-1")
    ran = specdb("stock", "count", "shaft", "reed", "0")
    assert ran.status == 0
    assert ran.err == (
        "Mind: shaft 'reed': 0 on hand, but 1 held for order o-1; 1 cannot be had, so o-1 is short: receive it, or "
        "release it ('specdb order release').\n"
    )
    assert "1 kept for orders, but 0 on hand; 1 kept for this" in specdb("order", "list").out
    assert "short: kept, but not there" in specdb("order", "show", "o-1").out
    assert "1 held for order o-1" in specdb("check").out
    ran = specdb("stock", "use", "grip", "moss", "10")
    assert ran.status == 1
    assert "of 10 on hand 1 are held for o-1" in ran.err


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("add", "--club", "divver"), "there is no club 'divver' in the catalogue; did you mean driver?"),
        (("add", "--set", "woods"), "there is no set 'woods'"),
        (("add",), "an order needs a line"),
        (("add", "--club", "driver:0"), "after the colon stands how many"),
        (("add", "--club", ":2"), "--club is empty"),
        (("add", "--club", "driver", "--wanted", "soon"), "soon"),
        (("show", "o-9"), "there is no order 'o-9'"),
        (("state", "o-9", "open"), "there is no order 'o-9'"),
        (("state", "o-9", "ready"), "'ready' is no state of an order"),
        (("reserve", "o-9"), "there is no order 'o-9'"),
        (("import", "none.csv"), "there is no file none.csv"),
        (("import", "bad.csv"), "needs a column order"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(words: tuple[str, ...], why: str, specdb: Command, tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_text("club\ndriver\n")
    ran = specdb("order", *words)
    assert ran.status in (1, 2)
    assert ran.out == ""
    assert why in " ".join(ran.err.split())
    assert specdb("order", "list", "--all", "--json").json == []


def test_a_list_is_imported_on_trial_then_in_earnest(specdb: Command, tmp_path: Path) -> None:
    path = tmp_path / "orders.csv"
    path.write_text("order,customer,wanted_on,club,quantity\no-1,V,2031-05-01,driver,1\no-1,,,irons,1\n")
    trial = specdb("order", "import", str(path), "--dry-run").out
    assert "It would be: 2 added" in trial
    assert "o-1 (new order): 1 × driver" in trial
    assert specdb("order", "list", "--all", "--json").json == []
    assert specdb("order", "import", str(path)).out == "2 added, 0 changed, 0 unchanged.\n"
    assert specdb("order", "import", str(path)).out == "0 added, 0 changed, 2 unchanged.\n"
    path.write_text("order,club\no-2,driver\no-3,nobody\n")
    ran = specdb("order", "import", str(path), "--json")
    assert ran.status == 1
    assert [(p["row"], p["field"]) for p in ran.json["rejected"]] == [(3, "club")]


def test_cancelling_and_undoing_from_the_command_line(specdb: Command) -> None:
    specdb("order", "add", "o-1", "--club", "driver")
    specdb("order", "reserve", "o-1")
    assert "4 parts free again." in specdb("order", "state", "o-1", "cancelled").out
    specdb("undo")
    assert specdb("order", "show", "o-1", "--json").json["state"] == "open"
    assert specdb("order", "release", "o-1", "grip").out.startswith("1 part free again:")
    assert specdb("order", "spoil", "o-1", "shaft", "--why", "split").status == 0
    assert specdb("stock", "list", "shaft", "reed", "--json").json[0]["on_hand"] == 0


@pytest.mark.parametrize("name", ["open", "shortages", "reorder", "stand-ins", "errors"])
def test_reports_as_table_json_and_files(name: str, specdb: Command, tmp_path: Path) -> None:
    specdb("order", "add", "o-1", "--club", "driver:2")
    ran = specdb("report", name)
    assert ran.status == 0
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    answer = specdb("report", name, "--json").json
    assert answer["report"] == name
    ran = specdb("report", name, "--csv", "r.csv", "--html", "r.html")
    assert (ran.status, ran.out) == (0, "")
    assert (tmp_path / "r.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    lines = (tmp_path / "r.csv").read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 1 + len(answer["lines"])
    ran = specdb("report", name, "--csv", "r.csv")
    assert ran.status == 2
    assert "is there already" in ran.err
    assert specdb("report", name, "--csv", "r.csv", "--force").status == 0
    assert specdb("report", name, "--force").status == 2


def test_a_day_may_be_typed_as_it_is_said(specdb: Command) -> None:
    past = specdb("supply", "set", "shaft", "reed", "--ordered", "1", "--expected", "2020-01-01")
    assert (past.status, f"{(today() - dt.date(2020, 1, 1)).days} days ago" in past.err) == (0, True)
    said = specdb("order", "add", "o-50", "--club", "driver", "--wanted", "in 2 weeks")
    day = today() + dt.timedelta(weeks=2)
    assert said.status == 0
    assert f"{day:%a} {day.day} {day:%b} {day.year}, in 14 days" in said.err
    assert specdb("order", "show", "o-50", "--json").json["wanted_on"] == day.isoformat()
    assert specdb("set", "order", "o-50", "wanted_on=tomorrow").status == 0
    tomorrow = today() + dt.timedelta(days=1)
    assert specdb("order", "show", "o-50", "--json").json["wanted_on"] == tomorrow.isoformat()
    for words in (("order", "add", "--club", "driver", "--wanted", "9/12"), ("set", "order", "o-50", "wanted_on=9/12")):
        refused = specdb(*words)
        assert refused.status in (1, 2)
        assert "9 Dec or 12 Sep" in refused.err
