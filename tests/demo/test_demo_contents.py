"""What the demonstration catalogue holds, that it is a valid package and made by its kept script.

Outside reference: the frictionless library, with foreign keys.
"""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from frictionless import Package

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from specdb.catalogue.keys import derive_key
from specdb.paths import demo_catalog_folder
from specdb.schema import load_schema

FOLDER = demo_catalog_folder()
MADE = ("shaft", "head", "adapter", "sleeve", "ferrule", "grip", "adhesive")


def _make(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(FOLDER / "make_demo.py"), *arguments], capture_output=True, text=True, check=False
    )


def test_frictionless_finds_it_valid_with_its_references() -> None:
    report = Package(str(FOLDER / "datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "type", "note"])[:5]


def test_the_files_are_what_the_script_makes(tmp_path: Path) -> None:
    assert _make("--check").returncode == 0
    assert _make("--to", str(tmp_path)).returncode == 0
    (tmp_path / "club.csv").write_text("id\n", encoding="utf-8")
    done = _make("--check", "--to", str(tmp_path))
    assert done.returncode == 1
    assert "club.csv" in done.stderr


def test_headings_are_those_of_the_schema_and_the_files_are_small() -> None:
    for kind, table in load_schema().tables.items():
        path = FOLDER / f"{kind}.csv"
        if path.exists():
            assert path.read_text(encoding="utf-8").split("\n", 1)[0] == ",".join(f.name for f in table.fields)
    assert sum(p.stat().st_size for p in FOLDER.iterdir() if p.is_file()) < 1_000_000


def test_everything_is_marked_as_invented(demo: Catalogue) -> None:
    with demo.read() as reader:
        for kind in MADE:
            assert all("invented" in row.source for row in reader.rows(kind)), kind
        assert all("Invented" in row.notes for row in reader.rows("club"))


def test_keys_nobody_types_are_those_an_import_would_give(demo: Catalogue) -> None:
    with demo.read() as reader:
        for kind in ("shaft_reading", "reference_reading", "stock_move", "supply", "choice", "reservation", "as_built"):
            names = [f.name for f in load_schema().table(kind).fields]
            for row in reader.rows(kind):
                values = {n: getattr(row, n) for n in names if n != "id"}
                assert derive_key(kind, values) == row.id, (kind, row)


def test_shafts(demo: Catalogue) -> None:
    with demo.read() as reader:
        shafts = reader.rows("shaft")
        readings = reader.rows("shaft_reading")
    assert len(shafts) >= 160
    assert {s.club_type for s in shafts} == {"wood", "hybrid", "iron", "wedge", "putter"}
    assert {s.material for s in shafts} == {"graphite", "steel", "composite"}
    assert {s.tip_form for s in shafts if s.club_type == "iron"} == {"parallel", "taper"}
    assert {s.club_number for s in shafts if s.club_number} >= {"4", "5", "6", "7", "8", "9", "PW"}
    stations = Counter(r.shaft_id for r in readings if r.quantity == "ei" and r.sample == "published")
    assert 0.60 < len(stations) / len(shafts) < 0.75
    assert min(stations.values()) >= 12
    assert max(stations.values()) <= 18
    figures = {s.id for s in shafts if s.tip_ei_n_m2} - stations.keys()
    labels = {s.id for s in shafts} - figures - stations.keys()
    assert 0.12 < len(figures) / len(shafts) < 0.22
    assert 0.10 < len(labels) / len(shafts) < 0.22


def test_readings_and_their_gaps(demo: Catalogue) -> None:
    with demo.read() as reader:
        shafts = reader.rows("shaft")
        readings = reader.rows("shaft_reading")
    bench = [r for r in readings if r.sample != "published"]
    assert {r.quantity for r in bench} >= {"ei", "frequency", "torque", "weight", "balance", "outside_diameter"}
    for r in bench:
        assert r.taken_on, r
        assert r.taken_by, r
        assert r.instrument, r
        assert (r.span_in is not None) == (r.quantity == "ei")
        assert (r.tip_mass_g is not None) == (r.quantity == "frequency")
    raw = {s.id: s.raw_length_in for s in shafts}
    for r in readings:
        if r.position_in is not None:
            assert 0 <= r.position_in <= raw[r.shaft_id] - (r.span_in or 0.0) / 2.0
    for name in ("balance_from_tip_in", "tip_growth_in_per_in", "max_tip_trim_in", "torque_gauge_in"):
        assert 0 < sum(getattr(s, name) is None for s in shafts) < len(shafts), name


def test_heads_parts_and_clubs(demo: Catalogue) -> None:
    with demo.read() as reader:
        heads, clubs, adapters = reader.rows("head"), reader.rows("club"), reader.rows("adapter")
        shafts = {s.id: s for s in reader.rows("shaft")}
        counts = {kind: reader.count(kind) for kind in ("sleeve", "ferrule", "grip", "adhesive", "weighting", "choice")}
    assert len(heads) >= 60
    assert {h.hand for h in heads} == {"left", "right"}
    assert len({h.connection for h in heads if h.connection}) == 3
    assert {bool(h.connection) for h in heads if h.club_type == "wood"} == {True, False}
    assert any(h.max_ream_dia_in is None and h.bore_dia_in for h in heads)
    assert any(h.cg_below_mouth_in is None for h in heads)
    assert len(adapters) >= 12
    assert counts["sleeve"] >= 4
    assert counts["ferrule"] >= 4
    assert counts["grip"] >= 6
    assert counts["adhesive"] in (2, 3)
    assert counts["weighting"] == 2
    assert counts["choice"] == 1
    assert len(clubs) >= 12
    by_id = {h.id: h for h in heads}
    assert {by_id[c.head_id].club_type for c in clubs} == {"wood", "hybrid", "iron", "wedge", "putter"}
    assert any(by_id[c.head_id].hand == "left" for c in clubs)
    assert {shafts[c.shaft_id].tip_form for c in clubs if c.set_id} == {"parallel", "taper"}


def test_orders_in_every_state_with_parts_and_measurements(demo: Catalogue) -> None:
    with demo.read() as reader:
        orders, kept, built = reader.rows("order"), reader.rows("reservation"), reader.rows("as_built")
        used = [m for m in reader.rows("stock_move") if m.reason == "used" and m.order_ref]
        clubs = {c.id: c for c in reader.rows("club")}
    assert {o.state for o in orders} == set(load_schema().table("order").field("state").enum)
    assert all("(invented)" in o.customer and "Invented" in o.notes for o in orders)
    assert {k.state for k in kept} == {"held", "used"}
    assert Counter((m.order_ref, m.item_id) for m in used) == Counter(
        (k.order_id, k.item_id) for k in kept if k.state == "used"
    )
    assert any(b.shaft_id != clubs[b.club_id].shaft_id for b in built)
    assert len({b.instrument for b in built if b.quantity == "frequency"}) == 2
    assert any(b.waived for b in built)
    assert check_catalogue(demo.path) == [f for f in check_catalogue(demo.path) if f.severity == "warning"]


@pytest.mark.parametrize("kind", ["shaft", "head", "adapter", "grip"])
def test_shortages_and_what_is_on_order(kind: str, demo: Catalogue) -> None:
    with demo.read() as reader:
        stock, supply = reader.stock(kind), reader.supply(kind)
    assert all(count >= 0 for count in stock.values())
    assert any(count > 0 for count in stock.values())
    short = [item for item, state in supply.items() if state.backordered and stock.get(item, 0) == 0]
    assert short


def test_a_price_has_a_currency(demo: Catalogue) -> None:
    with demo.read() as reader:
        for kind in MADE:
            for row in reader.rows(kind):
                assert row.price is None or row.currency, row.id
