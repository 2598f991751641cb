"""What is said of a file that cannot be opened: a plain sentence, exit code 3, never DuckDB's own words."""

import errno
import json
import os
import random
import shutil
import socket
import struct
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import duckdb
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.backup import wal_path
from specdb.catalogue.gate import Deadline, gate_path, holder, passed, when_waiting
from specdb.errors import (
    CatalogueBusyError,
    CatalogueDamagedError,
    CatalogueError,
    CatalogueFullError,
    CatalogueMissingError,
    CatalogueTooNewError,
    ExitCode,
)
from tests.catalogue.processes import ROOT


def refused(catalogue: Catalogue, kind: type[CatalogueError], how: Sequence[str] = ("read", "write")) -> Any:
    """Sentences with which each way of opening is refused."""
    said = []
    for name in how:
        with pytest.raises(kind) as caught, getattr(catalogue, name)():
            pass
        text = str(caught.value)
        assert caught.value.exit_code is ExitCode.CATALOGUE
        assert str(catalogue.path) in text
        assert "\n" not in text
        assert len(text) < 300
        assert not any(word in text for word in ("IO Error", "Corrupt", "exception", "Traceback", "0x"))
        said.append(text)
    return said


def test_missing(tmp_path: Path) -> None:
    for text in refused(Catalogue(tmp_path / "none.duckdb"), CatalogueMissingError):
        assert text.startswith("there is no catalogue at")
    assert list(tmp_path.iterdir()) == []
    refused(Catalogue(tmp_path / "no" / "folder.duckdb"), CatalogueMissingError)


def test_a_folder(tmp_path: Path) -> None:
    for text in refused(Catalogue(tmp_path), CatalogueDamagedError):
        assert "is a folder" in text


@pytest.mark.parametrize("seed", range(4))
def test_random_bytes(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "shop.duckdb"
    path.write_bytes(random.Random(seed).randbytes(5000 * 10**seed // 100))
    refused(Catalogue(path), CatalogueDamagedError)


def test_an_empty_file(tmp_path: Path) -> None:
    (tmp_path / "shop.duckdb").touch()
    refused(Catalogue(tmp_path / "shop.duckdb"), CatalogueDamagedError)


@pytest.mark.parametrize("left", [1, 100, 5000, 13000, 300_000])
def test_cut_short(shop: Catalogue, left: int) -> None:
    with shop.path.open("r+b") as file:
        assert shop.path.stat().st_size > left
        file.truncate(left)
    refused(shop, CatalogueDamagedError)


@pytest.mark.parametrize("at", [4096 + 100, 8192 + 8, 12288 + 8, 12288 + 5000])
def test_damaged_within(shop: Catalogue, at: int) -> None:
    data = bytearray(shop.path.read_bytes())
    data[at : at + 64] = bytes(b ^ 0x5A for b in data[at : at + 64])
    shop.path.write_bytes(data)
    before = shop.path.read_bytes()
    try:
        with shop.read() as r:
            rows = r.rows("shaft")
    except CatalogueDamagedError:
        refused(shop, CatalogueDamagedError, ["read"])
    else:  # that part of the file was not in use
        assert len(rows) == 1
    assert shop.path.read_bytes() == before


def test_junk_in_the_place_of_the_log_does_no_harm(shop: Catalogue) -> None:
    """DuckDB takes it for a transaction that was cut off; what was committed is there, and what comes stays."""
    wal_path(shop.path).write_bytes(random.Random(1).randbytes(3000))
    with shop.read() as r:
        assert r.get("shaft", "trine").weight_g == 62.5
    with shop.write() as w:
        w.put("shaft", {"id": "trine", "weight_g": 70})
    with shop.read() as r:
        assert r.get("shaft", "trine").weight_g == 70


def test_some_other_database(tmp_path: Path) -> None:
    path = tmp_path / "shop.duckdb"
    with duckdb.connect(str(path)) as con:
        con.execute("CREATE TABLE spoon (id INTEGER)")
    for text in refused(Catalogue(path), CatalogueDamagedError):
        assert "no catalogue of specdb" in text
    path.unlink()
    import sqlite3

    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE shaft (id)")
    other.close()
    refused(Catalogue(path), CatalogueDamagedError)


def checksum(block: bytes) -> int:
    """DuckDB's sum of a block, over 8-byte words (published in its source, ``common/checksum.cpp``)."""
    result = 5381
    for (word,) in struct.iter_unpack("<Q", block):
        result ^= (word * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
    return result


def test_a_file_of_a_newer_duckdb(shop: Catalogue) -> None:
    """The storage version is an 8-byte number after the mark 'DUCK'; the block's sum comes first."""
    data = bytearray(shop.path.read_bytes())
    assert data[8:12] == b"DUCK"
    (stored,) = struct.unpack_from("<Q", data, 0)
    block = bytes(data[8:4096])
    if checksum(block) != stored:
        pytest.skip("this DuckDB sums its blocks in another way")
    struct.pack_into("<Q", data, 12, 9999)
    struct.pack_into("<Q", data, 0, checksum(bytes(data[8:4096])))
    shop.path.write_bytes(data)
    for text in refused(shop, CatalogueTooNewError):
        assert "newer DuckDB" in text


def test_busy_names_the_writer(shop: Catalogue) -> None:
    impatient = Catalogue(shop.path, wait_seconds=0.2)
    began = time.monotonic()
    with elsewhere(WITHIN, shop.path) as process:
        for text in refused(impatient, CatalogueBusyError):
            assert f"process {process.pid} on " in text
            assert "'import'" in text
            assert "waited 0.2 s" in text
    assert 0.4 <= time.monotonic() - began < 15
    with shop.read() as r:
        assert r.count("shaft") == 1


WITHIN = (
    "import sys\nfrom specdb.catalogue import Catalogue\n"
    "with Catalogue(sys.argv[1]).write(done='import'):\n"
    "    print('in', flush=True)\n    sys.stdin.read()\n"
)
FOREIGN = (
    "import duckdb, sys\ncon = duckdb.connect(sys.argv[1])\nprint('in', flush=True)\nsys.stdin.read()\ncon.close()"
)


@contextmanager
def elsewhere(code: str, path: Path) -> "Iterator[subprocess.Popen[str]]":
    """Another process that has the catalogue open, for the length of the block."""
    with subprocess.Popen(
        [sys.executable, "-c", code, str(path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stdout.readline() == "in\n"
        yield process
        process.communicate(timeout=20)


def test_a_program_that_knows_no_gate_is_waited_for_too(shop: Catalogue) -> None:
    with elsewhere(FOREIGN, shop.path) as other:
        for text in refused(Catalogue(shop.path, wait_seconds=0.2), CatalogueBusyError):
            assert f"process {other.pid}" in text
    with shop.write() as w:  # as soon as it is gone, all is well
        assert w.count("shaft") == 1


def test_a_connection_of_this_process_that_is_slow_to_go_is_waited_for(shop: Catalogue) -> None:
    """DuckDB opens a file once in a process, and refuses another mode until the last reference is gone."""
    held = duckdb.connect(str(shop.path), read_only=True)

    def go() -> None:
        time.sleep(0.3)
        held.close()

    with ThreadPoolExecutor(1) as pool:
        late = pool.submit(go)
        with shop.write() as writer:
            writer.put("shaft", {"id": "trine", "weight_g": 63.0}, mode="update")
        late.result()
    with shop.read() as reader:
        assert reader.get("shaft", "trine").weight_g == 63.0


def test_a_writer_that_was_killed_is_not_named(shop: Catalogue) -> None:
    note = {"process": 999_999_999, "host": socket.gethostname(), "what": "set", "since": 1}
    gate_path(shop.path).write_text(json.dumps(note))
    assert holder(shop.path) == ""
    with shop.read() as r:
        assert r.count("shaft") == 1


def test_the_turnstile_keeps_readers_from_starving_a_writer(shop: Catalogue) -> None:
    """While one reads and a writer waits, the next reader comes after the writer."""
    import threading

    order = []

    def take(name: str, write: bool) -> None:
        with passed(shop.path, Deadline(10), write=write, what=name):
            order.append(name)
            time.sleep(0.15)

    with passed(shop.path, Deadline(10), write=False, what="first"):
        writer = threading.Thread(target=take, args=("writer", True))
        writer.start()
        time.sleep(0.15)
        late = threading.Thread(target=take, args=("late reader", False))
        late.start()
        time.sleep(0.15)
        order.append("first is done")
    writer.join(10)
    late.join(10)
    assert order == ["first is done", "writer", "late reader"]


@pytest.fixture
def locked_folder(shop: Catalogue, tmp_path: Path) -> Iterator[Catalogue]:
    """The catalogue in a folder that really cannot be written, whoever asks."""
    mount = tmp_path / "locked"
    mount.mkdir()
    source = tmp_path / "source"
    source.mkdir()
    shutil.copyfile(shop.path, source / "shop.duckdb")
    if os.geteuid() != 0:
        mount.rmdir()
        source.rename(mount)
        mount.chmod(0o555)
        yield Catalogue(mount / "shop.duckdb", wait_seconds=1)
        mount.chmod(0o755)
        return
    done = subprocess.run(["mount", "--bind", str(source), str(mount)], capture_output=True, check=False)
    if done.returncode:
        pytest.skip("root may write everywhere, and nothing can be mounted here")
    try:
        subprocess.run(["mount", "-o", "remount,ro,bind", str(mount)], check=True, capture_output=True)
        yield Catalogue(mount / "shop.duckdb", wait_seconds=1)
    finally:
        subprocess.run(["umount", str(mount)], check=True)


def test_a_read_only_folder_can_be_read_but_not_written(locked_folder: Catalogue, tmp_path: Path) -> None:
    with locked_folder.read() as r:
        assert r.get("shaft", "trine").weight_g == 62.5
    for text in refused(locked_folder, CatalogueFullError, ["write"]):
        assert "read-only" in text
    with pytest.raises(CatalogueFullError, match="read-only"):
        Catalogue.create(locked_folder.path.with_name("new.duckdb"))
    from specdb.catalogue.backup import backup
    from specdb.catalogue.integrity import check_catalogue

    assert check_catalogue(locked_folder.path) == []
    assert backup(locked_folder.path, tmp_path / "copy.duckdb").rows["shaft"] == 1
    with pytest.raises(CatalogueFullError, match="read-only"):
        backup(tmp_path / "copy.duckdb", locked_folder.path.with_name("copy.duckdb"))


def test_other_failures_of_duckdb_are_one_sentence_with_their_cause(shop: Catalogue) -> None:
    with (
        pytest.raises(CatalogueError, match="cannot be worked with: Parser Error") as caught,
        shop.open_file(write=False, what="test") as con,
    ):
        con.execute("SELEKT 1")
    assert isinstance(caught.value.__cause__, duckdb.ParserException)
    assert "\n" not in str(caught.value)


def test_troubles_with_other_files_are_not_the_catalogues(shop: Catalogue, tmp_path: Path) -> None:
    """Whoever reads or writes a file of their own within the block gets their own error."""
    with pytest.raises(FileNotFoundError), shop.read():
        (tmp_path / "none.csv").read_text()
    with pytest.raises(OSError, match="No space left"), shop.write():
        raise OSError(errno.ENOSPC, "No space left on device")


def test_too_much_at_once(shop: Catalogue) -> None:
    much = "SET memory_limit = '1MB'; SELECT list(i), list(md5(i::VARCHAR)) FROM range(3000000) t(i)"
    with pytest.raises(CatalogueError, match="in several parts"), shop.open_file(write=False, what="test") as con:
        con.execute(much)


def test_a_table_of_text_is_no_catalogue(tmp_path: Path) -> None:
    """DuckDB by itself opens a CSV file as a database of its own making."""
    path = tmp_path / "shafts.csv"
    path.write_text("maker;model;weight_g\nQuillback (invented);Reed;65,5\n", encoding="utf-8")
    before = path.read_bytes()
    for text in refused(Catalogue(path), CatalogueDamagedError):
        assert "no catalogue file" in text
    assert path.read_bytes() == before


def test_a_long_wait_is_told_once(shop: Catalogue) -> None:
    told: list[float] = []
    began = time.monotonic()
    when_waiting(lambda: told.append(time.monotonic() - began))
    try:
        short = Deadline(0.3)
        while short.pause():
            pass
        assert told == []
        with passed(shop.path, Deadline(5.0), write=True, what="test"), ThreadPoolExecutor(1) as pool:
            tried = pool.submit(_enter, shop.path).exception()
        assert isinstance(tried, CatalogueBusyError)
    finally:
        when_waiting(None)
    assert len(told) == 1
    assert 1.0 <= told[0] < 2.5


def _enter(path: Path) -> None:
    with passed(path, Deadline(1.5), write=True, what="test"):
        pass
