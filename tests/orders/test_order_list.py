"""A flat list of orders from a spreadsheet: all or nothing, every bad row with its reason, twice is once."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from openpyxl import Workbook

from specdb.catalogue import Catalogue
from specdb.errors import ImportFileError
from specdb.verbs.catalogue.changing import retire
from specdb.verbs.catalogue.importing import import_rows
from specdb.verbs.orders.changes import Wanted, add_order, set_order_state, today
from specdb.verbs.orders.flat_list import import_orders, new_line_words

HEAD = "order,customer,wanted_on,club,quantity\n"
GOOD = HEAD + "O-1,R. Vetch (invented),2031-05-01,driver,1\nO-1,,,irons,2\n77/b,,,iron-7,\n"


def _file(folder: Path, text: str, name: str = "orders.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def _stored(shop: Catalogue) -> tuple[int, int]:
    with shop.read() as r:
        return r.count("order"), r.count("order_line")


def test_a_list_is_taken_and_twice_changes_nothing(shop: Catalogue, tmp_path: Path) -> None:
    path = _file(tmp_path, GOOD)
    dry = import_orders(shop, path, dry_run=True)
    assert (dry.added, dry.rejected) == (3, [])
    assert _stored(shop) == (0, 0)
    done = import_orders(shop, path, by="Robin")
    assert (done.added, done.changed, done.unchanged, done.rejected) == (3, 0, 0, [])
    with shop.read() as r:
        first, lines = r.get("order", "o-1"), r.rows("order_line")
        assert r.last_change() == done.change_no
        changes = r.last_change()
        assert r.get("order", "77-b").state == "open"
    assert (first.customer, first.wanted_on, first.taken_by) == ("R. Vetch (invented)", dt.date(2031, 5, 1), "Robin")
    assert [(n.order_id, n.line, n.club_id, n.set_id, n.quantity) for n in lines] == [
        ("77-b", 1, "iron-7", None, 1),
        ("o-1", 1, "driver", None, 1),
        ("o-1", 2, None, "irons", 2),
    ]
    again = import_orders(shop, path)
    assert (again.added, again.changed, again.unchanged, again.change_no) == (0, 0, 3, None)
    with shop.read() as r:
        assert r.last_change() == changes


def test_what_differs_is_changed_and_shown_and_undone_as_one(shop: Catalogue, tmp_path: Path) -> None:
    import_orders(shop, _file(tmp_path, GOOD))
    changed = HEAD + "o-1,,2031-06-01,driver,3\no-1,,,iron-9,1\n"
    done = import_orders(shop, _file(tmp_path, changed))
    assert (done.added, done.changed, done.unchanged) == (1, 1, 0)
    assert {(c.key, c.field, c.before, c.after) for c in done.changes} == {
        ("o-1", "wanted_on", dt.date(2031, 5, 1), dt.date(2031, 6, 1)),
        ("o-1/1", "quantity", 1, 3),
    }
    assert _stored(shop) == (2, 4)
    with shop.write(done="undo") as w:
        w.undo(done.change_no)
    assert _stored(shop) == (2, 3)


def test_a_spreadsheet_with_other_headings(shop: Catalogue, tmp_path: Path) -> None:
    book = Workbook()
    page = book.active
    assert page is not None
    for row in (
        ["Order No", "Client", "Due", "Club or set", "Qty"],
        [1042, "I. Rue (invented)", dt.date(2031, 5, 1), "irons", 1],
        [1042, None, None, "driver", 2],
    ):
        page.append(row)
    path = tmp_path / "list.xlsx"
    book.save(path)
    assert import_orders(shop, path).added == 2
    with shop.read() as r:
        assert r.get("order", "1042").wanted_on == dt.date(2031, 5, 1)
        assert r.get("order_line", "1042/2").quantity == 2


def test_every_bad_row_is_told_with_its_reason_and_nothing_is_written(shop: Catalogue, tmp_path: Path) -> None:
    retire(shop, "club", "iron-5")
    text = HEAD + (
        "o-1,,,driver,1\n"  # 2 good, but the order is not
        "o-1,,,drivver,1\n"  # 3 no such club
        "o-2,,,irons,1\n"  # 4 a club of the set is retired
        "o-3,,,driver,0\n"  # 5 quantity
        "o-4,,2031-02-30,driver,1\n"  # 6 no such day
        ",,,driver,1\n"  # 7 no order
        "o-5,,,driver,1\n"  # 8 good but for the next
        "o-5,,,driver,2\n"  # 9 twice
        "o-6,A,,driver,1\n"
        "o-6,B,,iron-7,1\n"  # 11 another customer
        "o-7,,,,1\n"  # 12 nothing
        "o-8,,,driver,1\n"  # 13 good
    )
    done = import_orders(shop, _file(tmp_path, text))
    assert (done.added, done.change_no) == (0, None)
    assert _stored(shop) == (0, 0)
    told = {p.row: p.message for p in done.rejected}
    assert "did you mean driver" in told[3]
    assert told[4] == "set irons has a club missing: iron-5 is retired"
    assert told[5].startswith("quantity is 0; it must be 1 to 99")
    assert "wanted_on" in {p.field for p in done.rejected if p.row == 6}
    assert told[7].startswith("order is empty")
    assert told[9] == "driver of order o-5 stands in row 8 already; give the quantity there"
    assert told[11] == "customer of order o-6 is B here, but A in row 10"
    assert told[12] == "the row asks for neither a club nor a set"
    assert told[2] == "order o-1 is taken whole or not at all, and row 3 of it is rejected"
    assert 13 not in told


def test_a_set_is_refused_in_its_own_column_and_days_in_words_belong_in_no_list(
    shop: Catalogue, tmp_path: Path
) -> None:
    retire(shop, "club", "iron-7")
    head = "\ufefforder;customer;wanted_on;set;quantity\r\n"
    rows = (
        "o-1;V;2031-05-01;irons;1\r\no-2;V;9 Dec;irns;1\r\no-3;V;next Friday;irons;1\r\no-4;V;9/12/2031;irons;1,5\r\n"
    )
    found = import_orders(shop, _file(tmp_path, head + rows)).rejected
    told = {(p.row, p.field): p.message for p in found}
    assert "set irons has a club missing: iron-7 is retired" in told[2, "set"]
    assert (3, "wanted_on") not in told  # 9 Dec is the next one
    assert "'next Friday' is no day" in told[4, "wanted_on"]
    assert "9 Dec or 12 Sep" in told[5, "wanted_on"]
    assert "no whole number" in told[5, "quantity"]
    assert _stored(shop) == (0, 0)


def test_good_orders_are_taken_whole_and_the_rest_is_set_aside(shop: Catalogue, tmp_path: Path) -> None:
    path = _file(tmp_path, HEAD + "o-1,,,driver,1\no-1,,,putter,1\no-2,,,irons,1\n")
    done = import_orders(shop, path, accept_good=True)
    assert done.added == 1
    assert _stored(shop) == (1, 1)
    assert done.rejected_file is not None
    aside = done.rejected_file.read_text(encoding="utf-8-sig")
    assert aside.count("o-1") >= 2
    assert "o-2" not in aside
    mended = _file(tmp_path, aside.replace("putter", "iron-9"), "mended.csv")
    assert import_orders(shop, mended).added == 2


def test_a_list_that_is_none(shop: Catalogue, tmp_path: Path) -> None:
    with pytest.raises(ImportFileError, match="needs a column order"):
        import_orders(shop, _file(tmp_path, "customer,club\nx,driver\n"))
    with pytest.raises(ImportFileError, match="colour"):
        import_orders(shop, _file(tmp_path, "order,club,colour\no-1,driver,red\n"))


def test_an_order_that_is_done_takes_no_lines(shop: Catalogue, tmp_path: Path) -> None:
    import_orders(shop, _file(tmp_path, GOOD))
    set_order_state(shop, "77-b", "cancelled")
    same = import_orders(shop, _file(tmp_path, GOOD))
    assert (same.unchanged, same.rejected) == (3, [])
    done = import_orders(shop, _file(tmp_path, GOOD + "77/b,,,driver,\n"))
    assert {p.row: p.message for p in done.rejected}[5] == "order 77-b is cancelled, so no list changes it any more"


def test_tables_of_orders_and_lines_are_imported_as_any_kind(shop: Catalogue, tmp_path: Path) -> None:
    orders = _file(tmp_path, "id,state,customer\no-1,open,R. Vetch (invented)\n", "o.csv")
    lines = "order_id,line,club_id,set_id,quantity\no-1,1,driver,,1\no-1,2,,irons,1\n"
    assert import_rows(shop, "order", orders).added == 1
    bad = lines + "o-1,3,,,1\no-1,4,driver,irons,1\no-1,5,,woods,1\no-9,1,driver,,1\no-1,6,putter,,1\n"
    told = {p.row: p.message for p in import_rows(shop, "order_line", _file(tmp_path, bad, "bad.csv")).rejected}
    assert told == {
        4: "the line asks for neither a club nor a set",
        5: "the line asks for club driver and set irons at once; give one of them",
        6: "set_id is woods, but no club belongs to it",
        7: "order_id is o-9, but there is no such order",
        8: "club_id is putter, but there is no such club",
    }
    assert import_rows(shop, "order_line", _file(tmp_path, lines, "l.csv")).added == 2
    wrong = _file(tmp_path, "id,state\no-1,collected\n", "w.csv")
    dry = import_rows(shop, "order", wrong, dry_run=True)
    assert "order o-1 is open, so it cannot become collected" in dry.rejected[0].message
    assert import_rows(shop, "order", wrong).rejected == dry.rejected


def test_an_order_of_somebody_else_under_the_same_number_is_refused(shop: Catalogue, tmp_path: Path) -> None:
    import_orders(shop, _file(tmp_path, GOOD))
    stranger = HEAD + "o-1,Someone Else,2032-01-20,iron-9,1\n"
    done = import_orders(shop, _file(tmp_path, stranger))
    assert [p.field for p in done.rejected] == ["customer"]
    assert "is Someone Else here, but in the catalogue it is R. Vetch (invented)" in done.rejected[0].message
    with shop.read() as r:
        assert r.get("order", "o-1").customer == "R. Vetch (invented)"
        assert r.count("order_line") == 3
    # the same name spelt with other capitals is the same customer
    assert import_orders(shop, _file(tmp_path, GOOD.replace("R. Vetch", "r.  vetch"))).rejected == []


def test_an_order_that_changes_with_a_new_line_counts_as_both(shop: Catalogue, tmp_path: Path) -> None:
    import_orders(shop, _file(tmp_path, GOOD))
    done = import_orders(shop, _file(tmp_path, HEAD + "o-1,,2031-06-01,iron-9,1\n"), dry_run=True)
    assert (done.added, done.changed, done.unchanged) == (1, 1, 0)
    assert [new_line_words(row) for row in done.new] == ["o-1: 1 × iron-9, wanted 2031-06-01"]


def test_a_wanted_day_long_past_is_taken_for_a_slip(shop: Catalogue, tmp_path: Path) -> None:
    long_ago = today() - dt.timedelta(days=400)
    day, near = long_ago.isoformat(), (today() - dt.timedelta(days=300)).isoformat()
    done = import_orders(shop, _file(tmp_path, HEAD + f"o-1,,{day},driver,1\no-2,,{near},iron-9,1\n"))
    assert [(p.field, p.message) for p in done.rejected] == [
        ("wanted_on", f"wanted_on of order o-1 is {day}, which is 400 days ago")
    ]
    add_order(shop, "o-1", [Wanted(club_id="driver")], wanted_on=long_ago)
    assert import_orders(shop, _file(tmp_path, HEAD + f"o-1,,{day},driver,1\n")).unchanged == 1


def test_a_list_without_rows_is_no_list(shop: Catalogue, tmp_path: Path) -> None:
    with pytest.raises(ImportFileError, match="has no rows"):
        import_orders(shop, _file(tmp_path, HEAD))


def test_a_day_without_a_year_is_the_next_one_and_stays_it_when_the_list_is_read_again(
    shop: Catalogue, tmp_path: Path
) -> None:
    ahead = today() + dt.timedelta(days=40)
    text = HEAD + f"o-1,,{ahead.day} {ahead:%b},driver,1\no-2,,Friday,driver,1\n"
    refused = import_orders(shop, _file(tmp_path, text))
    assert [(p.field, p.value) for p in refused.rejected] == [("wanted_on", "Friday")]
    done = import_orders(shop, _file(tmp_path, text.partition("o-2")[0]))
    assert [new_line_words(row) for row in done.new] == [f"o-1 (new order): 1 × driver, wanted {ahead.isoformat()}"]
    before = dt.date(2024, ahead.month, ahead.day)
    with shop.write() as w:
        w.put("order", {"id": "o-1", "wanted_on": before}, mode="update")
    assert import_orders(shop, _file(tmp_path, text.partition("o-2")[0])).unchanged == 1
