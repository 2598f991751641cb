"""Backup and restore."""

import os
import random
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import duckdb
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.backup import backup, restore, wal_path
from specdb.catalogue.integrity import check_catalogue
from specdb.errors import CatalogueDamagedError, CatalogueMissingError, CatalogueTooNewError, ConflictError, SpecdbError
from tests.catalogue.processes import ROOT
from tests.catalogue.samples import SHAFT


def rows(path: Path) -> Any:
    with Catalogue(path).read() as r:
        return r.rows("shaft"), r.rows("head"), r.history()


def test_a_backup_holds_everything(shop: Catalogue, tmp_path: Path) -> None:
    target = tmp_path / "away" / "copy.duckdb"
    report = backup(shop.path, target)
    assert (report.path, report.last_change, report.rows["shaft"]) == (target, 1, 1)
    assert report.size == target.stat().st_size
    assert rows(target) == rows(shop.path)
    assert sorted(p.name for p in target.parent.iterdir() if p.suffix not in (".gate", ".turn")) == ["copy.duckdb"]


def test_a_backup_replaces_nothing_unasked(shop: Catalogue, tmp_path: Path) -> None:
    target = tmp_path / "copy.duckdb"
    target.write_bytes(b"mine")
    with pytest.raises(ConflictError, match="already"):
        backup(shop.path, target)
    assert target.read_bytes() == b"mine"
    with pytest.raises(ConflictError, match="already"):
        backup(shop.path, shop.path, overwrite=True)
    with pytest.raises(ConflictError, match="folder"):
        backup(shop.path, tmp_path)
    backup(shop.path, target, overwrite=True)
    assert rows(target) == rows(shop.path)


def test_a_backup_while_others_read(shop: Catalogue, tmp_path: Path) -> None:
    with shop.read() as r:
        backup(shop.path, tmp_path / "copy.duckdb")
        assert r.count("shaft") == 1


KILLED = """
import os, signal, sys
from specdb.catalogue import Catalogue
with Catalogue(sys.argv[1]).open_file(write=True, what="test") as con:
    con.execute("SET checkpoint_threshold = '1TB'")
    con.execute("UPDATE shaft SET weight_g = 77")
    con.execute("UPDATE change SET after = json_merge_patch(after, '{\\"weight_g\\": 77.0}') WHERE kind = 'shaft'")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_backup_after_a_killed_writer_has_what_is_in_the_log(shop: Catalogue, tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", KILLED, str(shop.path)], env=env, check=False)
    assert done.returncode == -signal.SIGKILL
    assert wal_path(shop.path).stat().st_size > 0
    backup(shop.path, tmp_path / "copy.duckdb")
    assert not wal_path(tmp_path / "copy.duckdb").exists()
    for path in (tmp_path / "copy.duckdb", shop.path):
        assert rows(path)[0][0].weight_g == 77


def test_restore_puts_the_backup_in_place_and_keeps_what_was_there(shop: Catalogue, tmp_path: Path) -> None:
    backup(shop.path, tmp_path / "copy.duckdb")
    with shop.write() as w:
        w.put("shaft", {"id": "trine", "weight_g": 99})
    report = restore(shop.path, tmp_path / "copy.duckdb")
    assert (report.last_change, report.rows["shaft"]) == (1, 1)
    assert report.replaced is not None
    assert report.replaced.name.startswith("shop.before-restore-")
    assert rows(shop.path)[0][0].weight_g == SHAFT["weight_g"]
    assert rows(report.replaced)[0][0].weight_g == 99
    assert check_catalogue(shop.path) == []
    assert (tmp_path / "copy.duckdb").exists()


def test_restore_where_nothing_was(shop: Catalogue, tmp_path: Path) -> None:
    report = restore(tmp_path / "new" / "place.duckdb", shop.path)
    assert report.replaced is None
    assert rows(tmp_path / "new" / "place.duckdb") == rows(shop.path)


def test_restore_over_a_damaged_file(shop: Catalogue, tmp_path: Path) -> None:
    backup(shop.path, tmp_path / "copy.duckdb")
    junk = random.Random(1).randbytes(50_000)
    shop.path.write_bytes(junk)
    report = restore(shop.path, tmp_path / "copy.duckdb")
    assert report.replaced is not None
    assert report.replaced.read_bytes() == junk
    assert len(rows(shop.path)[0]) == 1


@pytest.mark.parametrize("fault", ["missing", "junk", "cut", "no catalogue", "newer", "itself"])
def test_a_bad_backup_touches_nothing(shop: Catalogue, tmp_path: Path, fault: str) -> None:
    copy = tmp_path / "copy.duckdb"
    shutil.copyfile(shop.path, copy)
    expected: type[SpecdbError] = CatalogueDamagedError
    if fault == "missing":
        copy.unlink()
        expected = CatalogueMissingError
    elif fault == "junk":
        copy.write_bytes(b"no database" * 1000)
    elif fault == "cut":
        with copy.open("r+b") as file:
            file.truncate(copy.stat().st_size // 2)
    elif fault == "no catalogue":
        copy.unlink()
        duckdb.connect(str(copy)).close()
    elif fault == "newer":
        with duckdb.connect(str(copy)) as con:
            con.execute("UPDATE catalogue_meta SET value = '999' WHERE name = 'schema_version'")
        expected = CatalogueTooNewError
    else:
        copy.unlink()
        copy.symlink_to(shop.path)
        expected = ConflictError
    before = shop.path.read_bytes()
    with pytest.raises(expected):
        restore(shop.path, copy)
    assert shop.path.read_bytes() == before
    left = {p.name for p in tmp_path.iterdir()} - {"shop.duckdb", "shop.duckdb.gate", "shop.duckdb.turn"}
    assert left <= {"copy.duckdb"}
