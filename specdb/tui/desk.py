"""The catalogue as the interface uses it: off its thread, with what is slow to get kept until the catalogue changes."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue
from specdb.catalogue.gate import holder
from specdb.errors import CatalogueError

if TYPE_CHECKING:
    import pyarrow as pa

    from specdb.catalogue.reader import Reader
    from specdb.matching.index import MatchIndex

WAIT_SECONDS = 20.0
PATIENCE_SECONDS = 0.4  # a shorter wait is not worth a word
LOOK_SECONDS = 0.5  # how often it is looked whether the file was changed
_WATCH_WAIT_SECONDS = 2.0


class DeskCatalogue(Catalogue):
    """A catalogue that knows who waits for it here, so that a waiting line can say so."""

    def __init__(self, path: Path, *, wait_seconds: float = WAIT_SECONDS) -> None:
        super().__init__(path, wait_seconds=wait_seconds)
        self._asking: dict[int, float] = {}
        self._number = 0
        self._lock = threading.Lock()

    @contextmanager
    def open_file(self, *, write: bool, what: str) -> Iterator[Any]:
        """As :meth:`Catalogue.open_file`; the wait is noted.

        Parameters
        ----------
        write : bool
            Whether it is to be changed.
        what : str
            What is done, for those who wait.
        """
        with self._lock:
            self._number += 1
            number = self._number
            self._asking[number] = time.monotonic()
        try:
            with super().open_file(write=write, what=what) as con:
                self._asking.pop(number, None)
                yield con
        finally:
            self._asking.pop(number, None)

    def waiting_count(self) -> int:
        """How many wait for the file, or are just opening it."""
        return len(self._asking)

    def waited_seconds(self) -> float:
        """How long the longest wait for the file has lasted by now, s; 0 where nobody waits."""
        began = list(self._asking.values())
        return time.monotonic() - min(began) if began else 0.0


class Desk:
    """The catalogue, what was computed from it, and the watch for changes by other programs.

    :meth:`index` and :meth:`table` read the file, so they are for jobs only (:meth:`PlaceScreen.work`).

    Parameters
    ----------
    path : Path
        The catalogue file.

    Attributes
    ----------
    catalogue : Catalogue
        The catalogue; use it in jobs only.
    last_change : int
        Number of the latest change seen; 0 before the first look.
    """

    def __init__(self, path: Path) -> None:
        self.catalogue = DeskCatalogue(path)
        self.last_change = 0
        self._told: Callable[[int], None] | None = None
        self._wake = threading.Event()
        self._ended = False
        self._state_seen: tuple[int, int] | None = None
        self._watcher: threading.Thread | None = None
        self._index_lock = threading.Lock()
        self._table_lock = threading.Lock()
        self._index: tuple[object, MatchIndex] | None = None
        self._tables: dict[str, tuple[int, pa.Table]] = {}
        self._listed: dict[str, tuple[int, pa.Table]] = {}

    @property
    def path(self) -> Path:
        """The catalogue file."""
        return self.catalogue.path

    @property
    def was_read(self) -> bool:
        """Whether the file has been read, so that it is a catalogue."""
        return self._state_seen is not None

    def table(self, kind: str) -> pa.Table:
        """All rows of a kind, retired ones too, by key; kept until the catalogue changes.

        Parameters
        ----------
        kind : str
            The kind.
        """
        with self._table_lock, self.catalogue.read() as reader:
            return self._rows(reader, kind)[1]

    def _rows(self, reader: Reader, kind: str) -> tuple[int, pa.Table]:
        """Number of the latest change, and the rows of a kind."""
        from specdb.schema import load_schema

        change = reader.last_change()
        held = self._tables.get(kind)
        if held is None or held[0] != change:
            key = load_schema().table(kind).primary_key
            held = (change, reader.arrow(kind, order_by=key).combine_chunks())
            self._tables[kind] = held
        self._seen((change, reader.kept_edition()))
        return held

    def listed(self, kind: str) -> pa.Table:
        """As :meth:`table`, with what is on hand as one more column where stock is kept of the kind.

        Parameters
        ----------
        kind : str
            The kind.
        """
        from specdb.tui.catalogue.kinds import ON_HAND, as_listed

        with self._table_lock, self.catalogue.read() as reader:
            change, rows = self._rows(reader, kind)
            held = self._listed.get(kind)
            if held is None or held[0] != change:
                if ON_HAND in as_listed(kind).field_names:
                    rows = rows.append_column(ON_HAND, _of_each(rows["id"], reader.stock(kind)))
                held = (change, rows)
                self._listed[kind] = held
            return held[1]

    def held(self, kind: str) -> pa.Table | None:
        """The listed rows of a kind that are in memory, which may be of before the latest change; no file is read.

        Parameters
        ----------
        kind : str
            The kind.
        """
        found = self._listed.get(kind)
        return None if found is None else found[1]

    def index(self) -> MatchIndex:
        """The matching index; kept until the catalogue or what is estimated of its shafts changes."""
        with self._index_lock, self.catalogue.read() as reader:
            state = self._state(reader)
            if self._index is None or self._index[0] != state:
                from specdb.verbs.matching.substitutes import index_of

                self._index = (state, index_of(reader))
            return self._index[1]

    def _state(self, reader: Reader) -> object:
        return reader.last_change(), reader.kept_edition()

    def waiting(self) -> str:
        """Whom we wait for, in words; empty where we do not wait."""
        seconds = self.catalogue.waited_seconds()
        if seconds < PATIENCE_SECONDS:
            return ""
        who = holder(self.path)
        by = f"{who} is writing" if who else "another program has the catalogue open"
        return f"Waiting {seconds:.0f} s: {by}."

    def watch(self, told: Callable[[int], None]) -> None:
        """Begin to watch the file in a thread.

        Parameters
        ----------
        told : callable
            Called in that thread with the number of a new change.
        """
        self._told = told
        self._watcher = threading.Thread(target=self._watch, name="specdb watch", daemon=True)
        self._watcher.start()

    def look_now(self) -> None:
        """Have the watch look at once, after a change of our own."""
        self._wake.set()

    def close(self, seconds: float = 0.5) -> bool:
        """End the watch; False where it is still waiting for another program.

        Parameters
        ----------
        seconds : float
            How long to wait at most, s.
        """
        self._ended = True
        self._wake.set()
        if self._watcher is not None:
            self._watcher.join(timeout=seconds)
        return self._watcher is None or not self._watcher.is_alive()

    def _seen(self, state: tuple[int, int]) -> None:
        """Note the change, and the edition of the estimates, that a reading met."""
        if state != self._state_seen:
            first, self._state_seen = self._state_seen is None, state
            self.last_change = state[0]
            if self._told is not None and not first:
                self._told(state[0])

    def _signature(self) -> tuple[int, ...]:
        found: list[int] = []
        for name in (self.path, self.path.with_name(self.path.name + ".wal")):
            try:
                state = name.stat()
            except OSError:
                found += (0, 0, 0)
            else:
                found += (state.st_mtime_ns, state.st_size, state.st_ino)
        return tuple(found)

    def _watch(self) -> None:
        plain = Catalogue(self.path, wait_seconds=_WATCH_WAIT_SECONDS)
        before: tuple[int, ...] = ()
        while True:
            now = self._signature()
            if now != before:
                try:
                    with plain.read() as reader:
                        state = reader.last_change(), reader.kept_edition()
                except CatalogueError:
                    pass  # busy, or gone for the moment: looked at again
                else:
                    before = now
                    if not self._ended:
                        self._seen(state)
            self._wake.wait(LOOK_SECONDS)
            self._wake.clear()
            if self._ended:
                return


def _of_each(keys: pa.ChunkedArray, counts: Mapping[str, int]) -> pa.ChunkedArray:
    """The count of each key; unknown where it has none."""
    import pyarrow as pa
    import pyarrow.compute as pc

    at = pc.index_in(keys, value_set=pa.array(list(counts), pa.string()))
    return pa.array(list(counts.values()), pa.int64()).take(at)
