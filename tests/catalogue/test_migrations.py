"""Catalogue files of older and newer versions."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import duckdb
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from specdb.catalogue.migrations import find_steps
from specdb.errors import CatalogueError, CatalogueTooNewError, InstallationError
from specdb.paths import data_schema_folder
from specdb.schema import load_schema
from tests.catalogue.samples import SHAFT

OURS = load_schema().version
STEP = f"{OURS:04d}-weight-in-grams.sql"
# the version before: weight in ounces under another name, and a table that is no more
OLD = """
ALTER TABLE shaft RENAME COLUMN weight_g TO weight_oz;
UPDATE shaft SET weight_oz = weight_oz / 28.349523125;
UPDATE change SET after = replace(after, '"weight_g":62.5', '"weight_oz":2.204622621848776') WHERE kind = 'shaft';
CREATE TABLE spoon (id VARCHAR PRIMARY KEY, wood VARCHAR);
INSERT INTO spoon VALUES ('s', 'birch');
"""
NEW = """
-- shafts were weighed in ounces
ALTER TABLE shaft RENAME COLUMN weight_oz TO weight_g;
UPDATE shaft SET weight_g = round(weight_g * 28.349523125, 6);
UPDATE change SET after = json_merge_patch(after, json_object('weight_oz', NULL,
    'weight_g', round((after ->> 'weight_oz')::DOUBLE * 28.349523125, 6)))
WHERE kind = 'shaft' AND json_exists(after, 'weight_oz');
DROP TABLE spoon;
"""


@pytest.fixture
def steps(tmp_path: Path) -> Path:
    folder = tmp_path / "steps"
    folder.mkdir()
    (folder / STEP).write_text(NEW, encoding="utf-8")
    (folder / "README.md").write_text("no step", encoding="utf-8")
    return folder


@pytest.fixture
def old(shop: Catalogue, steps: Path) -> Catalogue:
    """The sample catalogue as the version before would have left it."""
    plain = {f.name for f in load_schema().table("shaft").fields} - {"weight_g"}
    with duckdb.connect(str(shop.path)) as con:
        con.execute("CREATE TABLE old_shaft AS SELECT * FROM shaft")  # without CHECKs, which forbid the renaming
        con.execute("DROP TABLE shaft")
        con.execute("ALTER TABLE old_shaft RENAME TO shaft")
        con.execute(OLD)
        con.execute("UPDATE catalogue_meta SET value = ? WHERE name = 'schema_version'", [str(OURS - 1)])
        assert len(con.execute("DESCRIBE shaft").fetchall()) == len(plain) + 1
    return Catalogue(shop.path, wait_seconds=10, migrations_folder=steps)


def backups(catalogue: Catalogue) -> Any:
    return sorted(catalogue.path.parent.glob(f"shop.version-{OURS - 1}-*.duckdb"))


@pytest.mark.parametrize("how", ["read", "write"])
def test_an_older_file_is_brought_up_to_date_when_opened(old: Catalogue, how: str) -> None:
    with getattr(old, how)() as r:
        assert r.get("shaft", "trine").weight_g == 62.5
        assert r.history("shaft", "trine")[0].after == SHAFT
    (kept,) = backups(old)
    with duckdb.connect(str(kept), read_only=True) as con:
        assert con.execute("SELECT weight_oz FROM shaft").fetchall() == [(pytest.approx(2.2046, abs=1e-4),)]
        assert con.execute("SELECT wood FROM spoon").fetchall() == [("birch",)]
    assert check_catalogue(old.path) == []
    with old.write() as w:
        w.put("shaft", {"id": "trine", "weight_g": 63})
    with old.write() as w:  # also what was changed before the move can be taken back
        w.undo(2)
    with old.write() as w:
        w.undo(1)
        assert w.rows("shaft") == []
    assert len(backups(old)) == 1


def test_the_tables_are_as_in_a_new_file(old: Catalogue, tmp_path: Path) -> None:
    with old.read():
        pass
    new = Catalogue.create(tmp_path / "new.duckdb")
    shapes = []
    for path in (old.path, new.path):
        with duckdb.connect(str(path), read_only=True) as con:
            shapes.append(con.execute("SELECT table_name, sql FROM duckdb_tables() ORDER BY 1").fetchall())
    assert shapes[0] == shapes[1]


@pytest.mark.parametrize(
    ("step", "message"),
    [
        ("SELECT 1;", "becomes of the table spoon"),
        ("DROP TABLE spoon;", "becomes of shaft.weight_oz"),
        ("DROP TABLE spoon; ALTER TABLE shaft RENAME COLUMN weight_oz TO weight_g;", "CHECK constraint"),
        ("DROP TABLE fork;", "fork"),
        ("DROP TABLE", "syntax"),
    ],
)
def test_a_step_that_fails_leaves_the_file_as_it_was(old: Catalogue, steps: Path, step: Any, message: str) -> None:
    (steps / STEP).write_text(step, encoding="utf-8")
    for _ in range(2):
        with pytest.raises((CatalogueError, InstallationError), match=message), old.read():
            pass
    with duckdb.connect(str(old.path), read_only=True) as con:
        assert con.execute("SELECT count(weight_oz) FROM shaft").fetchall() == [(1,)]
        assert con.execute("SELECT count(*) FROM change").fetchall() == [(2,)]
    (steps / STEP).write_text(NEW, encoding="utf-8")
    with old.read() as r:
        assert r.count("shaft") == 1


def test_a_missing_step_is_said_before_anything_is_done(old: Catalogue) -> None:
    old_without_steps = Catalogue(old.path)
    if OURS == 1:
        with pytest.raises(InstallationError, match="there are 0 steps to version 1"), old_without_steps.read():
            pass
        assert backups(old) == []


def test_steps_are_found_in_order_and_without_gaps(tmp_path: Path) -> None:
    for name in ("0003-c.sql", "0002-b.sql", "0004-d.sql", "0005-e.sql", "0005-f.sql", "notes.sql"):
        (tmp_path / name).touch()
    assert [p.name for p in find_steps(tmp_path, 1, 4)] == ["0002-b.sql", "0003-c.sql", "0004-d.sql"]
    assert find_steps(tmp_path, 4, 4) == []
    with pytest.raises(InstallationError, match="2 steps to version 5"):
        find_steps(tmp_path, 3, 5)


def test_every_version_that_was_ever_shipped_has_a_way_here() -> None:
    assert len(find_steps(data_schema_folder() / "migrations", 1, OURS)) == OURS - 1


@pytest.mark.parametrize("how", ["read", "write"])
def test_a_newer_file_is_refused_and_left_alone(shop: Catalogue, how: str) -> None:
    with duckdb.connect(str(shop.path)) as con:
        con.execute("UPDATE catalogue_meta SET value = '999' WHERE name = 'schema_version'")
    before = shop.path.read_bytes()
    with pytest.raises(CatalogueTooNewError, match="tables of version 999"), getattr(shop, how)():
        pass
    assert shop.path.read_bytes() == before


def test_several_processes_at_once_bring_it_up_to_date_once(old: Catalogue, steps: Path) -> None:
    script = (
        "import sys; from pathlib import Path; from specdb.catalogue import Catalogue\n"
        "with Catalogue(sys.argv[1], migrations_folder=Path(sys.argv[2])).read() as r:\n"
        "    print(r.get('shaft', 'trine').weight_g)"
    )
    root = str(Path(__file__).parents[2])
    running = [
        subprocess.Popen(
            [sys.executable, "-c", script, str(old.path), str(steps)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": root},
        )
        for _ in range(4)
    ]  # fmt: skip
    for process in running:
        out, err = process.communicate(timeout=60)
        assert (out.strip(), err) == ("62.5", "")
    assert len(backups(old)) == 1


FIRST_TABLES = (
    "shaft shaft_reading head adapter adapter_setting sleeve ferrule grip adhesive stock_move supply club weighting "
    "choice change"
)


def test_a_file_of_the_first_version_is_brought_up_to_date_by_the_steps_that_ship(shop: Catalogue) -> None:
    with shop.read() as reader:
        before = {kind: reader.count(kind) for kind in FIRST_TABLES.split()}
    with duckdb.connect(str(shop.path)) as con:
        con.execute("CREATE TABLE old_club AS SELECT * EXCLUDE (shaft_sample) FROM club")
        con.execute("DROP TABLE club")
        con.execute("ALTER TABLE old_club RENAME TO club")
        for table in load_schema().tables:
            if table not in FIRST_TABLES.split():
                con.execute(f'DROP TABLE "{table}"')
        con.execute("UPDATE catalogue_meta SET value = '1' WHERE name = 'schema_version'")
    found = Catalogue(shop.path, wait_seconds=10)
    with found.read() as reader:
        assert {kind: reader.count(kind) for kind in before} == before
        assert reader.rows("reference_reading") == []
    assert check_catalogue(shop.path) == []
    assert len(list(shop.path.parent.glob("shop.version-1-*.duckdb"))) == 1
