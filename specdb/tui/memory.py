"""What is remembered between runs: columns, sorting, theme, and forms that are half typed.

One JSON file a catalogue, in the user's state folder. Every write reads the file again and puts in only what this
process changed, so that two terminals on one catalogue forget nothing of each other; the new file takes the place of
the old one in one step. Writes are gathered for a moment and done in a thread.

A draft belongs to the terminal that types it for as long as that terminal lives, and is offered to any other one
afterwards: a lock file a process tells which still live.
"""

from __future__ import annotations

import hashlib
import json
import os
import threading
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

try:
    import fcntl
except ImportError:  # systems without flock
    HAS_FLOCK = False
else:
    HAS_FLOCK = True

_GATHER_SECONDS = 0.3
_GONE = object()
_DRAFTS = "drafts"


def default_state_folder() -> Path:
    """Where the user's state is kept."""
    from platformdirs import user_state_path

    return user_state_path("specdb", appauthor=False)


class Memory:
    """What is remembered of one catalogue.

    Parameters
    ----------
    folder : Path
        The state folder; made where it is missing.
    catalogue : Path
        The catalogue it belongs to.
    """

    def __init__(self, folder: Path, catalogue: Path) -> None:
        name = hashlib.sha256(str(catalogue.absolute()).encode("utf-8", "surrogatepass")).hexdigest()[:16]
        self.folder = folder
        self.path = folder / f"{name}.json"
        self._lock = threading.RLock()
        self._writing = threading.Lock()
        self._changed: dict[str, Any] = {}
        self._drafts_changed: dict[str, Any] = {}
        self._drafts_writing: dict[str, Any] = {}
        self._timer: threading.Timer | None = None
        self._values = self._read()
        self._own = uuid.uuid4().hex
        self._alive: int | None = None
        self.trouble = ""

    def get(self, key: str, default: Any = None) -> Any:  # noqa: ANN401 (any JSON value)
        """A remembered value.

        Parameters
        ----------
        key : str
            Its name.
        default : JSON value
            What is given where nothing is remembered.
        """
        with self._lock:
            return self._values.get(key, default)

    def put(self, key: str, value: Any) -> None:  # noqa: ANN401 (any JSON value)
        """Remember a value.

        Parameters
        ----------
        key : str
            Its name.
        value : JSON value
            The value.
        """
        with self._lock:
            if key in self._values and self._values[key] == value:
                return
            self._values[key] = value
            self._changed[key] = value
            self._write_soon()

    def draft(self, name: str) -> dict[str, str] | None:
        """A form half typed, by this terminal or by one that is gone; None where there is none.

        Parameters
        ----------
        name : str
            Name of the form, such as ``shaft/new``.
        """
        with self._lock:
            # another terminal may have ended since this one began
            held = self._drafts_known().get(name)
            if not isinstance(held, dict) or not isinstance(held.get("values"), dict):
                return None
            if held.get("terminal") != self._own and self._lives(str(held.get("terminal"))):
                return None
            return {str(k): str(v) for k, v in held["values"].items()}

    def drafts(self) -> tuple[str, ...]:
        """Names of the forms half typed that this terminal may take up."""
        with self._lock:
            return tuple(name for name in self._drafts_known() if self.draft(name) is not None)

    def keep_draft(self, name: str, values: Mapping[str, str]) -> None:
        """Keep a form half typed.

        Parameters
        ----------
        name : str
            Name of the form.
        values : mapping of str to str
            What was typed, by field.
        """
        with self._lock:
            self._say_alive()
            held = {"terminal": self._own, "values": dict(values)}
            self._drafts_changed[name] = held
            self._write_soon()

    def drop_draft(self, name: str) -> None:
        """Forget a form half typed.

        Parameters
        ----------
        name : str
            Name of the form.
        """
        with self._lock:
            if name in self._drafts_known():
                self._drafts_changed[name] = _GONE
                self._write_soon()

    def flush(self) -> None:
        """Write what has not been written yet; trouble with the disk is kept in ``trouble``, not raised."""
        with self._writing:
            with self._lock:
                if self._timer is not None:
                    self._timer.cancel()
                    self._timer = None
                changed, drafts = self._changed, self._drafts_changed
                if not changed and not drafts:
                    return
                self._changed, self._drafts_changed = {}, {}
                self._drafts_writing = drafts
            try:
                self.folder.mkdir(parents=True, exist_ok=True)
                with self._alone():
                    values = self._read()
                    values.update(changed)
                    kept = values.setdefault(_DRAFTS, {})
                    for name, held in drafts.items():
                        if held is _GONE:
                            kept.pop(name, None)
                        else:
                            kept[name] = held
                    self._replace(values)
            except OSError as error:
                self.trouble = f"what is typed cannot be remembered in {self.folder}: {error.strerror}"

    def close(self) -> None:
        """Write what is left and give up this terminal's drafts to the next."""
        self.flush()
        with self._lock:
            if self._alive is not None:
                os.close(self._alive)
                self._alive = None
                self._lock_path(self._own).unlink(missing_ok=True)

    def _drafts_known(self) -> dict[str, Any]:
        known: dict[str, Any] = {**self._read().get(_DRAFTS, {}), **self._drafts_writing, **self._drafts_changed}
        return {name: held for name, held in known.items() if held is not _GONE}

    def _write_soon(self) -> None:
        if self._timer is None:
            self._timer = threading.Timer(_GATHER_SECONDS, self.flush)
            self._timer.daemon = True
            self._timer.start()

    def _read(self) -> dict[str, Any]:
        try:
            found = json.loads(self.path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}  # nothing remembered yet, or a file that somebody spoilt
        if not isinstance(found, dict):
            return {}
        if not isinstance(found.get(_DRAFTS, {}), dict):
            del found[_DRAFTS]
        return found

    def _replace(self, values: dict[str, Any]) -> None:
        fresh = self.path.with_suffix(f".{self._own}.new")
        # names of players may stand in it
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_CLOEXEC", 0), 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(values, file, indent=1, sort_keys=True)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(self.path)

    @contextmanager
    def _alone(self) -> Iterator[None]:
        if not HAS_FLOCK:
            yield
            return
        handle = os.open(self.path.with_suffix(".lock"), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)

    def _lock_path(self, terminal: str) -> Path:
        return self.folder / f"terminal-{terminal}.lock"

    def _say_alive(self) -> None:
        if self._alive is not None or not HAS_FLOCK:
            return
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            self._alive = os.open(self._lock_path(self._own), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
            fcntl.flock(self._alive, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return  # the draft is kept all the same

    def _lives(self, terminal: str) -> bool:
        """Whether another terminal still runs."""
        if not HAS_FLOCK or not terminal.isalnum():
            return False
        try:
            handle = os.open(self._lock_path(terminal), os.O_RDWR | os.O_CLOEXEC)
        except OSError:
            return False
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return True
        else:
            self._lock_path(terminal).unlink(missing_ok=True)
            return False
        finally:
            os.close(handle)
