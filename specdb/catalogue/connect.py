"""Short-lived DuckDB connections, and DuckDB's errors as plain sentences."""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue.gate import Deadline, busy, passed
from specdb.errors import (
    CatalogueDamagedError,
    CatalogueError,
    CatalogueFullError,
    CatalogueMissingError,
    CatalogueTooNewError,
)

if TYPE_CHECKING:
    import duckdb

READ_MEMORY = "512MB"
WRITE_MEMORY = "900MB"

# how every DuckDB file begins, after a checksum (DuckDB documentation, "Storage versions and format")
_MARK, _MARK_AT = b"DUCK", 8

_LOCKED = (
    "could not set lock", "being used by another process", "conflicting lock",
    "with a different configuration than existing",  # a connection of this very process that is still going
)  # fmt: skip
_FULL = ("no space left", "disk quota exceeded", "file too large", "not enough space", "disk full")
_READ_ONLY = ("read-only file system", "permission denied", "access is denied", "operation not permitted")
_DAMAGED = (
    "not a valid duckdb",
    "corrupt",
    "could not read enough bytes",
    "checksum",
    "serialization error",
    "failed to load metadata",
    "failure while replaying wal",
    "loading external extensions",  # a file of another database, which DuckDB would open with an extension
)
# the checkpoint at the end of a transaction reports a full disk without its cause
_WRITE_FAILED = ("could not write", "failed to write", "failed to create checkpoint", "could not truncate")


def _settings(*, write: bool) -> dict[str, str | bool | int | float | list[str]]:
    return {
        "autoinstall_known_extensions": "false",
        "autoload_known_extensions": "false",
        "enable_external_access": "false",
        "python_enable_replacements": "false",
        "memory_limit": WRITE_MEMORY if write else READ_MEMORY,
        "threads": "2",
    }


def look_before(path: Path) -> None:
    """Raise the plain errors that can be seen without opening the file.

    Raises
    ------
    CatalogueMissingError
        If there is no file.
    CatalogueDamagedError
        If it is a folder, an empty file or no file of DuckDB.
    CatalogueError
        If it may not be read.
    """
    if path.is_dir():
        raise CatalogueDamagedError(f"{path} is a folder, not a catalogue file")
    if not path.exists():
        raise CatalogueMissingError(f"there is no catalogue at {path}")
    if not os.access(path, os.R_OK):
        raise CatalogueError(f"the catalogue {path} may not be read by this user")
    if path.stat().st_size == 0:
        raise CatalogueDamagedError(f"{path} is empty, so it is no catalogue; restore a backup")
    # DuckDB would open a table of text as one, and say strange things of it
    if path.is_file() and not _has_mark(path):
        raise CatalogueDamagedError(f"{path} is no catalogue file, or it is damaged; put it aside and restore a backup")


def _has_mark(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(_MARK_AT + len(_MARK))[_MARK_AT:] == _MARK


def explain(error: BaseException, path: Path) -> CatalogueError | None:
    """The plain error for a failure of DuckDB or of the file system; None if it is none of the known ones.

    Parameters
    ----------
    error : BaseException
        What was raised.
    path : Path
        The catalogue file.
    """
    text = str(error).lower()
    number = getattr(error, "errno", None)
    if number in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG) or any(t in text for t in _FULL):
        return CatalogueFullError(
            f"the disk of {path} is full; nothing of this change was kept. Make room, then do it again"
        )
    if number in (errno.EROFS, errno.EACCES, errno.EPERM) or any(t in text for t in _READ_ONLY):
        return CatalogueFullError(f"{path} cannot be written: the folder or the file is read-only")
    if "version number" in text and "read" in text:
        return CatalogueTooNewError(
            f"{path} was written by a newer DuckDB than the one installed here; update specdb and try again"
        )
    if "out of memory" in text:
        return CatalogueError(f"that is too much to be done with {path} at once; do it in several parts")
    if "is a directory" in text:
        return CatalogueDamagedError(f"{path} is a folder, not a catalogue file")
    if "does not exist" in text and "database" in text:
        return CatalogueMissingError(f"there is no catalogue at {path}")
    if any(t in text for t in _DAMAGED):
        return CatalogueDamagedError(
            f"{path} is no catalogue file, or it is damaged; put it aside and restore a backup"
        )
    if any(t in text for t in _WRITE_FAILED):
        return CatalogueFullError(f"{path} could not be written; is the disk full?")
    return None


@contextmanager
def explained(path: Path, *, files: bool = True) -> Iterator[None]:
    """Turn failures of DuckDB and of the file system within the block into plain errors.

    Parameters
    ----------
    path : Path
        The catalogue file.
    files : bool
        Whether errors of the file system concern the catalogue; those of a caller's own files do not.

    Raises
    ------
    CatalogueError
        One of its kinds, for a full disk, a damaged, newer or read-only file; the cause is kept.
    """
    import duckdb  # 60 ms

    try:
        yield
    except duckdb.Error as error:
        # DuckDB's text may be pages of internals, so only its first sentence is shown.
        first = str(error).splitlines()[0][:200]
        plain = explain(error, path)
        raise plain or CatalogueError(f"the catalogue {path} cannot be worked with: {first}") from error
    except OSError as error:
        plain = explain(error, path) if files else None
        if plain is None:
            raise
        raise plain from error


def _is_locked(error: BaseException) -> bool:
    text = str(error).lower()
    return any(t in text for t in _LOCKED)


def _lock_owner(error: BaseException) -> str:
    found = re.search(r"\(PID (\d+)\)", str(error))
    return f"process {found.group(1)}, which is not under specdb's gate," if found else ""


@contextmanager
def connection(
    path: Path, *, write: bool, wait_seconds: float, what: str = "work"
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the catalogue file for the length of the block, behind the gate.

    Parameters
    ----------
    path : Path
        An existing catalogue file.
    write : bool
        Whether it is to be changed.
    wait_seconds : float
        How long to wait for others, s.
    what : str
        What is done, for those who wait.

    Raises
    ------
    CatalogueBusyError
        If others held it for longer than the wait.
    CatalogueError
        If the file is missing, damaged, newer or cannot be written.
    """
    look_before(path)
    if write and not os.access(path, os.W_OK):
        raise CatalogueFullError(f"{path} cannot be written: the folder or the file is read-only")
    deadline = Deadline(wait_seconds)
    with passed(path, deadline, write=write, what=what), explained(path, files=False):
        look_before(path)  # another process may have replaced the file meanwhile
        with opened(path, deadline, write=write) as con:
            yield con


@contextmanager
def opened(path: Path, deadline: Deadline, *, write: bool) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open a file whose gate is held (or that nobody else knows of) for the length of the block.

    Parameters
    ----------
    path : Path
        The file.
    deadline : Deadline
        How long to wait for programs that know no gate.
    write : bool
        Whether it is to be changed.

    Raises
    ------
    CatalogueBusyError
        If another program held it for longer than the wait.
    """
    con = _connect(path, deadline, write=write)
    try:
        yield con
    finally:
        con.close()


def _connect(path: Path, deadline: Deadline, *, write: bool) -> duckdb.DuckDBPyConnection:
    import duckdb

    while True:
        try:
            return duckdb.connect(str(path), read_only=not write, config=_settings(write=write))
        except duckdb.Error as error:
            if not _is_locked(error):
                raise
            if not deadline.pause():
                raise busy(path, write=write, seconds=deadline.seconds, who=_lock_owner(error)) from error
