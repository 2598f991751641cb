"""What the demonstration catalogue holds, that it is a valid package and made by its kept script.

Outside reference: the frictionless library, with foreign keys.
"""

from __future__ import annotations

import subprocess
import sys

from frictionless import Package

from specdb.catalogue import Catalogue
from specdb.paths import demo_catalog_folder

FOLDER = demo_catalog_folder()


def test_frictionless_finds_it_valid_with_its_references() -> None:
    report = Package(str(FOLDER / "datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "type", "note"])[:5]


def test_the_files_are_what_the_script_makes() -> None:
    done = subprocess.run(
        [sys.executable, str(FOLDER / "make_demo.py"), "--check"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_everything_is_marked_as_invented(demo: Catalogue) -> None:
    with demo.read() as reader:
        for kind in ("shaft", "head", "adapter", "sleeve", "ferrule", "grip", "adhesive"):
            assert all("invented" in row.source for row in reader.rows(kind)), kind
        assert all("invented" in row.notes for row in reader.rows("club"))


def test_contents(demo: Catalogue) -> None:
    with demo.read() as reader:
        shafts, heads, clubs = reader.rows("shaft"), reader.rows("head"), reader.rows("club")
        tables = {r.shaft_id for r in reader.rows("shaft_reading", where="quantity = ei and sample = published")}
        adapters, supply, stock = reader.rows("adapter"), reader.supply("shaft"), reader.stock("shaft")
        readings = reader.rows("shaft_reading")
    assert len(shafts) >= 160
    assert {s.club_type for s in shafts} == {"wood", "hybrid", "iron", "wedge", "putter"}
    assert {s.material for s in shafts} == {"graphite", "steel", "composite"}
    assert {s.tip_form for s in shafts if s.club_type == "iron"} == {"parallel", "taper"}
    assert len({s.club_number for s in shafts if s.club_number}) == 8
    assert 0.55 < len(tables) / len(shafts) < 0.80
    figures = [s for s in shafts if s.tip_ei_n_m2]
    labels = [s for s in shafts if not s.tip_ei_n_m2 and s.id not in tables]
    assert len(figures) >= 10
    assert len(labels) >= 10
    counts = [sum(r.shaft_id == i and r.quantity == "ei" and r.sample == "published" for r in readings) for i in tables]
    assert min(counts) >= 12
    assert max(counts) <= 18
    assert len(heads) == 60
    assert {h.hand for h in heads} == {"left", "right"}
    assert len({h.connection for h in heads if h.connection}) == 3
    assert any(h.connection is None for h in heads)
    assert len(adapters) == 12
    assert len(clubs) == 12
    assert {r.quantity for r in readings} >= {"ei", "frequency", "torque", "weight", "balance", "outside_diameter"}
    short = [s for s, state in supply.items() if state.backordered and stock.get(s, 0) == 0]
    assert len(short) >= 3
