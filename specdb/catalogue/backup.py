"""Copies of the catalogue file: made while nobody writes, read through before they count."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue.connect import explained, look_before, opened
from specdb.catalogue.gate import Deadline, passed
from specdb.catalogue.journal import last_change
from specdb.catalogue.tables import first_row, quoted
from specdb.catalogue.version import stored_version
from specdb.errors import CatalogueDamagedError, CatalogueError, ConflictError

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True, slots=True)
class BackupReport:
    """A backup that was made: the file, its size in bytes, its latest change, rows by table."""

    path: Path
    size: int
    last_change: int
    rows: dict[str, int]


@dataclass(frozen=True, slots=True)
class RestoreReport:
    """A backup that was put in place; ``replaced`` is where the file that lay there is now, if there was one."""

    path: Path
    last_change: int
    rows: dict[str, int]
    replaced: Path | None


def stamped(path: Path, word: str) -> Path:
    """A free name beside a file that tells why and when: ``name.before-restore-20260331T101500.duckdb``."""
    now = dt.datetime.now().astimezone().strftime("%Y%m%dT%H%M%S")
    for number in range(1, 1000):
        again = f"-{number}" if number > 1 else ""
        candidate = path.with_name(f"{path.stem}.{word}-{now}{again}{path.suffix}")
        if not candidate.exists():
            return candidate
    raise CatalogueError(f"there is no free name for a copy beside {path}")


def wal_path(path: Path) -> Path:
    """Path of DuckDB's write-ahead log of a file."""
    return path.with_name(path.name + ".wal")


def read_through(con: duckdb.DuckDBPyConnection) -> dict[str, tuple[int, int]]:
    """Read every value of every table; DuckDB checks the sum of each block as it is read.

    Returns
    -------
    dict
        By table, the number of rows and a sum over their contents that does not depend on their order.
    """
    tables = con.execute("SELECT table_name FROM duckdb_tables() WHERE NOT temporary ORDER BY 1").fetchall()
    found = {}
    for (name,) in tables:
        row = first_row(con, f"SELECT count(*), coalesce(bit_xor(hash(t)), 0) FROM {quoted(name)} t")
        found[name] = (int(row[0]), int(row[1])) if row else (0, 0)
    return found


def copy_file(path: Path, target: Path) -> BackupReport:
    """Copy a catalogue file that nobody writes to, and read the copy through.

    Parameters
    ----------
    path : Path
        The file; its gate must be held.
    target : Path
        The copy; must not exist.

    Raises
    ------
    CatalogueDamagedError
        If either cannot be read to the end, or they differ.
    CatalogueFullError
        If the disk is full.
    """
    fresh = target.with_name(f".{target.name}.{os.getpid()}.new")
    try:
        with explained(path), opened(path, Deadline(0), write=False) as con:
            stored_version(con, path)
            there = read_through(con)
        with explained(target):
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, fresh)
            if wal_path(path).exists():  # a writer was killed: its committed work is still in the log
                shutil.copyfile(wal_path(path), wal_path(fresh))
            with opened(fresh, Deadline(0), write=True) as con:
                con.execute("CHECKPOINT")
                here, change_no = read_through(con), last_change(con)
            if here != there:
                raise CatalogueDamagedError(f"the copy of {path} differs from it; is the disk sound?")
            _to_disk(fresh)
            fresh.replace(target)
    finally:
        discard(fresh)
    rows = {name: count for name, (count, _) in here.items()}
    return BackupReport(target, target.stat().st_size, change_no, rows)


def discard(path: Path) -> None:
    """Delete a half-made file and its log, if they are there."""
    for left in (path, wal_path(path)):
        if left.exists():  # a read-only file system complains also of files that are not there
            left.unlink()


def _to_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def backup(path: Path, target: Path, *, wait_seconds: float = 20.0, overwrite: bool = False) -> BackupReport:
    """Copy the catalogue to a file; others may read meanwhile, writers wait.

    Parameters
    ----------
    path : Path
        The catalogue.
    target : Path
        The file to make.
    wait_seconds : float
        How long to wait for a writer, s.
    overwrite : bool
        Whether a file that is there may be replaced.

    Raises
    ------
    ConflictError
        If there is a file already.
    CatalogueError
        One of its kinds: missing, damaged, busy for too long, disk full.
    """
    look_before(path)
    if target.is_dir():
        raise ConflictError(f"{target} is a folder; name the file to make")
    if target.exists() and (not overwrite or target.samefile(path)):
        raise ConflictError(f"there is a file at {target} already")
    with passed(path, Deadline(wait_seconds), write=False, what="backup"):
        return copy_file(path, target)


def restore(path: Path, source: Path, *, wait_seconds: float = 20.0) -> RestoreReport:
    """Put a backup in the place of the catalogue; the file that lay there is kept beside it.

    Parameters
    ----------
    path : Path
        The catalogue, which need not exist.
    source : Path
        The backup; it is read through before anything is touched.
    wait_seconds : float
        How long to wait for others, s.

    Raises
    ------
    CatalogueError
        One of its kinds: the backup is missing, damaged or newer, the catalogue is busy, the disk is full.
    ConflictError
        If both are the same file.
    """
    look_before(source)
    if path.exists() and path.samefile(source):
        raise ConflictError(f"{source} is the catalogue itself")
    deadline = Deadline(wait_seconds)
    with explained(path):
        path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f".{path.name}.{os.getpid()}.restored")
    with ExitStack() as stack:
        stack.enter_context(passed(path, deadline, write=True, what="restore"))
        stack.callback(discard, fresh)
        report = copy_file(source, fresh)
        stack.enter_context(explained(path))
        replaced = _set_aside(path, deadline) if path.exists() else None
        fresh.replace(path)
    return RestoreReport(path, report.last_change, report.rows, replaced)


def _set_aside(path: Path, deadline: Deadline) -> Path:
    """Give the file that is to be replaced a second name; at no moment is there no catalogue."""
    aside = stamped(path, "before-restore")
    try:
        with explained(path), opened(path, deadline, write=True) as con:
            con.execute("CHECKPOINT")
    except CatalogueDamagedError:
        pass  # that may be why a backup is restored; it is kept as it is
    log = wal_path(path)
    if log.exists():
        log.replace(wal_path(aside))
    try:
        aside.hardlink_to(path)
    except OSError:  # file systems without hard links
        path.rename(aside)
    return aside
