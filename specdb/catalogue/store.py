"""The catalogue file: made, opened for a moment to read or to change, closed again."""

from __future__ import annotations

import getpass
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.catalogue import migrations, version
from specdb.catalogue.backup import discard
from specdb.catalogue.connect import connection, explained
from specdb.catalogue.gate import Deadline, passed
from specdb.catalogue.kept import Keeper, forget_touched
from specdb.catalogue.promises import Beyond
from specdb.catalogue.reader import Reader
from specdb.catalogue.writer import Writer
from specdb.errors import CatalogueError, ConflictError

if TYPE_CHECKING:
    import duckdb

DEFAULT_WAIT = 20.0


class Catalogue:
    """A catalogue file. Nothing is opened until it is read or changed, and then only for that long.

    Parameters
    ----------
    path : path
        The file; see :func:`specdb.paths.default_catalogue_path`.
    wait_seconds : float
        How long to wait for other programs that have it open, s.
    migrations_folder : Path, optional
        Where the steps for older files lie; those that ship with the package where left out.
    after_shafts : callable, optional
        Called with this catalogue after every change that bears upon a shaft's estimate, once it is closed again.
    when_beyond : callable, optional
        Called after a count, or damage, that leaves fewer parts than are held for orders, with what is short and which
        orders are hit; it is kept all the same, as it says what a person saw.
    """

    def __init__(
        self,
        path: str | os.PathLike[str],
        *,
        wait_seconds: float = DEFAULT_WAIT,
        migrations_folder: Path | None = None,
        after_shafts: Callable[[Catalogue], None] | None = None,
        when_beyond: Callable[[tuple[Beyond, ...]], None] | None = None,
    ) -> None:
        self.path = Path(path)
        self.wait_seconds = wait_seconds
        self.after_shafts = after_shafts
        self.when_beyond = when_beyond
        self._migrations_folder = migrations_folder

    def __repr__(self) -> str:
        return f"Catalogue({str(self.path)!r})"

    @classmethod
    def create(cls, path: str | os.PathLike[str], *, wait_seconds: float = DEFAULT_WAIT) -> Catalogue:
        """Make a new, empty catalogue.

        Parameters
        ----------
        path : path
            Where; missing folders are made.
        wait_seconds : float
            How long to wait for other programs that have it open, s.

        Raises
        ------
        ConflictError
            If there is a file already.
        CatalogueError
            If the place cannot be written, or the disk is full.
        """
        made = cls(path, wait_seconds=wait_seconds)
        made._make()
        return made

    @property
    def exists(self) -> bool:
        """Whether there is such a file."""
        return self.path.exists()

    def _make(self) -> None:
        import duckdb

        # A half-made file must never lie where a catalogue is looked for.
        fresh = self.path.with_name(f".{self.path.name}.{os.getpid()}.new")
        with explained(self.path):
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with passed(self.path, Deadline(self.wait_seconds), write=True, what="making a catalogue"):
                if self.path.exists():
                    raise ConflictError(f"there is a file at {self.path} already")
                try:
                    with duckdb.connect(str(fresh)) as con:
                        version.make_tables(con)
                        con.execute("CHECKPOINT")  # closing does it too, but keeps silent where it fails
                    fresh.replace(self.path)
                finally:
                    discard(fresh)

    @contextmanager
    def open_file(self, *, write: bool, what: str) -> Iterator[duckdb.DuckDBPyConnection]:
        """Open the bare file in the version of this package, bringing an older one up to date first.

        For the catalogue's own modules; :meth:`read` and :meth:`write` are for everybody else.

        Parameters
        ----------
        write : bool
            Whether it is to be changed.
        what : str
            What is done, for those who wait.

        Raises
        ------
        CatalogueError
            One of its kinds: missing, damaged, newer, busy for too long.
        """
        for _ in range(2):
            with connection(self.path, write=write, wait_seconds=self.wait_seconds, what=what) as con:
                if not version.is_older(con, self.path):
                    yield con
                    return
            migrations.bring_up_to_date(self.path, wait_seconds=self.wait_seconds, folder=self._migrations_folder)
        raise CatalogueError(f"{self.path} is still of an older version after it was brought up to date")

    @contextmanager
    def read(self) -> Iterator[Reader]:
        """Open to read, for the length of the block; others may read at the same time.

        Raises
        ------
        CatalogueError
            One of its kinds: missing, damaged, newer, busy for too long.
        """
        with self.open_file(write=False, what="read") as con:
            yield Reader(self.path, con)

    @contextmanager
    def write(
        self, *, by: str | None = None, why: str | None = None, done: str = "set", dry_run: bool = False
    ) -> Iterator[Writer]:
        """Open to change, for the length of the block: one transaction, one change in the journal.

        Parameters
        ----------
        by : str, optional
            Who; the name of the user where left out.
        why : str, optional
            Why.
        done : str
            What is done, in a word: set, import, retire, …
        dry_run : bool
            Do everything, then give it up.

        Raises
        ------
        CatalogueError
            One of its kinds: missing, damaged, newer, busy for too long, disk full, read-only.
        """
        shafts = False
        with self.open_file(write=True, what=done) as con:
            con.execute("BEGIN TRANSACTION")
            writer = Writer(self.path, con, by=by or user_name(), why=why, done=done)
            try:
                yield writer
                writer.refuse_if_broken()
                writer.settle()
                kept = writer.change_no is not None and not dry_run
            except BaseException:
                _give_up(con)
                raise
            if kept:
                shafts = forget_touched(con, writer.change_no or 0)
                con.execute("COMMIT")
            else:
                _give_up(con)
        if kept and writer.beyond and self.when_beyond is not None:
            self.when_beyond(writer.beyond)
        if shafts and self.after_shafts is not None:
            self.after_shafts(self)

    @contextmanager
    def keep(self) -> Iterator[Keeper]:
        """Open to store what was worked out, for the length of the block: one transaction, nothing in the journal.

        Raises
        ------
        CatalogueError
            One of its kinds: missing, damaged, newer, busy for too long, disk full, read-only.
        """
        with self.open_file(write=True, what="keeping estimates") as con:
            con.execute("BEGIN TRANSACTION")
            try:
                yield Keeper(con)
            except BaseException:
                _give_up(con)
                raise
            con.execute("COMMIT")


def _give_up(con: duckdb.DuckDBPyConnection) -> None:
    import duckdb

    try:
        con.execute("ROLLBACK")
    except duckdb.Error:
        return  # DuckDB has given it up already, after an error of its own


def user_name() -> str | None:
    """Name of the user at the keyboard, for the journal; None if the system does not know."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return None
