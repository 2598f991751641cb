"""A full disk: a plain sentence, nothing by halves, and all well once there is room."""

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.backup import backup, restore
from specdb.catalogue.integrity import check_catalogue
from specdb.errors import CatalogueFullError
from tests.catalogue.processes import start

SMALL = 12 * 2**20
FILL = 6 * 2**20


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 12 MiB, half of it taken by a file that can be deleted."""
    mount = tmp_path / "disk"
    mount.mkdir()
    if os.geteuid() != 0 or not shutil.which("mount"):
        pytest.skip("only root can mount a small file system")
    command = ["mount", "-t", "tmpfs", "-o", f"size={SMALL}", "tmpfs", str(mount)]
    done = subprocess.run(command, capture_output=True, check=False)
    if done.returncode:
        pytest.skip("no file system can be mounted here")
    (mount / "filler").write_bytes(bytes(FILL))
    yield mount
    subprocess.run(["umount", str(mount)], check=True)


def write_until_full(path: Path, limit: int = 0) -> Any:
    """Number of changes that were kept, and what was said in the end."""
    process = start("until_full", path, limit)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    *kept, last = out.splitlines()
    assert last.startswith("full ")
    return len(kept), last


def shafts(catalogue: Catalogue) -> Any:
    with catalogue.read() as r:
        return r.count("shaft")


@pytest.mark.crash
def test_a_full_disk(small_disk: Path) -> None:
    catalogue = Catalogue.create(small_disk / "shop.duckdb")
    kept, said = write_until_full(catalogue.path)
    assert kept >= 1
    assert "disk of" in said
    assert "is full" in said
    assert shafts(catalogue) == 500 * kept
    assert check_catalogue(catalogue.path) == []
    with pytest.raises(CatalogueFullError, match="is full"):
        backup(catalogue.path, small_disk / "copy.duckdb")
    assert not (small_disk / "copy.duckdb").exists()
    (small_disk / "filler").unlink()
    with catalogue.write() as w:
        w.put("shaft", {"id": "one-more", "club_type": "wood"})
    assert shafts(catalogue) == 500 * kept + 1
    assert check_catalogue(catalogue.path) == []


@pytest.mark.crash
def test_a_full_disk_while_making_or_restoring(small_disk: Path, shop: Catalogue) -> None:
    (small_disk / "rest").write_bytes(bytes(SMALL - FILL - 100_000))
    with pytest.raises(CatalogueFullError, match="is full"):
        Catalogue.create(small_disk / "new.duckdb")
    with pytest.raises(CatalogueFullError, match="is full"):
        restore(small_disk / "new.duckdb", shop.path)
    assert {p.name for p in small_disk.iterdir() if p.suffix not in (".gate", ".turn")} == {"filler", "rest"}


@pytest.mark.crash
def test_a_file_that_may_not_grow(shop: Catalogue) -> None:
    """The same without mounting anything: the process may not make a file larger than a limit."""
    kept, said = write_until_full(shop.path, shop.path.stat().st_size + 4 * 2**20)
    assert kept >= 1
    assert "is full" in said
    assert shafts(shop) == 1 + 500 * kept
    assert check_catalogue(shop.path) == []
