"""Reports: what they count, held against counts of the rows; the page stands alone; the target for many orders."""

from __future__ import annotations

import csv
import datetime as dt
import math
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import poisson

from specdb.catalogue import Catalogue
from specdb.errors import UsageError
from specdb.orders.tolerances import TOLERANCES
from specdb.verbs.building.built_bias import bias
from specdb.verbs.catalogue.changing import decide, move_stock, retire, set_supply
from specdb.verbs.orders.changes import Wanted, add_order, today
from specdb.verbs.orders.orders import order_of, orders_of
from specdb.verbs.orders.parts import reserve_parts, use_parts
from specdb.verbs.reports.built import errors_report, stand_in_report
from specdb.verbs.reports.html import report_page, write_page, write_table
from specdb.verbs.reports.reorder import MONTH_DAYS, covering, reorder_report, use_per_month
from specdb.verbs.reports.reports import open_report, shortage_report
from specdb.verbs.reports.types import Report
from tests.orders.large import ORDERS, fill_large
from tests.support.copies import demo_copy

DRIVER, IRONS = Wanted(club_id="driver"), Wanted(set_id="irons")
DAY = dt.date(2031, 4, 1)


@pytest.fixture
def busy(shop: Catalogue) -> Catalogue:
    """Three orders; the second driver has no shaft."""
    add_order(shop, "o-1", [DRIVER], wanted_on=dt.date(2031, 5, 1), customer="R. Vetch & Co <invented>")
    add_order(shop, "o-2", [DRIVER, IRONS], wanted_on=dt.date(2031, 5, 3))
    add_order(shop, "o-3", [DRIVER])
    set_supply(shop, "shaft", "reed", {"ordered": 1, "expected_on": dt.date(2031, 5, 13), "supplier": "Hill"})
    reserve_parts(shop, "o-1")
    return shop


def _built(shop: Catalogue, club: str, quantity: str, values: list[tuple[float, float]], **more: object) -> None:
    with shop.write() as w:
        for n, (value, expected) in enumerate(values):
            row = {"club_id": club, "quantity": quantity, "value": value, "expected": expected, "expected_sd": 2.0}
            w.put("as_built", {**row, "taken_on": DAY + dt.timedelta(days=n), **more}, mode="add")


def test_open_orders(busy: Catalogue) -> None:
    found = open_report(busy, day=DAY)
    assert [(o.order_id, o.clubs, o.parts, o.kept, o.on_shelf, o.short) for o in found.lines] == [
        ("o-1", 1, 4, 4, 0, 0),
        ("o-2", 4, 16, 0, 15, 1),
        ("o-3", 1, 4, 0, 2, 2),  # two heads there are: one is kept, one is wanted earlier
    ]
    assert [(o.ready, o.days_left, o.expected_on, o.late_days) for o in found.lines] == [
        (True, 30, None, None),
        (False, 32, dt.date(2031, 5, 13), 10),
        (False, None, None, None),
    ]
    assert "3 open: 1 can be built today, 1 wait for a part that comes late, 0 overdue." in found.said
    assert found.to_json()["lines"][0]["customer"] == "R. Vetch & Co <invented>"


def test_shortages_name_the_orders_they_hold_up(busy: Catalogue) -> None:
    found = shortage_report(busy, day=DAY)
    assert [(s.kind, s.item_id, s.short, s.ordered, s.covered_on, s.orders) for s in found.lines] == [
        ("shaft", "reed", 2, 1, None, ("o-2 (2031-05-03)", "o-3")),
        ("head", "wren", 1, 0, None, ("o-3",)),
    ]
    move_stock(busy, "count", "shaft", "reed", 0)
    assert any("0 on hand, but 1 held for order o-1" in text for text in shortage_report(busy).said)


@pytest.mark.parametrize("mean", [0.05, 0.7, 3.0, 12.5, 80.0, 900.0])
def test_reorder_level_is_the_poisson_quantile(mean: float) -> None:
    """Reference: scipy's Poisson distribution; a mean too large for the exponential may be off by a piece."""
    assert abs(covering(mean) - poisson.ppf(0.95, mean)) <= (0 if mean < 700 else 1)
    assert covering(0.0) == 0


def test_what_to_reorder_from_use_and_lead_time(busy: Catalogue) -> None:
    with busy.write() as w:
        for kind, item, quantity, reason, on in (
            ("grip", "moss", 40, "received", "2030-10-01"),
            ("grip", "moss", -30, "used", "2031-01-15"),
            ("ferrule", "plain", 40, "received", "2030-10-01"),
            ("grip", "moss", 5, "received", "2031-03-20"),
        ):
            row = {"kind": kind, "item_id": item, "quantity": quantity, "reason": reason}
            w.put("stock_move", {**row, "on": dt.date.fromisoformat(on)}, mode="add")
        supply = {"kind": "grip", "item_id": "moss", "ordered": 5, "supplier": "Hill"}
        w.put("supply", {"id": "asked", **supply, "asked_on": dt.date(2031, 3, 6)})
    with busy.write() as w:
        w.put("supply", {"id": "asked", "ordered": None}, mode="update")  # it came
    found = {line.item_id: line for line in reorder_report(busy, day=DAY, everything=True).lines}
    grip = found["moss"]
    a_month = 30 / ((DAY - dt.date(2030, 10, 1)).days / MONTH_DAYS)
    assert math.isclose(grip.use_per_month, a_month, abs_tol=0.01)
    assert (grip.lead_days, grip.lead_from) == (14, "1 supply of it that came")
    assert grip.level == poisson.ppf(0.95, a_month * 14 / MONTH_DAYS)
    assert (grip.on_hand, grip.held, grip.needed) == (25, 1, 5)
    assert grip.order == 0
    # nothing came of the shaft yet: what others of its supplier took, and for the rest what anything took
    assert found["reed"].lead_from == "1 supply from Hill that came"
    assert found["wren"].lead_from == "1 supply of any part that came"
    assert (found["reed"].order, found["reed"].note) == (1, "open orders wait")
    move_stock(busy, "count", "grip", "moss", 8)
    again = {line.item_id: line for line in reorder_report(busy, day=DAY).lines}
    left, six_months = 8 - 1 - 5, 30 / 6.0  # the count is of today, so the six months are full
    assert again["moss"].order == grip.level + math.ceil(six_months) - left
    retire(busy, "shaft", "reed")
    assert {line.item_id: line for line in reorder_report(busy, day=DAY).lines}["reed"].order == 0
    with pytest.raises(UsageError, match="lasts 0 months"):
        reorder_report(busy, cover_months=0.0)


def test_use_is_averaged_over_six_months_at_most(shop: Catalogue) -> None:
    with shop.write() as w:
        move = {"kind": "grip", "item_id": "moss", "reason": "received", "quantity": 50, "on": dt.date(2029, 1, 1)}
        w.put("stock_move", move, mode="add")
        for on, quantity, reason in (
            ("2030-01-01", -9, "used"),
            ("2031-03-01", -6, "used"),
            ("2031-03-02", -2, "counted"),
        ):
            row = {**move, "on": dt.date.fromisoformat(on), "quantity": quantity, "reason": reason}
            w.put("stock_move", row, mode="add")
    with shop.read() as r:
        assert use_per_month(r.rows("stock_move"), DAY) == {("grip", "moss"): pytest.approx(1.0, abs=0.01)}


def test_stand_ins_used_and_how_they_measured(shop: Catalogue) -> None:
    decide(shop, "driver", "sedge", "chosen", tip_trim_in=0.5, score=0.4, by="Robin")
    move_stock(shop, "count", "shaft", "reed", 0)
    for number in ("o-1", "o-2"):
        add_order(shop, number, [DRIVER])
        reserve_parts(shop, number)
    use_parts(shop, "o-1")
    with shop.write() as w:
        w.put("club", {"id": "driver", "frequency_cpm": 250.0}, mode="update")
    where = {"order_id": "o-1", "line": 1, "unit": 1, "shaft_id": "sedge"}
    _built(shop, "driver", "frequency", [(252.0, 254.5)], **where)
    _built(shop, "driver", "swingweight", [(217.0, 215.25)], **where)
    found = stand_in_report(shop).lines
    assert {s.where for s in found} == {"built in o-1", "kept for o-2"}
    built = next(s for s in found if s.where == "built in o-1")
    assert (built.fitted, built.stand_in, built.score, built.chosen_by) == ("reed", "sedge", 0.4, "Robin")
    assert (built.frequency_cpm, built.off_expected_cpm, built.off_fitted_cpm) == (252.0, -2.5, 2.0)
    assert built.off_swingweight == 1.0  # 1.75 in·oz a point (common practice, no source)
    assert next(s for s in found if s.where == "kept for o-2").frequency_cpm is None
    # measured again on the same day: one line, with what was kept last
    _built(shop, "driver", "frequency", [(251.0, 254.5)], instrument="meter 2", **where)
    again = [s for s in stand_in_report(shop).lines if s.where == "built in o-1"]
    assert [(s.frequency_cpm, s.off_expected_cpm) for s in again] == [(251.0, -3.5)]


def test_a_stand_in_whose_club_was_built_with_another_one_is_replaced_and_does_not_wait(shop: Catalogue) -> None:
    decide(shop, "driver", "bulrush", "chosen", tip_trim_in=0.5)
    assert [(s.stand_in, s.where) for s in stand_in_report(shop).lines] == [("bulrush", "not used yet")]
    decide(shop, "driver", "sedge", "chosen", tip_trim_in=0.5)
    move_stock(shop, "count", "shaft", "reed", 0)
    add_order(shop, "o-1", [DRIVER])
    reserve_parts(shop, "o-1")
    assert {s.stand_in: s.where for s in stand_in_report(shop).lines} == {
        "bulrush": "not used yet",
        "sedge": "kept for o-1",
    }
    use_parts(shop, "o-1")
    assert [(s.stand_in, s.where) for s in stand_in_report(shop).lines] == [
        ("sedge", "built in o-1"),
        ("bulrush", f"replaced by sedge on {today().isoformat()}"),
    ]
    # what was built in needs nobody's eye any more
    assert order_of(shop, "o-1").said == ()
    decide(shop, "driver", "thick", "chosen")  # chosen since: it waits for the next order
    assert {s.stand_in: s.where for s in stand_in_report(shop).lines}["thick"] == "not used yet"


def test_errors_by_quantity_and_instrument(shop: Catalogue) -> None:
    """Reference: numpy's mean and standard deviation."""
    first = [(250.0, 251.0), (248.0, 250.0), (261.0, 262.5)]
    second = [(255.0, 254.0), (249.0, 249.5)]
    add_order(shop, "o-1", [Wanted(club_id="driver", quantity=5)])
    for n, (both, meter) in enumerate([(v, "meter 1") for v in first] + [(v, "meter 2") for v in second], 1):
        _built(shop, "driver", "frequency", [both], instrument=meter, order_id="o-1", line=1, unit=n)
    found = {line.instrument: line for line in errors_report(shop).lines}
    for name, values in (("all", first + second), ("meter 1", first), ("meter 2", second)):
        off = np.array([v - e for v, e in values])
        line = found[name]
        assert line.clubs == len(values)
        assert line.bias == pytest.approx(off.mean(), abs=1e-6)
        assert line.spread == pytest.approx(off.std(ddof=1), abs=1e-6)
        assert line.bias_sd == pytest.approx(off.std(ddof=1) / math.sqrt(len(values)), abs=1e-6)
        assert line.ratio == pytest.approx(math.sqrt((off**2).mean()) / 2.0, abs=1e-6)
    assert found["meter 1"].found
    assert not found["meter 2"].found
    assert len(errors_report(shop).more["readings"]) == 5


def test_a_club_measured_twice_counts_once_with_its_newest_value(shop: Catalogue) -> None:
    """Reference: the plain means of what is left when the older value of the first club is struck out."""
    add_order(shop, "o-1", [Wanted(club_id="driver", quantity=2)])
    first, second = ({"order_id": "o-1", "line": 1, "unit": n} for n in (1, 2))
    _built(shop, "driver", "frequency", [(240.0, 250.0), (251.0, 250.0)], instrument="meter 1", **first)
    _built(shop, "driver", "frequency", [(252.0, 250.0)], instrument="meter 1", **second)
    # read again on the first day, with another meter: kept last, but of an older day than the newest
    _built(shop, "driver", "frequency", [(247.0, 250.0)], instrument="meter 2", **first)
    for lines in (
        {line.instrument: (line.clubs, line.bias) for line in errors_report(shop).lines},
        {b.instrument or "all": (b.count, b.mean) for b in (*bias(shop).all, *bias(shop).by_instrument)},
    ):
        assert lines == {"all": (2, 1.5), "meter 1": (2, 1.5), "meter 2": (1, -3.0)}
    # of two of one day, the one that was kept last counts
    _built(shop, "driver", "frequency", [(253.0, 250.0)], instrument="meter 2", **second)
    assert {line.instrument: line.bias for line in errors_report(shop).lines}["all"] == (1.0 + 3.0) / 2.0
    assert [(b.count, b.mean) for b in bias(shop).all] == [(2, 2.0)]


def test_bias_and_the_report_on_errors_have_the_same_figures(tmp_path: Path) -> None:
    """Reference: the plain mean of the raw rows, less what the meter read too little of its references."""
    path = tmp_path / "demo.duckdb"
    demo_copy(path)
    catalogue = Catalogue(path)
    with catalogue.read() as reader:
        raw = [r for r in reader.rows("as_built") if r.instrument == "frequency meter 2"]
        references = [r for r in reader.rows("reference_reading") if r.instrument == "frequency meter 2"]
    off = float(np.mean([r.value - r.expected for r in raw]))
    low = float(np.mean([r.value - r.true_value for r in references]))
    assert off < 0.0 < off - low
    report, summed = errors_report(catalogue), bias(catalogue)
    lines = {(line.quantity, line.instrument): (line.clubs, line.bias, line.found) for line in report.lines}
    assert lines["frequency", "frequency meter 2"][1] == pytest.approx(off - low, abs=0.6)  # its scale is off too
    told = {
        (TOLERANCES[b.quantity].title, b.instrument or "all"): (b.count, round(b.mean, 6), b.found)
        for b in (*summed.all, *summed.by_instrument)
    }
    assert lines.items() <= told.items()
    points = [p for p in report.more["readings"] if p.instrument == "frequency meter 2"]
    assert np.mean([p.corrected - p.expected for p in points]) == pytest.approx(np.mean([p.off for p in points]))


class _Page(HTMLParser):
    """What a page fetches, and whether its tags close."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched: list[str] = []
        self.open: list[str] = []
        self.rows = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in ("meta", "br"):
            self.open.append(tag)
        self.rows += tag == "tr"
        for name, value in attrs:
            if name in ("src", "href", "xlink:href", "data", "action") and not (value or "").startswith("#"):
                self.fetched.append(f"{tag} {name} {value}")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in ("meta", "br"):
            assert self.open.pop() == tag


def _reports(shop: Catalogue) -> list[Report]:
    makers = (open_report, shortage_report, reorder_report, stand_in_report, errors_report)
    return [make(shop, day=DAY) for make in makers]


def test_pages_stand_alone_and_are_the_same_twice(busy: Catalogue) -> None:
    decide(busy, "driver", "sedge", "chosen")
    more = {"order_id": "o-1", "line": 1, "unit": 1, "shaft_id": "sedge"}
    _built(busy, "driver", "frequency", [(252.0, 254.5), (251.0, 252.0)], instrument="meter <1>", **more)
    for report in _reports(busy):
        page = report_page(report)
        assert page == report_page(report)
        seen = _Page()
        seen.feed(page)
        assert seen.open == []
        assert seen.fetched == []
        assert seen.rows == len(report.lines) + 1
        assert page.count("<svg") == page.count("<figure>") >= 1
        assert "@import" not in page
        assert "url(http" not in page
        # addresses are names of the picture's language only
        assert set(re.findall(r"https?://[^\"'\s]+", page)) <= {
            "http://www.w3.org/2000/svg",
            "http://www.w3.org/1999/xlink",
        }
        assert "@media print" in page
        assert "<invented>" not in page
        assert "meter <1>" not in page


def test_an_empty_shop_has_reports_too(shop: Catalogue) -> None:
    for report in _reports(shop):
        assert report.lines == ()
        page = report_page(report)
        assert report.nothing in page
        assert "<svg" not in page


def test_files_are_written_whole_and_never_over_others(busy: Catalogue, tmp_path: Path) -> None:
    report = open_report(busy, day=DAY)
    target = tmp_path / "open.csv"
    write_table(report, target)
    with target.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [r["order_id"] for r in rows] == ["o-1", "o-2", "o-3"]
    assert rows[0]["wanted_on"] == "2031-05-01"
    assert list(rows[0]) == [c.name for c in report.columns]
    with pytest.raises(UsageError, match="is there already"):
        write_table(report, target)
    with pytest.raises(UsageError, match="must end in"):
        write_page(report, tmp_path / "open.pdf")
    with pytest.raises(UsageError, match="there is no folder"):
        write_page(report, tmp_path / "no" / "open.html")
    write_page(report, tmp_path / "open.html")
    assert sorted(p.name for p in tmp_path.glob("*open*")) == ["open.csv", "open.html"]


@pytest.mark.slow
def test_three_hundred_orders_and_their_shortages_agree(tmp_path: Path) -> None:
    """900 clubs, 40 sets, 2,000 shafts on the shelf, 10,000 in the catalogue."""
    shop = fill_large(tmp_path / "large.duckdb")
    found = orders_of(shop)
    assert len(found) == ORDERS
    assert sum(len(v.units) for v in found) == 900
    short = shortage_report(shop)
    assert sum(s.short for s in short.lines) == sum(s.waiting for v in found for s in v.states)
