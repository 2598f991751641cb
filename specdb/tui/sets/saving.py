"""Writing a file after asking for its name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path

from specdb.tui.base import PlaceScreen
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.standins.saving import save_new


def ask_for_file(screen: PlaceScreen, title: str, name: str, said: str, write: Callable[[Path], str]) -> None:
    """Write a file, after asking for its name; a file that is there is not written over.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    title : str
        Title of the dialog.
    name : str
        Name of the file that is proposed.
    said : str
        A sentence on what will be in it.
    write : callable
        Writes the file, in a thread, and says in a sentence what was done.
    """
    suffix = Path(name).suffix
    dialog = WordsDialog(
        title,
        [Wanted("file", "file", str(_free(Path.cwd() / name)))],
        said=f"{said} A file that is there already is not written over.",
        check=partial(_wrong_file, suffix),
    )

    def typed(found: Mapping[str, str] | None) -> None:
        if found is None:
            return
        path = Path(found["file"]).expanduser()

        def told(words: str) -> None:
            screen.notify(words, title="Written", markup=False)

        screen.notify("Writing …", timeout=2)
        screen.work(lambda: write(path), told, group="file", what="write the file", changes=True)

    screen.app.push_screen(dialog, typed)


def _free(path: Path) -> Path:
    """A name that is not taken yet."""
    found, count = path, 2
    while found.exists():
        found, count = path.with_stem(f"{path.stem}-{count}"), count + 1
    return found


def _wrong_file(suffix: str, typed: Mapping[str, str]) -> str:
    path = Path(typed["file"]).expanduser()
    if not typed["file"]:
        return "Name a file."
    if path.exists():
        return f"There is a file {path} already; name another one."
    if not path.parent.is_dir():
        return f"There is no folder {path.parent}."
    if path.suffix.lower() != suffix:
        return f"The name must end in {suffix}."
    return ""


def save_text(text: str) -> Callable[[Path], str]:
    """What :func:`ask_for_file` takes to write a text.

    Parameters
    ----------
    text : str
        The text.
    """

    def write(path: Path) -> str:
        save_new(path, text)
        return f"Saved in {path}."

    return write
