"""Asking for a file to write, in the folder that was written to last; what is there is not written over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from specdb.tui.dialogs.words import Wanted, WordsDialog

if TYPE_CHECKING:
    from specdb.tui.base import Working

_FOLDER = "save/folder"


def ask_for_file(
    screen: Working[Any], title: str, name: str, endings: Sequence[str], then: Callable[[Path], None]
) -> None:
    """Ask for a file to write.

    Parameters
    ----------
    screen : Working
        Where it was asked for.
    title : str
        Title of the dialog.
    name : str
        Name that is proposed.
    endings : sequence of str
        Endings it may have.
    then : callable
        Takes the path of a file that is not there.
    """
    folder = Path(str(screen.memory.get(_FOLDER, "") or Path.cwd()))
    if not folder.is_dir():
        folder = Path.cwd()

    def wrong(typed: Mapping[str, str]) -> str:
        path = Path(typed["file"]).expanduser()
        if not typed["file"]:
            return "Name a file."
        if path.suffix.lower() not in endings:
            return f"The name must end in {' or '.join(endings)}."
        if path.exists():
            return f"There is a file {path.name} already; name another one."
        return "" if path.parent.is_dir() else f"There is no folder {path.parent}."

    def chosen(typed: Mapping[str, str] | None) -> None:
        if typed is not None:
            path = Path(typed["file"]).expanduser()
            screen.memory.put(_FOLDER, str(path.parent.absolute()))
            then(path)

    dialog = WordsDialog(
        title,
        [Wanted("file", "file", str(free_name(folder / name)))],
        said="A file that is there already is not written over.",
        check=wrong,
    )
    screen.app.push_screen(dialog, chosen)


def free_name(path: Path) -> Path:
    """A path that is not there: the given one, or one with a number behind its name.

    Parameters
    ----------
    path : Path
        As it would be called.
    """
    number, found = 1, path
    while found.exists():
        number += 1
        found = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return found
