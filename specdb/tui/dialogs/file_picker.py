"""Choosing a file that can be imported: typing goes through the folders, the list shows what is there."""

from __future__ import annotations

import datetime as dt
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key
from textual.widgets import Input

from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.frame import KeyLine
from specdb.tui.widgets.columns import ColumnSpec
from specdb.tui.widgets.paged import PagedTable
from specdb.tui.widgets.words import moment

if TYPE_CHECKING:
    import pyarrow as pa

ENDINGS = (".csv", ".txt", ".tsv", ".tab", ".xlsx", ".xlsm", ".ods", ".parquet", ".pq")
_FOLDER = "import/folder"
_MOST = 5000
_BEHIND = re.compile(r"(?<=/)(?=/|~/)")
_COLUMNS = (
    ColumnSpec("name", "Name"),
    ColumnSpec("size", "Size", right=True),
    ColumnSpec("when", "Changed"),
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One file or folder.

    Attributes
    ----------
    name : str
        Its name; of a folder with a ``/`` behind it.
    size : int or None
        Bytes; None for a folder.
    changed : float
        When it was last changed, s since 1970.
    """

    name: str
    size: int | None
    changed: float


def entries_in(folder: Path, begun: str) -> list[Entry]:
    """Folders, and files that may be imported, whose names hold what was typed; the latest files first.

    Parameters
    ----------
    folder : Path
        Where to look.
    begun : str
        What was typed of the name.
    """
    folders: list[Entry] = []
    files: list[Entry] = []
    try:
        with os.scandir(folder) as found:
            for number, entry in enumerate(found):
                if number >= _MOST:
                    break
                hidden = entry.name.startswith(".") and not begun.startswith(".")
                if hidden or begun.lower() not in entry.name.lower():
                    continue
                _sort_in(entry, folders, files)
    except OSError:
        return []
    return [*sorted(files, key=lambda e: -e.changed), *sorted(folders, key=lambda e: e.name.lower())]


def _sort_in(entry: os.DirEntry[str], folders: list[Entry], files: list[Entry]) -> None:
    try:
        state = entry.stat()
        if entry.is_dir():
            folders.append(Entry(f"{entry.name}/", None, state.st_mtime))
        elif entry.name.lower().endswith(ENDINGS):
            files.append(Entry(entry.name, state.st_size, state.st_mtime))
    except OSError:
        return  # gone in the meantime, or a link that leads nowhere


def size_words(size: int | None) -> str:
    """A size in bytes, kB or MB.

    Parameters
    ----------
    size : int or None
        Bytes.
    """
    if size is None:
        return ""
    if size < 1000:
        return f"{size} B"
    return f"{size / 1000:.0f} kB" if size < 1_000_000 else f"{size / 1_000_000:.1f} MB"


class FilePicker(Dialog[str | None]):
    """Choose a file; closes with its path, or None.

    Parameters
    ----------
    title : str
        Title of the dialog.
    """

    place = "file picker"
    ACTIONS: ClassVar[Sequence[Action]] = (
        Action("pick", "enter", "choose", "Take the file, or go into the folder.", priority=True),
        Action("complete", "tab,right", "complete", "Write the name of the cursor into the line.", priority=True),
        Action("up", "ctrl+u", "folder above", "Go to the folder above.", priority=True),
        Action("give_up", "escape", "back", "Close without choosing.", priority=True),
    )
    DEFAULT_CSS = """
    FilePicker > .dialog { width: 100; height: 90%; }
    FilePicker Input { border: none; height: 1; padding: 0; background: $panel; margin-bottom: 1; }
    """

    def __init__(self, title: str = "Choose a file") -> None:
        super().__init__()
        self._heading = title

    def compose(self) -> ComposeResult:
        """A line to type in, and what is there."""
        with Vertical(classes="dialog") as box:
            box.border_title = self._heading
            yield Input(self._begin(), compact=True, select_on_focus=False)
            yield PagedTable(key=("name",), empty="Loading …")
            yield KeyLine(self.place)

    def _begin(self) -> str:
        folder = Path(str(self.memory.get(_FOLDER, "") or Path.cwd()))
        folder = folder if folder.is_dir() else Path.cwd()
        return f"{folder}/".replace("//", "/")

    def on_mount(self) -> None:
        """Begin to type."""
        self.query_one(PagedTable).can_focus = False
        self.query_one(Input).focus()
        self._look()

    @property
    def _text(self) -> str:
        """What was typed; a whole path typed behind the folder that stood there counts alone."""
        return _BEHIND.split(self.query_one(Input).value.strip())[-1]

    @property
    def _typed(self) -> Path:
        return Path(self._text).expanduser()

    def _parts(self) -> tuple[Path, str]:
        """Folder and what was typed of the name."""
        text = self._text
        if not text or text.endswith("/"):
            return self._typed, ""
        return self._typed.parent, self._typed.name

    @on(Input.Changed)
    def _look(self) -> None:
        folder, begun = self._parts()

        def look() -> pa.Table:
            import pyarrow as pa

            found = entries_in(folder, begun)
            times = [moment(dt.datetime.fromtimestamp(e.changed, dt.UTC)) for e in found]
            return pa.table(
                {
                    "name": pa.array([e.name for e in found], pa.string()),
                    "size": pa.array([size_words(e.size) for e in found], pa.string()),
                    "when": pa.array(times, pa.string()),
                }
            )

        def show(rows: pa.Table) -> None:
            table = self.query_one(PagedTable)
            table.set_empty("There is no folder, and no file that can be imported, of that name here.")
            table.set_table(rows, _COLUMNS, keep=False)

        self.work(look, show, group="look", what="look into the folder", failed=None)

    def on_key(self, event: Key) -> None:
        """Hand the keys that move in the list to it, while typing."""
        if event.key in ("up", "down", "pageup", "pagedown"):
            table = self.query_one(PagedTable)
            step = 1 if event.key.endswith("down") else -1
            if event.key.startswith("page"):
                table.action_page(step)
            else:
                table.action_move(step)
            event.stop()

    def _put(self, text: str) -> None:
        line = self.query_one(Input)
        line.value = text
        line.cursor_position = len(text)

    def action_complete(self) -> None:
        """Write the name of the cursor into the line."""
        name = self.query_one(PagedTable).cursor_key
        line = self.query_one(Input)
        if name is not None and line.cursor_position == len(line.value):
            self._put(f"{self._parts()[0] / name}{'/' if name.endswith('/') else ''}")
        else:
            line.action_cursor_right()

    def action_up(self) -> None:
        """Go to the folder above."""
        self._put(f"{self._parts()[0].parent}/".replace("//", "/"))

    @on(PagedTable.RowPicked)
    def _clicked(self) -> None:
        self.action_pick()

    def action_pick(self) -> None:
        """Take the file, or go into the folder."""
        folder, begun = self._parts()
        whole = self._typed
        name = self.query_one(PagedTable).cursor_key
        if begun and whole.is_file():
            self._take(whole)
        elif name is None:
            self.app.bell()
        elif name.endswith("/"):
            self._put(f"{folder / name}/")
        else:
            self._take(folder / name)

    def _take(self, path: Path) -> None:
        self.memory.put(_FOLDER, str(path.parent))
        self.dismiss(str(path))

    def action_give_up(self) -> None:
        """Close without choosing."""
        self.dismiss(None)
